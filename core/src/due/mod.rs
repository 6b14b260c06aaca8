//! The due list: every spindle, soonest service-by first, with its mark and where it is placed.

use crate::forecast::next_reading::NextReading;
use crate::forecast::{GoverningLimit, SpindleForecast};
use crate::ids::{OrderId, SpindleId};
use crate::moment::Moment;
use crate::order::OrderState;
use crate::service::Kind;
use crate::words;
use chrono::NaiveDate;
use std::sync::Arc;

mod format;
mod kits;
mod lead_line;
mod list;
mod mark;
mod sentence;

pub(crate) use format::rounded;
pub use format::{csv_columns, to_csv, to_json, to_table};
pub use kits::{FreeParts, KitReady};
pub use list::due_list;
pub use mark::{MarkInput, must_not_run};
pub use sentence::{accessible_sentence, row_sentence};

/// The state words of the screen; the first that fits counts, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// Not mounted, or taken out.
    OutOfService,
    /// Last reading (not doubted) or estimate under the stop limit, until measured within limits.
    DoNotRun,
    /// Under the service limit, setting dimension out of tolerance, or an interval over.
    PastLimit,
    /// Service-by now or within the booking horizon, and no order.
    ToBook,
    /// Its order is after service-by.
    BookedLate,
    /// An open order on or before service-by.
    Booked,
    /// Never measured.
    NoReading,
    /// Nothing of these.
    Clear,
}

impl Mark {
    /// All marks in their order.
    pub const ALL: [Self; 8] = [
        Self::OutOfService,
        Self::DoNotRun,
        Self::PastLimit,
        Self::ToBook,
        Self::BookedLate,
        Self::Booked,
        Self::NoReading,
        Self::Clear,
    ];

    /// The word.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::OutOfService => "out of service",
            Self::DoNotRun => "do not run",
            Self::PastLimit => "past limit",
            Self::ToBook => "to book",
            Self::BookedLate => "booked late",
            Self::Booked => "booked",
            Self::NoReading => "no reading",
            Self::Clear => "clear",
        }
    }

    /// Whether a person must act.
    #[must_use]
    pub const fn needs_action(self) -> bool {
        matches!(self, Self::DoNotRun | Self::PastLimit | Self::ToBook | Self::BookedLate)
    }
}

/// What *placed in* says of an order without a day.
pub const NO_PLACE: &str = "no place yet";

/// An open order as far as the list shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Booking {
    /// The order.
    pub order: OrderId,
    /// Its number.
    pub name: String,
    /// How far it is.
    pub state: OrderState,
    /// When it starts; `None`: not placed yet.
    pub start: Option<Moment>,
    /// The day of the shop in which that lies: a night shift is one day.
    pub day: Option<NaiveDate>,
    /// Who leads.
    pub technician: Option<String>,
}

impl Booking {
    /// Whether its day is over and the work has not begun: nothing will come of it as it stands.
    #[must_use]
    pub fn is_overdue(&self, as_of: NaiveDate) -> bool {
        self.state.is_overdue(self.day, as_of)
    }

    /// The day as *placed in* gives it: `Sat 14 Mar`, `was Thu 26 Feb` where it is over and the work has
    /// not begun; `None` without a place.
    #[must_use]
    pub fn day_in_words(&self, as_of: NaiveDate) -> Option<String> {
        let day = words::date_short(self.day?, as_of);
        Some(if self.is_overdue(as_of) { format!("was {day}") } else { day })
    }
}

/// One spindle of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct DueRow {
    /// The spindle.
    pub spindle: SpindleId,
    /// Its name.
    pub name: String,
    /// Where it sits, such as `R-07/2`; `None`: not mounted.
    pub position: Option<String>,
    /// Name of the machine.
    pub machine: Option<String>,
    /// The hall.
    pub hall: Option<String>,
    /// Tool interface.
    pub interface: String,
    /// State word.
    pub mark: Mark,
    /// Its open order.
    pub booking: Option<Booking>,
    /// The last day up to service-by on which its machine has a downtime window, from the as-of day on
    /// or from the day before which the planner does not want it done.
    pub last_window: Option<NaiveDate>,
    /// The first such day from the as-of day on, wherever service-by lies.
    pub next_window: Option<NaiveDate>,
    /// The planner's first day for it, where that lies ahead.
    pub not_before: Option<NaiveDate>,
    /// Which service it needs.
    pub service: Kind,
    /// Whether the kit for that is there; `None` where the shop lists none, and for spindles that
    /// need no service soon.
    pub kit: Option<KitReady>,
    /// Where the kit is not there by the day it is needed: the start of its order, else its last
    /// window.
    pub kit_late: Option<KitLate>,
    /// Days from the as-of day to service-by.
    pub days: Option<i64>,
    /// The projection behind it.
    pub forecast: Arc<SpindleForecast>,
}

impl DueRow {
    /// Service-by as far as it is work: nothing is due of a spindle out of service, whatever its
    /// projection says.
    #[must_use]
    pub fn service_by(&self) -> Option<NaiveDate> {
        self.forecast.service_by.filter(|_| self.mark != Mark::OutOfService)
    }

    /// The limit behind that date.
    #[must_use]
    pub fn governing(&self) -> Option<GoverningLimit> {
        self.forecast.governing.filter(|_| self.mark != Mark::OutOfService)
    }
}

/// A kit that is not here in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KitLate {
    /// It arrives on that day.
    On(NaiveDate),
    /// A part is missing and none is on order.
    Missing,
}

/// The sentence that opens the page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LeadLine {
    /// What a person must act on; empty where nothing is wrong.
    pub urgent: String,
    /// The rest.
    pub rest: String,
}

/// The whole list.
#[derive(Debug, Clone, PartialEq)]
pub struct DueList {
    /// The day from which it looks.
    pub as_of: NaiveDate,
    /// How far ahead a service must be placed, in days.
    pub booking_horizon_days: u32,
    /// By service-by (none last), then reserve, then name.
    pub rows: Vec<DueRow>,
    /// What matters today.
    pub lead: LeadLine,
    /// Readings worth taking in the next round, most useful first; empty until they are worked out.
    pub worth_reading: Vec<NextReading>,
}

impl DueList {
    /// The row of a spindle.
    #[must_use]
    pub fn row(&self, spindle: SpindleId) -> Option<&DueRow> {
        self.rows.iter().find(|row| row.spindle == spindle)
    }

    /// The same with the readings worth taking
    /// ([`next_readings`](crate::forecast::next_reading::next_readings)).
    #[must_use]
    pub fn with_readings(self, worth_reading: Vec<NextReading>) -> Self {
        Self { worth_reading, ..self }
    }
}
