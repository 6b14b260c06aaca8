//! What a shop taught, quarter by quarter: the fit, and what is borrowed from other spindles.

use crate::exposure::{ExposureBook, UsualUsage};
use crate::forecast::fits::ShopFits;
use crate::forecast::naive::median_slope;
use crate::forecast::{Cancelled, Progress};
use crate::shop::Shop;
use chrono::{Datelike as _, NaiveDate};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What was known on the first day of a quarter, and the fit that counts on a day of it.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) fits: Arc<ShopFits>,
    /// Usage to borrow where no meter tells it.
    pub(super) usual: Arc<UsualUsage>,
    /// Median slope of all stretches, percent of nominal per 1,000 run hours; `None` without any.
    pub(super) slope: Option<f64>,
}

/// The fit of its own, the usual usage and the median slope on the first day of a quarter.
type Start = (Option<Arc<ShopFits>>, Arc<UsualUsage>, Option<f64>);

/// The quarters in which anything is forecast.
#[derive(Debug)]
pub(super) struct Quarters {
    /// By first day; a fit of its own only where a day needs one.
    starts: BTreeMap<NaiveDate, Start>,
    /// Kept fits by their day.
    kept: BTreeMap<NaiveDate, Arc<ShopFits>>,
}

/// The first day of the quarter in which a day lies.
pub(super) fn start_of_quarter(day: NaiveDate) -> NaiveDate {
    let month = (day.month0() / 3) * 3 + 1;
    NaiveDate::from_ymd_opt(day.year(), month, 1).unwrap_or(day)
}

/// What the spindles of a shop usually run, as known on a day.
pub(super) fn usual_usage(known: &Shop, day: NaiveDate) -> UsualUsage {
    ExposureBook::of(known, day, 0).usual
}

impl Quarters {
    /// What is needed to forecast from these days.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub(super) fn of(
        shop: &Shop,
        days: impl Iterator<Item = NaiveDate>,
        kept: &[Arc<ShopFits>],
        progress: &dyn Progress,
    ) -> Result<Self, Cancelled> {
        let kept: BTreeMap<NaiveDate, Arc<ShopFits>> =
            kept.iter().map(|fits| (fits.fitted_on, Arc::clone(fits))).collect();
        let mut needed: BTreeMap<NaiveDate, bool> = BTreeMap::new();
        for day in days.collect::<BTreeSet<NaiveDate>>() {
            let start = start_of_quarter(day);
            let has_kept = kept.range(start..=day).next().is_some();
            *needed.entry(start).or_default() |= !has_kept;
        }
        let mut starts = BTreeMap::new();
        let total = needed.len();
        for (done, (start, needs_fit)) in needed.into_iter().enumerate() {
            if !progress.step(done, total) {
                return Err(Cancelled);
            }
            let known = shop.known_on(start);
            let book = ExposureBook::of(&known, start, 0);
            let inner = Within { progress, done, total };
            let fits = if needs_fit { Some(Arc::new(ShopFits::fit(&known, start, &inner)?)) } else { None };
            let slope = median_slope(&known, &book);
            starts.insert(start, (fits, Arc::new(book.usual), slope));
        }
        Ok(Self { starts, kept })
    }

    /// What counts on a day; `None` for a day that was not announced.
    pub(super) fn on(&self, day: NaiveDate) -> Option<Known> {
        let start = start_of_quarter(day);
        let (fits, usual, slope) = self.starts.get(&start)?;
        let newest = self.kept.range(start..=day).next_back().map(|(_, fits)| fits);
        let fits = newest.or(fits.as_ref())?;
        Some(Known { fits: Arc::clone(fits), usual: Arc::clone(usual), slope: *slope })
    }
}

/// Steps of one fit: they may stop it, but do not count on.
struct Within<'a> {
    progress: &'a dyn Progress,
    done: usize,
    total: usize,
}

impl Progress for Within<'_> {
    fn step(&self, _done: usize, _total: usize) -> bool {
        self.progress.step(self.done, self.total)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarters_begin_in_january_april_july_and_october() {
        let day = |text| crate::moment::parse_iso_date(text).unwrap();
        for (of, start) in [
            ("2026-01-01", "2026-01-01"),
            ("2026-03-31", "2026-01-01"),
            ("2026-04-01", "2026-04-01"),
            ("2025-12-31", "2025-10-01"),
        ] {
            assert_eq!(start_of_quarter(day(of)), day(start));
        }
    }
}
