//! What is known of a group of spindles: hyperparameters and their weak priors.

use super::event_rates::{EventRates, GROSS_CHANCE, UNLOGGED_CHANCE};
use super::improvements::Improvements;
use serde::{Deserialize, Serialize};

/// How a hyperparameter is transformed before its prior applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transform {
    /// Logarithm: the parameter is above zero.
    Log,
    /// As it is.
    Plain,
}

/// A hyperparameter's prior on the transformed scale: from experience, to be confirmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Scale on which it is normal.
    pub transform: Transform,
    /// Its mean there.
    pub mean: f64,
    /// Its standard deviation there.
    pub sd: f64,
}

impl Prior {
    const fn log(mean: f64, sd: f64) -> Self {
        Self { transform: Transform::Log, mean, sd }
    }

    /// The parameter at so many prior standard deviations from the prior mean.
    #[must_use]
    pub fn value_at(&self, theta: f64) -> f64 {
        let value = self.mean + self.sd * theta;
        match self.transform {
            Transform::Log => value.exp(),
            Transform::Plain => value,
        }
    }
}

/// How many hyperparameters a group has.
pub const COUNT: usize = 10;
/// Position of each hyperparameter in arrays.
pub mod at {
    /// Mean loss.
    pub const BETA: usize = 0;
    /// Spread between spindles.
    pub const CVU: usize = 1;
    /// Spread between intervals.
    pub const CVV: usize = 2;
    /// Wiener variance.
    pub const Q: usize = 3;
    /// Occasion scatter.
    pub const SB: usize = 4;
    /// Restoration scatter.
    pub const SR: usize = 5;
    /// Level when new.
    pub const A0: usize = 6;
    /// Its spread.
    pub const SA: usize = 7;
    /// Lasting loss.
    pub const DELTA: usize = 8;
    /// Curvature.
    pub const P: usize = 9;
}

/// The priors in the order of [`at`]; natural logarithms of the middle where the scale is log.
#[must_use]
pub fn priors() -> [Prior; COUNT] {
    [
        Prior::log(10.0_f64.ln(), 0.8),
        Prior::log(0.40_f64.ln(), 0.35),
        Prior::log(0.22_f64.ln(), 0.35),
        Prior::log(0.7_f64.ln(), 0.9),
        Prior::log(0.7_f64.ln(), 0.4),
        Prior::log(0.0, 0.4),
        Prior { transform: Transform::Plain, mean: 98.0, sd: 2.0 },
        Prior::log(1.5_f64.ln(), 0.4),
        Prior::log(0.7_f64.ln(), 0.7),
        Prior::log(0.0, 0.15),
    ]
}

/// Prior repeatability of a stroke, percent of the reading.
pub const STROKE_SD_PRIOR: f64 = 2.0;

/// Hyperparameters of one group (a tool interface), as the filter takes them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Parameters {
    /// Mean loss, percent of nominal per reference interval.
    pub beta: f64,
    /// Spread of the mean rate between spindles, relative.
    pub cvu: f64,
    /// Spread of the rate between intervals of one spindle, relative.
    pub cvv: f64,
    /// Wiener variance of the force per unit of the drift clock, percent squared.
    pub q: f64,
    /// Occasion (set-up) standard deviation of a reading, percent of the reading.
    pub sb: f64,
    /// Scatter of what a minor service restores, percent.
    pub sr: f64,
    /// Level when new or after a major service, percent.
    pub a0: f64,
    /// Its spread between spindles, percent.
    pub sa: f64,
    /// Lasting loss per reference interval, percent.
    pub delta: f64,
    /// Curvature of the drift; 1: straight.
    pub p: f64,
    /// Stroke repeatability, percent of the reading.
    pub ss: f64,
    /// Posterior variances on the transformed scale, in the order of [`at`].
    pub variances: [f64; COUNT],
    /// Steps per reference interval.
    pub step_hazard: f64,
    /// Chance that a reading is a gross error.
    #[serde(default = "usual_gross_chance")]
    pub gross_chance: f64,
    /// Chance that a service went unlogged before a reading that is not as-left.
    #[serde(default = "usual_unlogged_chance")]
    pub unlogged_chance: f64,
    /// Whether readings are weighed under several hypotheses.
    pub is_robust: bool,
    /// Whether a reading's scatter is proportional to its level.
    pub is_proportional: bool,
    /// What the model does with them beyond its plain form; not kept with them, as the
    /// program decides it.
    #[serde(skip, default = "Improvements::all")]
    pub improvements: Improvements,
}

/// Of what was learnt before gross errors were counted.
const fn usual_gross_chance() -> f64 {
    GROSS_CHANCE
}

/// Of what was learnt before services that nobody logged were counted.
const fn usual_unlogged_chance() -> f64 {
    UNLOGGED_CHANCE
}

impl Parameters {
    /// The prior centre, as wide as the priors: where nothing was ever recorded; for
    /// the plain model.
    #[must_use]
    pub fn weak() -> Self {
        let priors = priors();
        let mut parameters = Self::at(&[0.0; COUNT], STROKE_SD_PRIOR);
        parameters.variances = priors.map(|prior| prior.sd * prior.sd);
        parameters
    }

    /// The same, used with these improvements.
    #[must_use]
    pub fn with(mut self, improvements: Improvements) -> Self {
        self.improvements = improvements;
        self
    }

    /// The parameters at a point given in prior standard deviations; no uncertainty.
    #[must_use]
    pub fn at(theta: &[f64; COUNT], ss: f64) -> Self {
        let mut values = [0.0; COUNT];
        for ((value, prior), theta) in values.iter_mut().zip(priors()).zip(theta) {
            *value = prior.value_at(*theta);
        }
        let [beta, cvu, cvv, q, sb, sr, a0, sa, delta, p] = values;
        Self {
            beta,
            cvu,
            cvv,
            q,
            sb,
            sr,
            a0,
            sa,
            delta,
            p,
            ss,
            variances: [0.0; COUNT],
            step_hazard: EventRates::USUAL.step_hazard,
            gross_chance: EventRates::USUAL.gross_chance,
            unlogged_chance: EventRates::USUAL.unlogged_chance,
            is_robust: true,
            is_proportional: true,
            improvements: Improvements::none(),
        }
    }

    /// How often something out of the ordinary happens.
    #[must_use]
    pub const fn rates(&self) -> EventRates {
        EventRates {
            step_hazard: self.step_hazard,
            gross_chance: self.gross_chance,
            unlogged_chance: self.unlogged_chance,
        }
    }

    /// The same with other rates.
    #[must_use]
    pub fn with_rates(mut self, rates: EventRates) -> Self {
        EventRates {
            step_hazard: self.step_hazard,
            gross_chance: self.gross_chance,
            unlogged_chance: self.unlogged_chance,
        } = rates;
        self
    }
}
