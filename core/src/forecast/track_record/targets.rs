//! What there is to forecast in the past of one spindle.

use super::{LEAD_DAYS, LEAST_DAYS_BETWEEN, days_before};
use crate::calendar::WorkingCalendar;
use crate::exposure::{ExposureBook, Track, UsualUsage};
use crate::forecast::history::in_order;
use crate::ids::{ReadingId, SpindleId};
use crate::limits::Limits;
use crate::reading::{Phase, Reading};
use crate::shop::Shop;
use crate::units::Quantity;
use chrono::{Days, NaiveDate};

/// A reading to be forecast.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ReadingTarget {
    pub(super) id: ReadingId,
    pub(super) day: NaiveDate,
    /// The day before.
    pub(super) from: NaiveDate,
    pub(super) phase: Phase,
    /// Percent of nominal.
    pub(super) strokes: Vec<f64>,
}

/// A crossing to be forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct CrossingTarget {
    /// Last reading that was not under the limit.
    pub(super) after: NaiveDate,
    /// First one under it.
    pub(super) by: NaiveDate,
    pub(super) day: NaiveDate,
    pub(super) from: NaiveDate,
}

/// All of one spindle.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Targets {
    pub(super) readings: Vec<ReadingTarget>,
    pub(super) crossings: Vec<CrossingTarget>,
    pub(super) doubted: usize,
    pub(super) too_soon: usize,
}

/// A force reading in the stretch between two services to which it belongs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Force<'a> {
    pub(super) reading: &'a Reading,
    /// Services before it.
    pub(super) stretch: usize,
    /// Mean of the strokes, percent of nominal.
    pub(super) percent: f64,
}

/// The force readings of a spindle that nobody doubts, oldest first, and its services by day. On the
/// day of a service only what was read as left belongs to the new stretch.
pub(super) fn forces<'a>(shop: &'a Shop, id: SpindleId, limits: &Limits) -> (Vec<Force<'a>>, Vec<NaiveDate>) {
    let mut services: Vec<NaiveDate> = shop.services_of(id).iter().map(|row| row.at.date).collect();
    services.sort_unstable();
    services.dedup();
    let nominal = limits.nominal_force.value.get();
    let forces = in_order(shop, id)
        .into_iter()
        .filter(|(_, reading)| reading.quantity() == Quantity::ClampForce && reading.doubt.is_none())
        .map(|(_, reading)| {
            let day = reading.at.date;
            let stretch = services.partition_point(|s| *s < day || (*s == day && reading.phase == Phase::AsLeft));
            Force { reading, stretch, percent: 100.0 * reading.mean_base() / nominal }
        })
        .filter(|force| force.percent.is_finite())
        .collect();
    (forces, services)
}

impl Targets {
    /// What a part of a shop holds for a spindle, as known on a day.
    pub(super) fn of(part: &Shop, id: SpindleId, as_of: NaiveDate, usual: &UsualUsage) -> Self {
        let known = part.known_on(as_of);
        let mut targets = Self::default();
        let Some(spindle) = known.spindles.get(&id) else { return targets };
        let limits = known.limits_of(spindle);
        targets.add_readings(&known, id, &limits);
        let (forces, services) = forces(&known, id, &limits);
        let limit = limits.service_limit.value.get();
        if forces.windows(2).any(|pair| is_crossing(pair, limit)) {
            let book = ExposureBook::of_spindle(&known, as_of, 0, id, usual);
            if let Some(exposure) = book.spindles.get(&id) {
                let first = spindle.installed_on.into_iter().chain(exposure.first_record).min().unwrap_or(as_of);
                targets.add_crossings(&forces, &services, (first, limit), &exposure.clock, &book.calendar);
            }
        }
        targets
    }

    /// The days from which anything is forecast.
    pub(super) fn origins(&self) -> impl Iterator<Item = NaiveDate> + '_ {
        self.readings.iter().map(|target| target.from).chain(self.crossings.iter().map(|target| target.from))
    }

    fn add_readings(&mut self, known: &Shop, id: SpindleId, limits: &Limits) {
        let nominal = limits.nominal_force.value.get();
        let mut before: Option<NaiveDate> = None;
        for (reading_id, reading) in in_order(known, id) {
            if reading.quantity() != Quantity::ClampForce {
                continue;
            }
            let day = reading.at.date;
            let is_due = before.is_some_and(|before| (day - before).num_days() >= LEAST_DAYS_BETWEEN);
            before = Some(day);
            if !is_due || reading.phase == Phase::AsLeft {
                continue;
            }
            if reading.doubt.is_some() {
                self.doubted += 1;
                continue;
            }
            let strokes = reading.strokes.iter().map(|stroke| 100.0 * stroke.base / nominal);
            self.readings.push(ReadingTarget {
                id: reading_id,
                day,
                from: days_before(day, 1),
                phase: reading.phase,
                strokes: strokes.filter(|percent| percent.is_finite()).collect(),
            });
        }
    }

    fn add_crossings(
        &mut self,
        forces: &[Force<'_>],
        services: &[NaiveDate],
        (first, limit): (NaiveDate, f64),
        clock: &Track,
        calendar: &WorkingCalendar,
    ) {
        let mut last_stretch = None;
        for pair in forces.windows(2) {
            let [above, under] = pair else { continue };
            if !is_crossing(pair, limit) || last_stretch == Some(above.stretch) {
                continue;
            }
            last_stretch = Some(above.stretch);
            let (after, by) = (above.reading.at.date, under.reading.at.date);
            let share = (above.percent - limit) / (above.percent - under.percent);
            let day = day_between(after, by, share, clock, calendar);
            let from = days_before(day, LEAD_DAYS);
            let began = above.stretch.checked_sub(1).and_then(|index| services.get(index)).copied().unwrap_or(first);
            if from < began {
                self.too_soon += 1;
            } else {
                self.crossings.push(CrossingTarget { after, by, day, from });
            }
        }
    }
}

/// Under the limit after not under it, with no service between.
fn is_crossing(pair: &[Force<'_>], limit: f64) -> bool {
    let [above, under] = pair else { return false };
    above.stretch == under.stretch && above.percent >= limit && under.percent < limit
}

/// The day by which a share of the exposure between two days was made; of the days where there was
/// no exposure.
fn day_between(after: NaiveDate, by: NaiveDate, share: f64, clock: &Track, calendar: &WorkingCalendar) -> NaiveDate {
    let (from, to) = (clock.at(calendar, after), clock.at(calendar, by));
    let by_days = || {
        let days = (by - after).num_days().max(0) as f64 * share;
        after.checked_add_days(Days::new(days.floor() as u64)).unwrap_or(by)
    };
    let day = if to > from {
        let wanted = from + share * (to - from);
        clock.day_of(calendar, wanted, clock.usage().per_day).unwrap_or_else(by_days)
    } else {
        by_days()
    };
    day.clamp(after, by)
}
