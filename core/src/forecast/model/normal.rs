//! Normal distribution: what the crossing law and the likelihoods need.

use statrs::function::erf::erfc;
use std::f64::consts::{PI, SQRT_2};

/// Probability that a standard normal variable lies below z.
#[must_use]
pub fn cdf(z: f64) -> f64 {
    0.5 * erfc(-z / SQRT_2)
}

/// Logarithm of the normal density of a residual with a variance.
#[must_use]
pub fn log_density(residual: f64, variance: f64) -> f64 {
    -0.5 * ((2.0 * PI * variance).ln() + residual * residual / variance)
}

/// Logarithm of [`cdf`], safe far in the lower tail: below -12 by the asymptotic series of Mills'
/// ratio (Abramowitz and Stegun 26.2.12), three terms.
#[must_use]
pub fn log_cdf(z: f64) -> f64 {
    if z > -12.0 {
        return cdf(z).max(1e-300).ln();
    }
    let t = 1.0 / (z * z);
    -0.5 * z * z - (-z).ln() - 0.5 * (2.0 * PI).ln() + (-t + 3.0 * t * t - 15.0 * t.powi(3)).ln_1p()
}
