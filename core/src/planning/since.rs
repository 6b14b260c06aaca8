//! What came between a proposal and its acceptance: a later first day for a service, or somebody else
//! who is booked at that time by now.

use super::accept::Lines;
use super::proposal::{PlacedService, PlanChange, PlanChangeKind, Proposal, ServiceKey};
use crate::ids::{OrderId, Row, SpindleId};
use crate::order::Order;
use crate::shop::Shop;
use crate::words;
use chrono::{NaiveDateTime, TimeDelta};

/// Why lines of a proposal cannot be taken any more, one clause each: they are not accepted.
#[must_use]
pub fn no_longer(shop: &Shop, proposal: &Proposal, lines: Lines<'_>) -> Vec<String> {
    let changes = proposal.changes.iter().enumerate().filter(|(index, _)| lines.has(*index));
    changes.filter_map(|(_, change)| stands_against(shop, proposal, change)).collect()
}

/// What stands against the place of a line by now; `None`: nothing.
pub(super) fn stands_against(shop: &Shop, proposal: &Proposal, change: &PlanChange) -> Option<String> {
    let placed = proposal.placed.iter().find(|placed| placed.key() == change.key())?;
    let position = label(shop, proposal, change.spindle);
    let day = shop.settings.day_of(placed.place.start);
    if let Some(ready) = shop.ready_day(change.spindle, proposal.as_of).filter(|ready| day < *ready) {
        return Some(format!("{position} is not to be done before {}", words::date_long(ready, proposal.as_of)));
    }
    let on = words::date_mid(day, proposal.as_of);
    let machine = |spindle| shop.position_on(spindle, proposal.as_of).map(|position| position.machine);
    let others = shop.orders.iter().filter(|row| row.spindle != change.spindle && row.is_open_on(proposal.as_of));
    others.filter(|row| is_new(shop, proposal, row)).find_map(|row| {
        let (from, to) = span(row)?;
        if to <= placed.place.start || placed.place.end <= from {
            return None;
        }
        let other = label(shop, proposal, row.spindle);
        if let Some(who) = placed.place.technicians.iter().find(|who| row.technicians.contains(who)) {
            return Some(format!("{who}, who was to do {position} on {on}, is booked for {other} by now"));
        }
        let same_machine = machine(row.spindle).is_some_and(|of| machine(change.spindle) == Some(of));
        same_machine.then(|| format!("{other} is booked on the machine of {position} on {on} by now"))
    })
}

fn label(shop: &Shop, proposal: &Proposal, spindle: SpindleId) -> String {
    let position = shop.position_on(spindle, proposal.as_of).map(|position| shop.position_label(position));
    let name = || shop.spindles.get(&spindle).map(|spindle| spindle.name.clone());
    position.or_else(name).unwrap_or_default()
}

/// From when to when an order surely keeps its people: a lockout may come on top.
fn span(order: &Order) -> Option<(NaiveDateTime, NaiveDateTime)> {
    let start = order.start.filter(|start| start.time.is_some())?.date_time();
    let minutes = (order.duration?.get() * 60.0).round() as i64;
    Some((start, start.checked_add_signed(TimeDelta::minutes(minutes))?))
}

/// Whether an order stands where neither the proposal puts it nor it stood when that was made.
fn is_new(shop: &Shop, proposal: &Proposal, row: &Row<OrderId, Order>) -> bool {
    let key = ServiceKey { spindle: row.spindle, order: Some(row.id) };
    let Some(start) = row.start.map(crate::moment::Moment::date_time) else { return false };
    let is_here = |at: NaiveDateTime| (at - start).abs() < TimeDelta::minutes(1);
    let placed: Vec<&PlacedService> = proposal.placed.iter().filter(|one| one.key().may_be(key)).collect();
    if placed.iter().any(|one| is_here(one.place.start) || one.moved_from.is_some_and(is_here)) {
        return false;
    }
    // where one stood that is taken off, or only put at another time, the proposal does not say
    let is_untold = |kind| matches!(kind, PlanChangeKind::TakenOff | PlanChangeKind::Rearranged);
    if proposal.changes.iter().any(|change| change.key().may_be(key) && is_untold(change.kind)) {
        return false;
    }
    // no plan knows what is not mounted: that one was there before as well
    let is_known = !placed.is_empty() || proposal.left.iter().any(|one| one.key().may_be(key));
    is_known || shop.position_on(row.spindle, proposal.as_of).is_some()
}
