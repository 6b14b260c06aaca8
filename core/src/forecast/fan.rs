//! The drawn lines of a spindle: fitted stretches, the last half year, the fan ahead, and what
//! follows a booked service.

use super::ahead::Outlook;
use super::groups::{GroupFigures, line_of};
use super::history::{History, Stretch};
use super::lasting::Restored;
use super::straight::Straight;
use super::student::Quantiles;
use super::{Estimate, FanDay, IntervalFit, PathPoint};
use crate::calendar::WorkingCalendar;
use crate::exposure::SpindleExposure;
use crate::units::{ClampCycles, Kilonewtons, Percent, RunHours};
use chrono::{Days, NaiveDate};

/// The fan reaches so many weeks ahead: two years and a little more.
const FAN_WEEKS: u64 = 105;
/// The last half year.
const PAST_WEEKS: u64 = 26;
/// A fitted line is drawn through a point this often.
const LINE_STEP_DAYS: i64 = 28;
/// A fitted line has at most so many points.
const LINE_POINTS: i64 = 60;

/// What all drawn lines of a spindle need.
pub(super) struct Canvas<'a> {
    pub(super) calendar: &'a WorkingCalendar,
    pub(super) as_of: NaiveDate,
    pub(super) exposure: &'a SpindleExposure,
    pub(super) nominal: Kilonewtons,
}

impl Canvas<'_> {
    /// A share of nominal as a force that can be: not below nothing.
    pub(super) fn force(&self, percent: f64) -> Kilonewtons {
        Kilonewtons::from_percent(Percent::new(percent.max(0.0)).unwrap_or_default(), self.nominal)
    }

    pub(super) fn hours(&self, day: NaiveDate) -> Option<RunHours> {
        RunHours::new(self.exposure.hours.as_ref()?.at(self.calendar, day))
    }

    pub(super) fn cycles(&self, day: NaiveDate) -> Option<ClampCycles> {
        ClampCycles::new(self.exposure.cycles.as_ref()?.at(self.calendar, day))
    }

    fn clock(&self, day: NaiveDate) -> f64 {
        self.exposure.clock.at(self.calendar, day) / 1000.0
    }

    fn point(&self, day: NaiveDate, percent: f64) -> PathPoint {
        PathPoint { day, run_hours: self.hours(day), clamp_cycles: self.cycles(day), force: self.force(percent) }
    }

    /// What services restored.
    pub(super) fn restored(&self, restored: &[Restored]) -> Vec<PathPoint> {
        restored.iter().map(|restored| self.point(restored.day, restored.level)).collect()
    }

    /// Every stretch with its line; the running one has the line of the forecast.
    pub(super) fn intervals(&self, history: &History, figures: &GroupFigures, current: &Straight) -> Vec<IntervalFit> {
        let count = history.stretches.len();
        let fits = history.stretches.iter().enumerate().map(|(index, stretch)| {
            let is_current = index + 1 == count;
            let line = if is_current { Some(*current) } else { self.past_line(history, index, figures) };
            let line = line.filter(|_| !stretch.force.is_empty());
            self.interval(stretch, line.as_ref().filter(|_| is_current || stretch.force.len() > 1))
        });
        fits.collect()
    }

    fn past_line(&self, history: &History, index: usize, figures: &GroupFigures) -> Option<Straight> {
        let (prior, _) = figures.slope_prior(history.stretches.get(..index).unwrap_or_default());
        line_of(history.stretches.get(index)?, prior, figures.scatter)
    }

    fn interval(&self, stretch: &Stretch, line: Option<&Straight>) -> IntervalFit {
        let end = stretch.to.unwrap_or(self.as_of).max(stretch.from);
        let lasted = |now: Option<f64>, then: Option<f64>| Some((now? - then?).max(0.0));
        let hours = lasted(self.hours(end).map(RunHours::get), self.hours(stretch.from).map(RunHours::get));
        let cycles = lasted(self.cycles(end).map(ClampCycles::get), self.cycles(stretch.from).map(ClampCycles::get));
        let loss = line
            .filter(|_| self.exposure.hours.is_some() && stretch.force.len() > 1)
            .and_then(|line| Some(Estimate { mean: Percent::new(-line.slope)?, sd: Percent::new(line.slope_sd())? }));
        IntervalFit {
            from: stretch.from,
            to: stretch.to,
            run_hours: hours.and_then(RunHours::new),
            clamp_cycles: cycles.and_then(ClampCycles::new),
            readings: stretch.force.len(),
            loss_per_1000_h: loss,
            line: line.map(|line| self.line(line, stretch.from, end)).unwrap_or_default(),
        }
    }

    fn line(&self, line: &Straight, from: NaiveDate, to: NaiveDate) -> Vec<PathPoint> {
        let span = (to - from).num_days().max(0);
        let step = LINE_STEP_DAYS.max(span / LINE_POINTS);
        let mut points: Vec<PathPoint> = (0..)
            .map(|index| index * step)
            .take_while(|offset| *offset < span)
            .filter_map(|offset| from.checked_add_days(Days::new(offset as u64)))
            .map(|day| self.point(day, line.mean(self.clock(day))))
            .collect();
        points.push(self.point(to, line.mean(self.clock(to))));
        points
    }

    /// The last half year, weekly, by the lines of its stretches.
    pub(super) fn past(&self, history: &History, figures: &GroupFigures, current: &Straight) -> Vec<PathPoint> {
        let Some(first) = history.forces.first().map(|point| point.day) else { return Vec::new() };
        let count = history.stretches.len();
        let mut lines: Vec<Option<Option<Straight>>> = vec![None; count];
        (0..=PAST_WEEKS)
            .rev()
            .filter_map(|weeks| self.as_of.checked_sub_days(Days::new(7 * weeks)))
            .filter(|day| first <= *day)
            .filter_map(|day| {
                let index = history.stretches.partition_point(|stretch| stretch.from <= day).checked_sub(1)?;
                let place = lines.get_mut(index)?;
                let line = place.get_or_insert_with(|| {
                    if index + 1 == count {
                        return Some(*current);
                    }
                    let told = history.stretches.get(index).is_some_and(|stretch| stretch.force.len() > 1);
                    if told { self.past_line(history, index, figures) } else { None }
                });
                line.map(|line| self.point(day, line.mean(self.clock(day))))
            })
            .collect()
    }

    fn weeks_ahead(&self, from: NaiveDate) -> impl Iterator<Item = NaiveDate> {
        let end = self.as_of.checked_add_days(Days::new(7 * FAN_WEEKS)).unwrap_or(NaiveDate::MAX);
        (0..=FAN_WEEKS)
            .filter_map(move |week| from.checked_add_days(Days::new(7 * week)))
            .filter(move |day| *day <= end)
    }

    /// The fan ahead, weekly.
    pub(super) fn fan(&self, line: &Straight, outlook: &Outlook<'_>, quantiles: &Quantiles) -> Vec<FanDay> {
        self.weeks_ahead(self.as_of)
            .map(|day| {
                let (mean, sd) = outlook.of_line(line, self.calendar.between(self.as_of, day));
                FanDay {
                    day,
                    run_hours: self.hours(day),
                    clamp_cycles: self.cycles(day),
                    force: quantiles.shares.map(|score| self.force(mean + score * sd)),
                    at_risk: self.force(mean + quantiles.risk * sd),
                }
            })
            .collect()
    }

    /// The force after a service on the booked day that restores `level`, weekly.
    pub(super) fn after_booked(&self, line: &Straight, level: f64, booked: NaiveDate) -> Vec<PathPoint> {
        let start = self.clock(booked);
        let line = line.with_level_at(start, level);
        self.weeks_ahead(booked).map(|day| self.point(day, line.mean(self.clock(day)))).collect()
    }
}
