//! Days as numbers along an axis, and the days at which it is marked.

use almanac_core::moment::Moment;
use chrono::{Datelike as _, Months, NaiveDate, Timelike as _};

/// Days since 1970 began.
#[must_use]
pub fn day_number(day: NaiveDate) -> f64 {
    (day - NaiveDate::default()).num_days() as f64
}

/// Days since 1970 began, with the time of day where it is known.
#[must_use]
pub fn moment_number(at: Moment) -> f64 {
    let share = at.time.map_or(0.0, |time| f64::from(time.num_seconds_from_midnight()) / 86_400.0);
    day_number(at.date) + share
}

/// The day of a number; `None` outside of what a calendar holds.
#[must_use]
pub fn day_of(number: f64) -> Option<NaiveDate> {
    if !number.is_finite() || number.abs() > 1e6 {
        return None;
    }
    NaiveDate::default().checked_add_signed(chrono::TimeDelta::days(number.floor() as i64))
}

/// A mark of a date axis.
#[derive(Debug, Clone, PartialEq)]
pub struct DateMark {
    /// Where.
    pub at: f64,
    /// What stands right of it; empty for a mark without a word.
    pub label: String,
    /// A year begins.
    pub is_year: bool,
}

const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// The marks of a date axis so many pixels wide: years, quarters, months or weeks.
#[must_use]
pub fn date_marks(from: f64, to: f64, width: f32) -> Vec<DateMark> {
    let (Some(first), Some(last)) = (day_of(from), day_of(to)) else { return Vec::new() };
    let px_per_day = f64::from(width) / (to - from).max(1e-6);
    if px_per_day * 7.0 >= 46.0 {
        return weeks(first, last, px_per_day);
    }
    let months_apart = [1_u32, 3, 6, 12, 24, 60, 120]
        .into_iter()
        .find(|months| f64::from(*months) * 30.4 * px_per_day >= if *months < 12 { 60.0 } else { 40.0 })
        .unwrap_or(240);
    let mut day = NaiveDate::from_ymd_opt(first.year() - first.year().rem_euclid(20), 1, 1).unwrap_or(first);
    let mut marks = Vec::new();
    while day <= last && marks.len() < 400 {
        if day >= first {
            let is_year = day.month() == 1;
            let month = MONTHS.get(day.month0() as usize).copied().unwrap_or_default();
            let label = if is_year { day.year().to_string() } else { month.to_owned() };
            marks.push(DateMark { at: day_number(day), label, is_year });
        }
        match day.checked_add_months(Months::new(months_apart)) {
            Some(next) => day = next,
            None => break,
        }
    }
    marks
}

/// Mondays, each with its day.
fn weeks(first: NaiveDate, last: NaiveDate, px_per_day: f64) -> Vec<DateMark> {
    let every = if px_per_day >= 46.0 { 1 } else { 7 };
    first
        .iter_days()
        .take_while(|day| *day <= last)
        .take(4000)
        .filter(|day| every == 1 || day.weekday() == chrono::Weekday::Mon)
        .map(|day| {
            let month = MONTHS.get(day.month0() as usize).copied().unwrap_or_default();
            DateMark { at: day_number(day), label: format!("{} {month}", day.day()), is_year: false }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn labels(from: &str, to: &str, width: f32) -> Vec<String> {
        let number = |text: &str| day_number(text.parse().unwrap());
        date_marks(number(from), number(to), width).into_iter().map(|mark| mark.label).collect()
    }

    #[test]
    fn a_long_axis_names_years_and_a_short_one_days() {
        assert_eq!(labels("2022-09-01", "2024-08-01", 376.0), ["2023", "Jul", "2024", "Jul"]);
        assert_eq!(labels("2016-09-01", "2026-12-01", 500.0).first().map(String::as_str), Some("2017"));
        assert_eq!(labels("2026-01-15", "2026-04-15", 300.0), ["Feb", "Mar", "Apr"]);
        assert_eq!(labels("2026-03-01", "2026-03-20", 300.0), ["2 Mar", "9 Mar", "16 Mar"]);
    }

    #[test]
    fn numbers_and_days_agree() {
        let day = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        assert_eq!(day_of(day_number(day)), Some(day));
        assert_eq!(day_of(day_number(day) + 0.9), Some(day));
        assert_eq!(day_of(f64::NAN), None);
    }
}
