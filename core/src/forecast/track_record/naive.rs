//! The naive line: least squares through the readings of the stretch by run hours.
//!
//! What a spreadsheet would do; the forecast must beat it. With fewer than two readings at different
//! hours it runs through their mean with the median slope of all stretches of the shop, level where
//! there is none.

use super::targets::{Force, forces};
use crate::calendar::WorkingCalendar;
use crate::exposure::usage::median;
use crate::exposure::{ExposureBook, SpindleExposure};
use crate::shop::Shop;
use chrono::NaiveDate;

/// A straight line through points (run hours, percent of nominal).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    hours: f64,
    percent: f64,
    /// Percent of nominal per run hour; `None` where all points have the same hours.
    slope: Option<f64>,
}

impl Line {
    /// By least squares; `None` without points.
    fn through(points: &[(f64, f64)]) -> Option<Self> {
        if points.is_empty() {
            return None;
        }
        let count = points.len() as f64;
        let hours = points.iter().map(|(k, _)| k).sum::<f64>() / count;
        let percent = points.iter().map(|(_, y)| y).sum::<f64>() / count;
        let square: f64 = points.iter().map(|(k, _)| (k - hours).powi(2)).sum();
        let product: f64 = points.iter().map(|(k, y)| (k - hours) * (y - percent)).sum();
        Some(Self { hours, percent, slope: (square > 0.0).then(|| product / square) })
    }
}

/// The median slope of all stretches of a shop, as known on the day of the book, in percent of
/// nominal per run hour; `None` where no stretch has two readings at different hours.
pub(super) fn median_slope(known: &Shop, book: &ExposureBook) -> Option<f64> {
    let mut slopes = Vec::new();
    for (id, exposure) in &book.spindles {
        let Some(spindle) = known.spindles.get(id) else { continue };
        let (forces, _) = forces(known, *id, &known.limits_of(spindle));
        for stretch in forces.chunk_by(|a, b| a.stretch == b.stretch) {
            slopes.extend(Line::through(&points(stretch, exposure, &book.calendar)).and_then(|line| line.slope));
        }
    }
    median(&mut slopes)
}

fn points(forces: &[Force<'_>], exposure: &SpindleExposure, calendar: &WorkingCalendar) -> Vec<(f64, f64)> {
    forces.iter().map(|force| (exposure.clock.at(calendar, force.reading.at.date), force.percent)).collect()
}

/// The naive line of one spindle from one day.
#[derive(Debug, Clone, Copy)]
pub(super) struct NaiveLine<'a> {
    exposure: &'a SpindleExposure,
    calendar: &'a WorkingCalendar,
    as_of: NaiveDate,
    hours: f64,
    percent: f64,
    slope: f64,
}

impl<'a> NaiveLine<'a> {
    /// Through these readings of the stretch that runs; `None` without any.
    pub(super) fn of(
        stretch: &[Force<'_>],
        exposure: &'a SpindleExposure,
        calendar: &'a WorkingCalendar,
        as_of: NaiveDate,
        usual_slope: Option<f64>,
    ) -> Option<Self> {
        let Line { hours, percent, slope } = Line::through(&points(stretch, exposure, calendar))?;
        let slope = slope.or(usual_slope).unwrap_or(0.0);
        Some(Self { exposure, calendar, as_of, hours, percent, slope })
    }

    fn at_hours(&self, hours: f64) -> f64 {
        self.percent + self.slope * (hours - self.hours)
    }

    /// Percent of nominal on a day.
    pub(super) fn at(&self, day: NaiveDate) -> f64 {
        self.at_hours(self.exposure.clock.at(self.calendar, day))
    }

    /// The day on which it is at a limit, today where it is there already; `None` where it never is
    /// or only beyond the calendar.
    pub(super) fn crossing(&self, limit: f64) -> Option<NaiveDate> {
        let now = self.at(self.as_of);
        if now <= limit {
            return Some(self.as_of);
        }
        let clock = &self.exposure.clock;
        if self.slope >= 0.0 || !clock.runs() {
            return None;
        }
        let hours = clock.at(self.calendar, self.as_of) + (now - limit) / -self.slope;
        clock.day_of(self.calendar, hours, clock.usage().per_day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_by_hand() {
        // hours 0 100 200, percent 96 91 88: mean 100 and 91 2/3; Sxx 20,000, Sxy -800
        let line = Line::through(&[(0.0, 96.0), (100.0, 91.0), (200.0, 88.0)]).unwrap();
        assert!((line.slope.unwrap() + 0.04).abs() < 1e-12);
        assert!((line.percent - 275.0 / 3.0).abs() < 1e-12);
        let level = Line::through(&[(50.0, 90.0), (50.0, 92.0)]).unwrap();
        assert_eq!((level.percent, level.slope), (91.0, None));
        assert_eq!(Line::through(&[]), None);
    }
}
