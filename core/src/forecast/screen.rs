//! Looking through the force readings of a stretch before a line is drawn: single slips, step drops
//! and services that nobody logged.
//!
//! A line cannot weigh a reading; what would bend it is sorted out by plain rules and named, never
//! in silence.

use super::groups::USUAL_LOSS;
use super::history::Point;
use crate::ids::ReadingId;
use crate::reading::Phase;
use crate::words;
use chrono::NaiveDate;

/// A fall between two readings beyond this, in percent of nominal, is not wear...
const STEP: f64 = 5.0;
/// ...on top of three times the usual loss over the hours between them.
const FAST: f64 = 3.0 * USUAL_LOSS;
/// A rise beyond this comes from a service or from a slip.
const RISE: f64 = 5.0;
/// The same for a reading taken as left.
const RISE_AS_LEFT: f64 = 3.0;

/// A drop at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Step {
    /// The first reading after it.
    pub(super) index: usize,
    pub(super) day: NaiveDate,
    /// The last reading before it.
    pub(super) day_before: NaiveDate,
    /// Percent of nominal.
    pub(super) size: f64,
}

/// What was found in one stretch.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Screened {
    pub(super) kept: Vec<Point>,
    pub(super) steps: Vec<Step>,
    /// The reading that ends the stretch although no service was logged, and the readings from it on.
    pub(super) unlogged: Option<(NaiveDate, Vec<Point>)>,
    pub(super) warnings: Vec<String>,
    /// Single slips, with what is wrong with them.
    pub(super) left_out: Vec<(ReadingId, String)>,
}

impl Screened {
    fn leave_out(&mut self, point: &Point, day: &str, why: String, advice: &str) {
        self.warnings.push(format!("clamp force of {day} left out: {why}{advice}"));
        self.left_out.push((point.id, why));
    }
}

/// Looks through the readings of a stretch, oldest first.
pub(super) fn screen(points: &[Point], as_of: NaiveDate) -> Screened {
    let mut found = Screened::default();
    for (index, point) in points.iter().enumerate() {
        let Some(last) = found.kept.last().copied() else {
            found.kept.push(*point);
            continue;
        };
        let next = points.get(index + 1);
        let change = point.y - last.y;
        let day = words::date_long(point.day, as_of);
        if change < -(STEP + FAST * (point.k - last.k).max(0.0)) {
            // back up again with the next reading: this one was the slip
            if next.is_some_and(|next| next.phase != Phase::AsLeft && next.y - point.y > -change / 2.0) {
                let lower = words::number(-change, 1);
                let why = format!("{lower} % lower than the readings before and after it");
                found.leave_out(point, &day, why, "");
                continue;
            }
            let size = -change - USUAL_LOSS * (point.k - last.k).max(0.0);
            found.steps.push(Step { index: found.kept.len(), day: point.day, day_before: last.day, size });
            let read_again = if next.is_none() { "; read it again" } else { "" };
            found.warnings.push(format!(
                "the force fell by {} % at once between {} and {day}: taken as a step drop{read_again}",
                words::number(-change, 1),
                words::date_long(last.day, as_of)
            ));
        } else if point.phase == Phase::AsLeft && change > RISE_AS_LEFT && last.phase != Phase::AsLeft {
            found.warnings.push(format!(
                "as left on {day} without a service on record: taken as one for the wear, not for the intervals"
            ));
            found.unlogged = Some((point.day, points.get(index..).unwrap_or_default().to_vec()));
            return found;
        } else if change > RISE {
            let higher = words::number(change, 1);
            match next {
                // it stays up: somebody serviced it
                Some(next) if next.y - last.y > change / 2.0 => {
                    found.warnings.push(format!(
                        "the force rose by {higher} % on {day}: a service that was not logged? taken as one for the wear"
                    ));
                    found.unlogged = Some((point.day, points.get(index..).unwrap_or_default().to_vec()));
                    return found;
                }
                Some(_) => {
                    let why = format!("{higher} % higher than the readings before and after it");
                    found.leave_out(point, &day, why, "");
                    continue;
                }
                // the lower figure stays until another reading settles it
                None => {
                    let why = format!("{higher} % higher than the reading before it");
                    found.leave_out(point, &day, why, "; read it again");
                    continue;
                }
            }
        }
        found.kept.push(*point);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn screened(values: &[(f64, f64, Phase)]) -> Screened {
        let first = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
        let points: Vec<Point> = values
            .iter()
            .zip(first.iter_weeks())
            .enumerate()
            .map(|(index, ((k, y, phase), day))| {
                let id = ReadingId::from_row(index as i64);
                Point { id, day, phase: *phase, k: *k, y: *y }
            })
            .collect();
        screen(&points, first)
    }

    const R: Phase = Phase::Routine;

    #[test]
    fn ordinary_wear_passes() {
        let found = screened(&[(0.0, 96.0, Phase::AsLeft), (0.5, 93.1, R), (1.0, 93.6, R), (1.5, 85.0, R)]);
        assert_eq!(found.kept.len(), 4);
        assert!(found.steps.is_empty() && found.warnings.is_empty());
    }

    #[test]
    fn one_low_reading_is_a_slip_two_are_a_step() {
        let found = screened(&[(0.0, 96.0, R), (0.1, 85.0, R), (0.2, 95.0, R)]);
        assert_eq!((found.kept.len(), found.steps.len(), found.warnings.len()), (2, 0, 1));
        let why = "11.0 % lower than the readings before and after it".to_owned();
        assert_eq!(found.left_out, [(ReadingId::from_row(1), why)]);
        let found = screened(&[(0.0, 96.0, R), (0.1, 85.0, R), (0.2, 84.6, R)]);
        assert_eq!((found.kept.len(), found.steps.len()), (3, 1));
        // 11 % less 6 % per 1,000 h over 100 h
        assert!((found.steps[0].size - 10.4).abs() < 1e-9);
    }

    #[test]
    fn a_last_low_reading_is_taken_at_its_word() {
        let found = screened(&[(0.0, 96.0, R), (0.1, 85.0, R)]);
        assert_eq!((found.kept.len(), found.steps.len()), (2, 1));
        assert!(found.warnings[0].ends_with("read it again"));
    }

    #[test]
    fn a_last_high_reading_waits_for_another() {
        let found = screened(&[(0.0, 90.0, R), (0.1, 97.0, R)]);
        assert_eq!(found.kept.len(), 1);
        assert!(found.unlogged.is_none());
        assert_eq!(found.left_out[0].0, ReadingId::from_row(1));
        let found = screened(&[(0.0, 90.0, R), (0.1, 97.0, R), (0.2, 89.0, R)]);
        assert_eq!(found.kept.len(), 2);
    }

    #[test]
    fn a_rise_that_stays_is_a_service() {
        let found = screened(&[(0.0, 90.0, R), (0.1, 97.0, R), (0.2, 96.0, R)]);
        assert_eq!(found.unlogged.unwrap().1.len(), 2);
        let found = screened(&[(0.0, 90.0, R), (0.1, 94.0, Phase::AsLeft)]);
        assert_eq!(found.unlogged.unwrap().1.len(), 1);
    }
}
