//! Days as people type them: `2026-03-17`, `17.3.`, `17.3.2027`, `17 mar`, `+14`, `−7`, `fri`, `today`.

use crate::moment::parse_iso_date;
use chrono::{Datelike as _, Days, NaiveDate, Weekday};

/// Which way a day without a year, or a weekday, is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lean {
    /// The next one, the day one stands in included: for plans.
    Ahead,
    /// The last one, the day one stands in included: for records.
    Back,
}

/// Why a typed day is none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{typed}' is no day; expected such as 2026-03-17, 17.3., +14, \u{2212}7 or fri")]
pub struct InvalidDay {
    /// What was typed.
    pub typed: String,
}

/// The day that was typed, seen from a day.
///
/// # Errors
/// [`InvalidDay`] for anything else, for days that do not exist, and for years outside 1900 to 2199.
pub fn parse_typed_date(typed: &str, from: NaiveDate, lean: Lean) -> Result<NaiveDate, InvalidDay> {
    let text = typed.trim().to_lowercase();
    let day = parse_iso_date(&text)
        .or_else(|| distance(&text, from))
        .or_else(|| weekday(&text, from, lean))
        .or_else(|| day_and_month(&text, from, lean))
        .or_else(|| (text == "today" || text == "0").then_some(from));
    day.filter(|day| (1900..2200).contains(&day.year())).ok_or_else(|| InvalidDay { typed: typed.trim().to_owned() })
}

/// `+14`, `-7`, also with a true minus sign; `+2w` and `+3m` for weeks and months.
fn distance(text: &str, from: NaiveDate) -> Option<NaiveDate> {
    let (sign, rest) = text
        .strip_prefix('+')
        .map(|rest| (1, rest))
        .or_else(|| text.strip_prefix(['-', '\u{2212}', '\u{2013}']).map(|rest| (-1, rest)))?;
    let rest = rest.trim();
    let (figure, per) = match rest.strip_suffix('w') {
        Some(weeks) => (weeks, 7),
        None => (rest.strip_suffix('d').unwrap_or(rest), 1),
    };
    if let Some(months) = rest.strip_suffix('m') {
        let months = chrono::Months::new(months.trim().parse().ok()?);
        return if sign > 0 { from.checked_add_months(months) } else { from.checked_sub_months(months) };
    }
    let days = Days::new(figure.trim().parse::<u32>().ok()?.checked_mul(per)?.into());
    if sign > 0 { from.checked_add_days(days) } else { from.checked_sub_days(days) }
}

/// `fri` or more letters of it, at least two where they are enough.
fn weekday(text: &str, from: NaiveDate, lean: Lean) -> Option<NaiveDate> {
    const NAMES: [(&str, Weekday); 7] = [
        ("monday", Weekday::Mon),
        ("tuesday", Weekday::Tue),
        ("wednesday", Weekday::Wed),
        ("thursday", Weekday::Thu),
        ("friday", Weekday::Fri),
        ("saturday", Weekday::Sat),
        ("sunday", Weekday::Sun),
    ];
    if text.len() < 2 {
        return None;
    }
    let wanted = NAMES.iter().find(|(name, _)| name.starts_with(text))?.1;
    let days_back = from.weekday().days_since(wanted);
    match lean {
        Lean::Back => from.checked_sub_days(Days::new(days_back.into())),
        Lean::Ahead => from.checked_add_days(Days::new(((7 - days_back) % 7).into())),
    }
}

/// `17.3.`, `17.3.2027`, `17.3.27`, `17 mar`, `17 march 2027`.
fn day_and_month(text: &str, from: NaiveDate, lean: Lean) -> Option<NaiveDate> {
    let mut words = text.split(|c: char| c == '.' || c.is_whitespace()).filter(|word| !word.is_empty());
    let (day, month, year) = (words.next()?, words.next()?, words.next());
    if words.next().is_some() {
        return None;
    }
    let day: u32 = day.parse().ok()?;
    let month = month.parse().ok().or_else(|| month_named(month))?;
    match year {
        Some(year) if year.len() == 4 => NaiveDate::from_ymd_opt(year.parse().ok()?, month, day),
        Some(year) if year.len() == 2 => NaiveDate::from_ymd_opt(2000 + year.parse::<i32>().ok()?, month, day),
        Some(_) => None,
        // 29.2. may be years away, so the search goes on to the next leap year.
        None => (0..=8).find_map(|years| {
            let (year, is_meant): (i32, fn(NaiveDate, NaiveDate) -> bool) = match lean {
                Lean::Ahead => (from.year() + years, |day, from| from <= day),
                Lean::Back => (from.year() - years, |day, from| day <= from),
            };
            NaiveDate::from_ymd_opt(year, month, day).filter(|day| is_meant(*day, from))
        }),
    }
}

fn month_named(text: &str) -> Option<u32> {
    const NAMES: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let index = NAMES.iter().position(|name| text.len() >= 3 && name.starts_with(text))?;
    u32::try_from(index + 1).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seen from Monday 2 March 2026.
    #[track_caller]
    fn check(typed: &str, lean: Lean, expected: Option<&str>) {
        let from = parse_iso_date("2026-03-02").unwrap();
        let day = parse_typed_date(typed, from, lean).ok().map(|day| day.to_string());
        assert_eq!(day.as_deref(), expected, "{typed}");
    }

    #[test]
    fn days_are_taken_as_the_screens_promise() {
        check("2026-03-17", Lean::Back, Some("2026-03-17"));
        check(" 17.3.", Lean::Ahead, Some("2026-03-17"));
        check("17.3", Lean::Back, Some("2025-03-17"));
        check("2.3.", Lean::Back, Some("2026-03-02"));
        check("2.3.", Lean::Ahead, Some("2026-03-02"));
        check("1.3.2027", Lean::Back, Some("2027-03-01"));
        check("1.3.27", Lean::Back, Some("2027-03-01"));
        check("17 mar", Lean::Ahead, Some("2026-03-17"));
        check("5 Januar", Lean::Ahead, Some("2027-01-05"));
        check("29.2.", Lean::Ahead, Some("2028-02-29"));
        check("29.2.", Lean::Back, Some("2024-02-29"));
        check("+14", Lean::Back, Some("2026-03-16"));
        check("-7", Lean::Ahead, Some("2026-02-23"));
        check("\u{2212}7", Lean::Ahead, Some("2026-02-23"));
        check("+2w", Lean::Ahead, Some("2026-03-16"));
        check("-1m", Lean::Back, Some("2026-02-02"));
        check("today", Lean::Back, Some("2026-03-02"));
    }

    #[test]
    fn a_weekday_is_the_nearest_one_on_the_side_that_is_meant() {
        check("fri", Lean::Ahead, Some("2026-03-06"));
        check("fri", Lean::Back, Some("2026-02-27"));
        check("Mon", Lean::Ahead, Some("2026-03-02"));
        check("mon", Lean::Back, Some("2026-03-02"));
        check("sunday", Lean::Back, Some("2026-03-01"));
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for typed in ["", "soon", "31.2.2026", "2026-02-30", "17", "m", "1.2.3.4", "+", "+x", "0206-01-01", "1.1.1"] {
            check(typed, Lean::Ahead, None);
        }
        check("+99999999999", Lean::Ahead, None);
        check("+80000", Lean::Ahead, None);
    }
}
