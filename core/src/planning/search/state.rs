//! A plan on its way: which service is in which window, what that costs, and what it leaves to others.

use super::board::{Board, Cell};
use crate::planning::day_sheet::memo::Memo;
use crate::planning::day_sheet::{SheetBuilder, Task};

/// What is known of day sheets; one for all runs.
#[derive(Debug, Default)]
pub(super) struct Sheets {
    memo: Memo,
    pub(super) builder: SheetBuilder,
    tasks: Vec<Task>,
}

impl Sheets {
    /// Nothing is known yet.
    pub(super) fn new(board: &Board<'_>) -> Self {
        Self { builder: SheetBuilder::for_services(board.movable.len()), ..Self::default() }
    }
}

/// A plan on its way.
#[derive(Debug, Clone)]
pub(super) struct State<'a> {
    pub(super) board: &'a Board<'a>,
    /// By service: its cell.
    pub(super) at: Vec<Option<usize>>,
    /// By day: service and cell.
    pub(super) days: Vec<Vec<(usize, usize)>>,
    /// By day: the sum of the marks of its set, so that the same shapes have the same one.
    marks: Vec<u64>,
    /// By day: minutes times people, lockouts included; never too many.
    work: Vec<i64>,
    stops: Vec<u32>,
    visits: Vec<u32>,
    gauge_room: Vec<Vec<i64>>,
    slack: Vec<Vec<i64>>,
    /// In cents.
    pub(super) cost: i64,
}

impl<'a> State<'a> {
    /// Nothing placed but what is held.
    pub(super) fn new(board: &'a Board<'a>) -> Self {
        Self {
            board,
            at: vec![None; board.cells.len()],
            days: vec![Vec::new(); board.days.len()],
            work: vec![0; board.days.len()],
            marks: (0..board.days.len() as u64).map(crate::planning::chance::scatter).collect(),
            stops: board.held_stops.clone(),
            visits: board.held_visits.clone(),
            gauge_room: board.gauge_room.clone(),
            slack: board.slack.clone(),
            cost: board.base_cost,
        }
    }

    /// What placing a service costs more than leaving it.
    pub(super) fn added(&self, service: usize, cell: &Cell) -> i64 {
        let lockout = if self.stops[cell.stop] == 0 { self.board.lockouts[cell.stop] } else { 0 };
        let visit = if self.visits[cell.visit] == 0 { self.board.problem.visit_cost } else { 0 };
        cell.own + lockout + visit - self.board.problem.services[service].leave_cost
    }

    /// Minutes times people that a placement takes at least; one person locks out where it begins a stop.
    fn work_of(&self, cell: &Cell) -> i64 {
        cell.work + if self.stops[cell.stop] == 0 { self.board.problem.lockout_min } else { 0 }
    }

    /// Whether the people of a day have the minutes for one more; `false` is certain.
    pub(super) fn has_hours(&self, cell: &Cell) -> bool {
        self.work[cell.day] + self.work_of(cell) <= self.board.hours[cell.day]
    }

    /// The first day from which the parts of a service are there, with what the others take.
    pub(super) fn parts_from(&self, service: usize) -> usize {
        let parts = &self.board.problem.services[service].parts;
        let from = |(part, quantity): &(usize, i64)| {
            self.slack[*part].iter().rposition(|left| left < quantity).map_or(0, |day| day + 1)
        };
        parts.iter().map(from).max().unwrap_or(0)
    }

    /// Whether the parts do for all that is placed, apart from what is held.
    pub(super) fn has_parts(&self) -> bool {
        let is_short = |(left, base): (&i64, &i64)| *left < (*base).min(0);
        !self.slack.iter().zip(&self.board.slack).any(|(left, base)| left.iter().zip(base).any(is_short))
    }

    /// Whether a gauge of the service is free on a day.
    pub(super) fn has_gauge(&self, service: usize, day: usize) -> bool {
        self.board.problem.services[service].gauge.is_none_or(|group| self.gauge_room[group][day] > 0)
    }

    /// Places a service; whether it fits is for the caller to know.
    pub(super) fn put(&mut self, service: usize, cell_at: usize) {
        let cell = &self.board.cells[service][cell_at];
        self.cost += self.added(service, cell);
        self.work[cell.day] += self.work_of(cell);
        self.stops[cell.stop] += 1;
        self.visits[cell.visit] += 1;
        self.marks[cell.day] = self.marks[cell.day].wrapping_add(cell.mark);
        self.days[cell.day].push((service, cell_at));
        self.at[service] = Some(cell_at);
        self.take_stock(service, cell.day, 1);
    }

    /// Takes a service off; gives its cell.
    pub(super) fn take(&mut self, service: usize) -> Option<usize> {
        let cell_at = self.at[service].take()?;
        let cell = &self.board.cells[service][cell_at];
        self.stops[cell.stop] -= 1;
        self.visits[cell.visit] -= 1;
        self.marks[cell.day] = self.marks[cell.day].wrapping_sub(cell.mark);
        let day = &mut self.days[cell.day];
        if let Some(nth) = day.iter().position(|(of, _)| *of == service) {
            day.swap_remove(nth);
        }
        self.take_stock(service, cell.day, -1);
        self.cost -= self.added(service, cell);
        self.work[cell.day] -= self.work_of(cell);
        Some(cell_at)
    }

    fn take_stock(&mut self, service: usize, day: usize, times: i64) {
        let job = &self.board.problem.services[service];
        if let Some(group) = job.gauge {
            self.gauge_room[group][day] -= times;
        }
        for (part, quantity) in &job.parts {
            let taken = quantity * times;
            for left in &mut self.slack[*part][day..] {
                *left -= taken;
            }
        }
    }

    /// Whether the day has a sheet with one more service, or as it is.
    pub(super) fn fits(&self, sheets: &mut Sheets, day: usize, more: Option<(usize, usize)>) -> bool {
        let added = more.map_or(0, |(service, cell)| self.board.cells[service][cell].mark);
        let mark = self.marks[day].wrapping_add(added);
        if let Some(known) = sheets.memo.get(mark) {
            return known;
        }
        sheets.tasks.clear();
        let all = self.days[day].iter().copied().chain(more);
        sheets.tasks.extend(all.map(|(service, cell)| self.board.task(service, cell)));
        sheets.tasks.sort_unstable_by_key(Task::rank);
        let lockout = self.board.problem.lockout_min;
        let fits = sheets.builder.build(&self.board.crews[day], &sheets.tasks, lockout).is_some();
        sheets.memo.set(mark, fits);
        fits
    }

    /// Puts every service where another plan has it.
    pub(super) fn become_plan(&mut self, at: &[Option<usize>]) {
        for (service, cell) in at.iter().enumerate() {
            if self.at[service] != *cell {
                self.take(service);
            }
        }
        for (service, cell) in at.iter().enumerate() {
            if let Some(cell) = cell.filter(|_| self.at[service].is_none()) {
                self.put(service, cell);
            }
        }
    }
}
