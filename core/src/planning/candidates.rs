//! Per service the windows in which it could be done if it were alone, the cheapest first; and for
//! a service without any, the first rule that rules out every window.

use super::costs::CostBook;
use super::problem::{LeftReason, PlanWindow, Problem, Scope};

/// A window in which a service could be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Candidate {
    /// The window.
    pub window: usize,
    /// How long the service takes in it, in minutes without lockout.
    pub minutes: i64,
    /// What the placement costs by itself, in cents: no lockout, no visit.
    pub own: i64,
    /// Whether it fits with a lockout of its own; otherwise only in a stop that another service begins.
    pub alone: bool,
}

/// What the search chooses from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Candidates {
    /// By service, ascending by own cost. Held services have none: they stay where they are.
    pub of: Vec<Vec<Candidate>>,
    /// By service: why it has no place, if it has none.
    pub reasons: Vec<LeftReason>,
}

/// Windows of each machine, by window.
pub(crate) struct WindowsOf<'a> {
    problem: &'a Problem,
    by_hall: Vec<Vec<usize>>,
    by_machine: Vec<Vec<usize>>,
}

impl<'a> WindowsOf<'a> {
    pub(crate) fn new(problem: &'a Problem) -> Self {
        let mut by_hall = vec![Vec::new(); problem.halls];
        let mut by_machine = vec![Vec::new(); problem.machines.len()];
        for (window, is) in problem.windows.iter().enumerate() {
            let list = match is.scope {
                Scope::Hall(hall) => by_hall.get_mut(hall),
                Scope::Machine(machine) => by_machine.get_mut(machine),
            };
            if let Some(list) = list {
                list.push(window);
            }
        }
        Self { problem, by_hall, by_machine }
    }

    /// Windows of a machine: those of its hall and its own.
    pub(crate) fn machine(&self, machine: usize) -> impl Iterator<Item = usize> {
        let hall = self.problem.lines[self.problem.machines[machine]].hall;
        self.by_hall[hall].iter().chain(&self.by_machine[machine]).copied()
    }
}

/// Who is there on each day: technician and minutes.
struct Attendance {
    by_day: Vec<Vec<(usize, i64, i64)>>,
}

impl Attendance {
    fn new(problem: &Problem) -> Self {
        let mut by_day = vec![Vec::new(); problem.days];
        for (who, person) in problem.technicians.iter().enumerate() {
            for shift in &person.shifts {
                if let Some(day) = by_day.get_mut(shift.day) {
                    day.push((who, shift.span.from, shift.span.to));
                }
            }
        }
        Self { by_day }
    }

    /// Whether the people for so many minutes at a stretch are there in the window.
    fn covers(&self, problem: &Problem, service: usize, window: &PlanWindow, need: i64) -> bool {
        let job = &problem.services[service];
        let inside = |&(who, from, to): &(usize, i64, i64)| {
            let may = problem.technicians[who].minutes_per_day.is_none_or(|most| most >= need);
            let (from, to) = (from.max(window.span.from), to.min(window.span.to));
            (may && to - from >= need).then_some((who, from, to))
        };
        let there = &self.by_day[window.day];
        there.iter().filter_map(inside).any(|(lead, from, to)| {
            problem.technicians[lead].skills.get(job.kind).copied().unwrap_or(false)
                && (job.crew == 1
                    || there
                        .iter()
                        .filter_map(inside)
                        .any(|(second, a, b)| second != lead && to.min(b) - from.max(a) >= need))
        })
    }
}

/// What is in stock of a part by a day, arrivals up to it included.
pub(crate) fn stock_by(problem: &Problem, part: usize, day: usize) -> i64 {
    let stock = &problem.parts[part];
    stock.on_hand + stock.arrivals.iter().filter(|(on, _)| *on <= day).map(|(_, quantity)| quantity).sum::<i64>()
}

impl Candidates {
    /// Compiles the candidates of a problem.
    #[must_use]
    pub fn of_problem(problem: &Problem) -> Self {
        let windows_of = WindowsOf::new(problem);
        let attendance = Attendance::new(problem);
        let costs = CostBook::new(problem);
        let mut of = Vec::with_capacity(problem.services.len());
        let mut reasons = Vec::with_capacity(problem.services.len());
        for (service, job) in problem.services.iter().enumerate() {
            let (mut list, reason) = of_service(&costs, problem, &windows_of, &attendance, service);
            if job.held.is_some() {
                list.clear();
            }
            of.push(list);
            reasons.push(reason);
        }
        let mut all = Self { of, reasons };
        all.drop_guests_without_host(problem);
        all
    }

    /// By how much the places of a service typically differ: the median over the services of what
    /// the tenth-best costs more than the best.
    pub(crate) fn typical_regret(&self) -> i64 {
        let regret = |list: &Vec<Candidate>| match list.as_slice() {
            [best, .., last] => Some(list.get(9).unwrap_or(last).own - best.own),
            _ => None,
        };
        let mut all: Vec<i64> = self.of.iter().filter_map(regret).collect();
        all.sort_unstable();
        all.get(all.len() / 2).copied().unwrap_or(0)
    }

    /// A service that only fits without a lockout needs another of its line that could begin the stop.
    fn drop_guests_without_host(&mut self, problem: &Problem) {
        let line = |service: usize| problem.machines[problem.services[service].machine];
        let mut hosts: Vec<(usize, usize)> = Vec::new();
        for (service, list) in self.of.iter().enumerate() {
            hosts.extend(list.iter().filter(|c| c.alone).map(|c| (line(service), c.window)));
            hosts.extend(problem.services[service].held.iter().map(|place| (line(service), place.window)));
        }
        hosts.sort_unstable();
        for (service, list) in self.of.iter_mut().enumerate() {
            list.retain(|c| c.alone || hosts.binary_search(&(line(service), c.window)).is_ok());
        }
    }
}

/// The candidates of one service and why it has none.
fn of_service(
    costs: &CostBook<'_>,
    problem: &Problem,
    windows_of: &WindowsOf<'_>,
    attendance: &Attendance,
    service: usize,
) -> (Vec<Candidate>, LeftReason) {
    let job = &problem.services[service];
    let need = job.minutes + problem.lockout_min;
    // how far the windows come that would also do with a lockout: the reason is the rule where the last one falls
    let mut furthest = LeftReason::Date;
    let mut list = Vec::new();
    for window in windows_of.machine(job.machine) {
        let is = &problem.windows[window];
        if is.day < job.ready_day || is.day >= problem.days {
            continue;
        }
        let long = is.span.to - is.span.from;
        let crew = |minutes: i64| long >= minutes && attendance.covers(problem, service, is, minutes);
        let gauge = || job.gauge.is_none_or(|group| problem.gauges[group].get(is.day).is_some_and(|room| *room > 0));
        let parts = || job.parts.iter().all(|(part, quantity)| stock_by(problem, *part, is.day) >= *quantity);
        let falls = if long < need {
            LeftReason::Window
        } else if !crew(need) {
            LeftReason::Crew
        } else if !gauge() {
            LeftReason::Gauge
        } else if !parts() {
            LeftReason::Parts
        } else {
            LeftReason::Dearer
        };
        furthest = furthest.max(falls);
        let alone = falls == LeftReason::Dearer;
        let guest = falls <= LeftReason::Crew && problem.lockout_min > 0 && crew(job.minutes) && gauge() && parts();
        if alone || guest {
            let own = costs.own(service, window).total();
            list.push(Candidate { window, minutes: job.minutes, own, alone });
        }
    }
    list.sort_by_key(|c| (c.own, problem.windows[c.window].day, c.window));
    (list, furthest)
}
