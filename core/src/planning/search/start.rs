//! The first plan: what is held, then what is booked as whole days, then the rest in the best of some
//! orders: by regret where people have time, by regret per minute where they have not.

use super::recreate::{Order, put_back};
use super::state::{Sheets, State};
use crate::planning::chance::Chance;

/// Orders in which the rest is put in.
const ORDERS: [Order; 3] = [Order::Regret, Order::RegretPerMinute, Order::Leaving];

/// Builds the first plan; gives the services that are not where they are booked, those aside that have
/// no place and find none.
pub(super) fn start(state: &mut State<'_>, sheets: &mut Sheets) -> Vec<usize> {
    place_booked(state, sheets);
    let board = state.board;
    let mut rest: Vec<usize> = board.movable.iter().copied().filter(|s| state.at[*s].is_none()).collect();
    let before = state.clone();
    for (nth, order) in ORDERS.into_iter().enumerate() {
        let mut plan = before.clone();
        let mut services = rest.clone();
        order.sort(&plan, &mut Chance::new(0), &mut services);
        put_back(&mut plan, sheets, &services, None);
        if nth == 0 || plan.cost < state.cost {
            *state = plan;
        }
    }
    rest.retain(|service| state.at[*service].is_some() || board.booked[*service].is_some());
    rest
}

/// Books whole days where the day as booked has a sheet, else as much of it as has one.
fn place_booked(state: &mut State<'_>, sheets: &mut Sheets) {
    let board = state.board;
    let mut by_day: Vec<Vec<(usize, usize)>> = vec![Vec::new(); board.days.len()];
    for service in &board.movable {
        if let Some(cell) = board.booked[*service] {
            by_day[board.cells[*service][cell].day].push((*service, cell));
        }
    }
    for (day, booked) in by_day.iter_mut().enumerate() {
        let whole = booked.iter().all(|(service, cell)| {
            let may = state.has_gauge(*service, day) && state.parts_from(*service) <= day;
            if may {
                state.put(*service, *cell);
            }
            may
        });
        if whole && state.fits(sheets, day, None) {
            continue;
        }
        for (service, _) in booked.iter() {
            state.take(*service);
        }
        booked.sort_by_key(|(service, _)| (std::cmp::Reverse(board.problem.services[*service].leave_cost), *service));
        for (service, cell) in booked.iter() {
            let may = state.has_gauge(*service, day) && state.parts_from(*service) <= day;
            if may && state.fits(sheets, day, Some((*service, *cell))) {
                state.put(*service, *cell);
            }
        }
    }
}
