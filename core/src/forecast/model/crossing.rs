//! First passage of the force below a limit, with rates that stay positive.

use super::filter::{Covariance, Mean, STEP_MEAN, STEP_SD};
use super::normal::{erfcx, log_cdf, scaled_tail};
use super::rising::{Point, Rising};
use super::usage_ahead::LogNormal;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

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

/// Something of every rate: side by side, the processor takes them by twos.
type PerNode = [f64; NODES];

/// Below this the Wiener part is taken for nothing, and no path comes back.
const LEAST_Q: f64 = 1e-9;

/// The law of the drift clock reading at which the force first lies below a limit.
///
/// L(G) = L0 - r G + sqrt(q) W(G), r lognormal, L0 given r normal. Given r the first passage is
/// inverse Gaussian (Chhikara and Folks 1989) with a Gaussian start; r is summed over 13 nodes. One
/// step drop may come first: hazard per unit of G, size N(9, 4^2).
///
/// Given r, margin a and variance v of the start, and s^2 = v + q G, the chance is
/// `Phi(d) + exp(-d^2/2) m(z)` less the latter at G = 0, with m(z) = exp(z^2/2) Phi(-z), where d = (r G - a)/s and
/// z = (r G + a + 2 r v/q)/s: the usual form, its two exponents added up beforehand. Its derivative
/// is `phi(d) (q a + r v)/s^3`.
#[derive(Debug, Clone)]
pub struct Crossing {
    weight: PerNode,
    rate: PerNode,
    margin: PerNode,
    variance: PerNode,
    /// Margin of the mirror image, by which paths are counted that crossed and came back.
    mirror: PerNode,
    /// What of the mirror image lies below the limit from the start.
    mirror_start: PerNode,
    /// No mirror image begins below the limit: no exponent can overflow.
    is_plain: bool,
    q: f64,
    step_hazard: f64,
    /// Laws that may hold instead, each with its chance; this one has the rest.
    others: Vec<(f64, Self)>,
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

fn bell(z: f64) -> f64 {
    (-0.5 * z * z).exp()
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
        let z: PerNode = std::array::from_fn(|i| -4.2 + 8.4 * i as f64 / (NODES - 1) as f64);
        let raw = z.map(bell);
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
        Self::of(&nodes, input.q, input.step_hazard)
    }

    fn of(nodes: &[Node; NODES], q: f64, step_hazard: f64) -> Self {
        let [rate, margin, variance] =
            [|n: &Node| n.rate, |n: &Node| n.margin, |n: &Node| n.variance].map(|of| nodes.each_ref().map(of));
        let mirror: PerNode = std::array::from_fn(|i| margin[i] + 2.0 * rate[i] * variance[i] / q.max(LEAST_Q));
        let mirror_start = std::array::from_fn(|i| {
            let per_sd = 1.0 / variance[i].sqrt();
            bell(margin[i] * per_sd) * scaled_tail(mirror[i].max(0.0) * per_sd)
        });
        Self {
            weight: nodes.each_ref().map(|node| node.weight),
            rate,
            margin,
            variance,
            mirror,
            mirror_start,
            is_plain: q > LEAST_Q && mirror.iter().all(|mirror| *mirror >= 0.0),
            q,
            step_hazard,
            others: Vec::new(),
        }
    }

    /// The mixture of some laws, each with its chance; `None` of none.
    #[must_use]
    pub fn mixed(laws: impl IntoIterator<Item = (f64, Self)>) -> Option<Self> {
        let mut laws: Vec<(f64, Self)> = laws.into_iter().collect();
        let (_, mut first) = laws.pop()?;
        first.others = laws;
        Some(first)
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
        let log_rate: PerNode = std::array::from_fn(|i| mb + mean + sd * (-4.2 + 8.4 * i as f64 / (NODES - 1) as f64));
        let (mut density, mut first, mut second) = ([0.0; NODES], [0.0; NODES], [0.0; NODES]);
        for law in usage {
            let both = (vb + law.variance).max(1e-12);
            let (share, per_both) = (vb / both, 1.0 / both);
            let height = law.weight * per_both.sqrt();
            let middle = (mb + 0.5 * share * law.variance).exp();
            let widened = (share * law.variance).exp();
            for i in 0..NODES {
                let off = log_rate[i] - mb - law.mean;
                let d = height * (-0.5 * off * off * per_both).exp();
                let b = middle * (share * off).exp();
                density[i] += d;
                first[i] += d * b;
                second[i] += d * b * b * widened;
            }
        }
        let mut nodes = [Node { weight: 0.0, rate: 1.0, margin: 0.0, variance: 1e-9 }; NODES];
        let mut total = 0.0;
        for (i, node) in nodes.iter_mut().enumerate() {
            if density[i] > 1e-300 {
                let b = first[i] / density[i];
                let b_variance = (second[i] / density[i] - b * b).max(0.0);
                *node = Node {
                    weight: density[i],
                    rate: log_rate[i].exp(),
                    margin: m[0] + slope * (b - mean_rate) - input.limit,
                    variance: (p[0][0] - slope * p[0][1]).max(1e-9) + slope * slope * b_variance,
                };
                total += density[i];
            }
        }
        for node in &mut nodes {
            node.weight /= total;
        }
        Self::of(&nodes, input.q, input.step_hazard)
    }

    /// The law of a limit that lies higher by so much.
    #[must_use]
    pub fn with_limit_higher_by(&self, by: f64) -> Self {
        let nodes = std::array::from_fn(|i| Node {
            weight: self.weight[i],
            rate: self.rate[i],
            margin: self.margin[i] - by,
            variance: self.variance[i],
        });
        let mut law = Self::of(&nodes, self.q, self.step_hazard);
        law.others = self.others.iter().map(|(weight, other)| (*weight, other.with_limit_higher_by(by))).collect();
        law
    }

    /// Probability of having crossed by a reading of the drift clock.
    #[must_use]
    pub fn cdf(&self, g: f64) -> f64 {
        self.at(g).value
    }

    /// That probability, and how fast it rises there.
    fn at(&self, g: f64) -> Point {
        let own = self.at_alone(g);
        if self.others.is_empty() {
            return own;
        }
        let rest = 1.0 - self.others.iter().map(|(weight, _)| weight).sum::<f64>();
        self.others.iter().fold(
            Point { value: rest * own.value, slope: rest * own.slope, ..own },
            |sum, (weight, law)| {
                let point = law.at_alone(g);
                Point { value: sum.value + weight * point.value, slope: sum.slope + weight * point.slope, ..sum }
            },
        )
    }

    fn at_alone(&self, g: f64) -> Point {
        let g = g.max(0.0);
        // per node the score of the level, of its mirror image, and of the level after a step
        let (mut d, mut z, mut stepped) = ([0.0; NODES], [0.0; NODES], [0.0; NODES]);
        let (mut per_sd, mut per_stepped_sd) = ([0.0; NODES], [0.0; NODES]);
        for i in 0..NODES {
            let s2 = self.variance[i] + self.q * g;
            let lost = self.rate[i] * g;
            per_sd[i] = 1.0 / s2.sqrt();
            per_stepped_sd[i] = 1.0 / (s2 + STEP_SD * STEP_SD).sqrt();
            d[i] = (lost - self.margin[i]) * per_sd[i];
            z[i] = (lost + self.mirror[i]) * per_sd[i];
            stepped[i] = (lost - self.margin[i] + STEP_MEAN) * per_stepped_sd[i];
        }
        let (bell_d, bell_stepped) = (d.map(bell), stepped.map(bell));
        let chance = |z: f64, bell: f64| {
            let tail = 0.5 * bell * erfcx(z.abs() * FRAC_1_SQRT_2);
            if z > 0.0 { 1.0 - tail } else { tail }
        };
        let below: PerNode = std::array::from_fn(|i| chance(d[i], bell_d[i]));
        let below_stepped: PerNode = std::array::from_fn(|i| chance(stepped[i], bell_stepped[i]));
        let came_back: PerNode = if self.is_plain {
            std::array::from_fn(|i| bell_d[i] * scaled_tail(z[i]) - self.mirror_start[i])
        } else {
            std::array::from_fn(|i| self.came_back(i, g, z[i]))
        };
        let kept = (-self.step_hazard * g).exp();
        let hit = -(-self.step_hazard * g).exp_m1();
        let (mut value, mut slope) = (0.0, 0.0);
        let per_root = 1.0 / (2.0 * PI).sqrt();
        for i in 0..NODES {
            let crossed = (below[i] + came_back[i].max(0.0)).min(1.0);
            let s3 = per_sd[i] * per_sd[i] * per_sd[i];
            let density = bell_d[i] * per_root * (self.q * self.margin[i] + self.rate[i] * self.variance[i]) * s3;
            let with_step = kept * crossed + hit * below_stepped[i];
            if with_step > crossed {
                let moved = self.rate[i] - 0.5 * self.q * stepped[i] * per_stepped_sd[i];
                let stepped_density = bell_stepped[i] * per_root * moved * per_stepped_sd[i];
                value += self.weight[i] * with_step;
                slope += self.weight[i]
                    * (kept * (density + self.step_hazard * (below_stepped[i] - crossed)) + hit * stepped_density);
            } else {
                value += self.weight[i] * crossed;
                slope += self.weight[i] * density;
            }
        }
        Point { at: g, value: f64::min(value, 1.0), slope }
    }

    /// The chance of having crossed and come back at one rate, by logarithms: for states so far
    /// below the limit that a mirror image begins below it, and for no Wiener part at all.
    fn came_back(&self, i: usize, g: f64, z: f64) -> f64 {
        if self.q <= LEAST_Q || g <= 0.0 {
            return 0.0;
        }
        let (r, a, v) = (self.rate[i], self.margin[i], self.variance[i]);
        let exponent = 2.0 * r * a / self.q + 2.0 * r * r * v / (self.q * self.q);
        let now = exponent + log_cdf(-z);
        let start = exponent + log_cdf(-self.mirror[i] / v.sqrt());
        now.min(0.0).exp() - start.min(0.0).exp()
    }

    /// A guess of the middle: where the middle rate reaches the limit.
    fn middle(&self) -> f64 {
        self.margin[NODES / 2] / self.rate[NODES / 2]
    }

    /// For ascending or any shares: the smallest drift clock reading by which each has crossed;
    /// zero where that is so already, `None` beyond the end.
    #[must_use]
    pub fn quantiles<const N: usize>(&self, shares: &[f64; N], end: f64) -> [Option<f64>; N] {
        let mut rising = Rising::new(|g| self.at(g), self.middle(), end);
        // the middle first, then the ends: they narrow the brackets of all others
        let mut found = [None; N];
        let mut order: [usize; N] = std::array::from_fn(|i| i);
        let rank = |share: f64| if (share - 0.5).abs() < 0.1 { 1.0 } else { (share - 0.5).abs() };
        order.sort_by(|a, b| rank(shares[*b]).total_cmp(&rank(shares[*a])));
        for i in order {
            found[i] = rising.reach(shares[i]);
        }
        found
    }

    /// One of [`Crossing::quantiles`].
    #[must_use]
    pub fn quantile(&self, share: f64, end: f64) -> Option<f64> {
        Rising::new(|g| self.at(g), self.middle(), end).reach(share)
    }
}
