//! Which lines are shown, in which order. Pure: words and figures in, places out.

use super::line::Line;
use super::view::{Filter, OrdersView, SortBy};
use crate::pages::due::arrange::{Part, natural};
use almanac_core::due::KitReady;
use almanac_core::orders_list::LineState;
use chrono::Datelike as _;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// The list as it is shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Arranged {
    /// Places among all lines, from top to bottom.
    pub(super) rows: Vec<usize>,
    /// Runs of rows in accent: from, up to but not including.
    pub(super) accents: Vec<(usize, usize)>,
}

/// Filters and sorts.
pub(super) fn arrange(lines: &[Line], view: &OrdersView) -> Arranged {
    let keys: Vec<Key> = lines.iter().map(|line| key(line, view.sort)).collect();
    let mut rows: Vec<usize> =
        (0..lines.len()).filter(|index| lines.get(*index).is_some_and(|line| fits(line, &view.filter))).collect();
    rows.sort_by(|a, b| match (keys.get(*a), keys.get(*b)) {
        (Some(a), Some(b)) => compare(a, b, view.descending),
        _ => Ordering::Equal,
    });
    let mut accents: Vec<(usize, usize)> = Vec::new();
    for (place, index) in rows.iter().enumerate() {
        if lines.get(*index).is_none_or(|line| !line.needs_action()) {
            continue;
        }
        match accents.last_mut() {
            Some(last) if last.1 == place => last.1 = place + 1,
            _ => accents.push((place, place + 1)),
        }
    }
    Arranged { rows, accents }
}

/// Whether a line is shown.
fn fits(line: &Line, filter: &Filter) -> bool {
    let in_set = |set: &BTreeSet<String>, text: &str| set.is_empty() || set.contains(text);
    let technician =
        filter.technicians.is_empty() || line.of.technicians.iter().any(|who| filter.technicians.contains(who));
    let find = filter.find.trim().to_lowercase();
    technician
        && in_set(&filter.states, line.of.state.label())
        && in_set(&filter.halls, &line.of.hall)
        && in_set(&filter.interfaces, &line.of.interface)
        && find.split_whitespace().all(|word| line.searched.contains(word))
}

/// What a line is sorted by; unknown values stand last whichever way the order runs.
#[derive(Debug, Clone, PartialEq)]
enum Key {
    Number(f64),
    Text(Vec<Part>),
    Unknown,
}

fn key(line: &Line, by: SortBy) -> Key {
    let text = |text: &str| if text.is_empty() { Key::Unknown } else { Key::Text(natural(text)) };
    let number = |value: Option<f64>| value.map_or(Key::Unknown, Key::Number);
    let of = &line.of;
    match by {
        SortBy::Number if of.id.is_none() => Key::Text(Vec::new()),
        SortBy::Number => text(&of.order),
        SortBy::State => Key::Number(match of.state {
            LineState::ToBook => 0.0,
            LineState::Order(state) => 1.0 + f64::from(state as u8),
        }),
        SortBy::Position => text(&of.place),
        SortBy::Spindle => text(&of.spindle),
        SortBy::Interface => text(&of.interface),
        SortBy::Service => text(of.service.key()),
        SortBy::ServiceBy => number(of.service_by.map(|day| f64::from(day.num_days_from_ce()))),
        SortBy::When => number(of.start.map(|start| start.date_time().and_utc().timestamp() as f64)),
        SortBy::Who => text(of.technicians.first().map_or("", String::as_str)),
        SortBy::Kit => number(of.kit.map(|kit| match kit {
            KitReady::Here => 0.0,
            KitReady::On(day) => f64::from(day.num_days_from_ce()),
            KitReady::Missing => f64::MAX,
        })),
        SortBy::Hours => number(of.duration.map(|hours| hours.get())),
        SortBy::StopCost => number(of.stop_cost.map(|cost| cost.get())),
    }
}

fn compare(a: &Key, b: &Key, descending: bool) -> Ordering {
    let turned = |order: Ordering| if descending { order.reverse() } else { order };
    match (a, b) {
        (Key::Number(a), Key::Number(b)) => turned(a.total_cmp(b)),
        (Key::Text(a), Key::Text(b)) => turned(a.cmp(b)),
        (Key::Unknown, Key::Unknown) => Ordering::Equal,
        (Key::Unknown, _) => Ordering::Greater,
        (_, Key::Unknown) => Ordering::Less,
        (Key::Number(_), Key::Text(_)) => Ordering::Less,
        (Key::Text(_), Key::Number(_)) => Ordering::Greater,
    }
}
