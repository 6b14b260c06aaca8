//! Meter readings: run hours and clamp cycles as the meter shows them.

use crate::ids::SpindleId;
use crate::machine::Position;
use crate::moment::Moment;
use crate::units::{ClampCycles, RunHours};
use chrono::NaiveDate;

/// Whose meter it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MeterOwner {
    /// A meter that travels with the spindle.
    Spindle(SpindleId),
    /// A meter of a machine position; the spindle in it makes the hours.
    Position(Position),
}

/// What a meter showed.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterReading {
    /// Whose meter.
    pub owner: MeterOwner,
    /// When it was read.
    pub at: Moment,
    /// Run hours shown.
    pub run_hours: Option<RunHours>,
    /// Clamp cycles shown.
    pub clamp_cycles: Option<ClampCycles>,
    /// The first reading of a new meter.
    pub meter_replaced: bool,
    /// The day it was entered, where that is not the day of the reading.
    pub recorded_on: Option<NaiveDate>,
    /// The day on which a correction took its place.
    pub replaced_on: Option<NaiveDate>,
}

/// Why a meter reading cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidMeterReading {
    /// Neither hours nor cycles.
    #[error("a meter reading needs run hours or clamp cycles")]
    Empty,
    /// A meter does not show less than nothing.
    #[error("{what} is {value}; expected 0 or more")]
    Negative {
        /// Which.
        what: &'static str,
        /// What was given.
        value: f64,
    },
}

impl MeterReading {
    /// Checks what every meter reading must fulfil.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub fn checked(self) -> Result<Self, InvalidMeterReading> {
        if self.run_hours.is_none() && self.clamp_cycles.is_none() {
            return Err(InvalidMeterReading::Empty);
        }
        check_counts(self.run_hours, self.clamp_cycles)?;
        Ok(self)
    }
}

/// Meter figures that any record may carry: none below zero.
///
/// # Errors
/// The first one below zero.
pub fn check_counts(run_hours: Option<RunHours>, clamp_cycles: Option<ClampCycles>) -> Result<(), InvalidMeterReading> {
    for (what, value) in
        [("run hours", run_hours.map(RunHours::get)), ("clamp cycles", clamp_cycles.map(ClampCycles::get))]
    {
        if let Some(value) = value.filter(|value| *value < 0.0) {
            return Err(InvalidMeterReading::Negative { what, value });
        }
    }
    Ok(())
}
