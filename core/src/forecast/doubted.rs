//! Doubted readings: the strokes that fit what was read before and after stay in the forecast.
//!
//! A figure is doubted for a reason, so it neither sets nor clears a limit; but a slip in one stroke
//! is no reason to forget the others. What nothing fits is left out, and named.

use super::groups::USUAL_LOSS;
use super::history::Point;
use crate::ids::ReadingId;

/// How far from what is expected a stroke may lie, in percent of nominal.
const REACH: f64 = 5.0;
/// The same for a deviation from the setting dimension, in tolerances.
const REACH_TOLERANCES: f64 = 1.0;

/// A doubted reading, stroke by stroke.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Doubted {
    /// With the mean of all strokes.
    pub(super) point: Point,
    /// In the unit of the point.
    pub(super) strokes: Vec<f64>,
    pub(super) doubt: String,
    /// `clamp force of 2 March`.
    pub(super) what: String,
}

/// How a quantity may change between two readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    width: f64,
    /// Usual fall per 1,000 run hours.
    fall: f64,
}

/// Clamp force in percent of nominal.
pub(super) const FORCE: Reach = Reach { width: REACH, fall: USUAL_LOSS };
/// Setting dimension in tolerances.
pub(super) const SETTING: Reach = Reach { width: REACH_TOLERANCES, fall: 0.0 };

/// What becomes of a doubted reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Verdict {
    /// It stays with the mean of the strokes that fit; said in the words.
    Kept(Point, String),
    /// Nothing fits; said in the words.
    LeftOut(ReadingId, String, String),
}

/// Weighs a doubted reading against the others of its stretch, oldest first.
pub(super) fn weigh(doubted: &Doubted, others: &[Point], reach: Reach) -> Verdict {
    let fitting: Vec<f64> = match expected(&doubted.point, others, reach) {
        Some((low, high)) => doubted.strokes.iter().copied().filter(|y| (low..=high).contains(y)).collect(),
        None => majority(&doubted.strokes, reach.width),
    };
    let Doubted { point, strokes, doubt, what } = doubted;
    if fitting.is_empty() {
        let warning = format!("{what} left out: {doubt}");
        return Verdict::LeftOut(point.id, doubt.clone(), warning);
    }
    let mean = fitting.iter().sum::<f64>() / fitting.len() as f64;
    let counted = if fitting.len() == strokes.len() {
        "counts all the same, as it fits the readings around it".to_owned()
    } else {
        format!("counts with {} of its {} strokes", fitting.len(), strokes.len())
    };
    Verdict::Kept(Point { y: mean, ..*point }, format!("{what} doubted ({doubt}): {counted}"))
}

/// What may be expected by the readings before and after it; `None` without any.
fn expected(point: &Point, others: &[Point], reach: Reach) -> Option<(f64, f64)> {
    let after = others.partition_point(|other| (other.day, other.phase) <= (point.day, point.phase));
    let before = after.checked_sub(1).and_then(|index| others.get(index));
    let after = others.get(after);
    let fall = |from: f64, to: f64| reach.fall * (to - from).max(0.0);
    let (low, high) = match (before, after) {
        (Some(before), Some(after)) => (before.y.min(after.y), before.y.max(after.y)),
        (Some(before), None) => (before.y - fall(before.k, point.k), before.y),
        (None, Some(after)) => (after.y, after.y + fall(point.k, after.k)),
        (None, None) => return None,
    };
    Some((low - reach.width, high + reach.width))
}

/// The strokes that more than half of the others bear out; none where all agree, as the doubt is
/// then about the whole figure.
fn majority(strokes: &[f64], width: f64) -> Vec<f64> {
    let mut sorted = strokes.to_vec();
    sorted.sort_by(f64::total_cmp);
    let Some(middle) = sorted.get(sorted.len() / 2).copied() else { return Vec::new() };
    let near: Vec<f64> = strokes.iter().copied().filter(|y| (y - middle).abs() <= width).collect();
    if near.len() * 2 > strokes.len() && near.len() < strokes.len() { near } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Phase;
    use chrono::NaiveDate;

    fn point(day: u32, k: f64, y: f64) -> Point {
        let id = ReadingId::from_row(i64::from(day));
        let day = NaiveDate::from_ymd_opt(2026, 1, day).unwrap();
        Point { id, day, phase: Phase::Routine, k, y }
    }

    fn doubted(day: u32, k: f64, strokes: &[f64]) -> Doubted {
        let mean = strokes.iter().sum::<f64>() / strokes.len() as f64;
        let what = "clamp force of 9 January".to_owned();
        Doubted { point: point(day, k, mean), strokes: strokes.to_vec(), doubt: "one far off".to_owned(), what }
    }

    #[test]
    fn one_bad_stroke_leaves_the_good_ones() {
        let others = [point(1, 0.0, 90.0), point(20, 0.2, 88.0)];
        let found = weigh(&doubted(9, 0.1, &[89.0, 8.9, 90.0]), &others, FORCE);
        let Verdict::Kept(kept, said) = found else { panic!("{found:?}") };
        assert!((kept.y - 89.5).abs() < 1e-9);
        assert_eq!(said, "clamp force of 9 January doubted (one far off): counts with 2 of its 3 strokes");
    }

    #[test]
    fn what_fits_counts_whole_and_what_does_not_is_left_out() {
        let others = [point(1, 0.0, 90.0)];
        let found = weigh(&doubted(9, 0.5, &[84.0]), &others, FORCE);
        assert!(matches!(found, Verdict::Kept(_, said) if said.contains("counts all the same")));
        // 3 % of wear and 5 % of reach below 90 %: 81 % no longer
        let found = weigh(&doubted(9, 0.5, &[81.0]), &others, FORCE);
        assert!(matches!(found, Verdict::LeftOut(_, why, said) if why == "one far off" && said.contains("left out")));
    }

    #[test]
    fn alone_the_majority_of_its_strokes_counts() {
        assert_eq!(majority(&[90.0, 9.1, 91.0], 5.0), [90.0, 91.0]);
        assert!(majority(&[90.0, 9.1], 5.0).is_empty(), "two of two opinions");
        assert!(majority(&[19.0, 19.1, 19.2], 5.0).is_empty(), "the doubt is about all of them");
    }
}
