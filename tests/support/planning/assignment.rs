//! Generalised assignment problems as planning problems: an agent is a day with one shift of one
//! technician, a job is a service that takes its own minutes on each day.

use super::plain::{job, problem, window};
use almanac_core::planning::candidates::{Candidate, Candidates};
use almanac_core::planning::problem::{DayShift, LeftReason, Person, Plan, Problem};

/// A generalised assignment problem, to be maximised.
#[derive(Debug, Clone)]
pub struct Assignment {
    /// By agent and job: what it earns.
    pub profit: Vec<Vec<i64>>,
    /// By agent and job: how much of the agent it takes.
    pub takes: Vec<Vec<i64>>,
    /// By agent.
    pub capacity: Vec<i64>,
}

/// Reads a file of the OR-Library: how many problems, then of each agents and jobs, profits by agent,
/// takings by agent, capacities. Lines that begin with `#` are about the file.
#[must_use]
pub fn read(text: &str) -> Vec<Assignment> {
    let mut numbers = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .flat_map(str::split_whitespace)
        .map(|number| number.parse::<i64>().unwrap_or_else(|cause| panic!("{number}: {cause}")));
    let mut next = || numbers.next().unwrap_or_else(|| panic!("the file ends early"));
    let count = next();
    (0..count)
        .map(|_| {
            let (agents, jobs) = (next(), next());
            let mut table = || (0..agents).map(|_| (0..jobs).map(|_| next()).collect()).collect();
            let (profit, takes) = (table(), table());
            Assignment { profit, takes, capacity: (0..agents).map(|_| next()).collect() }
        })
        .collect()
}

impl Assignment {
    fn jobs(&self) -> usize {
        self.profit.first().map_or(0, Vec::len)
    }

    /// As a planning problem with its candidates. A job left costs more than any profit.
    #[must_use]
    pub fn as_plan(&self) -> (Problem, Candidates) {
        let (agents, jobs) = (self.capacity.len(), self.jobs());
        let mut plan = problem(agents, jobs, 0);
        plan.windows = self.capacity.iter().enumerate().map(|(day, most)| window(day, 0, *most)).collect();
        let shifts = plan.windows.iter().map(|window| DayShift { day: window.day, span: window.span }).collect();
        plan.technicians = vec![Person { skills: vec![true], shifts, minutes_per_day: None }];
        let quickest = |j: usize| self.takes.iter().map(|takes| takes[j]).min().unwrap_or(1);
        plan.services = (0..jobs).map(|j| job(j, quickest(j), 100_000)).collect();
        let of = |j: usize| {
            let mut list: Vec<Candidate> = (0..agents)
                .filter(|a| self.takes[*a][j] <= self.capacity[*a])
                .map(|a| Candidate { window: a, minutes: self.takes[a][j], own: -self.profit[a][j], alone: true })
                .collect();
            list.sort_by_key(|c| (c.own, c.window));
            list
        };
        let candidates = Candidates { of: (0..jobs).map(of).collect(), reasons: vec![LeftReason::Dearer; jobs] };
        (plan, candidates)
    }

    /// What a plan earns, added up from the tables; `None` where a job is left or an agent overloaded.
    #[must_use]
    pub fn earned(&self, plan: &Plan) -> Option<i64> {
        let mut left = self.capacity.clone();
        let mut earned = 0;
        for (j, place) in plan.places.iter().enumerate() {
            let agent = place.as_ref()?.window;
            left[agent] -= self.takes[agent][j];
            earned += self.profit[agent][j];
        }
        left.iter().all(|left| *left >= 0).then_some(earned)
    }
}
