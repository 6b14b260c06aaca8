//! The full model applied to one spindle of a shop: state, verdicts on its readings, and dates.

use super::fits::{InterfaceFit, ShopFits};
use super::model::filter::{Event, Filter, Weighed};
use super::model::observed::{Built, Clock, Observed, build};
use super::model::setting_dimension::DimensionFilter;
use super::model::spindle::{Asked, LimitForecast, dimension_forecast, limit_forecast, major_service};
use super::model::working_days::WorkingDays;
use super::observe::{DayNumbers, observe};
use super::{Crossing, ForecastConfig, QUANTILES};
use crate::exposure::ExposureBook;
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::units::{ClampCycles, Percent, RunHours};
use chrono::NaiveDate;

/// A shop as known on a day, ready for the full model.
#[derive(Debug, Clone)]
pub struct ModelBasis<'a> {
    shop: &'a Shop,
    fits: &'a ShopFits,
    book: ExposureBook,
    days: DayNumbers,
    config: ForecastConfig,
}

/// A reading as the model weighed it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeighedReading {
    /// Its day.
    pub day: NaiveDate,
    /// Weights and verdict.
    pub weighed: Weighed,
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

impl<'a> ModelBasis<'a> {
    /// From a shop as known on a day ([`Shop::known_on`]) and what was learnt no later.
    #[must_use]
    pub fn new(shop: &'a Shop, as_of: NaiveDate, fits: &'a ShopFits, config: ForecastConfig) -> Self {
        let book = ExposureBook::of(shop, as_of, config.horizon_days);
        let days = DayNumbers::of(&book);
        Self { shop, fits, book, days, config }
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

    /// The forecast of one spindle; `None` for one that the shop does not have.
    #[must_use]
    pub fn project(&self, id: SpindleId) -> Option<ModelForecast> {
        let spindle = self.shop.spindles.get(&id)?;
        let limits = self.shop.limits_of(spindle);
        let fit = self.fits.of(&spindle.interface);
        let observed = self.observed(id)?;
        let as_of = self.days.of_day(self.book.as_of);
        let parameters = &fit.parameters;
        let usage = self.fits.usage.of(fit.counting.clock);
        let built = build(&observed, &self.days.working, &fit.counting, as_of, parameters.ss, usage);
        let filter = Filter::new(parameters, observed.known_start).run(&built.events);
        let asked = Asked { as_of, horizon_days: i64::from(self.config.horizon_days) };
        let of_limit = |limit: f64| limit_forecast(parameters, &filter, &built, &self.days.working, asked, limit);
        let service_limit = limits.service_limit.value.get();
        let service = of_limit(service_limit);
        let stop = of_limit(limits.stop_limit.value.get());
        let setting = self.setting(fit, &observed, &built, asked);
        let ordinary = parameters.beta * ordinary_interval(&built);
        let major = major_service(
            parameters,
            &filter,
            &built,
            &self.days.working,
            asked,
            service_limit + ordinary,
            &[0.1, 0.5, 0.9],
        );
        let per_1000_h = 1000.0 * reference_intervals_per_hour(fit);
        let percent = |value: f64| Percent::new(value).unwrap_or_default();
        let per_day = built.usage * fit.counting.reference;
        let runs = observed.runs;
        let crossing = |law: &LimitForecast<'_>| if runs { self.crossing(law) } else { Crossing::default() };
        Some(ModelForecast {
            force_now: (percent(service.now), percent(service.now_sd)),
            service_limit: crossing(&service),
            stop_limit: crossing(&stop),
            risk_day: if runs { self.risk_day(&service, setting.as_ref()) } else { None },
            setting_dimension: setting.map(|days| Crossing { days }),
            recoverable_loss: percent(filter.mean[3] - filter.mean[0]),
            lasting_loss: percent(parameters.a0 - filter.mean[3]),
            major_service_by: [0, 1, 2].map(|i| if runs { self.day(major.get(i).copied().flatten()) } else { None }),
            loss_per_1000_h: (
                percent(service.rate * per_1000_h),
                percent(filter.covariance[1][1].max(0.0).sqrt() * per_1000_h),
            ),
            hours_per_day: (fit.counting.clock == Clock::Hours).then(|| RunHours::new(per_day)).flatten(),
            cycles_per_day: (fit.counting.clock == Clock::Cycles).then(|| ClampCycles::new(per_day)).flatten(),
            readings: self.weighed(&built, &filter),
        })
    }

    fn day(&self, moment: Option<f64>) -> Option<NaiveDate> {
        self.days.day_of(moment?)
    }

    fn crossing(&self, law: &LimitForecast<'_>) -> Crossing {
        Crossing { days: law.quantiles(&QUANTILES).map(|moment| self.day(moment)) }
    }

    fn setting(
        &self,
        fit: &InterfaceFit,
        observed: &Observed,
        built: &Built,
        asked: Asked,
    ) -> Option<[Option<NaiveDate>; 7]> {
        let has_reading = built.dimension_events.iter().any(|event| matches!(event, Event::Read { .. }));
        if !has_reading || !observed.runs {
            return None;
        }
        let filter = DimensionFilter::run(&built.dimension_events, &fit.dimension);
        let days = dimension_forecast(&fit.dimension, &filter, built, &self.days.working, asked, &QUANTILES);
        Some(std::array::from_fn(|i| self.day(days.get(i).copied().flatten())))
    }

    /// The first day on which the chance that either limit was crossed reaches the accepted risk.
    /// The chance of the setting dimension runs straight between its quantiles.
    fn risk_day(&self, force: &LimitForecast<'_>, setting: Option<&[Option<NaiveDate>; 7]>) -> Option<NaiveDate> {
        let risk = self.config.accepted_risk;
        let own = force.quantiles(&[risk])[0];
        let Some(setting) = setting else { return self.day(own) };
        let as_of = self.days.of_day(self.book.as_of);
        let share_by = |day: i64| {
            let mut before = (as_of as f64, 0.0);
            for (moment, share) in setting.iter().zip(QUANTILES) {
                let Some(moment) = moment.map(|moment| self.days.of_day(moment) as f64) else { break };
                if day as f64 <= moment {
                    let width = moment - before.0;
                    let along = if width > 0.0 { (day as f64 - before.0) / width } else { 1.0 };
                    return before.1 + (share - before.1) * along;
                }
                before = (moment, share);
            }
            before.1
        };
        let chance = |day: i64| 1.0 - (1.0 - force.probability(day as f64)) * (1.0 - share_by(day));
        let (mut low, mut high) = (as_of, as_of + i64::from(self.config.horizon_days));
        if chance(high) < risk {
            return None;
        }
        while low < high {
            let middle = low + (high - low) / 2;
            if chance(middle) >= risk {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        self.days.day_of(low as f64)
    }

    fn weighed(&self, built: &Built, filter: &Filter<'_>) -> Vec<WeighedReading> {
        let read = built.events.iter().zip(&built.days).filter(|(event, _)| matches!(event, Event::Read { .. }));
        read.zip(&filter.log)
            .filter_map(|((_, day), weighed)| {
                Some(WeighedReading { day: self.days.day_of(*day as f64)?, weighed: *weighed })
            })
            .collect()
    }
}

/// Reference intervals that a run hour makes.
fn reference_intervals_per_hour(fit: &InterfaceFit) -> f64 {
    match fit.counting.clock {
        Clock::Hours => 1.0 / fit.counting.reference,
        Clock::Cycles => fit.cycles_per_hour / fit.counting.reference,
    }
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
