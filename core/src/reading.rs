//! Clamp-force and setting-dimension readings with their single strokes.

use crate::ids::SpindleId;
use crate::meter::{InvalidMeterReading, check_counts};
use crate::moment::Moment;
use crate::units::{ClampCycles, Quantity, RunHours, Unit};
use chrono::NaiveDate;

/// At what occasion a reading was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Phase {
    /// On a round.
    Routine,
    /// Before a service.
    AsFound,
    /// After a service.
    AsLeft,
}

impl Phase {
    /// All phases, in the order in which they happen on a day.
    pub const ALL: [Self; 3] = [Self::Routine, Self::AsFound, Self::AsLeft];

    /// The word of the files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Routine => "routine",
            Self::AsFound => "as_found",
            Self::AsLeft => "as_left",
        }
    }

    /// The words on the screen.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Routine => "routine",
            Self::AsFound => "as found",
            Self::AsLeft => "as left",
        }
    }

    /// The phase of that word; case and `_` or space do not matter.
    #[must_use]
    pub fn from_key(text: &str) -> Option<Self> {
        let text = text.trim().to_ascii_lowercase().replace(' ', "_");
        Self::ALL.into_iter().find(|phase| phase.key() == text)
    }
}

/// One actuation, one figure: what was typed, and its value in the stored unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// As typed, with a decimal point, in the unit of the reading.
    pub typed: String,
    /// In kN or mm.
    pub base: f64,
}

impl Stroke {
    /// The stroke of a typed figure; `None` if it is not a finite number written plainly.
    #[must_use]
    pub fn parse(typed: &str, unit: Unit) -> Option<Self> {
        let typed = typed.trim();
        let plain = typed.chars().all(|c| c.is_ascii_digit() || "+-.eE".contains(c));
        let value = typed.parse::<f64>().ok().filter(|value| plain && value.is_finite())?;
        let base = unit.to_base(value);
        base.is_finite().then(|| Self { typed: typed.to_owned(), base })
    }

    /// The number as typed, in the unit of the reading.
    #[must_use]
    pub fn typed_value(&self) -> f64 {
        self.typed.parse().unwrap_or(f64::NAN)
    }
}

/// A reading of one to five strokes.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The spindle.
    pub spindle: SpindleId,
    /// When it was taken.
    pub at: Moment,
    /// At what occasion.
    pub phase: Phase,
    /// The unit in which the strokes were typed; it says what was measured.
    pub unit: Unit,
    /// One to five strokes.
    pub strokes: Vec<Stroke>,
    /// What the meter showed.
    pub run_hours: Option<RunHours>,
    /// What the meter showed.
    pub clamp_cycles: Option<ClampCycles>,
    /// Name of the gauge.
    pub gauge: Option<String>,
    /// Whether the gauge's zero was checked before; `None`: not said.
    pub zero_checked: Option<bool>,
    /// Who took it.
    pub technician: Option<String>,
    /// Free text.
    pub note: String,
    /// The day it was entered, where that is not the day of the reading.
    pub recorded_on: Option<NaiveDate>,
    /// The day on which a correction took its place.
    pub replaced_on: Option<NaiveDate>,
    /// Why the figure is doubted; `None`: it is not.
    pub doubt: Option<String>,
}

/// Why a reading cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidReading {
    /// No stroke or more than five.
    #[error("a reading has 1 to 5 strokes, not {0}")]
    StrokeCount(usize),
    /// A force that is not above zero.
    #[error("stroke {number} is {typed} {unit}; a clamp force is above 0")]
    ForceNotAboveZero {
        /// Which stroke, from 1.
        number: usize,
        /// As typed.
        typed: String,
        /// Its unit.
        unit: Unit,
    },
    /// The typed figure and its value in the stored unit do not say the same.
    #[error("stroke {number} was typed as '{typed}' {unit}, but its value is stored as {base}")]
    TypedDiffers {
        /// Which stroke, from 1.
        number: usize,
        /// As typed.
        typed: String,
        /// Its unit.
        unit: Unit,
        /// The stored value, in kN or mm.
        base: f64,
    },
    /// A meter figure below zero.
    #[error(transparent)]
    Meter(#[from] InvalidMeterReading),
}

/// The most strokes a reading can have.
pub const MAX_STROKES: usize = 5;

impl Reading {
    /// A routine reading with nothing but its strokes.
    #[must_use]
    pub fn of(spindle: SpindleId, at: Moment, phase: Phase, unit: Unit, strokes: Vec<Stroke>) -> Self {
        Self {
            spindle,
            at,
            phase,
            unit,
            strokes,
            run_hours: None,
            clamp_cycles: None,
            gauge: None,
            zero_checked: None,
            technician: None,
            note: String::new(),
            recorded_on: None,
            replaced_on: None,
            doubt: None,
        }
    }

    /// Checks what every reading must fulfil.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub fn checked(self) -> Result<Self, InvalidReading> {
        if self.strokes.is_empty() || self.strokes.len() > MAX_STROKES {
            return Err(InvalidReading::StrokeCount(self.strokes.len()));
        }
        if self.quantity() == Quantity::ClampForce {
            for (index, stroke) in self.strokes.iter().enumerate() {
                if stroke.base <= 0.0 {
                    let typed = stroke.typed.clone();
                    return Err(InvalidReading::ForceNotAboveZero { number: index + 1, typed, unit: self.unit });
                }
            }
        }
        check_counts(self.run_hours, self.clamp_cycles)?;
        Ok(self)
    }

    /// What was measured.
    #[must_use]
    pub const fn quantity(&self) -> Quantity {
        self.unit.quantity()
    }

    /// Mean of the strokes in kN or mm.
    #[must_use]
    pub fn mean_base(&self) -> f64 {
        let sum: f64 = self.strokes.iter().map(|stroke| stroke.base).sum();
        sum / self.strokes.len().max(1) as f64
    }

    /// Whether a correction has taken its place by that day.
    #[must_use]
    pub fn is_replaced_on(&self, day: NaiveDate) -> bool {
        self.replaced_on.is_some_and(|replaced| replaced <= day)
    }
}
