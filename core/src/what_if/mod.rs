//! What if: a shop pretended, projected and set beside the shop as it stands.
//!
//! A pretended shop is a copy in memory. It has no store, it is no action, nothing of it is
//! journalled; what other spindles taught (fits and group figures) stays as it was.
//!
//! Limits in force stay in force: a stop limit pretended lower is not reckoned with, a service
//! limit counts at least as much as the stop limit in force, and a spindle that must not run is
//! said not to run whatever is pretended.

mod apply;
mod compare;
mod invalid;
mod words;

use crate::forecast::PlannedUsage;
use crate::ids::SpindleId;
use crate::moment::Moment;
use crate::reading::{Phase, Reading, Stroke};
use crate::service::Kind;
use crate::units::{ClampCycles, Millimetres, Percent, RunHours, Unit};
use chrono::NaiveDate;

pub use apply::Pretended;
pub use compare::{Basis, Compared, ComparedRow, ComparedShop, NotCompared, Standing, compare};
pub use invalid::InvalidWhatIf;

/// A reading that was not taken.
#[derive(Debug, Clone, PartialEq)]
pub struct PretendedReading {
    /// The unit of its strokes; it says what is measured.
    pub unit: Unit,
    /// One to five strokes.
    pub strokes: Vec<Stroke>,
    /// At what occasion.
    pub phase: Phase,
    /// On the as-of day or before.
    pub day: NaiveDate,
}

/// A service that was not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PretendedService {
    /// Minor or major.
    pub kind: Kind,
    /// On the as-of day or before: a service to come belongs to the plan.
    pub day: NaiveDate,
}

/// What is pretended; what is left open stays as it is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WhatIf {
    /// Usage from the as-of day on.
    pub usage: PlannedUsage,
    /// Accepted chance of having crossed a limit by the service-by date.
    pub accepted_risk: Option<Percent>,
    /// Service limit in percent of nominal.
    pub service_limit: Option<Percent>,
    /// Stop limit in percent of nominal.
    pub stop_limit: Option<Percent>,
    /// How far the setting dimension may be off, either way.
    pub setting_tolerance: Option<Millimetres>,
    /// Calendar interval in months.
    pub every_months: Option<u32>,
    /// Interval in run hours.
    pub every_hours: Option<RunHours>,
    /// Interval in clamp cycles.
    pub every_cycles: Option<ClampCycles>,
    /// A reading more; of one spindle.
    pub reading: Option<PretendedReading>,
    /// A service more; of one spindle.
    pub service: Option<PretendedService>,
}

/// The most that a usage may be multiplied by.
const MOST_TIMES: f64 = 10.0;
/// Hours of a day.
const HOURS_OF_A_DAY: f64 = 24.0;
/// The longest calendar interval: fifty years.
const MOST_MONTHS: u32 = 600;
/// Accepted risk in percent: the range of the shop's setting.
const RISK: [f64; 2] = [0.1, 50.0];

impl WhatIf {
    /// Whether nothing is pretended.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Whether it can only be of one spindle.
    #[must_use]
    pub const fn is_of_one_spindle(&self) -> bool {
        self.reading.is_some() || self.service.is_some()
    }

    /// Checks what can be checked without a shop; `as_of` is the day from which it looks.
    ///
    /// # Errors
    /// The first figure that does not fit, with what would.
    pub fn checked(self, as_of: NaiveDate) -> Result<Self, InvalidWhatIf> {
        self.check_usage()?;
        self.check_limits()?;
        if let Some(risk) = self.accepted_risk.map(Percent::get)
            && !(RISK[0]..=RISK[1]).contains(&risk)
        {
            return Err(InvalidWhatIf::Risk(risk));
        }
        if let Some(reading) = &self.reading {
            reading.as_row(SpindleId::from_row(0)).checked()?;
            if reading.day > as_of {
                return Err(InvalidWhatIf::ReadingLater { day: reading.day, as_of });
            }
        }
        if let Some(day) = self.service.map(|service| service.day).filter(|day| *day > as_of) {
            return Err(InvalidWhatIf::ServiceLater { day, as_of });
        }
        Ok(self)
    }

    fn check_usage(&self) -> Result<(), InvalidWhatIf> {
        match self.usage {
            PlannedUsage::Share(share) if !(share.get() > 0.0 && share.get() <= MOST_TIMES * 100.0) => {
                Err(InvalidWhatIf::Times(share.get() / 100.0))
            }
            PlannedUsage::HoursPerDay(hours) if !(hours.get() > 0.0 && hours.get() <= HOURS_OF_A_DAY) => {
                Err(InvalidWhatIf::HoursPerDay(hours.get()))
            }
            _ => Ok(()),
        }
    }

    fn check_limits(&self) -> Result<(), InvalidWhatIf> {
        for (what, share) in [("service limit", self.service_limit), ("stop limit", self.stop_limit)] {
            if let Some(value) = share.map(Percent::get).filter(|value| !(*value > 0.0 && *value <= 100.0)) {
                return Err(InvalidWhatIf::Share { what, value });
            }
        }
        if let (Some(stop), Some(service)) = (self.stop_limit, self.service_limit)
            && stop >= service
        {
            return Err(InvalidWhatIf::LimitOrder { stop: stop.get(), service: service.get(), of: String::new() });
        }
        let above_zero = [
            ("setting tolerance", "mm", self.setting_tolerance.map(Millimetres::get)),
            ("interval in run hours", "h", self.every_hours.map(RunHours::get)),
            ("interval in clamp cycles", "cycles", self.every_cycles.map(ClampCycles::get)),
        ];
        for (what, unit, value) in above_zero {
            if let Some(value) = value.filter(|value| *value <= 0.0) {
                return Err(InvalidWhatIf::NotAboveZero { what, value, unit });
            }
        }
        match self.every_months.filter(|months| !(1..=MOST_MONTHS).contains(months)) {
            Some(months) => Err(InvalidWhatIf::Months(months)),
            None => Ok(()),
        }
    }
}

impl PretendedReading {
    /// The reading as a row of a spindle.
    fn as_row(&self, spindle: SpindleId) -> Reading {
        let note = "what if".to_owned();
        Reading { note, ..Reading::of(spindle, Moment::day(self.day), self.phase, self.unit, self.strokes.clone()) }
    }
}
