//! The state of one spindle and what exposure, services and readings do to it.

use super::normal::{density, log_density};
use super::parameters::{Parameters, at};
use super::undecided;

/// Variance of the restorable level per reference interval, percent squared.
pub const RESTORABLE_VARIANCE: f64 = 0.25;
/// Relative spread of the lasting loss rate between spindles.
const LASTING_SPREAD: f64 = 0.6;
/// A gross error may be anywhere in this range, percent of nominal.
const GROSS_RANGE: f64 = 200.0;
/// Chance of a step per reading besides the hazard: handling at a service.
pub(super) const STEP_CHANCE: f64 = 0.001;
/// Mean size of a step drop, percent of nominal.
pub const STEP_MEAN: f64 = 9.0;
/// Spread of its size.
pub const STEP_SD: f64 = 4.0;
/// Share of a step that a service does not restore.
pub const STEP_LASTING: f64 = 0.8;
/// Hypotheses lighter than this are dropped.
pub(super) const LEAST_WEIGHT: f64 = 1e-4;

/// Positions in the state.
const FORCE: usize = 0;
pub(super) const RATE: usize = 1;
const MEAN_RATE: usize = 2;
const RESTORABLE: usize = 3;
const LASTING: usize = 4;

/// A mean of five numbers.
pub type Mean = [f64; 5];
/// A covariance, five by five, symmetric.
pub type Covariance = [[f64; 5]; 5];

/// When a reading was taken, as far as the filter cares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occasion {
    /// On a round.
    Routine,
    /// Before a service.
    AsFound,
    /// After a service.
    AsLeft,
}

/// Which service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ServiceKind {
    /// Brings back the restorable level.
    Minor,
    /// New gripper or spring pack.
    Major,
}

/// One thing that happened to a spindle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// Exposure since the last service goes from one figure to another.
    Move {
        /// Before.
        from: f64,
        /// After.
        to: f64,
    },
    /// A service.
    Service(ServiceKind),
    /// A reading.
    Read {
        /// Percent of nominal.
        y: f64,
        /// How many strokes it is worth.
        strokes: f64,
        /// When.
        occasion: Occasion,
    },
}

/// What a reading was taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// An ordinary reading.
    Ok,
    /// It says nothing.
    Doubtful,
    /// The force dropped at once.
    Step,
    /// Somebody serviced it and did not say so.
    UnloggedService,
}

/// A reading as the filter saw it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// The reading, percent of nominal.
    pub y: f64,
    /// What was expected.
    pub expected: f64,
    /// Standardised innovation.
    pub z: f64,
    /// Weights of: normal, gross error, step, service not logged.
    pub weights: [f64; 4],
    /// The heaviest.
    pub verdict: Verdict,
}

/// The filter of one spindle: a Gaussian, updated in the order of events.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter<'a> {
    pub(super) parameters: &'a Parameters,
    /// Mean of the state.
    pub mean: Mean,
    /// Its covariance.
    pub covariance: Covariance,
    /// Mean and variance that the rate had at the last service.
    pub rate_prior: (f64, f64),
    /// Log marginal likelihood of all readings so far.
    pub log_likelihood: f64,
    /// Exposure since the last reading.
    pub(super) gap: f64,
    /// Exposure in all.
    pub exposure: f64,
    /// Exposure since the last service where the last move ended, and the drift clock there.
    pub(super) drifted: (f64, f64),
    pub(super) keeps_log: bool,
    /// Whether an undecided reading leaves states apart.
    pub(super) keeps_apart: bool,
    /// From the first undecided reading on, the states that may hold, each with its chance and each a
    /// filter of its own (`undecided.rs`); the mean and the covariance above are what one Gaussian makes
    /// of them.
    pub(super) bank: Vec<(f64, Self)>,
    /// Sums of the weights of all readings so far, in the order of [`Weighed::weights`].
    pub(super) counted: [f64; 4],
    /// Readings, oldest first; none after [`Filter::without_log`].
    pub log: Vec<Weighed>,
}

impl<'a> Filter<'a> {
    /// The start: new on its first day, or found mid-life.
    #[must_use]
    pub fn new(parameters: &'a Parameters, known_start: bool) -> Self {
        let par = parameters;
        let v = &par.variances;
        // E[s^2] given the mode of a lognormal spread, at most half as much again
        let widened = |i: usize| (2.0 * v[i]).exp().min(1.5);
        let mut mean = [par.a0, par.beta, par.beta, par.a0, par.delta];
        if par.improvements.unsure_rate {
            // beta exp(e) with e normal of this variance: mean and variance of a lognormal
            let unsure = v[at::BETA].min(1.0);
            mean[RATE] *= (0.5 * unsure).exp();
            mean[MEAN_RATE] = mean[RATE];
        }
        let mut p: Covariance = [[0.0; 5]; 5];
        let mean_rate = par.beta * par.beta * (par.cvu * par.cvu * widened(at::CVU) + v[at::BETA]);
        let mean_rate = if par.improvements.unsure_rate {
            let own = 1.0 + par.cvu * par.cvu * widened(at::CVU);
            mean[MEAN_RATE].powi(2) * (own * v[at::BETA].min(1.0).exp() - 1.0)
        } else {
            mean_rate
        };
        let rate = (par.cvv * par.beta).powi(2) * widened(at::CVV);
        let level = par.sa * par.sa * widened(at::SA) + v[at::A0];
        p[MEAN_RATE][MEAN_RATE] = mean_rate;
        p[RATE][MEAN_RATE] = mean_rate;
        p[MEAN_RATE][RATE] = mean_rate;
        p[RATE][RATE] = mean_rate + rate;
        p[RESTORABLE][RESTORABLE] = level;
        p[FORCE][RESTORABLE] = level;
        p[RESTORABLE][FORCE] = level;
        p[FORCE][FORCE] = level + par.sr * par.sr;
        p[LASTING][LASTING] = par.delta * par.delta * (LASTING_SPREAD * LASTING_SPREAD + v[at::DELTA].min(0.5));
        if !known_start {
            mean[FORCE] -= 5.0;
            mean[RESTORABLE] -= 2.0;
            p[FORCE][FORCE] += 36.0;
            p[RESTORABLE][RESTORABLE] += 9.0;
            p[FORCE][RESTORABLE] += 9.0;
            p[RESTORABLE][FORCE] += 9.0;
        }
        Self {
            parameters,
            rate_prior: (mean[RATE], p[RATE][RATE]),
            mean,
            covariance: p,
            log_likelihood: 0.0,
            gap: 0.0,
            exposure: 0.0,
            drifted: (0.0, 0.0),
            keeps_log: true,
            keeps_apart: par.improvements.undecided_readings && par.is_robust,
            bank: Vec::new(),
            counted: [0.0; 4],
            log: Vec::new(),
        }
    }

    /// The same where only the likelihood or the state is asked for.
    #[must_use]
    pub fn without_log(mut self) -> Self {
        self.keeps_log = false;
        self.keeps_apart = false;
        self
    }

    /// All events in order.
    #[must_use]
    pub fn run(mut self, events: &[Event]) -> Self {
        for event in events {
            self.apply(event);
        }
        self
    }

    /// One event.
    pub fn apply(&mut self, event: &Event) {
        if self.keeps_apart {
            undecided::apply(self, event);
        } else {
            self.apply_alone(event);
        }
    }

    /// One event, seen by this one Gaussian.
    pub(super) fn apply_alone(&mut self, event: &Event) {
        match *event {
            Event::Move { from, to } => self.expose(from, to),
            Event::Service(kind) => self.service(kind),
            Event::Read { y, strokes, occasion } => self.read(y, strokes, occasion),
        }
    }

    /// Exposure since the last service goes from s0 to s1: L -= b g, var L += q g, C -= D x.
    fn expose(&mut self, s0: f64, s1: f64) {
        let x = (s1 - s0).max(0.0);
        if x <= 0.0 {
            return;
        }
        let par = self.parameters;
        let (from, before) = self.drifted;
        let before = if from.to_bits() == s0.to_bits() { before } else { s0.powf(par.p) };
        let after = s1.powf(par.p);
        self.drifted = (s1, after);
        let g = after - before;
        let m = &mut self.mean;
        m[FORCE] -= g * m[RATE];
        m[RESTORABLE] -= x * m[LASTING];
        subtract_multiple(&mut self.covariance, FORCE, RATE, g);
        subtract_multiple(&mut self.covariance, RESTORABLE, LASTING, x);
        self.covariance[FORCE][FORCE] += par.q * g;
        self.covariance[RESTORABLE][RESTORABLE] += RESTORABLE_VARIANCE * x;
        self.gap += x;
        self.exposure += x;
    }

    /// The drift clock where the last move ended.
    pub(crate) const fn drift_clock(&self) -> f64 {
        self.drifted.1
    }

    fn service(&mut self, kind: ServiceKind) {
        let par = self.parameters;
        if kind == ServiceKind::Major {
            self.mean[RESTORABLE] = par.a0;
            clear(&mut self.covariance, RESTORABLE);
            self.covariance[RESTORABLE][RESTORABLE] = par.sa * par.sa + par.variances[at::A0];
            self.covariance[MEAN_RATE][MEAN_RATE] += (0.2 * self.mean[MEAN_RATE].max(0.25 * par.beta)).powi(2);
        }
        (self.mean, self.covariance) = restored(par, &self.mean, &self.covariance);
        self.rate_prior = (self.mean[RATE], self.covariance[RATE][RATE]);
    }

    /// Variance of a reading worth so many strokes about the force now, percent squared:
    /// R = (sb^2 + ss^2 / n) (L / 100)^2.
    #[must_use]
    pub fn reading_variance(&self, strokes: f64) -> f64 {
        let par = self.parameters;
        let scale = if par.is_proportional { self.mean[FORCE].clamp(50.0, 110.0) / 100.0 } else { 1.0 };
        (par.sb * par.sb + par.ss * par.ss / strokes) * scale * scale
    }

    /// A reading, weighed under four hypotheses and collapsed to one Gaussian by moments.
    pub(super) fn read(&mut self, y: f64, strokes: f64, occasion: Occasion) {
        let weighing = self.weigh(y, strokes, occasion);
        self.take(&weighing);
    }

    /// The weights of four hypotheses about a reading; the chance of the reading needs no more than the force.
    pub(super) fn weigh(&self, y: f64, strokes: f64, occasion: Occasion) -> Weighing {
        let par = self.parameters;
        let (m, p) = (&self.mean, &self.covariance);
        let noise = self.reading_variance(strokes);
        let innovation = y - m[FORCE];
        let variance = p[FORCE][FORCE] + noise;
        let z = innovation / variance.sqrt();
        let mut weighed = Weighed { y, expected: m[FORCE], z, weights: [1.0, 0.0, 0.0, 0.0], verdict: Verdict::Ok };
        if !par.is_robust {
            return Weighing { noise, log_chance: log_density(innovation, variance), weighed };
        }
        let step_chance = self.step_chance();
        let unlogged_chance = if occasion == Occasion::AsLeft { 0.0 } else { par.unlogged_chance };
        let normal_chance = 1.0 - par.gross_chance - step_chance - unlogged_chance;
        let mut weights = [normal_chance * density(innovation, variance), par.gross_chance / GROSS_RANGE, 0.0, 0.0];
        if innovation < 0.0 {
            weights[2] = step_chance * density(innovation + STEP_MEAN, variance + STEP_SD * STEP_SD);
        } else if unlogged_chance > 0.0 {
            let restored = p[RESTORABLE][RESTORABLE] + par.sr * par.sr + noise;
            weights[3] = unlogged_chance * density(y - m[RESTORABLE], restored);
        }
        let total: f64 = weights.iter().sum();
        weighed.weights = weights.map(|w| w / total);
        weighed.verdict = heaviest(&weighed.weights);
        Weighing { noise, log_chance: total.ln(), weighed }
    }

    /// Takes a reading as it was weighed.
    ///
    /// What the reading makes of each hypothesis is worked out only where it weighs enough to count.
    pub(super) fn take(&mut self, Weighing { noise, log_chance, weighed }: &Weighing) {
        self.log_likelihood += log_chance;
        let reading = Reading { y: weighed.y, noise: *noise };
        let kept = weighed.weights.map(|w| if w >= LEAST_WEIGHT { w } else { 0.0 });
        let sum: f64 = kept.iter().sum();
        self.collapse(&reading, &kept.map(|w| w / sum));
        if weighed.weights[3] > 0.5 {
            self.rate_prior = (self.mean[RATE], self.covariance[RATE][RATE]);
        }
        self.gap = 0.0;
        self.count(&weighed.weights);
        if self.keeps_log {
            self.log.push(*weighed);
        }
    }

    /// Prior chance of a step drop since the last reading.
    pub(super) fn step_chance(&self) -> f64 {
        (STEP_CHANCE + 1.0 - (-self.parameters.step_hazard * self.gap).exp()).min(0.5)
    }

    /// Adds the weights of a reading to those counted.
    pub(super) fn count(&mut self, weights: &[f64; 4]) {
        for (sum, weight) in self.counted.iter_mut().zip(weights) {
            *sum += weight;
        }
    }

    /// The mean and covariance of the mixture: of the state updated, of the state as it was (a gross
    /// error), and of the state updated after a step or a service.
    ///
    /// An update moves the mean along the gain k and takes `k k^T s` off the covariance, and so does
    /// all that the first two have between them: one term in place of two matrices.
    pub(super) fn collapse(&mut self, reading: &Reading, &[normal, _, step, unlogged]: &[f64; 4]) {
        let (m, p) = (self.mean, self.covariance);
        let s = p[FORCE][FORCE] + reading.noise;
        let innovation = reading.y - m[FORCE];
        let gain: Mean = p[FORCE].map(|covariance| covariance / s);
        let along = normal * innovation;
        let spread = normal * (innovation * innovation - s);
        if step <= 0.0 && unlogged <= 0.0 {
            self.mean = std::array::from_fn(|i| m[i] + gain[i] * along);
            let factor = spread - along * along;
            self.covariance = symmetric(|i, j| p[i][j] + gain[i] * gain[j] * factor);
            return;
        }
        let (weight, before) =
            if step > 0.0 { (step, after_step(&m, &p)) } else { (unlogged, restored(self.parameters, &m, &p)) };
        let (mean, covariance) = before;
        let other_s = covariance[FORCE][FORCE] + reading.noise;
        let other_gain: Mean = covariance[FORCE].map(|covariance| covariance / other_s);
        let other_innovation = reading.y - mean[FORCE];
        let off: Mean = std::array::from_fn(|i| mean[i] + other_gain[i] * other_innovation - m[i]);
        let shift: Mean = std::array::from_fn(|i| along * gain[i] + weight * off[i]);
        self.mean = std::array::from_fn(|i| m[i] + shift[i]);
        self.covariance = symmetric(|i, j| {
            let other = covariance[i][j] - other_gain[i] * other_gain[j] * other_s + off[i] * off[j];
            (1.0 - weight) * p[i][j] + spread * gain[i] * gain[j] + weight * other - shift[i] * shift[j]
        });
    }
}

/// A reading as it was weighed, before it is taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighing {
    /// Variance of its scatter.
    noise: f64,
    /// Logarithm of the density of what was read.
    log_chance: f64,
    pub(super) weighed: Weighed,
}

/// A reading and the variance of its scatter.
pub(super) struct Reading {
    pub(super) y: f64,
    pub(super) noise: f64,
}

fn heaviest(weights: &[f64; 4]) -> Verdict {
    let verdicts = [Verdict::Ok, Verdict::Doubtful, Verdict::Step, Verdict::UnloggedService];
    let mut best = (f64::NEG_INFINITY, Verdict::Ok);
    for (w, verdict) in weights.iter().zip(verdicts) {
        if *w > best.0 {
            best = (*w, verdict);
        }
    }
    best.1
}

/// A step drop just before a reading: the force falls, and most of it for good.
pub(super) fn after_step(m: &Mean, p: &Covariance) -> (Mean, Covariance) {
    let share: Mean = [1.0, 0.0, 0.0, STEP_LASTING, 0.0];
    let mean = std::array::from_fn(|i| m[i] - STEP_MEAN * share[i]);
    let mut covariance: Covariance =
        std::array::from_fn(|i| std::array::from_fn(|j| p[i][j] + STEP_SD * STEP_SD * share[i] * share[j]));
    covariance[RESTORABLE][RESTORABLE] += (0.3 * STEP_SD).powi(2);
    (mean, covariance)
}

/// A minor service: L = C + N(0, sr^2), b = B + N(0, (cvv max(B, 0.25 beta))^2).
pub(super) fn restored(par: &Parameters, m: &Mean, p: &Covariance) -> (Mean, Covariance) {
    let (mut m, mut p) = (*m, *p);
    m[FORCE] = m[RESTORABLE];
    p[FORCE] = p[RESTORABLE];
    for row in &mut p {
        row[FORCE] = row[RESTORABLE];
    }
    p[FORCE][FORCE] = p[RESTORABLE][RESTORABLE] + par.sr * par.sr;
    m[RATE] = m[MEAN_RATE];
    p[RATE] = p[MEAN_RATE];
    for row in &mut p {
        row[RATE] = row[MEAN_RATE];
    }
    p[FORCE][RATE] = p[RESTORABLE][MEAN_RATE];
    p[RATE][FORCE] = p[RESTORABLE][MEAN_RATE];
    p[RATE][RATE] = p[MEAN_RATE][MEAN_RATE] + (par.cvv * m[MEAN_RATE].max(0.25 * par.beta)).powi(2);
    (m, p)
}

/// Row and column `to` less `factor` times row and column `from`.
fn subtract_multiple(p: &mut Covariance, to: usize, from: usize, factor: f64) {
    let source = p[from];
    for (value, other) in p[to].iter_mut().zip(source) {
        *value -= factor * other;
    }
    for row in p.iter_mut() {
        row[to] -= factor * row[from];
    }
}

fn clear(p: &mut Covariance, which: usize) {
    p[which] = [0.0; 5];
    for row in p.iter_mut() {
        row[which] = 0.0;
    }
}

/// The symmetric matrix of which the upper half is given.
#[expect(clippy::needless_range_loop, reason = "both halves are written at once")]
fn symmetric(of: impl Fn(usize, usize) -> f64) -> Covariance {
    let mut p = [[0.0; 5]; 5];
    for i in 0..5 {
        for j in i..5 {
            p[i][j] = of(i, j);
            p[j][i] = p[i][j];
        }
    }
    p
}
