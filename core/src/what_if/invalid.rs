//! Why something cannot be pretended.

use crate::reading::InvalidReading;
use chrono::NaiveDate;

/// Why something cannot be pretended; names the figure and the mend.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidWhatIf {
    /// A factor out of range.
    #[error("usage × {0} does not fit; expected above 0 and at most 10, such as 2 for a second shift")]
    Times(f64),
    /// More hours than a day has, or none.
    #[error("usage of {0} h a working day does not fit; expected above 0 and at most 24")]
    HoursPerDay(f64),
    /// A risk out of range.
    #[error("accepted risk {0} % does not fit; expected 0.1 to 50")]
    Risk(f64),
    /// A share out of range.
    #[error("{what} {value} % does not fit; expected above 0 and at most 100")]
    Share {
        /// Which limit.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Stop limit not under the service limit.
    #[error("stop limit {stop} % is not below the service limit {service} %{of}; lower the one or raise the other")]
    LimitOrder {
        /// The stop limit.
        stop: f64,
        /// The service limit.
        service: f64,
        /// ` of R-04` where the service limit is that of a spindle; else empty.
        of: String,
    },
    /// Nothing or less.
    #[error("{what} {value} {unit} does not fit; expected above 0")]
    NotAboveZero {
        /// Which.
        what: &'static str,
        /// What was given.
        value: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A calendar interval out of range.
    #[error("interval of {0} months does not fit; expected 1 to 600")]
    Months(u32),
    /// The pretended reading breaks a rule of readings.
    #[error(transparent)]
    Reading(#[from] InvalidReading),
    /// The reading lies ahead.
    #[error("a reading on {day} lies after {as_of}; give {as_of} or an earlier day")]
    ReadingLater {
        /// Its day.
        day: NaiveDate,
        /// The day from which it looks.
        as_of: NaiveDate,
    },
    /// The service lies ahead.
    #[error(
        "a service on {day} lies after {as_of}; give {as_of} or an earlier day, a service to come belongs to the plan"
    )]
    ServiceLater {
        /// Its day.
        day: NaiveDate,
        /// The day from which it looks.
        as_of: NaiveDate,
    },
    /// A reading or a service for several spindles at once.
    #[error("a pretended reading or service is of one spindle, not of {0}; choose one, or empty those fields")]
    SeveralSpindles(usize),
    /// A setting-dimension reading of a spindle without such a limit.
    #[error(
        "{0} has no setting dimension in force, so a reading in mm or in tells nothing of it; read its clamp force"
    )]
    NoSettingDimension(String),
}
