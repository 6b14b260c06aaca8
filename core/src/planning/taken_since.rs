//! Gauges and parts that bookings took since a proposal was made.
//!
//! The places of the proposal that are not booked yet count as taken too, so that one line after the
//! other can be accepted as long as nothing came between.

use super::basis::{Grid, gauges, kit, part, taken};
use super::proposal::{PlacedService, Proposal, ServiceKey};
use crate::ids::{OrderId, Row, SpindleId};
use crate::order::Order;
use crate::service::Kind;
use crate::service_costs::work_of;
use crate::shop::Shop;
use crate::units::Quantity;
use chrono::NaiveDate;

/// A proposal and the orders that came since it was made.
#[derive(Debug, Clone, Copy)]
pub(super) struct TakenSince<'a> {
    pub(super) shop: &'a Shop,
    pub(super) proposal: &'a Proposal,
    /// Open orders with a start, none of them of the service that is looked at.
    pub(super) new: &'a [&'a Row<OrderId, Order>],
}

impl TakenSince<'_> {
    /// That the gauges of a service's day are taken by now; `None`: one is free.
    pub(super) fn gauge(&self, placed: &PlacedService) -> Option<String> {
        let quantity = self.gauge_of(placed.spindle, placed.kind)?;
        let day = self.shop.settings.day_of(placed.place.start);
        let of_new = self.new.iter().filter(|row| self.gauge_of(row.spindle, row.kind) == Some(quantity));
        let new = of_new.filter(|row| self.day(row) == Some(day)).count();
        if new == 0 {
            return None;
        }
        let of_plan = self.standing().filter(|one| self.gauge_of(one.spindle, one.kind) == Some(quantity));
        let planned = of_plan.filter(|one| self.shop.settings.day_of(one.place.start) == day).count();
        let grid = self.grid();
        let room = gauges(self.shop, quantity, &grid)?.get(grid.day_of(day)?).copied()?;
        (room < (new + planned) as i64)
            .then(|| format!("the gauges of {} are booked for others by now", quantity.label()))
    }

    /// That a part of a service's kit is taken by now; `None`: all of them are there.
    pub(super) fn part(&self, placed: &PlacedService) -> Option<String> {
        if self.new.is_empty() {
            return None;
        }
        let grid = self.grid();
        let day = grid.day_of(self.shop.settings.day_of(placed.place.start))?;
        let kit = self.kit_of(placed.spindle, placed.kind);
        kit.into_iter().find_map(|(name, _)| {
            let stock = part(self.shop, &name, self.proposal.as_of, &grid).1;
            let of = |spindle, kind| {
                self.kit_of(spindle, kind).into_iter().filter(|(part, _)| *part == name).map(|(_, many)| taken(many))
            };
            // what was to start before the plan took its kit by its first day
            let nth = |on: NaiveDate| if on < self.proposal.as_of { Some(0) } else { grid.day_of(on) };
            let new = self.new.iter().filter(|row| !row.has_begun()).filter_map(|row| {
                Some((nth(self.day(row)?)?, of(row.spindle, row.kind).sum::<i64>())).filter(|(_, many)| 0 < *many)
            });
            let new: Vec<(usize, i64)> = new.collect();
            let planned = self.standing().filter(|one| !self.has_begun(one)).filter_map(|one| {
                Some((nth(self.shop.settings.day_of(one.place.start))?, of(one.spindle, one.kind).sum::<i64>()))
            });
            let all: Vec<(usize, i64)> = planned.chain(new.iter().copied()).collect();
            let by = |list: &[(usize, i64)], last: usize| -> i64 {
                list.iter().filter(|(on, _)| *on <= last).map(|(_, many)| many).sum()
            };
            let is_short = all
                .iter()
                .map(|(on, _)| (*on).max(day))
                .any(|last| 0 < by(&new, last) && stock.on_hand + by(&stock.arrivals, last) < by(&all, last));
            is_short.then(|| format!("{name} is taken for others by now"))
        })
    }

    /// The places of the proposal that still stand as it says: of what was booked elsewhere since, its
    /// booking counts.
    fn standing(&self) -> impl Iterator<Item = &PlacedService> {
        let is_booked_elsewhere = |one: &PlacedService| {
            let key = |row: &Row<OrderId, Order>| ServiceKey { spindle: row.spindle, order: Some(row.id) };
            self.new.iter().any(|row| one.key().may_be(key(row)))
        };
        self.proposal.placed.iter().filter(move |one| !is_booked_elsewhere(one))
    }

    fn has_begun(&self, placed: &PlacedService) -> bool {
        let order = self.shop.orders.iter().find(|row| Some(row.id) == placed.order);
        order.is_some_and(|row| row.has_begun())
    }

    fn gauge_of(&self, spindle: SpindleId, kind: Kind) -> Option<Quantity> {
        let spindle = self.shop.spindles.get(&spindle)?;
        Some(work_of(self.shop, &spindle.interface, kind).gauge)
    }

    fn kit_of(&self, spindle: SpindleId, kind: Kind) -> Vec<(String, f64)> {
        let spindle = self.shop.spindles.get(&spindle);
        spindle.map(|spindle| kit(self.shop, &spindle.interface, kind)).unwrap_or_default()
    }

    fn day(&self, order: &Order) -> Option<NaiveDate> {
        order.start.map(|start| self.shop.settings.day_of_start(start))
    }

    fn grid(&self) -> Grid {
        let days = (self.proposal.last - self.proposal.as_of).num_days() + 1;
        Grid::new(self.proposal.as_of, self.shop.settings.day_begins, usize::try_from(days).unwrap_or(0))
    }
}
