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
        let time = ["%H:%M", "%H:%M:%S"].into_iter().find_map(|form| NaiveTime::parse_from_str(time, form).ok())?;
        Some(Self { date, time: Some(time) })
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
    if text.len() != 10 || !text.is_ascii() {
        return None;
    }
    let date = NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()?;
    (1900..2200).contains(&date.year()).then_some(date)
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
