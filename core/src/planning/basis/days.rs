//! The days of a plan: a day of the shop begins at the hour that the shop chooses, so that a night
//! shift is one day. Local time without time zones: a day has 1,440 minutes, whatever clocks do.

use crate::planning::problem::Span;
use chrono::{Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};

/// Minutes of a day.
const DAY: i64 = 1440;

/// The days of a plan, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::planning) struct Grid {
    first: NaiveDate,
    begins: NaiveTime,
    days: usize,
}

impl Grid {
    pub(in crate::planning) const fn new(first: NaiveDate, begins: NaiveTime, days: usize) -> Self {
        Self { first, begins, days }
    }

    pub(in crate::planning) const fn days(&self) -> usize {
        self.days
    }

    /// The date on which a day begins.
    pub(in crate::planning) fn date(&self, day: usize) -> NaiveDate {
        self.first.checked_add_days(Days::new(day as u64)).unwrap_or(NaiveDate::MAX)
    }

    /// The day that begins on a date; `None` outside the plan.
    pub(in crate::planning) fn day_of(&self, date: NaiveDate) -> Option<usize> {
        usize::try_from((date - self.first).num_days()).ok().filter(|day| *day < self.days)
    }

    /// A minute of a day.
    pub(in crate::planning) fn moment(&self, day: usize, minute: i64) -> NaiveDateTime {
        let start = self.date(day).and_time(self.begins);
        start.checked_add_signed(TimeDelta::minutes(minute)).unwrap_or(start)
    }

    /// The day of the shop in which a moment lies, which may be before or after the plan, and the
    /// minute of it.
    pub(in crate::planning) fn at(&self, moment: NaiveDateTime) -> (i64, i64) {
        let minutes = (moment - self.first.and_time(self.begins)).num_minutes();
        (minutes.div_euclid(DAY), minutes.rem_euclid(DAY))
    }

    /// The same inside the plan.
    pub(in crate::planning) fn inside(&self, moment: NaiveDateTime) -> Option<(usize, i64)> {
        let (day, minute) = self.at(moment);
        usize::try_from(day).ok().filter(|day| *day < self.days).map(|day| (day, minute))
    }

    /// A stretch of time, cut where days begin; what lies outside the plan falls away.
    pub(in crate::planning) fn cut(&self, from: NaiveDateTime, to: NaiveDateTime) -> Vec<(usize, Span)> {
        let (first, start) = self.at(from);
        let (last, end) = self.at(to);
        let inside = |day: &i64| (0..self.days as i64).contains(day);
        (first.max(0)..=last.min(self.days as i64 - 1))
            .filter(inside)
            .map(|day| {
                let span = Span { from: if day == first { start } else { 0 }, to: if day == last { end } else { DAY } };
                (day as usize, span)
            })
            .filter(|(_, span)| span.from < span.to)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> NaiveDateTime {
        crate::moment::Moment::parse(text).unwrap().date_time()
    }

    fn grid(begins: u32) -> Grid {
        Grid::new(at("2026-03-28").date(), NaiveTime::from_hms_opt(begins, 0, 0).unwrap(), 3)
    }

    #[test]
    fn a_night_is_one_day_where_the_day_begins_at_6_and_two_where_it_begins_at_0() {
        let (from, to) = (at("2026-03-28T22:00"), at("2026-03-29T06:00"));
        assert_eq!(grid(6).cut(from, to), [(0, Span { from: 960, to: 1440 })]);
        assert_eq!(grid(0).cut(from, to), [(0, Span { from: 1320, to: 1440 }), (1, Span { from: 0, to: 360 })]);
    }

    #[test]
    fn the_day_on_which_clocks_change_is_as_long_as_any() {
        // 29 March 2026: Central European Summer Time begins
        let day = grid(0).cut(at("2026-03-29"), at("2026-03-30"));
        assert_eq!(day, [(1, Span { from: 0, to: 1440 })]);
        assert_eq!(grid(0).moment(1, 180), at("2026-03-29T03:00"));
    }

    #[test]
    fn what_lies_outside_the_plan_falls_away() {
        assert_eq!(grid(0).cut(at("2026-03-20"), at("2026-03-28T05:00")), [(0, Span { from: 0, to: 300 })]);
        assert_eq!(grid(0).cut(at("2026-03-30T20:00"), at("2026-04-09")), [(2, Span { from: 1200, to: 1440 })]);
        assert!(grid(0).cut(at("2026-04-01"), at("2026-04-09")).is_empty());
        assert_eq!(grid(6).at(at("2026-03-28T05:00")), (-1, 1380));
        assert_eq!(grid(6).inside(at("2026-03-28T05:00")), None);
    }
}
