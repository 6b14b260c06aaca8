//! From a plan on its way to places with start and people.

use super::board::Board;
use super::state::Sheets;
use crate::planning::day_sheet::Task;
use crate::planning::problem::{Place, Plan};

/// A plan in full; days that carry the same as in the plan before it keep their sheets.
#[derive(Debug)]
pub(super) struct Finished<'a> {
    board: &'a Board<'a>,
    /// By service: its cell.
    at: Vec<Option<usize>>,
    plan: Plan,
}

impl<'a> Finished<'a> {
    /// Nothing placed but what is held.
    pub(super) fn new(board: &'a Board<'a>) -> Self {
        let places = board.problem.services.iter().map(|job| job.held.clone()).collect();
        Self { board, at: vec![None; board.cells.len()], plan: Plan { places } }
    }

    /// A plan in full. Should a day have no sheet after all, what was cheapest to leave is left.
    pub(super) fn finish(&mut self, sheets: &mut Sheets, at: &[Option<usize>]) -> &Plan {
        let board = self.board;
        let day = |service: usize, cell: Option<usize>| cell.map(|cell| board.cells[service][cell].day);
        let mut differs = vec![false; board.days.len()];
        for service in board.movable.iter().copied().filter(|service| self.at[*service] != at[*service]) {
            for day in [day(service, self.at[service]), day(service, at[service])].into_iter().flatten() {
                differs[day] = true;
            }
            self.plan.places[service] = None;
        }
        let mut days: Vec<Vec<(usize, usize)>> = vec![Vec::new(); board.days.len()];
        for service in &board.movable {
            let cell = at[*service].filter(|cell| differs[board.cells[*service][*cell].day]);
            if let Some(cell) = cell {
                days[board.cells[*service][cell].day].push((*service, cell));
                self.plan.places[*service] = None;
            }
        }
        for (day, mut there) in days.into_iter().enumerate() {
            there.sort_unstable_by_key(|(service, _)| (board.problem.services[*service].leave_cost, *service));
            while !there.is_empty() && !place_day(board, sheets, day, &there, &mut self.plan) {
                there.remove(0);
            }
        }
        self.at.copy_from_slice(at);
        &self.plan
    }
}

fn place_day(board: &Board<'_>, sheets: &mut Sheets, day: usize, there: &[(usize, usize)], plan: &mut Plan) -> bool {
    let mut tasks: Vec<Task> = there.iter().map(|(service, cell)| board.task(*service, *cell)).collect();
    tasks.sort_unstable_by_key(Task::rank);
    let crew = &board.crews[day];
    let Some(lines) = sheets.builder.build(crew, &tasks, board.problem.lockout_min) else { return false };
    for line in lines {
        let service = tasks[line.task].service as usize;
        let window = there.iter().find(|(of, _)| *of == service).map(|(_, cell)| board.cells[service][*cell].window);
        let person = |worker: usize| crew.workers[worker].person;
        plan.places[service] = window.map(|window| Place {
            window,
            start: line.start,
            technicians: std::iter::once(line.lead).chain(line.second).map(person).collect(),
        });
    }
    true
}
