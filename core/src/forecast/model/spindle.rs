//! One spindle: from its records to events, from the filter to dates.

use super::crossing::{Crossing, CrossingInput};
use super::filter::{Event, Filter, Occasion, RESTORABLE_VARIANCE, ServiceKind};
use super::gaussian_crossing::GaussianCrossing;
use super::lognormal_rate::lognormal_rate;
use super::meter::{Curve, Shown};
use super::parameters::Parameters;
use super::setting_dimension::{DimensionFilter, DimensionParameters};
use super::strokes::summarise;
use super::usage::{UsageParameters, usage_level};
use super::working_days::WorkingDays;

/// A reading as recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Day number.
    pub day: i64,
    /// When.
    pub occasion: Occasion,
    /// What the hour meter showed.
    pub hours: Option<f64>,
    /// What the cycle meter showed.
    pub cycles: Option<f64>,
    /// Strokes of force, kN.
    pub strokes: Vec<f64>,
    /// Setting dimension, mm.
    pub dimension: Option<f64>,
}

/// A meter reading as recorded: day, hours, cycles, whether it is the first of a new meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterRow {
    /// Day number.
    pub day: i64,
    /// Hours shown.
    pub hours: f64,
    /// Cycles shown.
    pub cycles: f64,
    /// First reading of a new meter.
    pub is_new_meter: bool,
}

/// The records of one spindle.
#[derive(Debug, Clone, PartialEq)]
pub struct Records {
    /// First day.
    pub install: i64,
    /// Whether it was new then.
    pub known_start: bool,
    /// Nominal force, kN.
    pub nominal: f64,
    /// Setting dimension and tolerance, mm.
    pub setting: Option<(f64, f64)>,
    /// Services: day and kind.
    pub services: Vec<(i64, ServiceKind)>,
    /// Meter readings.
    pub meters: Vec<MeterRow>,
    /// Readings.
    pub readings: Vec<Taken>,
}

/// What exposure is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// Run hours.
    Hours,
    /// Clamp cycles.
    Cycles,
}

/// How exposure is counted in a group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counting {
    /// In what.
    pub clock: Clock,
    /// One reference interval, in hours or cycles.
    pub reference: f64,
    /// Prior usage per working day.
    pub prior_level: f64,
}

/// A spindle's records as events, with its usage.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// For the force.
    pub events: Vec<Event>,
    /// For the setting dimension.
    pub dimension_events: Vec<Event>,
    /// Reference intervals per working day.
    pub usage: f64,
    /// Variance of its logarithm at as-of.
    pub usage_variance: f64,
    /// Growth of that variance per year.
    pub usage_growth: f64,
    /// Exposure since the last service.
    pub since_service: f64,
    /// The part of it that no meter has confirmed yet.
    pub unread: f64,
}

impl Records {
    /// The meter curve of one clock; readings that carry meters count as meter readings.
    #[must_use]
    pub fn curve(&self, clock: Clock, calendar: &WorkingDays, as_of: i64) -> Curve {
        let meters = self.meters.iter().filter(|m| m.day <= as_of).map(|m| Shown {
            day: m.day,
            value: if clock == Clock::Hours { m.hours } else { m.cycles },
            is_new_meter: m.is_new_meter,
        });
        let readings = self.readings.iter().filter(|r| r.day <= as_of).filter_map(|r| {
            let value = if clock == Clock::Hours { r.hours } else { r.cycles }?;
            Some(Shown { day: r.day, value, is_new_meter: false })
        });
        Curve::new(meters.chain(readings), calendar)
    }
}

/// What happens on a day, in its order: routine, as found, service, as left.
enum Happening<'a> {
    Reading(&'a Taken),
    Service(ServiceKind),
}

/// Turns records into events. Nothing after as-of is used.
#[must_use]
pub fn build(
    records: &Records,
    calendar: &WorkingDays,
    counting: &Counting,
    as_of: i64,
    ss: f64,
    usage_parameters: &UsageParameters,
) -> Built {
    let curve = records.curve(counting.clock, calendar, as_of);
    let usage = usage_level(&curve, calendar, as_of as f64, counting.prior_level, usage_parameters);
    let exposure = |day: f64| curve.at(calendar, day, usage.level) / counting.reference;

    let mut happenings: Vec<(i64, u8, Happening<'_>)> = Vec::new();
    for reading in records.readings.iter().filter(|r| r.day <= as_of) {
        let order = match reading.occasion {
            Occasion::Routine => 0,
            Occasion::AsFound => 1,
            Occasion::AsLeft => 3,
        };
        happenings.push((reading.day, order, Happening::Reading(reading)));
    }
    for (day, kind) in records.services.iter().filter(|(day, _)| *day <= as_of) {
        happenings.push((*day, 2, Happening::Service(*kind)));
    }
    happenings.sort_by_key(|(day, order, _)| (*day, *order));

    let (mut events, mut dimension_events) = (Vec::new(), Vec::new());
    let mut at_service = exposure(records.install as f64);
    let mut last = at_service;
    for (day, _, happening) in happenings {
        let x = exposure(day as f64).max(last);
        if x > last {
            let step = Event::Move { from: last - at_service, to: x - at_service };
            events.push(step);
            dimension_events.push(step);
        }
        last = x;
        match happening {
            Happening::Service(kind) => {
                events.push(Event::Service(kind));
                dimension_events.push(Event::Service(kind));
                at_service = x;
            }
            Happening::Reading(reading) => {
                let occasion = reading.occasion;
                if let Some(mean) = summarise(&reading.strokes, records.nominal, ss) {
                    events.push(Event::Read { y: mean.percent, strokes: mean.count, occasion });
                }
                if let (Some(dimension), Some((aim, tolerance))) = (reading.dimension, records.setting) {
                    let y = (dimension - aim) / tolerance;
                    dimension_events.push(Event::Read { y, strokes: 1.0, occasion });
                }
            }
        }
    }
    let x = exposure(as_of as f64).max(last);
    if x > last {
        let step = Event::Move { from: last - at_service, to: x - at_service };
        events.push(step);
        dimension_events.push(step);
    }
    let unread = match curve.days.last() {
        Some(day) => (x - exposure(*day)).max(0.0),
        None => x,
    };
    Built {
        events,
        dimension_events,
        usage: usage.level / counting.reference,
        usage_variance: usage.log_variance,
        usage_growth: usage_parameters.growth_per_year(),
        since_service: x - at_service,
        unread: unread.min(x - at_service),
    }
}

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
    calendar: &'a WorkingDays,
    asked: Asked,
    usage: f64,
    since_service: f64,
    curvature: f64,
    end: f64,
    /// Expected force now, percent of nominal.
    pub now: f64,
    /// Its standard uncertainty.
    pub now_sd: f64,
    /// Expected rate per reference interval.
    pub rate: f64,
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
    let mut p = filter.covariance;
    p[0][0] += (filter.mean[1] * built.unread).powi(2) * built.usage_variance;
    let as_of = asked.as_of as f64;
    let (u, s0, curvature) = (built.usage, built.since_service, parameters.p);
    let most = u * (calendar.until(as_of + asked.horizon_days as f64) - calendar.until(as_of));
    let clock = |x: f64| (s0 + x).powf(curvature) - s0.powf(curvature);
    let end = clock(most);
    let log_rate = lognormal_rate(filter.rate_prior, (filter.mean[1], filter.covariance[1][1]), 0.05 * parameters.beta);
    let law_of = |usage_variance: f64| {
        let input =
            CrossingInput { log_rate, usage_variance, q: parameters.q, limit, step_hazard: parameters.step_hazard };
        Crossing::new(&filter.mean, &p, &input)
    };
    // the horizon over which usage may still wander is the median crossing of a first law
    let first = law_of(built.usage_variance + built.usage_growth * 0.5 / 3.0);
    let middle = first.quantile(0.5, end);
    let x = middle.map_or(most, |g| (s0.powf(curvature) + g).powf(1.0 / curvature) - s0);
    let years = (x / u.max(1e-12) / 260.0).clamp(0.1, 3.0);
    let law = law_of(built.usage_variance + built.usage_growth * years / 3.0);
    LimitForecast {
        law,
        calendar,
        asked,
        usage: u,
        since_service: s0,
        curvature,
        end,
        now: filter.mean[0],
        now_sd: p[0][0].sqrt(),
        rate: (log_rate.0 + 0.5 * log_rate.1).exp(),
    }
}

impl LimitForecast<'_> {
    /// The moment by which the share p has crossed, as a day number; `None` beyond the horizon.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let g = self.law.quantile(p, self.end)?;
        let x = (self.since_service.powf(self.curvature) + g).powf(1.0 / self.curvature) - self.since_service;
        let day = self.calendar.reaching(self.asked.as_of as f64, x / self.usage)?;
        (day <= (self.asked.as_of + self.asked.horizon_days) as f64).then_some(day)
    }

    /// The chance of having crossed by the start of a day.
    #[must_use]
    pub fn probability(&self, day: f64) -> f64 {
        let as_of = self.asked.as_of as f64;
        let x = self.usage * (self.calendar.until(day) - self.calendar.until(as_of));
        let (s0, p) = (self.since_service, self.curvature);
        self.law.cdf((s0 + x).powf(p) - s0.powf(p))
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
    let table = law.table(most);
    shares
        .iter()
        .map(|share| {
            let x = table.quantile(*share)?;
            calendar.reaching(as_of, x / usage)
        })
        .collect()
}
