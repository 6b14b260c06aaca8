//! Leaving a band with a Gaussian level and a rate of any sign: setting dimension, restorable level.

use super::filter::{STEP_LASTING, STEP_MEAN, STEP_SD};
use super::normal::cdf;
use super::out_table::OutTable;

/// What a Gaussian law is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussianCrossing {
    /// Level now.
    pub level: f64,
    /// Its variance.
    pub level_variance: f64,
    /// Loss per unit of exposure.
    pub rate: f64,
    /// Its variance.
    pub rate_variance: f64,
    /// Covariance of both.
    pub covariance: f64,
    /// Wiener variance per unit of exposure.
    pub q: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Variance of the logarithm of usage.
    pub usage_variance: f64,
    /// Hazard of a step whose lasting part may come first; lower limit only.
    pub step_hazard: f64,
}

/// The normal distribution; beyond this many standard deviations nothing is left to count.
const NOTHING_LEFT: f64 = 9.0;

fn phi(z: f64) -> f64 {
    if z < -NOTHING_LEFT {
        0.0
    } else if z > NOTHING_LEFT {
        1.0
    } else {
        cdf(z)
    }
}

/// One edge of the band: the normal distribution of the score (a + r x)/sqrt(Q(x)), with
/// Q(x) = v + b x + c x^2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    a: f64,
    r: f64,
    spread: [f64; 3],
    /// Where the score turns; `None` where it never does.
    pub(super) turn: Option<f64>,
}

impl Term {
    fn of(a: f64, r: f64, spread: [f64; 3]) -> Self {
        let [at_start, along] = Self::sign(a, r, spread);
        let turn = -at_start / along;
        Self { a, r, spread, turn: turn.is_finite().then_some(turn) }
    }

    /// The derivative of the score has the sign of r Q - (a + r x) Q'/2, which is straight in x.
    fn sign(a: f64, r: f64, [v, b, c]: [f64; 3]) -> [f64; 2] {
        [r * v - 0.5 * a * b, 0.5 * r * b - a * c]
    }

    pub(super) fn rises_at(&self, x: f64) -> bool {
        let [at_start, along] = Self::sign(self.a, self.r, self.spread);
        at_start + along * x >= 0.0
    }

    pub(super) fn chance(&self, x: f64) -> f64 {
        let [v, b, c] = self.spread;
        phi((self.a + self.r * x) / (v + b * x + c * x * x).sqrt())
    }
}

/// Least variance that is reckoned with.
const LEAST_VARIANCE: f64 = 1e-12;
/// What the lasting part of a step adds to the variance.
const STEP_VARIANCE: f64 = (STEP_LASTING * STEP_LASTING + 0.09) * STEP_SD * STEP_SD;

impl GaussianCrossing {
    /// Probability of being outside at an exposure.
    #[must_use]
    pub fn outside(&self, x: f64) -> f64 {
        let mean = self.level - self.rate * x;
        let spread = self.level_variance - 2.0 * self.covariance * x
            + self.rate_variance * x * x
            + self.q * x
            + (self.rate * self.rate + self.rate_variance) * x * x * self.usage_variance;
        let variance = spread.max(LEAST_VARIANCE);
        let per_sd = 1.0 / variance.sqrt();
        let mut p = 0.0;
        if let Some(low) = self.low {
            p += phi((low - mean) * per_sd);
            if self.step_hazard > 0.0 {
                let hit = -(-self.step_hazard * x).exp_m1();
                let with_step = (variance + STEP_VARIANCE).sqrt();
                p = p.max((1.0 - hit) * p + hit * phi((low - mean + STEP_LASTING * STEP_MEAN) / with_step));
            }
        }
        if let Some(high) = self.high {
            p += phi((mean - high) * per_sd);
        }
        p.min(1.0)
    }

    /// The terms of [`GaussianCrossing::outside`] up to an end: lower edge, the same after a step, upper
    /// edge; `None` where the variance would have to be kept from falling to nothing.
    pub(super) fn terms(&self, end: f64) -> Option<[Option<Term>; 3]> {
        let v = self.level_variance;
        let b = self.q - 2.0 * self.covariance;
        let c = self.rate_variance + (self.rate * self.rate + self.rate_variance) * self.usage_variance;
        let deepest = if c > 0.0 { (-0.5 * b / c).clamp(0.0, end.max(0.0)) } else { end };
        let least = [0.0, deepest, end].map(|x| v + b * x + c * x * x).into_iter().fold(f64::INFINITY, f64::min);
        if least.is_nan() || least <= LEAST_VARIANCE {
            return None;
        }
        let stepped = self.low.filter(|_| self.step_hazard > 0.0);
        Some([
            self.low.map(|low| Term::of(low - self.level, self.rate, [v, b, c])),
            stepped
                .map(|low| Term::of(low - self.level + STEP_LASTING * STEP_MEAN, self.rate, [v + STEP_VARIANCE, b, c])),
            self.high.map(|high| Term::of(self.level - high, -self.rate, [v, b, c])),
        ])
    }

    /// The running maximum up to an end.
    #[must_use]
    pub fn table(&self, end: f64) -> OutTable {
        OutTable::of(self, end)
    }

    /// Running maximum on the way to an exposure (65 points).
    #[must_use]
    pub fn cdf(&self, x: f64) -> f64 {
        (0..65).map(|i| self.outside(x * (f64::from(i) / 64.0).powi(2))).fold(0.0, f64::max)
    }
}
