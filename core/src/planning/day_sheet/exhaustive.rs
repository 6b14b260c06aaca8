//! Every order and every choice of people for a small set of services.
//!
//! Start times need no search. Take any sheet and start each service as early as it goes without
//! moving another or changing who does what: in the order of their starts, each then begins at the
//! first minute, after what its people and its machine did before, at which the window is open, the
//! shift has begun, the lockout is over and nothing held is in the way. So it is enough to try the
//! orders and the people, with that minute for each.

use super::crew::DayCrew;
use super::{Line, Task};
use crate::planning::problem::Span;

/// Stops with a held service where a free one could do the lockout instead; more are not tried.
const MOST_FORKS: usize = 3;

/// Tries every order.
#[derive(Debug, Default)]
pub(super) struct Exhaustive {
    /// Minute from which each worker is free again; `None`: not at work yet.
    free_from: Vec<Option<i64>>,
    minutes_left: Vec<i64>,
    machines: Vec<(u32, i64)>,
    /// First start of each stop.
    stops: Vec<(u32, i64)>,
    lines: Vec<Line>,
    /// Spans of what is held, as long as they are under the fork that is tried.
    kept: Vec<Span>,
    /// Stops in which a free service comes before the held ones.
    before_held: Vec<u32>,
    steps: usize,
    most_steps: usize,
}

/// Where one task could go.
#[derive(Clone, Copy)]
struct Way {
    lead: usize,
    second: Option<usize>,
    within: Span,
    span: i64,
    opens: bool,
}

/// What stays the same during a try.
#[derive(Clone, Copy)]
struct Asked<'a> {
    day: &'a DayCrew,
    tasks: &'a [Task],
    lockout: i64,
}

impl Exhaustive {
    /// Gives up after so many placements.
    pub(super) fn with_steps(most_steps: usize) -> Self {
        Self { most_steps, ..Self::default() }
    }

    /// The sheet that was found last.
    pub(super) fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// Whether some order and choice of people fits.
    pub(super) fn build(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> bool {
        let asked = Asked { day, tasks, lockout };
        let forks: Vec<u32> = day
            .kept
            .iter()
            .filter(|kept| kept.locks_out && lockout > 0 && tasks.iter().any(|task| task.stop == kept.stop))
            .map(|kept| kept.stop)
            .take(MOST_FORKS)
            .collect();
        self.steps = 0;
        (0..1_usize << forks.len()).any(|fork| {
            self.before_held.clear();
            self.before_held
                .extend(forks.iter().enumerate().filter(|(nth, _)| fork >> nth & 1 == 1).map(|(_, stop)| *stop));
            self.clear(asked);
            self.step(asked, 0, (i64::MIN, 0))
        })
    }

    fn clear(&mut self, asked: Asked<'_>) {
        let day = asked.day;
        self.free_from.clear();
        self.free_from.resize(day.workers.len(), None);
        self.minutes_left.clear();
        self.minutes_left.extend(day.workers.iter().map(|worker| worker.minutes_left));
        self.machines.clear();
        self.stops.clear();
        self.lines.clear();
        self.kept.clear();
        for kept in &day.kept {
            let mut span = kept.span;
            if kept.locks_out && self.before_held.contains(&kept.stop) {
                span.to -= asked.lockout;
                for who in &kept.workers {
                    self.minutes_left[*who] = self.minutes_left[*who].saturating_add(asked.lockout);
                }
            }
            self.kept.push(span);
        }
    }

    /// Places one more task, and the others after it.
    fn step(&mut self, asked: Asked<'_>, placed: u32, last: (i64, usize)) -> bool {
        if placed.count_ones() as usize == asked.tasks.len() {
            return true;
        }
        let open = |at: &usize| placed >> at & 1 == 0;
        if !self.may_still_fit(asked, placed, last.0) {
            return false;
        }
        (0..asked.tasks.len()).filter(open).any(|at| self.task(asked, placed, last, at))
    }

    /// Whether what is open could still be done from a minute on; `false` is certain.
    fn may_still_fit(&self, asked: Asked<'_>, placed: u32, now: i64) -> bool {
        let from = |who: usize| self.free_from[who].map_or(now, |free| free.max(now));
        let mut work = 0;
        for (at, task) in asked.tasks.iter().enumerate() {
            if placed >> at & 1 == 1 {
                continue;
            }
            work += task.minutes * i64::from(task.crew);
            let somebody = asked.day.workers.iter().enumerate().any(|(who, worker)| {
                let earliest = from(who).max(task.from);
                worker.leads >> task.kind & 1 == 1
                    && worker
                        .shifts
                        .iter()
                        .any(|shift| earliest.max(shift.from) + task.minutes <= shift.to.min(task.to))
            });
            if !somebody {
                return false;
            }
        }
        let there = asked.day.workers.iter().enumerate().map(|(who, worker)| {
            let from = from(who);
            let minutes: i64 = worker.shifts.iter().map(|shift| (shift.to - shift.from.max(from)).max(0)).sum();
            // who is held for longer than allowed takes no time from the others
            minutes.min(self.minutes_left[who].max(0))
        });
        work <= there.sum()
    }

    fn task(&mut self, asked: Asked<'_>, placed: u32, last: (i64, usize), at: usize) -> bool {
        let task = asked.tasks[at];
        let begun = self.stops.iter().find(|(stop, _)| *stop == task.stop).map(|(_, first)| *first);
        // without a lockout nobody waits for anybody
        let held = asked.day.first_of(task.stop).filter(|_| asked.lockout > 0);
        let (within, opens) = match (begun, held) {
            (Some(first), _) => (Span { from: task.from.max(first + asked.lockout), to: task.to }, false),
            (None, Some(first)) if self.before_held.contains(&task.stop) => {
                // the lockout is over when the held one begins
                (Span { from: task.from, to: task.to.min(first + task.minutes) }, true)
            }
            (None, Some(first)) => (Span { from: task.from.max(first + asked.lockout), to: task.to }, false),
            (None, None) => (Span { from: task.from, to: task.to }, true),
        };
        let span = task.minutes + if opens { asked.lockout } else { 0 };
        let day = asked.day;
        for (lead, worker) in day.workers.iter().enumerate() {
            if worker.leads >> task.kind & 1 == 0 || self.has_double(day, lead, lead) {
                continue;
            }
            if task.crew == 1 {
                let way = Way { lead, second: None, within, span, opens };
                if self.in_a_shift(asked, placed, last, at, way) {
                    return true;
                }
                continue;
            }
            for (second, other) in day.workers.iter().enumerate() {
                // two who can both lead are tried once
                let twice = second < lead && other.leads >> task.kind & 1 == 1;
                if second == lead || twice || self.has_double(day, second, lead) {
                    continue;
                }
                let way = Way { lead, second: Some(second), within, span, opens };
                if self.in_a_shift(asked, placed, last, at, way) {
                    return true;
                }
            }
        }
        false
    }

    /// Whether somebody just like `who`, not at work yet either, was tried before.
    fn has_double(&self, day: &DayCrew, who: usize, but: usize) -> bool {
        self.free_from[who].is_none()
            && (day.workers[who].class..who).any(|other| {
                other != but && day.workers[other].class == day.workers[who].class && self.free_from[other].is_none()
            })
    }

    fn in_a_shift(&mut self, asked: Asked<'_>, placed: u32, last: (i64, usize), at: usize, way: Way) -> bool {
        let day = asked.day;
        let alone = [Span { from: i64::MIN, to: i64::MAX }];
        let others = way.second.map_or(alone.as_slice(), |second| day.workers[second].shifts.as_slice());
        for one in &day.workers[way.lead].shifts {
            for two in others {
                let from = way.within.from.max(one.from).max(two.from);
                let to = way.within.to.min(one.to).min(two.to);
                if to - from < way.span {
                    continue;
                }
                let Some(start) = self.start(asked, at, &way, Span { from, to }) else { continue };
                // the same sheet comes up once, in the order of its starts
                if (start, at) < last {
                    continue;
                }
                if self.with(asked, placed, at, way, start) {
                    return true;
                }
            }
        }
        false
    }

    /// The first minute that is left, after what the people and the machine did before.
    fn start(&self, asked: Asked<'_>, at: usize, way: &Way, within: Span) -> Option<i64> {
        let machine = asked.tasks[at].machine;
        let has = |kept_by: &[usize]| {
            kept_by.contains(&way.lead) || way.second.is_some_and(|second| kept_by.contains(&second))
        };
        for who in std::iter::once(way.lead).chain(way.second) {
            if self.minutes_left[who] < way.span {
                return None;
            }
        }
        let mut start = within.from;
        for free in std::iter::once(way.lead).chain(way.second).filter_map(|who| self.free_from[who]) {
            start = start.max(free);
        }
        for (_, free) in self.machines.iter().filter(|(of, _)| *of == machine) {
            start = start.max(*free);
        }
        while start + way.span <= within.to {
            let blocking = asked.day.kept.iter().zip(&self.kept).filter(|(kept, busy)| {
                (kept.machine == machine || has(&kept.workers)) && busy.from < start + way.span && start < busy.to
            });
            match blocking.map(|(_, busy)| busy.to).max() {
                None => return Some(start),
                Some(free) => start = free,
            }
        }
        None
    }

    fn with(&mut self, asked: Asked<'_>, placed: u32, at: usize, way: Way, start: i64) -> bool {
        self.steps += 1;
        if self.steps > self.most_steps {
            return false;
        }
        let task = asked.tasks[at];
        let end = start + way.span;
        let before = (self.free_from[way.lead], way.second.map(|second| self.free_from[second]));
        for who in std::iter::once(way.lead).chain(way.second) {
            self.free_from[who] = Some(end);
            self.minutes_left[who] = self.minutes_left[who].saturating_sub(way.span);
        }
        self.machines.push((task.machine, end));
        if way.opens {
            self.stops.push((task.stop, start));
        }
        self.lines.push(Line { task: at, start, lead: way.lead, second: way.second });
        if self.step(asked, placed | 1 << at, (start, at)) {
            return true;
        }
        self.lines.pop();
        if way.opens {
            self.stops.pop();
        }
        self.machines.pop();
        for who in std::iter::once(way.lead).chain(way.second) {
            self.minutes_left[who] = self.minutes_left[who].saturating_add(way.span);
        }
        self.free_from[way.lead] = before.0;
        if let (Some(second), Some(free)) = (way.second, before.1) {
            self.free_from[second] = free;
        }
        false
    }
}
