//! The running maximum of the chance of being outside, as a table of which only what is asked for is
//! worked out.
//!
//! Each term of [`GaussianCrossing::outside`] is the normal distribution of a score
//! (A + r x)/sqrt(Q(x)), Q a quadratic. The sign of the derivative of such a score is that of a straight line in
//! x, so it turns once at most, at a point that is known. Between the turns of all terms the chance rises,
//! or stays under what it was, or must be looked at point by point.

use super::gaussian_crossing::GaussianCrossing;
use std::cell::OnceCell;

/// Points of the table.
const POINTS: usize = 257;
/// A term that falls from less than this is taken for one that stays: so far off is the table at most.
const NOTHING: f64 = 1e-15;

/// The running maximum of the probability of being outside, at 257 points up to the end of the
/// horizon that stand closer near the start; straight between.
#[derive(Debug, Clone, PartialEq)]
pub struct OutTable {
    law: GaussianCrossing,
    end: f64,
    /// The maximum up to the first point.
    first: f64,
    /// Ascending; each begins at the point at which the one before it ends.
    stretches: OnceCell<Vec<Stretch>>,
}

/// Points between which the chance behaves in one way.
#[derive(Debug, Clone, PartialEq)]
struct Stretch {
    from: usize,
    to: usize,
    /// The maximum up to its first and up to its last point.
    highest: (f64, f64),
    course: Course,
}

/// How the chance behaves on a stretch.
#[derive(Debug, Clone, PartialEq)]
enum Course {
    /// It never falls.
    Rises,
    /// It is never above where it began.
    Stays,
    /// The maxima at all of its points.
    Known(Vec<f64>),
}

fn place(i: usize, end: f64) -> f64 {
    end * (i as f64 / (POINTS - 1) as f64).powi(2)
}

impl OutTable {
    pub(super) fn of(law: &GaussianCrossing, end: f64) -> Self {
        Self { law: *law, end, first: law.outside(0.0).max(0.0), stretches: OnceCell::new() }
    }

    fn stretches(&self) -> &[Stretch] {
        self.stretches.get_or_init(|| stretches(&self.law, self.end, self.first))
    }

    /// The maximum up to a point.
    fn highest(&self, i: usize) -> f64 {
        let stretches = self.stretches();
        let after = stretches.partition_point(|stretch| stretch.to < i);
        let Some(stretch) = stretches.get(after) else { return self.first };
        if i <= stretch.from {
            return stretch.highest.0;
        }
        if i == stretch.to {
            return stretch.highest.1;
        }
        match &stretch.course {
            Course::Rises => stretch.highest.0.max(self.law.outside(place(i, self.end))),
            Course::Stays => stretch.highest.0,
            Course::Known(maxima) => maxima.get(i - stretch.from).copied().unwrap_or(stretch.highest.1),
        }
    }

    /// The share that has left by an exposure, straight between the points.
    #[must_use]
    pub fn chance_by(&self, x: f64) -> f64 {
        if x.is_nan() || x < 0.0 {
            return self.first;
        }
        let last = POINTS - 1;
        if x >= self.end {
            return self.highest(last);
        }
        // how many points lie at or before it
        let mut after = ((last as f64 * (x / self.end).sqrt()) as usize + 1).clamp(1, last);
        while after < last && place(after, self.end) <= x {
            after += 1;
        }
        while after > 1 && place(after - 1, self.end) > x {
            after -= 1;
        }
        let (x0, x1) = (place(after - 1, self.end), place(after, self.end));
        let (f0, f1) = (self.highest(after - 1), self.highest(after));
        f0 + (f1 - f0) * (x - x0) / (x1 - x0)
    }

    /// Exposure by which the share p has left; zero where that is so already, `None` beyond the end.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        self.quantiles(&[p]).next().flatten()
    }

    /// The same of several shares.
    pub fn quantiles(&self, shares: &[f64]) -> impl Iterator<Item = Option<f64>> {
        // points and the maxima up to them, ascending: what one share asks for helps the others
        let mut known: Vec<(usize, f64)> = Vec::with_capacity(64);
        known.push((0, self.first));
        let mut is_whole = false;
        shares.iter().map(move |p| {
            if self.first >= *p {
                return Some(0.0);
            }
            if !is_whole {
                known.extend(self.stretches().iter().map(|stretch| (stretch.to, stretch.highest.1)));
                is_whole = true;
            }
            let mut after = known.partition_point(|(_, highest)| *highest < *p);
            if after == 0 {
                return Some(0.0);
            }
            let mut looks = 0;
            loop {
                let (high, f1) = *known.get(after)?;
                let (low, f0) = *known.get(after - 1)?;
                if high == low + 1 {
                    let (x0, x1) = (place(low, self.end), place(high, self.end));
                    return Some(x0 + (p - f0) / (f1 - f0) * (x1 - x0));
                }
                // twice where a straight line says, then in the middle, so that it always ends soon
                looks += 1;
                let middle = match looks % 3 {
                    0 => low + (high - low) / 2,
                    _ => low + ((high - low) as f64 * straight(*p, f0, f1)) as usize,
                };
                let middle = middle.clamp(low + 1, high - 1);
                let highest = self.highest(middle);
                known.insert(after, (middle, highest));
                if highest < *p {
                    after += 1;
                }
            }
        })
    }
}

/// How far from one probability to another a third one lies on the scale of log odds, on which the points of the
/// table stand nearly straight.
fn straight(p: f64, from: f64, to: f64) -> f64 {
    let log_odds = |p: f64| {
        let p = p.clamp(1e-6, 1.0 - 1e-6);
        (p / (1.0 - p)).ln()
    };
    let (from, to) = (log_odds(from), log_odds(to));
    let share = (log_odds(p) - from) / (to - from);
    if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.5 }
}

/// The stretches of a law between whose ends no term turns.
fn stretches(law: &GaussianCrossing, end: f64, first: f64) -> Vec<Stretch> {
    let mut edges = vec![0, POINTS - 1];
    let terms = law.terms(end).unwrap_or_default();
    for turn in terms.iter().flatten().filter_map(|term| term.turn) {
        if turn > 0.0 && turn < end {
            let before = ((POINTS - 1) as f64 * (turn / end).sqrt()) as usize;
            edges.extend([before.min(POINTS - 1), (before + 1).min(POINTS - 1)]);
        }
    }
    edges.sort_unstable();
    edges.dedup();
    let mut highest = first;
    let mut stretches = Vec::with_capacity(edges.len());
    for pair in edges.windows(2) {
        let &[from, to] = pair else { continue };
        let start = highest;
        let course = if to == from + 1 { Some(Course::Rises) } else { course(law, end, (from, to)) };
        let Some(course) = course else {
            looked_at(law, end, (from, to), &mut highest, &mut stretches);
            continue;
        };
        if course == Course::Rises {
            highest = highest.max(law.outside(place(to, end)));
        }
        stretches.push(Stretch { from, to, highest: (start, highest), course });
    }
    stretches
}

/// Points between two at which a stretch of unknown course is looked at first.
const STRIDE: usize = 8;

/// The stretches between two points between which no term turns, where nothing else is known.
///
/// A term that falls and one that rises make a sum that turns seldom. So every eighth point is looked
/// at, and all points only at both ends and beside one at which the sum has turned; two turns between
/// two looks are not seen. Where the variance has to be kept from falling to nothing, all points are.
fn looked_at(
    law: &GaussianCrossing,
    end: f64,
    (from, to): (usize, usize),
    highest: &mut f64,
    stretches: &mut Vec<Stretch>,
) {
    let looks: Vec<(usize, f64)> =
        (from..to).step_by(STRIDE).chain([to]).map(|i| (i, law.outside(place(i, end)))).collect();
    let is_smooth = law.terms(end).is_some();
    let rises: Vec<bool> = looks.windows(2).map(|pair| matches!(pair, [(_, a), (_, b)] if b > a)).collect();
    for (k, pair) in looks.windows(2).enumerate() {
        let &[(from, _), (to, last)] = pair else { continue };
        let start = *highest;
        let around = k.checked_sub(1).and_then(|before| rises.get(before..k + 2)).unwrap_or_default();
        let course = if is_smooth && around == [true; 3] {
            *highest = start.max(last);
            Course::Rises
        } else if is_smooth && around == [false; 3] {
            Course::Stays
        } else {
            let maxima = (from..=to).map(|i| {
                *highest = highest.max(law.outside(place(i, end)));
                *highest
            });
            Course::Known(maxima.collect())
        };
        stretches.push(Stretch { from, to, highest: (start, *highest), course });
    }
}

/// How the chance behaves between two points between which no term turns; `None` where it must be
/// looked at point by point.
fn course(law: &GaussianCrossing, end: f64, (from, to): (usize, usize)) -> Option<Course> {
    let terms = law.terms(end)?;
    let (start, middle) = (place(from, end), 0.5 * (place(from, end) + place(to, end)));
    let (mut falling, mut any_rises) = (0.0, false);
    for term in terms.iter().flatten() {
        if term.rises_at(middle) {
            any_rises = true;
        } else {
            falling += term.chance(start);
        }
    }
    match (falling < NOTHING, any_rises) {
        // the hazard of a step rises, and with it the mixture where a step makes it worse
        (true, true) => Some(Course::Rises),
        (true, false) => Some(Course::Stays),
        (false, false) if law.step_hazard <= 0.0 => Some(Course::Stays),
        (false, _) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every point looked at.
    fn whole(law: &GaussianCrossing, end: f64) -> Vec<(f64, f64)> {
        let mut highest: f64 = 0.0;
        (0..POINTS)
            .map(|i| {
                highest = highest.max(law.outside(place(i, end)));
                (place(i, end), highest)
            })
            .collect()
    }

    fn check(law: &GaussianCrossing, end: f64) {
        let table = OutTable::of(law, end);
        let whole = whole(law, end);
        for (i, (_, highest)) in whole.iter().enumerate() {
            assert!((table.highest(i) - highest).abs() < 2e-15, "{law:?} {i}: {} {highest}", table.highest(i));
        }
        let shares = [0.5, 0.05, 0.95, 0.1, 0.9, 0.25, 0.75, 1e-6, 0.999];
        for (p, got) in shares.iter().zip(table.quantiles(&shares)) {
            let after = whole.partition_point(|(_, f)| f < p);
            let want = match (after.checked_sub(1).and_then(|i| whole.get(i)), whole.get(after)) {
                (None, _) => Some(0.0),
                (Some((x0, f0)), Some((x1, f1))) => Some(x0 + (p - f0) / (f1 - f0) * (x1 - x0)),
                (Some(_), None) => None,
            };
            let near = |(a, b): (f64, f64)| (a - b).abs() <= 1e-9 * end;
            assert!(got.zip(want).is_none_or(near) && got.is_some() == want.is_some(), "{law:?} {p}: {got:?} {want:?}");
        }
        for step in 0..200 {
            let x = end * f64::from(step) / 180.0 - 0.01;
            let after = whole.partition_point(|(known, _)| *known <= x);
            let want = match (after.checked_sub(1).and_then(|i| whole.get(i)), whole.get(after)) {
                (None, _) => whole[0].1,
                (Some((x0, f0)), Some((x1, f1))) => f0 + (f1 - f0) * (x - x0) / (x1 - x0),
                (Some((_, f0)), None) => *f0,
            };
            assert!((table.chance_by(x) - want).abs() < 1e-12, "{law:?} {x}");
        }
    }

    #[test]
    fn what_is_worked_out_on_demand_is_the_whole_table() {
        let mut laws = 0;
        for level in [-1.4, -0.6, 0.0, 0.3, 0.99, 5.0] {
            for rate in [-0.8, -0.05, 0.0, 0.02, 0.6] {
                for (variance, covariance) in [(1e-4, 0.0), (0.04, 0.01), (0.3, -0.05)] {
                    for (low, high, step_hazard) in [
                        (Some(-1.0), Some(1.0), 0.0),
                        (Some(-1.0), None, 0.0),
                        (Some(-1.0), None, 0.1),
                        (None, Some(1.0), 0.0),
                    ] {
                        let law = GaussianCrossing {
                            level,
                            level_variance: variance,
                            rate,
                            rate_variance: 0.02,
                            covariance,
                            q: 0.01,
                            low,
                            high,
                            usage_variance: 0.1,
                            step_hazard,
                        };
                        check(&law, 6.0);
                        laws += 1;
                    }
                }
            }
        }
        assert_eq!(laws, 360);
    }

    #[test]
    fn a_law_without_any_spread_and_one_without_a_future() {
        let law = GaussianCrossing {
            level: 0.0,
            level_variance: 0.0,
            rate: 0.4,
            rate_variance: 0.0,
            covariance: 0.0,
            q: 0.0,
            low: Some(-1.0),
            high: Some(1.0),
            usage_variance: 0.0,
            step_hazard: 0.0,
        };
        check(&law, 6.0);
        let table = OutTable::of(&law, 0.0);
        assert_eq!((table.quantile(0.5), table.chance_by(3.0)), (None, 0.0));
    }
}
