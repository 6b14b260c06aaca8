//! What a planner sees of a plan: services with window, start, people, costs and reasons, in the
//! shop's own names, dates and money.

use super::problem::LeftReason;
pub use super::search::Begin;
use super::search::SearchConfig;
pub use super::service_key::ServiceKey;
use crate::ids::{DowntimeId, MachineId, OrderId, SpindleId};
use crate::service::Kind;
use crate::units::{Money, Percent};
use chrono::{NaiveDate, NaiveDateTime};

/// How far a plan looks ahead where nothing else is said.
pub const PLAN_WEEKS: u32 = 26;

/// What a proposal is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlanningConfig {
    /// How far it looks ahead.
    pub weeks: u32,
    /// How long it searches, in moves per service and run; never by the clock.
    pub moves_per_service: u32,
    /// How many runs with different seeds.
    pub runs: u32,
    /// What it is after: the cheapest plan, or one in which few booked services move.
    pub begin: Begin,
}

impl PlanningConfig {
    /// A first full proposal, to be seen at once.
    #[must_use]
    pub const fn quick(weeks: u32) -> Self {
        Self { weeks, moves_per_service: 60, runs: 1, begin: Begin::Freely }
    }

    /// A settled one, worked out in the background.
    #[must_use]
    pub const fn settled(weeks: u32) -> Self {
        Self { weeks, moves_per_service: 500, runs: 8, begin: Begin::Freely }
    }

    /// The first plan only, without a search.
    #[must_use]
    pub const fn start(weeks: u32) -> Self {
        Self { weeks, moves_per_service: 0, runs: 1, begin: Begin::Freely }
    }

    /// What is booked, mended after a change, at once.
    #[must_use]
    pub const fn replan(weeks: u32) -> Self {
        let SearchConfig { moves_per_service, runs, begin, .. } = SearchConfig::replan();
        Self { weeks, moves_per_service, runs, begin }
    }
}

impl Default for PlanningConfig {
    fn default() -> Self {
        Self::settled(PLAN_WEEKS)
    }
}

/// A downtime window of the plan: one day, one hall or machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Tray {
    /// The row it comes from.
    pub downtime: DowntimeId,
    /// The hall in which it is drawn.
    pub hall: String,
    /// The one machine it is for; `None`: every machine of the hall.
    pub machine: Option<MachineId>,
    /// Start.
    pub start: NaiveDateTime,
    /// End.
    pub end: NaiveDateTime,
    /// What it is.
    pub what: String,
    /// What a stop costs in it, in percent of the stop cost.
    pub stop_factor: Percent,
    /// Extra pay per person and hour.
    pub premium_per_hour: Money,
}

/// What a plan or a placement costs, part by part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Costs {
    /// Standstill of the line.
    pub stop: Money,
    /// Extra pay.
    pub premium: Money,
    /// Expected days below a limit.
    pub risk: Money,
    /// Expected service life given away.
    pub early: Money,
    /// Another window than the booked one.
    pub moved: Money,
    /// Lockouts, once per stop.
    pub lockout: Money,
    /// Visits, once per hall and day.
    pub visit: Money,
    /// Services without a place.
    pub left: Money,
}

impl Costs {
    /// All together.
    #[must_use]
    pub fn total(&self) -> Money {
        [self.stop, self.premium, self.risk, self.early, self.moved, self.lockout, self.visit, self.left]
            .into_iter()
            .sum()
    }
}

/// Where a service stands in the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// Which of the plan's trays; `None`: at a time that is in no window.
    pub tray: Option<usize>,
    /// Start, lockout included where this service does it.
    pub start: NaiveDateTime,
    /// End.
    pub end: NaiveDateTime,
    /// Who does it; the one who leads stands first.
    pub technicians: Vec<String>,
}

/// A service of the plan with its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedService {
    /// The spindle.
    pub spindle: SpindleId,
    /// Which service.
    pub kind: Kind,
    /// Working minutes without lockout.
    pub minutes: i64,
    /// Its open order, where there is one.
    pub order: Option<OrderId>,
    /// Where it is placed.
    pub place: Placement,
    /// The planner fixed it, or its order is issued or under way.
    pub held: bool,
    /// The service-by date; `None`: beyond the horizon of the forecast.
    pub service_by: Option<NaiveDate>,
    /// Where its order stood before this proposal, where that was another window.
    pub moved_from: Option<NaiveDateTime>,
    /// What this place costs: lockout and visit are shared evenly among those who share them.
    pub costs: Costs,
    /// Chance of having crossed a limit by the start of the service.
    pub chance_crossed: Percent,
    /// Why it stands there, in one or two sentences: what decides, and what the next-best place would cost.
    pub why: String,
}

/// A due service without a place.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftService {
    /// The spindle.
    pub spindle: SpindleId,
    /// Which service.
    pub kind: Kind,
    /// Working minutes without lockout.
    pub minutes: i64,
    /// Its open order, where there is one.
    pub order: Option<OrderId>,
    /// The service-by date.
    pub service_by: Option<NaiveDate>,
    /// The first rule that rules out every window.
    pub reason: LeftReason,
    /// The same in words, with what would mend it.
    pub words: String,
    /// What leaving it costs.
    pub cost: Money,
    /// Not due within the horizon: for the next plan, no failure.
    pub for_next_plan: bool,
}

/// What a proposal changes for one service.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanChange {
    /// The spindle.
    pub spindle: SpindleId,
    /// Its open order, where there is one.
    pub order: Option<OrderId>,
    /// What changes.
    pub kind: PlanChangeKind,
    /// Why, in words, such as `shares a visit with R-01, saves €60`.
    pub why: String,
}

/// How a proposal differs from what is booked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlanChangeKind {
    /// It had no place.
    Added,
    /// From one window to another.
    Moved,
    /// Same window, another start or other people: costs nothing.
    Rearranged,
    /// Its place is gone; the order would lose its start.
    TakenOff,
}

/// A plan in the shop's own words.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The first day of the plan.
    pub as_of: NaiveDate,
    /// Its last day.
    pub last: NaiveDate,
    /// Services with a place, by start.
    pub placed: Vec<PlacedService>,
    /// Services without one, by service-by date.
    pub left: Vec<LeftService>,
    /// What it costs.
    pub costs: Costs,
    /// No plan can cost less than that; `None`: nothing honest can be said.
    pub cheapest_possible: Option<Money>,
    /// What changes against what is booked, by start.
    pub changes: Vec<PlanChange>,
    /// Orders that were to start before the plan and of which nobody said what came of them, one
    /// sentence each.
    pub remarks: Vec<String>,
    /// Held placements that clash with each other or break a rule: both stay, one sentence each.
    pub clashes: Vec<String>,
}

/// A rule that a place by hand would break.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BrokenRule {
    /// In words.
    pub words: String,
    /// Whether it may be taken all the same, with a note; it is then held.
    pub with_note: bool,
}

/// A place tried by hand beside the one where the service stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// What the plan costs because of this service where it stands; `None`: it has no place, so leaving it counts.
    pub here: Costs,
    /// What it would cost there.
    pub there: Costs,
    /// Chance of having crossed a limit by the start, here (by the end of the horizon if left).
    pub chance_here: Percent,
    /// Chance there.
    pub chance_there: Percent,
    /// The place: earliest start in the tray that breaks least, with the people who would do it.
    pub place: Placement,
    /// Rules that it would break, the worst first.
    pub broken: Vec<BrokenRule>,
}
