//! The problem laid out for the search: every candidate with what it shares with others, and what is held.

use crate::planning::candidates::{Candidates, stock_by};
use crate::planning::chance::scatter;
use crate::planning::costs::CostBook;
use crate::planning::day_sheet::Task;
use crate::planning::day_sheet::crew::{DayCrew, Held};
use crate::planning::problem::Problem;
use std::collections::BTreeMap;

/// A candidate with what it shares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    /// What it costs by itself, in cents.
    pub(super) own: i64,
    /// What its stop's lockout costs, once per stop.
    pub(super) lockout: i64,
    /// Marks service and window in the set of a day.
    pub(super) mark: u64,
    pub(super) day: usize,
    /// Line and window.
    pub(super) stop: usize,
    /// Hall and day.
    pub(super) visit: usize,
    pub(super) window: usize,
    pub(super) minutes: i64,
}

/// The problem laid out for the search.
#[derive(Debug)]
pub(super) struct Board<'a> {
    pub(super) problem: &'a Problem,
    /// By service, ascending by own cost.
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
    pub(super) stops: usize,
    pub(super) crews: Vec<DayCrew>,
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
    pub(super) fn new(problem: &'a Problem, candidates: &Candidates) -> Self {
        let costs = CostBook::new(problem);
        let mut stop_ids: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        let mut stop_of = |line: usize, window: usize| {
            let next = stop_ids.len();
            *stop_ids.entry((line, window)).or_insert(next)
        };
        let line_of = |service: usize| problem.machines[problem.services[service].machine];
        let visit_of = |line: usize, day: usize| day * problem.halls + problem.lines[line].hall;
        let mut cells = Vec::with_capacity(candidates.of.len());
        for (service, list) in candidates.of.iter().enumerate() {
            let line = line_of(service);
            let cell = |c: &crate::planning::candidates::Candidate| {
                let day = problem.windows[c.window].day;
                Cell {
                    own: c.own,
                    lockout: costs.lockout(line, c.window),
                    mark: scatter(scatter(service as u64 + 1) ^ c.window as u64),
                    day,
                    stop: stop_of(line, c.window),
                    visit: visit_of(line, day),
                    window: c.window,
                    minutes: c.minutes,
                }
            };
            cells.push(list.iter().map(cell).collect::<Vec<Cell>>());
        }
        let movable: Vec<usize> = (0..cells.len()).filter(|service| !cells[*service].is_empty()).collect();
        let tenth = |list: &Vec<Cell>| match list.as_slice() {
            [] => 0,
            [only] => only.own.saturating_neg().max(0),
            [best, .., last] => list.get(9).unwrap_or(last).own - best.own,
        };
        let booked = problem.services.iter().zip(&cells).map(|(job, list)| {
            let window = job.booked?.window?;
            list.iter().position(|cell| cell.window == window)
        });
        let mut of_line = vec![Vec::new(); problem.lines.len()];
        let mut of_part = vec![Vec::new(); problem.parts.len()];
        for service in &movable {
            of_line[line_of(*service)].push(*service);
            for (part, _) in &problem.services[*service].parts {
                of_part[*part].push(*service);
            }
        }
        let mut board = Self {
            problem,
            movable,
            booked: booked.collect(),
            regret: cells.iter().map(tenth).collect(),
            of_line,
            of_part,
            stops: 0,
            crews: Vec::new(),
            base_cost: 0,
            held_stops: Vec::new(),
            held_visits: vec![0; problem.days * problem.halls],
            gauge_room: problem.gauges.clone(),
            slack: (0..problem.parts.len())
                .map(|part| (0..problem.days).map(|day| stock_by(problem, part, day)).collect())
                .collect(),
            cells,
        };
        let mut held: Vec<Vec<Held<'_>>> = vec![Vec::new(); problem.days];
        for (service, job) in problem.services.iter().enumerate() {
            let Some(place) = &job.held else {
                board.base_cost += job.leave_cost;
                continue;
            };
            let (line, day) = (line_of(service), problem.windows[place.window].day);
            let stop = stop_of(line, place.window);
            board.held_stops.resize(board.held_stops.len().max(stop + 1), 0);
            board.base_cost += costs.own(service, place.window).total();
            if board.held_stops[stop] == 0 {
                board.base_cost += costs.lockout(line, place.window);
            }
            board.held_stops[stop] += 1;
            board.hold_on_day(service, line, day);
            if let Some(list) = held.get_mut(day) {
                list.push(Held {
                    stop: stop as u32,
                    machine: job.machine as u32,
                    start: place.start,
                    minutes: job.minutes,
                    technicians: &place.technicians,
                });
            }
        }
        board.stops = stop_ids.len();
        board.held_stops.resize(board.stops, 0);
        board.crews = held.iter().enumerate().map(|(day, held)| DayCrew::of(problem, day, held)).collect();
        board
    }

    /// Visit, gauge and parts of a held service.
    fn hold_on_day(&mut self, service: usize, line: usize, day: usize) {
        let (problem, job) = (self.problem, &self.problem.services[service]);
        if let Some(count) = self.held_visits.get_mut(day * problem.halls + problem.lines[line].hall) {
            self.base_cost += if *count == 0 { problem.visit_cost } else { 0 };
            *count += 1;
        }
        if let Some(room) = job.gauge.and_then(|group| self.gauge_room[group].get_mut(day)) {
            *room -= 1;
        }
        for (part, quantity) in &job.parts {
            for left in self.slack[*part].iter_mut().skip(day) {
                *left -= quantity;
            }
        }
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
        }
    }
}
