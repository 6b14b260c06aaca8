//! The true force of a simulated spindle: what exposure takes, what services bring back.

use super::chance::{gamma, happens, normal, student};
use super::truth::{STEP, STEP_LASTING, Truth};
use crate::fleet::Dice;

/// The truth about one spindle, now.
#[derive(Debug, Clone)]
pub struct Wear<'a> {
    truth: &'a Truth,
    /// Force, percent of nominal.
    pub force: f64,
    /// What a service would bring back, but for its scatter.
    restorable: f64,
    /// Mean loss of the spindle per 2,000 h.
    mean_rate: f64,
    /// Loss of this interval per 2,000 h.
    rate: f64,
    /// Lasting loss per 2,000 h.
    lasting: f64,
    /// Exposure since the last service, in 2,000 h.
    pub since_service: f64,
}

/// A draw for a rate on the log scale; heavy ones are kept within a factor of 8.
fn spread(truth: &Truth, sd: f64, dice: &mut Dice) -> f64 {
    let draw = match truth.freedom {
        None => normal(dice),
        Some(freedom) => student(dice, freedom),
    };
    (sd * draw).clamp(-(8.0_f64.ln()), 8.0_f64.ln()).exp()
}

impl<'a> Wear<'a> {
    /// A new spindle.
    #[must_use]
    pub fn new(truth: &'a Truth, dice: &mut Dice) -> Self {
        let mean_rate = truth.loss * spread(truth, truth.between_spindles, dice);
        let restorable = truth.level.0 + truth.level.1 * normal(dice);
        let lasting = truth.lasting.0 * (truth.lasting.1 * normal(dice)).exp();
        let mut wear = Self { truth, force: 0.0, restorable, mean_rate, rate: 0.0, lasting, since_service: 0.0 };
        wear.restore(dice);
        wear
    }

    /// What a service leaves: the restorable level with its scatter, and a rate for the next interval.
    fn restore(&mut self, dice: &mut Dice) {
        self.force = self.restorable + self.truth.restored * normal(dice);
        self.rate = self.mean_rate * spread(self.truth, self.truth.between_intervals, dice);
        self.since_service = 0.0;
    }

    /// A service; a major one when too little would come back.
    pub fn service(&mut self, dice: &mut Dice) -> bool {
        let major = self.restorable < 91.0;
        if major {
            self.restorable = self.truth.level.0 + self.truth.level.1 * normal(dice);
            self.mean_rate *= (0.2 * normal(dice)).exp();
        }
        self.restore(dice);
        major
    }

    /// Run hours wear: a gamma process in s^p with the rate of the interval, a lasting loss, and
    /// now and then a disc spring that breaks, by dice of its own.
    pub fn run(&mut self, hours: f64, dice: &mut Dice, springs: &mut Dice) {
        if hours <= 0.0 {
            return;
        }
        let x = hours / 2000.0;
        let p = self.truth.curvature;
        let before = self.since_service;
        self.since_service += x;
        let g = if (p - 1.0).abs() < 1e-12 { x } else { self.since_service.powf(p) - before.powf(p) };
        // mean rate * g, variance roughness * g
        let scale = self.truth.roughness / self.rate;
        self.force -= scale * gamma(dice, self.rate * g / scale);
        let scale = self.truth.lasting_roughness / self.lasting;
        self.restorable -= scale * gamma(dice, self.lasting * x / scale);
        if self.truth.steps > 0.0 && happens(springs, -(-self.truth.steps * x).exp_m1()) {
            let drop = (STEP.0 + STEP.1 * normal(springs)).max(1.0);
            self.force -= drop;
            self.restorable -= (STEP_LASTING.0 * drop + STEP_LASTING.1 * normal(springs)).clamp(0.0, drop);
        }
    }

    /// Three strokes of one reading, percent of nominal, as a gauge shows them; a gross error has dice
    /// of its own.
    pub fn strokes(&self, dice: &mut Dice, gross: &mut Dice) -> Vec<f64> {
        let truth = self.truth;
        let by_stroke: [f64; 3] = std::array::from_fn(|_| normal(dice));
        let draw = if truth.freedom.is_some() { student(dice, 4.0) / 2.0_f64.sqrt() } else { normal(dice) };
        let mut shown = self.force * (1.0 + truth.set_up / 100.0 * draw);
        if happens(gross, truth.gross) {
            // the wrong adapter, a gauge not zeroed, the wrong spindle
            shown *= if happens(gross, 0.6) { gross.between(0.5, 0.92) } else { gross.between(1.08, 1.35) };
        }
        by_stroke.iter().map(|z| tenth(shown * (1.0 + truth.stroke / 100.0 * z)).max(0.1)).collect()
    }
}

fn tenth(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}
