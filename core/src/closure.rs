//! Times in which the shop does not run.

use crate::moment::DayRange;

/// A closure, both days included.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Closure {
    /// From and to.
    pub days: DayRange,
    /// What it is.
    pub what: String,
}
