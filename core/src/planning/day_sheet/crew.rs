//! Who is there on a day, and what is held on it.

use super::Task;
use crate::planning::problem::{Problem, Span};

/// A technician on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Worker {
    /// The technician.
    pub(crate) person: usize,
    /// Bit k: may lead a service of kind k.
    pub(crate) leads: u64,
    /// When this person is there.
    pub(crate) shifts: Vec<Span>,
    /// Held services, by start.
    pub(crate) busy: Vec<Span>,
    /// Minutes that may be spent at services on a day.
    pub(crate) most: i64,
    /// Minutes that may still be spent at services.
    pub(crate) minutes_left: i64,
    /// Workers of one class can stand in for each other on this day.
    pub(crate) class: usize,
}

/// A held service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Kept {
    pub(crate) stop: u32,
    pub(crate) machine: u32,
    /// With the lockout, where it is the first of its stop.
    pub(crate) span: Span,
    /// Whether it does the lockout unless a service before it does.
    pub(crate) locks_out: bool,
    /// Indices into the workers.
    pub(crate) workers: Vec<usize>,
}

/// A held service as it comes in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Held<'a> {
    pub(crate) stop: u32,
    pub(crate) machine: u32,
    pub(crate) start: i64,
    pub(crate) minutes: i64,
    pub(crate) technicians: &'a [usize],
}

/// Who is there on a day, and what is held on it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct DayCrew {
    /// Those with the fewest skills and the shortest shift first.
    pub(crate) workers: Vec<Worker>,
    /// What is held, by start.
    pub(crate) kept: Vec<Kept>,
    /// Minutes of all workers, and of those who may lead each kind.
    hours: i64,
    lead_hours: Vec<i64>,
}

impl DayCrew {
    /// Puts together one day.
    pub(crate) fn of(problem: &Problem, day: usize, held: &[Held<'_>]) -> Self {
        let mut workers: Vec<Worker> = Vec::new();
        for (person, is) in problem.technicians.iter().enumerate() {
            let mut shifts: Vec<Span> = is.shifts.iter().filter(|s| s.day == day).map(|s| s.span).collect();
            shifts.sort_unstable();
            let is_held = held.iter().any(|h| h.technicians.contains(&person));
            if shifts.is_empty() && !is_held {
                continue;
            }
            let leads = is.skills.iter().take(64).enumerate().fold(0, |bits, (k, may)| bits | (u64::from(*may) << k));
            let most = is.minutes_per_day.unwrap_or(i64::MAX);
            workers.push(Worker { person, leads, shifts, busy: Vec::new(), most, minutes_left: most, class: 0 });
        }
        let long = |worker: &Worker| worker.shifts.iter().map(|s| s.to - s.from).sum::<i64>();
        workers.sort_by_key(|worker| (worker.leads.count_ones(), long(worker), worker.person));
        let there = |worker: &Worker| long(worker).min(worker.minutes_left.max(0));
        let hours = workers.iter().map(there).sum();
        let kinds = problem.technicians.iter().map(|p| p.skills.len()).max().unwrap_or(0);
        let of_kind = |kind: usize| workers.iter().filter(|w| w.leads >> kind & 1 == 1).map(there).sum();
        let lead_hours = (0..kinds).map(of_kind).collect();
        let mut crew = Self { workers, kept: Vec::new(), hours, lead_hours };
        crew.keep(held, problem.lockout_min);
        crew.classes();
        crew
    }

    fn keep(&mut self, held: &[Held<'_>], lockout: i64) {
        let mut sorted: Vec<&Held<'_>> = held.iter().collect();
        sorted.sort_by_key(|h| h.start);
        for held in sorted {
            let locks_out = !self.kept.iter().any(|other| other.stop == held.stop);
            let end = held.start + held.minutes + if locks_out { lockout } else { 0 };
            let span = Span { from: held.start, to: end };
            let at = |who: &usize| self.workers.iter().position(|worker| worker.person == *who);
            let workers: Vec<usize> = held.technicians.iter().filter_map(at).collect();
            for at in &workers {
                self.workers[*at].busy.push(span);
                let left = &mut self.workers[*at].minutes_left;
                *left = left.saturating_sub(span.to - span.from);
            }
            self.kept.push(Kept { stop: held.stop, machine: held.machine, span, locks_out, workers });
        }
    }

    fn classes(&mut self) {
        for at in 0..self.workers.len() {
            let alike = |other: &Worker| {
                let this = &self.workers[at];
                other.busy.is_empty()
                    && this.busy.is_empty()
                    && (other.leads, &other.shifts, other.minutes_left) == (this.leads, &this.shifts, this.minutes_left)
            };
            let class = self.workers.iter().take(at).position(alike).unwrap_or(at);
            self.workers[at].class = class;
        }
    }

    /// Whether the minutes of all and of those with each skill could do; `false` is certain.
    pub(crate) fn has_hours_for(&self, tasks: &[Task], lockout: i64) -> bool {
        let mut all: i64 = tasks.iter().map(|task| task.minutes * i64::from(task.crew)).sum();
        for (nth, task) in tasks.iter().enumerate() {
            let is_begun = tasks.iter().take(nth).any(|other| other.stop == task.stop)
                || self.kept.iter().any(|kept| kept.stop == task.stop);
            all += if is_begun { 0 } else { lockout };
        }
        all <= self.hours
            && self.lead_hours.iter().enumerate().all(|(kind, hours)| {
                tasks.iter().filter(|task| usize::from(task.kind) == kind).map(|task| task.minutes).sum::<i64>()
                    <= *hours
            })
    }

    /// How many services of a length those who have one of these skills can do between two minutes,
    /// one after the other, what is held aside; never too few. With every bit set: all people.
    pub(crate) fn times(&self, length: i64, from: i64, to: i64, skills: u64) -> i64 {
        let of = |worker: &Worker| {
            let inside = |shift: &Span| (shift.to.min(to) - shift.from.max(from)).max(0) / length;
            let times: i64 = worker.shifts.iter().map(inside).sum();
            times.min(worker.minutes_left.max(0) / length)
        };
        self.workers.iter().filter(|worker| skills == u64::MAX || worker.leads & skills != 0).map(of).sum()
    }

    /// Minutes of people inside any of the windows, what is held included; never too few.
    pub(crate) fn minutes_within(&self, mut windows: Vec<Span>) -> i64 {
        windows.sort_unstable();
        let mut open: Vec<Span> = Vec::new();
        for window in windows {
            match open.last_mut() {
                Some(last) if window.from <= last.to => last.to = last.to.max(window.to),
                _ => open.push(window),
            }
        }
        let shared = |a: &Span, b: &Span| (a.to.min(b.to) - a.from.max(b.from)).max(0);
        let of = |worker: &Worker| {
            let there: i64 = worker.shifts.iter().flat_map(|s| open.iter().map(move |w| shared(s, w))).sum();
            there.min(worker.most)
        };
        self.workers.iter().map(of).sum()
    }

    /// The first start among the held ones of a stop.
    pub(crate) fn first_of(&self, stop: u32) -> Option<i64> {
        self.kept.iter().find(|kept| kept.stop == stop).map(|kept| kept.span.from)
    }
}
