//! Which rows are shown, in which order, in which groups. Pure: words and figures in, places out.

use super::line::Line;
use super::view::{DueView, Filter, GroupBy, SortBy};
use almanac_core::due::Mark;
use almanac_core::words;
use chrono::{Datelike as _, NaiveDate};
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// One line of the table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Item {
    /// The head of a group, with how many rows it has.
    Group { title: String, count: usize },
    /// A row: its place among all lines.
    Row(usize),
}

/// The table as it is shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Arranged {
    /// Heads and rows, from top to bottom.
    pub(super) items: Vec<Item>,
    /// Of each of them, how many rows stand there from the top down to itself.
    rows_until: Vec<usize>,
    /// Rows among them.
    pub(super) shown: usize,
    /// Rows that would stand there without a filter.
    pub(super) of: usize,
    /// Runs of rows in accent, as places among the items: from, up to but not including.
    pub(super) accents: Vec<(usize, usize)>,
}

impl Arranged {
    /// The how-many-th row stands at a place among the items: heads of groups do not count.
    pub(super) fn nth_row(&self, place: usize) -> usize {
        self.rows_until.get(place).copied().unwrap_or_default()
    }
}

/// Filters, sorts and groups.
pub(super) fn arrange(lines: &[Line], view: &DueView) -> Arranged {
    let mut rows: Vec<usize> = (0..lines.len()).collect();
    let line = |index: &usize| lines.get(*index);
    rows.retain(|index| line(index).is_some_and(|line| fits(line, &view.filter)));
    let keys = sort_keys(lines, view.sort);
    rows.sort_by(|a, b| match (keys.get(*a), keys.get(*b)) {
        (Some(a), Some(b)) => compare(a, b, view.descending),
        _ => Ordering::Equal,
    });
    let shown = rows.len();
    let of = lines.iter().filter(|line| line.is_mounted).count();
    let items = grouped(lines, rows, view);
    let accents = accent_runs(&items, lines);
    let rows_until = items.iter().scan(0, |rows, item| {
        *rows += usize::from(matches!(item, Item::Row(_)));
        Some(*rows)
    });
    Arranged { rows_until: rows_until.collect(), items, shown, of, accents }
}

fn accent_runs(items: &[Item], lines: &[Line]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (place, item) in items.iter().enumerate() {
        let Item::Row(index) = item else { continue };
        if !lines.get(*index).is_some_and(Line::needs_action) {
            continue;
        }
        match runs.last_mut() {
            Some(last) if last.1 == place => last.1 = place + 1,
            _ => runs.push((place, place + 1)),
        }
    }
    runs
}

/// Whether a row is shown.
pub(super) fn fits(line: &Line, filter: &Filter) -> bool {
    let in_set = |set: &std::collections::BTreeSet<String>, text: Option<&str>| {
        set.is_empty() || text.is_some_and(|text| set.contains(text))
    };
    let find = filter.find.trim().to_lowercase();
    (line.is_mounted || filter.with_not_mounted)
        && in_set(&filter.halls, line.hall.as_deref())
        && in_set(&filter.interfaces, Some(&line.interface))
        && in_set(&filter.technicians, line.technician.as_deref())
        && filter.takes_state(line.mark_in_force)
        && find.split_whitespace().all(|word| line.searched.contains(word))
}

/// What a row is sorted by; unknown values stand last whichever way the order runs.
#[derive(Debug, Clone, PartialEq)]
enum Key {
    Number(f64),
    Text(Vec<Part>),
    Unknown,
}

/// A piece of a name: digits count by their value, so that R-9 stands before R-10.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::pages) enum Part {
    /// A run of digits.
    Digits(u64),
    /// Anything else, lower case.
    Letters(String),
}

/// A name cut into runs of digits and of other signs.
pub(in crate::pages) fn natural(text: &str) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let is_digit = first.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != is_digit).unwrap_or(rest.len());
        let (run, after) = rest.split_at(end);
        parts.push(match run.parse::<u64>() {
            Ok(value) if is_digit => Part::Digits(value),
            _ => Part::Letters(run.to_lowercase()),
        });
        rest = after;
    }
    parts
}

fn sort_keys(lines: &[Line], by: SortBy) -> Vec<Key> {
    let number = |value: Option<f64>| value.map_or(Key::Unknown, Key::Number);
    let day = |value: Option<NaiveDate>| number(value.map(|day| f64::from(day.num_days_from_ce())));
    let key = |line: &Line| match by {
        SortBy::State => number(line.mark.map(severity)),
        SortBy::Position if !line.is_mounted => Key::Unknown,
        SortBy::Position => Key::Text(natural(&line.position)),
        SortBy::Spindle => Key::Text(natural(&line.name)),
        SortBy::Interface => Key::Text(natural(&line.interface)),
        SortBy::Force => number(line.keys.force),
        SortBy::Percent => number(line.keys.percent),
        SortBy::Reserve => number(line.keys.reserve),
        SortBy::ServiceBy => day(line.keys.service_by),
        SortBy::Because => number(line.keys.governing.map(|limit| f64::from(limit as u8))),
        SortBy::PlacedIn => day(line.keys.placed_on),
    };
    lines.iter().map(key).collect()
}

/// The worst first.
fn severity(mark: Mark) -> f64 {
    match mark {
        Mark::DoNotRun => 0.0,
        Mark::PastLimit => 1.0,
        Mark::ToBook => 2.0,
        Mark::BookedLate => 3.0,
        Mark::Booked => 4.0,
        Mark::NoReading => 5.0,
        Mark::Clear => 6.0,
        Mark::OutOfService => 7.0,
    }
}

fn compare(a: &Key, b: &Key, descending: bool) -> Ordering {
    let turned = |order: Ordering| if descending { order.reverse() } else { order };
    match (a, b) {
        (Key::Unknown, Key::Unknown) => Ordering::Equal,
        (Key::Unknown, _) => Ordering::Greater,
        (_, Key::Unknown) => Ordering::Less,
        (Key::Number(a), Key::Number(b)) => turned(a.total_cmp(b)),
        (Key::Text(a), Key::Text(b)) => turned(a.cmp(b)),
        (Key::Number(_), Key::Text(_)) => Ordering::Less,
        (Key::Text(_), Key::Number(_)) => Ordering::Greater,
    }
}

/// Months in their order with "now" first, halls by name; what has none stands last.
fn grouped(lines: &[Line], rows: Vec<usize>, view: &DueView) -> Vec<Item> {
    if view.group == GroupBy::Nothing {
        return rows.into_iter().map(Item::Row).collect();
    }
    let mut groups: BTreeMap<(u8, i32, String), Vec<usize>> = BTreeMap::new();
    for index in rows {
        let Some(line) = lines.get(index) else { continue };
        groups.entry(group_of(line, view.group)).or_default().push(index);
    }
    let turned = view.descending && view.group == GroupBy::Month && view.sort == SortBy::ServiceBy;
    let mut groups: Vec<_> = groups.into_iter().collect();
    if turned {
        groups.reverse();
    }
    let mut items = Vec::new();
    for ((_, _, title), rows) in groups {
        items.push(Item::Group { title, count: rows.len() });
        items.extend(rows.into_iter().map(Item::Row));
    }
    items
}

fn group_of(line: &Line, by: GroupBy) -> (u8, i32, String) {
    match by {
        GroupBy::Hall => match &line.hall {
            Some(hall) => (0, 0, hall.clone()),
            None => (1, 0, "not mounted".to_owned()),
        },
        _ if line.keys.is_now => (0, 0, "now".to_owned()),
        _ => match line.keys.service_by {
            Some(day) => (1, day.year() * 12 + day.month0() as i32, words::month_year(day)),
            None if line.mark.is_none() => (3, 0, "not computed yet".to_owned()),
            None if !line.is_mounted => (3, 1, "not mounted".to_owned()),
            None if line.mark == Some(Mark::OutOfService) => (3, 2, Mark::OutOfService.label().to_owned()),
            None => (2, 0, line.service_by.clone()),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::due::line::{Keys, Placed};
    use almanac_core::ids::SpindleId;

    fn line(position: &str, mark: Mark, service_by: Option<&str>, reserve: Option<f64>) -> Line {
        let service_by = service_by.map(|text| almanac_core::moment::parse_iso_date(text).unwrap());
        Line {
            spindle: SpindleId::from_row(1),
            name: format!("S-{position}"),
            position: position.to_owned(),
            interface: "HSK-A63".to_owned(),
            hall: Some(if position.starts_with('R') { "Router hall" } else { "Mould hall" }.to_owned()),
            technician: (mark == Mark::Booked).then(|| "Thorne".to_owned()),
            mark: Some(mark),
            mark_in_force: Some(mark),
            is_mounted: true,
            force: String::new(),
            percent: String::new(),
            reserve: String::new(),
            service_by: "after March 2031".to_owned(),
            days: String::new(),
            because: "",
            placed: Placed::Open,
            reason: String::new(),
            sentence: String::new(),
            is_near: false,
            keys: Keys { reserve, service_by, is_now: mark == Mark::PastLimit, ..Keys::default() },
            searched: format!(
                "{}\ns-{}\nhsk-a63\nrouter hall\n26-041",
                position.to_lowercase(),
                position.to_lowercase()
            ),
            row: None,
        }
    }

    fn five() -> Vec<Line> {
        vec![
            line("R-07/1", Mark::PastLimit, Some("2026-03-02"), Some(-1.2)),
            line("R-10", Mark::ToBook, Some("2026-03-09"), Some(0.9)),
            line("M-02", Mark::Booked, Some("2026-03-17"), Some(1.6)),
            line("R-9", Mark::NoReading, Some("2026-08-13"), None),
            line("M-01", Mark::Clear, None, Some(16.9)),
        ]
    }

    #[track_caller]
    fn check(view: &DueView, expected: &[&str]) {
        let lines = five();
        let shown: Vec<String> = arrange(&lines, view)
            .items
            .iter()
            .map(|item| match item {
                Item::Group { title, count } => format!("[{title} {count}]"),
                Item::Row(index) => lines[*index].position.clone(),
            })
            .collect();
        assert_eq!(shown, expected);
    }

    fn sorted(sort: SortBy, descending: bool) -> DueView {
        DueView { sort, descending, ..DueView::default() }
    }

    #[test]
    fn sorts_digits_by_value_and_keeps_unknown_last() {
        check(&DueView::default(), &["R-07/1", "R-10", "M-02", "R-9", "M-01"]);
        check(&sorted(SortBy::ServiceBy, true), &["R-9", "M-02", "R-10", "R-07/1", "M-01"]);
        check(&sorted(SortBy::Position, false), &["M-01", "M-02", "R-07/1", "R-9", "R-10"]);
        check(&sorted(SortBy::Position, true), &["R-10", "R-9", "R-07/1", "M-02", "M-01"]);
        check(&sorted(SortBy::Reserve, false), &["R-07/1", "R-10", "M-02", "M-01", "R-9"]);
        check(&sorted(SortBy::Reserve, true), &["M-01", "M-02", "R-10", "R-07/1", "R-9"]);
        check(&sorted(SortBy::State, false), &["R-07/1", "R-10", "M-02", "R-9", "M-01"]);
    }

    #[test]
    fn equal_rows_keep_the_order_of_the_list() {
        check(&sorted(SortBy::Interface, false), &["R-07/1", "R-10", "M-02", "R-9", "M-01"]);
        check(&sorted(SortBy::Interface, true), &["R-07/1", "R-10", "M-02", "R-9", "M-01"]);
    }

    #[test]
    fn finds_every_word_in_any_part() {
        let find = |text: &str| {
            let filter = Filter { find: text.to_owned(), ..Filter::default() };
            DueView { filter, ..DueView::default() }
        };
        check(&find(" R-10 "), &["R-10"]);
        check(&find("26-041 m-0"), &["M-02", "M-01"]);
        check(&find("hsk router S-R"), &["R-07/1", "R-10", "R-9"]);
        check(&find("nothing"), &[]);
    }

    #[test]
    fn filters_by_sets_of_words() {
        let set = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
        let with = |filter: Filter| DueView { filter, ..DueView::default() };
        check(&with(Filter { halls: set(&["Mould hall"]), ..Filter::default() }), &["M-02", "M-01"]);
        check(&with(Filter { states: set(&["to book", "past limit"]), ..Filter::default() }), &["R-07/1", "R-10"]);
        check(&with(Filter { technicians: set(&["Thorne"]), ..Filter::default() }), &["M-02"]);
        check(&with(Filter { interfaces: set(&["PSC 63"]), ..Filter::default() }), &[]);
    }

    #[test]
    fn a_pretended_state_changes_no_rows() {
        let filter = Filter { states: [Mark::Clear.label().to_owned()].into(), ..Filter::default() };
        let view = DueView { filter, ..DueView::default() };
        let mut lines = five();
        lines[4].mark = Some(Mark::ToBook);
        lines[0].mark = Some(Mark::Clear);
        assert_eq!(arrange(&lines, &view).items, [Item::Row(4)]);
    }

    #[test]
    fn spindles_not_mounted_show_on_request() {
        let mut lines = five();
        lines[4].is_mounted = false;
        let mut view = DueView::default();
        let arranged = arrange(&lines, &view);
        assert_eq!((arranged.shown, arranged.of), (4, 4));
        view.filter.with_not_mounted = true;
        assert_eq!(arrange(&lines, &view).shown, 5);
    }

    #[test]
    fn rows_in_accent_lie_in_runs() {
        let view = DueView { group: GroupBy::Hall, ..DueView::default() };
        // heads of groups interrupt a run: [Mould hall] M-02 M-01 [Router hall] R-07/1 R-10 R-9
        assert_eq!(arrange(&five(), &view).accents, [(4, 6)]);
        assert_eq!(arrange(&five(), &sorted(SortBy::Position, true)).accents, [(0, 1), (2, 3)]);
        // an order whose day is over: M-02 is booked and yet somebody must act
        let mut lines = five();
        lines[2].placed = Placed::On { day: "was Thu 26 Feb".to_owned(), who: String::new(), acts: true };
        assert_eq!(arrange(&lines, &DueView::default()).accents, [(0, 3)]);
    }

    #[test]
    fn heads_of_groups_count_for_no_row() {
        let arranged = arrange(&five(), &DueView { group: GroupBy::Hall, ..DueView::default() });
        // [Mould hall] M-02 M-01 [Router hall] R-07/1 R-10 R-9
        assert_eq!([1, 2, 4, 5, 6].map(|place| arranged.nth_row(place)), [1, 2, 3, 4, 5]);
        let arranged = arrange(&five(), &DueView::default());
        assert_eq!([0, 4].map(|place| arranged.nth_row(place)), [1, 5]);
    }

    #[test]
    fn groups_count_their_rows() {
        let by = |group| DueView { group, ..DueView::default() };
        check(
            &by(GroupBy::Month),
            &[
                "[now 1]",
                "R-07/1",
                "[March 2026 2]",
                "R-10",
                "M-02",
                "[August 2026 1]",
                "R-9",
                "[after March 2031 1]",
                "M-01",
            ],
        );
        check(&by(GroupBy::Hall), &["[Mould hall 2]", "M-02", "M-01", "[Router hall 3]", "R-07/1", "R-10", "R-9"]);
    }
}
