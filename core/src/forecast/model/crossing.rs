//! First passage of the force below a limit, with rates that stay positive.

use super::filter::{Covariance, Mean, STEP_MEAN, STEP_SD};
use super::normal::{cdf as phi, log_cdf};
use super::rising::Rising;
use super::usage_ahead::LogNormal;

const NODES: usize = 13;

/// One rate of the mixture.
#[derive(Debug, Clone, Copy)]
struct Node {
    weight: f64,
    /// Rate per unit of the drift clock, usage error included.
    rate: f64,
    /// Expected margin above the limit, given the rate.
    margin: f64,
    /// Variance of the level, given the rate.
    variance: f64,
}

/// The law of the drift clock reading at which the force first lies below a limit.
///
/// L(G) = L0 - r G + sqrt(q) W(G), r lognormal, L0 given r normal. Given r the first passage is
/// inverse Gaussian (Chhikara and Folks 1989) with a Gaussian start; r is summed over 13 nodes. One
/// step drop may come first: hazard per unit of G, size N(9, 4^2).
#[derive(Debug, Clone)]
pub struct Crossing {
    nodes: [Node; NODES],
    q: f64,
    step_hazard: f64,
}

/// What a crossing law is made from.
#[derive(Debug, Clone, Copy)]
pub struct CrossingInput {
    /// Mean and variance of the logarithm of the rate.
    pub log_rate: (f64, f64),
    /// Variance of the logarithm of usage.
    pub usage_variance: f64,
    /// Wiener variance per unit of the drift clock.
    pub q: f64,
    /// The limit, percent of nominal.
    pub limit: f64,
    /// Steps per unit of the drift clock.
    pub step_hazard: f64,
}

impl Crossing {
    /// The law from the state of the filter.
    #[must_use]
    pub fn new(m: &Mean, p: &Covariance, input: &CrossingInput) -> Self {
        let (mb, vb) = input.log_rate;
        let vu = input.usage_variance;
        let vr = vb + vu;
        let share = if vr > 0.0 { vb / vr } else { 1.0 };
        let slope = if p[1][1] > 0.0 { p[0][1] / p[1][1] } else { 0.0 };
        let mean_rate = (mb + 0.5 * vb).exp();
        let z: [f64; NODES] = std::array::from_fn(|i| -4.2 + 8.4 * i as f64 / (NODES - 1) as f64);
        let raw = z.map(|z| (-0.5 * z * z).exp());
        let total: f64 = raw.iter().sum();
        let nodes = std::array::from_fn(|i| {
            let log_rate = mb + vr.sqrt() * z[i];
            let b = (mb + share * (log_rate - mb) + 0.5 * share * vu).exp();
            let b_variance = b * b * (share * vu).exp_m1();
            Node {
                weight: raw[i] / total,
                rate: log_rate.exp(),
                margin: m[0] + slope * (b - mean_rate) - input.limit,
                variance: (p[0][0] - slope * p[0][1]).max(1e-9) + slope * slope * b_variance,
            }
        });
        Self { nodes, q: input.q, step_hazard: input.step_hazard }
    }

    /// The same with usage as a mixture of lognormals in place of one; `input.usage_variance` is not
    /// looked at.
    ///
    /// The logarithm of the rate times usage is a mixture of normals then. Its nodes lie about its own
    /// mean and weigh what its density says (the trapezoidal rule, as for one normal). Given the product,
    /// the rate alone is a mixture of lognormals, of which the first two moments are taken.
    #[must_use]
    pub fn with_usage(m: &Mean, p: &Covariance, input: &CrossingInput, usage: &[LogNormal]) -> Self {
        let (mb, vb) = input.log_rate;
        let mean: f64 = usage.iter().map(|law| law.weight * law.mean).sum();
        let variance: f64 = usage.iter().map(|law| law.weight * (law.variance + (law.mean - mean).powi(2))).sum();
        let sd = (vb + variance).max(1e-12).sqrt();
        let slope = if p[1][1] > 0.0 { p[0][1] / p[1][1] } else { 0.0 };
        let mean_rate = (mb + 0.5 * vb).exp();
        let mut nodes = [Node { weight: 0.0, rate: 1.0, margin: 0.0, variance: 1e-9 }; NODES];
        let mut total = 0.0;
        for (i, node) in nodes.iter_mut().enumerate() {
            let log_rate = mb + mean + sd * (-4.2 + 8.4 * i as f64 / (NODES - 1) as f64);
            let (mut density, mut first, mut second) = (0.0, 0.0, 0.0);
            for law in usage {
                let both = (vb + law.variance).max(1e-12);
                let off = log_rate - mb - law.mean;
                let share = vb / both;
                let d = law.weight * (-0.5 * off * off / both).exp() / both.sqrt();
                let b = (mb + share * off + 0.5 * share * law.variance).exp();
                density += d;
                first += d * b;
                second += d * b * b * (share * law.variance).exp();
            }
            if density > 1e-300 {
                let b = first / density;
                let b_variance = (second / density - b * b).max(0.0);
                *node = Node {
                    weight: density,
                    rate: log_rate.exp(),
                    margin: m[0] + slope * (b - mean_rate) - input.limit,
                    variance: (p[0][0] - slope * p[0][1]).max(1e-9) + slope * slope * b_variance,
                };
                total += density;
            }
        }
        for node in &mut nodes {
            node.weight /= total;
        }
        Self { nodes, q: input.q, step_hazard: input.step_hazard }
    }

    /// Probability of having crossed by a reading of the drift clock.
    #[must_use]
    pub fn cdf(&self, g: f64) -> f64 {
        let g = g.max(0.0);
        let hit = -(-self.step_hazard * g).exp_m1();
        let total: f64 = self.nodes.iter().map(|node| node.weight * self.of_node(node, g, hit)).sum();
        total.min(1.0)
    }

    fn of_node(&self, node: &Node, g: f64, hit: f64) -> f64 {
        let Node { rate: r, margin: a, variance: v, .. } = *node;
        let s2 = v + self.q * g;
        let s = s2.sqrt();
        let mut f = phi((r * g - a) / s);
        if self.q > 1e-9 && g > 0.0 && f < 1.0 {
            let exponent = 2.0 * r * a / self.q + 2.0 * r * r * v / (self.q * self.q);
            let shift = a + 2.0 * r * v / self.q;
            let now = exponent + log_cdf(-(shift + r * g) / s);
            let start = exponent + log_cdf(-shift / v.sqrt());
            f = (f + (now.min(0.0).exp() - start.min(0.0).exp()).max(0.0)).min(1.0);
        }
        if hit > 0.0 {
            let stepped = phi((r * g - a + STEP_MEAN) / (s2 + STEP_SD * STEP_SD).sqrt());
            f = f.max((1.0 - hit) * f + hit * stepped);
        }
        f
    }

    /// For ascending or any shares: the smallest drift clock reading by which each has crossed;
    /// zero where that is so already, `None` beyond the end.
    #[must_use]
    pub fn quantiles<const N: usize>(&self, shares: &[f64; N], end: f64) -> [Option<f64>; N] {
        let mut rising = Rising::new(|g| self.cdf(g), end);
        // the middle first: it narrows the brackets of all others
        let mut found = [None; N];
        let mut order: [usize; N] = std::array::from_fn(|i| i);
        order.sort_by(|a, b| (shares[*a] - 0.5).abs().total_cmp(&(shares[*b] - 0.5).abs()));
        for i in order {
            found[i] = rising.reach(shares[i]);
        }
        found
    }

    /// One of [`Crossing::quantiles`].
    #[must_use]
    pub fn quantile(&self, share: f64, end: f64) -> Option<f64> {
        Rising::new(|g| self.cdf(g), end).reach(share)
    }
}
