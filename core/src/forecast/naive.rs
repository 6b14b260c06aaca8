//! The naive peer: a least-squares line through the readings of the interval that runs.
//!
//! What a spreadsheet would say, to be measured against: force over run hours (the wear clock of
//! the exposure), the spindle's median slope where the interval has fewer than two readings.
//! Nothing is weighed; readings that somebody doubted stay out.

use super::history::{History, Point, Stretch};
use super::least_squares::polynomial;
use crate::exposure::usage::median;
use crate::exposure::{ExposureBook, SpindleExposure};
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::units::Percent;
use chrono::NaiveDate;

/// A straight line of one spindle as known on a day.
#[derive(Debug, Clone, Copy)]
pub struct NaiveLine<'a> {
    book: &'a ExposureBook,
    exposure: &'a SpindleExposure,
    /// A point on it: wear clock in 1,000 run hours, percent of nominal.
    through: (f64, f64),
    /// Percent of nominal per 1,000 run hours.
    slope: f64,
}

/// The naive line of a spindle; `shop` as known on the as-of day of the book ([`Shop::known_on`]).
/// `None` without a reading since the last service, or where nothing tells a slope.
#[must_use]
pub fn naive_line<'a>(shop: &Shop, book: &'a ExposureBook, id: SpindleId) -> Option<NaiveLine<'a>> {
    naive_line_or(shop, book, id, None)
}

/// [`naive_line`] with a slope, percent of nominal per 1,000 run hours, to take where the spindle's
/// own readings tell none.
pub(super) fn naive_line_or<'a>(
    shop: &Shop,
    book: &'a ExposureBook,
    id: SpindleId,
    otherwise: Option<f64>,
) -> Option<NaiveLine<'a>> {
    let exposure = book.spindles.get(&id)?;
    let history = history_of(shop, book, id)?;
    let (current, earlier) = history.stretches.split_last()?;
    let points = counted(&current.force);
    let (through, slope) = match line_through(&points) {
        Some(line) => line,
        None => (*points.last()?, median(&mut slopes(earlier)).or(otherwise)?),
    };
    Some(NaiveLine { book, exposure, through, slope })
}

/// The median slope of all stretches of a shop, percent of nominal per 1,000 run hours; `None` where
/// none has readings enough.
pub(super) fn median_slope(shop: &Shop, book: &ExposureBook) -> Option<f64> {
    let histories = book.spindles.keys().filter_map(|id| history_of(shop, book, *id));
    median(&mut histories.flat_map(|history| slopes(&history.stretches)).collect::<Vec<f64>>())
}

fn history_of(shop: &Shop, book: &ExposureBook, id: SpindleId) -> Option<History> {
    let spindle = shop.spindles.get(&id)?;
    Some(History::of(shop, id, spindle, &shop.limits_of(spindle), book.spindles.get(&id)?, book))
}

fn slopes(stretches: &[Stretch]) -> Vec<f64> {
    stretches.iter().filter_map(|stretch| line_through(&counted(&stretch.force))).map(|(_, slope)| slope).collect()
}

fn counted(points: &[Point]) -> Vec<(f64, f64)> {
    points.iter().filter(|point| !point.is_doubted).map(|point| (point.k, point.y)).collect()
}

/// The least-squares line through points: its last abscissa with the line's level there, its slope.
fn line_through(points: &[(f64, f64)]) -> Option<((f64, f64), f64)> {
    let (k, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let last = *k.last()?;
    let slope = match points {
        [(k0, y0), (k1, y1)] => {
            let slope = (y1 - y0) / (k1 - k0);
            return slope.is_finite().then_some(((*k1, *y1), slope));
        }
        _ => polynomial(&k, &y, 1).ok()?,
    };
    let coefficient = *slope.coefficients.get(1)?;
    coefficient.is_finite().then(|| ((last, slope.at(last)), coefficient))
}

impl NaiveLine<'_> {
    fn at(&self, k: f64) -> f64 {
        let (k0, y0) = self.through;
        y0 + self.slope * (k - k0)
    }

    /// The force it predicts for a day, percent of nominal.
    #[must_use]
    pub fn force_on(&self, day: NaiveDate) -> Percent {
        Percent::new(self.at(self.exposure.clock.at(&self.book.calendar, day) / 1000.0)).unwrap_or_default()
    }

    /// The day on which it falls below a force, past or future; `None` where it never does.
    #[must_use]
    pub fn crosses(&self, limit: Percent) -> Option<NaiveDate> {
        if self.slope >= 0.0 {
            return None;
        }
        let (k0, y0) = self.through;
        let k = k0 + (limit.get() - y0) / self.slope;
        self.exposure.clock.day_of(&self.book.calendar, k.is_finite().then_some(k * 1000.0)?)
    }

    /// Loss in percent of nominal per 1,000 run hours.
    #[must_use]
    pub fn loss_per_1000_h(&self) -> Percent {
        Percent::new(-self.slope).unwrap_or_default()
    }
}
