//! The setting dimension: its drift since the last service, and when it leaves its tolerance.

use super::Estimate;
use super::ahead::Outlook;
use super::history::{History, Point};
use super::straight::{Scatter, SlopePrior, Straight};
use crate::limits::Limits;
use crate::units::Millimetres;
use chrono::NaiveDate;

/// Scatter of setting readings in tolerances, and the degrees of freedom for which it counts: from
/// memory, to be confirmed.
const SCATTER: Scatter = Scatter { sd: 0.12, freedom: 8.0, wander: 0.005 };
/// Drift before anything is seen: none on average, either way by so many tolerances per 1,000 run
/// hours; from memory, to be confirmed.
const DRIFT: SlopePrior = SlopePrior { mean: 0.0, sd: 0.15 };

/// Where the setting dimension is and where it goes, in tolerances off.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Setting {
    pub(super) line: Straight,
    pub(super) now: Estimate<Millimetres>,
    /// Per 1,000 run hours, from two readings on.
    pub(super) drift: Option<Millimetres>,
    pub(super) is_out: bool,
    /// Since when it is out, by the readings.
    pub(super) out_since: Option<NaiveDate>,
}

impl Setting {
    /// From the readings since the last service; `None` without any, or without a dimension in force.
    pub(super) fn of(history: &History, limits: &Limits, outlook: &Outlook<'_>) -> Option<Self> {
        let (aim, tolerance) = limits.setting()?;
        let points = &history.current().setting;
        let pairs: Vec<(f64, f64)> = points.iter().map(|point| (point.k, point.y)).collect();
        let line = Straight::through(&pairs, DRIFT, SCATTER)?;
        let (mean, sd) = outlook.of_line(&line, 0.0);
        let now = Estimate {
            mean: Millimetres::new(aim.get() + mean * tolerance.get())?,
            sd: Millimetres::new(sd * tolerance.get())?,
        };
        let drift = if points.len() > 1 { Millimetres::new(line.slope * tolerance.get()) } else { None };
        let is_out = mean.abs() > 1.0;
        let out_since = if is_out { out_since(points) } else { None };
        Some(Self { line, now, drift, is_out, out_since })
    }
}

/// Day of the first of the last readings that all lie outside.
fn out_since(points: &[Point]) -> Option<NaiveDate> {
    points.iter().rev().take_while(|point| point.y.abs() > 1.0).last().map(|point| point.day)
}
