//! Where a reading leaves several explanations open, each keeps a state of its own until later readings
//! decide: a bank of filters (a Gaussian sum: Alspach and Sorenson 1972).

use super::filter::{Covariance, Event, Filter, LEAST_WEIGHT, Mean, Occasion, RATE, Reading};

/// One of several states between which readings have not decided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// How likely it is.
    pub weight: f64,
    /// Mean.
    pub mean: Mean,
    /// Covariance.
    pub covariance: Covariance,
    /// Mean and variance that the rate had at the last service.
    pub rate_prior: (f64, f64),
}

/// A hypothesis heavier than this gets a filter of its own until later readings decide.
const UNDECIDED: f64 = 0.05;
/// A state lighter than this is dropped.
const LEAST_STATE: f64 = 0.02;
/// At most so many states.
const MOST_STATES: usize = 4;

/// One event for a filter that keeps states apart, and for each of them.
pub(super) fn apply(filter: &mut Filter<'_>, event: &Event) {
    let Event::Read { y, strokes, occasion } = *event else {
        for (_, state) in &mut filter.bank {
            state.apply_alone(event);
        }
        filter.apply_alone(event);
        return;
    };
    if filter.bank.is_empty() {
        let weighing = filter.weigh(y, strokes, occasion);
        if is_undecided(&weighing.weighed.weights) {
            filter.bank = heaviest(filter.read_apart(y, strokes, occasion)).unwrap_or_default();
        }
        filter.take(&weighing);
        return;
    }
    let bank = filter.bank.iter();
    let grown = bank.flat_map(|(weight, state)| {
        state.read_apart(y, strokes, occasion).into_iter().map(move |(chance, state)| (weight * chance, state))
    });
    // where no state can have made this reading, it tells them nothing
    if let Some(bank) = heaviest(grown.collect()) {
        filter.bank = bank;
    }
    filter.apply_alone(event);
}

fn is_undecided(weights: &[f64; 4]) -> bool {
    weights.iter().filter(|weight| **weight > UNDECIDED).count() > 1
}

/// The heaviest states, with chances that sum to one; `None` where none has a chance.
fn heaviest<'a>(mut states: Vec<(f64, Filter<'a>)>) -> Option<Vec<(f64, Filter<'a>)>> {
    states.sort_by(|a, b| b.0.total_cmp(&a.0));
    let total: f64 = states.iter().map(|(weight, _)| weight).sum();
    if total <= 0.0 || !total.is_finite() {
        return None;
    }
    states.retain(|(weight, _)| *weight > LEAST_STATE * total);
    states.truncate(MOST_STATES);
    let total: f64 = states.iter().map(|(weight, _)| weight).sum();
    for (weight, _) in &mut states {
        *weight /= total;
    }
    Some(states)
}

impl<'a> Filter<'a> {
    /// The states between which readings have not decided, where there are several. Where one is left,
    /// what one Gaussian made of all of them is the more cautious.
    pub fn apart(&self) -> impl Iterator<Item = State> + '_ {
        self.open().iter().map(|(weight, f)| State {
            weight: *weight,
            mean: f.mean,
            covariance: f.covariance,
            rate_prior: f.rate_prior,
        })
    }

    /// The same as filters.
    pub(super) fn open(&self) -> &[(f64, Self)] {
        if self.bank.len() > 1 { &self.bank } else { &[] }
    }

    /// Expected numbers of readings so far that were normal, gross errors, after a step, and after a service
    /// that nobody logged: as later readings have decided where they did.
    #[must_use]
    pub fn counted(&self) -> [f64; 4] {
        if self.bank.is_empty() {
            return self.counted;
        }
        std::array::from_fn(|i| self.bank.iter().map(|(weight, state)| weight * state.counted[i]).sum())
    }

    /// This Gaussian, which goes on by itself.
    fn alone(&self) -> Self {
        Self { log: Vec::new(), bank: Vec::new(), keeps_apart: false, ..*self }
    }

    /// The same reading with a filter for each hypothesis that weighs enough; the others go with the
    /// heaviest.
    fn read_apart(&self, y: f64, strokes: f64, occasion: Occasion) -> Vec<(f64, Self)> {
        let mut together = self.alone();
        together.read(y, strokes, occasion);
        let chance = (together.log_likelihood - self.log_likelihood).exp();
        let Some(weighed) = together.log.pop() else { return Vec::new() };
        if !is_undecided(&weighed.weights) {
            return vec![(chance, together)];
        }
        let heavy = |weight: f64| weight > UNDECIDED;
        let noise = self.reading_variance(strokes);
        let top = weighed.weights.iter().copied().fold(0.0, f64::max);
        let mut states = Vec::new();
        for (i, weight) in weighed.weights.iter().copied().enumerate().filter(|(_, weight)| heavy(*weight)) {
            let is_heaviest = weight >= top;
            let own: [f64; 4] = std::array::from_fn(|j| {
                let other = weighed.weights[j];
                if i == j || is_heaviest && !heavy(other) && other >= LEAST_WEIGHT { other } else { 0.0 }
            });
            let sum: f64 = own.iter().sum();
            let shares = own.map(|weight| weight / sum);
            let mut state = self.alone();
            state.collapse(&Reading { y, noise }, &shares);
            state.count(&shares);
            if shares[3] > 0.5 {
                state.rate_prior = (state.mean[RATE], state.covariance[RATE][RATE]);
            }
            state.gap = 0.0;
            states.push((chance * sum, state));
        }
        states
    }
}
