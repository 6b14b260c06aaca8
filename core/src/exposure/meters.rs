//! Meters: every counter of a shop with the mountings that it counted for.

use super::counter::{Counter, Shown};
use crate::calendar::WorkingCalendar;
use crate::ids::{MeterReadingId, Row, SpindleId};
use crate::machine::Position;
use crate::meter::{MeterOwner, MeterReading};
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
    // of one spindle, only the rows of its places and of those who sat there are looked at
    let rows: Vec<&[Row<MeterReadingId, MeterReading>]> = match &places {
        Some(places) => places.iter().map(|owner| shop.meters_of(*owner)).collect(),
        None => vec![&shop.meters],
    };
    let by_owner = || rows.iter().flat_map(|rows| rows.chunk_by(|a, b| a.owner == b.owner));
    let owners = || by_owner().filter_map(|rows| rows.first()).map(|row| row.owner);
    let mut shown: BTreeMap<MeterOwner, [Vec<Shown>; 2]> = BTreeMap::new();
    for rows in by_owner() {
        let Some(owner) = rows.first().map(|row| row.owner) else { continue };
        let [hours, cycles] = shown.entry(owner).or_default();
        for figures in [&mut *hours, &mut *cycles] {
            // readings of the force may show it as well
            figures.reserve(2 * rows.len());
        }
        for row in rows {
            let (day, replaced) = (row.at.date, row.meter_replaced);
            hours.extend(row.run_hours.map(|v| Shown { day, value: v.get(), replaced }));
            cycles.extend(row.clamp_cycles.map(|v| Shown { day, value: v.get(), replaced }));
        }
    }
    let metered: BTreeSet<Position> = owners()
        .filter_map(|owner| match owner {
            MeterOwner::Position(position) => Some(position),
            MeterOwner::Spindle(_) => None,
        })
        .collect();
    let sitters: Vec<SpindleId> = match only {
        Some(id) => {
            let at = |position| wanted(MeterOwner::Position(position));
            let there = shop.mountings.iter().filter(|row| at(row.position)).map(|row| row.spindle);
            let all: BTreeSet<SpindleId> = there.chain([id]).collect();
            all.into_iter().collect()
        }
        None => shop.spindles.keys().copied().collect(),
    };
    let stays: BTreeMap<SpindleId, Vec<Stay>> = sitters
        .iter()
        .map(|id| (*id, shop.mountings_of(*id).iter().map(|row| Stay::of(row, as_of)).collect()))
        .collect();
    let readings = sitters.iter().flat_map(|id| shop.readings_of(*id));
    for row in readings.filter(|row| row.run_hours.is_some() || row.clamp_cycles.is_some()) {
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
        let [hours, cycles] = shown.entry(owner).or_default();
        let day = row.at.date;
        hours.extend(row.run_hours.map(|v| Shown { day, value: v.get(), replaced: false }));
        cycles.extend(row.clamp_cycles.map(|v| Shown { day, value: v.get(), replaced: false }));
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
