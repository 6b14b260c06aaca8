//! The full model applied to one spindle of a shop: state, verdicts on its readings, and dates.

use super::fits::{InterfaceFit, ShopFits};
use super::model::filter::{Event, Filter};
use super::model::observed::{Built, Clock, Counting, Observed, build};
use super::model::out_table::OutTable;
use super::model::parameters::Parameters;
use super::model::setting_dimension::DimensionFilter;
use super::model::spindle::{Asked, LimitForecast, limit_forecasts, major_service};
use super::model::usage::usage_level;
use super::model::working_days::WorkingDays;
use super::observe::{DayNumbers, observe, observe_with_ids};
use super::spread::spread;
use super::trace::{ExposureOver, Trace};
use super::verdict::WeighedReading;
use super::{Cancelled, Crossing, ForecastConfig, PlannedUsage, Progress, QUANTILES};
use crate::exposure::ExposureBook;
use crate::ids::{ReadingId, SpindleId};
use crate::shop::Shop;
use crate::units::{ClampCycles, Percent, RunHours};
use chrono::NaiveDate;
use std::borrow::Cow;
use std::cell::OnceCell;

/// A shop as known on a day, ready for the full model.
#[derive(Debug, Clone)]
pub struct ModelBasis<'a> {
    shop: &'a Shop,
    fits: &'a ShopFits,
    book: Cow<'a, ExposureBook>,
    days: Cow<'a, DayNumbers>,
    config: ForecastConfig,
}

/// What the full model says of one spindle, in percent of nominal.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelForecast {
    /// Force now and its standard uncertainty.
    pub force_now: (Percent, Percent),
    /// When the service limit is crossed.
    pub service_limit: Crossing,
    /// When the stop limit is crossed.
    pub stop_limit: Crossing,
    /// When the setting dimension leaves its tolerance; `None` without a reading of it.
    pub setting_dimension: Option<Crossing>,
    /// The day by which the accepted risk of having crossed the service limit, or of having left
    /// the setting tolerance, is used up; both count as independent.
    pub risk_day: Option<NaiveDate>,
    /// What a minor service would give back.
    pub recoverable_loss: Percent,
    /// What it would not.
    pub lasting_loss: Percent,
    /// When a minor service will no longer do: 10 %, 50 %, 90 %.
    pub major_service_by: [Option<NaiveDate>; 3],
    /// Loss per 1,000 run hours in this interval and its standard uncertainty.
    pub loss_per_1000_h: (Percent, Percent),
    /// Run hours per working day, where they are the clock.
    pub hours_per_day: Option<RunHours>,
    /// Clamp cycles per working day, where they are the clock.
    pub cycles_per_day: Option<ClampCycles>,
    /// Every force reading as it was weighed, oldest first.
    pub readings: Vec<WeighedReading>,
}

/// Usage by one clock: the level and what is not known of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ClockUsage {
    /// Per working day, as the meters show.
    pub(super) measured: f64,
    /// Per working day from now on.
    pub(super) ahead: f64,
    /// Variance of its logarithm now.
    pub(super) variance: f64,
    /// Growth of that per year.
    pub(super) growth: f64,
}

/// Usage by both clocks.
#[derive(Debug, Clone)]
struct Usages {
    /// By the clock in which exposure is counted, as measured.
    own: ClockUsage,
    /// By the other one; worked out where it is asked for.
    other: OnceCell<ClockUsage>,
    /// What the usage ahead is of the measured one.
    factor: f64,
}

/// The setting dimension by the model, in tolerances.
#[derive(Debug, Clone)]
pub(super) struct SettingLaw {
    /// Deviation now and its standard uncertainty.
    pub(super) now: (f64, f64),
    /// Drift per reference interval.
    pub(super) drift: f64,
    /// Readings that fit nothing and were set aside.
    pub(super) set_aside: Vec<ReadingId>,
    /// Chance of having left the tolerance over exposure from now.
    pub(super) table: OutTable,
}

/// The moments by which shares have crossed a limit: those of [`QUANTILES`], then the accepted risk.
pub(super) type LimitMoments = [Option<f64>; QUANTILES.len() + 1];

/// One spindle by the model.
#[derive(Debug, Clone)]
pub(super) struct Modelled<'a> {
    pub(super) fit: &'a InterfaceFit,
    pub(super) observed: Observed,
    /// Its usage is what is planned from now on.
    pub(super) built: Built,
    pub(super) trace: Trace<'a>,
    pub(super) service: LimitForecast<'a>,
    pub(super) stop: LimitForecast<'a>,
    /// When both are crossed: moments of [`QUANTILES`], then of the accepted risk.
    pub(super) service_moments: LimitMoments,
    pub(super) stop_moments: LimitMoments,
    pub(super) setting: Option<SettingLaw>,
    pub(super) major: [Option<f64>; 3],
    usages: Usages,
    pub(super) readings: Vec<WeighedReading>,
    fits: &'a ShopFits,
    days: &'a DayNumbers,
    as_of: i64,
    horizon_days: i64,
}

impl<'a> ModelBasis<'a> {
    /// From a shop as known on a day ([`Shop::known_on`]) and what was learnt no later.
    #[must_use]
    pub fn new(shop: &'a Shop, as_of: NaiveDate, fits: &'a ShopFits, config: ForecastConfig) -> Self {
        let book = ExposureBook::of(shop, as_of, config.horizon_days);
        let days = DayNumbers::of(&book);
        Self { shop, fits, book: Cow::Owned(book), days: Cow::Owned(days), config }
    }

    /// The same with what was already worked out for the shop.
    pub(super) const fn sharing(
        shop: &'a Shop,
        fits: &'a ShopFits,
        book: &'a ExposureBook,
        days: &'a DayNumbers,
        config: ForecastConfig,
    ) -> Self {
        Self { shop, fits, book: Cow::Borrowed(book), days: Cow::Borrowed(days), config }
    }

    /// What is known of one spindle, in the terms of the model; `None` for one that the shop does
    /// not have.
    #[must_use]
    pub fn observed(&self, id: SpindleId) -> Option<Observed> {
        let fit = self.fits.of(&self.shop.spindles.get(&id)?.interface);
        observe(self.shop, &self.book, &self.days, id, fit.cycles_per_hour)
    }

    /// The working days of the shop, and the as-of day as a number of them.
    #[must_use]
    pub fn calendar(&self) -> (&WorkingDays, i64) {
        (&self.days.working, self.days.of_day(self.book.as_of))
    }

    /// The forecast of every spindle of the shop, in the order of their ids, over all processors.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub fn project_all(&self, progress: &dyn Progress) -> Result<Vec<ModelForecast>, Cancelled> {
        let ids: Vec<SpindleId> = self.shop.spindles.keys().copied().collect();
        let forecasts = spread(&ids, progress, |id| self.project(*id))?;
        Ok(forecasts.into_iter().flatten().collect())
    }

    /// The forecast of one spindle; `None` for one that the shop does not have.
    #[must_use]
    pub fn project(&self, id: SpindleId) -> Option<ModelForecast> {
        let mut model = self.run(id)?;
        let readings = std::mem::take(&mut model.readings);
        let filter = &model.trace.filter;
        let (loss, loss_sd) = model.loss_per_1000_h();
        let per_day = model.built.usage * model.fit.counting.reference;
        let clock = model.fit.counting.clock;
        let percent = |value: f64| Percent::new(value).unwrap_or_default();
        Some(ModelForecast {
            force_now: (percent(model.service.now), percent(model.service.now_sd)),
            service_limit: model.crossing(&model.service_moments),
            stop_limit: model.crossing(&model.stop_moments),
            setting_dimension: model.setting.as_ref().map(|setting| model.setting_crossing(setting)),
            risk_day: model.risk_day(self.config.accepted_risk),
            recoverable_loss: percent(filter.mean[3] - filter.mean[0]),
            lasting_loss: percent(model.fit.parameters.a0 - filter.mean[3]),
            major_service_by: model.major.map(|moment| model.day(moment)),
            loss_per_1000_h: (percent(loss), percent(loss_sd)),
            hours_per_day: (clock == Clock::Hours).then(|| RunHours::new(per_day)).flatten(),
            cycles_per_day: (clock == Clock::Cycles).then(|| ClampCycles::new(per_day)).flatten(),
            readings,
        })
    }

    /// One spindle by the model: its filter run once, and the laws of its limits.
    pub(super) fn run(&self, id: SpindleId) -> Option<Modelled<'_>> {
        let spindle = self.shop.spindles.get(&id)?;
        let limits = self.shop.limits_of(spindle);
        let fit = self.fits.of(&spindle.interface);
        let (observed, ids) = observe_with_ids(self.shop, &self.book, &self.days, id, fit.cycles_per_hour)?;
        let as_of = self.days.of_day(self.book.as_of);
        let working = &self.days.working;
        let parameters = &fit.parameters;
        let law = self.fits.usage.of(fit.counting.clock);
        let mut built = build(&observed, working, &fit.counting, as_of, parameters.ss, law);
        let measured = built.usage * fit.counting.reference;
        let own = ClockUsage { measured, ahead: measured, variance: built.usage_variance, growth: built.usage_growth };
        let mut usages = Usages { own, other: OnceCell::new(), factor: 1.0 };
        usages.factor = match (self.config.planned, fit.counting.clock) {
            (PlannedUsage::HoursPerDay(_), Clock::Cycles) => {
                let other = other_usage(self.fits, fit, &observed, as_of as f64);
                let other = *usages.other.get_or_init(|| other);
                planned_factor(self.config.planned, other.measured)
            }
            (planned, _) => planned_factor(planned, measured),
        };
        built.usage *= usages.factor;
        let trace = Trace::of(parameters, observed.known_start, observed.start as i64, &built);
        let asked = Asked { as_of, horizon_days: i64::from(self.config.horizon_days) };
        let service_limit = limits.service_limit.value.get();
        let both = [service_limit, limits.stop_limit.value.get()];
        let [service, stop] = limit_forecasts(parameters, &trace.filter, &built, working, asked, both);
        let setting = setting_law(fit, &built, &ids.settings, working, asked);
        let accept = service_limit + ordinary_loss(parameters, &trace.filter, &built);
        let major = major_service(parameters, &trace.filter, &built, working, asked, accept, &[0.1, 0.5, 0.9]);
        let shares = shares_with(self.config.accepted_risk);
        let moments = |law: &LimitForecast<'_>| law.quantiles(&shares);
        let readings = trace
            .readings
            .iter()
            .zip(&ids.forces)
            .filter_map(|((day, weighed), reading)| {
                Some(WeighedReading::of(*reading, self.days.day_of(*day as f64)?, weighed))
            })
            .collect();
        Some(Modelled {
            fit,
            service_moments: moments(&service),
            stop_moments: moments(&stop),
            service,
            stop,
            setting,
            major: [0, 1, 2].map(|i| major.get(i).copied().flatten()),
            usages,
            readings,
            fits: self.fits,
            observed,
            built,
            trace,
            days: &self.days,
            as_of,
            horizon_days: asked.horizon_days,
        })
    }
}

/// Usage by the clock in which the exposure of the group is not counted.
fn other_usage(fits: &ShopFits, fit: &InterfaceFit, observed: &Observed, as_of: f64) -> ClockUsage {
    let Counting { clock, prior_level, .. } = fit.counting;
    let (other, prior) = match clock {
        Clock::Hours => (Clock::Cycles, prior_level * fit.cycles_per_hour),
        Clock::Cycles => (Clock::Hours, prior_level / fit.cycles_per_hour),
    };
    let law = fits.usage.of(other);
    let usage = usage_level(observed.meter.of(other), as_of, prior, law);
    ClockUsage {
        measured: usage.level,
        ahead: usage.level,
        variance: usage.log_variance,
        growth: law.growth_per_year(),
    }
}

/// Least and most that a planned usage may be, as a share of what meters show; keeps it finite.
const PLANNED_SHARES: (f64, f64) = (1e-6, 1e6);

/// What the usage ahead is of the measured one.
fn planned_factor(planned: PlannedUsage, hours: f64) -> f64 {
    let factor = match planned {
        PlannedUsage::AsMeasured => return 1.0,
        PlannedUsage::HoursPerDay(planned) => planned.get() / hours,
        PlannedUsage::Share(share) => share.get() / 100.0,
    };
    if factor.is_finite() { factor.clamp(PLANNED_SHARES.0, PLANNED_SHARES.1) } else { 1.0 }
}

fn setting_law(
    fit: &InterfaceFit,
    built: &Built,
    ids: &[ReadingId],
    working: &WorkingDays,
    asked: Asked,
) -> Option<SettingLaw> {
    if ids.is_empty() {
        return None;
    }
    let par = &fit.dimension;
    let mut filter = DimensionFilter::new(par);
    let mut set_aside = Vec::new();
    let mut ids = ids.iter();
    for event in &built.dimension_events {
        filter.apply(event, par);
        if matches!(event, Event::Read { .. }) {
            let id = ids.next();
            if set_aside.len() < filter.set_aside.len() {
                set_aside.extend(id.copied());
            }
        }
    }
    let as_of = asked.as_of as f64;
    let most = built.usage * (working.until(as_of + asked.horizon_days as f64) - working.until(as_of));
    let table = filter.crossing(par.q, built.usage_variance + built.usage_growth / 3.0).table(most);
    Some(SettingLaw {
        now: (filter.mean[0], filter.covariance[0][0].max(0.0).sqrt()),
        drift: -filter.mean[1],
        set_aside,
        table,
    })
}

impl Modelled<'_> {
    /// Usage by one clock.
    pub(super) fn usage(&self, clock: Clock) -> ClockUsage {
        let measured = if clock == self.fit.counting.clock {
            self.usages.own
        } else {
            let as_of = self.as_of as f64;
            *self.usages.other.get_or_init(|| other_usage(self.fits, self.fit, &self.observed, as_of))
        };
        ClockUsage { ahead: measured.ahead * self.usages.factor, ..measured }
    }

    /// The day in which a moment lies.
    pub(super) fn day(&self, moment: Option<f64>) -> Option<NaiveDate> {
        self.days.day_of(moment?).filter(|_| self.observed.runs)
    }

    /// The days of a crossing; none for a spindle that does not run.
    pub(super) fn crossing(&self, moments: &LimitMoments) -> Crossing {
        if !self.observed.runs {
            return Crossing::default();
        }
        let mut of_shares = [None; QUANTILES.len()];
        of_shares.copy_from_slice(moments.split_at(QUANTILES.len()).0);
        Crossing { days: in_order(of_shares).map(|moment| self.day(moment)) }
    }

    /// Exposure from now to a moment, in reference intervals.
    pub(super) fn exposure_by(&self, moment: f64) -> f64 {
        let working = &self.days.working;
        self.built.usage * (working.until(moment) - working.until(self.as_of as f64))
    }

    fn setting_moment(&self, setting: &SettingLaw, share: f64) -> Option<f64> {
        self.moment_of(setting.table.quantile(share))
    }

    /// The moment by which an exposure from now is reached.
    fn moment_of(&self, x: Option<f64>) -> Option<f64> {
        self.days.working.reaching(self.as_of as f64, x? / self.built.usage)
    }

    /// When the setting dimension leaves its tolerance.
    pub(super) fn setting_crossing(&self, setting: &SettingLaw) -> Crossing {
        let mut days = [None; QUANTILES.len()];
        for (day, x) in days.iter_mut().zip(setting.table.quantiles(&QUANTILES)) {
            *day = self.day(self.moment_of(x));
        }
        Crossing { days }
    }

    /// The day by which the force alone uses up the accepted risk.
    pub(super) fn force_day(&self) -> Option<NaiveDate> {
        self.day(self.service_moments.last().copied().flatten())
    }

    /// The day by which the setting dimension alone uses up an accepted risk.
    pub(super) fn setting_day(&self, risk: f64) -> Option<NaiveDate> {
        self.day(self.setting_moment(self.setting.as_ref()?, risk))
    }

    /// The chance that force or setting dimension have crossed by the end of the horizon.
    pub(super) fn chances_at_the_end(&self) -> (f64, f64) {
        let end = (self.as_of + self.horizon_days) as f64;
        let setting = self.setting.as_ref().map_or(0.0, |setting| setting.table.chance_by(self.exposure_by(end)));
        (self.service.probability(end), setting)
    }

    /// The day by which the chance that either has crossed reaches the accepted risk; both count as
    /// independent.
    pub(super) fn risk_day(&self, risk: f64) -> Option<NaiveDate> {
        let alone = self.force_day();
        let Some(setting) = self.setting.as_ref().filter(|_| self.observed.runs) else { return alone };
        let latest = alone.into_iter().chain(self.setting_day(risk)).min();
        let reaches = |day: i64| self.worn(setting, day) >= risk;
        let end = self.as_of + self.horizon_days;
        let latest = match latest {
            Some(latest) => self.days.of_day(latest),
            None if reaches(end) => end,
            None => return None,
        };
        // one of both mostly decides alone, so it is sought from the latest day backwards
        let (mut low, mut high) = (self.as_of, latest);
        let mut step = 1;
        while low < high {
            let earlier = (high - step).max(low);
            if reaches(earlier) {
                high = earlier;
                step *= 4;
            } else {
                low = earlier + 1;
                break;
            }
        }
        while low < high {
            let middle = low + (high - low) / 2;
            if reaches(middle) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        self.days.day_of(low as f64)
    }

    /// The chance that force or setting dimension have crossed by the end of a numbered day.
    fn worn(&self, setting: &SettingLaw, day: i64) -> f64 {
        let end = (day + 1) as f64;
        let of_setting = setting.table.chance_by(self.exposure_by(end));
        1.0 - (1.0 - self.service.probability(end)) * (1.0 - of_setting)
    }

    /// The chance that force or setting dimension have crossed by the end of a day so far ahead;
    /// none for a spindle that does not run.
    pub(super) fn worn_by_end_of(&self, ahead: i64) -> f64 {
        let day = self.as_of + ahead;
        match &self.setting {
            _ if !self.observed.runs => 0.0,
            Some(setting) => self.worn(setting, day),
            None => self.service.probability((day + 1) as f64),
        }
    }

    /// The same of the stop limit.
    pub(super) fn under_stop_by_end_of(&self, ahead: i64) -> f64 {
        if self.observed.runs { self.stop.probability((self.as_of + ahead + 1) as f64) } else { 0.0 }
    }

    /// What turns days into the exposure of its clock.
    pub(super) fn over(&self) -> ExposureOver<'_> {
        let counting = &self.fit.counting;
        let rate = self.usage(counting.clock).measured;
        ExposureOver {
            curve: self.observed.exposure.of(counting.clock),
            calendar: &self.days.working,
            rate: if self.observed.runs { rate } else { 0.0 },
        }
    }

    /// Number of a day.
    pub(super) fn number(&self, day: NaiveDate) -> i64 {
        self.days.of_day(day)
    }

    /// The day of a number.
    pub(super) fn date(&self, number: i64) -> Option<NaiveDate> {
        self.days.day_of(number as f64)
    }

    /// Reference intervals in 1,000 run hours.
    pub(super) fn per_1000_h(&self) -> f64 {
        self.fit.intervals_per_1000_h()
    }

    /// Loss per 1,000 run hours in the interval that runs, and its standard uncertainty: the
    /// lognormal rate of the crossing law.
    pub(super) fn loss_per_1000_h(&self) -> (f64, f64) {
        let (_, variance) = self.service.input.log_rate;
        let loss = self.service.rate * self.per_1000_h();
        (loss, loss * variance.exp_m1().max(0.0).sqrt())
    }
}

/// The shares of [`LimitMoments`].
pub(super) fn shares_with(risk: f64) -> [f64; QUANTILES.len() + 1] {
    std::array::from_fn(|index| QUANTILES.get(index).copied().unwrap_or(risk))
}

/// The mean rate of a spindle is taken for no less than this share of that of its group, as in the law of
/// its dates.
const LEAST_RATE: f64 = 0.05;

/// What one ordinary interval of a spindle loses, percent of nominal: at its own mean rate, along the
/// drift clock.
fn ordinary_loss(parameters: &Parameters, filter: &Filter<'_>, built: &Built) -> f64 {
    let [_, _, rate, _, _] = filter.mean;
    rate.max(LEAST_RATE * parameters.beta) * ordinary_interval(built).powf(parameters.p)
}

/// The middle of the finished intervals of a spindle in reference intervals; one where none is
/// finished (common practice, no source).
fn ordinary_interval(built: &Built) -> f64 {
    let (mut finished, mut reached) = (Vec::new(), 0.0);
    for event in &built.events {
        match event {
            Event::Move { to, .. } => reached = *to,
            Event::Service(_) => {
                if reached > 0.15 {
                    finished.push(reached);
                }
                reached = 0.0;
            }
            Event::Read { .. } => {}
        }
    }
    crate::exposure::usage::median(&mut finished).unwrap_or(1.0)
}

/// Where a larger share is crossed earlier than a smaller one, so is the smaller one: figures beyond
/// all measure leave a law with less than the whole of its precision.
fn in_order<const N: usize>(mut moments: [Option<f64>; N]) -> [Option<f64>; N] {
    let mut earliest: Option<f64> = None;
    for moment in moments.iter_mut().rev() {
        *moment = match (*moment, earliest) {
            (Some(own), Some(later)) => Some(own.min(later)),
            (own, later) => own.or(later),
        };
        earliest = *moment;
    }
    moments
}
