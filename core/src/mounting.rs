//! Which spindle sat in which machine from when to when.

use crate::ids::SpindleId;
use crate::machine::Position;
use chrono::NaiveDate;

/// One stay of a spindle in a position: `mounted_on` counts, `removed_on` no longer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mounting {
    /// The spindle.
    pub spindle: SpindleId,
    /// Where it sits.
    pub position: Position,
    /// First day.
    pub mounted_on: NaiveDate,
    /// First day on which it is no longer there; `None`: still there.
    pub removed_on: Option<NaiveDate>,
}

/// Why a mounting cannot be taken in. Names are filled in by the caller, which knows them.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InvalidMounting {
    /// The end lies on or before the start.
    #[error("removed on {removed} is not after mounted on {mounted}")]
    EndBeforeStart {
        /// First day.
        mounted: NaiveDate,
        /// Given end.
        removed: NaiveDate,
    },
    /// Two stays of one spindle at one time.
    #[error("spindle {spindle} already sits in {position} from {from}")]
    SpindleElsewhere {
        /// The spindle.
        spindle: String,
        /// Where it is.
        position: String,
        /// Since when.
        from: NaiveDate,
    },
    /// Two spindles in one position at one time.
    #[error("position {position} already holds spindle {spindle} from {from}")]
    PositionTaken {
        /// The position.
        position: String,
        /// Who is there.
        spindle: String,
        /// Since when.
        from: NaiveDate,
    },
    /// The machine has fewer positions.
    #[error("machine {machine} has no position {number}")]
    NoSuchPosition {
        /// The machine.
        machine: String,
        /// What was given.
        number: u32,
    },
}

impl Mounting {
    /// Whether the spindle sits there on that day.
    #[must_use]
    pub fn covers(&self, day: NaiveDate) -> bool {
        self.mounted_on <= day && self.removed_on.is_none_or(|removed| day < removed)
    }

    /// Whether two stays share a day.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        let starts_before_end = |a: &Self, b: &Self| b.removed_on.is_none_or(|removed| a.mounted_on < removed);
        starts_before_end(self, other) && starts_before_end(other, self)
    }
}
