//! Downtime windows: times in which machines may be stopped.

use crate::ids::MachineId;
use crate::moment::Moment;
use crate::units::{Money, Percent};

/// Which machines a window is for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum WindowScope {
    /// Every hall.
    AllHalls,
    /// One hall.
    Hall(String),
    /// One machine.
    Machine(MachineId),
}

/// A single or repeating downtime window as it was entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Downtime {
    /// Start of the first one.
    pub start: Moment,
    /// End of the first one.
    pub end: Moment,
    /// For which machines.
    pub scope: WindowScope,
    /// What it is.
    pub what: String,
    /// What a stop costs in it, in percent of the stop cost; `None`: 100 (a running shift).
    pub stop_factor: Option<Percent>,
    /// Extra pay per person and hour.
    pub premium_per_hour: Option<Money>,
    /// An RFC 5545 rule such as `FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231`; `None`: once.
    pub repeat: Option<String>,
}
