//! Whether a set of services admits a day sheet: start times and people, tried exhaustively.
//!
//! Services are put down in the order of their starts, each as early as everything before it
//! allows. Of all sheets of a set take the one with the smallest sum of starts, each weighed with the
//! square of how long its service takes, and of several the one whose first service starts earliest,
//! then its second, and so on. It has that form (put down anew in the order of its starts nothing
//! starts later, so nothing moves), and in it
//! * of two services that could change places the first in the list starts first;
//! * of two that one person does back to back, and that could as well be done the other way round,
//!   the longer comes first: else changing them round would make the sum smaller (a and b minutes
//!   long, b behind a: b^2 a saved against a^2 b lost).
//!
//! So a set for which no sheet of that form exists has none at all. What is not decided within the
//! limit counts as fitting.

use super::day::{Candidate, Day, Worker};
use super::list::puts_down;
use crate::planning::problem::Span;

/// Sheets begun before a set counts as fitting.
const MOST_STEPS: u32 = 100;
/// Larger sets are not tried and count as fitting.
pub(super) const MOST_SERVICES: usize = 14;
/// With more people on a day its sets are not tried and count as fitting.
pub(super) const MOST_WORKERS: usize = 16;
/// Before the first minute of any day.
const LONG_AGO: i64 = i64::MIN / 4;

/// A service to be put on the sheet, and whether somebody of its stop must do the lockout.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Asked {
    pub candidate: usize,
    pub lockout: bool,
}

/// A service on its way to a sheet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Task {
    pub stop: usize,
    pub lockout: bool,
    pub machine: usize,
    pub minutes: i64,
    pub crew: usize,
    pub kind: usize,
    pub window: Span,
}

impl Task {
    fn new(candidate: &Candidate, lockout: bool) -> Self {
        let Candidate { stop, machine, minutes, crew, kind, window, .. } = *candidate;
        Self { stop, lockout, machine, minutes, crew, kind, window }
    }
}

impl Day {
    /// Whether a service could be done here if others did the lockout.
    pub(super) fn could_be_done(&self, candidate: &Candidate) -> bool {
        self.has_sheet(&[Task::new(candidate, false)])
    }

    /// Whether a sheet exists for the set; true where that is not decided.
    pub(super) fn admits(&self, set: &[Asked]) -> bool {
        let mut tasks = [None; MOST_SERVICES];
        if set.len() > MOST_SERVICES {
            return true;
        }
        for (task, asked) in tasks.iter_mut().zip(set) {
            *task = Some(Task::new(&self.candidates[asked.candidate], asked.lockout));
        }
        let mut tasks: Vec<Task> = tasks.into_iter().flatten().collect();
        tasks.sort_by_key(|task| -task.minutes);
        self.has_sheet(&tasks)
    }

    fn has_sheet(&self, tasks: &[Task]) -> bool {
        if self.workers.len() > MOST_WORKERS || puts_down(self, tasks) {
            return true;
        }
        let mut sheet = Sheet::new(self, tasks);
        let state = State {
            open: (1u32 << tasks.len()) - 1,
            free: [LONG_AGO; MOST_WORKERS],
            used: [0; MOST_WORKERS],
            recent: [None; MOST_WORKERS],
            last: LONG_AGO,
        };
        sheet.goes_on(&state)
    }
}

/// How far a sheet is.
#[derive(Clone, Copy)]
struct State {
    /// Tasks still to be put down, a bit each.
    open: u32,
    /// When each worker is free again.
    free: [i64; MOST_WORKERS],
    /// Minutes of each worker at services.
    used: [i64; MOST_WORKERS],
    /// What each worker did last, where it could as well be done later, and when it began.
    recent: [Option<(usize, i64)>; MOST_WORKERS],
    /// Start of the last one put down.
    last: i64,
}

/// A task put down: when, and by whom.
#[derive(Clone, Copy)]
struct Way {
    start: i64,
    span: i64,
    task: usize,
    lead: usize,
    second: Option<usize>,
}

struct Sheet<'a> {
    day: &'a Day,
    tasks: &'a [Task],
    /// When a task put down starts and ends.
    put: [Option<Span>; MOST_SERVICES],
    /// Whether it shares its stop or its machine with nobody.
    by_itself: [bool; MOST_SERVICES],
    /// The worker before each that is no different from it, if any.
    twin: [Option<usize>; MOST_WORKERS],
    /// All minutes are multiples of it; 0 where that says nothing.
    step: i64,
    steps: u32,
}

impl<'a> Sheet<'a> {
    fn new(day: &'a Day, tasks: &'a [Task]) -> Self {
        let workers = &day.workers;
        let mut twin = [None; MOST_WORKERS];
        for who in 0..workers.len() {
            twin[who] = (0..who).rev().find(|before| workers[*before] == workers[who]);
        }
        let mut by_itself = [false; MOST_SERVICES];
        for (index, task) in tasks.iter().enumerate() {
            let shares = |other: &Task| other.stop == task.stop || other.machine == task.machine;
            by_itself[index] = tasks.iter().filter(|other| shares(other)).count() == 1
                && !day.machines_busy.iter().any(|(machine, _)| *machine == task.machine);
        }
        let step = tasks.iter().map(|task| task.minutes).fold(day.lockout_min, common_step);
        Self { day, tasks, put: [None; MOST_SERVICES], by_itself, twin, step, steps: 0 }
    }

    /// Whether the rest can be put down; true as well once the limit is reached.
    fn goes_on(&mut self, state: &State) -> bool {
        if state.open == 0 {
            return true;
        }
        self.steps += 1;
        if self.steps > MOST_STEPS {
            return true;
        }
        if self.lacks_minutes(state) {
            return false;
        }
        let mut ways: Vec<Way> = Vec::with_capacity(32);
        for task in (0..self.tasks.len()).filter(|task| state.open & (1 << task) != 0) {
            let (after, span) = self.earliest(task);
            let alike = (0..task).any(|before| state.open & (1 << before) != 0 && self.alike(before, task));
            let mut has_way = false;
            self.crews(task, state, after, span, |start, lead, second| {
                if start >= state.last {
                    has_way = true;
                    let waits = second.is_none() && self.could_be_first(task, lead, start, span, state);
                    if !alike && !waits {
                        ways.push(Way { start, span, task, lead, second });
                    }
                }
                false
            });
            // what cannot start any more, even if another one does the lockout, cannot start later either
            let least = if self.by_itself[task] { span } else { self.tasks[task].minutes };
            if !has_way && !self.crews(task, state, after.max(state.last), least, |_, _, _| true) {
                return false;
            }
        }
        ways.sort_by_key(|way| (way.start, way.task));
        ways.into_iter().any(|way| self.put_down(state, way))
    }

    fn put_down(&mut self, state: &State, way: Way) -> bool {
        let Way { start, span, task, lead, second } = way;
        let mut next = *state;
        next.open &= !(1 << task);
        next.last = start;
        for who in std::iter::once(lead).chain(second) {
            next.free[who] = start + span;
            next.used[who] += span;
            next.recent[who] = (second.is_none() && self.by_itself[task]).then_some((task, start));
        }
        self.put[task] = Some(Span { from: start, to: start + span });
        let fits = self.goes_on(&next);
        self.put[task] = None;
        fits
    }

    /// From when a task could start as far as its machine and its stop go, and how long it takes then.
    fn earliest(&self, task: usize) -> (i64, i64) {
        let of = &self.tasks[task];
        let lockout = if of.lockout { self.day.lockout_min } else { 0 };
        if self.by_itself[task] {
            return (LONG_AGO, of.minutes + lockout);
        }
        let mut after = LONG_AGO;
        let mut locked_out: Option<i64> = None;
        for (other, span) in self.tasks.iter().zip(&self.put) {
            let Some(span) = span else { continue };
            if other.machine == of.machine {
                after = after.max(span.to);
            }
            if other.stop == of.stop {
                let end = span.from + self.day.lockout_min;
                locked_out = Some(locked_out.map_or(end, |earlier: i64| earlier.min(end)));
            }
        }
        match locked_out {
            Some(end) if of.lockout => (after.max(end), of.minutes),
            None if of.lockout => (after, of.minutes + lockout),
            _ => (after, of.minutes),
        }
    }

    /// Whether a task that one person would do right after another could as well be done before it,
    /// and should: it is the longer one, or as long and the first in the list.
    fn could_be_first(&self, task: usize, who: usize, start: i64, span: i64, state: &State) -> bool {
        let Some((before, from)) = state.recent[who] else { return false };
        let (this, that) = (&self.tasks[task], &self.tasks[before]);
        let worker = &self.day.workers[who];
        let end = start + span;
        self.by_itself[task]
            && state.free[who] == start
            && this.minutes + (if this.lockout { self.day.lockout_min } else { 0 }) == span
            && (span, before) > (state.free[who] - from, task)
            && this.window.from <= from
            && that.window.to >= end
            && worker.shifts.iter().any(|shift| shift.from <= from && end <= shift.to)
            && worker.busy.is_empty()
    }

    /// Whether two open tasks could change places: then the first goes first.
    fn alike(&self, one: usize, other: usize) -> bool {
        let (a, b) = (&self.tasks[one], &self.tasks[other]);
        (a.minutes, a.crew, a.lockout, a.kind, a.window) == (b.minutes, b.crew, b.lockout, b.kind, b.window)
            && self.by_itself[one]
            && self.by_itself[other]
    }

    /// Whether the open tasks need more minutes than their people have left.
    fn lacks_minutes(&self, state: &State) -> bool {
        let mut needed = 0;
        let mut leads = [0; 2];
        let mut shortest = i64::MAX;
        let mut stops = [usize::MAX; MOST_SERVICES];
        for (index, task) in self.tasks.iter().enumerate() {
            if state.open & (1 << index) == 0 {
                continue;
            }
            needed += task.minutes * task.crew as i64;
            shortest = shortest.min(task.minutes);
            if let Some(minutes) = leads.get_mut(task.kind) {
                *minutes += task.minutes;
            }
            if task.lockout {
                let begun = |(other, put): (&Task, &Option<Span>)| other.stop == task.stop && put.is_some();
                let by_itself = self.by_itself[index];
                if by_itself || !stops.contains(&task.stop) && !self.tasks.iter().zip(&self.put).any(begun) {
                    stops[index] = task.stop;
                    // by the whole crew if alone, else by one person at least
                    needed += self.day.lockout_min * if by_itself { task.crew as i64 } else { 1 };
                }
            }
        }
        let sums = self.sums(state.open);
        let (mut there, mut skilled) = (0, [0; 2]);
        for (who, worker) in self.day.workers.iter().enumerate() {
            let free = state.free[who].max(state.last);
            let mut left: i64 = 0;
            for shift in &worker.shifts {
                let minutes = shift.to - shift.from.max(free);
                if minutes >= shortest {
                    left += self.filled(minutes, sums);
                }
            }
            left = left.min(worker.allowed.saturating_sub(state.used[who])).max(0);
            there += left;
            for (kind, minutes) in skilled.iter_mut().enumerate() {
                if worker.can_lead(kind) {
                    *minutes += left;
                }
            }
        }
        needed > there || leads.iter().zip(&skilled).any(|(needed, there)| needed > there)
    }

    /// Which sums of the open tasks' minutes there are, a bit per step.
    fn sums(&self, open: u32) -> u128 {
        let mut sums = 1u128;
        if self.step == 0 {
            return sums;
        }
        for (index, task) in self.tasks.iter().enumerate().filter(|(index, _)| open & (1 << index) != 0) {
            let with = |minutes: i64| {
                u32::try_from(minutes / self.step).map_or(0, |steps| sums.checked_shl(steps).unwrap_or(0))
            };
            let lockout = if task.lockout { self.day.lockout_min } else { 0 };
            let bare = if self.by_itself[index] { 0 } else { with(task.minutes) };
            sums |= with(task.minutes + lockout) | bare;
        }
        sums
    }

    /// As much of a stretch as tasks could fill.
    fn filled(&self, minutes: i64, sums: u128) -> i64 {
        if self.step == 0 || minutes / self.step > 127 {
            return minutes;
        }
        let within = sums & (u128::MAX >> (127 - minutes / self.step));
        i64::from(127 - within.leading_zeros()) * self.step
    }

    /// Every crew that could do a task after a time, with its earliest start, until one is taken;
    /// whether one was.
    fn crews(
        &self,
        task: usize,
        state: &State,
        after: i64,
        span: i64,
        mut take: impl FnMut(i64, usize, Option<usize>) -> bool,
    ) -> bool {
        let of = &self.tasks[task];
        let workers = &self.day.workers;
        let rested = |who: usize| workers[who].allowed - span >= state.used[who];
        // of two that are no different and have done nothing yet, the first
        let idle = |who: usize| state.free[who] == LONG_AGO;
        let is_first =
            |who: usize, besides: usize| self.twin[who].is_none_or(|twin| besides == twin || !idle(twin) || !idle(who));
        for lead in 0..workers.len() {
            if !workers[lead].can_lead(of.kind) || !rested(lead) || !is_first(lead, usize::MAX) {
                continue;
            }
            let from = after.max(of.window.from).max(state.free[lead]);
            if of.crew == 1 {
                if let Some(start) = self.day.start(of, &[&workers[lead]], from, span)
                    && take(start, lead, None)
                {
                    return true;
                }
                continue;
            }
            for second in 0..workers.len() {
                // two who can both lead are one pair
                let is_other_way_round = second < lead && workers[second].can_lead(of.kind);
                if second == lead || is_other_way_round || !rested(second) || !is_first(second, lead) {
                    continue;
                }
                let from = from.max(state.free[second]);
                if let Some(start) = self.day.start(of, &[&workers[lead], &workers[second]], from, span)
                    && take(start, lead, Some(second))
                {
                    return true;
                }
            }
        }
        false
    }
}

impl Day {
    /// The earliest start from a time on that lies in a shift of each and meets no held service.
    pub(super) fn start(&self, task: &Task, crew: &[&Worker], from: i64, span: i64) -> Option<i64> {
        let mut start = from;
        loop {
            let before = start;
            for worker in crew {
                let shift = worker.shifts.iter().find(|shift| shift.to - span >= start.max(shift.from))?;
                start = past(&worker.busy, start.max(shift.from), span);
            }
            for (_, held) in self.machines_busy.iter().filter(|(machine, _)| *machine == task.machine) {
                start = past(&[*held], start, span);
            }
            if start > task.window.to - span {
                return None;
            }
            if start == before {
                return Some(start);
            }
        }
    }
}

/// The first time from `start` on at which a stretch meets none of the spans.
pub(super) fn past(spans: &[Span], start: i64, length: i64) -> i64 {
    let mut at = start;
    while let Some(hit) = spans.iter().find(|span| span.from < at + length && at < span.to) {
        at = hit.to;
    }
    at
}

/// The largest step of which both are multiples.
fn common_step(one: i64, other: i64) -> i64 {
    if other == 0 { one } else { common_step(other, one % other) }
}
