//! The working calendar of a shop: the one place that knows weekends and closures.

use crate::closure::Closure;
use chrono::{Datelike as _, Days, NaiveDate};

/// Running sum of working days over a span of dates, so that any distance is one subtraction.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkingCalendar {
    first: NaiveDate,
    /// The first day as a number.
    origin: i32,
    /// `sums[i]`: weight of all days from `first` up to, not including, day i.
    sums: Vec<f64>,
}

impl WorkingCalendar {
    /// The calendar from the first to the last day (both included) with weekday shares, Monday
    /// first; days of a closure weigh nothing.
    #[must_use]
    pub fn new(first: NaiveDate, last: NaiveDate, weekday_weights: &[f64; 7], closures: &[Closure]) -> Self {
        let days = (last - first).num_days().max(0) as usize + 1;
        let mut weights: Vec<f64> = (0..days)
            .map(|i| {
                let weekday = (first.weekday().num_days_from_monday() as usize + i) % 7;
                weekday_weights.get(weekday).copied().unwrap_or(0.0)
            })
            .collect();
        for closure in closures {
            let from = (closure.days.first - first).num_days().max(0);
            let to = (closure.days.last - first).num_days();
            for index in from..=to {
                if let Some(weight) = weights.get_mut(index as usize) {
                    *weight = 0.0;
                }
            }
        }
        let mut sums = Vec::with_capacity(days + 1);
        let mut sum = 0.0;
        sums.push(sum);
        for weight in weights {
            sum += weight;
            sums.push(sum);
        }
        Self { first, origin: first.num_days_from_ce(), sums }
    }

    /// First day of the calendar.
    #[must_use]
    pub const fn first(&self) -> NaiveDate {
        self.first
    }

    /// First day after its end.
    #[must_use]
    pub fn end(&self) -> NaiveDate {
        self.first.checked_add_days(Days::new(self.sums.len() as u64 - 1)).unwrap_or(NaiveDate::MAX)
    }

    /// A day as a number, counted from the first day of the calendar; below 0 before it.
    #[must_use]
    pub fn number_of(&self, day: NaiveDate) -> i32 {
        day.num_days_from_ce() - self.origin
    }

    /// The day of a number; `None` beyond what a date can say.
    #[must_use]
    pub fn date_of(&self, number: i32) -> Option<NaiveDate> {
        NaiveDate::from_num_days_from_ce_opt(self.origin.checked_add(number)?)
    }

    /// Working days from the calendar's first day up to, not including, that day; days outside
    /// count like the nearest edge.
    #[must_use]
    pub fn until(&self, day: NaiveDate) -> f64 {
        self.until_number(self.number_of(day))
    }

    /// The same of a day by its number.
    #[must_use]
    pub fn until_number(&self, number: i32) -> f64 {
        let index = number.clamp(0, self.sums.len() as i32 - 1);
        self.sums.get(index as usize).copied().unwrap_or(0.0)
    }

    /// Working days up to each day, from the first one on; one more than there are days.
    #[must_use]
    pub fn sums(&self) -> &[f64] {
        &self.sums
    }

    /// Working days from one day up to, not including, another.
    #[must_use]
    pub fn between(&self, from: NaiveDate, to: NaiveDate) -> f64 {
        self.until(to) - self.until(from)
    }

    /// The share of an ordinary working day that a day has.
    #[must_use]
    pub fn weight(&self, day: NaiveDate) -> f64 {
        day.succ_opt().map_or(0.0, |next| self.between(day, next))
    }

    /// The first day by whose end so many working days, counted from the start of `from`, have
    /// passed; `None` where that lies beyond the calendar.
    #[must_use]
    pub fn day_after(&self, from: NaiveDate, working_days: f64) -> Option<NaiveDate> {
        let wanted = self.until(from) + working_days.max(0.0);
        let after = self.sums.partition_point(|sum| *sum < wanted - 1e-9);
        if after >= self.sums.len() {
            return None;
        }
        let day = self.first.checked_add_days(Days::new(after.saturating_sub(1) as u64))?;
        Some(day.max(from))
    }
}
