//! A quick yes: services put down one after another, each into the first or the tightest gap.
//!
//! A sheet found here is one; none found says nothing.

use super::day::{Day, Worker};
use super::fits::{MOST_SERVICES, MOST_WORKERS, Task, past};
use crate::planning::problem::Span;

/// In which order services are put down, and with whom.
#[derive(Clone, Copy)]
struct Way {
    by_size: bool,
    tight: bool,
}

const WAYS: [Way; 4] = [
    Way { by_size: true, tight: true },
    Way { by_size: true, tight: false },
    Way { by_size: false, tight: true },
    Way { by_size: false, tight: false },
];

/// Whether one of a few simple ways puts all of them on a sheet.
pub(super) fn puts_down(day: &Day, tasks: &[Task]) -> bool {
    if tasks.len() > MOST_SERVICES {
        return false;
    }
    WAYS.iter().any(|way| {
        let mut order: Vec<&Task> = tasks.iter().collect();
        if way.by_size {
            order.sort_by_key(|task| (-(task.minutes * task.crew as i64), task.window));
        } else {
            // those with the least room first
            order.sort_by_key(|task| (task.window.to - task.window.from - task.minutes, -task.minutes));
        }
        List::new(day, way.tight).take_all(&order)
    })
}

#[derive(Clone, Copy)]
struct Put {
    stop: usize,
    machine: usize,
    span: Span,
}

struct List<'a> {
    day: &'a Day,
    tight: bool,
    busy: Vec<Vec<Span>>,
    used: [i64; MOST_WORKERS],
    put: Vec<Put>,
}

impl<'a> List<'a> {
    fn new(day: &'a Day, tight: bool) -> Self {
        let busy = day.workers.iter().map(|worker| worker.busy.clone()).collect();
        Self { day, tight, busy, used: [0; MOST_WORKERS], put: Vec::new() }
    }

    fn take_all(&mut self, order: &[&Task]) -> bool {
        order.iter().all(|task| self.take(task))
    }

    fn take(&mut self, task: &Task) -> bool {
        // once a stop is begun, the others wait for its lockout
        let begun = self.put.iter().filter(|put| put.stop == task.stop).map(|put| put.span.from).min();
        let (after, span) = match begun {
            Some(from) if task.lockout => (from + self.day.lockout_min, task.minutes),
            None if task.lockout => (i64::MIN / 4, task.minutes + self.day.lockout_min),
            _ => (i64::MIN / 4, task.minutes),
        };
        let workers = &self.day.workers;
        // rank, start, lead, second
        type Choice = ((i64, i64), i64, usize, Option<usize>);
        let mut best: Option<Choice> = None;
        for lead in 0..workers.len() {
            if !workers[lead].can_lead(task.kind) || !self.is_rested(lead, span) {
                continue;
            }
            for second in 0..if task.crew == 1 { 1 } else { workers.len() } {
                let second = (task.crew > 1).then_some(second);
                if second == Some(lead) || second.is_some_and(|who| !self.is_rested(who, span)) {
                    continue;
                }
                let Some(start) = self.start(task, lead, second, after, span) else { continue };
                let room = std::iter::once(lead).chain(second).map(|who| self.left(who)).sum::<i64>();
                let skills = workers[lead].skills.iter().filter(|skill| **skill).count() as i64;
                let key = if self.tight { (room, start) } else { (start, room + skills) };
                if best.is_none_or(|(least, ..)| key < least) {
                    best = Some((key, start, lead, second));
                }
            }
        }
        let Some((_, start, lead, second)) = best else { return false };
        let put = Span { from: start, to: start + span };
        for who in std::iter::once(lead).chain(second) {
            self.busy[who].push(put);
            self.used[who] += span;
        }
        self.put.push(Put { stop: task.stop, machine: task.machine, span: put });
        true
    }

    fn is_rested(&self, who: usize, span: i64) -> bool {
        self.day.workers[who].allowed - span >= self.used[who]
    }

    /// Minutes that a worker has left.
    fn left(&self, who: usize) -> i64 {
        self.day.workers[who].shifts.iter().map(|shift| shift.to - shift.from).sum::<i64>() - self.used[who]
    }

    fn start(&self, task: &Task, lead: usize, second: Option<usize>, after: i64, span: i64) -> Option<i64> {
        let mut start = after.max(task.window.from);
        loop {
            let before = start;
            for who in std::iter::once(lead).chain(second) {
                let worker: &Worker = &self.day.workers[who];
                let shift = worker.shifts.iter().find(|shift| shift.to - span >= start.max(shift.from))?;
                start = past(&self.busy[who], start.max(shift.from), span);
            }
            for put in self.put.iter().filter(|put| put.machine == task.machine) {
                start = past(&[put.span], start, span);
            }
            for (_, held) in self.day.machines_busy.iter().filter(|(machine, _)| *machine == task.machine) {
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
