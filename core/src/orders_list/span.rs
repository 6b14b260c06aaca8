//! From when to when an order keeps its people and its machine: the work, and before it the lockout
//! where the order begins a stop.
//!
//! Orders of one line in one window of a day of the shop are one stop, as in a plan: the one that
//! starts first locks out, the others start when that is done. Outside every window each order is a
//! stop of its own. A spindle in no machine has nothing to lock out.

use super::usual_minutes;
use crate::ids::{DowntimeId, MachineId, OrderId};
use crate::moment::Moment;
use crate::order::Order;
use crate::shop::Shop;
use crate::units::RunHours;
use crate::windows::Windows;
use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use std::collections::BTreeMap;

/// A service longer than a year is a slip.
const MOST_MINUTES: f64 = 525_600.0;

/// From when to when; never empty.
pub type OrderSpan = (NaiveDateTime, NaiveDateTime);

/// Machines that stop together: by line and hall, or one machine.
type StopLine<'a> = (Option<(&'a str, &'a str)>, Option<MachineId>);

/// A stop: the line, the day of the shop, the row and start of the window.
type Stop<'a> = (StopLine<'a>, NaiveDate, DowntimeId, NaiveDateTime);

/// The spans of some orders, which share their stops.
#[derive(Debug)]
pub struct OrderSpans<'a> {
    shop: &'a Shop,
    windows: &'a Windows,
    /// The order that begins each stop.
    first: BTreeMap<Stop<'a>, (NaiveDateTime, OrderId)>,
}

impl<'a> OrderSpans<'a> {
    /// The stops that these orders make; `windows` must reach over their days.
    pub fn of(shop: &'a Shop, windows: &'a Windows, orders: impl Iterator<Item = (OrderId, &'a Order)>) -> Self {
        let mut spans = Self { shop, windows, first: BTreeMap::new() };
        for (id, order) in orders {
            if let Some((stop, start)) = spans.machine_of(order).and_then(|machine| spans.stop_of(order, machine)) {
                let first = spans.first.entry(stop).or_insert((start, id));
                *first = (*first).min((start, id));
            }
        }
        spans
    }

    /// From when to when an order lasts, its lockout included where it does it; `None` without a
    /// time of day.
    #[must_use]
    pub fn span(&self, id: OrderId, order: &Order) -> Option<OrderSpan> {
        let (start, work_ends) = work(self.shop, order)?;
        let locks_out = self.machine_of(order).is_some_and(|machine| {
            let stop = self.stop_of(order, machine);
            stop.and_then(|(stop, start)| Some((start, id) <= *self.first.get(&stop)?)).unwrap_or(true)
        });
        let end = if locks_out { work_ends.checked_add_signed(lockout(self.shop))? } else { work_ends };
        Some((start, end))
    }

    fn machine_of(&self, order: &Order) -> Option<MachineId> {
        Some(self.shop.position_on(order.spindle, order.start?.date)?.machine)
    }

    /// The stop in which an order lies, and its start; `None` outside every window.
    fn stop_of(&self, order: &Order, machine: MachineId) -> Option<(Stop<'a>, NaiveDateTime)> {
        let (start, work_ends) = work(self.shop, order)?;
        let window = self.windows.of_span(machine, start, work_ends)?;
        let known = self.shop.machines.get(&machine)?;
        let line = known.line.as_deref().map(|line| (line, known.hall.as_str()));
        let alone = if line.is_none() { Some(machine) } else { None };
        let day = self.shop.settings.day_of(start);
        Some((((line, alone), day, window.downtime, window.start), start))
    }
}

fn lockout(shop: &Shop) -> TimeDelta {
    minutes(shop.settings.lockout.get().max(0.0))
}

fn minutes(minutes: f64) -> TimeDelta {
    TimeDelta::try_minutes(minutes.round().min(MOST_MINUTES) as i64).unwrap_or_default()
}

/// From when to when an order is worked at, lockout aside: at least a minute, and as long as such a
/// service usually takes where the order does not say.
fn work(shop: &Shop, order: &Order) -> Option<OrderSpan> {
    let start = order.start.filter(|start| start.time.is_some())?.date_time();
    let usual = || shop.spindles.get(&order.spindle).map(|spindle| usual_minutes(shop, spindle, order.kind));
    let takes = order.duration.map(RunHours::get).map_or_else(usual, |hours| Some(hours * 60.0))?;
    Some((start, start.checked_add_signed(minutes(takes.max(1.0)))?))
}

/// The first open order other than `id` at which somebody is while they would be at `order`.
pub(super) fn clash<'a>(shop: &'a Shop, order: &Order, id: Option<OrderId>, who: &str) -> Option<&'a Order> {
    let is_other = |other: OrderId| Some(other) != id;
    // with a lockout each is as long as it can be: where even those keep clear, nothing is to reckon
    let longest = |order: &Order| {
        let (start, end) = work(shop, order)?;
        Some((start, end.checked_add_signed(lockout(shop))?))
    };
    let own = longest(order)?;
    let touches = |a: OrderSpan, b: OrderSpan| a.0 < b.1 && b.0 < a.1;
    let near: Vec<(OrderId, &Order)> = shop
        .orders
        .iter()
        .filter(|other| is_other(other.id) && !other.is_closed() && other.technicians.iter().any(|name| name == who))
        .filter(|other| longest(&other.value).is_some_and(|other| touches(own, other)))
        .map(|other| (other.id, &other.value))
        .collect();
    let starts = || near.iter().filter_map(|(_, order)| order.start).chain(order.start).map(|start: Moment| start.date);
    let (first, last) = starts().min().zip(starts().max())?;
    if near.is_empty() {
        return None;
    }
    let windows = Windows::between(shop, first.pred_opt().unwrap_or(first), last);
    // an order that is not there yet starts after all others of its minute
    let id = id.unwrap_or(OrderId::from_row(i64::MAX));
    let open = shop.orders.iter().filter(|other| is_other(other.id) && !other.is_closed());
    let all = open.map(|other| (other.id, &other.value)).chain(std::iter::once((id, order)));
    let spans = OrderSpans::of(shop, &windows, all);
    let own = spans.span(id, order)?;
    near.iter().find(|(id, other)| spans.span(*id, other).is_some_and(|other| touches(own, other))).map(|near| near.1)
}
