//! From meter readings to cumulative exposure.

use super::working_days::WorkingDays;
use std::collections::BTreeMap;

/// What a meter showed on a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Day number.
    pub day: i64,
    /// The figure.
    pub value: f64,
    /// First reading of a new meter.
    pub is_new_meter: bool,
}

/// Cumulative exposure at the days on which a meter was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Day numbers, ascending.
    pub days: Vec<f64>,
    /// Exposure since the first of them.
    pub sums: Vec<f64>,
    /// Working days that the meter ran through by then, from any origin.
    pub work: Vec<f64>,
}

/// A fall of more than this starts a new meter.
const FALL: f64 = 0.5;

impl Curve {
    /// The curve of meter readings in any order. Of one day the larger figure counts; a fall or the
    /// flag starts a new meter, the unseen part is filled at the mean rate so far (at least what the
    /// new meter shows, where nothing says that it is new).
    #[must_use]
    pub fn new(readings: impl Iterator<Item = Shown>, calendar: &WorkingDays) -> Self {
        let mut by_day: BTreeMap<i64, (f64, bool)> = BTreeMap::new();
        for shown in readings {
            let new = shown.is_new_meter;
            let entry = match by_day.get(&shown.day) {
                None => (shown.value, new),
                Some((value, false)) if !new => (shown.value.max(*value), false),
                Some(_) if new => (shown.value, true),
                Some(old) => (old.0, true),
            };
            by_day.insert(shown.day, entry);
        }
        let mut curve = Self::default();
        let (mut sum, mut seen, mut seen_work) = (0.0, 0.0, 0.0);
        let mut before: Option<(f64, f64)> = None;
        for (day, (value, new)) in by_day {
            let day = day as f64;
            if let Some((last_day, last_value)) = before {
                let mut gain: f64 = value - last_value;
                let work = calendar.until(day) - calendar.until(last_day);
                if new || gain < -FALL {
                    let filled: f64 = if seen_work > 0.0 { seen / seen_work * work } else { 0.0 };
                    gain = filled.max(0.0).max(if new { 0.0 } else { value });
                } else {
                    gain = gain.max(0.0);
                    seen += gain;
                    seen_work += work;
                }
                sum += gain;
            }
            before = Some((day, value));
            curve.days.push(day);
            curve.work.push(calendar.until(day));
            curve.sums.push(sum);
        }
        curve
    }

    /// Exposure at a day: with working days between meter readings, at `rate` beyond them.
    #[must_use]
    pub fn at(&self, calendar: &WorkingDays, t: f64, rate: f64) -> f64 {
        let (Some(first), Some(last)) = (self.days.first(), self.days.last()) else {
            return rate * calendar.until(t);
        };
        let end = self.sums.last().copied().unwrap_or(0.0);
        if t >= *last {
            return end + rate * (calendar.until(t) - calendar.until(*last));
        }
        let start = self.sums.first().copied().unwrap_or(0.0);
        if t <= *first {
            return start - rate * (calendar.until(*first) - calendar.until(t));
        }
        let i = self.days.partition_point(|day| *day <= t) - 1;
        let (a0, a1) = (calendar.until(self.days[i]), calendar.until(self.days[i + 1]));
        let share = if a1 > a0 { (calendar.until(t) - a0) / (a1 - a0) } else { 0.0 };
        self.sums[i] + share * (self.sums[i + 1] - self.sums[i])
    }

    /// Its long-run rate per working day; `None` under so many working days.
    #[must_use]
    pub fn long_run_rate(&self, least_work: f64) -> Option<f64> {
        let work = self.work.last()? - self.work.first()?;
        (work >= least_work).then(|| (self.sums.last().copied().unwrap_or(0.0) - self.sums[0]) / work)
    }
}
