//! Hyperparameters of a group by maximum penalised marginal likelihood.

use super::coordinate_search::{Found, GoOn, coordinate_search};
use super::filter::{Event, Filter, STEP_CHANCE};
use super::improvements::Improvements;
use super::parameters::{COUNT, Parameters, priors};
use crate::forecast::Cancelled;

/// The history of one spindle, ready for the filter.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    /// What happened, in order.
    pub events: Vec<Event>,
    /// Whether it was new when its records begin.
    pub known_start: bool,
}

/// A fitted group.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupFit {
    /// Its hyperparameters with their uncertainty.
    pub parameters: Parameters,
    /// The objective at the best point.
    pub objective: f64,
    /// How often it was computed.
    pub evaluations: usize,
    /// The best point, in prior standard deviations.
    pub theta: [f64; COUNT],
}

/// At most so many, evenly sampled.
pub fn evenly<T>(items: &[T], most: usize) -> Vec<&T> {
    if items.len() <= most {
        return items.iter().collect();
    }
    let n = items.len() as f64;
    (0..most).filter_map(|i| items.get((i as f64 * n / most as f64) as usize)).collect()
}

/// Negative log posterior at a point given in prior standard deviations.
#[must_use]
pub fn objective(theta: &[f64; COUNT], histories: &[&History], ss: f64, improvements: Improvements) -> f64 {
    let parameters = Parameters::at(theta, ss).with(improvements);
    let penalty: f64 = 0.5 * theta.iter().map(|t| t * t).sum::<f64>();
    let of = |h: &&History| Filter::new(&parameters, h.known_start).without_log().run(&h.events).log_likelihood;
    penalty - histories.iter().map(of).sum::<f64>()
}

/// The search; then the step hazard from the steps that it finds.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_group(
    histories: &[&History],
    ss: f64,
    max_sweeps: usize,
    start: &[f64; COUNT],
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<GroupFit, Cancelled> {
    let found: Found<COUNT> =
        coordinate_search(|theta| objective(theta, histories, ss, improvements), start, max_sweeps, go_on)?;
    let mut parameters = Parameters::at(&found.theta, ss).with(improvements);
    for ((variance, prior), curvature) in parameters.variances.iter_mut().zip(priors()).zip(found.curvature) {
        *variance = prior.sd * prior.sd / curvature;
    }
    parameters.step_hazard = step_hazard(&parameters, histories);
    Ok(GroupFit { parameters, objective: found.value, evaluations: found.evaluations, theta: found.theta })
}

/// Steps per reference interval: gamma(0.6, 20) prior, readings called a step with a weight over
/// one half are counted.
#[must_use]
pub fn step_hazard(parameters: &Parameters, histories: &[&History]) -> f64 {
    if parameters.improvements.step_rate {
        return expected_step_hazard(parameters, histories);
    }
    let (mut steps, mut exposure) = (0.0, 0.0);
    for history in histories {
        let filter = Filter::new(parameters, history.known_start).run(&history.events);
        steps += filter.log.iter().map(|r| r.weights[2]).filter(|w| *w > 0.5).sum::<f64>();
        exposure += filter.exposure;
    }
    (0.6 + steps) / (20.0 + exposure)
}

/// Rounds of [`expected_step_hazard`].
const ROUNDS: usize = 8;

/// The same with every reading counted by its expected number of steps (the EM algorithm of Dempster,
/// Laird and Rubin 1977, with the gamma prior): small steps, which no single reading shows clearly,
/// count too. Of a reading's step weight, the share of the hazard in its prior chance of a step is
/// counted, at the mean exposure between readings.
fn expected_step_hazard(parameters: &Parameters, histories: &[&History]) -> f64 {
    let mut parameters = parameters.clone();
    for _ in 0..ROUNDS {
        let (mut weights, mut exposure, mut readings) = (0.0, 0.0, 0.0);
        for history in histories {
            let filter = Filter::new(&parameters, history.known_start).run(&history.events);
            weights += filter.log.iter().map(|r| r.weights[2]).sum::<f64>();
            readings += filter.log.len() as f64;
            exposure += filter.exposure;
        }
        let by_hazard = -(-parameters.step_hazard * exposure / f64::max(readings, 1.0)).exp_m1();
        let next = (0.6 + weights * by_hazard / (by_hazard + STEP_CHANCE)) / (20.0 + exposure);
        let is_settled = (next - parameters.step_hazard).abs() < 1e-3 * next;
        parameters.step_hazard = next;
        if is_settled {
            break;
        }
    }
    parameters.step_hazard
}
