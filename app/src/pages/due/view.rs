//! What the user set on the due page: filter, order, groups and how far the axis reaches.

use almanac_core::due::Mark;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// By what the rows are sorted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
pub enum SortBy {
    /// State, the worst first.
    State,
    /// Position, digits by their value.
    Position,
    /// Name of the spindle.
    Spindle,
    /// Tool interface.
    Interface,
    /// Force today.
    Force,
    /// Force today in percent of nominal.
    Percent,
    /// Reserve, the smallest first.
    Reserve,
    /// Service-by, the soonest first.
    #[default]
    ServiceBy,
    /// The limit that is reached first.
    Because,
    /// The day on which it is placed.
    PlacedIn,
}

impl SortBy {
    /// All, as the columns stand.
    pub const ALL: [Self; 10] = [
        Self::State,
        Self::Position,
        Self::Spindle,
        Self::Interface,
        Self::Force,
        Self::Percent,
        Self::Reserve,
        Self::ServiceBy,
        Self::Because,
        Self::PlacedIn,
    ];

    /// The head of its column.
    #[must_use]
    pub const fn head(self) -> &'static str {
        match self {
            Self::State => "state",
            Self::Position => "position",
            Self::Spindle => "spindle",
            Self::Interface => "interface",
            Self::Force => "force now",
            Self::Percent => "%",
            Self::Reserve => "reserve",
            Self::ServiceBy => "service by",
            Self::Because => "because of",
            Self::PlacedIn => "placed in",
        }
    }

    /// The same where it stands alone.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Percent => "force now in %",
            other => other.head(),
        }
    }
}

/// How the rows are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum GroupBy {
    /// One list.
    #[default]
    Nothing,
    /// By the month of the service-by date.
    Month,
    /// By hall.
    Hall,
}

impl GroupBy {
    /// All, as the menu lists them.
    pub const ALL: [Self; 3] = [Self::Nothing, Self::Month, Self::Hall];

    /// The words of the menu.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Nothing => "one list",
            Self::Month => "by month of service-by",
            Self::Hall => "by hall",
        }
    }
}

/// Which rows are shown. An empty set of a kind lets everything of that kind through.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Filter {
    /// Looked for in position, spindle, interface, hall and order number.
    pub find: String,
    /// Halls.
    pub halls: BTreeSet<String>,
    /// Tool interfaces.
    pub interfaces: BTreeSet<String>,
    /// State words.
    pub states: BTreeSet<String>,
    /// Technicians who lead the open order.
    pub technicians: BTreeSet<String>,
    /// Whether spindles that sit in no machine are shown too.
    pub with_not_mounted: bool,
}

impl Filter {
    /// Whether it keeps anything back that is shown by default, or shows more.
    #[must_use]
    pub fn is_set(&self) -> bool {
        *self != Self::default()
    }

    /// Whether a state word gets through.
    #[must_use]
    pub fn takes_state(&self, mark: Option<Mark>) -> bool {
        self.states.is_empty() || mark.is_some_and(|mark| self.states.contains(mark.label()))
    }
}

/// Weeks ahead that the axis may show.
pub const WEEK_STEPS: [u32; 7] = [13, 20, 26, 39, 52, 78, 104];

/// All that the user set on the page; goes into the preferences.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct DueView {
    /// Which rows; not kept, or rows would be missing in another shop or on another day.
    #[serde(skip)]
    pub filter: Filter,
    /// In which order.
    pub sort: SortBy,
    /// The other way round.
    pub descending: bool,
    /// In which groups.
    pub group: GroupBy,
    /// How far ahead the axis reaches, in weeks.
    pub weeks: u32,
}

impl Default for DueView {
    fn default() -> Self {
        Self {
            filter: Filter::default(),
            sort: SortBy::default(),
            descending: false,
            group: GroupBy::default(),
            weeks: 26,
        }
    }
}

impl DueView {
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

    /// The next longer axis.
    pub fn more_weeks(&mut self) {
        self.weeks = WEEK_STEPS.into_iter().find(|step| *step > self.weeks).unwrap_or(104);
    }

    /// The next shorter axis.
    pub fn fewer_weeks(&mut self) {
        self.weeks = WEEK_STEPS.into_iter().rev().find(|step| *step < self.weeks).unwrap_or(13);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_stays_between_13_and_104_weeks() {
        let mut view = DueView::default();
        for _ in 0..10 {
            view.fewer_weeks();
        }
        assert_eq!(view.weeks, 13);
        let mut seen = vec![];
        for _ in 0..7 {
            seen.push(view.weeks);
            view.more_weeks();
        }
        assert_eq!((seen, view.weeks), (WEEK_STEPS.to_vec(), 104));
    }

    #[test]
    fn the_same_column_again_turns_the_order_round() {
        let mut view = DueView::default();
        view.sort_by(SortBy::Reserve);
        assert_eq!((view.sort, view.descending), (SortBy::Reserve, false));
        view.sort_by(SortBy::Reserve);
        assert!(view.descending);
        view.sort_by(SortBy::Reserve);
        assert!(!view.descending);
        view.sort_by(SortBy::ServiceBy);
        assert_eq!((view.sort, view.descending), (SortBy::ServiceBy, false));
    }
}
