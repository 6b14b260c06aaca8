//! One run of ruin and recreate under a falling temperature.

use super::recreate::{Order, put_back};
use super::ruin::Ruin;
use super::state::{Sheets, State};
use crate::planning::chance::Chance;

/// The temperature falls in so many steps, each by 1000/1075: over all of them to a hundredth.
const STEPS: u64 = 64;

/// One candidate in so many is passed over by chance.
const SKIPS: usize = 24;

/// Once in so many moves one service is put where it is not cheapest.
const DARES: usize = 12;
/// To one of so many of its places.
const DARED: usize = 16;

/// A run on its way.
#[derive(Debug)]
pub(super) struct Run<'a> {
    pub(super) state: State<'a>,
    pub(super) best: Vec<Option<usize>>,
    pub(super) best_cost: i64,
    chance: Chance,
    ruin: Ruin,
    before: Vec<Option<usize>>,
    moves: u64,
    done: u64,
    /// In 1/1024 cent; zero: only what is cheaper or equal is taken.
    temperature: i64,
}

impl<'a> Run<'a> {
    /// A run of so many moves from a plan.
    pub(super) fn new(state: State<'a>, seed: u64, moves: u64, hot: i64, ruin: Ruin) -> Self {
        Self {
            best: state.at.clone(),
            best_cost: state.cost,
            state,
            chance: Chance::new(seed),
            ruin,
            before: Vec::new(),
            moves,
            done: 0,
            temperature: hot << 10,
        }
    }

    /// Goes on for so many moves; gives how many were left to do.
    pub(super) fn go_on(&mut self, sheets: &mut Sheets, moves: u64) -> u64 {
        let until = (self.done + moves).min(self.moves);
        while self.done < until {
            self.one_move(sheets);
            self.done += 1;
            if self.done * STEPS / self.moves > (self.done - 1) * STEPS / self.moves {
                self.temperature = self.temperature * 1000 / 1075;
            }
        }
        self.moves - self.done
    }

    fn one_move(&mut self, sheets: &mut Sheets) {
        let Self { state, chance, ruin, before, .. } = self;
        let cost = state.cost;
        ruin.choose(state, chance);
        before.clear();
        before.extend(ruin.loose.iter().map(|service| state.at[*service]));
        for service in &ruin.loose {
            state.take(*service);
        }
        // the list is shuffled below: what stood where is kept by service
        let freed: Vec<(usize, Option<usize>)> = ruin.loose.iter().copied().zip(before.iter().copied()).collect();
        let order = Order::any(chance);
        order.sort(state, chance, &mut ruin.loose);
        if chance.one_in(DARES)
            && let Some(first) = ruin.loose.first()
        {
            dare(state, sheets, chance, *first);
        }
        put_back(state, sheets, &ruin.loose, Some((chance, SKIPS)));
        let dearer = state.cost - cost;
        let allowed = dearer <= 0 || dearer <= (self.temperature * chance.exponential()) >> 20;
        // a sheet can be spoilt by taking something off: days that lost work need one again
        let board = state.board;
        let holds = allowed
            && freed
                .iter()
                .all(|(service, was)| was.is_none_or(|cell| state.fits(sheets, board.cells[*service][cell].day, None)));
        if !holds {
            for (service, was) in &freed {
                if state.at[*service] != *was {
                    state.take(*service);
                }
            }
            for (service, was) in freed {
                if let Some(cell) = was.filter(|_| state.at[service].is_none()) {
                    state.put(service, cell);
                }
            }
        } else if state.cost < self.best_cost {
            self.best_cost = state.cost;
            self.best.clone_from(&state.at);
        }
    }
}

/// Puts a service to one of its cheaper places by chance, so that another that needs it there, to
/// begin the stop or to share its lockout and visit, can follow.
fn dare(state: &mut State<'_>, sheets: &mut Sheets, chance: &mut Chance, service: usize) {
    let cells = &state.board.cells[service];
    let at = chance.below(cells.len().min(DARED));
    let cell = &cells[at];
    let may = cell.day >= state.parts_from(service) && state.has_hours(cell) && state.has_gauge(service, cell.day);
    if may && state.fits(sheets, cell.day, Some((service, at))) {
        state.put(service, at);
    }
}
