//! Why an action was not done.

use crate::machine::InvalidMachine;
use crate::meter::InvalidMeterReading;
use crate::mounting::InvalidMounting;
use crate::reading::InvalidReading;
use crate::recurrence::InvalidRecurrence;
use crate::service::InvalidService;
use crate::settings::InvalidSetting;
use crate::spindle::InvalidSpindle;
use crate::store::StoreError;
use chrono::NaiveDate;

/// Why an action was not done; nothing was changed then.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The shop file.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A machine breaks a rule.
    #[error(transparent)]
    Machine(#[from] InvalidMachine),
    /// A spindle or a set of limits breaks a rule.
    #[error(transparent)]
    Spindle(#[from] InvalidSpindle),
    /// A mounting breaks a rule.
    #[error(transparent)]
    Mounting(#[from] InvalidMounting),
    /// A meter reading breaks a rule.
    #[error(transparent)]
    Meter(#[from] InvalidMeterReading),
    /// A reading breaks a rule.
    #[error(transparent)]
    Reading(#[from] InvalidReading),
    /// A service breaks a rule.
    #[error(transparent)]
    Service(#[from] InvalidService),
    /// A setting does not fit.
    #[error(transparent)]
    Setting(#[from] InvalidSetting),
    /// A repeat rule is not understood.
    #[error(transparent)]
    Repeat(#[from] InvalidRecurrence),
    /// Another register row breaks a rule.
    #[error(transparent)]
    Register(#[from] InvalidRegister),
    /// Rows that do not go together.
    #[error(transparent)]
    Conflict(#[from] Conflict),
}

/// Why a row of a small register cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidRegister {
    /// No name.
    #[error("a {0} needs a name")]
    NoName(&'static str),
    /// A character that separates names in the files.
    #[error("'{name}' cannot be the name of a {what}: it holds {held}, by which the files separate names")]
    Separator {
        /// What kind of row.
        what: &'static str,
        /// The name.
        name: String,
        /// The character.
        held: &'static str,
    },
    /// A figure outside its range.
    #[error("{field} of {what} is {value}; expected {expected}")]
    Figure {
        /// Whose.
        what: String,
        /// Which figure.
        field: &'static str,
        /// What was given.
        value: f64,
        /// What would fit.
        expected: &'static str,
    },
    /// An end before its start.
    #[error("{what} ends on {end}, before it starts on {start}")]
    EndBeforeStart {
        /// What.
        what: String,
        /// Its start.
        start: String,
        /// Its end.
        end: String,
    },
    /// A unit of another quantity.
    #[error("gauge {gauge} measures {quantity}, which is not shown in {unit}")]
    UnitOfOtherQuantity {
        /// The gauge.
        gauge: String,
        /// What it measures.
        quantity: &'static str,
        /// The unit.
        unit: &'static str,
    },
}

/// Why a row does not go together with what stands in the shop.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Conflict {
    /// Removing what records refer to.
    #[error("{what} cannot be removed: it has {records}; {instead}")]
    HasRecords {
        /// Such as `spindle S-0117`.
        what: String,
        /// Such as `12 readings and 2 services`.
        records: String,
        /// What to do instead.
        instead: &'static str,
    },
    /// A record older than its spindle.
    #[error("{what} of spindle {spindle} on {date} lies before it was installed on {installed}")]
    BeforeInstalled {
        /// What kind of record.
        what: &'static str,
        /// The spindle.
        spindle: String,
        /// Day of the record.
        date: NaiveDate,
        /// Day of the spindle.
        installed: NaiveDate,
    },
    /// A machine gets fewer positions than are used.
    #[error("machine {machine} cannot have {positions} spindle positions: position {used} has {what}s")]
    PositionInUse {
        /// The machine.
        machine: String,
        /// How many it was to have.
        positions: u32,
        /// A position beyond that.
        used: u32,
        /// What stands there.
        what: &'static str,
    },
    /// A second row for what can have one.
    #[error("there is already {0}")]
    Double(String),
    /// A record that was already replaced.
    #[error("this {what} was already replaced on {replaced}")]
    AlreadyReplaced {
        /// Such as `reading of S-0117`.
        what: String,
        /// When.
        replaced: NaiveDate,
    },
    /// A correction older than the record.
    #[error("a correction on {correction} lies before the {what} was entered on {recorded}")]
    CorrectedBefore {
        /// Such as `reading of S-0117`.
        what: String,
        /// Day of the correction.
        correction: NaiveDate,
        /// Day on which the record was entered.
        recorded: NaiveDate,
    },
    /// A correction that measures something else.
    #[error("the {what} to correct is of the {was}, not of the {is}: withdraw it and record the {is} anew")]
    OtherQuantity {
        /// Such as `reading of S-0117`.
        what: String,
        /// What the record measured.
        was: &'static str,
        /// What the correction measures.
        is: &'static str,
    },
    /// Readings of another spindle at a service.
    #[error("a reading at the service of {service} belongs to {reading}")]
    OtherSpindle {
        /// The spindle that was serviced.
        service: String,
        /// The spindle of the reading.
        reading: String,
    },
    /// Nothing there to take out.
    #[error("{0} is empty, and nothing comes in")]
    NothingToExchange(String),
    /// The spindle that comes in is the one that sits there.
    #[error("spindle {spindle} already sits in {position}")]
    SameSpindle {
        /// The spindle.
        spindle: String,
        /// Where.
        position: String,
    },
}
