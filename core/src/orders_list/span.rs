//! From when to when an order keeps its people and its machine: the work, and before it the lockout
//! where the order begins a stop.
//!
//! Orders of one line in one window of a day of the shop are one stop, as in a plan: the one that
//! starts first locks out, the others start when that is done. Outside every window each order is a
//! stop of its own, and so is one that no plan moves (held, issued, begun, or a further one of its
//! spindle) and that does not fit into its window, with the lockout where of those it would begin the
//! stop; so is one that a plan may move and that does not name the people it takes, since no plan can
//! keep it where it is. An order for a day without a time begins with the first window of its machine.
//! A spindle in no machine has nothing to lock out.

use super::usual_minutes;
use crate::ids::{DowntimeId, MachineId, OrderId, SpindleId};
use crate::moment::Moment;
use crate::order::Order;
use crate::service_costs::{is_manned, work_minutes};
use crate::shop::Shop;
use crate::units::Minutes;
use crate::windows::Windows;
use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use std::collections::{BTreeMap, BTreeSet};

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
    /// Orders that lie in a window and yet are a stop of their own.
    alone: BTreeSet<OrderId>,
}

impl<'a> OrderSpans<'a> {
    /// The stops that these orders make; `windows` must reach over their days.
    pub fn of(shop: &'a Shop, windows: &'a Windows, orders: impl Iterator<Item = (OrderId, &'a Order)>) -> Self {
        let mut spans = Self { shop, windows, first: BTreeMap::new(), alone: BTreeSet::new() };
        let orders: Vec<(OrderId, &Order)> = orders.collect();
        let further = further(&orders);
        let mut inside: Vec<InWindow<'a>> = orders
            .iter()
            .filter_map(|(id, order)| {
                let (stop, span, window_ends) = spans.stop_of(order, spans.machine_of(order)?)?;
                let stays = !order.is_closed() && (order.stays() || further.contains(id));
                let is_loose = !order.is_closed() && !stays && !is_manned(shop, order);
                Some(InWindow { stays, is_loose, begins: (span.0, *id), stop, span, window_ends })
            })
            .collect();
        // what stays is there before anything that may still be moved
        inside.sort_by_key(|one| (!one.stays, one.begins));
        for InWindow { stays, is_loose, begins, stop, span, window_ends } in inside {
            let begins_it = !spans.first.contains_key(&stop);
            let ends = if begins_it { span.1.checked_add_signed(lockout(shop)) } else { Some(span.1) };
            if is_loose || (stays && ends.is_none_or(|ends| window_ends < ends)) {
                spans.alone.insert(begins.1);
                continue;
            }
            let first = spans.first.entry(stop).or_insert(begins);
            *first = (*first).min(begins);
        }
        spans
    }

    /// From when to when an order lasts, its lockout included where it does it; `None` without a
    /// time of day.
    #[must_use]
    pub fn span(&self, id: OrderId, order: &Order) -> Option<OrderSpan> {
        let (start, work_ends) = work(self.shop, order)?;
        let locks_out = self.machine_of(order).is_some_and(|machine| {
            let stop = self.stop_of(order, machine).filter(|_| !self.alone.contains(&id));
            stop.and_then(|(stop, span, _)| Some((span.0, id) <= *self.first.get(&stop)?)).unwrap_or(true)
        });
        let end = if locks_out { work_ends.checked_add_signed(lockout(self.shop))? } else { work_ends };
        Some((start, end))
    }

    fn machine_of(&self, order: &Order) -> Option<MachineId> {
        Some(self.shop.position_on(order.spindle, order.start?.date)?.machine)
    }

    /// When an order begins; one for a day without a time with the first window of its machine on it.
    fn begins(&self, order: &Order, machine: MachineId) -> Option<NaiveDateTime> {
        let start = order.start?;
        if start.time.is_some() {
            return Some(start.date_time());
        }
        let begins = self.shop.settings.day_begins;
        let (day_begins, day_ends) = (start.date.and_time(begins), start.date.succ_opt()?.and_time(begins));
        let of_day = self.windows.of_machine(machine).into_iter();
        let of_day = of_day.filter(|window| window.start < day_ends && day_begins < window.end);
        of_day.map(|window| window.start.max(day_begins)).min()
    }

    /// The stop in which an order lies, from when to when it is worked at, and when its window ends
    /// on that day of the shop; `None` outside every window.
    fn stop_of(&self, order: &Order, machine: MachineId) -> Option<(Stop<'a>, OrderSpan, NaiveDateTime)> {
        let start = self.begins(order, machine)?;
        let work_ends = start.checked_add_signed(work_time(self.shop, order)?)?;
        let window = self.windows.of_span(machine, start, work_ends)?;
        let known = self.shop.machines.get(&machine)?;
        let line = known.line.as_deref().map(|line| (line, known.hall.as_str()));
        let alone = if line.is_none() { Some(machine) } else { None };
        let day = self.shop.settings.day_of(start);
        let day_ends = day.succ_opt().map_or(window.end, |next| next.and_time(self.shop.settings.day_begins));
        let stop = ((line, alone), day, window.downtime, window.start);
        Some((stop, (start, work_ends), window.end.min(day_ends)))
    }
}

/// An order in its window.
struct InWindow<'a> {
    /// No plan moves it.
    stays: bool,
    /// A plan may move it, and cannot keep it: nobody knows who is at it.
    is_loose: bool,
    begins: (NaiveDateTime, OrderId),
    stop: Stop<'a>,
    span: OrderSpan,
    window_ends: NaiveDateTime,
}

/// Open orders whose spindle waits for another one first: no plan moves them.
fn further(orders: &[(OrderId, &Order)]) -> BTreeSet<OrderId> {
    let mut of_spindle: BTreeMap<SpindleId, Vec<(OrderId, &Order)>> = BTreeMap::new();
    for (id, order) in orders.iter().filter(|(_, order)| !order.is_closed()) {
        of_spindle.entry(order.spindle).or_default().push((*id, order));
    }
    let mut further = BTreeSet::new();
    for mut open in of_spindle.into_values() {
        open.sort_by(|a, b| a.1.turn().cmp(&b.1.turn()));
        let has_begun = open.iter().any(|(_, order)| order.has_begun());
        let waits = open.iter().enumerate().filter(|(nth, (_, order))| 0 < *nth || (has_begun && !order.has_begun()));
        further.extend(waits.map(|(_, (id, _))| *id));
    }
    further
}

fn lockout(shop: &Shop) -> TimeDelta {
    minutes(shop.settings.lockout.get().max(0.0).round() as i64)
}

fn minutes(minutes: i64) -> TimeDelta {
    TimeDelta::try_minutes(minutes).unwrap_or_default()
}

/// From when to when an order is worked at, lockout aside; `None` without a time of day.
fn work(shop: &Shop, order: &Order) -> Option<OrderSpan> {
    let start = order.start.filter(|start| start.time.is_some())?.date_time();
    Some((start, start.checked_add_signed(work_time(shop, order)?)?))
}

/// How long an order is worked at: as long as such a service usually takes where it does not say.
fn work_time(shop: &Shop, order: &Order) -> Option<TimeDelta> {
    let usual = || shop.spindles.get(&order.spindle).map(|spindle| usual_minutes(shop, spindle, order.kind));
    let usual = if order.duration.is_some() { Minutes::ZERO } else { Minutes::new(usual()?)? };
    Some(minutes(work_minutes(order.duration, usual)))
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
