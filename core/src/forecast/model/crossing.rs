//! First passage of the force below a limit, with rates that stay positive.

use super::filter::{Covariance, Mean, STEP_MEAN, STEP_SD};
use super::normal::{FAR, bell, erfcx, exp, far_scaled_tail, log_cdf, scaled_tail};
use super::rising::{Closeness, Point, Rising};
use super::usage_ahead::LogNormal;
use super::wide::wide;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

const NODES: usize = 13;
/// Rates that are worked out at once.
const LANES: usize = 4;
/// So many times that; the last three rates weigh nothing.
const GROUPS: usize = NODES.div_ceil(LANES);
const PADDED: usize = GROUPS * LANES;

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

/// A rate that weighs nothing, at which nothing is near.
const NOTHING: Node = Node { weight: 0.0, rate: 1e3, margin: 1e3, variance: 1.0 };

/// Something of every rate: side by side, the processor takes them by fours, or by twos. It does so only
/// in plain loops without branches; `map` and `from_fn` are taken apart beforehand.
type PerNode = [f64; PADDED];
/// Something of a group of rates.
type PerLane = [f64; LANES];

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
    /// How the mirror images of each group of rates are reckoned with.
    mirrors: [Mirror; GROUPS],
    /// What lies below the limit from the start, and what does after a step: who has crossed has crossed. Nothing in the
    /// plain law.
    least: PerNode,
    least_stepped: PerNode,
    q: f64,
    step_hazard: f64,
    stays_crossed: bool,
    /// Laws that may hold instead, each with its chance; this one has the rest.
    others: Vec<(f64, Self)>,
}

/// What the level goes by besides its rate.
#[derive(Debug, Clone, Copy)]
struct Way {
    q: f64,
    step_hazard: f64,
    /// Whether who lies below the limit at the start counts as crossed for good. The closed form lets those who begin
    /// below it come back, so far below the limit the chance of having crossed falls with time.
    stays_crossed: bool,
}

/// How far from the limit the mirror images of a group of rates lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mirror {
    /// Always so far above it that their tail is its series.
    Far,
    /// Above it.
    Near,
    /// One begins below it, or there is no Wiener part: exponents could overflow.
    Below,
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

/// The normal distribution at a score of which the bell is known.
#[inline]
fn chance(z: f64, bell: f64) -> f64 {
    let tail = 0.5 * bell * erfcx(z.abs() * FRAC_1_SQRT_2);
    if z > 0.0 { 1.0 - tail } else { tail }
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
        Self::of(&nodes, Way { q: input.q, step_hazard: input.step_hazard, stays_crossed: false })
    }

    fn of(nodes: &[Node; NODES], way: Way) -> Self {
        // far above the limit, and without a weight
        let nothing = NOTHING;
        let of = |of: fn(&Node) -> f64| {
            let mut each = [of(&nothing); PADDED];
            for (value, node) in each.iter_mut().zip(nodes) {
                *value = of(node);
            }
            each
        };
        let [rate, margin, variance] = [|n: &Node| n.rate, |n: &Node| n.margin, |n: &Node| n.variance].map(of);
        Self::with_margins(of(|node| node.weight), rate, margin, variance, way)
    }

    fn with_margins(weight: PerNode, rate: PerNode, margin: PerNode, variance: PerNode, way: Way) -> Self {
        let Way { q, step_hazard, stays_crossed } = way;
        let (mut mirror, mut mirror_start, mut nearest) = ([0.0; PADDED], [0.0; PADDED], [0.0; PADDED]);
        let per_q = 1.0 / q.max(LEAST_Q);
        wide(
            #[inline(always)]
            || {
                for i in 0..PADDED {
                    mirror[i] = margin[i] + 2.0 * rate[i] * variance[i] * per_q;
                    let per_sd = 1.0 / variance[i].sqrt();
                    let z = if mirror[i] > 0.0 { mirror[i] * per_sd } else { 0.0 };
                    mirror_start[i] = bell(margin[i] * per_sd) * scaled_tail(z);
                    // z(g) = (r g + mirror)/sqrt(v + q g) is least where the level reaches the limit, at g = a/r
                    let least = (rate[i] * per_q * (margin[i] + rate[i] * variance[i] * per_q)).max(0.0);
                    nearest[i] = if margin[i] > 0.0 { 2.0 * least.sqrt() } else { z };
                }
            },
        );
        let mut mirrors = [Mirror::Below; GROUPS];
        for ((kind, mirror), nearest) in mirrors.iter_mut().zip(mirror.chunks(LANES)).zip(nearest.chunks(LANES)) {
            if q > LEAST_Q && mirror.iter().all(|mirror| *mirror >= 0.0) {
                *kind = if nearest.iter().all(|z| *z > FAR) { Mirror::Far } else { Mirror::Near };
            }
        }
        let (mut least, mut least_stepped) = ([0.0; PADDED], [0.0; PADDED]);
        // a level further above than a step reaches in the mean only comes nearer
        if stays_crossed && margin.iter().any(|margin| *margin < STEP_MEAN) {
            wide(
                #[inline(always)]
                || {
                    for i in 0..PADDED {
                        let d = -margin[i] / variance[i].sqrt();
                        let stepped = (STEP_MEAN - margin[i]) / (variance[i] + STEP_SD * STEP_SD).sqrt();
                        least[i] = chance(d, bell(d));
                        least_stepped[i] = chance(stepped, bell(stepped));
                    }
                },
            );
        }
        Self {
            weight,
            rate,
            margin,
            variance,
            mirror,
            mirror_start,
            mirrors,
            least,
            least_stepped,
            q,
            step_hazard,
            stays_crossed,
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
        let mut log_rate = [0.0; PADDED];
        for (i, log_rate) in log_rate.iter_mut().enumerate().take(NODES) {
            *log_rate = mb + mean + sd * (-4.2 + 8.4 * i as f64 / (NODES - 1) as f64);
        }
        let (mut density, mut first, mut second) = ([0.0; PADDED], [0.0; PADDED], [0.0; PADDED]);
        let mut rate = [0.0; PADDED];
        wide(
            #[inline(always)]
            || {
                for law in usage {
                    let both = (vb + law.variance).max(1e-12);
                    let (share, per_both) = (vb / both, 1.0 / both);
                    let height = law.weight * per_both.sqrt();
                    let middle = exp(mb + 0.5 * share * law.variance);
                    let widened = exp(share * law.variance);
                    for i in 0..PADDED {
                        let off = log_rate[i] - mb - law.mean;
                        let d = height * exp(-0.5 * off * off * per_both);
                        let b = middle * exp(share * off);
                        density[i] += d;
                        first[i] += d * b;
                        second[i] += d * b * b * widened;
                    }
                }
                for i in 0..PADDED {
                    rate[i] = exp(log_rate[i]);
                }
            },
        );
        let mut nodes = [NOTHING; NODES];
        let mut total = 0.0;
        for (i, node) in nodes.iter_mut().enumerate() {
            if density[i] > 1e-300 {
                let b = first[i] / density[i];
                let b_variance = (second[i] / density[i] - b * b).max(0.0);
                *node = Node {
                    weight: density[i],
                    rate: rate[i],
                    margin: m[0] + slope * (b - mean_rate) - input.limit,
                    variance: (p[0][0] - slope * p[0][1]).max(1e-9) + slope * slope * b_variance,
                };
                total += density[i];
            }
        }
        for node in &mut nodes {
            node.weight /= total;
        }
        Self::of(&nodes, Way { q: input.q, step_hazard: input.step_hazard, stays_crossed: true })
    }

    /// The law of a limit that lies higher by so much.
    #[must_use]
    pub fn with_limit_higher_by(&self, by: f64) -> Self {
        let mut margin = self.margin;
        for margin in &mut margin {
            *margin -= by;
        }
        let way = Way { q: self.q, step_hazard: self.step_hazard, stays_crossed: self.stays_crossed };
        let mut law = Self::with_margins(self.weight, self.rate, margin, self.variance, way);
        law.others = self.others.iter().map(|(weight, other)| (*weight, other.with_limit_higher_by(by))).collect();
        law
    }

    /// Probability of having crossed by a reading of the drift clock.
    #[must_use]
    pub fn cdf(&self, g: f64) -> f64 {
        self.at(g).value
    }

    /// That probability, how fast it rises there, and how that changes.
    fn at(&self, g: f64) -> Point {
        let own = self.at_alone(g);
        if self.others.is_empty() {
            return own;
        }
        let rest = 1.0 - self.others.iter().map(|(weight, _)| weight).sum::<f64>();
        self.others.iter().fold(own.scaled(rest), |sum, (weight, law)| sum.plus(&law.at_alone(g).scaled(*weight)))
    }

    fn at_alone(&self, g: f64) -> Point {
        let g = g.max(0.0);
        let (kept, hit) = (exp(-self.step_hazard * g), -(-self.step_hazard * g).exp_m1());
        let sums = wide(
            #[inline(always)]
            || {
                let mut sums = [[0.0; LANES]; 3];
                for (group, mirror) in self.mirrors.iter().enumerate() {
                    let start = |i: usize| self.mirror_start[i];
                    match mirror {
                        Mirror::Far => {
                            self.add_group(group, (g, kept, hit), &mut sums, |i, z, bell| {
                                bell * far_scaled_tail(z) - start(i)
                            });
                        }
                        Mirror::Near => {
                            self.add_group(group, (g, kept, hit), &mut sums, |i, z, bell| {
                                bell * scaled_tail(z) - start(i)
                            });
                        }
                        Mirror::Below => {
                            self.add_group(group, (g, kept, hit), &mut sums, |i, z, _| self.came_back(i, g, z))
                        }
                    }
                }
                sums
            },
        );
        let [value, slope, curvature] = sums.map(|each| each.iter().sum::<f64>());
        Point { at: g, value: f64::min(value, 1.0), slope, curvature }
    }

    /// Adds what the rates of a group add, each in its lane.
    #[inline(always)]
    fn add_group(
        &self,
        group: usize,
        (g, kept, hit): (f64, f64, f64),
        [value, slope, curvature]: &mut [PerLane; 3],
        came_back: impl Fn(usize, f64, f64) -> f64,
    ) {
        for lane in 0..LANES {
            let i = LANES * group + lane;
            let added = self.at_rate(i, g, (kept, hit), |z, bell| came_back(i, z, bell));
            value[lane] += self.weight[i] * added[0];
            slope[lane] += self.weight[i] * added[1];
            curvature[lane] += self.weight[i] * added[2];
        }
    }

    /// What one rate adds: the probability, its rise, and how that changes. Without a branch, so that it
    /// can be worked out for several at once.
    #[inline(always)]
    fn at_rate(&self, i: usize, g: f64, (kept, hit): (f64, f64), came_back: impl Fn(f64, f64) -> f64) -> [f64; 3] {
        let per_root = 1.0 / (2.0 * PI).sqrt();
        let (q, hazard) = (self.q, self.step_hazard);
        let s2 = self.variance[i] + q * g;
        let lost = self.rate[i] * g;
        let per_sd = 1.0 / s2.sqrt();
        let per_stepped_sd = 1.0 / (s2 + STEP_SD * STEP_SD).sqrt();
        // the score of the level, of its mirror image, and of the level after a step
        let d = (lost - self.margin[i]) * per_sd;
        let z = (lost + self.mirror[i]) * per_sd;
        let stepped = (lost - self.margin[i] + STEP_MEAN) * per_stepped_sd;
        let (bell_d, bell_stepped) = (bell(d), bell(stepped));
        let below_stepped = chance(stepped, bell_stepped);
        let is_least_stepped = below_stepped < self.least_stepped[i];
        let below_stepped = if is_least_stepped { self.least_stepped[i] } else { below_stepped };
        let came_back = came_back(z, bell_d);
        let comes_back = came_back > 0.0;
        let crossed = chance(d, bell_d) + if comes_back { came_back } else { 0.0 };
        let crossed = if crossed > 1.0 { 1.0 } else { crossed };
        let is_least = crossed < self.least[i];
        let crossed = if is_least { self.least[i] } else { crossed };
        // the scores move by so much, and that changes by so much
        let (per_s2, per_stepped_s2) = (per_sd * per_sd, per_stepped_sd * per_stepped_sd);
        let d_moves = self.rate[i] * per_sd - 0.5 * q * d * per_s2;
        let d_bends = -q * per_s2 * (d_moves - 0.25 * q * d * per_s2);
        let stepped_moves = self.rate[i] * per_stepped_sd - 0.5 * q * stepped * per_stepped_s2;
        let stepped_bends = -q * per_stepped_s2 * (stepped_moves - 0.25 * q * stepped * per_stepped_s2);
        // of the first passage; where no path comes back, of the level alone
        let passes = bell_d * per_root * (q * self.margin[i] + self.rate[i] * self.variance[i]) * per_s2 * per_sd;
        let lies = bell_d * per_root * d_moves;
        let density = if comes_back { passes } else { lies };
        let density = if is_least { 0.0 } else { density };
        let passes_moves = -passes * (d * d_moves + 1.5 * q * per_s2);
        let lies_moves = bell_d * per_root * (d_bends - d * d_moves * d_moves);
        let density_moves = if comes_back { passes_moves } else { lies_moves };
        let density_moves = if is_least { 0.0 } else { density_moves };
        let bell_stepped = if is_least_stepped { 0.0 } else { bell_stepped };
        let stepped_density = bell_stepped * per_root * stepped_moves;
        let stepped_density_moves = bell_stepped * per_root * (stepped_bends - stepped * stepped_moves * stepped_moves);
        // a step counts where it makes it worse
        let with_step = kept * crossed + hit * below_stepped;
        let more = below_stepped - crossed;
        let with_step_density = kept * (density + hazard * more) + hit * stepped_density;
        let with_step_density_moves = kept
            * (density_moves + 2.0 * hazard * (stepped_density - density) - hazard * hazard * more)
            + hit * stepped_density_moves;
        let is_worse = with_step > crossed;
        [
            if is_worse { with_step } else { crossed },
            if is_worse { with_step_density } else { density },
            if is_worse { with_step_density_moves } else { density_moves },
        ]
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

    /// The law before any exposure: nothing has come back yet, and no step has come.
    fn start(&self) -> Point {
        let alone = |law: &Self| {
            let sums = wide(
                #[inline(always)]
                || {
                    let mut sums = [0.0; LANES];
                    for group in 0..GROUPS {
                        for (lane, sum) in sums.iter_mut().enumerate() {
                            let i = LANES * group + lane;
                            let d = -law.margin[i] / law.variance[i].sqrt();
                            *sum += law.weight[i] * chance(d, bell(d));
                        }
                    }
                    sums
                },
            );
            sums.iter().sum::<f64>().min(1.0)
        };
        let others = self.others.iter().map(|(weight, law)| weight * (alone(law) - alone(self)));
        let value = alone(self) + others.sum::<f64>();
        Point { at: 0.0, value, slope: 0.0, curvature: 0.0 }
    }

    /// For ascending or any shares: the smallest drift clock reading by which each has crossed;
    /// zero where that is so already, `None` beyond the end.
    #[must_use]
    pub fn quantiles<const N: usize>(&self, shares: &[f64; N], end: f64) -> [Option<f64>; N] {
        self.quantiles_near(shares, end, None, Closeness::Exact)
    }

    /// The same so closely, where it may be known about where the middle lies: that spares evaluations.
    #[must_use]
    pub fn quantiles_near<const N: usize>(
        &self,
        shares: &[f64; N],
        end: f64,
        middle: Option<f64>,
        closeness: Closeness,
    ) -> [Option<f64>; N] {
        let middle = middle.filter(|middle| *middle > 0.0).unwrap_or_else(|| self.middle());
        let mut rising = Rising::new(|g| self.at(g), self.start(), middle, end, closeness);
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
        let [found] = self.quantiles(&[share], end);
        found
    }
}

#[cfg(test)]
#[path = "crossing_tests.rs"]
mod tests;
