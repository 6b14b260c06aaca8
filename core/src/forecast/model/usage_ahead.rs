//! The mean usage from now to a crossing: the present humps, and the changes still to come.

use super::humps::{Change, Hump};
use super::usage::{MOST_VARIANCE, SEASON, UsageParameters};

/// One lognormal of a mixture: by how much usage differs from a reference level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogNormal {
    /// How likely it is.
    pub weight: f64,
    /// Mean of the logarithm of the ratio to the reference level.
    pub mean: f64,
    /// Variance of that logarithm.
    pub variance: f64,
}

/// The law of the mean usage over so many years, relative to `reference`.
///
/// For each hump: no change with the chance exp(-h T), the level wandering on (variance of a mean
/// over T: a third of that at T); else a first change at a moment t with the density h exp(-h t),
/// after which the level goes on as [`Change`] says. Over the share f = 1 - t/T that lies after it,
/// E f and E f^2 follow from the law of t; the mean over T has the moments
/// u + E f (u' - u), E f^2 V + Var f (u' - u)^2 and what is left of the present level's variance. Each is
/// taken as the lognormal about that level with the same relative variance, as the plain model takes its one
/// level: with the mean kept in place of the middle, errors were larger.
#[must_use]
pub fn usage_ahead(humps: &[Hump], middle: f64, reference: f64, years: f64, par: &UsageParameters) -> Vec<LogNormal> {
    let hazard = (par.change_hazard * years).max(1e-9);
    let unchanged = (-hazard).exp();
    // moments of the share of the time before the first change, given that there is one
    let before = 1.0 / hazard - unchanged / (1.0 - unchanged);
    let before_squared = 2.0 * before / hazard - unchanged / (1.0 - unchanged);
    let after = 1.0 - before;
    let after_squared = 1.0 - 2.0 * before + before_squared;
    let after_variance = (before_squared - before * before).max(0.0);
    let mut laws = Vec::with_capacity(2 * humps.len());
    for hump in humps {
        let wandering = par.wandering * years / 3.0 + SEASON * SEASON;
        laws.push(of_moments(hump.weight * unchanged, hump.level, hump.variance, wandering, reference));
        let change = Change::from(hump.level, middle, par);
        let step = change.level - hump.level;
        let follows = 1.0 - after * (1.0 - change.stays);
        let variance =
            follows * follows * hump.variance + after_squared * change.variance + after_variance * step * step;
        laws.push(of_moments(
            hump.weight * (1.0 - unchanged),
            hump.level + after * step,
            variance,
            wandering,
            reference,
        ));
    }
    laws
}

fn of_moments(weight: f64, level: f64, variance: f64, more: f64, reference: f64) -> LogNormal {
    let own = (variance / (level * level)).ln_1p().min(MOST_VARIANCE);
    LogNormal { weight, mean: (level / reference).ln(), variance: own + more }
}
