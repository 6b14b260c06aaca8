//! The force line of a stretch: one piece, or several where the force dropped at once in between.

use super::history::Stretch;
use super::straight::{Scatter, SlopePrior, Straight};
use chrono::NaiveDate;

/// A line and the day from which it holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub(super) from: NaiveDate,
    pub(super) line: Straight,
}

/// The pieces of a stretch, oldest first; none without readings. After a step drop the line starts
/// anew at the lower level, with the slope known by then.
pub(super) fn pieces(stretch: &Stretch, prior: SlopePrior, scatter: Scatter) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::with_capacity(1 + stretch.steps.len());
    let (mut prior, mut from, mut begin) = (prior, stretch.from, 0);
    let ends = stretch.steps.iter().map(|step| (step.index, Some(step.day))).chain([(stretch.force.len(), None)]);
    for (end, next_from) in ends {
        let points: Vec<(f64, f64)> =
            stretch.force.get(begin..end).unwrap_or_default().iter().map(|point| (point.k, point.y)).collect();
        if let Some(line) = Straight::through(&points, prior, scatter) {
            prior = SlopePrior { mean: line.slope, sd: line.slope_sd().max(0.25 * line.slope.abs()) };
            pieces.push(Piece { from, line });
        }
        begin = end;
        from = next_from.unwrap_or(from);
    }
    pieces
}
