//! What is true in a simulated fleet, and the ten scenarios.
//!
//! Sizes lie near what the model's priors call usual (from experience, to be confirmed); the laws
//! are others: wear is a gamma process, usage is made of gamma days with regimes, a season and
//! stoppages, and in some scenarios rates have heavy tails.

use super::chance::{happens, normal};
use crate::fleet::Dice;

/// A scenario: one row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scenario {
    /// Mature fleets, straight wear, rates lognormal.
    AsModelled,
    /// Rates and set-up errors by Student's t.
    HeavyTails,
    /// Wear with s^0.7: fast at first.
    CurvedDown,
    /// Wear with s^1.4: fast at the end.
    CurvedUp,
    /// One reading in 25 is a gross error.
    GrossEntries,
    /// Disc springs break.
    StepDrops,
    /// Most spindles changed their usage within the last four months.
    UsageChanged,
    /// All of these.
    AllTogether,
    /// Installed lately, two readings at most.
    Young,
    /// The same in fleets of five.
    YoungFive,
}

impl Scenario {
    /// All, in the order of the table.
    pub const ALL: [Self; 10] = [
        Self::AsModelled,
        Self::HeavyTails,
        Self::CurvedDown,
        Self::CurvedUp,
        Self::GrossEntries,
        Self::StepDrops,
        Self::UsageChanged,
        Self::AllTogether,
        Self::Young,
        Self::YoungFive,
    ];

    /// What the table calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AsModelled => "as modelled",
            Self::HeavyTails => "heavy tails",
            Self::CurvedDown => "curved, 0.7",
            Self::CurvedUp => "curved, 1.4",
            Self::GrossEntries => "gross entries",
            Self::StepDrops => "step drops",
            Self::UsageChanged => "usage changed lately",
            Self::AllTogether => "all of it together",
            Self::Young => "young, 0-2 readings",
            Self::YoungFive => "the same, fleets of 5",
        }
    }

    /// What the command line calls it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::AsModelled => "modelled",
            Self::HeavyTails => "tails",
            Self::CurvedDown => "curved0.7",
            Self::CurvedUp => "curved1.4",
            Self::GrossEntries => "gross",
            Self::StepDrops => "steps",
            Self::UsageChanged => "usage",
            Self::AllTogether => "all",
            Self::Young => "young",
            Self::YoungFive => "five",
        }
    }

    /// Spindles in one fleet.
    #[must_use]
    pub const fn spindles(self) -> usize {
        if matches!(self, Self::YoungFive) { 5 } else { 200 }
    }

    /// Fleets that stand for one fleet of 200 in other rows.
    #[must_use]
    pub const fn fleets_for_one(self) -> usize {
        if matches!(self, Self::YoungFive) { 20 } else { 1 }
    }

    /// Path of the dice of one fleet: the mature rows share their fleets, so that rows differ by what
    /// the scenario adds and by nothing else; young fleets of both sizes have their own.
    #[must_use]
    pub const fn path(self, fleet: usize) -> [u64; 2] {
        let kind = match self {
            Self::Young => 1,
            Self::YoungFive => 2,
            _ => 0,
        };
        [kind, fleet as u64]
    }
}

/// The law of one fleet. Force in percent of nominal, exposure in 2,000 run hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Middle of the mean loss of a spindle per 2,000 h.
    pub loss: f64,
    /// Log spread of the mean loss between spindles.
    pub between_spindles: f64,
    /// Log spread of the loss between the intervals of a spindle.
    pub between_intervals: f64,
    /// Degrees of freedom of both on the log scale; `None`: normal.
    pub freedom: Option<f64>,
    /// Exponent of wear over exposure since the service.
    pub curvature: f64,
    /// Variance of the loss per 2,000 h about its mean.
    pub roughness: f64,
    /// Level of a new spindle, and its spread.
    pub level: (f64, f64),
    /// Scatter of what a service restores.
    pub restored: f64,
    /// Middle of the lasting loss per 2,000 h; its log spread.
    pub lasting: (f64, f64),
    /// Variance of the restorable level per 2,000 h.
    pub lasting_roughness: f64,
    /// Set-up error of a reading, and of each stroke, percent of the reading.
    pub set_up: f64,
    /// See [`Truth::set_up`].
    pub stroke: f64,
    /// Share of readings that are gross errors.
    pub gross: f64,
    /// Step drops per 2,000 h; where there are many, twice what the prior calls usual.
    pub steps: f64,
    /// Share of spindles whose usage changed within [`LATELY_DAYS`].
    pub changed_lately: f64,
    /// Installed lately, with few readings.
    pub is_young: bool,
    /// Relative size of the year's rhythm, and the day of its peak.
    pub season: (f64, f64),
    /// Clamp cycles in a run hour.
    pub cycles_per_hour: f64,
}

/// "Lately": one to four months ago.
pub const LATELY_DAYS: (f64, f64) = (30.0, 120.0);
/// Mean and spread of a step drop, percent of nominal; of it, so much is lasting.
pub const STEP: (f64, f64) = (9.0, 4.0);
/// Share of a step that no service restores, and its spread in percent of nominal.
pub const STEP_LASTING: (f64, f64) = (0.8, 1.2);

impl Truth {
    /// The law of a fleet: usual sizes, each fleet a little different, and what the scenario adds.
    #[must_use]
    pub fn of(scenario: Scenario, dice: &mut Dice) -> Self {
        use Scenario::{
            AllTogether, CurvedDown, CurvedUp, GrossEntries, HeavyTails, StepDrops, UsageChanged, Young, YoungFive,
        };
        let together = scenario == AllTogether;
        let mut around = |middle: f64, spread: f64| middle * (spread * normal(dice)).exp();
        let loss = around(10.0, 0.15);
        let lasting = around(0.7, 0.2);
        let cycles_per_hour = around(12.0, 0.2);
        let up = happens(dice, 0.5);
        Self {
            loss,
            between_spindles: 0.40,
            between_intervals: 0.22,
            freedom: (together || scenario == HeavyTails).then_some(3.0),
            curvature: match scenario {
                CurvedDown => 0.7,
                CurvedUp => 1.4,
                AllTogether if up => 1.3,
                AllTogether => 0.8,
                _ => 1.0,
            },
            roughness: 0.7,
            level: (98.0, 1.5),
            restored: 1.0,
            lasting: (lasting, 0.6),
            lasting_roughness: 0.2,
            set_up: 0.7,
            stroke: 2.0,
            gross: if together || scenario == GrossEntries { 0.04 } else { 0.0 },
            steps: if together || scenario == StepDrops { 0.06 } else { 0.0 },
            changed_lately: if together || scenario == UsageChanged { 0.8 } else { 0.0 },
            is_young: matches!(scenario, Young | YoungFive),
            season: (dice.between(0.02, 0.08), dice.between(0.0, 365.0)),
            cycles_per_hour,
        }
    }
}
