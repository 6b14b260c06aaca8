//! The fixed intervals: calendar, run hours, clamp cycles, counted from the last service.

use super::GoverningLimit;
use super::full::ClockUsage;
use crate::calendar::WorkingCalendar;
use crate::exposure::{Pace, Track};
use crate::limits::Limits;
use chrono::{Months, NaiveDate};

/// When an interval ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct IntervalEnd {
    /// The day by which the accepted risk of having reached it is used up; may lie in the past.
    pub(super) day: NaiveDate,
    /// The day on which it is expected to end.
    pub(super) expected: Option<NaiveDate>,
    pub(super) is_over: bool,
}

/// The ends of the intervals in force.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct IntervalEnds {
    pub(super) calendar: Option<IntervalEnd>,
    pub(super) run_hours: Option<IntervalEnd>,
    pub(super) clamp_cycles: Option<IntervalEnd>,
}

/// A spindle's own sum with the usage by which it goes on.
#[derive(Debug, Clone)]
pub(super) struct Counted {
    pub(super) track: Track,
    pub(super) usage: ClockUsage,
}

/// From when to when intervals are looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span<'a> {
    pub(super) calendar: &'a WorkingCalendar,
    /// The day from which intervals count.
    pub(super) start: NaiveDate,
    pub(super) as_of: NaiveDate,
    /// Last day of the horizon.
    pub(super) last: NaiveDate,
}

/// Days of a year, by which the uncertainty of usage grows.
const DAYS_PER_YEAR: f64 = 365.0;

impl IntervalEnds {
    /// `safe` is the standard normal quantile of one less the accepted risk. What lies beyond the
    /// horizon has no date.
    ///
    /// Usage is lognormal; its variance at a distance T is what it is now and a third of the growth
    /// over T (0.1 to 3 years): the mean of a level that wanders from its present value on. The days
    /// since the meter was last read are as unsure as usage is now, whatever is planned: a plan
    /// begins on the as-of day.
    pub(super) fn of(
        limits: &Limits,
        hours: Option<&Counted>,
        cycles: Option<&Counted>,
        span: Span<'_>,
        safe: f64,
    ) -> Self {
        let by_calendar = limits.every_months.as_ref().and_then(|months| {
            let day = span.start.checked_add_months(Months::new(months.value))?;
            Some(IntervalEnd { day, expected: Some(day), is_over: day < span.as_of })
        });
        let by = |counted: Option<&Counted>, interval: Option<f64>| {
            let (Counted { track, usage }, interval) = (counted?, interval?);
            let sum = track.at(span.calendar, span.start) + interval;
            let is_over = sum <= track.at(span.calendar, span.as_of);
            let expected = track.day_of(span.calendar, sum);
            let years = expected.map_or(3.0, |day| (day - span.as_of).num_days() as f64 / DAYS_PER_YEAR);
            let growth = usage.growth * years.clamp(0.1, 3.0) / 3.0;
            let faster = |variance: f64| (safe * variance.sqrt()).exp();
            let pace = Pace { unread: faster(usage.variance), ahead: faster(usage.variance + growth) };
            let day = track.day_after_making(span.calendar, span.start, interval, pace)?;
            Some(IntervalEnd { day, expected, is_over })
        };
        let within = |end: &IntervalEnd| end.day <= span.last;
        Self {
            calendar: by_calendar.filter(within),
            run_hours: by(hours, limits.every_hours.as_ref().map(|v| v.value.get())).filter(within),
            clamp_cycles: by(cycles, limits.every_cycles.as_ref().map(|v| v.value.get())).filter(within),
        }
    }

    /// Those in force, with their names.
    pub(super) fn all(&self) -> impl Iterator<Item = (GoverningLimit, IntervalEnd)> {
        [
            (GoverningLimit::RunHours, self.run_hours),
            (GoverningLimit::ClampCycles, self.clamp_cycles),
            (GoverningLimit::Calendar, self.calendar),
        ]
        .into_iter()
        .filter_map(|(limit, end)| Some((limit, end?)))
    }
}
