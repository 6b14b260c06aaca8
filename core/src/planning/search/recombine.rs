//! The best of two plans: days that hang together by the services that stand elsewhere in the other
//! plan are taken over as a whole where that is cheaper, since a day's cost stands alone.

use super::board::Board;
use super::state::{Sheets, State};

/// Takes over from `other` what makes the plan of `state` cheaper.
pub(super) fn take_over(state: &mut State<'_>, sheets: &mut Sheets, other: &[Option<usize>]) {
    for part in differences(state.board, &state.at, other) {
        let before: Vec<Option<usize>> = part.iter().map(|service| state.at[*service]).collect();
        let cost = state.cost;
        let take = |state: &mut State<'_>, to: &mut dyn Iterator<Item = Option<usize>>| {
            for service in &part {
                state.take(*service);
            }
            for (service, cell) in part.iter().zip(to) {
                if let Some(cell) = cell {
                    state.put(*service, cell);
                }
            }
        };
        take(state, &mut part.iter().map(|service| other[*service]));
        let holds = state.cost < cost && state.has_parts() && {
            let days: Vec<usize> = (part.iter().zip(&before))
                .flat_map(|(service, was)| {
                    [*was, state.at[*service]].into_iter().flatten().map(|cell| (*service, cell))
                })
                .map(|(service, cell)| state.board.cells[service][cell].day)
                .collect();
            days.into_iter().all(|day| state.fits(sheets, day, None))
        };
        if !holds {
            take(state, &mut before.into_iter());
        }
    }
}

/// Services that stand elsewhere in the other plan, put together where their days hang together.
fn differences(board: &Board<'_>, one: &[Option<usize>], other: &[Option<usize>]) -> Vec<Vec<usize>> {
    let day_of = |service: usize, cell: Option<usize>| cell.map(|cell| board.cells[service][cell].day);
    let mut group: Vec<usize> = (0..board.days.len()).collect();
    let different: Vec<usize> = board.movable.iter().copied().filter(|s| one[*s] != other[*s]).collect();
    for service in &different {
        if let (Some(a), Some(b)) = (day_of(*service, one[*service]), day_of(*service, other[*service])) {
            let (a, b) = (root(&mut group, a), root(&mut group, b));
            group[a.max(b)] = a.min(b);
        }
    }
    let mut parts: Vec<Vec<usize>> = vec![Vec::new(); board.days.len()];
    for service in different {
        let day = day_of(service, one[service]).or_else(|| day_of(service, other[service]));
        if let Some(day) = day {
            parts[root(&mut group, day)].push(service);
        }
    }
    parts.retain(|part| !part.is_empty());
    parts
}

fn root(group: &mut [usize], day: usize) -> usize {
    let mut at = day;
    while group[at] != at {
        group[at] = group[group[at]];
        at = group[at];
    }
    at
}
