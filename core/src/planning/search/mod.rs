//! The search for a cheap plan: ruin and recreate with a falling temperature, in several runs.
//!
//! Whole numbers and a budget in moves, no clock: the same problem, configuration and seed give the
//! same plan on every machine.

mod anneal;
mod board;
mod finish;
mod recreate;
mod ruin;
mod start;
mod state;

use super::candidates::Candidates;
use super::chance::scatter;
use super::problem::{Plan, Problem};
pub use crate::forecast::Cancelled;
use anneal::Run;
use board::Board;
use finish::finish;
use state::{Sheets, State};

/// Tells a caller how far a search is and the best plan so far, and the search whether to go on.
pub trait PlanProgress {
    /// Called now and then; `false` asks to stop.
    fn step(&self, done: u64, total: u64) -> bool;

    /// A plan cheaper than all before it, in cents; it keeps every rule. Not called for each one.
    fn better(&self, _plan: &Plan, _cost: i64) {}
}

/// Nobody watches and nobody stops it.
#[derive(Debug, Clone, Copy)]
pub struct NoPlanProgress;

impl PlanProgress for NoPlanProgress {
    fn step(&self, _done: u64, _total: u64) -> bool {
        true
    }
}

/// How a search goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SearchConfig {
    /// Runs with different seeds.
    pub runs: u32,
    /// Moves per service and run.
    pub moves_per_service: u32,
    /// Another seed, another search.
    pub seed: u64,
}

impl SearchConfig {
    /// A first full proposal, at once.
    pub const FIRST: Self = Self { runs: 1, moves_per_service: 60, seed: 1 };

    /// A settled proposal for so many services: where more search hardly pays.
    #[must_use]
    pub const fn settled(services: usize) -> Self {
        match services {
            0..=200 => Self { runs: 8, moves_per_service: 500, seed: 1 },
            _ => Self { runs: 3, moves_per_service: 600, seed: 1 },
        }
    }
}

/// What a search found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The plan; it keeps every rule, but for what is held.
    pub plan: Plan,
    /// What it costs, in cents.
    pub cost: i64,
}

/// Searches for a cheap plan.
///
/// # Errors
/// When `progress` asks to stop; the best plan until then went to [`PlanProgress::better`].
pub fn search(problem: &Problem, config: SearchConfig, progress: &dyn PlanProgress) -> Result<Plan, Cancelled> {
    Ok(search_among(problem, &Candidates::of_problem(problem), config, progress)?.plan)
}

/// Searches among given candidates.
///
/// # Errors
/// When `progress` asks to stop; the best plan until then went to [`PlanProgress::better`].
pub fn search_among(
    problem: &Problem,
    candidates: &Candidates,
    config: SearchConfig,
    progress: &dyn PlanProgress,
) -> Result<Found, Cancelled> {
    let board = Board::new(problem, candidates);
    let mut sheets = Sheets::default();
    let mut first = State::new(&board);
    let around = start::start(&mut first, &mut sheets);
    let around = if around.len() * 2 < board.movable.len() { around } else { Vec::new() };
    let mut watch = Watch { board: &board, progress, told: i64::MAX, done: 0, total: 0 };
    if board.movable.is_empty() {
        let plan = finish(&board, &mut sheets, &first.at);
        return Ok(Found { plan, cost: first.cost });
    }
    let moves = u64::from(config.moves_per_service) * board.movable.len() as u64;
    watch.total = moves * u64::from(config.runs);
    let (mut best, mut best_cost) = (first.at.clone(), first.cost);
    watch.tell(&mut sheets, &best, best_cost)?;
    let hot = 10_000;
    for nth in 0..config.runs {
        let seed = scatter(config.seed ^ u64::from(nth) << 32);
        let mut run = Run::new(first.clone(), seed, moves, hot, around.clone());
        while run.go_on(&mut sheets, watch.stride()) > 0 {
            watch.done += watch.stride();
            if run.best_cost < best_cost {
                (best, best_cost) = (run.best.clone(), run.best_cost);
            }
            watch.tell(&mut sheets, &best, best_cost)?;
        }
        watch.done = moves * u64::from(nth + 1);
        if run.best_cost < best_cost {
            (best, best_cost) = (run.best.clone(), run.best_cost);
        }
        watch.tell(&mut sheets, &best, best_cost)?;
    }
    let plan = finish(&board, &mut sheets, &best);
    Ok(Found { plan, cost: best_cost })
}

/// What the caller was told.
struct Watch<'a> {
    board: &'a Board<'a>,
    progress: &'a dyn PlanProgress,
    told: i64,
    done: u64,
    total: u64,
}

impl Watch<'_> {
    /// Moves between two reports.
    const fn stride(&self) -> u64 {
        self.total / 100 + 1
    }

    fn tell(&mut self, sheets: &mut Sheets, at: &[Option<usize>], cost: i64) -> Result<(), Cancelled> {
        if cost < self.told {
            self.told = cost;
            self.progress.better(&finish(self.board, sheets, at), cost);
        }
        if self.progress.step(self.done.min(self.total), self.total) { Ok(()) } else { Err(Cancelled) }
    }
}
