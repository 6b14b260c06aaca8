//! Repeat rules of downtime windows: the part of RFC 5545 (3.3.10) that shops need.
//!
//! `FREQ=DAILY|WEEKLY|MONTHLY`, `INTERVAL`, `BYDAY`, `COUNT`, `UNTIL`; anything else is refused
//! rather than read wrongly. The start of a window always counts as its first occurrence, as the
//! RFC has it for `COUNT`; weeks begin on Monday.

use crate::moment::Moment;
use chrono::{Datelike as _, Days, Months, NaiveDate, NaiveDateTime, NaiveTime, Weekday};
use std::fmt;

/// How often a window comes back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Frequency {
    /// Every so many days.
    Daily,
    /// Every so many weeks.
    Weekly,
    /// Every so many months.
    Monthly,
}

/// A weekday of `BYDAY`; with a number only in monthly rules: `1SA`, `-1FR`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ByDay {
    /// Which one of the month, from its start, or from its end if negative; `None`: every one.
    pub nth: Option<i8>,
    /// The weekday.
    pub weekday: Weekday,
}

/// When it ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RepeatEnd {
    /// Never.
    Never,
    /// After so many occurrences, the first one included.
    Count(u32),
    /// With the last occurrence that starts on or before that moment; a day counts as a whole.
    Until(Moment),
}

/// A repeat rule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recurrence {
    frequency: Frequency,
    interval: u32,
    by_day: Vec<ByDay>,
    end: RepeatEnd,
}

/// Why a repeat rule is not understood. The sentence says what would be.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InvalidRecurrence {
    /// No or another frequency.
    #[error(
        "'{0}' has no FREQ that is known; expected a rule such as FREQ=WEEKLY;BYDAY=SA, with DAILY, WEEKLY or MONTHLY"
    )]
    Frequency(String),
    /// A part that this program does not know.
    #[error("'{0}' is not known in a repeat rule; expected FREQ, INTERVAL, BYDAY, COUNT and UNTIL only")]
    Part(String),
    /// A part that stands twice, or two that exclude each other.
    #[error("{0}")]
    Clash(&'static str),
    /// A value that does not fit.
    #[error("{part} is '{value}'; expected {expected}")]
    Value {
        /// Which part.
        part: &'static str,
        /// What was given.
        value: String,
        /// What would fit.
        expected: &'static str,
    },
}

const WEEKDAYS: [(Weekday, &str); 7] = [
    (Weekday::Mon, "MO"),
    (Weekday::Tue, "TU"),
    (Weekday::Wed, "WE"),
    (Weekday::Thu, "TH"),
    (Weekday::Fri, "FR"),
    (Weekday::Sat, "SA"),
    (Weekday::Sun, "SU"),
];

impl Recurrence {
    /// Reads a rule such as `FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231`; case does not matter, a leading
    /// `RRULE:` is allowed.
    ///
    /// # Errors
    /// What is not understood, with what would be.
    pub fn parse(text: &str) -> Result<Self, InvalidRecurrence> {
        let upper = text.trim().to_ascii_uppercase();
        let rule = upper.strip_prefix("RRULE:").unwrap_or(&upper);
        let (mut frequency, mut interval, mut by_day, mut count, mut until) = (None, None, None, None, None);
        for part in rule.split(';').filter(|part| !part.is_empty()) {
            let (name, value) = part.split_once('=').unwrap_or((part, ""));
            let fresh = match name {
                "FREQ" => frequency.replace(parse_frequency(value, text)?).is_none(),
                "INTERVAL" => interval.replace(parse_number("INTERVAL", value)?).is_none(),
                "BYDAY" => by_day.replace(parse_by_day(value)?).is_none(),
                "COUNT" => count.replace(parse_number("COUNT", value)?).is_none(),
                "UNTIL" => until.replace(parse_until(value)?).is_none(),
                _ => return Err(InvalidRecurrence::Part(part.to_owned())),
            };
            if !fresh {
                return Err(InvalidRecurrence::Clash("a part of the repeat rule stands twice; leave one out"));
            }
        }
        let frequency = frequency.ok_or_else(|| InvalidRecurrence::Frequency(text.trim().to_owned()))?;
        let by_day = by_day.unwrap_or_default();
        if frequency != Frequency::Monthly && by_day.iter().any(|day| day.nth.is_some()) {
            return Err(InvalidRecurrence::Clash("numbered weekdays such as 1SA are for FREQ=MONTHLY only"));
        }
        let end = match (count, until) {
            (Some(_), Some(_)) => {
                return Err(InvalidRecurrence::Clash("COUNT and UNTIL exclude each other; leave one out"));
            }
            (Some(count), None) => RepeatEnd::Count(count),
            (None, Some(until)) => RepeatEnd::Until(until),
            (None, None) => RepeatEnd::Never,
        };
        Ok(Self { frequency, interval: interval.unwrap_or(1), by_day, end })
    }

    /// How often.
    #[must_use]
    pub const fn frequency(&self) -> Frequency {
        self.frequency
    }

    /// When it ends.
    #[must_use]
    pub const fn end(&self) -> RepeatEnd {
        self.end
    }

    /// The days on which a window that starts first at `start` starts, up to and including `until`,
    /// in order. The time of day is that of `start`.
    #[must_use]
    pub fn occurrences(&self, start: Moment, until: NaiveDate) -> Vec<NaiveDate> {
        let last = match self.end {
            RepeatEnd::Until(moment) => until.min(moment.date),
            _ => until,
        };
        let most = match self.end {
            RepeatEnd::Count(count) => count as usize,
            _ => usize::MAX,
        };
        let mut days = Vec::new();
        if start.date <= last && self.not_too_late(start.date, start) {
            days.push(start.date);
        }
        let mut step = 0_u32;
        while days.len() < most {
            let Some(period) = self.period(start.date, step) else { break };
            if period.first().is_none_or(|(begin, _)| *begin > last) {
                break;
            }
            for (_, day) in period {
                let Some(day) = day else { continue };
                if day > start.date && day <= last && days.len() < most && self.not_too_late(day, start) {
                    days.push(day);
                }
            }
            step += 1;
        }
        days
    }

    fn not_too_late(&self, day: NaiveDate, start: Moment) -> bool {
        match self.end {
            RepeatEnd::Until(Moment { date, time: Some(time) }) => {
                day.and_time(start.time.unwrap_or(NaiveTime::MIN)) <= NaiveDateTime::new(date, time)
            }
            _ => true,
        }
    }

    /// The occurrences of one day, week or month, each with the first day of that period; a period
    /// without any has one entry without a day. `None` past the end of the calendar.
    fn period(&self, start: NaiveDate, step: u32) -> Option<Vec<(NaiveDate, Option<NaiveDate>)>> {
        let ahead = u64::from(step) * u64::from(self.interval);
        let (begin, days) = match self.frequency {
            Frequency::Daily => {
                let day = start.checked_add_days(Days::new(ahead))?;
                (day, if self.names(day) { vec![day] } else { Vec::new() })
            }
            Frequency::Weekly => {
                let monday = start.week(Weekday::Mon).checked_first_day()?.checked_add_days(Days::new(ahead * 7))?;
                let named = |day: &NaiveDate| {
                    if self.by_day.is_empty() { day.weekday() == start.weekday() } else { self.names(*day) }
                };
                (monday, monday.iter_days().take(7).filter(named).collect())
            }
            Frequency::Monthly => {
                let months = u32::try_from(ahead).ok()?;
                let first = start.with_day(1)?.checked_add_months(Months::new(months))?;
                (first, self.days_of_month(first, start))
            }
        };
        Some(if days.is_empty() {
            vec![(begin, None)]
        } else {
            days.into_iter().map(|day| (begin, Some(day))).collect()
        })
    }

    fn names(&self, day: NaiveDate) -> bool {
        self.by_day.is_empty() || self.by_day.iter().any(|by| by.weekday == day.weekday())
    }

    fn days_of_month(&self, first: NaiveDate, start: NaiveDate) -> Vec<NaiveDate> {
        let length = u32::from(first.num_days_in_month());
        if self.by_day.is_empty() {
            // a month without that day is left out, as the RFC says
            return first.with_day(start.day()).into_iter().collect();
        }
        first
            .iter_days()
            .take(length as usize)
            .filter(|day| {
                let from_start = day.day0() / 7 + 1;
                let from_end = (length - day.day()) / 7 + 1;
                self.by_day.iter().any(|by| {
                    by.weekday == day.weekday()
                        && match by.nth.map(i64::from) {
                            None => true,
                            Some(nth) => nth == i64::from(from_start) || nth == -i64::from(from_end),
                        }
                })
            })
            .collect()
    }
}

fn parse_frequency(value: &str, rule: &str) -> Result<Frequency, InvalidRecurrence> {
    match value {
        "DAILY" => Ok(Frequency::Daily),
        "WEEKLY" => Ok(Frequency::Weekly),
        "MONTHLY" => Ok(Frequency::Monthly),
        _ => Err(InvalidRecurrence::Frequency(rule.trim().to_owned())),
    }
}

fn parse_number(part: &'static str, value: &str) -> Result<u32, InvalidRecurrence> {
    let digits = value.chars().all(|c| c.is_ascii_digit());
    value.parse().ok().filter(|number| digits && (1..=9999).contains(number)).ok_or_else(|| InvalidRecurrence::Value {
        part,
        value: value.to_owned(),
        expected: "a whole number from 1 to 9999",
    })
}

fn parse_by_day(value: &str) -> Result<Vec<ByDay>, InvalidRecurrence> {
    let wrong = || InvalidRecurrence::Value {
        part: "BYDAY",
        value: value.to_owned(),
        expected: "weekdays such as SA or MO,WE,FR, in monthly rules also 1SA or -1FR",
    };
    value
        .split(',')
        .map(|item| {
            let name = item.get(item.len().saturating_sub(2)..)?;
            let weekday = WEEKDAYS.into_iter().find(|(_, known)| *known == name)?.0;
            let number = item.strip_suffix(name)?;
            let nth = if number.is_empty() {
                None
            } else {
                Some(number.parse::<i8>().ok().filter(|nth| *nth != 0 && nth.abs() <= 5)?)
            };
            Some(ByDay { nth, weekday })
        })
        .collect::<Option<Vec<_>>>()
        .ok_or_else(wrong)
}

fn parse_until(value: &str) -> Result<Moment, InvalidRecurrence> {
    let parse = || {
        let (day, time) = match value.strip_suffix('Z').unwrap_or(value).split_once('T') {
            Some((day, time)) => (day, Some(NaiveTime::parse_from_str(time, "%H%M%S").ok()?)),
            None => (value, None),
        };
        let digits = day.len() == 8 && day.chars().all(|c| c.is_ascii_digit());
        let date = digits.then(|| NaiveDate::parse_from_str(day, "%Y%m%d").ok()).flatten()?;
        Some(Moment { date, time })
    };
    parse().ok_or_else(|| InvalidRecurrence::Value {
        part: "UNTIL",
        value: value.to_owned(),
        expected: "a day such as 20261231, or 20261231T235900",
    })
}

impl fmt::Display for Recurrence {
    /// The rule in one spelling, which [`Recurrence::parse`] reads back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let frequency = match self.frequency {
            Frequency::Daily => "DAILY",
            Frequency::Weekly => "WEEKLY",
            Frequency::Monthly => "MONTHLY",
        };
        write!(f, "FREQ={frequency}")?;
        if self.interval != 1 {
            write!(f, ";INTERVAL={}", self.interval)?;
        }
        for (index, day) in self.by_day.iter().enumerate() {
            f.write_str(if index == 0 { ";BYDAY=" } else { "," })?;
            if let Some(nth) = day.nth {
                write!(f, "{nth}")?;
            }
            f.write_str(WEEKDAYS.into_iter().find(|(known, _)| *known == day.weekday).map_or("", |(_, name)| name))?;
        }
        match self.end {
            RepeatEnd::Never => Ok(()),
            RepeatEnd::Count(count) => write!(f, ";COUNT={count}"),
            RepeatEnd::Until(Moment { date, time }) => {
                write!(f, ";UNTIL={}", date.format("%Y%m%d"))?;
                time.map_or(Ok(()), |time| write!(f, "T{}", time.format("%H%M%S")))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(rule: &str, start: &str, until: &str, expected: &[&str]) {
        let until = crate::moment::parse_iso_date(until).unwrap();
        let recurrence = Recurrence::parse(rule).unwrap();
        let days = recurrence.occurrences(Moment::parse(start).unwrap(), until);
        assert_eq!(days.iter().map(ToString::to_string).collect::<Vec<_>>(), expected, "{rule}");
        assert_eq!(Recurrence::parse(&recurrence.to_string()).unwrap(), recurrence);
    }

    /// Rules of the examples of RFC 5545 3.8.5.3, with other starts.
    #[test]
    fn days_of_the_rules() {
        check(
            "FREQ=WEEKLY;BYDAY=SA;UNTIL=20260117",
            "2026-01-03",
            "2026-12-31",
            &["2026-01-03", "2026-01-10", "2026-01-17"],
        );
        check("FREQ=DAILY;COUNT=3", "2026-02-27T06:00", "2026-12-31", &["2026-02-27", "2026-02-28", "2026-03-01"]);
        check("FREQ=DAILY;INTERVAL=10;COUNT=2", "2026-03-01", "2026-12-31", &["2026-03-01", "2026-03-11"]);
        check(
            "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH;COUNT=4",
            "2026-09-01",
            "2026-12-31",
            &["2026-09-01", "2026-09-03", "2026-09-15", "2026-09-17"],
        );
        check("FREQ=MONTHLY;BYDAY=-1FR", "2026-01-30", "2026-03-31", &["2026-01-30", "2026-02-27", "2026-03-27"]);
        check("FREQ=MONTHLY;BYDAY=1SA;COUNT=2", "2026-01-03", "2026-12-31", &["2026-01-03", "2026-02-07"]);
        check("FREQ=MONTHLY", "2026-01-31", "2026-05-31", &["2026-01-31", "2026-03-31", "2026-05-31"]);
        check(
            "FREQ=DAILY;BYDAY=SA,SU",
            "2026-01-03",
            "2026-01-11",
            &["2026-01-03", "2026-01-04", "2026-01-10", "2026-01-11"],
        );
        check("FREQ=WEEKLY;UNTIL=20260110T070000", "2026-01-03T08:00", "2026-12-31", &["2026-01-03"]);
    }

    #[test]
    fn what_is_not_understood_is_refused() {
        for rule in [
            "",
            "weekly",
            "FREQ=YEARLY",
            "FREQ=WEEKLY;BYMONTH=3",
            "FREQ=WEEKLY;COUNT=0",
            "FREQ=WEEKLY;BYDAY=XX",
            "FREQ=WEEKLY;BYDAY=",
            "FREQ=WEEKLY;BYDAY=1SA",
            "FREQ=DAILY;COUNT=2;UNTIL=20260101",
            "FREQ=DAILY;FREQ=DAILY",
            "FREQ=DAILY;UNTIL=2026-01-01",
            "FREQ=DAILY;UNTIL=20260230",
            "FREQ=MONTHLY;BYDAY=é",
            "FREQ=MONTHLY;BYDAY=6MO",
        ] {
            assert!(Recurrence::parse(rule).is_err(), "{rule}");
        }
    }
}
