//! What a service brings back and what it does not, and when a minor service will no longer do.

use super::ahead::Outlook;
use super::groups::restored_point;
use super::history::{History, Stretch};
use super::least_squares::polynomial;
use super::straight::Straight;
use crate::service::Kind;
use chrono::NaiveDate;

/// A level that a service restored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Restored {
    pub(super) day: NaiveDate,
    pub(super) k: f64,
    /// Percent of nominal.
    pub(super) level: f64,
}

/// Recoverable and lasting loss of one spindle, in percent of nominal.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Losses {
    /// As left, oldest first.
    pub(super) restored: Vec<Restored>,
    pub(super) recoverable: Option<f64>,
    pub(super) lasting: Option<f64>,
    /// The level that a service would restore: that of the last one, less what broke since.
    pub(super) latest: Option<f64>,
    /// The level when it was new.
    pub(super) when_new: Option<f64>,
    /// What broke at once since the last service and a minor one does not mend.
    broken: f64,
}

/// A slope of as-left levels needs so many of them since the last major service.
const LEAST_RESTORED: usize = 3;
/// A finished stretch shows an ordinary loss if it lasted so many 1,000 run hours.
const ORDINARY_SPAN: f64 = 0.3;
/// How many 1,000 run hours an ordinary interval has where none is finished: common practice, no source.
const ORDINARY_INTERVAL: f64 = 2.0;

/// The share of a step drop that a minor service does not bring back: from memory, to be confirmed.
const STEP_LASTING: f64 = 0.8;

impl Losses {
    /// From the as-left history; `is_known_new`: its installation is on record; `first_line` is the line with which the running stretch began, `now`
    /// today's level.
    pub(super) fn of(history: &History, is_known_new: bool, first_line: Option<&Straight>, now: f64) -> Self {
        let restored: Vec<Restored> = history
            .stretches
            .iter()
            .filter_map(restored_point)
            .map(|(day, k, level)| Restored { day, k, level })
            .collect();
        let current = history.current();
        // not read as left: where the line of this stretch began, if it has readings of its own
        let by_line = first_line.filter(|_| current.force.len() > 1).map(|line| line.mean(current.k_from));
        let as_left = restored_point(current).map(|(_, _, level)| level).or(by_line);
        // most of a step drop is damage that a minor service does not mend
        let broken = STEP_LASTING * current.steps.iter().map(|step| step.size).sum::<f64>();
        let latest = as_left.map(|level| level - broken);
        let first_read = history.stretches.first().filter(|first| is_known_new && first.began_with.is_none());
        let when_new = first_read.and_then(level_when_new).or_else(|| restored.first().map(|first| first.level));
        let lasting = latest.zip(when_new.or(by_line)).map(|(latest, new)| (new - latest).max(0.0));
        let recoverable = latest.map(|latest| (latest - now).max(0.0));
        Self { restored, recoverable, lasting, latest, when_new, broken }
    }

    /// The level to which a service brings it: a minor one to that of the last, a major one, with
    /// its new springs, to that when new; `usual` where neither is known.
    pub(super) fn restored_by(&self, kind: Kind, usual: f64) -> f64 {
        let minor = self.latest.or_else(|| self.restored.last().map(|last| last.level)).unwrap_or(usual);
        match kind {
            Kind::Minor => minor,
            Kind::Major => self.when_new.unwrap_or(usual).max(minor),
        }
    }

    /// The day by which what a minor service restores no longer lasts an ordinary interval; `None`
    /// where that is flat, too little known or beyond the horizon.
    pub(super) fn major_service_by(
        &self,
        history: &History,
        service_limit: f64,
        usual_loss: f64,
        outlook: &Outlook<'_>,
        day_of: impl Fn(f64) -> Option<NaiveDate>,
    ) -> Option<NaiveDate> {
        let major = history.services.iter().rev().find(|(_, kind)| *kind == Kind::Major).map(|(day, _)| *day);
        let since: Vec<&Restored> =
            self.restored.iter().filter(|restored| major.is_none_or(|major| major <= restored.day)).collect();
        let acceptance = service_limit + ordinary_loss(&history.stretches).unwrap_or(usual_loss * ORDINARY_INTERVAL);
        // what broke at once may end it now, whatever the as-left levels did before
        if self.broken > 0.0 && self.latest.is_some_and(|latest| latest <= acceptance) {
            return Some(outlook.days.as_of);
        }
        if since.len() < LEAST_RESTORED {
            return None;
        }
        let k: Vec<f64> = since.iter().map(|restored| restored.k).collect();
        let y: Vec<f64> = since.iter().map(|restored| restored.level).collect();
        let fit = polynomial(&k, &y, 1).ok()?;
        let (slope, error) = (*fit.coefficients.get(1)?, *fit.standard_errors.get(1)?);
        if slope >= -2.0 * error || slope >= -1e-6 {
            return None;
        }
        let now = fit.at(outlook.k_now) - self.broken;
        if now <= acceptance {
            return Some(outlook.days.as_of);
        }
        let k_there = outlook.k_now + (acceptance - now) / slope;
        day_of(k_there).filter(|day| *day <= outlook.days.last())
    }
}

/// The first reading of a spindle that was read soon after it was new.
fn level_when_new(stretch: &Stretch) -> Option<f64> {
    stretch.force.first().filter(|first| first.k - stretch.k_from <= ORDINARY_SPAN).map(|first| first.y)
}

/// What a finished stretch usually loses: the middle of them, from first to last reading.
fn ordinary_loss(stretches: &[Stretch]) -> Option<f64> {
    let mut losses: Vec<f64> = stretches
        .iter()
        .filter(|stretch| stretch.to.is_some())
        .filter_map(|stretch| {
            let (first, last) = (stretch.force.first()?, stretch.force.last()?);
            (last.k - first.k >= ORDINARY_SPAN).then_some((first.y - last.y).max(0.0))
        })
        .collect();
    crate::exposure::usage::median(&mut losses)
}
