//! How long and how a search goes, and who watches it.

use super::board::Board;
use crate::planning::candidates::Candidates;
use crate::planning::problem::Plan;

/// Tells a caller how far a search is and the best plan so far, and the search whether to go on.
pub trait PlanProgress {
    /// Called now and then; `false` asks to stop.
    fn step(&self, done: u64, total: u64) -> bool;

    /// A plan cheaper than all before it, with its cost in cents; it keeps every rule. Called now and
    /// then, not for each one, and always before [`PlanProgress::step`] can stop the search.
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

/// A re-plan looks around as if twice as many services had changed, and some more: the more, the
/// smaller the shop. So many times the services of a shop, and at least and at most so many.
const SOME_MORE: usize = 20_000;
const SOME_MORE_BETWEEN: (usize, usize) = (20, 100);

/// What a search is after. Both begin with what is booked, whole days first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begin {
    /// The cheapest plan.
    Freely,
    /// A cheap plan in which few booked services move: each move has to save more than a little,
    /// and nothing is made dearer on the way.
    Steadily,
}

/// How a search goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SearchConfig {
    /// Runs with different seeds; the later ones go on from the best plan so far.
    pub runs: u32,
    /// Moves per service and run; with none, the first plan is the plan. Steadily: per service that
    /// changed, about.
    pub moves_per_service: u32,
    /// Another seed, another search.
    pub seed: u64,
    /// What it is after.
    pub begin: Begin,
}

impl SearchConfig {
    /// The first plan only: what is booked, then by regret.
    #[must_use]
    pub const fn start() -> Self {
        Self { runs: 1, moves_per_service: 0, seed: 1, begin: Begin::Freely }
    }

    /// A first full proposal for so many services, at once.
    #[must_use]
    pub const fn first(services: usize) -> Self {
        let moves_per_service = if services <= 200 { 60 } else { 30 };
        Self { moves_per_service, ..Self::start() }
    }

    /// A settled proposal for so many services: more search hardly pays.
    #[must_use]
    pub const fn settled(services: usize) -> Self {
        match services {
            0..=40 => Self { runs: 12, moves_per_service: 500, ..Self::start() },
            41..=200 => Self { runs: 16, moves_per_service: 190, ..Self::start() },
            _ => Self { runs: 3, moves_per_service: 300, ..Self::start() },
        }
    }

    /// After a change: keeps to what is booked where that is still good, and looks around what changed.
    #[must_use]
    pub const fn replan() -> Self {
        Self { moves_per_service: 30, begin: Begin::Steadily, ..Self::start() }
    }

    /// Moves of one run, where so many services can move and so many of them are not where they are booked.
    pub(super) fn moves(&self, movable: usize, changed: usize) -> u64 {
        let services = match self.begin {
            Begin::Freely => movable,
            Begin::Steadily => {
                let (least, most) = SOME_MORE_BETWEEN;
                movable.min(2 * changed + (SOME_MORE / movable.max(1)).clamp(least, most))
            }
        };
        u64::from(self.moves_per_service) * services as u64
    }

    /// Of so many moves one is drawn anywhere, the others around what changed.
    pub(super) const fn elsewhere(&self) -> usize {
        match self.begin {
            Begin::Freely => 2,
            Begin::Steadily => 4,
        }
    }

    /// Whether a run goes on from the best plan so far: three in four.
    pub(super) const fn is_again(&self, nth: u32) -> bool {
        nth > 0 && nth * 4 >= self.runs
    }

    /// The temperature at which a run begins, in cents: what places typically differ by, so that it
    /// is right in every currency.
    pub(super) fn hot(&self, board: &Board<'_>) -> i64 {
        match self.begin {
            Begin::Freely => board.typical_regret * 6 / 10,
            Begin::Steadily => 0,
        }
    }

    /// What a move of a booked service has to save at least, in cents.
    pub(super) fn stay(&self, candidates: &Candidates) -> i64 {
        match self.begin {
            Begin::Freely => 0,
            Begin::Steadily => candidates.typical_regret() / 4 + 1,
        }
    }
}
