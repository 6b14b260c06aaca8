//! Parts and gauges: what is there on which day.

use super::days::Grid;
use crate::interface::Interface;
use crate::planning::problem::Stock;
use crate::service::Kind;
use crate::shop::Shop;
use crate::units::Quantity;
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;

/// Quantities are counted in thousandths, so that 0.5 l is a whole number of them.
const THOUSANDTHS: f64 = 1000.0;
/// More than anyone takes.
const PLENTY: i64 = 1_000_000_000;

/// A part of the plan, for its sentences.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::planning) struct PlanPart {
    pub(in crate::planning) name: String,
    /// Whether the shop lists it at all.
    pub(in crate::planning) is_listed: bool,
    /// The day from which as many as one likes are there, if ordered on the as-of day.
    pub(in crate::planning) orderable_from: Option<NaiveDate>,
    /// What is on order, by day.
    pub(in crate::planning) deliveries: Vec<(NaiveDate, f64)>,
}

/// The kit of a service: parts and quantities, by name.
pub(in crate::planning) fn kit(shop: &Shop, interface: &Interface, kind: Kind) -> Vec<(String, f64)> {
    let mut kit: BTreeMap<&str, f64> = BTreeMap::new();
    for line in shop.kit_lines.iter().filter(|line| line.kind == kind && line.interface == *interface) {
        *kit.entry(&line.value.part).or_default() += line.quantity.max(0.0);
    }
    kit.into_iter()
        .filter(|(_, quantity)| 0.0 < *quantity)
        .map(|(part, quantity)| (part.to_owned(), quantity))
        .collect()
}

/// How many of a part a service takes, in the units of the problem: never less than it takes.
pub(in crate::planning) fn taken(quantity: f64) -> i64 {
    (quantity * THOUSANDTHS - 1e-6).ceil().clamp(0.0, PLENTY as f64) as i64
}

fn there(quantity: f64) -> i64 {
    (quantity * THOUSANDTHS + 1e-6).floor().clamp(0.0, PLENTY as f64) as i64
}

/// A part with what of it is there and comes. A delivery overdue on the as-of day is expected on it;
/// what can still be ordered arrives after its lead time.
pub(in crate::planning) fn part(shop: &Shop, name: &str, as_of: NaiveDate, grid: &Grid) -> (PlanPart, Stock) {
    let listed = shop.parts.iter().find(|part| part.name == name);
    let mut deliveries: Vec<(NaiveDate, f64)> = shop
        .deliveries
        .iter()
        .filter(|delivery| delivery.part == name)
        .map(|delivery| (delivery.expected_on.max(as_of), delivery.quantity.max(0.0)))
        .collect();
    deliveries.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let orderable_from =
        listed.and_then(|part| part.lead_time_days).and_then(|lead| as_of.checked_add_days(Days::new(u64::from(lead))));
    let mut arrivals: Vec<(usize, i64)> =
        deliveries.iter().filter_map(|(day, quantity)| Some((grid.day_of(*day)?, there(*quantity)))).collect();
    arrivals.extend(orderable_from.and_then(|day| grid.day_of(day)).map(|day| (day, PLENTY)));
    arrivals.sort_unstable();
    let on_hand = listed.map_or(0, |part| there(part.on_hand));
    let plan_part = PlanPart { name: name.to_owned(), is_listed: listed.is_some(), orderable_from, deliveries };
    (plan_part, Stock { on_hand, arrivals })
}

/// How many services the gauges of a quantity can carry on each day: those that are in and within
/// their calibration. `None` where the shop lists no gauge of it: no rule.
pub(in crate::planning) fn gauges(shop: &Shop, quantity: Quantity, grid: &Grid) -> Option<Vec<i64>> {
    let gauges: Vec<_> = shop.gauges.iter().filter(|gauge| gauge.quantity == quantity).collect();
    if gauges.is_empty() {
        return None;
    }
    let per_day = |day: usize| -> i64 {
        let date = grid.date(day);
        let in_on_day = gauges
            .iter()
            .filter(|gauge| !gauge.is_overdue_on(date) && !gauge.out.iter().any(|days| days.contains(date)));
        in_on_day.map(|gauge| gauge.services_per_day.map_or(PLENTY, i64::from)).sum::<i64>().min(PLENTY)
    };
    Some((0..grid.days()).map(per_day).collect())
}
