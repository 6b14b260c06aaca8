//! Services put one after the other into the gaps of people and machines, in several orders and
//! with two ways to choose people; the first try that places all of them is the sheet.

use super::crew::DayCrew;
use super::{Line, Task};
use crate::planning::problem::Span;
use std::cmp::Reverse;

/// In which order services are put in.
#[derive(Debug, Clone, Copy)]
enum Order {
    /// The shortest window first, then the longest service.
    TightestWindow,
    /// The most working minutes first.
    Largest,
    /// The window that ends first, then the longest service.
    EarliestEnd,
    /// Two-person jobs, then rare skills, then line by line.
    HardestCrew,
}

/// How people are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum People {
    /// The least skilled who can, with the shortest shift.
    Tightest,
    /// Whoever can start first.
    Earliest,
}

const ORDERS: [Order; 4] = [Order::TightestWindow, Order::Largest, Order::EarliestEnd, Order::HardestCrew];
const PEOPLE: [People; 2] = [People::Tightest, People::Earliest];

/// With more tasks only the first order is tried: it found 999 of 1,000 sheets of days of 13 to 60
/// services.
const FEW: usize = 12;

/// Builds sheets by list.
#[derive(Debug, Default)]
pub(super) struct ListBuilder {
    order: Vec<usize>,
    /// The orders that were tried, one behind the other, and by which task each failed, by people.
    tried: Vec<usize>,
    failed: Vec<[usize; 2]>,
    /// Busy spans by worker.
    busy: Vec<Vec<Span>>,
    minutes_left: Vec<i64>,
    machines: Vec<(u32, Span)>,
    /// Busy spans of the machine of the task that is placed.
    on_machine: Vec<Span>,
    /// By class of workers: the first who has nothing to do yet. Those alike need not be tried.
    idle: Vec<Option<usize>>,
    /// First start of each stop.
    stops: Vec<(u32, i64)>,
    lines: Vec<Line>,
}

impl ListBuilder {
    /// The sheet that was found last.
    pub(super) fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// Tries the orders until one places all tasks.
    pub(super) fn build(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> bool {
        self.tried.clear();
        self.failed.clear();
        for order in ORDERS {
            self.sort(tasks, order);
            let mut failed = [0; 2];
            for (people, failed) in PEOPLE.into_iter().zip(&mut failed) {
                if let Some(again) = self.fails_again(tasks.len(), people) {
                    *failed = again;
                    continue;
                }
                self.clear(day);
                match (0..tasks.len()).find(|nth| !self.place(day, tasks, self.order[*nth], lockout, people)) {
                    None => return true,
                    Some(nth) => *failed = nth,
                }
            }
            self.tried.extend_from_slice(&self.order);
            self.failed.push(failed);
            if tasks.len() == 1 || FEW < tasks.len() {
                return false;
            }
        }
        false
    }

    /// Where the order fails as one before it did, since it begins with the same tasks up to there.
    fn fails_again(&self, tasks: usize, people: People) -> Option<usize> {
        let failed = self.failed.iter().map(|failed| failed[usize::from(people == People::Earliest)]);
        let mut tried = self.tried.chunks(tasks).zip(failed);
        tried.find(|(tried, failed)| tried[..=*failed] == self.order[..=*failed]).map(|(_, failed)| failed)
    }

    fn sort(&mut self, tasks: &[Task], order: Order) {
        self.order.clear();
        self.order.extend(0..tasks.len());
        let work = |task: &Task| Reverse(task.minutes * i64::from(task.crew));
        match order {
            Order::TightestWindow => self.order.sort_by_key(|i| (tasks[*i].to - tasks[*i].from, work(&tasks[*i]))),
            Order::Largest => self.order.sort_by_key(|i| work(&tasks[*i])),
            Order::EarliestEnd => self.order.sort_by_key(|i| (tasks[*i].to, work(&tasks[*i]))),
            Order::HardestCrew => self.order.sort_by_key(|i| {
                let task = &tasks[*i];
                let stop = if task.alone { u32::MAX } else { task.stop };
                (Reverse(task.crew), Reverse(task.kind), stop, work(task))
            }),
        }
    }

    fn clear(&mut self, day: &DayCrew) {
        self.busy.resize_with(day.workers.len().max(self.busy.len()), Vec::new);
        self.minutes_left.clear();
        for (worker, busy) in day.workers.iter().zip(&mut self.busy) {
            busy.clear();
            busy.extend_from_slice(&worker.busy);
            self.minutes_left.push(worker.minutes_left);
        }
        self.idle.clear();
        self.idle.resize(day.workers.len(), None);
        for (who, worker) in day.workers.iter().enumerate().rev().filter(|(_, worker)| worker.busy.is_empty()) {
            self.idle[worker.class] = Some(who);
        }
        self.machines.clear();
        self.machines.extend(day.kept.iter().map(|kept| (kept.machine, kept.span)));
        self.stops.clear();
        self.lines.clear();
    }

    fn place(&mut self, day: &DayCrew, tasks: &[Task], at: usize, lockout: i64, people: People) -> bool {
        let task = &tasks[at];
        let begun = self.stops.iter().find(|(stop, _)| *stop == task.stop).map(|(_, first)| *first);
        // without a lockout nobody waits for anybody
        let begun = begun.or_else(|| day.first_of(task.stop)).filter(|_| lockout > 0);
        let (from, span) = match begun {
            Some(first) => (task.from.max(first + lockout), task.minutes),
            None => (task.from, task.minutes + lockout),
        };
        self.on_machine.clear();
        self.on_machine.extend(self.machines.iter().filter(|(of, _)| *of == task.machine).map(|(_, span)| *span));
        let Some(line) = self.who_and_when(day, task, at, Span { from, to: task.to }, span, people) else {
            return false;
        };
        let done = Span { from: line.start, to: line.start + span };
        for who in std::iter::once(line.lead).chain(line.second) {
            self.busy[who].push(done);
            self.minutes_left[who] = self.minutes_left[who].saturating_sub(span);
            let class = day.workers[who].class;
            if self.idle[class] == Some(who) {
                self.idle[class] = self.next_idle(day, who);
            }
        }
        self.machines.push((task.machine, done));
        if begun.is_none() {
            self.stops.push((task.stop, line.start));
        }
        self.lines.push(line);
        true
    }

    /// The next worker like this one who has nothing to do yet.
    fn next_idle(&self, day: &DayCrew, who: usize) -> Option<usize> {
        let class = day.workers[who].class;
        (who + 1..day.workers.len()).find(|other| day.workers[*other].class == class && self.busy[*other].is_empty())
    }

    /// Whether somebody just like this worker, with nothing to do either, stands before.
    fn has_double(&self, day: &DayCrew, who: usize, but: Option<usize>) -> bool {
        if !self.busy[who].is_empty() {
            return false;
        }
        match self.idle[day.workers[who].class] {
            None => false,
            Some(first) if Some(first) == but => self.next_idle(day, first).is_some_and(|next| next < who),
            Some(first) => first < who,
        }
    }

    fn who_and_when(
        &self,
        day: &DayCrew,
        task: &Task,
        at: usize,
        within: Span,
        span: i64,
        people: People,
    ) -> Option<Line> {
        let mut best: Option<Line> = None;
        for (lead, worker) in day.workers.iter().enumerate() {
            if worker.leads >> task.kind & 1 == 0 || self.minutes_left[lead] < span || self.has_double(day, lead, None)
            {
                continue;
            }
            for shift in &worker.shifts {
                let within = Span { from: within.from.max(shift.from), to: within.to.min(shift.to) };
                if task.crew == 1 {
                    let ends_before = best.map_or(i64::MAX, |line| line.start);
                    if let Some(start) = self.gap(within, span, lead, lead, ends_before) {
                        best = Some(Line { task: at, start, lead, second: None });
                    }
                } else {
                    self.with_second(day, at, within, span, lead, people, &mut best);
                }
                if people == People::Tightest && best.is_some() {
                    return best;
                }
            }
        }
        best
    }

    #[expect(clippy::too_many_arguments, reason = "one step of a search, split off for its length")]
    fn with_second(
        &self,
        day: &DayCrew,
        at: usize,
        within: Span,
        span: i64,
        lead: usize,
        people: People,
        best: &mut Option<Line>,
    ) {
        for (second, other) in day.workers.iter().enumerate() {
            if second == lead || self.minutes_left[second] < span || self.has_double(day, second, Some(lead)) {
                continue;
            }
            for shift in &other.shifts {
                let within = Span { from: within.from.max(shift.from), to: within.to.min(shift.to) };
                let ends_before = best.map_or(i64::MAX, |line| line.start);
                if let Some(start) = self.gap(within, span, lead, second, ends_before) {
                    *best = Some(Line { task: at, start, lead, second: Some(second) });
                    if people == People::Tightest {
                        return;
                    }
                }
            }
        }
    }

    /// The first start at which machine and both people are free, if it is before `before`.
    fn gap(&self, within: Span, span: i64, one: usize, two: usize, before: i64) -> Option<i64> {
        let last = (within.to - span).min(before.saturating_sub(1));
        let mut start = within.from;
        while start <= last {
            let until = |busy: &Span| (busy.from < start + span && start < busy.to).then_some(busy.to);
            let of = |who: usize| self.busy[who].iter().filter_map(until).max();
            let on_machine = self.on_machine.iter().filter_map(until).max();
            match of(one).max(on_machine).max(if two == one { None } else { of(two) }) {
                None => return Some(start),
                Some(free) => start = free,
            }
        }
        None
    }
}
