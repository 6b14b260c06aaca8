//! The loss rate with a prior that keeps it positive.

use super::normal::exp;
use super::wide::wide;

const NODES: usize = 25;

/// Mean and variance of the logarithm of the rate.
///
/// The filter gives a rate N(m1, v1) from a prior N(m0, v0); its data therefore carry a Gaussian
/// likelihood of precision 1/v1 - 1/v0. The normal prior is replaced by the lognormal of the same
/// moments (mean at least `floor`); Newton for the mode, then a 25-node trapezoid.
#[must_use]
pub fn lognormal_rate(prior: (f64, f64), posterior: (f64, f64), floor: f64) -> (f64, f64) {
    let (mut m0, mut v0) = prior;
    let (m1, v1) = posterior;
    if m0 < floor {
        m0 = floor;
        v0 = v0.max(floor * floor * 0.25);
    }
    let s2 = (1.0 + v0 / (m0 * m0)).ln();
    let mu = m0.ln() - 0.5 * s2;
    let precision = 1.0 / v1 - 1.0 / v0;
    if precision <= 1e-9 / v0 {
        let m = m1.max(floor);
        let s2 = (1.0 + v1 / (m * m)).ln();
        return (m.ln() - 0.5 * s2, s2);
    }
    let likeliest = (m1 / v1 - m0 / v0) / precision;
    let mut t = m1.max(0.3 * m0).ln();
    for _ in 0..30 {
        let e = t.exp();
        let gradient = (t - mu) / s2 + precision * (e - likeliest) * e;
        let mut bend = 1.0 / s2 + precision * (2.0 * e - likeliest) * e;
        if bend <= 0.2 / s2 {
            bend = 1.0 / s2 + precision * e * e;
        }
        let step = (gradient / bend).clamp(-1.0, 1.0);
        t -= step;
        if step.abs() < 1e-12 {
            break;
        }
    }
    let e = t.exp();
    let bend = (1.0 / s2 + precision * (2.0 * e - likeliest) * e).max(0.5 / s2);
    let scale = 1.0 / bend.sqrt();
    let nodes: [f64; NODES] = std::array::from_fn(|i| t + scale * (-4.8 + 9.6 * i as f64 / (NODES - 1) as f64));
    let (mut weights, per_two_s2) = ([0.0; NODES], 0.5 / s2);
    wide(
        #[inline(always)]
        || {
            for i in 0..NODES {
                let (off, beside) = (nodes[i] - mu, exp(nodes[i]) - likeliest);
                weights[i] = -off * off * per_two_s2 - 0.5 * precision * beside * beside;
            }
            let top = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            for weight in &mut weights {
                *weight = exp(*weight - top);
            }
        },
    );
    let total: f64 = weights.iter().sum();
    let mean: f64 = nodes.iter().zip(weights).map(|(th, w)| w * th).sum::<f64>() / total;
    let variance: f64 = nodes.iter().zip(weights).map(|(th, w)| w * (th - mean).powi(2)).sum::<f64>() / total;
    (mean, variance.max(1e-12))
}
