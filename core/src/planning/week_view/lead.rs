//! The sentence that opens the week plan.

use super::super::proposal::{LeftService, PlacedService, Proposal};
use super::earlier::{EarlierOrder, earlier_words};
use crate::due::{DueList, DueRow, Mark};
use crate::shop::Shop;
use crate::units::Percent;
use crate::words::{capital, count_words, date_long, money_in, number};
use chrono::{Days, NaiveDate};

/// The sentence in its parts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PlanLead {
    /// How many are placed and how many are not.
    pub first: String,
    /// What the plan costs, or what to do.
    pub rest: String,
    /// Whether a person must act: something due has no place.
    pub is_urgent: bool,
}

impl PlanLead {
    /// The same with the orders that are open from before the plan.
    #[must_use]
    pub(super) fn with_earlier(mut self, earlier: &[EarlierOrder], as_of: NaiveDate) -> Self {
        let words = earlier_words(earlier, as_of);
        if !words.is_empty() {
            let gap = if self.first.is_empty() { "" } else { " " };
            self.first.push_str(&format!("{gap}{words}"));
            self.is_urgent = true;
        }
        self
    }
}

/// Above that gap nothing is said of the cheapest possible plan.
const WORTH_SAYING: f64 = 15.0;

/// By how much a plan may lie above the cheapest possible at most; `None` where nothing useful can be said.
#[must_use]
pub fn above_cheapest(plan: &Proposal) -> Option<Percent> {
    let cheapest = plan.cheapest_possible?.get();
    let over = plan.costs.total().get() - cheapest;
    let share = if over <= 0.0 { 0.0 } else { over / cheapest * 100.0 };
    Percent::new(share).filter(|share| share.get() <= WORTH_SAYING)
}

/// The sentence of a plan: of a proposal with its cost, of what is booked with what to do.
#[must_use]
pub fn lead(shop: &Shop, due: &DueList, plan: &Proposal, is_proposal: bool, earlier: &[EarlierOrder]) -> PlanLead {
    // what is held from before the plan is told for itself
    let is_ahead = |placed: &&PlacedService| plan.as_of <= shop.settings.day_of(placed.place.start);
    let placed = plan.placed.iter().filter(is_ahead).count();
    // one whose order stands before the plan is told with those
    let is_earlier = |one: &LeftService| earlier.iter().any(|order| order.service == one.key());
    let all_left = plan.left.iter().filter(|one| !one.for_next_plan);
    let (earlier_left, left): (Vec<_>, Vec<_>) = all_left.partition(|one| is_earlier(one));
    let left = left.len();
    if placed == 0 && left == 0 {
        return nothing_due(due, plan);
    }
    let word = if is_proposal { "placed" } else { "booked" };
    let services = match placed {
        1 => format!("one service is {word}"),
        many => format!("{} services are {word}", count_words(many)),
    };
    let not = match (left, is_proposal) {
        (0, _) => String::new(),
        (1, true) => ", one is not".to_owned(),
        (many, true) => format!(", {} are not", count_words(many)),
        (1, false) => ", one that is due has no place".to_owned(),
        (many, false) => format!(", {} that are due have no place", count_words(many)),
    };
    let currency = &shop.settings.currency;
    let mut rest = format!("The plan costs {}", money_in(plan.costs.total(), currency));
    if is_proposal && let Some(above) = above_cheapest(plan) {
        rest.push_str(&match above.get() {
            // nothing is claimed that was not proven: a gap too small to print is still one
            share if share <= 0.0 => ", the cheapest possible".to_owned(),
            share => format!(", at most {} % above the cheapest possible", number((share * 10.0).ceil() / 10.0, 1)),
        });
    }
    rest.push('.');
    if !is_proposal && (left > 0 || !earlier_left.is_empty()) {
        rest = "P proposes places.".to_owned();
    }
    PlanLead { first: format!("{}{not}.", capital(&services)), rest, is_urgent: left > 0 }
}

/// Nothing to place: by when, and what comes first.
fn nothing_due(due: &DueList, plan: &Proposal) -> PlanLead {
    let after = plan.last.checked_add_days(Days::new(1)).unwrap_or(plan.last);
    let mounted: Vec<_> = due.rows.iter().filter(|row| row.mark != Mark::OutOfService).collect();
    if mounted.is_empty() {
        let rest = "No spindle is mounted, so there is nothing to place.".to_owned();
        return PlanLead { rest, ..PlanLead::default() };
    }
    let mut by_date: Vec<_> = mounted.iter().filter_map(|row| Some((row.forecast.service_by?, *row))).collect();
    by_date.sort_by_key(|(by, _)| *by);
    let within: Vec<&DueRow> = by_date.iter().filter(|(by, _)| *by < after).map(|(_, row)| *row).collect();
    let rest = match by_date.first() {
        Some((by, row)) if !within.is_empty() => due_all_the_same(&within, row, (*by, after), plan.as_of),
        Some((by, row)) => format!(
            "Nothing is due before {}; earliest is {} on {}.",
            date_long(after, plan.as_of),
            row.position.as_deref().unwrap_or(&row.name),
            date_long(*by, plan.as_of)
        ),
        None => format!("Nothing is due before {}.", date_long(after, plan.as_of)),
    };
    PlanLead { rest, ..PlanLead::default() }
}

/// What is due within the plan though nothing of it is to be placed there: its orders stand before it.
fn due_all_the_same(
    within: &[&DueRow],
    first: &DueRow,
    (by, after): (NaiveDate, NaiveDate),
    as_of: NaiveDate,
) -> String {
    let position = first.position.as_deref().unwrap_or(&first.name);
    let (by, after, from) = (date_long(by, as_of), date_long(after, as_of), date_long(as_of, as_of));
    let is_booked_before =
        |row: &&DueRow| row.booking.as_ref().is_some_and(|order| order.day.is_some_and(|day| day < as_of));
    let number = first.booking.as_ref().map(|order| order.name.as_str());
    match (within.len(), number) {
        (1, Some(number)) if within.iter().all(is_booked_before) => {
            format!(
                "{position}, due on {by}, stands in order {number} from before {from}; nothing else is due before {after}."
            )
        }
        (many, _) if within.iter().all(is_booked_before) => format!(
            "{} are due before {after}, all of them in orders from before {from}: {position} first, on {by}.",
            capital(&count_words(many))
        ),
        _ => format!("The first one due is {position} on {by}."),
    }
}
