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

/// Readings of up to so many strokes need no memory of their own.
const USUAL_STROKES: usize = 8;

/// The mean of strokes given in kN. Of three or more, those further than 6 ss from the median are
/// dropped; two that differ by more than 12 ss count as the lower one, a quarter of a stroke.
#[must_use]
pub fn summarise(strokes: &[f64], nominal: f64, ss: f64) -> Option<StrokeMean> {
    let (mut here, mut elsewhere) = ([0.0; USUAL_STROKES], Vec::new());
    let place = if strokes.len() <= USUAL_STROKES {
        &mut here[..]
    } else {
        elsewhere.resize(strokes.len(), 0.0);
        &mut elsewhere[..]
    };
    let mut count = 0;
    for (slot, stroke) in place.iter_mut().zip(strokes.iter().filter(|s| **s > 0.0 && s.is_finite())) {
        *slot = 100.0 * stroke / nominal;
        count += 1;
    }
    let all = place.get_mut(..count)?;
    // summed in the order in which they were taken
    let whole = all.iter().sum::<f64>();
    if let [a, b] = all[..] {
        let tolerance = 6.0 * ss * 0.5 * (a + b) / 100.0;
        if (a - b).abs() > 2.0 * tolerance {
            return Some(StrokeMean { percent: a.min(b), count: 0.25, dropped: 1 });
        }
    }
    if count < 3 {
        return (count > 0).then(|| StrokeMean { percent: whole / count as f64, count: count as f64, dropped: 0 });
    }
    all.sort_by(f64::total_cmp);
    let middle = 0.5 * (all[(count - 1) / 2] + all[count / 2]);
    let tolerance = (6.0 * ss * middle / 100.0).max(1e-9);
    let near = || all.iter().filter(|v| (**v - middle).abs() <= tolerance);
    let kept = near().count();
    if kept == 0 {
        return Some(StrokeMean { percent: whole / count as f64, count: count as f64, dropped: 0 });
    }
    Some(StrokeMean { percent: near().sum::<f64>() / kept as f64, count: kept as f64, dropped: count - kept })
}
