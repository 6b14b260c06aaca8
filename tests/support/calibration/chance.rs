//! The laws that chance follows in a simulated fleet, drawn from repeatable dice.

use crate::fleet::Dice;

/// Dice of one purpose: a seed and a path of numbers (row, fleet, spindle, purpose) mixed by the
/// finaliser of splitmix64 (Steele, Lea and Flood 2014), so that streams next to each other do not
/// look alike and a change to one spindle leaves all others as they were.
#[must_use]
pub fn dice(seed: u64, path: &[u64]) -> Dice {
    let mut mixed = seed;
    for part in path {
        mixed = mixed.wrapping_add(0x9E37_79B9_7F4A_7C15).wrapping_add(*part);
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
    }
    Dice::new(mixed)
}

/// Above zero and at most 1.
fn above_zero(dice: &mut Dice) -> f64 {
    1.0 - dice.unit()
}

/// Standard normal, with its full tails (Box and Muller 1958).
pub fn normal(dice: &mut Dice) -> f64 {
    let radius = (-2.0 * above_zero(dice).ln()).sqrt();
    radius * (std::f64::consts::TAU * dice.unit()).cos()
}

/// Gamma of this shape and scale 1 (Marsaglia and Tsang 2000; below 1 by the power of an even one).
pub fn gamma(dice: &mut Dice, shape: f64) -> f64 {
    if shape < 1.0 {
        return gamma(dice, shape + 1.0) * above_zero(dice).powf(1.0 / shape);
    }
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let z = normal(dice);
        let v = (1.0 + c * z).powi(3);
        if v > 0.0 && above_zero(dice).ln() < 0.5 * z * z + d - d * v + d * v.ln() {
            return d * v;
        }
    }
}

/// Exponential with mean 1.
pub fn exponential(dice: &mut Dice) -> f64 {
    -above_zero(dice).ln()
}

/// Student's t of so many degrees of freedom: a normal over the root of a mean square.
pub fn student(dice: &mut Dice, freedom: f64) -> f64 {
    // the normal first: a row with heavy tails draws the same ones as a row without
    let z = normal(dice);
    let square = 2.0 * gamma(dice, 0.5 * freedom) / freedom;
    z / square.sqrt()
}

/// True with this chance.
pub fn happens(dice: &mut Dice, chance: f64) -> bool {
    dice.unit() < chance
}
