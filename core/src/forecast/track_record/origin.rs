//! One spindle looked at from one past day.

use super::quarters::Known;
use crate::exposure::ExposureBook;
use crate::forecast::ForecastConfig;
use crate::forecast::fits::InterfaceFit;
use crate::forecast::model::filter::{Event, Filter};
use crate::forecast::model::observed::{Built, build};
use crate::forecast::model::spindle::{Asked, limit_forecast};
use crate::forecast::model::strokes::summarise;
use crate::forecast::naive::{NaiveLine, naive_line_or};
use crate::forecast::observe::{DayNumbers, observe};
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::units::Percent;
use chrono::NaiveDate;

/// All that was known of a spindle on a day.
pub(super) struct Origin {
    known: Shop,
    book: ExposureBook,
    days: DayNumbers,
    taught: Known,
    id: SpindleId,
    day: NaiveDate,
}

/// A reading as forecast, in percent of nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ForecastReading {
    /// What was read in fact, its strokes summarised.
    pub(super) read: f64,
    pub(super) mean: f64,
    /// The gauge included.
    pub(super) sd: f64,
}

impl Origin {
    /// From everything that a shop ever recorded.
    pub(super) fn of(shop: &Shop, id: SpindleId, day: NaiveDate, taught: Known, horizon_days: u32) -> Self {
        let known = shop.known_of(id, day);
        let book = ExposureBook::of_spindle(&known, day, horizon_days, id, &taught.usual);
        let days = DayNumbers::of(&book);
        Self { known, book, days, taught, id, day }
    }

    fn fit(&self) -> Option<&InterfaceFit> {
        Some(self.taught.fits.of(&self.known.spindles.get(&self.id)?.interface))
    }

    /// The state of the spindle at the start of the day, its exposure, and whether it runs.
    fn state<'f>(&self, fit: &'f InterfaceFit) -> Option<(Filter<'f>, Built, bool)> {
        let observed = observe(&self.known, &self.book, &self.days, self.id, fit.cycles_per_hour)?;
        let usage = self.taught.fits.usage.of(fit.counting.clock);
        let as_of = self.days.of_day(self.day);
        let built = build(&observed, &self.days.working, &fit.counting, as_of, fit.parameters.ss, usage);
        Some((Filter::new(&fit.parameters, observed.known_start).run(&built.events), built, observed.runs))
    }

    /// What a reading of these strokes will show on a day to come.
    pub(super) fn reading(&self, on: NaiveDate, strokes: &[f64]) -> Option<ForecastReading> {
        let fit = self.fit()?;
        let (mut filter, built, runs) = self.state(fit)?;
        let read = summarise(strokes, 100.0, fit.parameters.ss)?;
        let work = self.book.calendar.between(self.day, on);
        let ahead = if runs { built.usage * work } else { 0.0 };
        filter.apply(&Event::Move { from: built.since_service, to: built.since_service + ahead });
        // exposure that no meter has shown is as unsure as the usage
        let unread = (filter.mean[1] * (built.unread + ahead)).powi(2) * built.usage_variance;
        let variance = filter.covariance[0][0] + unread + filter.reading_variance(read.count);
        Some(ForecastReading { read: read.percent, mean: filter.mean[0], sd: variance.sqrt() })
    }

    fn service_limit(&self) -> Option<Percent> {
        let spindle = self.known.spindles.get(&self.id)?;
        Some(self.known.limits_of(spindle).service_limit.value)
    }

    /// The day by which the accepted risk of having crossed the service limit is used up; the day
    /// itself where it is so already.
    pub(super) fn service_by(&self, config: &ForecastConfig) -> Option<NaiveDate> {
        let fit = self.fit()?;
        let (filter, built, runs) = self.state(fit)?;
        if !runs {
            return None;
        }
        let asked = Asked { as_of: self.days.of_day(self.day), horizon_days: i64::from(config.horizon_days) };
        let law =
            limit_forecast(&fit.parameters, &filter, &built, &self.days.working, asked, self.service_limit()?.get());
        self.days.day_of(law.quantile(config.accepted_risk)?)
    }

    /// What the naive line gives for a day; `None` without a reading since the last service.
    pub(super) fn naive(&self, on: NaiveDate) -> Option<Percent> {
        Some(self.naive_line()?.force_on(on))
    }

    /// The day on which the naive line falls under the service limit; the day itself where it is
    /// there already.
    pub(super) fn naive_crossing(&self) -> Option<NaiveDate> {
        let (line, limit) = (self.naive_line()?, self.service_limit()?);
        if line.force_on(self.day) <= limit {
            return Some(self.day);
        }
        line.crosses(limit).map(|day| day.max(self.day))
    }

    /// With the median slope of the shop where the spindle has none, level where nobody has.
    fn naive_line(&self) -> Option<NaiveLine<'_>> {
        naive_line_or(&self.known, &self.book, self.id, Some(self.taught.slope.unwrap_or(0.0)))
    }
}
