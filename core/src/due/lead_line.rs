//! The sentence that opens the due page: what is wrong, what is next, by when.
//!
//! It never says that a spindle under its stop limit may run.

use super::{DueList, DueRow, KitLate, LeadLine, Mark};
use crate::forecast::GoverningLimit;
use crate::words::{capital, count_words, date_long, date_weekday, month_year};
use chrono::{Days, NaiveDate};

/// The lead line of a list; `last` is the last day of the horizon.
pub(super) fn lead_line(list: &DueList, last: NaiveDate) -> LeadLine {
    if list.rows.is_empty() {
        let rest = "No spindles yet: import a shop folder or add the first one.".to_owned();
        return LeadLine { urgent: String::new(), rest };
    }
    if list.rows.iter().all(|row| row.mark == Mark::OutOfService) {
        let rest = "No spindle is mounted, so nothing comes due; mountings.csv or the Shop page says where they sit."
            .to_owned();
        return LeadLine { urgent: String::new(), rest };
    }
    let stopped_or_past = urgent(list);
    let rest = rest(list, last, !stopped_or_past.is_empty());
    let mut urgent = vec![stopped_or_past, perhaps_under_stop_limit(list), overdue(list)];
    urgent.retain(|sentence| !sentence.is_empty());
    LeadLine { urgent: urgent.join(" "), rest }
}

fn with_mark(list: &DueList, mark: Mark) -> impl Iterator<Item = &DueRow> {
    list.rows.iter().filter(move |row| row.mark == mark)
}

/// What must not run, and what is past its limit.
fn urgent(list: &DueList) -> String {
    let stopped = with_mark(list, Mark::DoNotRun).count();
    let past = with_mark(list, Mark::PastLimit).count();
    let only_force = with_mark(list, Mark::PastLimit).all(|row| row.forecast.governing == Some(GoverningLimit::Force));
    let limit = if only_force { "service limit" } else { "limit" };
    let stopped_words = match stopped {
        0 => String::new(),
        1 => "one spindle must not run".to_owned(),
        many => format!("{} spindles must not run", count_words(many)),
    };
    let noun = |count: usize| match (stopped, count) {
        (0, 1) => " spindle",
        (0, _) => " spindles",
        _ => "",
    };
    let past_words = match past {
        0 => String::new(),
        1 => format!("one{} is past its {limit}", noun(1)),
        many => format!("{}{} are past their {limit}", count_words(many), noun(many)),
    };
    let joined = match (stopped, past) {
        (0, 0) => return String::new(),
        (_, 0) => stopped_words,
        (0, _) => past_words,
        _ => format!("{stopped_words} and {past_words}"),
    };
    let unplaced: Vec<&str> = list
        .rows
        .iter()
        .filter(|row| matches!(row.mark, Mark::DoNotRun | Mark::PastLimit) && !is_placed(row))
        .map(place_of)
        .collect();
    let tail = match (unplaced.as_slice(), stopped + past) {
        ([], _) => String::new(),
        ([_], 1) => ", and it is not booked".to_owned(),
        ([one], _) => format!("; {one} is not booked"),
        (many, all) if many.len() == all && all == 2 => "; neither is booked".to_owned(),
        (many, all) if many.len() == all => "; none of them is booked".to_owned(),
        (many, _) => format!("; {} of them are not booked", count_words(many.len())),
    };
    format!("{}{tail}.", capital(&joined))
}

/// Spindles that may be under their stop limit already, though nobody read it yet.
fn perhaps_under_stop_limit(list: &DueList) -> String {
    let rows = list.rows.iter().filter(|row| row.mark != Mark::OutOfService);
    let perhaps: Vec<&str> =
        rows.filter(|row| row.forecast.perhaps_under_stop_limit().is_some()).map(place_of).collect();
    match perhaps.as_slice() {
        [] => String::new(),
        [one] => format!("{one} may be under its stop limit already: measure it before it runs on."),
        many => format!(
            "{} spindles may be under their stop limit already: measure them before they run on.",
            capital(&count_words(many.len()))
        ),
    }
}

/// Orders that were to start on a day that is over, and have not begun.
fn overdue(list: &DueList) -> String {
    let rows = list.rows.iter().filter(|row| row.mark != Mark::OutOfService);
    let orders: Vec<(&str, &str)> = rows
        .filter_map(|row| Some((row.booking.as_ref().filter(|booking| booking.is_overdue(list.as_of))?, row)))
        .map(|(booking, row)| (booking.name.as_str(), place_of(row)))
        .collect();
    match orders.as_slice() {
        [] => String::new(),
        [(order, place)] => format!("The day of order {order} of {place} is over and it has not begun."),
        many => format!("The days of {} orders are over and they have not begun.", count_words(many.len())),
    }
}

fn is_placed(row: &DueRow) -> bool {
    row.booking.as_ref().is_some_and(|booking| booking.start.is_some())
}

fn place_of(row: &DueRow) -> &str {
    row.position.as_deref().unwrap_or(&row.name)
}

fn rest(list: &DueList, last: NaiveDate, any_urgent: bool) -> String {
    let horizon =
        list.as_of.checked_add_days(Days::new(u64::from(list.booking_horizon_days))).unwrap_or(NaiveDate::MAX);
    let soon: Vec<&DueRow> = list
        .rows
        .iter()
        .filter(|row| matches!(row.mark, Mark::ToBook | Mark::BookedLate | Mark::Booked))
        .filter(|row| row.forecast.service_by.is_some_and(|by| by <= horizon))
        .collect();
    let until = date_long(horizon, list.as_of);
    let more = if any_urgent { " more" } else { "" };
    if soon.is_empty() {
        return nothing_soon(list, last, horizon, any_urgent);
    }
    let open: Vec<&DueRow> = soon.iter().copied().filter(|row| row.mark == Mark::ToBook).collect();
    let late = soon.iter().filter(|row| row.mark == Mark::BookedLate).count();
    // said before this sentence: their day is over, so they are not told to be booked
    let is_overdue = |row: &&&DueRow| row.booking.as_ref().is_some_and(|booking| booking.is_overdue(list.as_of));
    let gone = soon.iter().filter(is_overdue).count();
    let need = match soon.len() {
        1 if any_urgent => format!("one more needs service by {until}"),
        1 => format!("one spindle needs service by {until}"),
        many if any_urgent => format!("{}{more} need service by {until}", count_words(many)),
        many => format!("{} spindles need service by {until}", count_words(many)),
    };
    let late_words = match late {
        0 => String::new(),
        1 if soon.len() == 1 => ", booked after its service-by date".to_owned(),
        1 => "; one is booked after its service-by date".to_owned(),
        many => format!("; {} are booked after their service-by dates", count_words(many)),
    };
    let booked_words = match (open.as_slice(), soon.len()) {
        ([], 1) if late == 1 || gone == 1 => String::new(),
        ([], 1) => " and is booked".to_owned(),
        ([], 2) if late == 0 && gone == 0 => "; both are booked".to_owned(),
        ([], _) if late == 0 && gone == 0 => "; all of them are booked".to_owned(),
        ([], all) if late == 0 && all == gone + 1 => "; the other one is booked".to_owned(),
        ([], all) if late == 0 && gone < all => "; the others are booked".to_owned(),
        ([], _) => String::new(),
        ([one], 1) => format!(" and is not booked: {}, {}", place_of(one), where_to(one, list.as_of, "its")),
        ([one], _) => format!("; one of them is not booked, {}: {}", place_of(one), where_to(one, list.as_of, "its")),
        ([next, ..], all) => {
            let who = match open.len() {
                count if count == all && count == 2 => "neither is booked".to_owned(),
                count if count == all => "none of them is booked".to_owned(),
                count => format!("{} of them are not booked", count_words(count)),
            };
            format!("; {who}, the first of them is {}: {}", place_of(next), where_to(next, list.as_of, "its"))
        }
    };
    format!("{}{booked_words}{late_words}.", capital(&need))
}

/// Where an unbooked service can go.
fn where_to(row: &DueRow, as_of: NaiveDate, its: &str) -> String {
    if row.forecast.needs_first_reading(as_of) {
        return "never measured, so measure it first".to_owned();
    }
    match (row.kit_late, row.last_window, row.next_window) {
        (Some(KitLate::On(day)), Some(window), _) => format!(
            "{its} last window is {}, but the kit comes on {}",
            date_weekday(window, as_of),
            date_long(day, as_of)
        ),
        (Some(KitLate::Missing), Some(window), _) => {
            format!("{its} last window is {}, but the kit is not on order", date_weekday(window, as_of))
        }
        (None, Some(window), _) => format!("{its} last window is {}", date_weekday(window, as_of)),
        (_, None, Some(window)) => {
            format!("no window is left before its service-by date, the next is {}", date_weekday(window, as_of))
        }
        (_, None, None) => "no downtime window is known for it".to_owned(),
    }
}

fn nothing_soon(list: &DueList, last: NaiveDate, horizon: NaiveDate, any_urgent: bool) -> String {
    let until = date_long(horizon, list.as_of);
    let next = list.rows.iter().find(|row| {
        !matches!(row.mark, Mark::OutOfService | Mark::DoNotRun | Mark::PastLimit) && row.forecast.service_by.is_some()
    });
    let nothing = if any_urgent { "Nothing else needs service" } else { "Nothing needs service" };
    match next.and_then(|row| Some((row, row.forecast.service_by?))) {
        Some((row, by)) => {
            format!("{nothing} by {until}; the next is {}, by {}.", place_of(row), date_long(by, list.as_of))
        }
        None if any_urgent => format!("Nothing else comes due before {}.", month_year(last)),
        None => format!("All clear: nothing comes due before {}.", month_year(last)),
    }
}
