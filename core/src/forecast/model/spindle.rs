//! One spindle: from its filter to dates.

use super::crossing::{Crossing, CrossingInput};
use super::filter::{Covariance, Filter, Mean, RESTORABLE_VARIANCE};
use super::gaussian_crossing::GaussianCrossing;
use super::lognormal_rate::lognormal_rate;
use super::observed::Built;
use super::parameters::Parameters;
use super::rising::Closeness;
use super::setting_dimension::{DimensionFilter, DimensionParameters};
use super::working_days::WorkingDays;

/// What is asked of a force forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Day number from which it looks.
    pub as_of: i64,
    /// How far, in days.
    pub horizon_days: i64,
}

/// The crossing of one force limit, with what turns its clock into days.
#[derive(Debug, Clone)]
pub struct LimitForecast<'a> {
    law: Crossing,
    /// About where its middle lies, on the drift clock.
    middle: Option<f64>,
    closeness: Closeness,
    calendar: &'a WorkingDays,
    asked: Asked,
    usage: f64,
    since_service: f64,
    /// The drift clock since the last service.
    clock_now: f64,
    curvature: f64,
    end: f64,
    /// Expected force now, percent of nominal.
    pub now: f64,
    /// Its standard uncertainty.
    pub now_sd: f64,
    /// Expected rate per reference interval.
    pub rate: f64,
    /// What the law was made from.
    pub input: CrossingInput,
    /// Covariance of the state, exposure that no meter has confirmed included.
    pub covariance: Covariance,
}

/// The forecast of one force limit from the state of a filter.
#[must_use]
pub fn limit_forecast<'a>(
    parameters: &Parameters,
    filter: &Filter<'_>,
    built: &Built,
    calendar: &'a WorkingDays,
    asked: Asked,
    limit: f64,
) -> LimitForecast<'a> {
    let [law] = limit_forecasts(parameters, filter, built, calendar, asked, [limit]);
    law
}

/// The same of several limits: what does not depend on the limit is worked out once.
#[must_use]
pub fn limit_forecasts<'a, const N: usize>(
    parameters: &Parameters,
    filter: &Filter<'_>,
    built: &Built,
    calendar: &'a WorkingDays,
    asked: Asked,
    limits: [f64; N],
) -> [LimitForecast<'a>; N] {
    // exposure that nobody has read yet is a guess
    let unread = |mean: &Mean, covariance: &Covariance| {
        let mut p = *covariance;
        p[0][0] += (mean[1] * built.unread).powi(2) * built.usage_variance;
        p
    };
    let p = unread(&filter.mean, &filter.covariance);
    let as_of = asked.as_of as f64;
    let (u, s0, curvature) = (built.usage, built.since_service, parameters.p);
    let most = u * (calendar.until(as_of + asked.horizon_days as f64) - calendar.until(as_of));
    let clock_now = s0.powf(curvature);
    let clock = |x: f64| (s0 + x).powf(curvature) - clock_now;
    let end = clock(most);
    let rate_of = |prior: (f64, f64), mean: &Mean, covariance: &Covariance| {
        lognormal_rate(prior, (mean[1], covariance[1][1]), 0.05 * parameters.beta)
    };
    let log_rate = rate_of(filter.rate_prior, &filter.mean, &filter.covariance);
    let apart: Vec<(f64, Mean, Covariance, (f64, f64))> = filter
        .apart()
        .map(|s| (s.weight, s.mean, unread(&s.mean, &s.covariance), rate_of(s.rate_prior, &s.mean, &s.covariance)))
        .collect();
    // what a relative error of the exposure ahead means on the drift clock: d ln g / d ln x
    let bend = |x: f64| {
        let g = clock(x);
        if parameters.improvements.curved_usage && g > 0.0 {
            curvature * (s0 + x).powf(curvature - 1.0) * x / g
        } else {
            1.0
        }
    };
    let input_of = |limit: f64, years: f64, bend: f64| {
        let usage_variance = (built.usage_variance + built.usage_growth * years / 3.0) * bend * bend;
        CrossingInput { log_rate, usage_variance, q: parameters.q, limit, step_hazard: parameters.step_hazard }
    };
    let law_of = |limit: f64, years: f64, bend: f64| {
        let input = input_of(limit, years, bend);
        let ahead = built.usage_law.as_ref().map(|usage| usage.ahead(years, bend));
        let law_of_state = |mean: &Mean, p: &Covariance, log_rate: (f64, f64)| {
            let input = CrossingInput { log_rate, ..input };
            match &ahead {
                Some(usage) => Crossing::with_usage(mean, p, &input, usage),
                None => Crossing::new(mean, p, &input),
            }
        };
        let apart = apart.iter().map(|(weight, mean, p, log_rate)| (*weight, law_of_state(mean, p, *log_rate)));
        Crossing::mixed(apart).unwrap_or_else(|| law_of_state(&filter.mean, &p, log_rate))
    };
    let closeness = if parameters.improvements.dates_suffice { Closeness::Date } else { Closeness::Exact };
    let middle_of = |law: &Crossing| {
        let [middle] = law.quantiles_near(&[0.5], end, None, closeness);
        middle
    };
    // the horizon over which usage may still wander is the median crossing of a first law
    let first_limit = limits.first().copied().unwrap_or_default();
    let first = law_of(first_limit, 0.5, bend(0.5 * 260.0 * u));
    limits.map(|limit| {
        let middle = if limit.to_bits() == first_limit.to_bits() {
            middle_of(&first)
        } else {
            middle_of(&first.with_limit_higher_by(limit - first_limit))
        };
        let x = middle.map_or(most, |g| (clock_now + g).powf(1.0 / curvature) - s0);
        let years = (x / u.max(1e-12) / 260.0).clamp(0.1, 3.0);
        LimitForecast {
            law: law_of(limit, years, bend(x)),
            middle,
            closeness,
            calendar,
            asked,
            usage: u,
            since_service: s0,
            clock_now,
            curvature,
            end,
            now: filter.mean[0],
            now_sd: p[0][0].sqrt(),
            rate: (log_rate.0 + 0.5 * log_rate.1).exp(),
            input: input_of(limit, years, bend(x)),
            covariance: p,
        }
    })
}

impl LimitForecast<'_> {
    /// The moments by which the shares have crossed, as day numbers; `None` beyond the horizon.
    #[must_use]
    pub fn quantiles<const N: usize>(&self, shares: &[f64; N]) -> [Option<f64>; N] {
        self.law.quantiles_near(shares, self.end, self.middle, self.closeness).map(|g| self.moment(g?))
    }

    /// One of [`LimitForecast::quantiles`].
    #[must_use]
    pub fn quantile(&self, share: f64) -> Option<f64> {
        self.quantiles(&[share])[0]
    }

    fn moment(&self, g: f64) -> Option<f64> {
        let x = (self.clock_now + g).powf(1.0 / self.curvature) - self.since_service;
        let day = self.calendar.reaching(self.asked.as_of as f64, x / self.usage)?;
        (day <= (self.asked.as_of + self.asked.horizon_days) as f64).then_some(day)
    }

    /// The chance of having crossed by the start of a day.
    #[must_use]
    pub fn probability(&self, day: f64) -> f64 {
        self.law.cdf(self.drift_clock(day))
    }

    /// What the drift clock will have run from now to the start of a day.
    #[must_use]
    pub fn drift_clock(&self, day: f64) -> f64 {
        let x = self.usage * (self.calendar.until(day) - self.calendar.until(self.asked.as_of as f64));
        (self.since_service + x).powf(self.curvature) - self.clock_now
    }

    /// The law in the drift clock.
    #[must_use]
    pub const fn law(&self) -> &Crossing {
        &self.law
    }
}

/// When the restorable level falls below what an as-left reading must reach.
#[must_use]
pub fn major_service(
    parameters: &Parameters,
    filter: &Filter<'_>,
    built: &Built,
    calendar: &WorkingDays,
    asked: Asked,
    accept: f64,
    shares: &[f64],
) -> Vec<Option<f64>> {
    let law = GaussianCrossing {
        level: filter.mean[3],
        level_variance: filter.covariance[3][3] + parameters.sr * parameters.sr,
        rate: filter.mean[4],
        rate_variance: filter.covariance[4][4],
        covariance: filter.covariance[3][4],
        q: RESTORABLE_VARIANCE,
        low: Some(accept),
        high: None,
        usage_variance: built.usage_variance + built.usage_growth / 3.0,
        step_hazard: parameters.step_hazard,
    };
    quantile_days(&law, built.usage, calendar, asked, shares)
}

/// When the setting dimension leaves its tolerance.
#[must_use]
pub fn dimension_forecast(
    parameters: &DimensionParameters,
    filter: &DimensionFilter,
    built: &Built,
    calendar: &WorkingDays,
    asked: Asked,
    shares: &[f64],
) -> Vec<Option<f64>> {
    let law = filter.crossing(parameters.q, built.usage_variance + built.usage_growth / 3.0);
    quantile_days(&law, built.usage, calendar, asked, shares)
}

fn quantile_days(
    law: &GaussianCrossing,
    usage: f64,
    calendar: &WorkingDays,
    asked: Asked,
    shares: &[f64],
) -> Vec<Option<f64>> {
    let as_of = asked.as_of as f64;
    let most = usage * (calendar.until(as_of + asked.horizon_days as f64) - calendar.until(as_of));
    law.table(most).quantiles(shares).map(|x| calendar.reaching(as_of, x? / usage)).collect()
}
