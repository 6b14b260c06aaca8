//! Work orders.

use crate::ids::SpindleId;
use crate::moment::Moment;
use crate::service::Kind;
use crate::units::RunHours;
use chrono::NaiveDate;

/// How far an order is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum OrderState {
    /// Placed and accepted.
    Planned,
    /// Handed out.
    Issued,
    /// Being worked on.
    UnderWay,
    /// Finished.
    Done,
    /// Something is left to do.
    PartlyDone,
    /// It did not happen.
    NotDone,
}

impl OrderState {
    /// All states, in the order in which they follow.
    pub const ALL: [Self; 6] =
        [Self::Planned, Self::Issued, Self::UnderWay, Self::Done, Self::PartlyDone, Self::NotDone];

    /// The words of the files and of the screen.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Issued => "issued",
            Self::UnderWay => "under way",
            Self::Done => "done",
            Self::PartlyDone => "partly done",
            Self::NotDone => "not done",
        }
    }

    /// The state of those words; case and `_` or space do not matter.
    #[must_use]
    pub fn from_key(text: &str) -> Option<Self> {
        let text = text.trim().to_ascii_lowercase().replace('_', " ");
        Self::ALL.into_iter().find(|state| state.key() == text)
    }

    /// Whether the work was to start on a day that is over, and has not begun.
    #[must_use]
    pub fn is_overdue(self, day: Option<NaiveDate>, as_of: NaiveDate) -> bool {
        matches!(self, Self::Planned | Self::Issued) && day.is_some_and(|day| day < as_of)
    }

    /// Whether something is still to be done (partly done ones until they are closed).
    #[must_use]
    pub const fn is_open(self) -> bool {
        matches!(self, Self::Planned | Self::Issued | Self::UnderWay | Self::PartlyDone)
    }
}

/// A work order: one service of one spindle.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Number by the shop's pattern, unique.
    pub name: String,
    /// The spindle.
    pub spindle: SpindleId,
    /// Which service.
    pub kind: Kind,
    /// How far it is.
    pub state: OrderState,
    /// When it was opened.
    pub opened_on: Option<NaiveDate>,
    /// Service-by date when it was opened.
    pub service_by: Option<NaiveDate>,
    /// Start of the placement.
    pub start: Option<Moment>,
    /// How long it takes.
    pub duration: Option<RunHours>,
    /// Who does it; the one who leads stands first.
    pub technicians: Vec<String>,
    /// Whether the planner fixed it.
    pub held: bool,
    /// When it was closed.
    pub closed_on: Option<NaiveDate>,
    /// What the planner says of it, such as why it stands where it breaks a rule.
    pub note: String,
}

impl Order {
    /// Closed, whatever its state: an order may end partly done.
    #[must_use]
    pub const fn is_closed(&self) -> bool {
        self.closed_on.is_some() || !self.state.is_open()
    }

    /// Whether the work has begun and is not over.
    #[must_use]
    pub const fn has_begun(&self) -> bool {
        matches!(self.state, OrderState::UnderWay | OrderState::PartlyDone)
    }

    /// Whether no plan moves it: the planner fixed it, or it is issued or begun.
    #[must_use]
    pub const fn stays(&self) -> bool {
        self.held || matches!(self.state, OrderState::Issued | OrderState::UnderWay | OrderState::PartlyDone)
    }

    /// Of several open orders of a spindle the least comes first: it is what the spindle waits for.
    #[must_use]
    pub fn turn(&self) -> (bool, Option<Moment>, &str) {
        (self.start.is_none(), self.start, &self.name)
    }

    /// Open on that day: opened by then and not yet closed.
    ///
    /// An order closed later than the day was open on it, whatever its state is by now.
    #[must_use]
    pub fn is_open_on(&self, day: NaiveDate) -> bool {
        self.opened_on.is_none_or(|opened| opened <= day)
            && match self.closed_on {
                Some(closed) => closed > day,
                None => self.state.is_open(),
            }
    }
}
