//! Raising a bound step by step: a subgradient with momentum and a target level.
//!
//! Each step goes as far as the slope says the target level is away (Polyak's step), along a running
//! mean of the slopes. The level is the best value so far and a share of the plan's cost; after some
//! steps without gain it is lowered and the search starts again from the best prices. Any prices
//! give a valid bound, so the steps may be of any length: only their value decides.

use super::day::Fine;

/// Share of the running mean that stays at each step.
const MOMENTUM: f64 = 0.9;
/// Steps without gain until the target level is lowered.
const PATIENCE: u32 = 40;
/// What is left of its distance then.
const LOWERED: f64 = 0.75;
/// A gain under this share of the plan's cost is none.
const LEAST_GAIN: f64 = 1e-5;

/// The search for the best prices.
#[derive(Debug, Clone)]
pub(super) struct Ascent {
    /// Highest price of each row; the lowest is nothing.
    highest: Vec<Fine>,
    /// How much a row's price moves against the others'.
    scale: Vec<f64>,
    /// Running mean of the steps.
    run: Vec<f64>,
    /// The target level above the best.
    level: f64,
    stretch: f64,
    plan: f64,
    still: u32,
    /// The best bound so far.
    pub best: Fine,
    /// The prices that gave it.
    pub best_at: Vec<Fine>,
}

impl Ascent {
    /// `plan` is what a known plan costs, `level` the first target as a share of it.
    pub(super) fn new(highest: Vec<Fine>, scale: Vec<f64>, plan: Fine, level: f64, stretch: f64) -> Self {
        let rows = highest.len();
        Self {
            highest,
            scale,
            run: vec![0.0; rows],
            level: plan as f64 * level,
            stretch,
            plan: plan as f64,
            still: 0,
            best: Fine::MIN,
            best_at: vec![0; rows],
        }
    }

    /// Takes the value at the prices and moves them; false where no price could do better.
    pub(super) fn step(&mut self, prices: &mut [Fine], value: Fine, slope: &mut [f64]) -> bool {
        if value > self.best {
            let gain = value as f64 - self.best as f64;
            self.still = if gain > LEAST_GAIN * self.plan { 0 } else { self.still + 1 };
            self.best = value;
            self.best_at.copy_from_slice(prices);
        } else {
            self.still += 1;
        }
        if self.still >= PATIENCE {
            self.level *= LOWERED;
            self.still = 0;
            prices.copy_from_slice(&self.best_at);
            self.run.fill(0.0);
        }
        let mut norm = 0.0;
        for (row, along) in slope.iter_mut().enumerate() {
            let is_stuck = (prices[row] <= 0 && *along < 0.0) || (prices[row] >= self.highest[row] && *along > 0.0);
            *along = if is_stuck { 0.0 } else { *along * self.scale[row] };
            norm += *along * *along;
        }
        if norm < 1e-12 {
            return false;
        }
        let target = (self.best as f64 + self.level).min(self.plan.max(self.best as f64));
        let length = self.stretch * (target - value as f64).max(0.0) / norm;
        for (row, along) in slope.iter().enumerate() {
            self.run[row] = MOMENTUM * self.run[row] + (1.0 - MOMENTUM) * length * along;
            let moved = prices[row] as f64 + self.run[row] * self.scale[row];
            // whole prices: the conversion cuts, which is as good a price as any
            prices[row] = (moved.max(0.0) as Fine).min(self.highest[row]);
        }
        true
    }
}
