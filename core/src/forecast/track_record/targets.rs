//! What there is to forecast in the past of one spindle.

use super::{LEAD_DAYS, LEAST_DAYS_BETWEEN, days_before};
use crate::calendar::WorkingCalendar;
use crate::exposure::{ExposureBook, Track, UsualUsage};
use crate::forecast::history::{History, InOrder, Point, Stretch, in_order};
use crate::ids::{ReadingId, SpindleId};
use crate::limits::Limits;
use crate::reading::Phase;
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

impl Targets {
    /// What a shop holds of a spindle, as known on a day ([`Shop::known_of`]).
    pub(super) fn of(known: &Shop, id: SpindleId, as_of: NaiveDate, usual: &UsualUsage) -> Self {
        let mut targets = Self::default();
        let Some(spindle) = known.spindles.get(&id) else { return targets };
        let limits = known.limits_of(spindle);
        targets.add_readings(known, id, &limits);
        let book = ExposureBook::of_spindle(known, as_of, 0, id, usual);
        if let Some(exposure) = book.spindles.get(&id) {
            let history = History::of(known, id, spindle, &limits, exposure, &book);
            let limit = limits.service_limit.value.get();
            for stretch in &history.stretches {
                targets.add_crossing(stretch, limit, &exposure.clock, &book.calendar);
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
        for InOrder { id: reading_id, reading, .. } in in_order(known, id) {
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

    /// The first crossing of a stretch, if there is one.
    fn add_crossing(&mut self, stretch: &Stretch, limit: f64, clock: &Track, calendar: &WorkingCalendar) {
        let points: Vec<&Point> = stretch.force.iter().filter(|point| !point.is_doubted).collect();
        let pairs = points.iter().zip(points.iter().skip(1));
        let Some((above, under)) = pairs.into_iter().find(|(a, b)| a.y >= limit && b.y < limit) else { return };
        let (after, by) = (above.day, under.day);
        let share = (above.y - limit) / (above.y - under.y);
        let day = day_between(after, by, share, clock, calendar);
        let from = days_before(day, LEAD_DAYS);
        if from < stretch.from {
            self.too_soon += 1;
        } else {
            self.crossings.push(CrossingTarget { after, by, day, from });
        }
    }
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
        clock.day_of(calendar, wanted).unwrap_or_else(by_days)
    } else {
        by_days()
    };
    day.clamp(after, by)
}
