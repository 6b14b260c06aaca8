//! How often something out of the ordinary happens in a group: step drops, gross errors, services that
//! nobody logged.

use super::filter::{Event, Filter, Occasion, STEP_CHANCE};
use super::group_fit::History;
use super::parameters::Parameters;

/// Steps per reference interval before any are counted.
pub const STEP_HAZARD: f64 = 0.03;
/// Chance that a reading is a gross error, before any are counted.
pub(super) const GROSS_CHANCE: f64 = 0.01;
/// Chance that a service went unlogged before a reading, before any are counted.
pub(super) const UNLOGGED_CHANCE: f64 = 0.005;

/// The rates of one group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EventRates {
    /// Steps per reference interval.
    pub step_hazard: f64,
    /// Chance that a reading is a gross error.
    pub gross_chance: f64,
    /// Chance that a service went unlogged before a reading that is not as-left.
    pub unlogged_chance: f64,
}

impl EventRates {
    /// Those of before anything is counted: from experience, to be confirmed.
    pub const USUAL: Self =
        Self { step_hazard: STEP_HAZARD, gross_chance: GROSS_CHANCE, unlogged_chance: UNLOGGED_CHANCE };

    /// Whether faults of the records are few enough that an ordinary reading keeps a chance.
    #[must_use]
    pub fn are_believed(&self) -> bool {
        let Self { gross_chance, unlogged_chance, .. } = *self;
        gross_chance <= BELIEVED.1 * GROSS_CHANCE && unlogged_chance <= BELIEVED.1 * UNLOGGED_CHANCE
    }
}

/// Steps per reference interval that the prior is worth, and over how many.
const STEPS: (f64, f64) = (0.6, 20.0);
/// Gross errors that the prior is worth, and in how many readings.
const GROSS: (f64, f64) = (1.0, 1.0 / GROSS_CHANCE);
/// Services that nobody logged that the prior is worth, and in how many readings.
const UNLOGGED: (f64, f64) = (1.0, 1.0 / UNLOGGED_CHANCE);
/// No chance is believed to be smaller than a tenth of the usual one (whoever never erred may still), nor
/// larger than twenty times of it: an ordinary reading keeps a chance besides the likeliest step.
const BELIEVED: (f64, f64) = (0.1, 20.0);
/// Rounds of [`expected`].
const ROUNDS: usize = 8;

/// The rates that a group's readings tell, at parameters that were fitted with others.
///
/// In the plain model the steps alone are counted, readings called a step with a weight over one half,
/// with a gamma(0.6, 20) prior.
#[must_use]
pub fn event_rates(parameters: &Parameters, histories: &[&History]) -> EventRates {
    if parameters.improvements.step_rate {
        return expected(parameters, histories);
    }
    let (mut steps, mut exposure) = (0.0, 0.0);
    for history in histories {
        let filter = Filter::new(parameters, history.known_start).run(&history.events);
        steps += filter.log.iter().map(|r| r.weights[2]).filter(|w| *w > 0.5).sum::<f64>();
        exposure += filter.exposure;
    }
    EventRates { step_hazard: (STEPS.0 + steps) / (STEPS.1 + exposure), ..parameters.rates() }
}

/// The same with every reading counted by its weights: small steps, which no single reading shows clearly,
/// count too. Of a reading's step weight, the share of the hazard in its prior chance of a step is counted, at
/// the mean exposure between readings.
///
/// An iteration like that of Dempster, Laird and Rubin (1977), with two differences: the next rates are
/// posterior means under gamma and beta priors, not modes; and the weights are those of the filter, in
/// which a reading is weighed by what came before it and, where it was undecided, by what came after.
/// It ends at the latest after [`ROUNDS`].
fn expected(parameters: &Parameters, histories: &[&History]) -> EventRates {
    let mut parameters = parameters.clone();
    let as_found: usize = histories.iter().map(|history| history.readings_not_as_left()).sum();
    for _ in 0..ROUNDS {
        let before = parameters.rates();
        let (mut weights, mut exposure, mut readings) = ([0.0; 4], 0.0, 0.0);
        for history in histories {
            let filter = Filter::new(&parameters, history.known_start).run(&history.events);
            for (sum, counted) in weights.iter_mut().zip(filter.counted()) {
                *sum += counted;
            }
            readings += filter.log.len() as f64;
            exposure += filter.exposure;
        }
        let [_, gross, steps, unlogged] = weights;
        let by_hazard = -(-before.step_hazard * exposure / f64::max(readings, 1.0)).exp_m1();
        let steps = steps * by_hazard / (by_hazard + STEP_CHANCE);
        let mut next = EventRates { step_hazard: (STEPS.0 + steps) / (STEPS.1 + exposure), ..before };
        if parameters.improvements.record_faults {
            next.gross_chance = chance(GROSS, gross, readings);
            next.unlogged_chance = chance(UNLOGGED, unlogged, as_found as f64);
        }
        parameters = parameters.with_rates(next);
        let alike = |a: f64, b: f64| (a - b).abs() < 1e-3 * a;
        if alike(next.step_hazard, before.step_hazard)
            && alike(next.gross_chance, before.gross_chance)
            && alike(next.unlogged_chance, before.unlogged_chance)
        {
            break;
        }
    }
    parameters.rates()
}

/// The mean of the beta law that so many of so many readings leave, as far as it is believed.
fn chance((prior, among): (f64, f64), counted: f64, readings: f64) -> f64 {
    let usual = prior / among;
    ((prior + counted) / (among + readings)).clamp(BELIEVED.0 * usual, BELIEVED.1 * usual)
}

impl History {
    fn readings_not_as_left(&self) -> usize {
        let counts = |event: &&Event| matches!(event, Event::Read { occasion, .. } if *occasion != Occasion::AsLeft);
        self.events.iter().filter(counts).count()
    }
}
