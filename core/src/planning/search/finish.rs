//! From a plan on its way to places with start and people.

use super::board::Board;
use super::state::{Sheets, State};
use crate::planning::day_sheet::Task;
use crate::planning::problem::{Place, Plan};

/// The plan in full. Should a day have no sheet after all, what was cheapest to leave is left.
pub(super) fn finish(board: &Board<'_>, sheets: &mut Sheets, at: &[Option<usize>]) -> Plan {
    let problem = board.problem;
    let mut plan = Plan { places: problem.services.iter().map(|job| job.held.clone()).collect() };
    let mut state = State::new(board);
    state.become_plan(at);
    for day in 0..board.days.len() {
        let mut there = state.days[day].clone();
        there.sort_unstable_by_key(|(service, _)| (board.problem.services[*service].leave_cost, *service));
        while !there.is_empty() && !place_day(board, sheets, day, &there, &mut plan) {
            there.remove(0);
        }
    }
    plan
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
