//! The next free order numbers by the shop's pattern, such as `26-047` by `YY-NNN`.
//!
//! In the pattern `YYYY` or `YY` stands for the year and the longest run of `N` (of equal ones the
//! last) for the counter, which begins anew each year and has at least so many digits; everything
//! else stands for itself, so that `MAINT-NNN` keeps its word. A pattern without a counter gets one,
//! `-NNN`, behind it.

use crate::shop::Shop;
use chrono::{Datelike as _, NaiveDate};
use std::collections::BTreeSet;

/// Digits of a counter where the pattern names none.
const USUAL_DIGITS: usize = 3;

/// Figures of more digits are no counter: behind them no higher one could be told.
const MOST_DIGITS: usize = 18;

/// Free numbers, one after the other, none of which an order of the shop has.
///
/// Give it the whole shop, not the shop as known on a day: an order entered ahead of its day has
/// its number too.
#[derive(Debug, Clone)]
pub struct OrderNumbers {
    before: String,
    after: String,
    digits: usize,
    next: u64,
    taken: BTreeSet<String>,
}

impl OrderNumbers {
    /// The numbers that follow the highest one of that day's year.
    #[must_use]
    pub fn of(shop: &Shop, day: NaiveDate) -> Self {
        let names = shop.orders.iter().map(|order| order.name.as_str());
        Self::following(&shop.settings.order_pattern, day, names)
    }

    fn following<'a>(pattern: &str, day: NaiveDate, names: impl Iterator<Item = &'a str>) -> Self {
        let (before, digits, after) = parts(pattern);
        let (before, after) = (with_year(before, day), with_year(after, day));
        let before = if digits == 0 && !before.is_empty() { format!("{before}-") } else { before };
        let digits = if digits == 0 { USUAL_DIGITS } else { digits };
        let taken: BTreeSet<String> = names.map(ToOwned::to_owned).collect();
        let highest = taken.iter().filter_map(|name| counter(name, &before, &after)).max();
        Self { before, after, digits, next: highest.map_or(1, |highest| highest.saturating_add(1)), taken }
    }
}

impl Iterator for OrderNumbers {
    type Item = String;

    fn next(&mut self) -> Option<String> {
        loop {
            let number = format!("{}{:0digits$}{}", self.before, self.next, self.after, digits = self.digits);
            self.next = self.next.checked_add(1)?;
            // a number such as 26-7 has the counter of 26-007 and another text
            if !self.taken.contains(&number) {
                return Some(number);
            }
        }
    }
}

/// What stands before the counter, its digits (0: there is none), and what stands behind it.
fn parts(pattern: &str) -> (&str, usize, &str) {
    let run_at = |from: usize| pattern.get(from..).unwrap_or_default().chars().take_while(|c| *c == 'N').count();
    let runs = pattern.match_indices('N').map(|(from, _)| (from, run_at(from)));
    // inside a run each start has a shorter rest, so the longest is a whole one
    let longest = runs.max_by_key(|(from, digits)| (*digits, *from));
    let Some((from, digits)) = longest else { return (pattern, 0, "") };
    let (before, rest) = pattern.split_at(from);
    let (_, after) = rest.split_at(digits);
    (before, digits, after)
}

fn with_year(text: &str, day: NaiveDate) -> String {
    let year = day.year();
    text.replace("YYYY", &format!("{year:04}")).replace("YY", &format!("{:02}", year.rem_euclid(100)))
}

fn counter(name: &str, before: &str, after: &str) -> Option<u64> {
    let digits = name.strip_prefix(before)?.strip_suffix(after)?;
    let is_figure = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
    let counts = digits.trim_start_matches('0');
    if is_figure && counts.len() <= MOST_DIGITS { format!("0{counts}").parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(pattern: &str, names: &[&str], expected: [&str; 2]) {
        let day = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap_or_default();
        let numbers: Vec<String> = OrderNumbers::following(pattern, day, names.iter().copied()).take(2).collect();
        assert_eq!(numbers, expected, "{pattern}");
    }

    #[test]
    fn numbers_follow_the_highest_of_the_year() {
        check("YY-NNN", &[], ["26-001", "26-002"]);
        check("YY-NNN", &["25-107", "26-041", "26-046", "26-038"], ["26-047", "26-048"]);
        check("YY-NNN", &["26-999"], ["26-1000", "26-1001"]);
        check("YYYY/NNNN", &["2026/0008"], ["2026/0009", "2026/0010"]);
        check("WO NN (YY)", &["WO 07 (26)", "WO 09 (25)"], ["WO 08 (26)", "WO 09 (26)"]);
    }

    #[test]
    fn what_does_not_fit_the_pattern_counts_for_nothing() {
        check("YY-NNN", &["26-A12", "26-", "x26-050", "26-050b"], ["26-001", "26-002"]);
    }

    #[test]
    fn no_number_is_given_twice() {
        check("YY-NNN", &["26-7", "26-008"], ["26-009", "26-010"]);
        check("S", &["S-001"], ["S-002", "S-003"]);
        check("", &[], ["001", "002"]);
    }

    #[test]
    fn words_with_an_n_are_no_counter() {
        check("MAINT-NNN", &["MAINT-041"], ["MAINT-042", "MAINT-043"]);
        check("NNN-YY MAIN", &["007-26 MAIN"], ["008-26 MAIN", "009-26 MAIN"]);
        check("N-N", &[], ["N-1", "N-2"]);
    }

    #[test]
    fn a_figure_too_long_for_a_counter_stops_no_numbers() {
        let most = format!("26-{}", u64::MAX);
        check("YY-NNN", &["26-041", &most, "26-99999999999999999999"], ["26-042", "26-043"]);
        check(&"N".repeat(25), &[&format!("{:025}", 7)], [&format!("{:025}", 8), &format!("{:025}", 9)]);
    }
}
