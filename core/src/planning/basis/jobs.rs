//! The services that are due, as jobs of the problem.

use super::orders::Standing;
use super::{PlanBasis, PlanService, curves, stock, trays};
use crate::due::Mark;
use crate::forecast::{ShopForecast, SpindleForecast};
use crate::ids::{MachineId, OrderId, Row, SpindleId};
use crate::order::Order;
use crate::planning::problem::{Curve, Job};
use crate::service::Kind;
use crate::service_costs::{DayCosts, ServiceCosts, Work, crew_of, needed_kind, work_minutes, work_of};
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::Quantity;
use chrono::{NaiveDate, NaiveDateTime};
use std::collections::BTreeMap;

/// Fills a basis with its services.
pub(super) struct Compiler<'a> {
    basis: &'a mut PlanBasis,
    shop: Shop,
    forecast: &'a ShopForecast,
    machines: &'a BTreeMap<MachineId, usize>,
    marks: &'a BTreeMap<SpindleId, Mark>,
    parts: BTreeMap<String, usize>,
    gauges: BTreeMap<Quantity, Option<usize>>,
}

/// One service before it is a job.
#[derive(Debug, Clone, Copy)]
struct Due<'a> {
    spindle: SpindleId,
    order: Option<&'a Row<OrderId, Order>>,
    /// A second open order of the spindle: its place is kept, its spindle is served by the first.
    is_further: bool,
    service_by: Option<NaiveDate>,
}

impl<'a> Compiler<'a> {
    pub(super) fn new(
        basis: &'a mut PlanBasis,
        forecast: &'a ShopForecast,
        machines: &'a BTreeMap<MachineId, usize>,
        marks: &'a BTreeMap<SpindleId, Mark>,
    ) -> Self {
        let shop = basis.shop.clone();
        Self { basis, shop, forecast, machines, marks, parts: BTreeMap::new(), gauges: BTreeMap::new() }
    }

    /// Every service that is due, by service-by date, then by place and order.
    pub(super) fn compile(mut self) {
        let shop = self.shop.clone();
        let costs = ServiceCosts::of(&shop, self.basis.as_of, self.forecast.config.accepted_risk);
        let mut standing = Vec::new();
        for due in self.due(&shop) {
            let Some(service) = self.service(&shop, &costs, &due) else { continue };
            let held = self.basis.services.get(service).is_some_and(|service| service.held);
            standing.extend(due.order.map(|order| Standing { service, order: order.value.clone(), held }));
        }
        self.basis.booked.places = vec![None; self.basis.services.len()];
        super::orders::place(self.basis, &standing);
    }

    fn due<'s>(&self, shop: &'s Shop) -> Vec<Due<'s>> {
        let last = self.basis.last();
        let mut orders: BTreeMap<SpindleId, Vec<&'s Row<OrderId, Order>>> = BTreeMap::new();
        for order in shop.orders.iter().filter(|order| order.is_open_on(self.basis.as_of)) {
            orders.entry(order.spindle).or_default().push(order);
        }
        let mut due = Vec::new();
        for (id, forecast) in &self.forecast.spindles {
            let Some(spindle) = shop.spindles.get(id) else { continue };
            if shop.position_on(*id, self.basis.as_of).is_none() {
                continue;
            }
            let mut open = orders.remove(id).unwrap_or_default();
            // of several the one that starts first is what the spindle waits for
            open.sort_by_key(|order| order.value.turn());
            let has_begun = open.iter().any(|order| order.has_begun());
            let is_due = forecast.service_by.is_some_and(|by| by <= last);
            if open.is_empty() && is_due && !spindle.is_out_on(self.basis.as_of) {
                due.push(Due { spindle: *id, order: None, is_further: false, service_by: forecast.service_by });
            }
            for (nth, order) in open.into_iter().enumerate() {
                // without a start there is nothing to place of what has begun
                let is_further = 0 < nth || (has_begun && !order.has_begun());
                if order.start.is_none() && (order.has_begun() || is_further) {
                    continue;
                }
                let service_by = forecast.service_by.or(order.service_by);
                due.push(Due { spindle: *id, order: Some(order), is_further, service_by });
            }
        }
        let place = |due: &Due<'_>| {
            shop.position_on(due.spindle, self.basis.as_of).map(|position| shop.position_label(position))
        };
        due.sort_by_cached_key(|due| {
            (due.service_by.is_none(), due.service_by, place(due), due.spindle, due.order.map(|order| order.id))
        });
        self.in_turn(shop, &due)
    }

    /// The same, but orders of one line that start in the same minute stand in the order in which they
    /// were entered: the first one locks out, in the list of orders as in a plan.
    fn in_turn<'s>(&self, shop: &'s Shop, due: &[Due<'s>]) -> Vec<Due<'s>> {
        let mut together: BTreeMap<(usize, NaiveDateTime), Vec<(usize, OrderId)>> = BTreeMap::new();
        for (place, due) in due.iter().enumerate() {
            let Some((order, start)) = due.order.and_then(|order| Some((order.id, order.start?))) else { continue };
            let Some(position) = shop.position_on(due.spindle, self.basis.as_of) else { continue };
            let Some(machine) = self.machines.get(&position.machine) else { continue };
            let Some(line) = self.basis.problem.machines.get(*machine) else { continue };
            let start = super::orders::moment_of(self.basis, *machine, start);
            together.entry((*line, start)).or_default().push((place, order));
        }
        let mut from: Vec<usize> = (0..due.len()).collect();
        for places in together.values().filter(|places| 1 < places.len()) {
            let mut by_order = places.clone();
            by_order.sort_unstable_by_key(|(_, order)| *order);
            for ((place, _), (taken, _)) in places.iter().zip(by_order) {
                if let Some(slot) = from.get_mut(*place) {
                    *slot = taken;
                }
            }
        }
        from.into_iter().filter_map(|place| due.get(place).copied()).collect()
    }

    /// Adds a service with its job; gives back which it is.
    fn service(&mut self, shop: &Shop, costs: &ServiceCosts<'_>, due: &Due<'_>) -> Option<usize> {
        let forecast = self.forecast.spindles.get(&due.spindle)?;
        let spindle = shop.spindles.get(&due.spindle)?;
        let position = shop.position_on(due.spindle, self.basis.as_of)?;
        let machine = *self.machines.get(&position.machine)?;
        let described = shop.machines.get(&position.machine)?;
        let kind = due.order.map_or_else(|| needed_kind(forecast), |order| order.kind);
        let mut work = work_of(shop, &spindle.interface, kind);
        let minutes = work_minutes(due.order.and_then(|order| order.duration), work.minutes);
        // a further order keeps its place: what the spindle waits for is the first one
        let held = due.order.is_some_and(|order| order.start.is_some() && (order.stays() || due.is_further));
        if let Some(order) = due.order {
            work.crew = crew_of(&order.value, work);
        }
        let mark = self.marks.get(&due.spindle).copied();
        // what has begun, and what another order comes before, is not what the planner spoke of
        let is_next = !due.is_further && !due.order.is_some_and(|order| order.has_begun());
        let not_before = shop.ready_day(due.spindle, self.basis.as_of).filter(|_| is_next);
        self.basis.services.push(PlanService {
            spindle: due.spindle,
            machine: position.machine,
            position: shop.position_label(position),
            hall: described.hall.clone(),
            kind,
            minutes,
            crew: work.crew as usize,
            order: due.order.map(|order| order.id),
            state: due.order.map(|order| order.state),
            held,
            service_by: due.service_by,
            governing: forecast.governing,
            not_before,
            must_not_run: mark == Some(Mark::DoNotRun),
            start: due.order.and_then(|order| order.start).map(crate::moment::Moment::date_time),
        });
        let job = self.job(spindle, forecast, costs, due, (machine, kind, minutes, work, not_before));
        self.basis.problem.services.push(job);
        Some(self.basis.services.len() - 1)
    }

    fn job(
        &mut self,
        spindle: &Spindle,
        forecast: &SpindleForecast,
        costs: &ServiceCosts<'_>,
        due: &Due<'_>,
        (machine, kind, minutes, work, not_before): (usize, Kind, i64, Work, Option<NaiveDate>),
    ) -> Job {
        let has_begun = due.order.is_some_and(|order| order.has_begun());
        let parts = if has_begun { Vec::new() } else { self.kit(spindle, kind) };
        let days = self.basis.grid.days();
        let mut job = Job {
            machine,
            kind: Kind::ALL.into_iter().position(|known| known == kind).unwrap_or(0),
            minutes,
            crew: work.crew as usize,
            parts,
            gauge: self.gauge(work.gauge),
            ready_day: not_before.map_or(0, |day| ready_day(day, self.basis.as_of, days)),
            crossed: Curve(vec![0; days / 7 + 1]),
            hard_day: None,
            tail_days: 0,
            day_below_cost: 0,
            unused_day_value: 0,
            standing: None,
            leave_cost: 0,
            booked: None,
            held: None,
        };
        if due.is_further {
            return job;
        }
        let risk = self.forecast.config.accepted_risk;
        weigh_days(&mut job, forecast, costs.days(spindle, forecast, kind), risk, (self.basis.as_of, days));
        let by = forecast.service_by.or(due.service_by);
        if by.is_some_and(|by| by <= self.basis.last()) {
            job.leave_cost = job.leave_cost.saturating_add(trays::cents(self.shop.settings.left_cost));
        }
        job
    }

    /// The parts of the kit, each with its stock in the problem.
    fn kit(&mut self, spindle: &Spindle, kind: Kind) -> Vec<(usize, i64)> {
        let kit = stock::kit(&self.shop, &spindle.interface, kind);
        kit.into_iter().map(|(name, quantity)| (self.part(&name), stock::taken(quantity))).collect()
    }

    fn part(&mut self, name: &str) -> usize {
        if let Some(index) = self.parts.get(name) {
            return *index;
        }
        let (part, there) = stock::part(&self.shop, name, self.basis.as_of, &self.basis.grid);
        self.basis.parts.push(part);
        self.basis.problem.parts.push(there);
        let index = self.basis.parts.len() - 1;
        self.parts.insert(name.to_owned(), index);
        index
    }

    fn gauge(&mut self, quantity: Quantity) -> Option<usize> {
        if let Some(group) = self.gauges.get(&quantity) {
            return *group;
        }
        let group = stock::gauges(&self.shop, quantity, &self.basis.grid).map(|per_day| {
            self.basis.problem.gauges.push(per_day);
            self.basis.gauges.push(quantity);
            self.basis.gauges.len() - 1
        });
        self.gauges.insert(quantity, group);
        group
    }
}

/// A day of the plan; one after it is none of its days.
fn ready_day(day: NaiveDate, as_of: NaiveDate, days: usize) -> usize {
    usize::try_from((day - as_of).num_days()).map_or(0, |ahead| ahead.min(days))
}

/// What each day costs: chances, and the worth of a day too early, too late, and of standstill.
fn weigh_days(
    job: &mut Job,
    forecast: &SpindleForecast,
    costs: DayCosts,
    risk: f64,
    (as_of, days): (NaiveDate, usize),
) {
    let weeks = days / 7;
    let crossed = &forecast.crossed;
    let ahead = |day: NaiveDate| (day - as_of).num_days().max(0);
    let hard = crossed.interval_end.map(ahead);
    // a worth of less than a cent a day would let every day be the cheapest
    job.unused_day_value = trays::cents(costs.unused).max(i64::from(0.0 < costs.unused.get()));
    let from_risk = (job.unused_day_value as f64 * (1.0 - risk) / risk).round() as i64;
    job.day_below_cost = if costs.below_is_said { trays::cents(costs.below) } else { from_risk };
    job.crossed = curves::weekly(&crossed.wear, weeks);
    if let Some(by) = forecast.service_by.map(ahead).filter(|_| !forecast.is_passed)
        && let Ok(by) = usize::try_from(by)
        && by < days
    {
        let is_hard = hard.is_some_and(|hard| hard <= by as i64);
        curves::meet(&mut job.crossed, by, is_hard, job.unused_day_value, from_risk);
    }
    job.hard_day = hard.and_then(|hard| usize::try_from(hard).ok()).filter(|hard| *hard < days);
    job.tail_days = curves::tail_days(&crossed.wear, days, hard);
    let stop = curves::weekly(&crossed.stop, weeks);
    let standing = trays::cents(costs.standing);
    job.standing = (0 < standing && stop.0.last().is_some_and(|chance| 0 < *chance)).then_some((stop, standing));
    let all = |chance: &dyn Fn(usize) -> i64| (0..days).map(|day| i128::from(chance(day))).sum::<i128>();
    let below = i128::from(job.day_below_cost) * all(&|day| job.crossed_on(day));
    let stands = job.standing.as_ref().map_or(0, |(curve, cost)| i128::from(*cost) * all(&|day| curve.on(day)));
    job.leave_cost = i64::try_from((below + stands + 35_000) / 70_000).unwrap_or(i64::MAX);
}
