//! The problem laid out for the search: every candidate with what it shares with others, and what is held.

use crate::planning::candidates::{Candidate, Candidates, stock_by_day};
use crate::planning::chance::scatter;
use crate::planning::costs::CostBook;
use crate::planning::day_sheet::Task;
use crate::planning::day_sheet::crew::{DayCrew, Held};
use crate::planning::day_sheet::memo::AsItIs;
use crate::planning::problem::{Place, PlanWindow, Problem, Span};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::hash::BuildHasherDefault;

/// A candidate with what it shares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    /// What it costs by itself, in cents, and to the search: see [`Board::stay`].
    pub(super) own: i64,
    /// Marks its shape in the sum of a day, or the service and window where others of its line are due.
    pub(super) mark: u64,
    /// Index into the days of the board.
    pub(super) day: usize,
    /// Line and window.
    pub(super) stop: usize,
    /// Hall and day.
    pub(super) visit: usize,
    pub(super) window: usize,
    pub(super) minutes: i64,
    /// Minutes times people.
    pub(super) work: i64,
}

/// The problem laid out for the search.
#[derive(Debug)]
pub(super) struct Board<'a> {
    pub(super) problem: &'a Problem,
    /// By service: whether no other one is of its line.
    alone: Vec<bool>,
    /// What the search adds to a booked service that leaves its window, so that few move; in no cost that is told.
    pub(super) stay: i64,
    /// See [`Candidates::typical_regret`].
    pub(super) typical_regret: i64,
    /// By service, ascending by cost; `stay` is in the cost of every place but the booked one.
    pub(super) cells: Vec<Vec<Cell>>,
    /// Services that can be placed at all.
    pub(super) movable: Vec<usize>,
    /// The cell in the booked window.
    pub(super) booked: Vec<Option<usize>>,
    /// By service: how much the tenth-best place costs more than the best.
    pub(super) regret: Vec<i64>,
    /// Movable services of each line, of each part.
    pub(super) of_line: Vec<Vec<usize>>,
    pub(super) of_part: Vec<Vec<usize>>,
    /// Days on which something can be placed, ascending.
    pub(super) days: Vec<usize>,
    /// By day of the board.
    pub(super) crews: Vec<DayCrew>,
    /// Minutes of people that are there beside what is held, by day of the board; never too few.
    pub(super) hours: Vec<i64>,
    /// What the lockout of each stop costs, once.
    pub(super) lockouts: Vec<i64>,
    /// Cost of what is held and of leaving the rest, before anything is placed.
    pub(super) base_cost: i64,
    /// Services of each stop, of each visit, that are held.
    pub(super) held_stops: Vec<u32>,
    pub(super) held_visits: Vec<u32>,
    /// Room of each gauge group on each day beside what is held.
    pub(super) gauge_room: Vec<Vec<i64>>,
    /// What is left of each part by each day beside what is held.
    pub(super) slack: Vec<Vec<i64>>,
}

impl<'a> Board<'a> {
    pub(super) fn new(problem: &'a Problem, candidates: &Candidates, stay: i64) -> Self {
        let costs = CostBook::new(problem);
        let mut shared = Shared::new(problem, candidates);
        let mut cells: Vec<Vec<Cell>> =
            (candidates.of.iter().enumerate()).map(|(service, list)| shared.cells(&costs, service, list)).collect();
        for (job, list) in problem.services.iter().zip(&mut cells).filter(|_| stay > 0) {
            if let Some(booked) = job.booked {
                add_stay(list, booked.window, stay);
            }
        }
        let held = Holdings::new(problem, &costs, &mut shared);
        let Shared { days, alone, lockouts, .. } = shared;
        let crews: Vec<DayCrew> = days
            .iter()
            .map(|day| DayCrew::of(problem, *day, held.of_day.get(day).map_or(&[], Vec::as_slice)))
            .collect();
        let mut used: Vec<Vec<Span>> = vec![Vec::new(); days.len()];
        for cell in cells.iter().flatten() {
            used[cell.day].push(problem.windows[cell.window].span);
        }
        let hours = crews.iter().zip(used).map(|(crew, used)| crew.minutes_within(used)).collect();
        let booked = problem.services.iter().zip(&cells).map(|(job, list)| {
            let window = job.booked?.window?;
            list.iter().position(|cell| cell.window == window)
        });
        let movable: Vec<usize> = (0..cells.len()).filter(|service| !cells[*service].is_empty()).collect();
        let mut of_line = vec![Vec::new(); problem.lines.len()];
        let mut of_part = vec![Vec::new(); problem.parts.len()];
        for service in &movable {
            of_line[problem.machines[problem.services[*service].machine]].push(*service);
            for (part, _) in &problem.services[*service].parts {
                of_part[*part].push(*service);
            }
        }
        let by_stop = |stop: usize| held.stops.get(&stop).copied().unwrap_or(0);
        let by_visit = |visit: usize| {
            let at = (days[visit / problem.halls.max(1)], visit % problem.halls.max(1));
            held.visits.get(&at).copied().unwrap_or(0)
        };
        Self {
            problem,
            alone,
            stay,
            typical_regret: candidates.typical_regret(),
            movable,
            booked: booked.collect(),
            regret: cells.iter().map(|list| regret(list)).collect(),
            of_line,
            of_part,
            base_cost: held.cost,
            held_stops: (0..lockouts.len()).map(by_stop).collect(),
            held_visits: (0..days.len() * problem.halls).map(by_visit).collect(),
            gauge_room: held.gauge_room.iter().map(|room| days.iter().map(|day| room[*day]).collect()).collect(),
            slack: held.slack.iter().map(|slack| least_between(slack, &days)).collect(),
            lockouts,
            crews,
            hours,
            days,
            cells,
        }
    }

    /// What a plan on its way costs in cents, without what the search adds to keep it steady.
    pub(super) fn told(&self, at: &[Option<usize>], cost: i64) -> i64 {
        let moved = self.movable.iter().filter(|service| {
            let booked = self.problem.services[**service].booked.map(|booked| booked.window);
            at[**service]
                .is_some_and(|cell| booked.is_some_and(|window| window != Some(self.cells[**service][cell].window)))
        });
        cost - self.stay * moved.count() as i64
    }

    /// A placement as the day sheet sees it.
    pub(super) fn task(&self, service: usize, cell: usize) -> Task {
        let (job, cell) = (&self.problem.services[service], &self.cells[service][cell]);
        let span = self.problem.windows[cell.window].span;
        Task {
            service: service as u32,
            machine: job.machine as u32,
            stop: cell.stop as u32,
            kind: job.kind.min(63) as u8,
            crew: job.crew.min(2) as u8,
            minutes: cell.minutes,
            from: span.from,
            to: span.to,
            alone: self.alone[service],
        }
    }
}

/// How much the tenth-best place costs more than the best.
fn regret(list: &[Cell]) -> i64 {
    match list {
        [best, .., last] => list.get(9).unwrap_or(last).own - best.own,
        _ => 0,
    }
}

/// Days on which something can be placed.
fn days_of(problem: &Problem, candidates: &Candidates) -> Vec<usize> {
    let days: BTreeSet<usize> = candidates.of.iter().flatten().map(|c| problem.windows[c.window].day).collect();
    days.into_iter().collect()
}

/// The least of what is left of a part from each day of the board to the one before the next.
fn least_between(slack: &[i64], days: &[usize]) -> Vec<i64> {
    let ends = days.iter().skip(1).copied().chain([slack.len()]);
    days.iter().zip(ends).map(|(from, to)| slack[*from..to].iter().min().copied().unwrap_or(0)).collect()
}

/// Adds what a move has to save to every place but the booked one, and keeps the order by cost.
fn add_stay(list: &mut [Cell], booked: Option<usize>, stay: i64) {
    for cell in list.iter_mut().filter(|cell| Some(cell.window) != booked) {
        cell.own += stay;
    }
    let key = |cell: &Cell| (cell.own, cell.day, cell.window);
    // all others stand as they stood
    if let Some(at) = list.iter().position(|cell| Some(cell.window) == booked) {
        let (before, booked) = (&list[..at], key(&list[at]));
        let to = before.partition_point(|cell| key(cell) < booked);
        list[to..=at].rotate_right(1);
    }
}

/// Numbers for what candidates share.
struct Shared<'a> {
    problem: &'a Problem,
    alone: Vec<bool>,
    /// Line and window.
    stops: HashMap<u64, usize, BuildHasherDefault<AsItIs>>,
    /// By stop: what its lockout costs.
    lockouts: Vec<i64>,
    days: Vec<usize>,
    /// By window: the day of the board, and a mark of its span.
    windows: Vec<(usize, u64)>,
}

impl<'a> Shared<'a> {
    fn new(problem: &'a Problem, candidates: &Candidates) -> Self {
        let mut of_line = vec![0_usize; problem.lines.len()];
        for job in &problem.services {
            of_line[problem.machines[job.machine]] += 1;
        }
        let days = days_of(problem, candidates);
        let window =
            |is: &PlanWindow| (days.binary_search(&is.day).unwrap_or(0), marked(marked(0, is.span.from), is.span.to));
        let all = candidates.of.iter().map(Vec::len).sum();
        Self {
            problem,
            alone: problem.services.iter().map(|job| of_line[problem.machines[job.machine]] == 1).collect(),
            stops: HashMap::with_capacity_and_hasher(all, BuildHasherDefault::default()),
            lockouts: Vec::with_capacity(all),
            windows: problem.windows.iter().map(window).collect(),
            days,
        }
    }

    fn line(&self, service: usize) -> usize {
        self.problem.machines[self.problem.services[service].machine]
    }

    fn stop(&mut self, costs: &CostBook<'_>, line: usize, window: usize) -> usize {
        let (next, name) = (self.lockouts.len(), line * self.problem.windows.len() + window);
        let stop = *self.stops.entry(scatter(name as u64)).or_insert(next);
        if stop == next {
            self.lockouts.push(costs.lockout(line, window));
        }
        stop
    }

    fn cells(&mut self, costs: &CostBook<'_>, service: usize, list: &[Candidate]) -> Vec<Cell> {
        let (line, job) = (self.line(service), &self.problem.services[service]);
        let hall = self.problem.lines[line].hall;
        let name = scatter(service as u64 + 1);
        list.iter()
            .map(|candidate| {
                let Candidate { window, minutes, own, .. } = *candidate;
                let (day, span) = self.windows[window];
                // whether a set has a sheet hangs on the shapes of those that are alone on their line, and
                // on who the others are
                let mark = if self.alone[service] {
                    [minutes, job.kind as i64, job.crew as i64].into_iter().fold(span, marked)
                } else {
                    scatter(name ^ window as u64)
                };
                let stop = self.stop(costs, line, window);
                let visit = day * self.problem.halls + hall;
                Cell { own, mark, day, stop, visit, window, minutes, work: minutes * job.crew as i64 }
            })
            .collect()
    }
}

/// A mark with one more part of a shape in it.
const fn marked(mark: u64, part: i64) -> u64 {
    scatter(mark ^ part.cast_unsigned())
}

/// What is held, and what it leaves.
struct Holdings<'a> {
    /// Its cost, and that of leaving all the rest.
    cost: i64,
    of_day: BTreeMap<usize, Vec<Held<'a>>>,
    /// Services by stop, and by day and hall.
    stops: BTreeMap<usize, u32>,
    visits: BTreeMap<(usize, usize), u32>,
    gauge_room: Vec<Vec<i64>>,
    slack: Vec<Vec<i64>>,
}

impl<'a> Holdings<'a> {
    fn new(problem: &'a Problem, costs: &CostBook<'_>, shared: &mut Shared<'a>) -> Self {
        let mut all = Self {
            cost: 0,
            of_day: BTreeMap::new(),
            stops: BTreeMap::new(),
            visits: BTreeMap::new(),
            gauge_room: problem.gauges.clone(),
            slack: stock_by_day(problem),
        };
        for room in &mut all.gauge_room {
            room.resize(problem.days, 0);
        }
        for (service, job) in problem.services.iter().enumerate() {
            match &job.held {
                Some(place) => all.hold(problem, costs, shared, service, place),
                None => all.cost += job.leave_cost,
            }
        }
        all
    }

    fn hold(
        &mut self,
        problem: &'a Problem,
        costs: &CostBook<'_>,
        shared: &mut Shared<'a>,
        service: usize,
        place: &'a Place,
    ) {
        let (job, line) = (&problem.services[service], shared.line(service));
        let (day, hall) = (problem.windows[place.window].day, problem.lines[line].hall);
        let stop = shared.stop(costs, line, place.window);
        self.cost += costs.own(service, place.window).total();
        let in_stop = self.stops.entry(stop).or_insert(0);
        self.cost += if *in_stop == 0 { costs.lockout(line, place.window) } else { 0 };
        *in_stop += 1;
        let in_visit = self.visits.entry((day, hall)).or_insert(0);
        self.cost += if *in_visit == 0 { problem.visit_cost } else { 0 };
        *in_visit += 1;
        if let Some(room) = job.gauge.and_then(|group| self.gauge_room[group].get_mut(day)) {
            *room -= 1;
        }
        for (part, quantity) in &job.parts {
            for left in self.slack[*part].iter_mut().skip(day) {
                *left -= quantity;
            }
        }
        self.of_day.entry(day).or_default().push(Held {
            stop: stop as u32,
            machine: job.machine as u32,
            start: place.start,
            minutes: job.minutes,
            technicians: &place.technicians,
        });
    }
}
