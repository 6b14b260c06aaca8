//! Leaving a band with a Gaussian level and a rate of any sign: setting dimension, restorable level.

use super::filter::{STEP_LASTING, STEP_MEAN, STEP_SD};
use super::normal::cdf;

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

/// Points of the running maximum.
const POINTS: usize = 257;

/// The running maximum of the probability of being outside, tabulated to the end of the horizon.
#[derive(Debug, Clone, PartialEq)]
pub struct OutTable {
    x: Vec<f64>,
    probability: Vec<f64>,
}

impl GaussianCrossing {
    /// Probability of being outside at an exposure.
    #[must_use]
    pub fn outside(&self, x: f64) -> f64 {
        let mean = self.level - self.rate * x;
        let spread = self.level_variance - 2.0 * self.covariance * x
            + self.rate_variance * x * x
            + self.q * x
            + (self.rate * self.rate + self.rate_variance) * x * x * self.usage_variance;
        let variance = spread.max(1e-12);
        let per_sd = 1.0 / variance.sqrt();
        let mut p = 0.0;
        if let Some(low) = self.low {
            p += phi((low - mean) * per_sd);
            if self.step_hazard > 0.0 {
                let hit = -(-self.step_hazard * x).exp_m1();
                let with_step = (variance + (STEP_LASTING * STEP_LASTING + 0.09) * STEP_SD * STEP_SD).sqrt();
                p = p.max((1.0 - hit) * p + hit * phi((low - mean + STEP_LASTING * STEP_MEAN) / with_step));
            }
        }
        if let Some(high) = self.high {
            p += phi((mean - high) * per_sd);
        }
        p.min(1.0)
    }

    /// The running maximum up to an end, at 257 points that stand closer near the start.
    #[must_use]
    pub fn table(&self, end: f64) -> OutTable {
        let x: Vec<f64> = (0..POINTS).map(|i| end * (i as f64 / (POINTS - 1) as f64).powi(2)).collect();
        let mut highest: f64 = 0.0;
        let probability = x
            .iter()
            .map(|x| {
                highest = highest.max(self.outside(*x));
                highest
            })
            .collect();
        OutTable { x, probability }
    }

    /// Running maximum on the way to an exposure (65 points).
    #[must_use]
    pub fn cdf(&self, x: f64) -> f64 {
        (0..65).map(|i| self.outside(x * (f64::from(i) / 64.0).powi(2))).fold(0.0, f64::max)
    }
}

impl OutTable {
    /// The share that has left by an exposure, straight between the points.
    #[must_use]
    pub fn chance_by(&self, x: f64) -> f64 {
        let i = self.x.partition_point(|known| *known <= x);
        let (Some(x0), Some(f0)) = (self.x.get(i.wrapping_sub(1)), self.probability.get(i.wrapping_sub(1))) else {
            return self.probability.first().copied().unwrap_or(0.0);
        };
        match (self.x.get(i), self.probability.get(i)) {
            (Some(x1), Some(f1)) => f0 + (f1 - f0) * (x - x0) / (x1 - x0),
            _ => *f0,
        }
    }

    /// Exposure by which the share p has left; zero where that is so already, `None` beyond the end.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        if *self.probability.first()? >= p {
            return Some(0.0);
        }
        let i = self.probability.partition_point(|f| *f < p);
        let (x1, f1) = (*self.x.get(i)?, *self.probability.get(i)?);
        let (x0, f0) = (*self.x.get(i - 1)?, *self.probability.get(i - 1)?);
        Some(x0 + (p - f0) / (f1 - f0) * (x1 - x0))
    }
}
