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
        let found = coordinate_search(
            |theta| objective(&with_humps(theta, improvements), theta, &some, as_of),
            &[a, b, c, d, 0.0],
            3,
            go_on,
        )?;
        par = with_humps(&found.theta, improvements);
        value = found.value;
        evaluations += found.evaluations;
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

fn with_humps(theta: &[f64; 5], improvements: Improvements) -> UsageParameters {
    let [a, b, c, d, reversion] = *theta;
    let mut par = UsageParameters::at(&[a, b, c, d]).with(improvements);
    par.reversion = (REVERSION.0 + REVERSION.1 * reversion).clamp(0.0, 1.0);
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
