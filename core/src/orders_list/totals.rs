//! What the lines of a list come to: the last line of the page.

use super::{LineState, OrderLine};
use crate::due::KitReady;
use crate::order::OrderState;
use crate::units::{Money, RunHours};
use crate::words;
use chrono::NaiveDate;

/// Counts and sums over some lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Totals {
    /// All lines.
    pub lines: usize,
    /// Lines without an order.
    pub to_book: usize,
    /// Lines per state of their order, in the order of [`OrderState::ALL`].
    pub states: [usize; 6],
    /// Open lines without a day.
    pub without_day: usize,
    /// Open orders whose day lies after service-by.
    pub late: usize,
    /// Open lines whose kit is not complete: on the day where it has one, else today.
    pub kit_not_there: usize,
    /// Work, lockout not counted.
    pub work: RunHours,
    /// Stop cost of what is placed.
    pub stop_cost: Money,
}

/// The totals of some lines, seen from a day.
#[must_use]
pub fn totals<'a>(lines: impl IntoIterator<Item = &'a OrderLine>, as_of: NaiveDate) -> Totals {
    let mut totals = Totals::default();
    for line in lines {
        totals.lines += 1;
        totals.work = totals.work + line.duration.unwrap_or_default();
        totals.stop_cost = totals.stop_cost + line.stop_cost.unwrap_or_default();
        match line.state {
            LineState::ToBook => totals.to_book += 1,
            LineState::Order(state) => {
                let place = OrderState::ALL.iter().position(|one| *one == state);
                if let Some(count) = place.and_then(|place| totals.states.get_mut(place)) {
                    *count += 1;
                }
            }
        }
        if !line.is_open {
            continue;
        }
        totals.without_day += usize::from(line.id.is_some() && line.start.is_none());
        totals.late += usize::from(line.is_late());
        totals.kit_not_there += usize::from(line.is_kit_late(as_of));
    }
    totals
}

impl Totals {
    /// `16 lines: 5 to book, 8 planned, 3 issued; 24.5 h of work; stop cost 3,410 EUR; …`.
    #[must_use]
    pub fn in_words(&self, currency: &str) -> String {
        let count = |count: usize| words::number(count as f64, 0);
        let mut states = vec![(self.to_book, "to book")];
        states.extend(self.states.into_iter().zip(OrderState::ALL.map(OrderState::key)));
        let states: Vec<String> = states
            .into_iter()
            .filter(|(many, _)| *many > 0)
            .map(|(many, word)| format!("{} {word}", count(many)))
            .collect();
        let lines = if self.lines == 1 { "1 line".to_owned() } else { format!("{} lines", count(self.lines)) };
        if self.lines == 0 {
            return lines;
        }
        let mut parts = vec![format!("{lines}: {}", states.join(", "))];
        if self.work > RunHours::ZERO {
            parts.push(format!("{} h of work", words::number(self.work.get(), 1)));
        }
        if self.stop_cost > Money::ZERO {
            parts.push(format!("stop cost {}", words::money_in(self.stop_cost, currency)));
        }
        for (many, what) in [
            (self.without_day, "without a day"),
            (self.late, "after service-by"),
            (self.kit_not_there, "without the kit"),
        ] {
            if many > 0 {
                parts.push(format!("{} {what}", count(many)));
            }
        }
        parts.join("; ")
    }
}

impl OrderLine {
    /// Whether its order is open and its day lies after service-by.
    #[must_use]
    pub fn is_late(&self) -> bool {
        self.is_open && self.day.zip(self.service_by).is_some_and(|(day, by)| day > by)
    }

    /// Whether its day is over and the work has not begun.
    #[must_use]
    pub fn is_overdue(&self, as_of: NaiveDate) -> bool {
        self.is_open && matches!(self.state, LineState::Order(state) if state.is_overdue(self.day, as_of))
    }

    /// Whether it must be booked today: a limit is passed or the accepted risk used up.
    #[must_use]
    pub fn is_pressing(&self, as_of: NaiveDate) -> bool {
        self.state == LineState::ToBook && self.service_by.is_none_or(|by| by <= as_of)
    }

    /// Whether the kit is known not to be there in time: by its day, or today where it has none.
    #[must_use]
    pub fn is_kit_late(&self, as_of: NaiveDate) -> bool {
        let day = self.day.map_or(as_of, |day| day.max(as_of));
        self.is_open && self.kit.is_some_and(|kit| !kit.is_there_on(day))
    }

    /// The kit as lists say it: `here`, `26 Mar`, `missing`; empty where nothing is known of one.
    #[must_use]
    pub fn kit_words(&self, as_of: NaiveDate) -> String {
        match self.kit {
            None => String::new(),
            Some(KitReady::Here) => "here".to_owned(),
            Some(KitReady::On(day)) => words::day_month(day, as_of),
            Some(KitReady::Missing) => "missing".to_owned(),
        }
    }

    /// Service-by as lists say it: `now`, a date, or the sign for unknown.
    #[must_use]
    pub fn service_by_words(&self, as_of: NaiveDate) -> String {
        match self.service_by {
            Some(by) if by <= as_of && self.is_open && self.governing_limit.is_some() => "now".to_owned(),
            Some(by) => words::date_short(by, as_of),
            None => words::UNKNOWN.to_owned(),
        }
    }

    /// When it begins, as lists say it: `Sat 14 Mar 07:00`, or the sign for unknown.
    #[must_use]
    pub fn start_words(&self, as_of: NaiveDate) -> String {
        self.start.map_or_else(
            || words::UNKNOWN.to_owned(),
            |start| match start.time {
                Some(time) => format!("{} {}", words::date_short(start.date, as_of), time.format("%H:%M")),
                None => words::date_short(start.date, as_of),
            },
        )
    }
}
