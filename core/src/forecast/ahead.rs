//! The days ahead of one spindle: its clock on each of them, and when a chance is reached.

use super::Crossing;
use super::straight::Straight;
use super::student::{Quantiles, share_below};
use crate::calendar::WorkingCalendar;
use chrono::{Days, NaiveDate};

/// Working days ahead, the same for all spindles of a shop.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DaysAhead {
    pub(super) as_of: NaiveDate,
    /// Working days from the start of the as-of day to the end of each day of the horizon.
    work: Vec<f64>,
}

impl DaysAhead {
    pub(super) fn new(calendar: &WorkingCalendar, as_of: NaiveDate, horizon_days: u32) -> Self {
        let work = (0..=u64::from(horizon_days))
            .map_while(|index| as_of.checked_add_days(Days::new(index + 1)))
            .map(|end| calendar.between(as_of, end))
            .collect();
        Self { as_of, work }
    }

    pub(super) fn day(&self, index: usize) -> NaiveDate {
        self.as_of.checked_add_days(Days::new(index as u64)).unwrap_or(NaiveDate::MAX)
    }

    pub(super) fn last(&self) -> NaiveDate {
        self.day(self.work.len().saturating_sub(1))
    }

    pub(super) fn len(&self) -> usize {
        self.work.len()
    }
}

/// The wear clock of a mounted spindle on the days ahead.
#[derive(Debug, Clone, Copy)]
pub(super) struct Outlook<'a> {
    pub(super) days: &'a DaysAhead,
    /// Wear clock now, 1,000 run hours.
    pub(super) k_now: f64,
    /// What a working day adds.
    pub(super) k_per_day: f64,
    /// Uncertainty of that, as a share.
    pub(super) relative_sd: f64,
    /// What was added since a meter was last read.
    pub(super) k_unread: f64,
}

impl Outlook<'_> {
    /// Clock after so many working days.
    pub(super) fn clock(&self, work: f64) -> f64 {
        self.k_now + self.k_per_day * work
    }

    /// Its standard uncertainty.
    pub(super) fn clock_sd(&self, work: f64) -> f64 {
        self.relative_sd * (self.k_unread + self.k_per_day * work)
    }

    /// Expected value of a line after so many working days, and its uncertainty.
    pub(super) fn of_line(&self, line: &Straight, work: f64) -> (f64, f64) {
        let k = self.clock(work);
        (line.mean(k), line.sd(k, self.clock_sd(work)))
    }

    /// Working days from now to the end of a day of the horizon; 0 for the start of the as-of day.
    fn work(&self, index: usize) -> f64 {
        if index == 0 { 0.0 } else { self.days.work.get(index).copied().unwrap_or(0.0) }
    }
}

/// How sure it is, day by day, that a limit has been crossed by then; never falling.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Crossed {
    /// How many standard uncertainties the limit lies above the expected force.
    Below { scores: Vec<f64>, freedom: usize },
    /// The chance itself, weekly.
    Weekly(Vec<f64>),
}

impl Crossed {
    /// A line falling below a limit.
    pub(super) fn below(line: &Straight, limit: f64, outlook: &Outlook<'_>) -> Self {
        let mut highest = f64::MIN;
        let scores = (0..outlook.days.len())
            .map(|index| {
                let (mean, sd) = outlook.of_line(line, outlook.work(index));
                highest = highest.max((limit - mean) / sd.max(1e-9));
                highest
            })
            .collect();
        Self::Below { scores, freedom: line.freedom }
    }

    /// A line leaving -1..1 by either side.
    pub(super) fn outside_one(line: &Straight, outlook: &Outlook<'_>) -> Self {
        let mut highest: f64 = 0.0;
        let weeks = outlook.days.len().div_ceil(7) + 1;
        let chances = (0..weeks)
            .map(|week| {
                // once it is sure, it stays so
                if highest < 0.999 {
                    let (mean, sd) = outlook.of_line(line, outlook.work((week * 7).min(outlook.days.len() - 1)));
                    let sd = sd.max(1e-9);
                    let chance =
                        share_below(line.freedom, (-1.0 - mean) / sd) + share_below(line.freedom, (mean - 1.0) / sd);
                    highest = highest.max(chance.min(1.0));
                }
                highest
            })
            .collect();
        Self::Weekly(chances)
    }

    /// The chance by a day of the horizon.
    pub(super) fn chance(&self, index: usize) -> f64 {
        match self {
            Self::Below { scores, freedom } => {
                scores.get(index).or_else(|| scores.last()).map_or(0.0, |score| share_below(*freedom, *score))
            }
            Self::Weekly(chances) => {
                let (week, day) = (index / 7, index % 7);
                let before = chances.get(week).or_else(|| chances.last()).copied().unwrap_or(0.0);
                let after = chances.get(week + 1).copied().unwrap_or(before);
                before + (after - before) * day as f64 / 7.0
            }
        }
    }

    /// The first day of the horizon by which a share has crossed; `score` is the Student quantile
    /// of that share.
    pub(super) fn first(&self, days: &DaysAhead, share: f64, score: f64) -> Option<usize> {
        match self {
            Self::Below { scores, .. } => {
                let index = scores.partition_point(|known| *known < score);
                (index < scores.len()).then_some(index)
            }
            Self::Weekly(_) => first_day(days.len(), |index| self.chance(index) >= share),
        }
    }

    /// The days of all quantiles.
    pub(super) fn crossing(&self, days: &DaysAhead, quantiles: &Quantiles) -> Crossing {
        let mut crossing = Crossing::default();
        for ((place, share), score) in crossing.days.iter_mut().zip(super::QUANTILES).zip(quantiles.shares) {
            *place = self.first(days, share, score).map(|index| days.day(index));
        }
        crossing
    }
}

/// The first index below `len` from which on something holds.
pub(super) fn first_day(len: usize, holds: impl Fn(usize) -> bool) -> Option<usize> {
    let (mut low, mut high) = (0, len);
    while low < high {
        let middle = usize::midpoint(low, high);
        if holds(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    (low < len).then_some(low)
}
