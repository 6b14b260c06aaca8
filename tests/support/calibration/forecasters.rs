//! The three forecasters: the finished model, the plain model, the naive line.

#![expect(clippy::unwrap_used, reason = "nobody stops these fits")]

use super::fleet::{AS_OF, Fleet, HORIZON, LIMIT, Noted, Simulated};
use super::score::{SHARES, TAUS};
use almanac_core::forecast::model::filter::Filter;
use almanac_core::forecast::model::improvements::Improvements;
use almanac_core::forecast::model::observed::{Clock, Observed, build};
use almanac_core::forecast::model::shop_fit::{Group, fit_clocks, fit_usage_of};
use almanac_core::forecast::model::spindle::{Asked, limit_forecast};
use almanac_core::forecast::model::usage::UsageParameters;
use almanac_core::forecast::model::working_days::WorkingDays;

/// Days from as-of at which [`TAUS`] of the forecast law have crossed; `None` beyond the horizon.
pub type Quantiles = [Option<f64>; SHARES];

/// The model on a whole fleet, as a shop runs it: fit of the group with both clocks, fit of the
/// usage law, then spindle by spindle. With no improvements it is the plain model.
#[must_use]
pub fn model(fleet: &Fleet, calendar: &WorkingDays, improvements: Improvements) -> Vec<Quantiles> {
    let as_of = AS_OF as i64;
    let all: Vec<&Observed> = fleet.spindles.iter().map(|s| &s.observed).collect();
    let group = Group { spindles: &all, cycles_per_hour: fleet.cycles_per_hour };
    let group = fit_clocks(group, calendar, as_of, improvements, &|| true).unwrap();
    let fitted = std::iter::once((&group, all.as_slice()));
    let usage = fit_usage_of(group.counting.clock, fitted, as_of, improvements, &|| true)
        .unwrap()
        .map_or_else(|| UsageParameters::weak().with(improvements), |fit| fit.parameters);
    let parameters = &group.fit.parameters;
    let asked = Asked { as_of, horizon_days: HORIZON as i64 };
    all.iter()
        .map(|observed| {
            let built = build(observed, calendar, &group.counting, as_of, group.ss, &usage);
            let filter = Filter::new(parameters, observed.known_start).run(&built.events);
            let forecast = limit_forecast(parameters, &filter, &built, calendar, asked, LIMIT);
            forecast.quantiles(&TAUS).map(|moment| moment.map(|day| day - as_of as f64))
        })
        .collect()
}

/// A straight line of force over run hours.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    /// Percent per run hour; negative where it falls.
    slope: f64,
    /// A point on it: run hours and percent.
    through: (f64, f64),
}

/// Least squares; `None` with fewer than two different abscissas.
fn least_squares(points: &[(f64, f64)]) -> Option<Line> {
    let n = points.len() as f64;
    let x = points.iter().map(|p| p.0).sum::<f64>() / n;
    let y = points.iter().map(|p| p.1).sum::<f64>() / n;
    let square: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let product: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    (square > 1.0).then(|| Line { slope: product / square, through: (x, y) })
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Percent per run hour where no interval of the spindle has two readings: the rule of thumb of a
/// tenth in 2,000 hours (from experience, to be confirmed).
const RULE_OF_THUMB: f64 = -10.0 / 2000.0;

/// Over which days before the last meter reading the naive line takes its hours per working day:
/// the whole record, as a line through it does.
pub const WHOLE_RECORD: f64 = f64::INFINITY;
/// The last year alone: a peer that follows changes of usage sooner.
pub const LAST_YEAR: f64 = 365.0;

/// The naive line: least squares through the readings of the present interval over run hours; with
/// fewer than two of them the median slope of the spindle's earlier intervals, without those a rule
/// of thumb, through the one reading there is or the fleet's median as-left reading. It runs on at
/// the hours per working day of so many days. Days from as-of; `None` where it never falls, or only
/// beyond the horizon.
#[must_use]
pub fn naive(fleet: &Fleet, calendar: &WorkingDays, hours_over_days: f64) -> Vec<Option<f64>> {
    let as_left = fleet.spindles.iter().flat_map(|s| &s.noted).filter(|n| n.is_as_left).map(|n| n.percent);
    let as_left = median(as_left.collect()).unwrap_or(100.0);
    let each = fleet.spindles.iter();
    each.map(|spindle| {
        let a_day = hours_a_day(spindle, calendar, hours_over_days);
        let points = points(spindle, spindle.interval, calendar, a_day);
        let line = least_squares(&points).unwrap_or_else(|| {
            let earlier = (0..spindle.interval)
                .filter_map(|interval| Some(least_squares(&self::points(spindle, interval, calendar, a_day))?.slope));
            let slope = median(earlier.collect()).unwrap_or(RULE_OF_THUMB);
            let through = points.last().copied().unwrap_or_else(|| (since(spindle, calendar, a_day), as_left));
            Line { slope, through }
        });
        answer(spindle, line, calendar, a_day)
    })
    .collect()
}

/// Run hours and percent of the readings of one interval.
fn points(spindle: &Simulated, interval: usize, calendar: &WorkingDays, a_day: f64) -> Vec<(f64, f64)> {
    let curve = &spindle.observed.exposure.hours;
    let of_interval = |noted: &&Noted| noted.interval == interval;
    let at = |noted: &Noted| (curve.at(calendar, noted.day as f64, a_day), noted.percent);
    spindle.noted.iter().filter(of_interval).map(at).collect()
}

/// Run hours at the beginning of the present interval.
fn since(spindle: &Simulated, calendar: &WorkingDays, a_day: f64) -> f64 {
    use almanac_core::forecast::model::observed::Happening;
    let observed = &spindle.observed;
    let serviced = observed.happenings.iter().rev().find(|(_, what)| matches!(what, Happening::Service(_)));
    let day = serviced.map_or(observed.start, |(day, _)| *day as f64);
    observed.exposure.of(Clock::Hours).at(calendar, day, a_day)
}

/// Hours per working day over the last days of meter readings; 8 where there are none.
fn hours_a_day(spindle: &Simulated, calendar: &WorkingDays, over_days: f64) -> f64 {
    let curve = &spindle.observed.exposure.hours;
    let Some(last) = curve.knots().last() else { return 8.0 };
    let from = curve.knots().iter().find(|earlier| earlier.day >= last.day - over_days).unwrap_or(last);
    let work = calendar.until(last.day) - calendar.until(from.day);
    if work >= 3.0 { (last.sum - from.sum) / work } else { 8.0 }
}

fn answer(spindle: &Simulated, line: Line, calendar: &WorkingDays, a_day: f64) -> Option<f64> {
    let as_of = AS_OF as f64;
    let now = spindle.observed.exposure.hours.at(calendar, as_of, a_day);
    let force = line.through.1 + line.slope * (now - line.through.0);
    if force < LIMIT {
        return Some(0.0);
    }
    if line.slope >= 0.0 || a_day <= 0.0 {
        return None;
    }
    let day = calendar.reaching(as_of, (force - LIMIT) / -line.slope / a_day)?;
    Some(day - as_of).filter(|ahead| *ahead <= HORIZON as f64)
}
