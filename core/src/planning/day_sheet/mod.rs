//! Day sheets: start times and people for the services that a day shall carry.
//!
//! * [`crew`]: who is there on a day, and what is held on it.
//! * [`counts`]: how many services of a length people have time for; refuses most full days at once.
//! * [`list`]: services put one after the other into the gaps, in several orders; the first order that fits is taken.
//! * [`exhaustive`]: every order and every choice of people, for small sets.
//! * [`memo`]: whether a set of services fits a day, remembered.
//!
//! A held service stays where it is, untouched; two held ones that clash both stay.

mod counts;
pub(crate) mod crew;
mod exhaustive;
mod list;
pub(crate) mod memo;

use crew::DayCrew;

/// Sets up to this size are tried exhaustively when no order fits.
const EXHAUSTIVE_UP_TO: usize = 6;

/// After so many placements tried a set counts as not fitting: in large and in small problems.
const LEAST_STEPS: usize = 150;
const MOST_STEPS: usize = 20_000;

/// A service that a day shall carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Task {
    /// The service.
    pub(crate) service: u32,
    /// Its machine.
    pub(crate) machine: u32,
    /// Line and window: services of one stop share its lockout.
    pub(crate) stop: u32,
    /// Which skill its leader needs.
    pub(crate) kind: u8,
    /// One or two people.
    pub(crate) crew: u8,
    /// Working minutes without lockout.
    pub(crate) minutes: i64,
    /// First minute of its window.
    pub(crate) from: i64,
    /// First minute after it.
    pub(crate) to: i64,
    /// Whether no other service is of its line: two such tasks of one shape can stand in for each other.
    pub(crate) alone: bool,
}

impl Task {
    /// Sorts tasks before a sheet is built: by shape, and by service where that makes a difference,
    /// so that sets of the same shapes get the same sheet, whoever fills it.
    pub(crate) const fn rank(&self) -> (i64, i64, u8, u8, i64, bool, u32) {
        (self.from, self.to, self.kind, self.crew, self.minutes, self.alone, self.service)
    }
}

/// When and by whom a task is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Line {
    /// Index into the tasks asked for.
    pub(crate) task: usize,
    /// First minute, lockout included.
    pub(crate) start: i64,
    /// Index of who leads, into the workers of the day.
    pub(crate) lead: usize,
    /// Index of the second, where it takes two.
    pub(crate) second: Option<usize>,
}

/// Builds day sheets; holds what is needed again and again.
#[derive(Debug, Default)]
pub(crate) struct SheetBuilder {
    counts: counts::Counts,
    list: list::ListBuilder,
    exhaustive: exhaustive::Exhaustive,
}

impl SheetBuilder {
    /// For a problem of so many services: the fewer, the longer a set that seems not to fit is tried.
    pub(crate) fn for_services(services: usize) -> Self {
        let most = (60_000 / services.max(1)).clamp(LEAST_STEPS, MOST_STEPS);
        Self { exhaustive: exhaustive::Exhaustive::with_steps(most), ..Self::default() }
    }

    /// A sheet for these tasks beside what is held, if one is found. The tasks are to be sorted by
    /// [`Task::rank`], so that the same set always gets the same sheet.
    pub(crate) fn build(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> Option<&[Line]> {
        if tasks.is_empty() {
            return Some(&[]);
        }
        if !day.has_hours_for(tasks, lockout) || !self.counts.may_fit(day, tasks, lockout) {
            return None;
        }
        if self.list.build(day, tasks, lockout) {
            return Some(self.list.lines());
        }
        if tasks.len() <= EXHAUSTIVE_UP_TO && self.exhaustive.build(day, tasks, lockout) {
            return Some(self.exhaustive.lines());
        }
        None
    }
}
