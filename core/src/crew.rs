//! Technicians: what they can do and when they are there.

use crate::moment::DayRange;
use crate::service::Kind;
use crate::units::RunHours;
use chrono::{NaiveTime, Weekday};
use std::fmt;

/// A technician.
#[derive(Debug, Clone, PartialEq)]
pub struct Technician {
    /// Name, unique in the shop.
    pub name: String,
    /// Kinds of service this person can lead.
    pub skills: Vec<Kind>,
    /// When this person works.
    pub shifts: Vec<Shift>,
    /// At most so many hours a day at services; `None`: the whole shift.
    pub hours_per_day: Option<RunHours>,
    /// Days away.
    pub absent: Vec<DayRange>,
}

/// A weekly shift: the same times on several weekdays.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shift {
    /// First weekday.
    pub from_day: Weekday,
    /// Last weekday, on or after the first within a week that may wrap.
    pub to_day: Weekday,
    /// Start.
    pub from: NaiveTime,
    /// End; before the start where the shift runs over midnight.
    pub to: NaiveTime,
}

const DAYS: [(Weekday, &str); 7] = [
    (Weekday::Mon, "Mon"),
    (Weekday::Tue, "Tue"),
    (Weekday::Wed, "Wed"),
    (Weekday::Thu, "Thu"),
    (Weekday::Fri, "Fri"),
    (Weekday::Sat, "Sat"),
    (Weekday::Sun, "Sun"),
];

fn day_of(text: &str) -> Option<Weekday> {
    DAYS.into_iter().find(|(_, name)| name.eq_ignore_ascii_case(text.trim())).map(|(day, _)| day)
}

fn name_of(day: Weekday) -> &'static str {
    DAYS.into_iter().find(|(known, _)| *known == day).map_or("", |(_, name)| name)
}

impl Shift {
    /// A shift such as `Mon-Fri 06:00-14:00` or `Sat 07:00-12:00`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (days, hours) = text.trim().split_once(' ')?;
        let (from_day, to_day) = days.split_once('-').unwrap_or((days, days));
        let (from, to) = hours.trim().split_once('-')?;
        let time = |text: &str| NaiveTime::parse_from_str(text.trim(), "%H:%M").ok();
        let shift = Self { from_day: day_of(from_day)?, to_day: day_of(to_day)?, from: time(from)?, to: time(to)? };
        (shift.from != shift.to).then_some(shift)
    }

    /// Whether it begins on that weekday.
    #[must_use]
    pub fn is_on(&self, day: Weekday) -> bool {
        let span = self.to_day.days_since(self.from_day);
        day.days_since(self.from_day) <= span
    }
}

impl fmt::Display for Shift {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(name_of(self.from_day))?;
        if self.from_day != self.to_day {
            write!(f, "-{}", name_of(self.to_day))?;
        }
        write!(f, " {}-{}", self.from.format("%H:%M"), self.to.format("%H:%M"))
    }
}

/// Several shifts, separated by `;`; `None` where one cannot be read.
#[must_use]
pub fn parse_shifts(text: &str) -> Option<Vec<Shift>> {
    text.split(';').map(str::trim).filter(|item| !item.is_empty()).map(Shift::parse).collect()
}
