//! Kits ahead: what of each part is there by week, when it runs short, what to order by when, and
//! which service waits for which delivery.
//!
//! Demand is the kits of services with a place, on their days, and of those without one by their
//! chance of coming due on each day. Deliveries count from the day on which they are expected.

mod csv;
mod demand;
mod words;

pub use csv::{LIST_COLUMNS, WEEK_COLUMNS, list_to_csv, weeks_to_csv};
pub use words::amount;

use super::basis::PlanBasis;
use super::proposal::Proposal;
use crate::ids::{PartId, SpindleId};
use crate::part::Part;
use crate::units::Percent;
use chrono::{Days, NaiveDate};
use demand::{Demand, Need};

/// An order has at least so many days to spare (common practice, no source).
const LEAST_SAFETY_DAYS: u32 = 2;
/// And at least so much of the lead time (common practice, no source).
const SAFETY_SHARE: f64 = 0.2;
/// Quantities that differ by less are equal.
const CRUMB: f64 = 1e-9;

/// All parts of a shop over the weeks of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsWaiting {
    /// The first day.
    pub as_of: NaiveDate,
    /// The last one.
    pub last: NaiveDate,
    /// Parts to order first, by that day; then by name. Those of which nothing is needed and that
    /// are not short are not among them.
    pub parts: Vec<PartAhead>,
}

/// One part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartAhead {
    /// The part; `None`: a kit names it, the list of parts does not.
    pub part: Option<PartId>,
    /// Its name.
    pub name: String,
    /// What it is counted in.
    pub unit: String,
    /// How many are there on the as-of day.
    pub on_hand: f64,
    /// Below this stock it is to be ordered.
    pub reorder_point: f64,
    /// Days from order to arrival, where known.
    pub lead_time_days: Option<u32>,
    /// By week.
    pub weeks: Vec<PartWeek>,
    /// The first day on which more is needed than is there.
    pub short_on: Option<NaiveDate>,
    /// What to order; `None`: nothing within the plan.
    pub order: Option<ToOrder>,
    /// Services that take it, by day; those without a place after those with one.
    pub uses: Vec<PartUse>,
}

/// One week of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartWeek {
    /// Its Monday.
    pub monday: NaiveDate,
    /// What is delivered in it.
    pub arrives: f64,
    /// What services with a place take in it.
    pub placed: f64,
    /// What services without one take in it, by their chance.
    pub likely: f64,
    /// What is there at its end; below zero what is missing.
    pub stock: f64,
}

/// What to order, and by when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToOrder {
    /// The latest day; the as-of day where that has passed.
    pub by: NaiveDate,
    /// That day has passed, or the lead time is not known.
    pub is_now: bool,
    /// How many keep the stock at the reorder point to the end of the plan; whole.
    pub quantity: f64,
    /// The day on which the stock falls below the reorder point.
    pub falls_on: NaiveDate,
}

/// Where a service gets a part from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Supply {
    /// It is on the shelf.
    Shelf,
    /// It waits for a delivery that is expected on that day.
    Delivery(NaiveDate),
    /// It must still be ordered.
    NotOrdered,
}

/// A service that takes a part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartUse {
    /// The spindle.
    pub spindle: SpindleId,
    /// Where it sits.
    pub position: String,
    /// The day of its place; else the service-by date, where it has one.
    pub on: Option<NaiveDate>,
    /// How many it takes.
    pub quantity: f64,
    /// How likely that is within the plan: 100 % with a place.
    pub chance: Percent,
    /// Where it comes from; `None` without a place.
    pub supply: Option<Supply>,
}

/// The parts of a plan, proposed or booked.
#[must_use]
pub fn parts_waiting(basis: &PlanBasis, plan: &Proposal) -> PartsWaiting {
    let mut parts: Vec<PartAhead> =
        demand::of(basis, plan).into_iter().filter_map(|(name, demand)| ahead(basis, &name, &demand)).collect();
    parts.sort_by(|a, b| {
        let by = |part: &PartAhead| (part.order.is_none(), part.order.map(|order| order.by));
        by(a).cmp(&by(b)).then_with(|| a.name.cmp(&b.name))
    });
    PartsWaiting { as_of: basis.as_of, last: basis.last(), parts }
}

fn ahead(basis: &PlanBasis, name: &str, demand: &Demand) -> Option<PartAhead> {
    let row = basis.shop.parts.iter().find(|row| row.name == name);
    let part: Option<&Part> = row.map(|row| &row.value);
    let on_hand = part.map_or(0.0, |part| part.on_hand.max(0.0));
    let reorder_point = part.and_then(|part| part.reorder_point).unwrap_or(0.0);
    let lead_time_days = part.and_then(|part| part.lead_time_days);
    let deliveries = deliveries(basis, name);
    let days: Vec<DayOf> = projection(basis, demand, &deliveries, on_hand);
    let short_on = days.iter().find(|day| day.stock < -CRUMB).map(|day| day.date);
    let order = to_order(basis.as_of, &days, reorder_point, lead_time_days);
    if demand.needs.is_empty() && order.is_none() {
        return None;
    }
    Some(PartAhead {
        part: row.map(|row| row.id),
        name: name.to_owned(),
        unit: part.map(|part| part.unit.clone()).unwrap_or_default(),
        on_hand,
        reorder_point,
        lead_time_days,
        weeks: by_week(&days),
        short_on,
        order,
        uses: uses(&demand.needs, on_hand, &deliveries),
    })
}

/// What is on order, by day; overdue ones are expected on the as-of day.
fn deliveries(basis: &PlanBasis, name: &str) -> Vec<(NaiveDate, f64)> {
    let rows = basis.shop.deliveries.iter().filter(|delivery| delivery.part == name);
    let mut deliveries: Vec<(NaiveDate, f64)> =
        rows.map(|delivery| (delivery.expected_on.max(basis.as_of), delivery.quantity.max(0.0))).collect();
    deliveries.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    deliveries
}

/// One day of a part.
#[derive(Debug, Clone, Copy)]
struct DayOf {
    date: NaiveDate,
    arrives: f64,
    placed: f64,
    likely: f64,
    /// At its end.
    stock: f64,
}

fn projection(basis: &PlanBasis, demand: &Demand, deliveries: &[(NaiveDate, f64)], on_hand: f64) -> Vec<DayOf> {
    let mut stock = on_hand;
    let dates = basis.as_of.iter_days().take_while(|date| *date <= basis.last());
    dates
        .enumerate()
        .map(|(day, date)| {
            let arrives = deliveries.iter().filter(|(on, _)| *on == date).map(|(_, quantity)| quantity).sum();
            let of = |amounts: &[f64]| amounts.get(day).copied().unwrap_or(0.0);
            let (placed, likely) = (of(&demand.placed), of(&demand.likely));
            stock += arrives - placed - likely;
            DayOf { date, arrives, placed, likely, stock }
        })
        .collect()
}

/// The first day on which the stock falls below the reorder point, less lead time and safety. What a
/// delivery mends before a new order could arrive needs no order.
fn to_order(as_of: NaiveDate, days: &[DayOf], reorder_point: f64, lead: Option<u32>) -> Option<ToOrder> {
    let lead_days = lead.unwrap_or(0);
    let safety = LEAST_SAFETY_DAYS.max((f64::from(lead_days) * SAFETY_SHARE).ceil() as u32);
    let is_low = |day: &DayOf| day.stock < reorder_point - CRUMB;
    let arrival = as_of.checked_add_days(Days::new(u64::from(lead_days)))?;
    let at_arrival = days.iter().position(|day| arrival <= day.date).unwrap_or(days.len());
    // low on the day a new order would come, and since when
    let low_then = at_arrival.checked_sub(1).and_then(|before| days.get(before)).is_some_and(is_low);
    let since = || {
        let before = days.get(..at_arrival).unwrap_or_default();
        let first_low = before.iter().rposition(|day| !is_low(day)).map_or(0, |index| index + 1);
        before.get(first_low)
    };
    let later = || days.get(at_arrival..).unwrap_or_default().iter().find(|day| is_low(day));
    let falls = if low_then && days.get(at_arrival).is_none_or(is_low) { since() } else { later() }?;
    let by = falls.date.checked_sub_days(Days::new(u64::from(lead_days + safety)))?;
    let lowest = days.iter().filter(|day| falls.date <= day.date).map(|day| day.stock).fold(f64::INFINITY, f64::min);
    let quantity = (reorder_point - lowest - CRUMB).ceil().max(1.0);
    Some(ToOrder { by: by.max(as_of), is_now: by <= as_of || lead.is_none(), quantity, falls_on: falls.date })
}

fn by_week(days: &[DayOf]) -> Vec<PartWeek> {
    let mut weeks: Vec<PartWeek> = Vec::new();
    for day in days {
        let monday = day.date.week(chrono::Weekday::Mon).first_day();
        if weeks.last().is_none_or(|week| week.monday != monday) {
            weeks.push(PartWeek { monday, arrives: 0.0, placed: 0.0, likely: 0.0, stock: 0.0 });
        }
        if let Some(week) = weeks.last_mut() {
            week.arrives += day.arrives;
            week.placed += day.placed;
            week.likely += day.likely;
            week.stock = day.stock;
        }
    }
    weeks
}

/// Gives stock and deliveries to the services with a place, in the order of their days.
fn uses(needs: &[Need], on_hand: f64, deliveries: &[(NaiveDate, f64)]) -> Vec<PartUse> {
    let mut supplies: Vec<(Supply, f64)> = vec![(Supply::Shelf, on_hand)];
    supplies.extend(deliveries.iter().map(|(day, quantity)| (Supply::Delivery(*day), *quantity)));
    needs
        .iter()
        .map(|need| PartUse {
            spindle: need.spindle,
            position: need.position.clone(),
            on: need.on,
            quantity: need.quantity,
            chance: need.chance,
            supply: need.has_place.then(|| take(&mut supplies, need.quantity)),
        })
        .collect()
}

/// Takes so many from supplies in their order; the last one that is needed says for what it waits.
fn take(supplies: &mut [(Supply, f64)], quantity: f64) -> Supply {
    let mut open = quantity;
    for (supply, left) in supplies.iter_mut() {
        let taken = open.min(*left);
        *left -= taken;
        open -= taken;
        if open <= CRUMB {
            return *supply;
        }
    }
    Supply::NotOrdered
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        crate::moment::parse_iso_date(text).unwrap()
    }

    /// Stock at the end of each day from 2 March 2026.
    fn days(stock: &[f64]) -> Vec<DayOf> {
        let dates = day("2026-03-02").iter_days();
        dates
            .zip(stock)
            .map(|(date, stock)| DayOf { date, arrives: 0.0, placed: 0.0, likely: 0.0, stock: *stock })
            .collect()
    }

    fn order(stock: &[f64], reorder: f64, lead: Option<u32>) -> Option<(String, bool, f64)> {
        to_order(day("2026-03-02"), &days(stock), reorder, lead)
            .map(|order| (order.by.to_string(), order.is_now, order.quantity))
    }

    #[test]
    fn an_order_goes_out_lead_time_and_safety_before_the_stock_is_low() {
        let mut stock = vec![5.0; 60];
        stock[40..].fill(1.0);
        // low on 11 April: ten days of lead time and two of safety before
        assert_eq!(order(&stock, 2.0, Some(10)), Some(("2026-03-30".to_owned(), false, 1.0)));
        // 20 % of 30 days are six
        assert_eq!(order(&stock, 2.0, Some(30)), Some(("2026-03-06".to_owned(), false, 1.0)));
        assert_eq!(order(&stock, 2.0, Some(38)), Some(("2026-03-02".to_owned(), true, 1.0)));
        assert_eq!(order(&stock, 1.0, Some(10)), None, "at the reorder point is not below it");
        assert_eq!(order(&stock, 2.0, None), Some(("2026-04-09".to_owned(), true, 1.0)));
    }

    #[test]
    fn what_a_delivery_mends_in_time_needs_no_order() {
        let mut stock = vec![0.0; 60];
        stock[5..].fill(3.0);
        assert_eq!(order(&stock, 1.0, Some(20)), None, "low now, but not when a new order would come");
        stock[30..].fill(-2.0);
        assert_eq!(order(&stock, 1.0, Some(20)), Some(("2026-03-08".to_owned(), false, 3.0)));
        assert_eq!(order(&[0.0; 60], 1.0, Some(20)), Some(("2026-03-02".to_owned(), true, 1.0)));
    }

    #[test]
    fn supplies_go_to_services_in_the_order_of_their_days() {
        let arrives = day("2026-03-26");
        let mut supplies = vec![(Supply::Shelf, 1.0), (Supply::Delivery(arrives), 2.0)];
        let taken: Vec<Supply> = (0..4).map(|_| take(&mut supplies, 1.0)).collect();
        assert_eq!(taken, [Supply::Shelf, Supply::Delivery(arrives), Supply::Delivery(arrives), Supply::NotOrdered]);
    }
}
