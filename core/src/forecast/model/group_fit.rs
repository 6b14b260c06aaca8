//! Hyperparameters of a group by maximum penalised marginal likelihood.

use super::coordinate_search::{Found, GoOn, coordinate_search};
use super::event_rates::{EventRates, event_rates};
use super::filter::{Event, Filter};
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

/// Where a search begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitStart {
    /// The point, in prior standard deviations.
    pub theta: [f64; COUNT],
    /// The rates that are held while it searches.
    pub rates: EventRates,
}

impl FitStart {
    /// The prior centre.
    pub const PRIOR: Self = Self { theta: [0.0; COUNT], rates: EventRates::USUAL };
}

impl GroupFit {
    /// From where a longer search goes on. Where faults of the records are counted, with the rates that its
    /// readings tell; else, as in the plain model, with the usual ones.
    #[must_use]
    pub fn onwards(&self, histories: &[&History]) -> FitStart {
        let Improvements { step_rate, record_faults, .. } = self.parameters.improvements;
        let rates =
            if step_rate && record_faults { event_rates(&self.parameters, histories) } else { EventRates::USUAL };
        FitStart { theta: self.theta, rates }
    }
}

/// Negative log posterior at a point given in prior standard deviations, with rates that are held.
#[must_use]
pub fn objective(
    theta: &[f64; COUNT],
    rates: EventRates,
    histories: &[&History],
    ss: f64,
    improvements: Improvements,
) -> f64 {
    let parameters = Parameters::at(theta, ss).with(improvements).with_rates(rates);
    let penalty: f64 = 0.5 * theta.iter().map(|t| t * t).sum::<f64>();
    let of = |h: &&History| Filter::new(&parameters, h.known_start).without_log().run(&h.events).log_likelihood;
    penalty - histories.iter().map(of).sum::<f64>()
}

/// The search, with the rates that it starts with.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn search_group(
    histories: &[&History],
    ss: f64,
    max_sweeps: usize,
    start: &FitStart,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<GroupFit, Cancelled> {
    let found: Found<COUNT> = coordinate_search(
        |theta| objective(theta, start.rates, histories, ss, improvements),
        &start.theta,
        max_sweeps,
        go_on,
    )?;
    let mut parameters = Parameters::at(&found.theta, ss).with(improvements).with_rates(start.rates);
    for ((variance, prior), curvature) in parameters.variances.iter_mut().zip(priors()).zip(found.curvature) {
        *variance = prior.sd * prior.sd / curvature;
    }
    Ok(GroupFit { parameters, objective: found.value, evaluations: found.evaluations, theta: found.theta })
}

/// The search, then the rates of steps and of faults of the records from those that it finds.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_group(
    histories: &[&History],
    ss: f64,
    max_sweeps: usize,
    start: &FitStart,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<GroupFit, Cancelled> {
    let GroupFit { parameters, objective, evaluations, theta } =
        search_group(histories, ss, max_sweeps, start, improvements, go_on)?;
    let rates = event_rates(&parameters, histories);
    Ok(GroupFit { parameters: parameters.with_rates(rates), objective, evaluations, theta })
}
