//! Per service the windows in which it could be done if it were alone, the cheapest first; and for
//! a service without any, the first rule that rules out every window.

use super::costs::CostBook;
use super::problem::{Job, LeftReason, PlanWindow, Problem, Scope};
use std::cell::OnceCell;

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

/// For how long at a stretch people are there in a window: by kind of service, one and two people.
type Stretches = Vec<[i64; 2]>;

/// Who is there when.
struct Attendance<'a> {
    problem: &'a Problem,
    /// By day: technician and minutes.
    by_day: Vec<Vec<(usize, i64, i64)>>,
    /// By window, worked out once it is asked for: services share windows.
    stretches: Vec<OnceCell<Stretches>>,
}

impl<'a> Attendance<'a> {
    fn new(problem: &'a Problem) -> Self {
        let mut by_day = vec![Vec::new(); problem.days];
        for (who, person) in problem.technicians.iter().enumerate() {
            for shift in &person.shifts {
                if let Some(day) = by_day.get_mut(shift.day) {
                    day.push((who, shift.span.from, shift.span.to));
                }
            }
        }
        Self { problem, by_day, stretches: vec![OnceCell::new(); problem.windows.len()] }
    }

    /// Whether the people for so many minutes at a stretch are there in the window.
    fn covers(&self, job: &Job, window: usize, need: i64) -> bool {
        let stretches = self.stretches[window].get_or_init(|| self.stretches(&self.problem.windows[window]));
        stretches.get(job.kind).is_some_and(|longest| need <= longest[usize::from(job.crew != 1)])
    }

    fn stretches(&self, window: &PlanWindow) -> Stretches {
        let technicians = &self.problem.technicians;
        let kinds = technicians.iter().map(|person| person.skills.len()).max().unwrap_or(0);
        let mut longest = vec![[i64::MIN; 2]; kinds];
        let inside = |&(who, from, to): &(usize, i64, i64)| (who, from.max(window.span.from), to.min(window.span.to));
        let most = |who: usize| technicians[who].minutes_per_day.unwrap_or(i64::MAX);
        let there = &self.by_day[window.day];
        for (lead, from, to) in there.iter().map(inside) {
            let alone = (to - from).min(most(lead));
            let seconds = there.iter().map(inside).filter(|(second, _, _)| *second != lead);
            let together = seconds.map(|(second, a, b)| (to.min(b) - from.max(a)).min(most(second)).min(alone)).max();
            for (longest, _) in longest.iter_mut().zip(&technicians[lead].skills).filter(|(_, may)| **may) {
                *longest = [longest[0].max(alone), longest[1].max(together.unwrap_or(i64::MIN))];
            }
        }
        longest
    }
}

/// What is in stock of a part by a day, arrivals up to it included.
pub(crate) fn stock_by(problem: &Problem, part: usize, day: usize) -> i64 {
    let stock = &problem.parts[part];
    stock.on_hand + stock.arrivals.iter().filter(|(on, _)| *on <= day).map(|(_, quantity)| quantity).sum::<i64>()
}

/// The stock of each part by each day of the horizon.
pub(crate) fn stock_by_day(problem: &Problem) -> Vec<Vec<i64>> {
    let of_part = |part: usize| (0..problem.days).map(|day| stock_by(problem, part, day)).collect();
    (0..problem.parts.len()).map(of_part).collect()
}

impl Candidates {
    /// Compiles the candidates of a problem.
    #[must_use]
    pub fn of_problem(problem: &Problem) -> Self {
        let rules = Rules {
            problem,
            windows_of: WindowsOf::new(problem),
            attendance: Attendance::new(problem),
            stock: stock_by_day(problem),
            costs: CostBook::new(problem),
        };
        let mut of = Vec::with_capacity(problem.services.len());
        let mut reasons = Vec::with_capacity(problem.services.len());
        for (service, job) in problem.services.iter().enumerate() {
            let (mut list, reason) = rules.of_service(service);
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
        // hardly a place needs a host, so only those that could be one are gone through
        let (mut on_line, mut in_window) = (vec![false; problem.lines.len()], vec![false; problem.windows.len()]);
        for (service, list) in self.of.iter().enumerate() {
            for guest in list.iter().filter(|c| !c.alone) {
                on_line[line(service)] = true;
                in_window[guest.window] = true;
            }
        }
        let mut hosts: Vec<(usize, usize)> = Vec::new();
        for (service, list) in self.of.iter().enumerate().filter(|(service, _)| on_line[line(*service)]) {
            hosts.extend(list.iter().filter(|c| c.alone && in_window[c.window]).map(|c| (line(service), c.window)));
            hosts.extend(problem.services[service].held.iter().map(|place| (line(service), place.window)));
        }
        hosts.sort_unstable();
        for (service, list) in self.of.iter_mut().enumerate().filter(|(service, _)| on_line[line(*service)]) {
            list.retain(|c| c.alone || hosts.binary_search(&(line(service), c.window)).is_ok());
        }
    }
}

/// What candidates are compiled from.
struct Rules<'a> {
    problem: &'a Problem,
    windows_of: WindowsOf<'a>,
    attendance: Attendance<'a>,
    /// By part and day.
    stock: Vec<Vec<i64>>,
    costs: CostBook<'a>,
}

impl Rules<'_> {
    /// The candidates of one service and why it has none.
    fn of_service(&self, service: usize) -> (Vec<Candidate>, LeftReason) {
        let problem = self.problem;
        let job = &problem.services[service];
        let need = job.minutes + problem.lockout_min;
        // how far the windows come that would also do with a lockout: the reason is the rule where the last one falls
        let mut furthest = LeftReason::Date;
        let mut list = Vec::new();
        for window in self.windows_of.machine(job.machine) {
            let is = &problem.windows[window];
            if is.day < job.ready_day || is.day >= problem.days {
                continue;
            }
            let long = is.span.to - is.span.from;
            let crew = |minutes: i64| long >= minutes && self.attendance.covers(job, window, minutes);
            let gauge =
                || job.gauge.is_none_or(|group| problem.gauges[group].get(is.day).is_some_and(|room| *room > 0));
            let parts = || job.parts.iter().all(|(part, quantity)| self.stock[*part][is.day] >= *quantity);
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
                let own = self.costs.own(service, window).total();
                list.push(Candidate { window, minutes: job.minutes, own, alone });
            }
        }
        let place = |c: &Candidate| (problem.windows[c.window].day, c.window);
        list.sort_unstable_by(|one, other| one.own.cmp(&other.own).then_with(|| place(one).cmp(&place(other))));
        (list, furthest)
    }
}
