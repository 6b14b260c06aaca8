//! How many services of some length the people of a day have time for, one after the other.
//!
//! Whoever is there for seven hours does two services of three hours, whatever the sum of the hours
//! of all says. A refusal is certain; most days that are full are refused by it.

use super::crew::DayCrew;
use super::{Task, least_minutes};

/// Fewer tasks are tried as fast as they are counted.
const FEWEST: usize = 7;

/// Counts services of a length; keeps its lists between days.
#[derive(Debug, Default)]
pub(super) struct Counts {
    /// By task: the least minutes that it takes of its people.
    spans: Vec<i64>,
    /// The different ones among them, ascending.
    lengths: Vec<i64>,
}

impl Counts {
    /// Whether for every length there is time for the services that are at least so long, and leaders
    /// of each kind for those of it; `false` is certain.
    pub(super) fn may_fit(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> bool {
        if tasks.len() < FEWEST {
            return true;
        }
        self.spans.clear();
        self.spans.extend((0..tasks.len()).map(|at| least_minutes(day, tasks, at, lockout)));
        self.lengths.clear();
        self.lengths.extend_from_slice(&self.spans);
        self.lengths.sort_unstable();
        self.lengths.dedup();
        let from = tasks.iter().map(|task| task.from).min().unwrap_or(0);
        let to = tasks.iter().map(|task| task.to).max().unwrap_or(0);
        let kinds = tasks.iter().map(|task| task.kind).max().unwrap_or(0);
        self.lengths.iter().filter(|length| **length > 0).all(|length| {
            let long = || tasks.iter().zip(&self.spans).filter(|(_, span)| length <= span).map(|(task, _)| task);
            let people: i64 = long().map(|task| i64::from(task.crew)).sum();
            people <= day.times(*length, from, to, u64::MAX)
                && (0..=kinds).all(|kind| {
                    let leads = long().filter(|task| task.kind == kind).count() as i64;
                    leads == 0 || leads <= day.times(*length, from, to, 1 << kind)
                })
        })
    }
}
