//! Services that were done.

use crate::ids::SpindleId;
use crate::moment::Moment;
use crate::units::RunHours;
use chrono::NaiveDate;
use std::fmt;

/// What kind of service.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Gripper service: clean, inspect, lubricate, set, prove.
    Minor,
    /// New gripper, new spring pack, or the spindle out to a rebuilder.
    Major,
}

impl Kind {
    /// Both kinds.
    pub const ALL: [Self; 2] = [Self::Minor, Self::Major];

    /// The word of the files and of the screen.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Minor => "minor",
            Self::Major => "major",
        }
    }

    /// The kind of that word; case does not matter.
    #[must_use]
    pub fn from_key(text: &str) -> Option<Self> {
        let text = text.trim();
        Self::ALL.into_iter().find(|kind| kind.key().eq_ignore_ascii_case(text))
    }
}

/// So many of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct PartQuantity {
    /// The part's name.
    pub part: String,
    /// How many of its unit.
    pub quantity: f64,
}

impl fmt::Display for PartQuantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}={}", self.part, self.quantity)
    }
}

/// `gripper grease=1;seal ring=1`; a part without a figure counts once. `None` where a figure is
/// not a number above zero or a part has no name.
#[must_use]
pub fn parse_parts(text: &str) -> Option<Vec<PartQuantity>> {
    text.split(';')
        .map(str::trim)
        .filter(|item| !item.is_empty())
        .map(|item| {
            let (part, quantity) = item.rsplit_once('=').unwrap_or((item, "1"));
            let quantity = quantity.trim().parse::<f64>().ok().filter(|q| q.is_finite() && *q > 0.0)?;
            let part = part.trim();
            (!part.is_empty()).then(|| PartQuantity { part: part.to_owned(), quantity })
        })
        .collect()
}

/// The inverse of [`parse_parts`].
#[must_use]
pub fn format_parts(parts: &[PartQuantity]) -> String {
    parts.iter().map(ToString::to_string).collect::<Vec<_>>().join(";")
}

/// A service that was done.
#[derive(Debug, Clone, PartialEq)]
pub struct Service {
    /// The spindle.
    pub spindle: SpindleId,
    /// When.
    pub at: Moment,
    /// Minor or major.
    pub kind: Kind,
    /// Number of its work order.
    pub order: Option<String>,
    /// Who did it.
    pub technician: Option<String>,
    /// How long the machine stood.
    pub stop_hours: Option<RunHours>,
    /// What was found.
    pub findings: String,
    /// Parts used.
    pub parts: Vec<PartQuantity>,
    /// Free text.
    pub note: String,
    /// The day it was entered, where that is not the day of the service.
    pub recorded_on: Option<NaiveDate>,
    /// The day on which a correction took its place.
    pub replaced_on: Option<NaiveDate>,
}

/// Why a service cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidService {
    /// Below zero.
    #[error("stop hours is {0}; expected 0 or more")]
    NegativeStop(f64),
}

impl Service {
    /// A service of which only the least is known.
    #[must_use]
    pub fn of(spindle: SpindleId, at: Moment, kind: Kind) -> Self {
        Self {
            spindle,
            at,
            kind,
            order: None,
            technician: None,
            stop_hours: None,
            findings: String::new(),
            parts: Vec::new(),
            note: String::new(),
            recorded_on: None,
            replaced_on: None,
        }
    }

    /// Checks what every service must fulfil.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub fn checked(self) -> Result<Self, InvalidService> {
        match self.stop_hours.map(RunHours::get).filter(|hours| *hours < 0.0) {
            Some(hours) => Err(InvalidService::NegativeStop(hours)),
            None => Ok(self),
        }
    }
}
