//! What came between a proposal and its acceptance: a later first day for a service, somebody else
//! who is booked at that time by now, or bookings that took the gauges of a day or the parts.

use super::accept::Lines;
use super::proposal::{PlacedService, PlanChange, PlanChangeKind, Proposal, ServiceKey};
use super::taken_since::TakenSince;
use crate::ids::{OrderId, Row, SpindleId};
use crate::moment::Moment;
use crate::order::Order;
use crate::shop::Shop;
use crate::words;
use chrono::{NaiveDateTime, TimeDelta};
use std::collections::BTreeMap;

/// Why lines of a proposal cannot be taken any more, one clause each: they are not accepted.
#[must_use]
pub fn no_longer(shop: &Shop, proposal: &Proposal, lines: Lines<'_>) -> Vec<String> {
    let since = Since::of(shop, proposal);
    let changes = proposal.changes.iter().enumerate().filter(|(index, _)| lines.has(*index));
    changes.filter_map(|(_, change)| since.stands_against(change)).collect()
}

/// What was booked since a proposal was made, beside that proposal.
pub(super) struct Since<'a> {
    shop: &'a Shop,
    proposal: &'a Proposal,
    /// Open orders that stand where neither the proposal puts them nor they stood when it was made.
    new: Vec<&'a Row<OrderId, Order>>,
}

impl<'a> Since<'a> {
    pub(super) fn of(shop: &'a Shop, proposal: &'a Proposal) -> Self {
        let mut of_spindle: BTreeMap<SpindleId, Known<'a>> = BTreeMap::new();
        for placed in &proposal.placed {
            of_spindle.entry(placed.spindle).or_default().placed.push(placed);
        }
        for left in &proposal.left {
            of_spindle.entry(left.spindle).or_default().left.push(left.key());
        }
        for change in &proposal.changes {
            of_spindle.entry(change.spindle).or_default().changes.push(change);
        }
        let open = shop.orders.iter().filter(|row| row.is_open_on(proposal.as_of));
        let new = open.filter(|row| {
            let is_mounted = || shop.position_on(row.spindle, proposal.as_of).is_some();
            of_spindle.get(&row.spindle).map_or_else(is_mounted, |known| known.has_not(row, is_mounted))
        });
        Self { shop, proposal, new: new.filter(|row| row.start.is_some()).collect() }
    }

    /// What stands against the place of a line by now; `None`: nothing.
    pub(super) fn stands_against(&self, change: &PlanChange) -> Option<String> {
        let (shop, proposal) = (self.shop, self.proposal);
        let placed = proposal.placed.iter().find(|placed| placed.key() == change.key())?;
        let position = self.label(change.spindle);
        let day = shop.settings.day_of(placed.place.start);
        if let Some(ready) = shop.ready_day(change.spindle, proposal.as_of).filter(|ready| day < *ready) {
            return Some(format!("{position} is not to be done before {}", words::date_long(ready, proposal.as_of)));
        }
        let on = words::date_mid(day, proposal.as_of);
        let machine = |spindle| shop.position_on(spindle, proposal.as_of).map(|position| position.machine);
        let others: Vec<&Row<OrderId, Order>> =
            self.new.iter().filter(|row| row.spindle != change.spindle).copied().collect();
        let in_the_way = others.iter().find_map(|row| {
            let (from, to) = span(row)?;
            if to <= placed.place.start || placed.place.end <= from {
                return None;
            }
            let other = self.label(row.spindle);
            if let Some(who) = placed.place.technicians.iter().find(|who| row.technicians.contains(who)) {
                return Some(format!("{who}, who was to do {position} on {on}, is booked for {other} by now"));
            }
            let same_machine = machine(row.spindle).is_some_and(|of| machine(change.spindle) == Some(of));
            same_machine.then(|| format!("{other} is booked on the machine of {position} on {on} by now"))
        });
        in_the_way.or_else(|| {
            let taken = TakenSince { shop, proposal, new: &others };
            let clause = taken.gauge(placed).or_else(|| taken.part(placed))?;
            Some(format!("{clause}, so {position} cannot be done on {on}"))
        })
    }

    fn label(&self, spindle: SpindleId) -> String {
        let position = self.shop.position_on(spindle, self.proposal.as_of);
        let position = position.map(|position| self.shop.position_label(position));
        let name = || self.shop.spindles.get(&spindle).map(|spindle| spindle.name.clone());
        position.or_else(name).unwrap_or_default()
    }
}

/// What a proposal knows of a spindle.
#[derive(Default)]
struct Known<'a> {
    placed: Vec<&'a PlacedService>,
    left: Vec<ServiceKey>,
    changes: Vec<&'a PlanChange>,
}

impl Known<'_> {
    /// Whether an order of it stands where neither the proposal puts it nor it stood when that was made.
    fn has_not(&self, row: &Row<OrderId, Order>, is_mounted: impl Fn() -> bool) -> bool {
        let key = ServiceKey { spindle: row.spindle, order: Some(row.id) };
        let Some(start) = row.start.map(Moment::date_time) else { return false };
        let is_here = |at: NaiveDateTime| (at - start).abs() < TimeDelta::minutes(1);
        let mut placed = self.placed.iter().filter(|one| one.key().may_be(key)).peekable();
        let is_placed = placed.peek().is_some();
        if placed.any(|one| is_here(one.place.start) || one.moved_from.is_some_and(is_here)) {
            return false;
        }
        // where one stood that is taken off, or only put at another time, the proposal does not say
        let is_untold = |kind| matches!(kind, PlanChangeKind::TakenOff | PlanChangeKind::Rearranged);
        if self.changes.iter().any(|change| change.key().may_be(key) && is_untold(change.kind)) {
            return false;
        }
        // no plan knows what is not mounted: that one was there before as well
        is_placed || self.left.iter().any(|left| left.may_be(key)) || is_mounted()
    }
}

/// From when to when an order surely keeps its people: a lockout may come on top.
fn span(order: &Order) -> Option<(NaiveDateTime, NaiveDateTime)> {
    let start = order.start.filter(|start| start.time.is_some())?.date_time();
    let minutes = (order.duration?.get() * 60.0).round() as i64;
    Some((start, start.checked_add_signed(TimeDelta::minutes(minutes))?))
}
