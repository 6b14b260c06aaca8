//! The list and its lines in sentences.

use super::{LineState, OrderLine};
use crate::due::{KitReady, LeadLine};
use crate::words::{capital, count_words, date_long, date_weekday};
use chrono::NaiveDate;

/// A line for those who listen: what, where, when, who, with which kit.
#[must_use]
pub fn line_sentence(line: &OrderLine, as_of: NaiveDate) -> String {
    let mut parts = Vec::new();
    if !line.order.is_empty() {
        parts.push(line.order.clone());
    }
    parts.push(line.state.label().to_owned());
    parts.push(if line.place.is_empty() { "not mounted".to_owned() } else { line.place.clone() });
    parts.push(format!("spindle {}", line.spindle));
    parts.push(match line.service_by {
        Some(by) if by <= as_of && line.is_open => format!("{} service now", line.service.key()),
        Some(by) => format!("{} service by {}", line.service.key(), date_long(by, as_of)),
        None => format!("{} service", line.service.key()),
    });
    match line.start {
        Some(start) => {
            let time = start.time.map(|time| format!(" {}", time.format("%H:%M"))).unwrap_or_default();
            parts.push(format!("on {}{time}", date_weekday(start.date, as_of)));
        }
        None if line.id.is_some() => parts.push("no day yet".to_owned()),
        None => {}
    }
    if !line.technicians.is_empty() {
        parts.push(format!("by {}", line.technicians.join(" and ")));
    }
    match line.kit {
        None => {}
        Some(KitReady::Here) => parts.push("kit here".to_owned()),
        Some(KitReady::On(day)) => parts.push(format!("kit on {}", date_long(day, as_of))),
        Some(KitReady::Missing) => parts.push("kit missing".to_owned()),
    }
    if let Some(duration) = line.duration {
        parts.push(format!("{} h", crate::words::number(duration.get(), 1)));
    }
    if line.held {
        parts.push("held".to_owned());
    }
    parts.join(", ")
}

/// The sentence that opens the page: what a person must act on, and what comes next.
#[must_use]
pub fn orders_lead(lines: &[OrderLine], as_of: NaiveDate) -> LeadLine {
    LeadLine { urgent: urgent(lines, as_of), rest: rest(lines, as_of) }
}

fn urgent(lines: &[OrderLine], as_of: NaiveDate) -> String {
    let named = |lines: &[&OrderLine]| match lines {
        [one] => Some(one.order.clone()),
        _ => None,
    };
    let mut parts = Vec::new();
    let overdue: Vec<&OrderLine> = lines.iter().filter(|line| line.is_overdue(as_of)).collect();
    match (named(&overdue), overdue.len()) {
        (_, 0) => {}
        (Some(order), _) => parts.push(format!("the day of {order} is over and it has not begun")),
        (None, many) => {
            parts.push(format!("the days of {} orders are over and they have not begun", count_words(many)))
        }
    }
    match lines.iter().filter(|line| line.is_pressing(as_of)).count() {
        0 => {}
        1 => parts.push("one service must be booked now".to_owned()),
        many => parts.push(format!("{} services must be booked now", count_words(many))),
    }
    let kits: Vec<&OrderLine> = lines.iter().filter(|line| line.start.is_some() && line.is_kit_late(as_of)).collect();
    match (named(&kits), kits.len()) {
        (_, 0) => {}
        (Some(order), _) => parts.push(format!("the kit of {order} will not be here in time")),
        (None, many) => parts.push(format!("the kits of {} orders will not be here in time", count_words(many))),
    }
    if parts.is_empty() { String::new() } else { format!("{}.", capital(&parts.join("; "))) }
}

fn rest(lines: &[OrderLine], as_of: NaiveDate) -> String {
    let open = lines.iter().filter(|line| line.id.is_some() && line.is_open).count();
    let to_book = lines.iter().filter(|line| line.state == LineState::ToBook && !line.is_pressing(as_of)).count();
    if open == 0 && !lines.iter().any(|line| line.is_open) {
        return "No order is open, and nothing is to book.".to_owned();
    }
    let next = lines
        .iter()
        .filter(|line| line.id.is_some() && line.is_open)
        .filter(|line| line.day.is_some_and(|day| day >= as_of))
        .filter_map(|line| Some((line.start?, line)))
        .min_by(|(a, one), (b, other)| a.cmp(b).then_with(|| one.order.cmp(&other.order)));
    let mut sentence = match (next, open) {
        (_, 0) => "No order is open".to_owned(),
        (Some((start, line)), _) => {
            let place = if line.place.is_empty() { &line.spindle } else { &line.place };
            let when = if start.date == as_of {
                "today".to_owned()
            } else {
                format!("on {}", date_weekday(start.date, as_of))
            };
            let time = start.time.map(|time| format!(" at {}", time.format("%H:%M"))).unwrap_or_default();
            let who = line.technicians.first().map(|who| format!(" with {who}")).unwrap_or_default();
            let orders = if open == 1 {
                "it is the only open order".to_owned()
            } else {
                format!("{} orders are open", count_words(open))
            };
            format!("Next is {place} {when}{time}{who}; {orders}")
        }
        (None, 1) => "One order is open, without a day ahead".to_owned(),
        (None, many) => format!("{} orders are open, none with a day ahead", capital(&count_words(many))),
    };
    let more = if lines.iter().any(|line| line.is_pressing(as_of)) { " more" } else { "" };
    let by = lines.iter().filter(|line| line.state == LineState::ToBook && !line.is_pressing(as_of));
    let first = by.filter_map(|line| Some((line.service_by?, line))).min_by_key(|(by, _)| *by);
    let first = first.map(|(by, line)| {
        let place = if line.place.is_empty() { &line.spindle } else { &line.place };
        format!("{place} by {}", date_long(by, as_of))
    });
    match (to_book, first) {
        (0, _) => {}
        (1, Some(first)) => sentence.push_str(&format!("; one{more} is to be booked, {first}")),
        (many, Some(first)) => {
            sentence.push_str(&format!("; {}{more} are to be booked, the first is {first}", count_words(many)));
        }
        (many, None) => sentence.push_str(&format!("; {}{more} to be booked", count_words(many))),
    }
    sentence.push('.');
    sentence
}
