//! Meters: every counter of a shop with the mountings that it counted for.

use super::counter::{Counter, Shown, Steady};
use super::records::{MeterRow, ReadingRow, Records};
use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::mounting::Mounting;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::sync::Arc;

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
    pub(super) stays: Arc<[Stay]>,
    pub(super) hours: Counter,
    pub(super) cycles: Counter,
}

/// A mounting as known on the as-of day: what ends later has no end yet. Days by their numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stay {
    pub(super) position: Position,
    pub(super) from: i32,
    pub(super) to: Option<i32>,
    /// Working days of the calendar up to its first day.
    work_before: f64,
}

impl Stay {
    fn of(mounting: &Mounting, as_of: NaiveDate, calendar: &WorkingCalendar) -> Self {
        let from = calendar.number_of(mounting.mounted_on);
        let to = mounting.removed_on.filter(|removed| *removed <= as_of);
        Self {
            position: mounting.position,
            from,
            to: to.map(|to| calendar.number_of(to)),
            work_before: calendar.until_number(from),
        }
    }

    pub(super) fn covers(self, day: i32) -> bool {
        self.from <= day && self.to.is_none_or(|to| day < to)
    }

    /// Its working days up to a day.
    fn work(self, calendar: &WorkingCalendar, day: i32) -> f64 {
        let until = self.to.map_or(day, |to| to.min(day));
        (calendar.until_number(until) - self.work_before).max(0.0)
    }
}

impl Meter {
    pub(super) const fn counter(&self, counted: Counted) -> &Counter {
        match counted {
            Counted::Hours => &self.hours,
            Counted::Cycles => &self.cycles,
        }
    }

    /// Working days of its stays up to a day.
    pub(super) fn work(&self, calendar: &WorkingCalendar, day: i32) -> f64 {
        work_of(&self.stays, calendar, day)
    }
}

fn work_of(stays: &[Stay], calendar: &WorkingCalendar, day: i32) -> f64 {
    stays.iter().map(|stay| stay.work(calendar, day)).sum()
}

/// A spindle with its stays and the meter that travels with it.
#[derive(Debug)]
pub(super) struct Sitter {
    pub(super) spindle: SpindleId,
    pub(super) stays: Arc<[Stay]>,
    /// `None` also where it was not asked for.
    pub(super) own: Option<Meter>,
}

impl Sitter {
    /// Its stay on a day.
    pub(super) fn sits(&self, day: i32) -> Option<&Stay> {
        self.stays.iter().find(|stay| stay.covers(day))
    }
}

/// Every meter with what it counted.
#[derive(Debug)]
pub(super) struct Meters {
    /// Spindles as the records have them.
    pub(super) sitters: Vec<Sitter>,
    pub(super) positions: BTreeMap<Position, Meter>,
}

impl Meters {
    /// The meters of these records.
    pub(super) fn of(records: &Records<'_>, as_of: NaiveDate, calendar: &WorkingCalendar) -> Self {
        let mut sitters: Vec<Sitter> = records
            .spindles
            .iter()
            .map(|rows| Sitter {
                spindle: rows.spindle,
                stays: rows.mountings.iter().map(|row| Stay::of(row, as_of, calendar)).collect(),
                own: None,
            })
            .collect();
        let mut metered: BTreeMap<Position, Vec<Stay>> =
            records.positions.iter().map(|(position, _)| (*position, Vec::new())).collect();
        if !metered.is_empty() {
            for stay in sitters.iter().flat_map(|sitter| sitter.stays.iter()) {
                if let Some(there) = metered.get_mut(&stay.position) {
                    there.push(*stay);
                }
            }
        }
        let mut carried = carried_by(records, &sitters, &metered, calendar);
        let mut workshop = Workshop::new(calendar);
        for (sitter, rows) in sitters.iter_mut().zip(&records.spindles) {
            let more = carried.remove(&MeterOwner::Spindle(sitter.spindle)).unwrap_or_default();
            let is_asked = records.only.is_none_or(|only| only == sitter.spindle);
            if is_asked && !(rows.meters.is_empty() && more.is_empty()) {
                // where the position has a meter, its own one did not count
                let counted = if metered.is_empty() {
                    Arc::clone(&sitter.stays)
                } else {
                    sitter.stays.iter().filter(|stay| !metered.contains_key(&stay.position)).copied().collect()
                };
                sitter.own = Some(workshop.meter(counted, rows.meters, &more));
            }
        }
        let positions = records.positions.iter().map(|(position, rows)| {
            let there = metered.remove(position).unwrap_or_default();
            let more = carried.remove(&MeterOwner::Position(*position)).unwrap_or_default();
            (*position, workshop.meter(there.into(), rows, &more))
        });
        let positions = positions.collect();
        Self { sitters, positions }
    }

    /// The meter by which the usage of a spindle is told: that of its position, else its own.
    pub(super) fn telling<'m>(&'m self, sitter: &'m Sitter, as_of: i32) -> Option<&'m Meter> {
        let at_position = sitter.sits(as_of).and_then(|stay| self.positions.get(&stay.position));
        at_position.or(sitter.own.as_ref())
    }
}

/// What readings of the force say of meters, by whose meter they saw.
fn carried_by<'s>(
    records: &Records<'s>,
    sitters: &[Sitter],
    metered: &BTreeMap<Position, Vec<Stay>>,
    calendar: &WorkingCalendar,
) -> BTreeMap<MeterOwner, Vec<&'s ReadingRow>> {
    let mut carried: BTreeMap<MeterOwner, Vec<&ReadingRow>> = BTreeMap::new();
    for row in &records.with_meter {
        let Ok(at) = sitters.binary_search_by_key(&row.spindle, |sitter| sitter.spindle) else { continue };
        let stays = sitters.get(at).map(|sitter| &*sitter.stays).unwrap_or_default();
        let day = calendar.number_of(row.at.date);
        let owner = match stays.iter().find(|stay| stay.covers(day)).map(|stay| stay.position) {
            Some(position) if metered.contains_key(&position) => MeterOwner::Position(position),
            // on the bench nothing says whose meter was read where others have counted for it
            None if stays.iter().any(|stay| metered.contains_key(&stay.position)) => continue,
            _ => MeterOwner::Spindle(row.spindle),
        };
        carried.entry(owner).or_default().push(row);
    }
    carried
}

/// Where meters are made whole, one after the other.
struct Workshop<'c> {
    calendar: &'c WorkingCalendar,
    hours: Steady,
    cycles: Steady,
}

impl<'c> Workshop<'c> {
    fn new(calendar: &'c WorkingCalendar) -> Self {
        Self { calendar, hours: Steady::new(MOST_HOURS_PER_DAY), cycles: Steady::new(MOST_CYCLES_PER_DAY) }
    }

    /// The meter of these rows, and of readings of the force that show it as well.
    fn meter(&mut self, stays: Arc<[Stay]>, rows: &[MeterRow], more: &[&ReadingRow]) -> Meter {
        let [hours, cycles] = if more.is_empty() { self.steady(&stays, rows) } else { [None, None] };
        let work = |day| work_of(&stays, self.calendar, day);
        let hours = hours.unwrap_or_else(|| {
            let shown = rows.iter().filter_map(|row| self.shown(row, row.run_hours?.get()));
            let carried = more.iter().filter_map(|row| self.carried(row, row.run_hours?.get()));
            Counter::of(shown.chain(carried).collect(), work, MOST_HOURS_PER_DAY)
        });
        let cycles = cycles.unwrap_or_else(|| {
            let shown = rows.iter().filter_map(|row| self.shown(row, row.clamp_cycles?.get()));
            let carried = more.iter().filter_map(|row| self.carried(row, row.clamp_cycles?.get()));
            Counter::of(shown.chain(carried).collect(), work, MOST_CYCLES_PER_DAY)
        });
        Meter { hours, cycles, stays }
    }

    /// Both counters where their figures simply go on: the rows are gone through once.
    fn steady(&mut self, stays: &[Stay], rows: &[MeterRow]) -> [Option<Counter>; 2] {
        for row in rows {
            let (day, replaced) = (self.calendar.number_of(row.at.date), row.meter_replaced);
            let work = work_of(stays, self.calendar, day);
            if let Some(hours) = row.run_hours {
                self.hours.take(Shown { day, value: hours.get(), replaced }, work);
            }
            if let Some(cycles) = row.clamp_cycles {
                self.cycles.take(Shown { day, value: cycles.get(), replaced }, work);
            }
        }
        [self.hours.ended(), self.cycles.ended()]
    }

    fn shown(&self, row: &MeterRow, value: f64) -> Option<Shown> {
        Some(Shown { day: self.calendar.number_of(row.at.date), value, replaced: row.meter_replaced })
    }

    fn carried(&self, row: &ReadingRow, value: f64) -> Option<Shown> {
        Some(Shown { day: self.calendar.number_of(row.at.date), value, replaced: false })
    }
}
