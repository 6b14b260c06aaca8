//! The usage law of a shop: fitted over the meters of all its spindles.

use super::coordinate_search::{GoOn, coordinate_search};
use super::improvements::Improvements;
use super::meter::Curve;
use super::usage::{UsageParameters, usage_level};
use crate::forecast::Cancelled;

/// Most spindles of one search.
const MOST_CURVES: usize = 60;
/// Prior of the reversion: mean and spread, from experience, to be confirmed.
const REVERSION: (f64, f64) = (0.25, 0.25);
/// Priors of stops per year and of the working days that one takes: middles and spreads of the logarithm,
/// from experience, to be confirmed.
const STOPS: [(f64, f64); 2] = [(0.3, 0.7), (8.0, 0.5)];
/// Most changes per year that are believed of late.
const MOST_CHANGES: f64 = 6.0;

/// The usage law of one clock over the whole shop, with what the search cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsageFit {
    /// The law.
    pub parameters: UsageParameters,
    /// The objective at the best point.
    pub objective: f64,
    /// How often it was computed.
    pub evaluations: usize,
}

/// Fits the usage law over the curves of a shop (60 at most), each with its prior level; then the
/// recent rate of changes, a gamma prior worth two spindle-years at the long-run rate.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_usage(
    curves: &[(&Curve, f64)],
    as_of: f64,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<UsageFit, Cancelled> {
    let some = super::group_fit::evenly(curves, MOST_CURVES);
    let plain = Improvements { usage_humps: false, ..improvements };
    let found = coordinate_search(
        |theta: &[f64; 4]| objective(&UsageParameters::at(theta).with(plain), theta, &some, as_of),
        &[0.0; 4],
        4,
        go_on,
    )?;
    let mut par = UsageParameters::at(&found.theta).with(improvements);
    let (mut value, mut evaluations) = (found.value, found.evaluations);
    if improvements.usage_humps {
        // from where the plain filter, which is the faster, found its best
        let [a, b, c, d] = found.theta;
        let with_humps = if improvements.stops {
            fit_humps(&[a, b, c, d, 0.0, 0.0, 0.0], &some, as_of, improvements, go_on)?
        } else {
            fit_humps(&[a, b, c, d, 0.0], &some, as_of, improvements, go_on)?
        };
        par = with_humps.parameters;
        value = with_humps.objective;
        evaluations += with_humps.evaluations;
    }
    if improvements.recent_changes {
        likeliest_recent_changes(&mut par, curves, as_of, go_on)?;
    } else {
        recent_changes(&mut par, curves, as_of, go_on)?;
    }
    Ok(UsageFit { parameters: par, objective: value, evaluations })
}

fn objective<const N: usize>(par: &UsageParameters, theta: &[f64; N], curves: &[&(&Curve, f64)], as_of: f64) -> f64 {
    let prior: f64 = 0.5 * theta.iter().map(|t| t * t).sum::<f64>();
    let fit: f64 = curves.iter().map(|(curve, level)| usage_level(curve, as_of, *level, par).log_likelihood).sum();
    prior - fit
}

fn fit_humps<const N: usize>(
    start: &[f64; N],
    curves: &[&(&Curve, f64)],
    as_of: f64,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<UsageFit, Cancelled> {
    let law = |theta: &[f64; N]| with_humps(theta, improvements);
    let found = coordinate_search(|theta| objective(&law(theta), theta, curves, as_of), start, 3, go_on)?;
    Ok(UsageFit { parameters: law(&found.theta), objective: found.value, evaluations: found.evaluations })
}

/// The law at a point of the search: the four of the plain model, the reversion, and with stops two more.
fn with_humps(theta: &[f64], improvements: Improvements) -> UsageParameters {
    let at = |i: usize| theta.get(i).copied().unwrap_or(0.0);
    let mut par = UsageParameters::at(&[at(0), at(1), at(2), at(3)]).with(improvements);
    par.reversion = (REVERSION.0 + REVERSION.1 * at(4)).clamp(0.0, 1.0);
    if improvements.stops {
        [par.stops_per_year, par.stop_days] =
            [(STOPS[0], at(5)), (STOPS[1], at(6))].map(|((middle, sd), theta)| middle * (sd * theta).exp());
    }
    par
}

/// Steps of the search for the rate of changes of late.
const STEPS: usize = 10;

/// The rate of changes of late by the likelihood itself, with the gamma prior: on a logarithmic scale
/// between a third of the long-run rate and the most that is believed, by golden sections (Kiefer 1953).
/// Iterating over expected changes, as the plain model does, ends long before it arrives where segments
/// tell little one by one.
fn likeliest_recent_changes(
    par: &mut UsageParameters,
    curves: &[(&Curve, f64)],
    as_of: f64,
    go_on: GoOn<'_>,
) -> Result<(), Cancelled> {
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let base = *par;
    let value = |log_rate: f64| {
        let rate = log_rate.exp();
        let law = UsageParameters { recent_hazard: rate, ..base };
        let fit: f64 = curves.iter().map(|(curve, level)| usage_level(curve, as_of, *level, &law).log_likelihood).sum();
        fit + 2.0 * base.change_hazard * log_rate - 2.0 * rate
    };
    let (mut low, mut high) = ((par.change_hazard / 3.0).ln(), MOST_CHANGES.ln());
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (value(a), value(b));
    for _ in 0..STEPS {
        if !go_on() {
            return Err(Cancelled);
        }
        if at_a >= at_b {
            high = b;
            (b, at_b) = (a, at_a);
            a = high - golden * (high - low);
            at_a = value(a);
        } else {
            low = a;
            (a, at_a) = (b, at_b);
            b = low + golden * (high - low);
            at_b = value(b);
        }
    }
    par.recent_hazard = (0.5 * (low + high)).exp();
    Ok(())
}

/// The rate of changes of late by iteration.
fn recent_changes(
    par: &mut UsageParameters,
    curves: &[(&Curve, f64)],
    as_of: f64,
    go_on: GoOn<'_>,
) -> Result<(), Cancelled> {
    for _ in 0..12 {
        if !go_on() {
            return Err(Cancelled);
        }
        let (mut years, mut changed) = (0.0, 0.0);
        for (curve, level) in curves {
            for (recent, chance) in usage_level(curve, as_of, *level, par).changes {
                if recent > 0.0 {
                    years += recent;
                    changed += chance;
                }
            }
        }
        let next = ((2.0 * par.change_hazard + changed) / (2.0 + years)).min(MOST_CHANGES);
        if (next - par.recent_hazard).abs() < 1e-6 {
            break;
        }
        par.recent_hazard = next;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::meter::Knot;
    use super::*;

    /// Repeatable chance between 0 and 1: the fractions of multiples of the golden section.
    fn chances(start: usize) -> impl Iterator<Item = f64> {
        (start..).map(|i| (i as f64 * 0.618_033_988_749_894_9).fract())
    }

    /// Spindles at 8 h, read every 35 days; each segment has lost so many of its 25 working days.
    fn curves(lost: impl Fn(usize) -> f64) -> Vec<(Curve, f64)> {
        let mut noise = chances(1);
        (0..40)
            .map(|spindle| {
                let mut knots = vec![Knot { day: 0.0, sum: 0.0, work: 0.0 }];
                for i in 0..40 {
                    let scatter = 1.0 + 0.3 * (noise.next().unwrap() - 0.5);
                    let made = 8.0 * scatter * (25.0 - lost(40 * spindle + i));
                    let next = (i + 1) as f64;
                    knots.push(Knot { day: 35.0 * next, sum: knots[i].sum + made, work: 25.0 * next });
                }
                (Curve::through(&knots), 8.0)
            })
            .collect()
    }

    fn fitted(curves: &[(Curve, f64)]) -> UsageParameters {
        let curves: Vec<(&Curve, f64)> = curves.iter().map(|(curve, level)| (curve, *level)).collect();
        fit_usage(&curves, 1_400.0, Improvements::all(), &|| true).unwrap().parameters
    }

    #[test]
    fn stops_are_found_where_they_are_and_only_there() {
        // one segment in 17, exponential with a mean of ten days
        let drawn: Vec<f64> = chances(7).take(1_600).map(|c| -10.0 * (1.0 - c).ln()).collect();
        let with = fitted(&curves(|i| if i % 17 == 5 { drawn[i].min(24.0) } else { 0.0 }));
        let true_rate = 365.0 / 35.0 / 17.0;
        assert!((0.5..2.0).contains(&(with.stops_per_year / true_rate)), "{with:?}");
        assert!((5.0..20.0).contains(&with.stop_days), "{with:?}");
        let without = fitted(&curves(|_| 0.0));
        assert!(without.stops_per_year < 0.3 * with.stops_per_year, "{without:?} {with:?}");
    }
}
