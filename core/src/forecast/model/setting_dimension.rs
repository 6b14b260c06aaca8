//! The setting dimension: deviation in units of its tolerance, drifting either way.

use super::coordinate_search::{GoOn, coordinate_search};
use super::filter::Event;
use super::gaussian_crossing::GaussianCrossing;
use super::normal::log_density;
use crate::forecast::Cancelled;
use serde::{Deserialize, Serialize};

/// How the setting dimensions of a group behave, in units of tolerance and reference intervals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DimensionParameters {
    /// Mean drift.
    pub beta: f64,
    /// Its uncertainty.
    pub beta_sd: f64,
    /// Spread between spindles.
    pub between_spindles: f64,
    /// Spread between intervals.
    pub between_intervals: f64,
    /// Wiener variance.
    pub q: f64,
    /// Scatter of a reading.
    pub reading_sd: f64,
    /// Scatter of what a service sets.
    pub set_sd: f64,
}

impl Default for DimensionParameters {
    /// From experience, to be confirmed.
    fn default() -> Self {
        Self {
            beta: 0.0,
            beta_sd: 0.5,
            between_spindles: 0.30,
            between_intervals: 0.12,
            q: 0.01,
            reading_sd: 0.12,
            set_sd: 0.15,
        }
    }
}

/// Readings further off than this many standard deviations are set aside.
const SET_ASIDE: f64 = 5.0;
/// Prior chance that a reading is a gross error.
pub(super) const GROSS_CHANCE: f64 = 0.01;

/// The state: deviation, rate of this interval, the spindle's mean rate.
#[derive(Debug, Clone, PartialEq)]
pub struct DimensionFilter {
    /// Mean.
    pub mean: [f64; 3],
    /// Covariance.
    pub covariance: [[f64; 3]; 3],
    /// Log marginal likelihood.
    pub log_likelihood: f64,
    /// Readings that were set aside.
    pub set_aside: Vec<f64>,
}

impl DimensionFilter {
    /// Runs over the events; the readings in them are deviations in units of tolerance.
    #[must_use]
    pub fn run(events: &[Event], par: &DimensionParameters) -> Self {
        let mut filter = Self::new(par);
        for event in events {
            filter.apply(event, par);
        }
        filter
    }

    /// The start, as set.
    #[must_use]
    pub fn new(par: &DimensionParameters) -> Self {
        let spread = par.between_spindles.powi(2) + par.beta_sd.powi(2);
        let interval = par.between_intervals.powi(2);
        Self {
            mean: [0.0, par.beta, par.beta],
            covariance: [[par.set_sd.powi(2), 0.0, 0.0], [0.0, spread + interval, spread], [0.0, spread, spread]],
            log_likelihood: 0.0,
            set_aside: Vec::new(),
        }
    }

    /// One event.
    pub fn apply(&mut self, event: &Event, par: &DimensionParameters) {
        match *event {
            Event::Move { from, to } => self.expose(to - from, par.q),
            Event::Service(_) => self.reset(par),
            Event::Read { y, .. } => self.read(y, par),
        }
    }

    fn expose(&mut self, x: f64, q: f64) {
        self.mean[0] -= x * self.mean[1];
        let p = &mut self.covariance;
        let rate = p[1];
        for (value, other) in p[0].iter_mut().zip(rate) {
            *value -= x * other;
        }
        for row in p.iter_mut() {
            row[0] -= x * row[1];
        }
        p[0][0] += q * x;
    }

    fn reset(&mut self, par: &DimensionParameters) {
        self.mean[0] = 0.0;
        self.mean[1] = self.mean[2];
        let v = self.covariance[2][2];
        self.covariance = [[par.set_sd.powi(2), 0.0, 0.0], [0.0, v + par.between_intervals.powi(2), v], [0.0, v, v]];
    }

    fn read(&mut self, y: f64, par: &DimensionParameters) {
        let p = self.covariance;
        let s = p[0][0] + par.reading_sd.powi(2);
        let innovation = y - self.mean[0];
        if (innovation / s.sqrt()).abs() > SET_ASIDE {
            self.log_likelihood += (GROSS_CHANCE / 20.0).ln();
            self.set_aside.push(y);
            return;
        }
        self.log_likelihood += (1.0 - GROSS_CHANCE).ln() + log_density(innovation, s);
        let gain: [f64; 3] = std::array::from_fn(|i| p[i][0] / s);
        self.mean = std::array::from_fn(|i| self.mean[i] + gain[i] * innovation);
        self.covariance = std::array::from_fn(|i| std::array::from_fn(|j| p[i][j] - gain[i] * gain[j] * s));
    }

    /// The law by which it leaves the tolerance.
    #[must_use]
    pub fn crossing(&self, q: f64, usage_variance: f64) -> GaussianCrossing {
        GaussianCrossing {
            level: self.mean[0],
            level_variance: self.covariance[0][0],
            rate: self.mean[1],
            rate_variance: self.covariance[1][1],
            covariance: self.covariance[0][1],
            q,
            low: Some(-1.0),
            high: Some(1.0),
            usage_variance,
            step_hazard: 0.0,
        }
    }
}

/// Mean and spread of each parameter's prior; all but the first on the logarithmic scale.
const PRIORS: [(f64, f64); 6] = [(0.0, 0.5), (0.30, 0.5), (0.12, 0.5), (0.01, 0.8), (0.12, 0.5), (0.15, 0.5)];

fn at(theta: &[f64; 6]) -> DimensionParameters {
    let log = |i: usize| (PRIORS[i].0.ln() + PRIORS[i].1 * theta[i]).exp();
    DimensionParameters {
        beta: PRIORS[0].0 + PRIORS[0].1 * theta[0],
        beta_sd: 0.0,
        between_spindles: log(1),
        between_intervals: log(2),
        q: log(3),
        reading_sd: log(4),
        set_sd: log(5),
    }
}

/// A fitted group with what the search cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DimensionFit {
    /// The parameters.
    pub parameters: DimensionParameters,
    /// The objective at the best point.
    pub objective: f64,
    /// How often it was computed.
    pub evaluations: usize,
}

/// Parameters of a group by maximum penalised marginal likelihood.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_dimension(histories: &[&[Event]], go_on: GoOn<'_>) -> Result<DimensionFit, Cancelled> {
    let found = coordinate_search(
        |theta: &[f64; 6]| {
            let par = at(theta);
            let penalty: f64 = 0.5 * theta.iter().map(|t| t * t).sum::<f64>();
            penalty - histories.iter().map(|h| DimensionFilter::run(h, &par).log_likelihood).sum::<f64>()
        },
        &[0.0; 6],
        6,
        go_on,
    )?;
    let mut parameters = at(&found.theta);
    parameters.beta_sd = PRIORS[0].1 / found.curvature[0].sqrt();
    Ok(DimensionFit { parameters, objective: found.value, evaluations: found.evaluations })
}
