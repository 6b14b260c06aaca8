//! A straight line through readings, held near the slope that was seen before.
//!
//! y = level + slope (k - k_mean), k in 1,000 run hours. With the abscissas centred the level is the
//! mean of the readings, with variance s²/n; the slope is the least-squares slope weighted against
//! what is known beforehand, N(b0, tau²): with many readings it is the least-squares slope, with one
//! it is b0. s² is pooled between the line's own residuals and those of the other lines of the shop,
//! which is where the degrees of freedom of Student's t come from.

use super::student::MOST_FREEDOM;

/// What is known of a slope before its readings are seen; per 1,000 run hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SlopePrior {
    pub(super) mean: f64,
    pub(super) sd: f64,
}

/// What is known of the scatter of readings about a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    pub(super) sd: f64,
    /// Degrees of freedom it counts for.
    pub(super) freedom: f64,
    /// Variance of the true value's own wandering, per 1,000 run hours.
    pub(super) wander: f64,
}

/// The line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Straight {
    k_mean: f64,
    level: f64,
    level_variance: f64,
    pub(super) slope: f64,
    slope_variance: f64,
    /// Clock of the last reading: from there on the true value wanders.
    k_last: f64,
    wander: f64,
    pub(super) freedom: usize,
}

impl Straight {
    /// The line through points (k, y); `None` without any.
    pub(super) fn through(points: &[(f64, f64)], prior: SlopePrior, scatter: Scatter) -> Option<Self> {
        if points.is_empty() {
            return None;
        }
        let count = points.len() as f64;
        let k_mean = points.iter().map(|(k, _)| k).sum::<f64>() / count;
        let level = points.iter().map(|(_, y)| y).sum::<f64>() / count;
        let square: f64 = points.iter().map(|(k, _)| (k - k_mean).powi(2)).sum();
        let product: f64 = points.iter().map(|(k, y)| (k - k_mean) * (y - level)).sum();
        let own_freedom = if points.len() > 2 && square > 0.0 { count - 2.0 } else { 0.0 };
        let own_sum: f64 = if own_freedom > 0.0 {
            let slope = product / square;
            points.iter().map(|(k, y)| (y - level - slope * (k - k_mean)).powi(2)).sum()
        } else {
            0.0
        };
        let freedom = own_freedom + scatter.freedom;
        let variance = (own_sum + scatter.freedom * scatter.sd.powi(2)) / freedom.max(1.0);
        let variance = variance.max(1e-6);
        let precision = 1.0 / prior.sd.powi(2).max(1e-9);
        let slope_variance = 1.0 / (square / variance + precision);
        let slope = (product / variance + prior.mean * precision) * slope_variance;
        let k_last = points.iter().map(|(k, _)| *k).fold(f64::MIN, f64::max);
        Some(Self {
            k_mean,
            level,
            level_variance: variance / count,
            slope,
            slope_variance,
            k_last,
            wander: scatter.wander,
            freedom: (freedom.round() as usize).clamp(1, MOST_FREEDOM),
        })
    }

    /// A line of which only a level at one moment is known, from elsewhere.
    pub(super) fn from_level(k: f64, level: f64, level_sd: f64, prior: SlopePrior, scatter: Scatter) -> Self {
        Self {
            k_mean: k,
            level,
            level_variance: level_sd.powi(2),
            slope: prior.mean,
            slope_variance: prior.sd.powi(2),
            k_last: k,
            wander: scatter.wander,
            freedom: (scatter.freedom.round() as usize).clamp(1, MOST_FREEDOM),
        }
    }

    /// Expected value at a clock.
    pub(super) fn mean(&self, k: f64) -> f64 {
        self.level + self.slope * (k - self.k_mean)
    }

    /// Its standard uncertainty there; `clock_sd` is that of the clock itself.
    pub(super) fn sd(&self, k: f64, clock_sd: f64) -> f64 {
        let away = k - self.k_mean;
        let wander = self.wander * (k - self.k_last).max(0.0);
        (self.level_variance + self.slope_variance * away * away + wander + (self.slope * clock_sd).powi(2)).sqrt()
    }

    /// Standard uncertainty of the slope.
    pub(super) fn slope_sd(&self) -> f64 {
        self.slope_variance.sqrt()
    }

    /// The clock at which the expected value is reached; `None` for a level line.
    pub(super) fn clock_at(&self, value: f64) -> Option<f64> {
        let k = self.k_mean + (value - self.level) / self.slope;
        k.is_finite().then_some(k)
    }

    /// The same line raised by so much.
    pub(super) fn with_level_at(&self, k: f64, level: f64) -> Self {
        Self { k_mean: k, level, k_last: k, ..*self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCATTER: Scatter = Scatter { sd: 1.0, freedom: 4.0, wander: 0.0 };

    #[track_caller]
    fn near(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-12, "{found}, expected {expected}");
    }

    #[test]
    fn one_reading_takes_the_slope_known_before() {
        let line = Straight::through(&[(2.0, 90.0)], SlopePrior { mean: -6.0, sd: 3.0 }, SCATTER).unwrap();
        near(line.mean(3.0), 84.0);
        // level variance 1, slope 9 x 1²
        near(line.sd(3.0, 0.0), 10.0_f64.sqrt());
        near(line.clock_at(78.0).unwrap(), 4.0);
        assert_eq!(line.freedom, 4);
    }

    #[test]
    fn readings_outweigh_it() {
        // k 0 1 2, y 96 91 88: mean 1 and 91 2/3; Sxx 2, Sxy -8; least-squares slope -4;
        // residuals 1/3 -2/3 1/3: sum of squares 2/3; s² = (2/3 + 4 x 1) / 5 = 14/15;
        // slope = (-8 / s² - 6/9) / (2 / s² + 1/9)
        let points = [(0.0, 96.0), (1.0, 91.0), (2.0, 88.0)];
        let line = Straight::through(&points, SlopePrior { mean: -6.0, sd: 3.0 }, SCATTER).unwrap();
        let variance = 14.0 / 15.0;
        near(line.slope, (-8.0 / variance - 6.0 / 9.0) / (2.0 / variance + 1.0 / 9.0));
        near(line.mean(1.0), 275.0 / 3.0);
        near(line.slope_sd(), (1.0 / (2.0 / variance + 1.0 / 9.0)).sqrt());
        assert_eq!(line.freedom, 5);
    }

    #[test]
    fn a_doubtful_clock_widens_it() {
        let line = Straight::from_level(0.0, 98.0, 2.0, SlopePrior { mean: -6.0, sd: 0.0 }, SCATTER);
        near(line.sd(1.0, 0.5), (4.0_f64 + 9.0).sqrt());
        assert!(Straight::through(&[], SlopePrior { mean: -6.0, sd: 3.0 }, SCATTER).is_none());
    }
}
