//! From single strokes to one reading, and how well strokes repeat.

use super::parameters::STROKE_SD_PRIOR;

/// Weight of the prior repeatability in degrees of freedom.
const PRIOR_DF: f64 = 8.0;
/// Strokes further than this from their median, in percent of it, are no repeats.
const NO_REPEAT_PCT: f64 = 15.0;

/// One reading: mean of its strokes in percent of nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrokeMean {
    /// Percent of nominal.
    pub percent: f64,
    /// How many strokes it is worth.
    pub count: f64,
    /// How many were left out or doubted.
    pub dropped: usize,
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match (sorted.get(middle.wrapping_sub(1)), sorted.get(middle)) {
        (Some(low), Some(high)) if sorted.len().is_multiple_of(2) => 0.5 * (low + high),
        (_, Some(value)) => *value,
        _ => 0.0,
    }
}

/// Pooled repeatability in percent of the reading, from repeated strokes relative to their median;
/// prior 2 % worth 8 degrees of freedom.
#[must_use]
pub fn pooled_stroke_sd<'a>(readings: impl Iterator<Item = &'a [f64]>) -> f64 {
    let mut sum = PRIOR_DF * STROKE_SD_PRIOR * STROKE_SD_PRIOR;
    let mut df = PRIOR_DF;
    for strokes in readings.filter(|strokes| strokes.len() >= 2) {
        let middle = median(strokes);
        if middle <= 0.0 {
            continue;
        }
        let near: Vec<f64> = strokes
            .iter()
            .map(|stroke| 100.0 * stroke / middle)
            .filter(|relative| (relative - 100.0).abs() < NO_REPEAT_PCT)
            .collect();
        if near.len() < 2 {
            continue;
        }
        let mean = near.iter().sum::<f64>() / near.len() as f64;
        sum += near.iter().map(|relative| (relative - mean).powi(2)).sum::<f64>();
        df += near.len() as f64 - 1.0;
    }
    (sum / df).sqrt()
}

/// The mean of strokes given in kN. Of three or more, those further than 6 ss from the median are
/// dropped; two that differ by more than 12 ss count as the lower one, a quarter of a stroke.
#[must_use]
pub fn summarise(strokes: &[f64], nominal: f64, ss: f64) -> Option<StrokeMean> {
    let all: Vec<f64> = strokes.iter().filter(|s| **s > 0.0 && s.is_finite()).map(|s| 100.0 * s / nominal).collect();
    if all.is_empty() {
        return None;
    }
    let middle = median(&all);
    let tolerance = 6.0 * ss * middle / 100.0;
    let near: Vec<f64> = all.iter().copied().filter(|v| (v - middle).abs() <= tolerance.max(1e-9)).collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    if all.len() >= 3 && !near.is_empty() {
        return Some(StrokeMean { percent: mean(&near), count: near.len() as f64, dropped: all.len() - near.len() });
    }
    if let [a, b] = all[..]
        && (a - b).abs() > 2.0 * tolerance
    {
        return Some(StrokeMean { percent: a.min(b), count: 0.25, dropped: 1 });
    }
    Some(StrokeMean { percent: mean(&all), count: all.len() as f64, dropped: 0 })
}
