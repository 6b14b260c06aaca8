//! Puts loose services back, each at its cheapest place that fits.

use super::state::{Sheets, State};
use crate::planning::chance::Chance;
use std::cmp::Reverse;

/// In which order services are put back.
#[derive(Debug, Clone, Copy)]
pub(super) enum Order {
    /// The longest first.
    Size,
    /// The one that loses most by a worse place first.
    Regret,
    /// The same per minute of its crew.
    RegretPerMinute,
    /// The cheapest to leave last.
    Leaving,
    /// By chance.
    Shuffled,
}

impl Order {
    /// Draws one.
    pub(super) const fn any(chance: &mut Chance) -> Self {
        match chance.below(8) {
            0 => Self::Size,
            1 => Self::Regret,
            2 => Self::RegretPerMinute,
            3 => Self::Leaving,
            _ => Self::Shuffled,
        }
    }

    /// Sorts services.
    pub(super) fn sort(self, state: &State<'_>, chance: &mut Chance, services: &mut [usize]) {
        let board = state.board;
        let work = |service: usize| {
            let job = &board.problem.services[service];
            (job.minutes * job.crew as i64).max(1)
        };
        match self {
            Self::Size => services.sort_by_key(|s| (Reverse(work(*s)), *s)),
            Self::Regret => services
                .sort_by_key(|s| (Reverse(board.regret[*s]), Reverse(board.problem.services[*s].leave_cost), *s)),
            Self::RegretPerMinute => services.sort_by_key(|s| (Reverse(board.regret[*s] * 1000 / work(*s)), *s)),
            Self::Leaving => services.sort_by_key(|s| (Reverse(board.problem.services[*s].leave_cost), *s)),
            Self::Shuffled => chance.shuffle(services),
        }
    }
}

/// Where a service goes at the least cost; `None`: leaving it is cheaper, or nothing fits. With
/// `skips`, one candidate in so many is passed over by chance.
pub(super) fn cheapest(
    state: &State<'_>,
    sheets: &mut Sheets,
    service: usize,
    mut skips: Option<(&mut Chance, usize)>,
) -> Option<usize> {
    let cells = &state.board.cells[service];
    let leave = state.board.problem.services[service].leave_cost;
    let parts_from = state.parts_from(service);
    let (mut best, mut found) = (0, None);
    for (at, cell) in cells.iter().enumerate() {
        if cell.own - leave >= best {
            break;
        }
        let added = state.added(service, cell);
        if added >= best || cell.day < parts_from || !state.has_hours(cell) || !state.has_gauge(service, cell.day) {
            continue;
        }
        if let Some((chance, times)) = &mut skips
            && chance.one_in(*times)
        {
            continue;
        }
        if state.fits(sheets, cell.day, Some((service, at))) {
            (best, found) = (added, Some(at));
        }
    }
    found
}

/// Puts services back in the order in which they stand.
pub(super) fn put_back(
    state: &mut State<'_>,
    sheets: &mut Sheets,
    services: &[usize],
    mut skips: Option<(&mut Chance, usize)>,
) {
    for service in services {
        if state.at[*service].is_some() {
            continue;
        }
        let place = cheapest(state, sheets, *service, skips.as_mut().map(|(chance, times)| (&mut **chance, *times)));
        if let Some(cell) = place {
            state.put(*service, cell);
        }
    }
}
