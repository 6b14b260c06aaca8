//! All fleets of the chosen scenarios, on as many threads as there are cores.

use super::fleet::{calendar, simulate};
use super::forecasters::{LAST_YEAR, WHOLE_RECORD, model, naive};
use super::score::{LawScores, NaiveScores, Scored, Truths, pool, pool_naive, pool_truths};
use super::truth::Scenario;
use almanac_core::forecast::model::improvements::Improvements;
use almanac_core::forecast::model::working_days::WorkingDays;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The seed where none is given.
pub const SEED: u64 = 20_260_302;

/// What is to be run.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Seed of all fleets.
    pub seed: u64,
    /// Fleets of 200 per scenario; of fleets of five, twenty times as many.
    pub fleets: usize,
    /// Which scenarios.
    pub scenarios: Vec<Scenario>,
    /// What the finished model does beyond the plain one.
    pub improvements: Improvements,
    /// How many threads.
    pub threads: usize,
}

/// One scenario, scored over all its fleets together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowScores {
    /// Which.
    pub scenario: Scenario,
    /// Spindles scored.
    pub spindles: usize,
    /// The finished model.
    pub finished: LawScores,
    /// The plain model.
    pub plain: LawScores,
    /// The naive line.
    pub naive: NaiveScores,
    /// Median error of a naive line that runs on at the hours of the last year, days.
    pub naive_of_late: f64,
    /// The true dates.
    pub truths: Truths,
}

/// One fleet, forecast and compared with its truth.
#[derive(Debug, Clone, Default)]
pub struct FleetScores {
    finished: Vec<Scored>,
    plain: Vec<Scored>,
    naive: Vec<Option<f64>>,
    naive_of_late: Vec<Option<f64>>,
    truths: Vec<Option<f64>>,
}

/// Simulates one fleet and scores the three forecasters on it, the finished model with these
/// improvements.
#[must_use]
pub fn fleet_scores(
    seed: u64,
    scenario: Scenario,
    number: usize,
    spindles: usize,
    calendar: &WorkingDays,
    improvements: Improvements,
) -> FleetScores {
    let fleet = simulate(seed, scenario, number, spindles, calendar);
    let truths: Vec<Option<f64>> = fleet.spindles.iter().map(|s| s.crossing).collect();
    let scored = |laws: Vec<super::forecasters::Quantiles>| -> Vec<Scored> {
        laws.iter().zip(&truths).map(|(law, truth)| Scored::of(law, *truth)).collect()
    };
    let plain = scored(model(&fleet, calendar, Improvements::none()));
    let finished = scored(model(&fleet, calendar, improvements));
    let [naive, naive_of_late] = [WHOLE_RECORD, LAST_YEAR].map(|over_days| naive(&fleet, calendar, over_days));
    FleetScores { finished, plain, naive, naive_of_late, truths }
}

/// Pools the fleets of one scenario.
#[must_use]
pub fn row_scores(scenario: Scenario, fleets: &[FleetScores]) -> RowScores {
    let mut all = FleetScores::default();
    for fleet in fleets {
        all.finished.extend_from_slice(&fleet.finished);
        all.plain.extend_from_slice(&fleet.plain);
        all.naive.extend_from_slice(&fleet.naive);
        all.naive_of_late.extend_from_slice(&fleet.naive_of_late);
        all.truths.extend_from_slice(&fleet.truths);
    }
    RowScores {
        scenario,
        spindles: all.truths.len(),
        finished: pool(&all.finished, &all.naive),
        plain: pool(&all.plain, &all.naive),
        naive: pool_naive(&all.naive, &all.truths),
        naive_of_late: pool_naive(&all.naive_of_late, &all.truths).error,
        truths: pool_truths(&all.truths),
    }
}

/// Runs a plan; `progress` hears how many fleets of how many are done. The result does not depend
/// on the number of threads.
///
/// # Errors
/// Where a thread cannot be started, what the system says.
pub fn run(plan: &Plan, progress: &(dyn Fn(usize, usize) + Sync)) -> std::io::Result<Vec<RowScores>> {
    let calendar = calendar();
    let mut jobs: Vec<(Scenario, usize)> = Vec::new();
    for scenario in &plan.scenarios {
        jobs.extend((0..plan.fleets * scenario.fleets_for_one()).map(|number| (*scenario, number)));
    }
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let results = Mutex::new(Vec::new());
    let work = || {
        while let Some((scenario, number)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
            let scores = fleet_scores(plan.seed, *scenario, *number, scenario.spindles(), &calendar, plan.improvements);
            // a poisoned lock means that another thread panicked: its message is out already
            results.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push((*scenario, *number, scores));
            progress(done.fetch_add(1, Ordering::Relaxed) + 1, jobs.len());
        }
    };
    std::thread::scope(|scope| {
        for number in 0..plan.threads.max(1) {
            std::thread::Builder::new().name(format!("fleets {number}")).spawn_scoped(scope, work)?;
        }
        Ok::<(), std::io::Error>(())
    })?;
    let mut results = results.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    results.sort_by_key(|(scenario, number, _)| (*scenario, *number));
    Ok(plan
        .scenarios
        .iter()
        .map(|scenario| {
            let own: Vec<FleetScores> =
                results.iter().filter(|(of, _, _)| of == scenario).map(|(_, _, scores)| scores.clone()).collect();
            row_scores(*scenario, &own)
        })
        .collect())
}
