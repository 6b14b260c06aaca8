//! Whether the services of a day can be dealt out, each whole to people who have the minutes for it,
//! whatever the hour.
//!
//! A refusal is certain: no order of starts can help. Most small sets without a sheet are refused by
//! it, at a fraction of what trying their orders takes.

use super::crew::DayCrew;
use super::{Task, least_minutes};

/// After so many tries a day counts as one that may fit.
const MOST_TRIES: u32 = 100;

/// Deals out services; keeps its lists between days.
#[derive(Debug, Default)]
pub(super) struct Packing {
    /// The least minutes that a task takes of its people, and which one it is; the longest first.
    tasks: Vec<(i64, usize)>,
    /// By worker.
    loads: Vec<Load>,
    tries: u32,
}

/// What a worker has been dealt.
#[derive(Debug, Clone, Copy)]
struct Load {
    minutes: i64,
    /// The first and the last minute of the windows of it all.
    from: i64,
    to: i64,
}

const NOTHING: Load = Load { minutes: 0, from: i64::MAX, to: i64::MIN };

impl Packing {
    /// Whether the tasks can be dealt out; `false` is certain.
    pub(super) fn may_fit(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> bool {
        self.tasks.clear();
        self.tasks.extend((0..tasks.len()).map(|at| (least_minutes(day, tasks, at, lockout), at)));
        self.tasks.sort_unstable_by_key(|(minutes, at)| (-minutes, *at));
        self.loads.clear();
        self.loads.resize(day.workers.len(), NOTHING);
        self.tries = 0;
        self.deal(day, tasks, 0)
    }

    /// Whether the tasks from the n-th on can be dealt out beside those before.
    fn deal(&mut self, day: &DayCrew, tasks: &[Task], nth: usize) -> bool {
        let Some((minutes, at)) = self.tasks.get(nth).copied() else { return true };
        self.tries += 1;
        if MOST_TRIES < self.tries {
            return true;
        }
        let task = &tasks[at];
        for (lead, worker) in day.workers.iter().enumerate() {
            if worker.leads >> task.kind & 1 == 0 {
                continue;
            }
            let Some(before) = self.give(day, task, minutes, lead, None) else { continue };
            let fits = if task.crew == 1 {
                self.deal(day, tasks, nth + 1)
            } else {
                (0..day.workers.len()).any(|second| {
                    let Some(before) = self.give(day, task, minutes, second, Some(lead)) else { return false };
                    let fits = self.deal(day, tasks, nth + 1);
                    self.loads[second] = before;
                    fits
                })
            };
            self.loads[lead] = before;
            if fits {
                return true;
            }
        }
        false
    }

    /// Gives a task to one more person beside `other`; what that one had before, or `None` where it
    /// is too much or somebody just like this person was tried.
    fn give(&mut self, day: &DayCrew, task: &Task, minutes: i64, who: usize, other: Option<usize>) -> Option<Load> {
        let (worker, before) = (&day.workers[who], self.loads[who]);
        let is_idle = |who: usize| self.loads[who].from == i64::MAX;
        let has_double =
            is_idle(who) && (worker.class..who).any(|one| day.workers[one].class == worker.class && is_idle(one));
        if has_double || other == Some(who) {
            return None;
        }
        let load =
            Load { minutes: before.minutes + minutes, from: before.from.min(task.from), to: before.to.max(task.to) };
        let (mut there, mut longest) = (0, i64::MIN);
        for shift in &worker.shifts {
            there += (shift.to.min(load.to) - shift.from.max(load.from)).max(0);
            longest = longest.max(shift.to.min(task.to) - shift.from.max(task.from));
        }
        // what is held may get shorter, so it does not count
        if longest < minutes || there.min(worker.most) < load.minutes {
            return None;
        }
        self.loads[who] = load;
        Some(before)
    }
}
