//! The search for a cheap plan: ruin and recreate with a falling temperature, in several runs.
//!
//! Whole numbers and a budget in moves, no clock: the same problem, configuration and seed give the
//! same plan on every machine.

mod anneal;
mod board;
mod config;
mod finish;
mod recombine;
mod recreate;
mod ruin;
mod start;
mod state;
mod watch;

use super::candidates::Candidates;
use super::chance::scatter;
use super::problem::{Plan, Problem};
pub use crate::forecast::Cancelled;
use anneal::Run;
use board::Board;
pub use config::{Begin, NoPlanProgress, PlanProgress, SearchConfig};
use ruin::Ruin;
use state::{Sheets, State};
use watch::Watch;

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
    let board = Board::new(problem, candidates, config.stay(candidates));
    let mut sheets = Sheets::new(&board);
    let mut first = State::new(&board);
    let around = start::start(&mut first, &mut sheets);
    let moves = config.moves(board.movable.len(), around.len());
    let mut watch = Watch::new(&board, progress, moves * u64::from(config.runs));
    watch.offer(&first.at, first.cost);
    watch.tell(&mut sheets, 0)?;
    if board.movable.is_empty() || moves == 0 || config.runs == 0 {
        return Ok(watch.found(&mut sheets));
    }
    // where most is new, all of it is what changed
    let around = if around.len() * 2 < board.movable.len() { around } else { Vec::new() };
    let mut ends: Vec<Vec<Option<usize>>> = Vec::new();
    for nth in 0..config.runs {
        let mut state = first.clone();
        let hot = if config.is_again(nth) {
            state.become_plan(&watch.best);
            config.hot(&board) * 3 / 10
        } else {
            config.hot(&board)
        };
        let seed = scatter(config.seed ^ u64::from(nth) << 32);
        let mut run = Run::new(state, seed, moves, hot, Ruin::new(around.clone(), config.elsewhere()));
        loop {
            let left = run.go_on(&mut sheets, watch.stride());
            watch.offer(&run.best, run.best_cost);
            watch.tell(&mut sheets, moves * u64::from(nth + 1) - left)?;
            if left == 0 {
                break;
            }
        }
        ends.push(run.best);
        let mut joint = State::new(&board);
        joint.become_plan(&watch.best);
        for other in ends.iter().rev() {
            recombine::take_over(&mut joint, &mut sheets, other);
        }
        watch.offer(&joint.at, joint.cost);
    }
    Ok(watch.found(&mut sheets))
}
