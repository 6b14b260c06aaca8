//! From meter readings to cumulative exposure.

use super::improvements::Improvements;
use super::working_days::WorkingDays;
pub use crate::exposure::{Curve, Knot};
use std::collections::BTreeMap;

/// What a meter showed on a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// Day number.
    pub day: i64,
    /// The figure.
    pub value: f64,
    /// First reading of a new meter.
    pub is_new_meter: bool,
}

/// What a meter went on between two figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Day of the first figure.
    pub from: f64,
    /// Day of the second one.
    pub to: f64,
    /// Working days between them.
    pub work: f64,
    /// Exposure per working day.
    pub level: f64,
}

/// A segment of fewer working days says nothing of usage.
const SHORTEST_WORK: f64 = 3.0;

/// A fall of more than this starts a new meter.
const FALL: f64 = 0.5;

/// Figures that fall and are no new meter are left out: a fall that the next figure contradicts by
/// going on from the one before it, whatever its depth; and any fall to no less than half, which no
/// new meter shows so soon. Where the lower figure goes on from the last but one and the next goes
/// on from the lower, the high figure between them is the odd one. The same rules make the meters
/// of a shop whole (`exposure::counter`).
fn without_misread(by_day: BTreeMap<i64, (f64, bool)>) -> BTreeMap<i64, (f64, bool)> {
    let figures: Vec<(i64, (f64, bool))> = by_day.into_iter().collect();
    let mut kept: Vec<(i64, (f64, bool))> = Vec::with_capacity(figures.len());
    for (i, (day, (value, new))) in figures.iter().copied().enumerate() {
        let last = kept.last().map(|(_, (last, _))| *last);
        let Some(last) = last.filter(|last| !new && value < last - FALL) else {
            kept.push((day, (value, new)));
            continue;
        };
        let next = figures.get(i + 1).filter(|(_, (_, new))| !new).map(|(_, (next, _))| *next);
        if next.is_some_and(|next| next >= last - FALL) {
            continue;
        }
        if value < 0.5 * last {
            kept.push((day, (value, new)));
            continue;
        }
        let last_is_same_meter = kept.last().is_some_and(|(_, (_, new))| !new);
        let earlier = kept.len().checked_sub(2).and_then(|at| kept.get(at)).map(|(_, (earlier, _))| *earlier);
        let goes_on_from_earlier = last_is_same_meter && earlier.is_some_and(|earlier| value >= earlier - FALL);
        if goes_on_from_earlier && next.is_some_and(|next| next >= value - FALL) {
            kept.pop();
            kept.push((day, (value, new)));
        }
    }
    kept.into_iter().collect()
}

impl Curve {
    /// The segments that tell usage, up to a day.
    pub fn segments(&self, as_of: f64) -> impl Iterator<Item = Segment> {
        let knots = self.knots();
        knots
            .iter()
            .zip(knots.iter().skip(1))
            .take_while(move |(_, next)| next.day <= as_of)
            .map(|(last, next)| {
                let work = next.work - last.work;
                Segment { from: last.day, to: next.day, work, level: (next.sum - last.sum) / work }
            })
            .filter(|segment| segment.work >= SHORTEST_WORK)
    }

    /// The curve of meter readings in any order. Of one day the larger figure counts; a fall or the
    /// flag starts a new meter, the unseen part is filled at the mean rate so far (at least what the
    /// new meter shows, where nothing says that it is new).
    #[must_use]
    pub fn new(readings: impl Iterator<Item = Shown>, calendar: &WorkingDays) -> Self {
        Self::with(readings, calendar, Improvements::none())
    }

    /// The same with these improvements.
    #[must_use]
    pub fn with(readings: impl Iterator<Item = Shown>, calendar: &WorkingDays, improvements: Improvements) -> Self {
        let mut by_day: BTreeMap<i64, (f64, bool)> = BTreeMap::new();
        for shown in readings {
            let new = shown.is_new_meter;
            let entry = match by_day.get(&shown.day) {
                None => (shown.value, new),
                Some((value, false)) if !new => (shown.value.max(*value), false),
                Some(_) if new => (shown.value, true),
                Some(old) => (old.0, true),
            };
            by_day.insert(shown.day, entry);
        }
        let by_day = if improvements.misread_meters { without_misread(by_day) } else { by_day };
        let mut knots = Vec::with_capacity(by_day.len());
        let (mut sum, mut seen, mut seen_work) = (0.0, 0.0, 0.0);
        let mut before: Option<(f64, f64)> = None;
        for (day, (value, new)) in by_day {
            let day = day as f64;
            if let Some((last_day, last_value)) = before {
                let mut gain: f64 = value - last_value;
                let work = calendar.until(day) - calendar.until(last_day);
                if new || gain < -FALL {
                    let filled: f64 = if seen_work > 0.0 { seen / seen_work * work } else { 0.0 };
                    gain = filled.max(0.0).max(if new { 0.0 } else { value });
                } else {
                    gain = gain.max(0.0);
                    seen += gain;
                    seen_work += work;
                }
                sum += gain;
            }
            before = Some((day, value));
            knots.push(Knot { day, sum, work: calendar.until(day) });
        }
        Self::through(&knots)
    }

    /// Exposure at a day: with working days between meter readings, at `rate` beyond them.
    #[must_use]
    pub fn at(&self, calendar: &WorkingDays, t: f64, rate: f64) -> f64 {
        let mut anywhere = usize::MAX;
        self.at_near(calendar, t, rate, &mut anywhere)
    }

    /// The same for days that mostly ascend: `near` is the place of the knot before the day that was asked for last;
    /// any number at first.
    #[must_use]
    pub fn at_near(&self, calendar: &WorkingDays, t: f64, rate: f64, near: &mut usize) -> f64 {
        let knots = self.knots();
        let (Some(first), Some(last)) = (knots.first(), knots.last()) else {
            return rate * calendar.until(t);
        };
        if t >= last.day {
            return last.sum + rate * (calendar.until(t) - calendar.until(last.day));
        }
        if t <= first.day {
            return first.sum - rate * (calendar.until(first.day) - calendar.until(t));
        }
        let is_between = |i: usize| matches!(knots.get(i..i + 2), Some([a, b]) if a.day <= t && t < b.day);
        let i = match *near {
            i if i < knots.len() && is_between(i) => i,
            i if i < knots.len() && is_between(i + 1) => i + 1,
            _ => knots.partition_point(|knot| knot.day <= t) - 1,
        };
        *near = i;
        let (before, after) = (knots[i], knots[i + 1]);
        let (a0, a1) = (calendar.until(before.day), calendar.until(after.day));
        let share = if a1 > a0 { (calendar.until(t) - a0) / (a1 - a0) } else { 0.0 };
        before.sum + share * (after.sum - before.sum)
    }

    /// Its long-run rate per working day; `None` under so many working days.
    #[must_use]
    pub fn long_run_rate(&self, least_work: f64) -> Option<f64> {
        let (first, last) = (self.knots().first()?, self.knots().last()?);
        let work = last.work - first.work;
        (work >= least_work).then(|| (last.sum - first.sum) / work)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sums(figures: &[(i64, f64)], improvements: Improvements) -> Vec<f64> {
        let calendar = WorkingDays::new(std::iter::repeat_n(1.0, 200));
        let shown = figures.iter().map(|(day, value)| Shown { day: *day, value: *value, is_new_meter: false });
        Curve::with(shown, &calendar, improvements).knots().iter().map(|knot| knot.sum).collect()
    }

    #[test]
    fn a_misread_counter_is_no_new_meter() {
        let low = [(0, 1000.0), (10, 1080.0), (20, 1016.0), (30, 1240.0)];
        assert_eq!(sums(&low, Improvements::all()), [0.0, 80.0, 240.0]);
        assert!(sums(&low, Improvements::none()).last() > Some(&1000.0), "the plain model doubles exposure");
        let high = [(0, 1000.0), (10, 1180.0), (20, 1160.0), (30, 1175.0)];
        assert_eq!(sums(&high, Improvements::all()), [0.0, 160.0, 175.0]);
        // the last figure of all
        assert_eq!(sums(&[(0, 1000.0), (10, 1080.0), (20, 1070.0)], Improvements::all()), [0.0, 80.0]);
        // a digit left out, seen by the next figure
        assert_eq!(sums(&[(0, 1000.0), (10, 108.0), (20, 1160.0)], Improvements::all()), [0.0, 160.0]);
    }

    #[test]
    fn a_deep_fall_that_goes_on_is_a_new_meter() {
        let figures = [(0, 1000.0), (10, 1080.0), (15, 60.0), (25, 140.0)];
        assert_eq!(sums(&figures, Improvements::all()), [0.0, 80.0, 140.0, 220.0]);
    }
}
