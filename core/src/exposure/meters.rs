//! Meters: every counter of a shop with the mountings that it counted for.

use super::counter::{Counter, Shown};
use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::mounting::Mounting;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// More run hours than this in a day cannot be.
const MOST_HOURS_PER_DAY: f64 = 24.0;
/// More clamp cycles than this in a day cannot be: one every four seconds, from memory, to be confirmed.
const MOST_CYCLES_PER_DAY: f64 = 21_600.0;

/// The two things a meter may count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Counted {
    Hours,
    Cycles,
}

/// Both counters of one meter.
#[derive(Debug, Clone, Default)]
pub(super) struct Meter {
    pub(super) stays: Vec<Stay>,
    pub(super) hours: Counter,
    pub(super) cycles: Counter,
}

/// A mounting as known on the as-of day: what ends later has no end yet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stay {
    pub(super) position: Position,
    pub(super) from: NaiveDate,
    pub(super) to: Option<NaiveDate>,
}

impl Stay {
    pub(super) fn of(mounting: &Mounting, as_of: NaiveDate) -> Self {
        Self {
            position: mounting.position,
            from: mounting.mounted_on,
            to: mounting.removed_on.filter(|removed| *removed <= as_of),
        }
    }

    pub(super) fn covers(self, day: NaiveDate) -> bool {
        self.from <= day && self.to.is_none_or(|to| day < to)
    }

    /// Its working days up to a day.
    pub(super) fn work(self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        let until = self.to.map_or(day, |to| to.min(day));
        calendar.between(self.from, until).max(0.0)
    }
}

impl Meter {
    pub(super) fn counter(&self, counted: Counted) -> &Counter {
        match counted {
            Counted::Hours => &self.hours,
            Counted::Cycles => &self.cycles,
        }
    }

    /// Working days of its stays up to a day.
    pub(super) fn work(&self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        self.stays.iter().map(|stay| stay.work(calendar, day)).sum()
    }
}

/// Every meter with what it counted, by its owner; with `only` those that count for one spindle.
pub(super) fn meters_of(
    shop: &Shop,
    as_of: NaiveDate,
    calendar: &WorkingCalendar,
    only: Option<SpindleId>,
) -> BTreeMap<MeterOwner, Meter> {
    let places: Option<BTreeSet<MeterOwner>> = only.map(|id| {
        let positions = shop.mountings_of(id).iter().map(|row| MeterOwner::Position(row.position));
        positions.chain([MeterOwner::Spindle(id)]).collect()
    });
    let wanted = |owner: MeterOwner| places.as_ref().is_none_or(|places| places.contains(&owner));
    let mut shown: BTreeMap<MeterOwner, [Vec<Shown>; 2]> = BTreeMap::new();
    let mut push = |owner, day: NaiveDate, hours: Option<f64>, cycles: Option<f64>, replaced| {
        let entry = shown.entry(owner).or_default();
        for (list, value) in entry.iter_mut().zip([hours, cycles]) {
            list.extend(value.map(|value| Shown { day, value, replaced }));
        }
    };
    for row in shop.meters.iter().filter(|row| wanted(row.owner)) {
        push(
            row.owner,
            row.at.date,
            row.run_hours.map(|v| v.get()),
            row.clamp_cycles.map(|v| v.get()),
            row.meter_replaced,
        );
    }
    let metered: BTreeSet<Position> = shop
        .meters
        .iter()
        .filter_map(|row| match row.owner {
            MeterOwner::Position(position) => Some(position),
            MeterOwner::Spindle(_) => None,
        })
        .collect();
    let stays: BTreeMap<SpindleId, Vec<Stay>> = shop
        .spindles
        .keys()
        .map(|id| (*id, shop.mountings_of(*id).iter().map(|row| Stay::of(row, as_of)).collect()))
        .collect();
    for row in shop.readings.iter().filter(|row| row.run_hours.is_some() || row.clamp_cycles.is_some()) {
        let of_spindle = stays.get(&row.spindle).map(Vec::as_slice).unwrap_or_default();
        let sits = of_spindle.iter().find(|stay| stay.covers(row.at.date)).map(|stay| stay.position);
        let owner = match sits {
            Some(position) if metered.contains(&position) => MeterOwner::Position(position),
            // on the bench nothing says whose meter was read where others have counted for it
            None if of_spindle.iter().any(|stay| metered.contains(&stay.position)) => continue,
            _ => MeterOwner::Spindle(row.spindle),
        };
        if !wanted(owner) {
            continue;
        }
        push(owner, row.at.date, row.run_hours.map(|v| v.get()), row.clamp_cycles.map(|v| v.get()), false);
    }
    let mut by_position: BTreeMap<Position, Vec<Stay>> = BTreeMap::new();
    for stay in stays.values().flatten() {
        by_position.entry(stay.position).or_default().push(*stay);
    }
    shown
        .into_iter()
        .map(|(owner, [hours, cycles])| {
            let stays: Vec<Stay> = match owner {
                MeterOwner::Position(position) => by_position.get(&position).cloned().unwrap_or_default(),
                MeterOwner::Spindle(id) => {
                    let all = stays.get(&id).map(Vec::as_slice).unwrap_or_default();
                    all.iter().filter(|stay| !metered.contains(&stay.position)).copied().collect()
                }
            };
            let mut meter = Meter { stays, ..Meter::default() };
            meter.hours = Counter::of(hours, |day| meter.work(calendar, day), MOST_HOURS_PER_DAY);
            meter.cycles = Counter::of(cycles, |day| meter.work(calendar, day), MOST_CYCLES_PER_DAY);
            (owner, meter)
        })
        .collect()
}
