//! A day, with the time of day where it is known; local shop time.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use std::fmt;

/// When something happened. Without a time it sorts before everything timed on that day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment {
    /// The day.
    pub date: NaiveDate,
    /// The time of day, when it was said.
    pub time: Option<NaiveTime>,
}

impl Moment {
    /// A day without a time.
    #[must_use]
    pub const fn day(date: NaiveDate) -> Self {
        Self { date, time: None }
    }

    /// The moment of an ISO 8601 text: `2026-03-09`, `2026-03-09T14:30` or with seconds.
    ///
    /// `None` for anything else and for days that do not exist.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Some(date) = parse_iso_date(text) {
            return Some(Self::day(date));
        }
        let (day, time) = text.split_once(['T', ' '])?;
        let date = parse_iso_date(day)?;
        Some(Self { date, time: Some(parse_time(time)?) })
    }

    /// With midnight where no time is known.
    #[must_use]
    pub fn date_time(self) -> NaiveDateTime {
        self.date.and_time(self.time.unwrap_or(NaiveTime::MIN))
    }
}

impl From<NaiveDate> for Moment {
    fn from(date: NaiveDate) -> Self {
        Self::day(date)
    }
}

impl fmt::Display for Moment {
    /// ISO 8601 as the files write it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use chrono::Timelike as _;
        match self.time {
            None => write!(f, "{}", self.date),
            Some(time) if time.second() == 0 => write!(f, "{}T{}", self.date, time.format("%H:%M")),
            Some(time) => write!(f, "{}T{}", self.date, time.format("%H:%M:%S")),
        }
    }
}

/// A date as `2026-03-09`, exactly four, two and two digits; years 1900 to 2199.
///
/// The range keeps slips such as 0206 or 20226 out of the shop.
#[must_use]
pub fn parse_iso_date(text: &str) -> Option<NaiveDate> {
    use chrono::Datelike as _;
    // read by hand, since a shop holds hundreds of thousands of dates
    let [y0, y1, y2, y3, b'-', m0, m1, b'-', d0, d1] = *text.as_bytes() else {
        return None;
    };
    let year = two_digits(y0, y1)? * 100 + two_digits(y2, y3)?;
    let date = NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, two_digits(m0, m1)?, two_digits(d0, d1)?)?;
    (1900..2200).contains(&date.year()).then_some(date)
}

/// A time of day as `14:30` or `14:30:05`; by hand where it is written in full.
fn parse_time(text: &str) -> Option<NaiveTime> {
    if let [h0, h1, b':', m0, m1] = *text.as_bytes() {
        return NaiveTime::from_hms_opt(two_digits(h0, h1)?, two_digits(m0, m1)?, 0);
    }
    ["%H:%M", "%H:%M:%S"].into_iter().find_map(|form| NaiveTime::parse_from_str(text, form).ok())
}

fn two_digits(tens: u8, ones: u8) -> Option<u32> {
    (tens.is_ascii_digit() && ones.is_ascii_digit()).then(|| u32::from(tens - b'0') * 10 + u32::from(ones - b'0'))
}

/// Days from one to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DayRange {
    /// First day.
    pub first: NaiveDate,
    /// Last day.
    pub last: NaiveDate,
}

impl DayRange {
    /// Whether the day lies inside.
    #[must_use]
    pub fn contains(self, day: NaiveDate) -> bool {
        self.first <= day && day <= self.last
    }

    /// `2026-04-01/2026-04-12`, or one day alone; `None` where the end lies before the start.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (first, last) = text.split_once('/').unwrap_or((text, text));
        let range = Self { first: parse_iso_date(first.trim())?, last: parse_iso_date(last.trim())? };
        (range.first <= range.last).then_some(range)
    }
}

impl fmt::Display for DayRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.first, self.last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: Option<&str>) {
        assert_eq!(parse_iso_date(text).map(|day| day.to_string()).as_deref(), expected, "{text}");
    }

    #[test]
    fn a_date_is_four_two_and_two_digits_of_a_day_that_exists() {
        check("2026-03-09", Some("2026-03-09"));
        check("2024-02-29", Some("2024-02-29"));
        check("1900-01-01", Some("1900-01-01"));
        check("2199-12-31", Some("2199-12-31"));
        for text in ["2026-02-29", "2026-13-01", "2026-00-10", "2026-04-31", "1899-12-31", "2200-01-01", "0206-03-09"] {
            check(text, None);
        }
        for text in
            ["", "2026-3-9", "26-03-09", "+026-03-09", "2026/03/09", "2026-03-0\u{0}", " 026-03-09", "2026-03-09 "]
        {
            check(text, None);
        }
    }

    #[test]
    fn a_moment_reads_back_what_it_writes() {
        for text in ["2026-03-09", "2026-03-09T14:30", "2026-03-09T14:30:05"] {
            assert_eq!(Moment::parse(text).map(|moment| moment.to_string()).as_deref(), Some(text));
        }
        assert_eq!(
            Moment::parse(" 2026-03-09 14:30 ").map(|moment| moment.to_string()).as_deref(),
            Some("2026-03-09T14:30")
        );
        assert_eq!(Moment::parse("2026-03-09T25:00"), None);
    }
}
