//! The run hours or clamp cycles of one spindle over time.

use super::curve::{Curve, Knot};
use super::usage::Usage;
use crate::calendar::WorkingCalendar;
use chrono::{Datelike as _, NaiveDate};

/// A spindle's own sum over its mountings, from its first mounting into the future.
///
/// Cheap to clone: what meters tell is shared.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// What a meter or a mounting tells: days strictly ascending, sums at their start never falling.
    told: Curve,
    /// Sum at the as-of day, carried on from the last meter reading.
    carried: Option<Knot>,
    /// The day from which days are counted, as chrono numbers it.
    origin: i32,
    /// How it goes on.
    usage: Usage,
    /// Whether it goes on at all: mounted on the as-of day.
    runs: bool,
    /// Last day on which a meter was read.
    read_until: Option<NaiveDate>,
}

/// How much faster than it is taken to a sum goes on, as factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// From what a meter or a mounting tells to the as-of day.
    pub unread: f64,
    /// From the as-of day on.
    pub ahead: f64,
}

impl Pace {
    const AS_TAKEN: Self = Self { unread: 1.0, ahead: 1.0 };
}

/// The sums of a track as they are put together; used again for one track after the other.
pub(super) struct Knots<'c> {
    calendar: &'c WorkingCalendar,
    knots: Vec<Knot>,
}

impl<'c> Knots<'c> {
    pub(super) const fn new(calendar: &'c WorkingCalendar) -> Self {
        Self { calendar, knots: Vec::new() }
    }

    /// Puts those of the last track away.
    pub(super) fn begin(&mut self) {
        self.knots.clear();
    }

    /// The next one, which may be unsorted by a rounding error but not by more.
    pub(super) fn push(&mut self, day: i32, sum: f64) {
        let mut next = Knot { day: f64::from(day), sum, work: self.calendar.until_number(day) };
        if let Some(last) = self.knots.last_mut() {
            next.sum = last.sum.max(sum);
            if last.day == next.day {
                // a step on one day, such as a mounting change: the later sum counts
                *last = next;
                return;
            }
        }
        self.knots.push(next);
    }

    pub(super) fn is_empty(&self) -> bool {
        self.knots.is_empty()
    }

    /// The track through them.
    pub(super) fn track(&mut self, usage: Usage, runs: bool, read_until: Option<NaiveDate>) -> Track {
        Track::of(&mut self.knots, self.calendar.first().num_days_from_ce(), usage, runs, read_until)
    }
}

impl Track {
    fn of(knots: &mut Vec<Knot>, origin: i32, usage: Usage, runs: bool, read_until: Option<NaiveDate>) -> Self {
        let read = read_until.map(|day| f64::from(day.num_days_from_ce() - origin));
        let is_beyond = knots.last().is_some_and(|last| read.is_none_or(|read| read < last.day));
        let carried = if runs && is_beyond && knots.len() > 1 { knots.pop() } else { None };
        Self { told: Curve::through(knots), carried, origin, usage, runs, read_until }
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
    pub fn knots(&self) -> impl Iterator<Item = (NaiveDate, f64)> + '_ {
        self.told.knots().iter().chain(&self.carried).map(|knot| (self.date(knot.day), knot.sum))
    }

    /// Those that a meter or a mounting tells: not the sum that was carried on from the last meter
    /// reading to the as-of day. Days are counted from the first day of the calendar.
    #[must_use]
    pub const fn told(&self) -> &Curve {
        &self.told
    }

    fn date(&self, day: f64) -> NaiveDate {
        // it was made of a date
        NaiveDate::from_num_days_from_ce_opt(self.origin + day as i32).unwrap_or_default()
    }

    fn knot(&self, index: usize) -> Option<Knot> {
        if index == self.told.knots().len() { self.carried } else { self.told.knots().get(index).copied() }
    }

    /// The same track, carried on from what is told at `measured` a working day up to the as-of day
    /// and at `planned` from there on.
    #[must_use]
    pub fn carried_on(&self, calendar: &WorkingCalendar, as_of: NaiveDate, measured: f64, planned: f64) -> Self {
        let by = |per_day| Usage { per_day, ..self.usage };
        let told = Self { told: self.told.clone(), carried: None, usage: by(measured), ..*self };
        let day = f64::from(as_of.num_days_from_ce() - self.origin);
        let is_told = told.told.knots().last().is_none_or(|last| day <= last.day);
        let carried = (self.runs && !is_told).then(|| {
            let sum = told.at(calendar, as_of);
            Knot { day, sum, work: calendar.until(as_of) }
        });
        Self { carried, usage: by(planned), ..told }
    }

    /// Sum at the start of a day; before the first known day it is what it was then.
    #[must_use]
    pub fn at(&self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        let number = day.num_days_from_ce() - self.origin;
        let is_beyond = self.carried.is_some_and(|knot| knot.day <= f64::from(number));
        let after = self.told.up_to(number) + usize::from(is_beyond);
        let Some(before) = after.checked_sub(1).and_then(|before| self.knot(before)) else {
            return self.told.knots().first().map_or(0.0, |first| first.sum);
        };
        let passed = calendar.until(day) - before.work;
        match self.knot(after) {
            Some(after) => {
                let whole = after.work - before.work;
                let share = if whole > 0.0 { passed / whole } else { 0.0 };
                before.sum + (after.sum - before.sum) * share.clamp(0.0, 1.0)
            }
            None if self.runs => before.sum + self.usage.per_day * passed.max(0.0),
            None => before.sum,
        }
    }

    /// The day on which the sum is reached, past or future, as it is taken to go on; `None` where it
    /// never is or lies beyond the calendar.
    #[must_use]
    pub fn day_of(&self, calendar: &WorkingCalendar, sum: f64) -> Option<NaiveDate> {
        let after = self.told.knots().partition_point(|known| known.sum < sum);
        let Some(before) = after.checked_sub(1).and_then(|before| self.told.knots().get(before)) else {
            return self.knots().next().map(|(day, _)| day);
        };
        let Some(after) = self.told.knots().get(after) else {
            return self.beyond_told(calendar, *before, sum, Pace::AS_TAKEN);
        };
        let share = (sum - before.sum) / (after.sum - before.sum);
        let work = (after.work - before.work) * share.clamp(0.0, 1.0);
        calendar.day_after(self.date(before.day), work).map(|day| day.min(self.date(after.day)))
    }

    /// The day on which `made` more is reached than at the start of a day that is not ahead, at
    /// another pace than it is taken to go on at: what is told stays as it is.
    #[must_use]
    pub fn day_after_making(
        &self,
        calendar: &WorkingCalendar,
        from: NaiveDate,
        made: f64,
        pace: Pace,
    ) -> Option<NaiveDate> {
        let then = self.at(calendar, from);
        let last = *self.told.knots().last()?;
        if then + made <= last.sum {
            return self.day_of(calendar, then + made);
        }
        let day = f64::from(from.num_days_from_ce() - self.origin);
        let since = if last.day < day { Knot { day, sum: then, work: calendar.until(from) } } else { last };
        self.beyond_told(calendar, since, then + made, pace)
    }

    /// The day on which the sum is reached, counted from a day after which nothing is told.
    fn beyond_told(&self, calendar: &WorkingCalendar, since: Knot, sum: f64, pace: Pace) -> Option<NaiveDate> {
        if !self.runs {
            return None;
        }
        let (mut since, mut missing) = (since, sum - since.sum);
        if let Some(carried) = self.carried {
            let made = (carried.sum - since.sum) * pace.unread;
            if missing <= made {
                let work = (carried.work - since.work) * (missing / made).clamp(0.0, 1.0);
                return calendar.day_after(self.date(since.day), work).map(|day| day.min(self.date(carried.day)));
            }
            (since, missing) = (carried, missing - made);
        }
        let rate = self.usage.per_day * pace.ahead;
        if rate <= 0.0 {
            return None;
        }
        calendar.day_after(self.date(since.day), missing / rate)
    }

    /// The same track in another unit, `factor` of it in one of this.
    pub(super) fn scaled(&self, factor: f64) -> Self {
        let carried = self.carried.map(|knot| Knot { sum: knot.sum * factor, ..knot });
        let usage = Usage { per_day: self.usage.per_day * factor, ..self.usage };
        Self { told: self.told.scaled(factor), carried, usage, ..*self }
    }
}
