//! What the user set on the orders page: filter, order, and whether closed orders are listed.

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// By what the lines are sorted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum SortBy {
    /// Number of the order, digits by their value; lines to book first.
    Number,
    /// How far it is.
    State,
    /// Position, digits by their value.
    Position,
    /// Name of the spindle.
    Spindle,
    /// Tool interface.
    Interface,
    /// Minor or major.
    Service,
    /// Service-by, the soonest first.
    #[default]
    ServiceBy,
    /// When it begins.
    When,
    /// Who leads.
    Who,
    /// When the kit is complete.
    Kit,
    /// How long it takes.
    Hours,
    /// What the stop costs.
    StopCost,
}

impl SortBy {
    /// All, as the columns stand.
    pub const ALL: [Self; 12] = [
        Self::Number,
        Self::State,
        Self::Position,
        Self::Spindle,
        Self::Interface,
        Self::Service,
        Self::ServiceBy,
        Self::When,
        Self::Who,
        Self::Kit,
        Self::Hours,
        Self::StopCost,
    ];

    /// The head of its column.
    #[must_use]
    pub const fn head(self) -> &'static str {
        match self {
            Self::Number => "order",
            Self::State => "state",
            Self::Position => "position",
            Self::Spindle => "spindle",
            Self::Interface => "interface",
            Self::Service => "service",
            Self::ServiceBy => "service by",
            Self::When => "when",
            Self::Who => "who",
            Self::Kit => "kit",
            Self::Hours => "hours",
            Self::StopCost => "stop cost",
        }
    }

    /// Whether its column holds figures.
    #[must_use]
    pub const fn is_figure(self) -> bool {
        matches!(self, Self::Hours | Self::StopCost)
    }
}

/// Which lines are shown. An empty set lets everything of its kind through.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Filter {
    /// Looked for in number, position, spindle, interface, hall and technicians.
    pub find: String,
    /// State words.
    pub states: BTreeSet<String>,
    /// Halls.
    pub halls: BTreeSet<String>,
    /// Technicians, leading or not.
    pub technicians: BTreeSet<String>,
    /// Tool interfaces.
    pub interfaces: BTreeSet<String>,
}

impl Filter {
    /// Whether it keeps anything back.
    #[must_use]
    pub fn is_set(&self) -> bool {
        *self != Self::default()
    }
}

/// All that the user set on the page; goes into the preferences.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct OrdersView {
    /// Which lines; not kept, or lines would be missing in another shop.
    #[serde(skip)]
    pub filter: Filter,
    /// In which order.
    pub sort: SortBy,
    /// The other way round.
    pub descending: bool,
    /// Closed orders too.
    pub closed: bool,
}

impl OrdersView {
    /// Sorts by a column; the same one again turns the order round.
    pub fn sort_by(&mut self, column: SortBy) {
        self.descending = self.sort == column && !self.descending;
        self.sort = column;
    }

    /// What is kept when the program is left: all but the filter.
    #[must_use]
    pub fn kept(&self) -> Self {
        Self { filter: Filter::default(), ..self.clone() }
    }
}
