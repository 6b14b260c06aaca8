//! What a reading that is yet to be taken may show.

use super::filter::{Filter, Occasion, after_step, restored};
use super::setting_dimension::{self, DimensionFilter, DimensionParameters};

/// One reading that may come, with its share of all that may.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pretended {
    /// Its chance; those of all sum to one.
    pub chance: f64,
    /// The reading.
    pub y: f64,
}

/// Points of the normal law in standard deviations from -3.5 to 3.5: a trapezoid, which for a
/// smooth function of a Gaussian is as exact as its ends allow (Trefethen and Weideman 2014).
const NORMAL_POINTS: usize = 11;
const NORMAL_REACH: f64 = 3.5;
/// The same for what seldom happens.
const RARE_POINTS: usize = 5;
const RARE_REACH: f64 = 2.4;
/// Further than this above what is expected only a gross error reaches.
const FAR_OFF: f64 = 150.0;
/// Standard deviations by which a setting dimension is surely set aside.
const FAR_OFF_SD: f64 = 12.0;

fn spread<const N: usize>(into: &mut Vec<Pretended>, reach: f64, chance: f64, mean: f64, variance: f64) {
    let z: [f64; N] = std::array::from_fn(|i| -reach + 2.0 * reach * i as f64 / (N - 1) as f64);
    let raw = z.map(|z| (-0.5 * z * z).exp());
    let total: f64 = raw.iter().sum();
    let sd = variance.sqrt();
    into.extend(z.iter().zip(raw).map(|(z, raw)| Pretended { chance: chance * raw / total, y: mean + sd * z }));
}

/// The law of the next force reading under the hypotheses of the filter, as points: ordinary, after
/// a step drop, after a service that nobody logged, and a gross error.
///
/// The chances are those by which the filter will weigh the reading, so what it makes of the points
/// is on average what it holds now.
#[must_use]
pub fn force_readings(filter: &Filter<'_>, strokes: f64, occasion: Occasion) -> Vec<Pretended> {
    let mut points = Vec::with_capacity(NORMAL_POINTS + 2 * RARE_POINTS + 1);
    if filter.open().is_empty() {
        add_force_readings(&mut points, 1.0, filter, strokes, occasion);
    }
    for (weight, state) in filter.open() {
        add_force_readings(&mut points, *weight, state, strokes, occasion);
    }
    points
}

/// Those of one Gaussian that holds with this chance.
fn add_force_readings(points: &mut Vec<Pretended>, chance: f64, filter: &Filter<'_>, strokes: f64, occasion: Occasion) {
    let par = filter.parameters;
    let (m, p) = (&filter.mean, &filter.covariance);
    // the filter takes the scatter at the level that it expects, whatever the hypothesis
    let noise = filter.reading_variance(strokes);
    if !par.is_robust {
        spread::<NORMAL_POINTS>(points, NORMAL_REACH, chance, m[0], p[0][0] + noise);
        return;
    }
    let step = filter.step_chance();
    let unlogged = if occasion == Occasion::AsLeft { 0.0 } else { par.unlogged_chance };
    let normal = 1.0 - par.gross_chance - step - unlogged;
    spread::<NORMAL_POINTS>(points, NORMAL_REACH, chance * normal, m[0], p[0][0] + noise);
    let (dropped, dropped_p) = after_step(m, p);
    spread::<RARE_POINTS>(points, RARE_REACH, chance * step, dropped[0], dropped_p[0][0] + noise);
    if unlogged > 0.0 {
        let (back, back_p) = restored(par, m, p);
        spread::<RARE_POINTS>(points, RARE_REACH, chance * unlogged, back[0], back_p[0][0] + noise);
    }
    points.push(Pretended { chance: chance * par.gross_chance, y: m[0] + FAR_OFF });
}

/// The law of the next setting-dimension reading, as points.
#[must_use]
pub fn dimension_readings(filter: &DimensionFilter, par: &DimensionParameters) -> Vec<Pretended> {
    let gross = setting_dimension::GROSS_CHANCE;
    let variance = filter.covariance[0][0] + par.reading_sd * par.reading_sd;
    let mut points = Vec::with_capacity(NORMAL_POINTS + 1);
    spread::<NORMAL_POINTS>(&mut points, NORMAL_REACH, 1.0 - gross, filter.mean[0], variance);
    points.push(Pretended { chance: gross, y: filter.mean[0] + FAR_OFF_SD * variance.sqrt() });
    points
}
