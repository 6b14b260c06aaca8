//! Figures, dates and counts as screens, sentences and tables print them.
//!
//! The rules: the unit follows after a space; true minus sign; thousands comma; the year only where
//! it is not the year one stands in. Files are written elsewhere, with plain ISO dates and numbers.

use crate::units::{ClampCycles, Kilonewtons, Millimetres, Money, Percent, RunHours, Unit};
use chrono::{Datelike as _, NaiveDate};

/// What stands where a figure is unknown; never a 0.
pub const UNKNOWN: &str = "\u{2013}";
/// The sign before a figure below zero.
pub const MINUS: char = '\u{2212}';
/// Spindles with a smaller nominal force show two decimals.
pub const FINE_BELOW: f64 = 12.0;

/// A number with so many decimals, a true minus sign and thousands commas; never `−0`.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    let plain = format!("{:.*}", decimals, value.abs());
    let (whole, fraction) = plain.split_once('.').map_or((plain.as_str(), ""), |(whole, rest)| (whole, rest));
    let is_zero = plain.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    let mut text = String::with_capacity(plain.len() + 8);
    if value < 0.0 && !is_zero {
        text.push(MINUS);
    }
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// The same with a plus sign where it is above zero.
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let is_zero = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if value > 0.0 && !is_zero { format!("+{text}") } else { text }
}

/// `Tue 17 Mar`; in another year `17 Mar 2027`, which takes the same room.
#[must_use]
pub fn date_short(day: NaiveDate, as_of: NaiveDate) -> String {
    if day.year() == as_of.year() { day.format("%a %-d %b").to_string() } else { day.format("%-d %b %Y").to_string() }
}

/// `26 Mar`; in another year `26 Mar 2027`. Where a weekday would say nothing.
#[must_use]
pub fn day_month(day: NaiveDate, as_of: NaiveDate) -> String {
    day.format(if day.year() == as_of.year() { "%-d %b" } else { "%-d %b %Y" }).to_string()
}

/// `17 March`; in another year `17 March 2027`. For sentences.
#[must_use]
pub fn date_long(day: NaiveDate, as_of: NaiveDate) -> String {
    if day.year() == as_of.year() { day.format("%-d %B").to_string() } else { day.format("%-d %B %Y").to_string() }
}

/// `Sat 21 March`; in another year with it. For sentences in little room.
#[must_use]
pub fn date_mid(day: NaiveDate, as_of: NaiveDate) -> String {
    format!("{} {}", day.format("%a"), date_long(day, as_of))
}

/// `Saturday 7 March`; in another year with it. For sentences.
#[must_use]
pub fn date_weekday(day: NaiveDate, as_of: NaiveDate) -> String {
    format!("{} {}", day.format("%A"), date_long(day, as_of))
}

/// `Mon 2 March 2026`: the date in the head, always with its year.
#[must_use]
pub fn date_full(day: NaiveDate) -> String {
    day.format("%a %-d %B %Y").to_string()
}

/// `March 2031`: how a day beyond the horizon is named.
#[must_use]
pub fn month_year(day: NaiveDate) -> String {
    day.format("%B %Y").to_string()
}

/// Decimals of a force of a spindle of that nominal force, in kN.
#[must_use]
pub fn force_decimals(nominal: Kilonewtons) -> usize {
    if nominal.get() < FINE_BELOW { 2 } else { 1 }
}

/// A force in kN without its unit: one decimal, two for spindles of less than 12 kN.
#[must_use]
pub fn force(value: Kilonewtons, nominal: Kilonewtons) -> String {
    number(value.get(), force_decimals(nominal))
}

/// A force in the unit of the shop, without that unit; pound-force and newton are whole.
#[must_use]
pub fn force_in(value: Kilonewtons, nominal: Kilonewtons, unit: Unit) -> String {
    match unit {
        Unit::PoundForce | Unit::Newton => number(unit.from_base(value.get()), 0),
        _ => force(value, nominal),
    }
}

/// A force with its unit, such as `14.4 kN`.
#[must_use]
pub fn force_with_unit(value: Kilonewtons, nominal: Kilonewtons, unit: Unit) -> String {
    let unit = if matches!(unit, Unit::PoundForce | Unit::Newton) { unit } else { Unit::Kilonewton };
    format!("{} {unit}", force_in(value, nominal, unit))
}

/// A length in mm (two decimals) or inch (three), without its unit.
#[must_use]
pub fn length_in(value: Millimetres, unit: Unit) -> String {
    match unit {
        Unit::Inch => number(unit.from_base(value.get()), 3),
        _ => number(value.get(), 2),
    }
}

/// A length with its unit, such as `10.52 mm` or `0.413 in`.
#[must_use]
pub fn length_with_unit(value: Millimetres, unit: Unit) -> String {
    let unit = if unit == Unit::Inch { unit } else { Unit::Millimetre };
    format!("{} {unit}", length_in(value, unit))
}

/// A share with one decimal, without its sign of percent.
#[must_use]
pub fn percent(value: Percent) -> String {
    number(value.get(), 1)
}

/// A limit or a risk in percent: as few decimals as it needs, `80` or `82.5`.
#[must_use]
pub fn percent_short(value: Percent) -> String {
    let one = number(value.get(), 1);
    one.strip_suffix(".0").map_or_else(|| one.clone(), ToOwned::to_owned)
}

/// A chance or a weight in whole percent, so that what is nearly all or nearly nothing does not look
/// certain: `26 %`, `under 1 %` or `over 99 %`.
#[must_use]
pub fn chance(value: Percent) -> String {
    match value.get() {
        share if share > 0.0 && share < 0.5 => "under 1 %".to_owned(),
        share if (99.5..100.0).contains(&share) => "over 99 %".to_owned(),
        share => format!("{} %", number(share, 0)),
    }
}

/// The reserve: always signed, one decimal, `+1.6` or `−11.3`.
#[must_use]
pub fn reserve(value: Percent) -> String {
    signed(value.get(), 1)
}

/// Run hours, whole.
#[must_use]
pub fn hours(value: RunHours) -> String {
    number(value.get(), 0)
}

/// Run hours of one working day, one decimal.
#[must_use]
pub fn hours_per_day(value: RunHours) -> String {
    number(value.get(), 1)
}

/// Clamp cycles, whole.
#[must_use]
pub fn cycles(value: ClampCycles) -> String {
    number(value.get(), 0)
}

/// Money, whole, without its currency.
#[must_use]
pub fn money(value: Money) -> String {
    number(value.get(), 0)
}

/// Money, whole, in the shop's currency: `€4,310`, `−€58`, `4,310 CHF`.
///
/// Signs stand for the codes of ISO 4217 that have one in general use; any other text follows.
#[must_use]
pub fn money_in(value: Money, currency: &str) -> String {
    let sign = match currency {
        "EUR" | "\u{20AC}" => "\u{20AC}",
        "USD" | "$" => "$",
        "GBP" | "\u{A3}" => "\u{A3}",
        _ => return format!("{} {currency}", money(value)).trim_end().to_owned(),
    };
    let amount = money(value);
    match amount.strip_prefix(MINUS) {
        Some(below) => format!("{MINUS}{sign}{below}"),
        None => format!("{sign}{amount}"),
    }
}

const SMALL: [&str; 13] =
    ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];

/// A count in a sentence: `no`, `one` to `twelve`, then figures.
#[must_use]
pub fn count_words(count: usize) -> String {
    SMALL.get(count).map_or_else(|| number(count as f64, 0), |word| (*word).to_owned())
}

/// The text with its first letter as a capital.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// `3 days`, `1 day`.
#[must_use]
pub fn days(count: i64) -> String {
    let figure = number(count as f64, 0);
    if count == 1 { format!("{figure} day") } else { format!("{figure} days") }
}

/// On which side a column of a table stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// A table in plain text: heads, then rows, two spaces between columns, no space at line ends. A line
/// break or tab in a cell becomes a space, so that a row stays one line.
#[must_use]
pub fn table(heads: &[(&str, Align)], rows: Vec<Vec<String>>) -> String {
    let mut lines = vec![heads.iter().map(|(head, _)| (*head).to_owned()).collect::<Vec<_>>()];
    let on_one_line = |cell: String| cell.split_whitespace().collect::<Vec<_>>().join(" ");
    lines.extend(rows.into_iter().map(|row| row.into_iter().map(on_one_line).collect()));
    let width = |column: usize| {
        let cells = lines.iter().filter_map(|line| line.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..heads.len()).map(width).collect();
    let mut text = String::new();
    for line in &lines {
        let mut printed = String::new();
        for ((cell, width), (_, align)) in line.iter().zip(&widths).zip(heads) {
            let gap = " ".repeat(width.saturating_sub(cell.chars().count()));
            match align {
                Align::Left => printed.extend([cell.as_str(), gap.as_str(), "  "]),
                Align::Right => printed.extend([gap.as_str(), cell.as_str(), "  "]),
            }
        }
        text.push_str(printed.trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        crate::moment::parse_iso_date(text).unwrap()
    }

    #[track_caller]
    fn check(printed: impl AsRef<str>, expected: &str) {
        assert_eq!(printed.as_ref(), expected);
    }

    #[test]
    fn a_row_of_a_table_stays_one_line() {
        let rows = vec![vec!["S-1\nspare\t2".to_owned(), "3".to_owned()]];
        check(table(&[("name", Align::Left), ("n", Align::Right)], rows), "name         n\nS-1 spare 2  3\n");
    }

    #[test]
    fn numbers_have_commas_and_a_true_minus() {
        check(number(1_234_567.4, 0), "1,234,567");
        check(number(-11.26, 1), "−11.3");
        check(number(-0.04, 1), "0.0");
        check(number(999.0, 0), "999");
        check(number(-1000.0, 2), "−1,000.00");
        check(signed(1.56, 1), "+1.6");
        check(signed(0.04, 1), "0.0");
        check(signed(-0.04, 1), "0.0");
    }

    #[test]
    fn dates_name_the_year_only_where_it_differs() {
        let today = day("2026-03-02");
        check(date_short(day("2026-03-17"), today), "Tue 17 Mar");
        check(date_short(day("2027-03-02"), today), "2 Mar 2027");
        check(day_month(day("2026-03-26"), today), "26 Mar");
        check(date_long(day("2026-03-17"), today), "17 March");
        check(date_long(day("2025-12-01"), today), "1 December 2025");
        check(date_weekday(day("2026-03-07"), today), "Saturday 7 March");
        check(date_full(today), "Mon 2 March 2026");
        check(month_year(day("2031-03-01")), "March 2031");
    }

    #[test]
    fn forces_have_two_decimals_below_twelve_kilonewtons() {
        let kn = |value| Kilonewtons::new(value).unwrap();
        check(force(kn(14.682), kn(18.0)), "14.7");
        check(force(kn(8.666), kn(11.0)), "8.67");
        check(force(kn(8.666), kn(12.0)), "8.7");
        check(force_with_unit(kn(14.4), kn(18.0), Unit::Kilonewton), "14.4 kN");
        // 14.4 kN x 224.80894309971 lbf/kN (NIST SP 811) = 3237.2 lbf
        check(force_with_unit(kn(14.4), kn(18.0), Unit::PoundForce), "3,237 lbf");
    }

    #[test]
    fn lengths_have_two_or_three_decimals() {
        let mm = |value| Millimetres::new(value).unwrap();
        check(length_with_unit(mm(10.5234), Unit::Millimetre), "10.52 mm");
        check(length_with_unit(mm(10.4902), Unit::Inch), "0.413 in");
    }

    #[test]
    fn tables_are_aligned() {
        let rows = vec![vec!["R-04".to_owned(), "1.5".to_owned()], vec!["R".to_owned(), "−11.5".to_owned()]];
        let text = table(&[("place", Align::Left), ("h", Align::Right)], rows);
        assert_eq!(text, "place      h\nR-04     1.5\nR      −11.5\n");
    }

    #[test]
    fn shares_and_counts() {
        let share = |value| Percent::new(value).unwrap();
        check(percent(share(81.63)), "81.6");
        check(percent_short(share(80.0)), "80");
        check(percent_short(share(82.5)), "82.5");
        check(reserve(share(-11.3)), "−11.3");
        check(reserve(share(0.9)), "+0.9");
        check(hours(RunHours::new(2741.2).unwrap()), "2,741");
        check(count_words(1), "one");
        check(count_words(12), "twelve");
        check(count_words(13), "13");
        check(count_words(1204), "1,204");
        check(capital("eight more"), "Eight more");
        check(days(1), "1 day");
        check(days(15), "15 days");
    }
}
