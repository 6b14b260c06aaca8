//! The run hours or clamp cycles of one spindle over time.

use super::usage::Usage;
use crate::calendar::WorkingCalendar;
use chrono::NaiveDate;

/// A spindle's own sum over its mountings, from its first mounting into the future.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Days at which the sum is known; strictly ascending.
    days: Vec<NaiveDate>,
    /// Sum at the start of these days, never falling.
    sums: Vec<f64>,
    /// How it goes on.
    usage: Usage,
    /// Whether it goes on at all: mounted on the as-of day.
    runs: bool,
    /// Last day on which a meter was read.
    read_until: Option<NaiveDate>,
}

impl Track {
    /// A track through these sums, which may come unsorted by a rounding error but not by more.
    pub(super) fn new(knots: Vec<(NaiveDate, f64)>, usage: Usage, runs: bool, read_until: Option<NaiveDate>) -> Self {
        let (mut days, mut sums) = (Vec::with_capacity(knots.len()), Vec::<f64>::with_capacity(knots.len()));
        for (day, sum) in knots {
            let sum = sums.last().map_or(sum, |last| last.max(sum));
            if days.last() == Some(&day) {
                // a step on one day, such as a mounting change: the later sum counts
                if let Some(last) = sums.last_mut() {
                    *last = sum;
                }
            } else {
                days.push(day);
                sums.push(sum);
            }
        }
        Self { days, sums, usage, runs, read_until }
    }

    /// How it goes on per working day; nothing while the spindle is not mounted.
    #[must_use]
    pub const fn usage(&self) -> Usage {
        self.usage
    }

    /// Whether it goes on: the spindle is mounted on the as-of day.
    #[must_use]
    pub const fn runs(&self) -> bool {
        self.runs
    }

    /// The last day on which a meter was read for it.
    #[must_use]
    pub const fn read_until(&self) -> Option<NaiveDate> {
        self.read_until
    }

    /// The days at which the sum is known, with it; ascending.
    pub fn knots(&self) -> impl ExactSizeIterator<Item = (NaiveDate, f64)> + '_ {
        self.days.iter().copied().zip(self.sums.iter().copied())
    }

    /// Those of [`Track::knots`] that a meter or a mounting tells: not the sum that was carried on
    /// from the last meter reading to the as-of day.
    pub fn told_knots(&self) -> impl ExactSizeIterator<Item = (NaiveDate, f64)> + '_ {
        self.knots().take(self.told())
    }

    /// How many knots are told.
    fn told(&self) -> usize {
        let is_carried_on = self.runs && self.days.last().is_some_and(|last| self.read_until.is_none_or(|r| r < *last));
        if is_carried_on && self.days.len() > 1 { self.days.len() - 1 } else { self.days.len() }
    }

    /// The same track, carried on from what is told at `measured` a working day up to the as-of day
    /// and at `planned` from there on.
    #[must_use]
    pub fn carried_on(&self, calendar: &WorkingCalendar, as_of: NaiveDate, measured: f64, planned: f64) -> Self {
        let told = self.told();
        let mut track = Self {
            days: self.days.get(..told).unwrap_or_default().to_vec(),
            sums: self.sums.get(..told).unwrap_or_default().to_vec(),
            usage: Usage { per_day: measured, ..self.usage },
            ..*self
        };
        if measured.to_bits() != planned.to_bits() && track.days.last().is_some_and(|last| *last < as_of) {
            track.sums.push(track.at(calendar, as_of));
            track.days.push(as_of);
            track.usage.per_day = planned;
        }
        track
    }

    /// Sum at the start of a day; before the first known day it is what it was then.
    #[must_use]
    pub fn at(&self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        let after = self.days.partition_point(|known| *known <= day);
        let Some(before) = after.checked_sub(1) else { return self.sums.first().copied().unwrap_or(0.0) };
        let (Some(day_before), Some(sum_before)) = (self.days.get(before), self.sums.get(before)) else { return 0.0 };
        match (self.days.get(after), self.sums.get(after)) {
            (Some(day_after), Some(sum_after)) => {
                let whole = calendar.between(*day_before, *day_after);
                let share = if whole > 0.0 { calendar.between(*day_before, day) / whole } else { 0.0 };
                sum_before + (sum_after - sum_before) * share.clamp(0.0, 1.0)
            }
            _ if self.runs => sum_before + self.usage.per_day * calendar.between(*day_before, day).max(0.0),
            _ => *sum_before,
        }
    }

    /// The day on which the sum is reached, past or future; `None` where it never is or lies
    /// beyond the calendar. `rate` is what a working day is taken to bring from now on.
    #[must_use]
    pub fn day_of(&self, calendar: &WorkingCalendar, sum: f64, rate: f64) -> Option<NaiveDate> {
        let after = self.sums.partition_point(|known| *known < sum);
        let Some(before) = after.checked_sub(1) else { return self.days.first().copied() };
        let (day_before, sum_before) = (*self.days.get(before)?, *self.sums.get(before)?);
        if let (Some(day_after), Some(sum_after)) = (self.days.get(after), self.sums.get(after)) {
            let share = (sum - sum_before) / (sum_after - sum_before);
            let work = calendar.between(day_before, *day_after) * share.clamp(0.0, 1.0);
            return calendar.day_after(day_before, work).map(|day| day.min(*day_after));
        }
        if !self.runs || rate <= 0.0 {
            return None;
        }
        calendar.day_after(day_before, (sum - sum_before) / rate)
    }

    /// The same track in another unit, `factor` of it in one of this.
    pub(super) fn scaled(&self, factor: f64) -> Self {
        let mut scaled = self.clone();
        for sum in &mut scaled.sums {
            *sum *= factor;
        }
        scaled.usage.per_day *= factor;
        scaled
    }
}
