//! Chooses which services a move frees.

use super::state::State;
use crate::planning::chance::Chance;

/// Frees at least so many services, at most so many.
const FEWEST: usize = 2;
const MOST: usize = 9;

/// Chooses what to free; keeps its lists between moves.
#[derive(Debug, Default)]
pub(super) struct Ruin {
    /// Services to be put back: freed ones, and some that had no place.
    pub(super) loose: Vec<usize>,
    around: Vec<usize>,
    elsewhere: usize,
    days: Vec<usize>,
}

impl Ruin {
    /// Draws one in `elsewhere` of the moves anywhere, the others around these services, where there are any.
    pub(super) fn new(around: Vec<usize>, elsewhere: usize) -> Self {
        Self { around, elsewhere, ..Self::default() }
    }

    /// Chooses the services of one move.
    pub(super) fn choose(&mut self, state: &State<'_>, chance: &mut Chance) {
        self.loose.clear();
        let board = state.board;
        let seed = if !self.around.is_empty() && !chance.one_in(self.elsewhere) {
            self.around[chance.below(self.around.len())]
        } else {
            board.movable[chance.below(board.movable.len())]
        };
        let wanted = FEWEST + chance.below(MOST - FEWEST + 1);
        self.loose.push(seed);
        match chance.below(10) {
            0..=3 => self.near_day(state, chance, seed, wanted),
            4..=6 => self.two_days(state, chance, seed, wanted),
            7 => {
                let line = board.problem.machines[board.problem.services[seed].machine];
                self.some_of(chance, &board.of_line[line], wanted);
                self.near_day(state, chance, seed, wanted);
            }
            8 => {
                if let Some((part, _)) = board.problem.services[seed].parts.first() {
                    self.some_of(chance, &board.of_part[*part], wanted);
                }
                self.near_day(state, chance, seed, wanted);
            }
            _ => self.some_of(chance, &board.movable, wanted),
        }
        self.some_left(state, chance);
    }

    fn add(&mut self, service: usize) {
        if !self.loose.contains(&service) {
            self.loose.push(service);
        }
    }

    fn some_of(&mut self, chance: &mut Chance, of: &[usize], wanted: usize) {
        for _ in 0..wanted * 2 {
            if self.loose.len() >= wanted || of.is_empty() {
                break;
            }
            self.add(of[chance.below(of.len())]);
        }
    }

    /// A day that matters to a service: where it stands, or one of its cheapest.
    fn day_of(state: &State<'_>, chance: &mut Chance, service: usize) -> usize {
        let cells = &state.board.cells[service];
        match state.at[service] {
            Some(cell) => cells[cell].day,
            None => cells[chance.below(cells.len().min(12))].day,
        }
    }

    /// What stands on the days around, the nearest first.
    fn near_day(&mut self, state: &State<'_>, chance: &mut Chance, seed: usize, wanted: usize) {
        let day = Self::day_of(state, chance, seed);
        let last = state.days.len();
        let mut reach = 0;
        while self.loose.len() < wanted && (reach <= day || day + reach < last) {
            for near in [day.checked_sub(reach), Some(day + reach).filter(|d| reach > 0 && *d < last)] {
                self.of_day(state, chance, near, wanted);
            }
            reach += 1;
        }
    }

    fn of_day(&mut self, state: &State<'_>, chance: &mut Chance, day: Option<usize>, wanted: usize) {
        let Some(there) = day.and_then(|day| state.days.get(day)) else { return };
        if there.is_empty() {
            return;
        }
        let first = chance.below(there.len());
        for nth in 0..there.len() {
            if self.loose.len() >= wanted {
                break;
            }
            let (service, _) = there[(first + nth) % there.len()];
            if !chance.one_in(5) {
                self.add(service);
            }
        }
    }

    /// The day of the service and a day or two to which it might go.
    fn two_days(&mut self, state: &State<'_>, chance: &mut Chance, seed: usize, wanted: usize) {
        let cells = &state.board.cells[seed];
        self.days.clear();
        for _ in 0..2 {
            self.days.push(cells[chance.below(cells.len().min(16))].day);
        }
        self.days.push(Self::day_of(state, chance, seed));
        for nth in 0..self.days.len() {
            self.of_day(state, chance, Some(self.days[nth]), wanted);
        }
    }

    /// Services without a place try again with every move, some of them.
    fn some_left(&mut self, state: &State<'_>, chance: &mut Chance) {
        let movable = &state.board.movable;
        let first = chance.below(movable.len());
        let mut more = 3;
        for nth in 0..movable.len() {
            let service = movable[(first + nth) % movable.len()];
            if state.at[service].is_none() {
                self.add(service);
                more -= 1;
                if more == 0 {
                    break;
                }
            }
        }
    }
}
