//! Calendar days as plain numbers: no clock, no time zone.

use std::fmt;

/// A day, counted from 1 January 1970.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct Day(pub(super) i32);

/// The day on which the records of the shop begin.
pub(super) const START: Day = day(2021, 3, 1);
/// The last day of the records, the present of the demo (a Monday).
pub(super) const AS_OF: Day = day(2026, 3, 2);

/// The day of a date of the Gregorian calendar (days-from-civil counting, years from March).
pub(super) const fn day(year: i32, month: i32, of_month: i32) -> Day {
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + of_month - 1;
    Day(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

impl Day {
    /// 0 for Monday to 6 for Sunday.
    pub(super) const fn weekday(self) -> i32 {
        (self.0 + 3).rem_euclid(7)
    }

    /// So many days later.
    pub(super) const fn plus(self, days: i32) -> Self {
        Self(self.0 + days)
    }

    /// This day if it is that weekday (0 for Monday), else the next one that is.
    pub(super) const fn next(self, weekday: i32) -> Self {
        self.plus((weekday - self.weekday()).rem_euclid(7))
    }

    /// Year, month, day of the month.
    pub(super) const fn date(self) -> (i32, i32, i32) {
        let z = self.0 + 719_468;
        let era = z.div_euclid(146_097);
        let of_era = z.rem_euclid(146_097);
        let y = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * y + y / 4 - y / 100);
        let shifted = (5 * of_year + 2) / 153;
        let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
        let year = y + era * 400 + if month <= 2 { 1 } else { 0 };
        (year, month, of_year - (153 * shifted + 2) / 5 + 1)
    }

    /// The year.
    pub(super) const fn year(self) -> i32 {
        self.date().0
    }

    /// The month, 1 to 12.
    pub(super) const fn month(self) -> i32 {
        self.date().1
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, of_month) = self.date();
        write!(f, "{year:04}-{month:02}-{of_month:02}")
    }
}
