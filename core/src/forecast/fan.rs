//! The drawn lines of a spindle: fitted stretches, the last half year, the fan ahead, and what
//! follows a booked service.

use super::ahead::Outlook;
use super::groups::GroupFigures;
use super::history::{History, Stretch};
use super::lasting::Restored;
use super::pieces::{Piece, pieces};
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

    /// The line pieces of every stretch; the running one ends with the line of the forecast.
    pub(super) fn pieces(&self, history: &History, figures: &GroupFigures) -> Vec<Vec<Piece>> {
        let all = &history.stretches;
        all.iter()
            .enumerate()
            .map(|(index, stretch)| {
                let (prior, _) = figures.slope_prior(all.get(..index).unwrap_or_default());
                // one reading draws no line, but the running stretch goes on by it
                let is_drawn = stretch.force.len() > 1 || index + 1 == all.len();
                if is_drawn { pieces(stretch, prior, figures.scatter) } else { Vec::new() }
            })
            .collect()
    }

    /// Every stretch with its line.
    pub(super) fn intervals(&self, history: &History, pieces: &[Vec<Piece>]) -> Vec<IntervalFit> {
        history.stretches.iter().zip(pieces).map(|(stretch, pieces)| self.interval(stretch, pieces)).collect()
    }

    fn interval(&self, stretch: &Stretch, pieces: &[Piece]) -> IntervalFit {
        let end = stretch.to.unwrap_or(self.as_of).max(stretch.from);
        let lasted = |now: Option<f64>, then: Option<f64>| Some((now? - then?).max(0.0));
        let hours = lasted(self.hours(end).map(RunHours::get), self.hours(stretch.from).map(RunHours::get));
        let cycles = lasted(self.cycles(end).map(ClampCycles::get), self.cycles(stretch.from).map(ClampCycles::get));
        let loss = pieces
            .last()
            .map(|piece| piece.line)
            .filter(|_| self.exposure.hours.is_some() && stretch.force.len() > 1)
            .and_then(|line| Some(Estimate { mean: Percent::new(-line.slope)?, sd: Percent::new(line.slope_sd())? }));
        IntervalFit {
            from: stretch.from,
            to: stretch.to,
            run_hours: hours.and_then(RunHours::new),
            clamp_cycles: cycles.and_then(ClampCycles::new),
            readings: stretch.force.len(),
            loss_per_1000_h: loss,
            line: self.line(pieces, end),
        }
    }

    fn line(&self, pieces: &[Piece], end: NaiveDate) -> Vec<PathPoint> {
        let mut points = Vec::new();
        for (index, piece) in pieces.iter().enumerate() {
            let to = pieces.get(index + 1).map_or(end, |next| next.from).max(piece.from);
            let span = (to - piece.from).num_days();
            let step = LINE_STEP_DAYS.max(span / LINE_POINTS);
            let inside = (0..)
                .map(|count| count * step)
                .take_while(|offset| *offset < span)
                .filter_map(|offset| piece.from.checked_add_days(Days::new(offset as u64)));
            points.extend(inside.chain([to]).map(|day| self.point(day, piece.line.mean(self.clock(day)))));
        }
        points
    }

    /// The last half year, weekly, by the lines of its stretches.
    pub(super) fn past(&self, history: &History, pieces: &[Vec<Piece>]) -> Vec<PathPoint> {
        let Some(first) = history.forces.first().map(|point| point.day) else { return Vec::new() };
        (0..=PAST_WEEKS)
            .rev()
            .filter_map(|weeks| self.as_of.checked_sub_days(Days::new(7 * weeks)))
            .filter(|day| first <= *day)
            .filter_map(|day| {
                let index = history.stretches.partition_point(|stretch| stretch.from <= day).checked_sub(1)?;
                let piece = pieces.get(index)?.iter().rev().find(|piece| piece.from <= day)?;
                Some(self.point(day, piece.line.mean(self.clock(day))))
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
