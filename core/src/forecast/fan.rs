//! The drawn lines of a spindle: smoothed stretches, the last half year, the fan ahead, and what
//! follows a booked service.

use super::ahead::ForceAhead;
use super::full::Modelled;
use super::history::{History, Stretch};
use super::interval_dates::Counted;
use super::{Estimate, FanDay, IntervalFit, PathPoint};
use crate::calendar::WorkingCalendar;
use crate::service::Kind;
use crate::units::{ClampCycles, Kilonewtons, Percent, RunHours};
use chrono::{Days, NaiveDate};

/// The fan reaches so many weeks ahead: two years and a little more.
const FAN_WEEKS: u64 = 105;
/// The last half year.
const PAST_WEEKS: u64 = 26;
/// A line is drawn through a point at least this often.
const LINE_STEP_DAYS: i64 = 28;
/// A long stretch has about so many points.
const LINE_POINTS: i64 = 60;

/// What all drawn lines of a spindle need.
pub(super) struct Canvas<'a> {
    pub(super) calendar: &'a WorkingCalendar,
    pub(super) as_of: NaiveDate,
    pub(super) model: &'a Modelled<'a>,
    pub(super) hours: Option<&'a Counted>,
    pub(super) cycles: Option<&'a Counted>,
    pub(super) nominal: Kilonewtons,
}

impl Canvas<'_> {
    /// A share of nominal as a force that can be: not below nothing.
    pub(super) fn force(&self, percent: f64) -> Kilonewtons {
        Kilonewtons::from_percent(Percent::new(percent.max(0.0)).unwrap_or_default(), self.nominal)
    }

    pub(super) fn hours(&self, day: NaiveDate) -> Option<RunHours> {
        RunHours::new(self.hours?.track.at(self.calendar, day))
    }

    pub(super) fn cycles(&self, day: NaiveDate) -> Option<ClampCycles> {
        ClampCycles::new(self.cycles?.track.at(self.calendar, day))
    }

    fn point(&self, day: NaiveDate, percent: f64) -> PathPoint {
        PathPoint { day, run_hours: self.hours(day), clamp_cycles: self.cycles(day), force: self.force(percent) }
    }

    /// What services left.
    pub(super) fn restored(&self, levels: &[(NaiveDate, f64)]) -> Vec<PathPoint> {
        levels.iter().map(|(day, level)| self.point(*day, *level)).collect()
    }

    /// Every stretch with its line.
    pub(super) fn intervals(&self, history: &History) -> Vec<IntervalFit> {
        history.stretches.iter().map(|stretch| self.interval(stretch)).collect()
    }

    fn interval(&self, stretch: &Stretch) -> IntervalFit {
        let end = stretch.to.unwrap_or(self.as_of).max(stretch.from);
        let lasted = |now: Option<f64>, then: Option<f64>| Some((now? - then?).max(0.0));
        let hours = lasted(self.hours(end).map(RunHours::get), self.hours(stretch.from).map(RunHours::get));
        let cycles = lasted(self.cycles(end).map(ClampCycles::get), self.cycles(stretch.from).map(ClampCycles::get));
        let place = (self.model.number(stretch.from), stretch.began_with.is_some());
        let per_1000_h = self.model.per_1000_h();
        let loss = self
            .model
            .trace
            .rate_of(place.0, place.1)
            .filter(|_| self.hours.is_some() && stretch.force.len() > 1)
            .and_then(|(rate, variance)| {
                let sd = Percent::new(variance.max(0.0).sqrt() * per_1000_h)?;
                Some(Estimate { mean: Percent::new(rate * per_1000_h)?, sd })
            });
        // a stretch without a reading has no line, but the one that runs goes on by what is expected
        let is_drawn = !stretch.force.is_empty() || stretch.to.is_none();
        let line = if is_drawn { self.line(place, (end - stretch.from).num_days()) } else { Vec::new() };
        IntervalFit {
            from: stretch.from,
            to: stretch.to,
            run_hours: hours.and_then(RunHours::new),
            clamp_cycles: cycles.and_then(ClampCycles::new),
            readings: stretch.force.len(),
            loss_per_1000_h: loss,
            line,
        }
    }

    fn line(&self, place: (i64, bool), span: i64) -> Vec<PathPoint> {
        let step = LINE_STEP_DAYS.max(span / LINE_POINTS);
        let corners = self.model.trace.line(place, step, self.model.over());
        corners
            .into_iter()
            .filter_map(|(number, percent)| Some(self.point(self.model.date(number)?, percent)))
            .collect()
    }

    /// The last half year, weekly; from the first reading on.
    pub(super) fn past(&self, history: &History) -> Vec<PathPoint> {
        let Some(first) = history.first_force() else { return Vec::new() };
        (0..=PAST_WEEKS)
            .rev()
            .filter_map(|weeks| self.as_of.checked_sub_days(Days::new(7 * weeks)))
            .filter(|day| first <= *day)
            .filter_map(|day| {
                let percent = self.model.trace.force_on(self.model.number(day), self.model.over())?;
                Some(self.point(day, percent))
            })
            .collect()
    }

    fn weeks_ahead(&self, from: NaiveDate) -> impl Iterator<Item = NaiveDate> {
        let end = self.fan_end();
        (0..=FAN_WEEKS)
            .filter_map(move |week| from.checked_add_days(Days::new(7 * week)))
            .filter(move |day| *day <= end)
    }

    fn fan_end(&self) -> NaiveDate {
        self.as_of.checked_add_days(Days::new(7 * FAN_WEEKS)).unwrap_or(NaiveDate::MAX)
    }

    /// The fan ahead, weekly.
    pub(super) fn fan(&self, service_limit: f64, stop_limit: f64, risk: f64) -> Vec<FanDay> {
        let model = self.model;
        let clock = |day: NaiveDate| model.service.drift_clock(model.number(day) as f64);
        let limits =
            [(&model.service, service_limit, &model.service_moments), (&model.stop, stop_limit, &model.stop_moments)];
        let mean = &model.trace.filter.mean;
        let Some(ahead) = ForceAhead::of(mean, &limits, risk, clock(self.fan_end())) else { return Vec::new() };
        self.weeks_ahead(self.as_of)
            .map(|day| {
                let (levels, at_risk) = ahead.at(clock(day));
                FanDay {
                    day,
                    run_hours: self.hours(day),
                    clamp_cycles: self.cycles(day),
                    force: levels.map(|level| self.force(level)),
                    at_risk: self.force(at_risk),
                }
            })
            .collect()
    }

    /// The expected force after a service on the booked day, weekly: from what it brings back, by
    /// the spindle's own mean rate.
    pub(super) fn after_booked(&self, kind: Kind, booked: NaiveDate) -> Vec<PathPoint> {
        let model = self.model;
        let [_, _, mean_rate, restorable, lasting] = model.trace.filter.mean;
        let level = match kind {
            Kind::Minor => restorable - lasting * model.exposure_by(model.number(booked) as f64),
            Kind::Major => model.fit.parameters.a0,
        };
        let parameters = &model.fit.parameters;
        let rate = mean_rate.max(0.05 * parameters.beta);
        let start = model.exposure_by(model.number(booked) as f64);
        self.weeks_ahead(booked)
            .map(|day| {
                let since = (model.exposure_by(model.number(day) as f64) - start).max(0.0);
                self.point(day, level - rate * since.powf(parameters.p))
            })
            .collect()
    }
}
