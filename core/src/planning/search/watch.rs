//! The best plan so far, and what the caller is told of it.

use super::board::Board;
use super::config::PlanProgress;
use super::finish::Finished;
use super::state::Sheets;
use super::{Cancelled, Found};

/// The best plan so far, and what the caller was told of it.
pub(super) struct Watch<'a> {
    board: &'a Board<'a>,
    progress: &'a dyn PlanProgress,
    /// By service: its cell.
    pub(super) best: Vec<Option<usize>>,
    best_cost: i64,
    told: i64,
    /// The plan that was asked for last.
    finished: Finished<'a>,
    /// Moves in all.
    total: u64,
}

impl<'a> Watch<'a> {
    /// For so many moves in all.
    pub(super) fn new(board: &'a Board<'a>, progress: &'a dyn PlanProgress, total: u64) -> Self {
        let finished = Finished::new(board);
        Self { board, progress, best: Vec::new(), best_cost: i64::MAX, told: i64::MAX, finished, total }
    }

    /// Moves between two reports: few where a move takes long, so that a search stops when asked.
    pub(super) fn stride(&self) -> u64 {
        let quick = 20_000 / (self.board.movable.len() as u64 + 1);
        (self.total / 100).min(quick.max(8)) + 1
    }

    /// Keeps a plan if it is the cheapest so far.
    pub(super) fn offer(&mut self, at: &[Option<usize>], cost: i64) {
        if cost < self.best_cost {
            self.best.clear();
            self.best.extend_from_slice(at);
            self.best_cost = cost;
        }
    }

    /// Tells how far the search is, and the best plan where it is better than the one told last.
    pub(super) fn tell(&mut self, sheets: &mut Sheets, done: u64) -> Result<(), Cancelled> {
        if self.best_cost < self.told {
            self.told = self.best_cost;
            let found = self.found(sheets);
            self.progress.better(&found.plan, found.cost);
        }
        if self.progress.step(done, self.total) { Ok(()) } else { Err(Cancelled) }
    }

    /// The best plan so far, in full.
    pub(super) fn found(&mut self, sheets: &mut Sheets) -> Found {
        let plan = self.finished.finish(sheets, &self.best).clone();
        Found { plan, cost: self.board.told(&self.best, self.best_cost) }
    }
}
