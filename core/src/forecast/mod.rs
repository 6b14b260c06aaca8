//! The one way from a shop to dates: [`forecast_shop`].
//!
//! Pure: no disk, no clock, no chance. Screens and lists only see the types of this file, so that
//! the model behind them can be exchanged.

mod ahead;
mod basis;
mod control_chart;
mod crossed;
mod explain;
mod fan;
pub mod fits;
pub mod full;
mod groups;
mod history;
mod interval_dates;
pub mod kept;
pub mod learnt;
mod learnt_words;
pub mod least_squares;
mod limit_dates;
pub mod model;
pub mod naive;
pub mod next_reading;
mod observe;
mod project;
pub mod refit;
mod setting;
mod spindle;
mod spread;
mod trace;
pub mod track_record;
mod verdict;

use crate::ids::{ReadingId, SpindleId};
use crate::shop::Shop;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Percent, RunHours};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::sync::Arc;

pub use control_chart::{ControlChart, ControlPoint, ControlState, LEAST_READINGS};
pub use crossed::{ChanceCurve, CrossedBy};
pub use groups::Groups;
pub use project::{ForecastBasis, forecast_shop, forecast_spindle, project_shop};
pub use verdict::{Verdict, VerdictWeights, WeighedReading};

/// What a forecast is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ForecastConfig {
    /// Accepted chance of having crossed a limit by the service-by date.
    pub accepted_risk: f64,
    /// How far it looks ahead.
    pub horizon_days: u32,
    /// What spindles run from now on.
    pub planned: PlannedUsage,
}

/// What a spindle runs from the as-of day on. Another level than the measured one keeps its
/// uncertainty, relative to it; clamp cycles change with the run hours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum PlannedUsage {
    /// As its meters show.
    #[default]
    AsMeasured,
    /// So many run hours per working day of weight 1.
    HoursPerDay(RunHours),
    /// So much of what its meters show, 100 % being the same.
    Share(Percent),
}

/// How far a forecast looks ahead where nothing else is said.
pub const HORIZON_DAYS: u32 = 1825;

impl ForecastConfig {
    /// The shop's accepted risk and the usual horizon.
    #[must_use]
    pub fn of(shop: &Shop) -> Self {
        Self {
            accepted_risk: shop.settings.accepted_risk,
            horizon_days: HORIZON_DAYS,
            planned: PlannedUsage::AsMeasured,
        }
    }
}

/// Tells a caller how far the work is, and the work whether to go on.
pub trait Progress {
    /// Called now and then; `false` asks to stop.
    fn step(&self, done: usize, total: usize) -> bool;
}

/// Nobody watches and nobody stops it.
#[derive(Debug, Clone, Copy)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn step(&self, _done: usize, _total: usize) -> bool {
        true
    }
}

/// The work was stopped from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before it was done")]
pub struct Cancelled;

/// All spindles of a shop, projected from one day.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopForecast {
    /// The day from which it looks.
    pub as_of: NaiveDate,
    /// What it was asked for.
    pub config: ForecastConfig,
    /// By spindle.
    pub spindles: BTreeMap<SpindleId, Arc<SpindleForecast>>,
}

/// A figure with one standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate<T> {
    /// The expected value.
    pub mean: T,
    /// One standard uncertainty.
    pub sd: T,
}

/// The limit that is reached first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GoverningLimit {
    /// The service limit of clamp force.
    Force,
    /// The tolerance of the setting dimension.
    SettingDimension,
    /// The interval in run hours.
    RunHours,
    /// The interval in clamp cycles.
    ClampCycles,
    /// The calendar interval.
    Calendar,
}

impl GoverningLimit {
    /// The words of files and screens.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Force => "force",
            Self::SettingDimension => "setting dimension",
            Self::RunHours => "run hours",
            Self::ClampCycles => "clamp cycles",
            Self::Calendar => "calendar",
        }
    }
}

/// The shares for which a crossing gives its day.
pub const QUANTILES: [f64; 7] = [0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95];

/// When a limit is crossed: the day by which each share of [`QUANTILES`] has crossed it.
///
/// `None`: beyond the horizon. A day already passed is the as-of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Crossing {
    /// In the order of [`QUANTILES`].
    pub days: [Option<NaiveDate>; 7],
}

/// Where the force may be on one day of the fan: each edge meets a limit on the day by which that
/// share has crossed it, a possible step drop included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanDay {
    /// The day.
    pub day: NaiveDate,
    /// Run hours of the spindle by then, as expected.
    pub run_hours: Option<RunHours>,
    /// Clamp cycles of the spindle by then, as expected.
    pub clamp_cycles: Option<ClampCycles>,
    /// Force below which the share of [`QUANTILES`] lies, ascending.
    pub force: [Kilonewtons; 7],
    /// Force at the accepted risk: what one may count on.
    pub at_risk: Kilonewtons,
}

/// One point of a drawn force line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// The day.
    pub day: NaiveDate,
    /// Run hours of the spindle by then.
    pub run_hours: Option<RunHours>,
    /// Clamp cycles of the spindle by then.
    pub clamp_cycles: Option<ClampCycles>,
    /// Force.
    pub force: Kilonewtons,
}

/// What is known of one stretch between two services.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalFit {
    /// Its first day: the service, or the first record.
    pub from: NaiveDate,
    /// The service that ended it; `None`: it still runs.
    pub to: Option<NaiveDate>,
    /// Run hours it lasted (so far).
    pub run_hours: Option<RunHours>,
    /// Clamp cycles it lasted (so far).
    pub clamp_cycles: Option<ClampCycles>,
    /// Readings it rests on.
    pub readings: usize,
    /// Loss in percent of nominal per 1,000 run hours.
    pub loss_per_1000_h: Option<Estimate<Percent>>,
    /// The smoothed force line, oldest first; empty where nothing was read.
    pub line: Vec<PathPoint>,
}

/// A drop of the force at once, such as from a broken disc spring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepDrop {
    /// Day of the last reading before it.
    pub after: NaiveDate,
    /// Day of the first reading after it.
    pub by: NaiveDate,
    /// How much, in percent of nominal, as expected.
    pub size: Percent,
    /// How sure it is that it was one.
    pub weight: Percent,
}

/// A service that nobody logged, as the readings make it look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnloggedService {
    /// Day of the last reading before it, where there is one.
    pub after: Option<NaiveDate>,
    /// Day of the first reading after it.
    pub by: NaiveDate,
    /// How sure it is that there was one.
    pub weight: Percent,
}

/// Where a spindle is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SpindleState {
    /// In a machine, free to run.
    InService,
    /// In no machine.
    NotMounted,
    /// Taken out, or under the stop limit until measured within limits.
    OutOfService,
}

impl SpindleState {
    /// The words of `due`.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::InService => "in service",
            Self::NotMounted => "not mounted",
            Self::OutOfService => "out of service",
        }
    }
}

/// From this chance on it is said that a spindle may be under its stop limit already (common practice, no
/// source).
const PERHAPS_PCT: f64 = 10.0;

/// How it is known that the force is under the stop limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnderStopLimit {
    /// The last reading that is not doubted lies under it, on this day, and none since is within limits.
    Read(NaiveDate),
    /// The estimate of today, which rests on readings of its own.
    Estimated,
}

/// All that is projected for one spindle. Dates are `None` beyond the horizon, and all of them for
/// a spindle that is not mounted.
#[derive(Debug, Clone, PartialEq)]
pub struct SpindleForecast {
    /// The spindle.
    pub spindle: SpindleId,
    /// Whether it may run.
    pub state: SpindleState,
    /// Its own run hours; `None` without any meter.
    pub run_hours: Option<RunHours>,
    /// Its own clamp cycles; `None` without any meter.
    pub clamp_cycles: Option<ClampCycles>,
    /// Run hours per working day of weight 1.
    pub hours_per_day: Option<RunHours>,
    /// Clamp cycles per working day of weight 1.
    pub cycles_per_day: Option<ClampCycles>,
    /// Run hours since the last service (or since installation).
    pub hours_since_service: Option<RunHours>,
    /// Clamp cycles since the last service (or since installation).
    pub cycles_since_service: Option<ClampCycles>,
    /// Day of the last service.
    pub last_service: Option<NaiveDate>,
    /// Force today; where it was never measured: what spindles of its interface have.
    pub force_now: Estimate<Kilonewtons>,
    /// Whether its force was ever measured.
    pub force_measured: bool,
    /// Why it must not run, where it must not.
    pub under_stop_limit: Option<UnderStopLimit>,
    /// Setting dimension today, where one was read.
    pub setting_now: Option<Estimate<Millimetres>>,
    /// Its drift per 1,000 run hours, where it can be told.
    pub setting_drift_per_1000_h: Option<Millimetres>,
    /// The setting dimension is out of tolerance today.
    pub setting_out_of_tolerance: bool,
    /// Nominal force, limits and intervals in force, with their sources.
    pub limits: crate::limits::Limits,
    /// Today's force above the service limit, in percent of nominal.
    pub reserve: Percent,
    /// Crossing of the service limit.
    pub cross_service_limit: Option<Crossing>,
    /// Crossing of the stop limit.
    pub cross_stop_limit: Option<Crossing>,
    /// Leaving of the setting-dimension tolerance.
    pub cross_setting_dimension: Option<Crossing>,
    /// The chance of having crossed a limit by each day ahead; empty where it is not mounted.
    pub crossed: CrossedBy,
    /// Date of the calendar interval; may lie in the past.
    pub due_calendar: Option<NaiveDate>,
    /// Date of the interval in run hours; may lie in the past.
    pub due_run_hours: Option<NaiveDate>,
    /// Date of the interval in clamp cycles; may lie in the past.
    pub due_clamp_cycles: Option<NaiveDate>,
    /// The latest date at which the chance of having crossed a limit stays within the accepted
    /// risk; the as-of day where one is already passed.
    pub service_by: Option<NaiveDate>,
    /// Whether a limit is already passed.
    pub is_passed: bool,
    /// Since when the limit that governs is passed, where that can be told.
    pub passed_since: Option<NaiveDate>,
    /// The limit that is reached first.
    pub governing: Option<GoverningLimit>,
    /// Why, in one sentence.
    pub reason: String,
    /// What a minor service would give back, in percent of nominal.
    pub recoverable_loss: Option<Percent>,
    /// What it would not give back, in percent of nominal.
    pub lasting_loss: Option<Percent>,
    /// The date by which a minor service will no longer do (50 %).
    pub major_service_by: Option<NaiveDate>,
    /// The dates by which that is so with 10 % and with 90 %.
    pub major_service_between: [Option<NaiveDate>; 2],
    /// Loss per 1,000 run hours in this interval.
    pub loss_per_1000_h: Option<Estimate<Percent>>,
    /// The same of its interface in this shop, between spindles: quarter below, middle, quarter above.
    pub interface_loss_per_1000_h: Option<[Percent; 3]>,
    /// How many spindles of its interface that rests on.
    pub interface_spindles: usize,
    /// What weakens this forecast, one sentence each.
    pub warnings: Vec<String>,
    /// Readings that the model doubts itself, each with what speaks against it and the weight with
    /// which it counts; in the order of their ids.
    pub left_out: Vec<(ReadingId, String)>,
    /// Every force reading as it was weighed, oldest first.
    pub readings: Vec<WeighedReading>,
    /// Stretches between services, oldest first; the last one still runs.
    pub intervals: Vec<IntervalFit>,
    /// What a minor service restored, as left, oldest first.
    pub restored: Vec<PathPoint>,
    /// Drops at once, oldest first.
    pub steps: Vec<StepDrop>,
    /// Services that nobody logged, oldest first.
    pub unlogged: Vec<UnloggedService>,
    /// Force ahead: weekly from the as-of day to at least two years ahead.
    pub fan: Vec<FanDay>,
    /// Force of the last 26 weeks, weekly, oldest first, as far as it can be told.
    pub past: Vec<PathPoint>,
    /// Force ahead after a service on the booked day, where one is booked: weekly.
    pub after_booked: Vec<PathPoint>,
}

impl SpindleForecast {
    /// Never measured, and by the figures of others its force may be under the service limit today:
    /// a reading tells more than a service would.
    #[must_use]
    pub fn needs_first_reading(&self, as_of: NaiveDate) -> bool {
        let is_due = self.service_by.is_some_and(|day| day <= as_of);
        !self.force_measured && !self.is_passed && is_due && self.governing == Some(GoverningLimit::Force)
    }

    /// Its last reading that counts lies under the stop limit, and none since is within limits.
    #[must_use]
    pub const fn is_read_under_stop_limit(&self) -> bool {
        matches!(self.under_stop_limit, Some(UnderStopLimit::Read(_)))
    }

    /// The chance that it is under the stop limit today, of a spindle that runs and was measured, though it
    /// was neither read nor is estimated there; from 10 % on, as the date of [`Self::cross_stop_limit`].
    #[must_use]
    pub fn perhaps_under_stop_limit(&self) -> Option<Percent> {
        let is_above = self.state == SpindleState::InService && self.force_measured && self.under_stop_limit.is_none();
        is_above.then(|| self.crossed.stop.by(0)).filter(|chance| PERHAPS_PCT <= chance.get())
    }
}
