//! The fixed intervals: calendar, run hours, clamp cycles, counted from the last service.

use super::GoverningLimit;
use super::ahead::DaysAhead;
use crate::calendar::WorkingCalendar;
use crate::exposure::{SpindleExposure, Track};
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

impl IntervalEnds {
    /// The intervals counted from `start`; `safe` is the standard normal quantile of one less the
    /// accepted risk. What lies beyond the horizon has no date.
    pub(super) fn of(
        limits: &Limits,
        exposure: &SpindleExposure,
        calendar: &WorkingCalendar,
        days: &DaysAhead,
        start: NaiveDate,
        safe: f64,
    ) -> Self {
        let by_calendar = limits.every_months.as_ref().and_then(|months| {
            let day = start.checked_add_months(Months::new(months.value))?;
            Some(IntervalEnd { day, expected: Some(day), is_over: day < days.as_of })
        });
        let by = |track: Option<&Track>, interval: Option<f64>| {
            let (track, interval) = (track?, interval?);
            let sum = track.at(calendar, start) + interval;
            let usage = track.usage();
            let is_over = sum <= track.at(calendar, days.as_of);
            let fast = usage.per_day * (safe * usage.relative_sd).exp();
            let day = track.day_of(calendar, sum, fast)?;
            Some(IntervalEnd { day, expected: track.day_of(calendar, sum, usage.per_day), is_over })
        };
        let within = |end: &IntervalEnd| end.day <= days.last();
        Self {
            calendar: by_calendar.filter(within),
            run_hours: by(exposure.hours.as_ref(), limits.every_hours.as_ref().map(|v| v.value.get())).filter(within),
            clamp_cycles: by(exposure.cycles.as_ref(), limits.every_cycles.as_ref().map(|v| v.value.get()))
                .filter(within),
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
