//! The planning problem in whole numbers: what the search, the day sheets and the bound work on.
//!
//! Money is in cents, time in minutes of the shop's day (0 is the hour at which its day begins),
//! days count from 0, parts in whole counting units. Everything refers to everything by index.
//! Nothing in here knows a shop: [`super::basis`] compiles one from a shop, [`super::instance`]
//! from an instance file.

/// A stretch of minutes of one day, `from` included, `to` not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// First minute.
    pub from: i64,
    /// First minute after it.
    pub to: i64,
}

/// Machines that stop together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its hall.
    pub hall: usize,
    /// What an hour of standstill costs, in cents.
    pub stop_cost_per_hour: i64,
}

/// For which machines a window is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scope {
    /// All machines of a hall.
    Hall(usize),
    /// One machine.
    Machine(usize),
}

/// A downtime window: it lies on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanWindow {
    /// For which machines.
    pub scope: Scope,
    /// The day.
    pub day: usize,
    /// From when to when.
    pub span: Span,
    /// What a stop costs in it, in percent of the stop cost.
    pub stop_factor: i64,
    /// Extra pay per person and hour, in cents.
    pub premium_per_hour: i64,
}

/// When one person is there on one day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayShift {
    /// The day.
    pub day: usize,
    /// From when to when.
    pub span: Span,
}

/// A technician.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Whether this person may lead a minor, a major service ([`Job::kind`]).
    pub skills: Vec<bool>,
    /// When this person is there; those of one day do not overlap.
    pub shifts: Vec<DayShift>,
    /// At most so many minutes at services on one day.
    pub minutes_per_day: Option<i64>,
}

/// A part: what is there and what comes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    /// In stock on day 0.
    pub on_hand: i64,
    /// Arrivals: the day from which they can be used, and how many.
    pub arrivals: Vec<(usize, i64)>,
}

/// A place of a service in the plan.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Place {
    /// The window.
    pub window: usize,
    /// First minute, the lockout included where this service does it.
    pub start: i64,
    /// Who does it; the one who leads stands first.
    pub technicians: Vec<usize>,
}

/// A booked service: another window costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Booked {
    /// Where it is booked; `None`: somewhere that is no window, so that any window is a move.
    pub window: Option<usize>,
    /// What another window costs, in cents.
    pub move_cost: i64,
}

/// The chance of having crossed a limit, at days 0, 7, 14, .. in 1/10000; straight between.
///
/// It has a point at or after the last day of the horizon.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Curve(pub Vec<i64>);

impl Curve {
    /// The chance on one day, in 1/70000 (a whole number there); past its last point it stays level.
    #[must_use]
    pub fn on(&self, day: usize) -> i64 {
        let point = |week: usize| self.0.get(week).or_else(|| self.0.last()).copied().unwrap_or(0);
        let (week, past) = (day / 7, (day % 7) as i64);
        point(week) * (7 - past) + if past > 0 { point(week + 1) * past } else { 0 }
    }
}

/// A service that is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job {
    /// The machine.
    pub machine: usize,
    /// Which kind, an index into [`Person::skills`]: 0 minor, 1 major.
    pub kind: usize,
    /// How long it takes without lockout.
    pub minutes: i64,
    /// How many people, 1 or 2.
    pub crew: usize,
    /// Which parts and how many.
    pub parts: Vec<(usize, i64)>,
    /// The gauge group that it needs; `None`: none, or one without a rule.
    pub gauge: Option<usize>,
    /// First day on which it may be done.
    pub ready_day: usize,
    /// Chance that a governing limit was crossed by a day.
    pub crossed: Curve,
    /// From that day on the chance is 1 whatever the curve says: the end of a fixed interval.
    pub hard_day: Option<usize>,
    /// Expected days of service life beyond the horizon.
    pub tail_days: i64,
    /// What a day below the limit costs (b), in cents.
    pub day_below_cost: i64,
    /// What a day of service life is worth (g), in cents.
    pub unused_day_value: i64,
    /// The stop limit's own curve and what a day of standstill costs, in cents.
    pub standing: Option<(Curve, i64)>,
    /// What it costs to leave it, in cents.
    pub leave_cost: i64,
    /// Where it is booked.
    pub booked: Option<Booked>,
    /// Where it is held.
    pub held: Option<Place>,
}

impl Job {
    /// The chance that a governing limit was crossed by a day, in 1/70000, the fixed interval included.
    #[must_use]
    pub fn crossed_on(&self, day: usize) -> i64 {
        if self.hard_day.is_some_and(|hard| hard <= day) { 70_000 } else { self.crossed.on(day) }
    }
}

/// Everything that a plan must heed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Problem {
    /// The horizon: days 0 to `days` - 1.
    pub days: usize,
    /// Lockout minutes at the start of a stop.
    pub lockout_min: i64,
    /// One visit to a hall on a day, in cents.
    pub visit_cost: i64,
    /// How many halls there are.
    pub halls: usize,
    /// Lines.
    pub lines: Vec<Line>,
    /// The line of each machine.
    pub machines: Vec<usize>,
    /// Windows.
    pub windows: Vec<PlanWindow>,
    /// Technicians.
    pub technicians: Vec<Person>,
    /// Parts.
    pub parts: Vec<Stock>,
    /// Gauge groups: how many services of the group each day can carry.
    pub gauges: Vec<Vec<i64>>,
    /// Services that are due.
    pub services: Vec<Job>,
}

/// Why a due service has no place: the first rule that rules out every window, taken alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LeftReason {
    /// No window of its machine on or after its ready day.
    Date,
    /// No such window is long enough.
    Window,
    /// In no such window the people are there.
    Crew,
    /// No gauge of its group is in.
    Gauge,
    /// The parts are not there in time.
    Parts,
    /// It would fit alone; with the others it costs more than leaving it.
    Dearer,
}

impl LeftReason {
    /// The words of the files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Date => "date",
            Self::Window => "window",
            Self::Crew => "crew",
            Self::Gauge => "gauge",
            Self::Parts => "parts",
            Self::Dearer => "dearer",
        }
    }
}

/// What a plan or a placement costs, in cents, part by part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CostParts {
    /// Standstill of the line.
    pub stop: i64,
    /// Extra pay.
    pub premium: i64,
    /// Expected days below a limit.
    pub risk: i64,
    /// Expected service life given away.
    pub early: i64,
    /// Another window than the booked one.
    pub moved: i64,
    /// Lockouts, once per stop.
    pub lockout: i64,
    /// Visits, once per hall and day.
    pub visit: i64,
    /// Services without a place.
    pub left: i64,
}

impl CostParts {
    /// All together.
    #[must_use]
    pub const fn total(&self) -> i64 {
        // parts at the end of their range stay there, or absurd prices would wrap round to a gain
        self.stop
            .saturating_add(self.premium)
            .saturating_add(self.risk)
            .saturating_add(self.early)
            .saturating_add(self.moved)
            .saturating_add(self.lockout)
            .saturating_add(self.visit)
            .saturating_add(self.left)
    }
}

/// A plan of a problem: a place for each service, or none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Plan {
    /// By service.
    pub places: Vec<Option<Place>>,
}
