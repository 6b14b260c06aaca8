//! Where a probability that rises with time reaches given levels, with few evaluations.

/// One value of the function.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The argument, not below zero.
    pub at: f64,
    /// The probability there.
    pub value: f64,
    /// Its derivative; a wrong one costs evaluations, nothing else.
    pub slope: f64,
}

/// A point with its place on the scales on which crossing laws are nearly straight: the logarithm
/// of the argument over the log odds of the probability.
#[derive(Debug, Clone, Copy)]
struct Known {
    point: Point,
    log_at: f64,
    log_odds: f64,
    /// Derivative of the former by the latter; `None` where that says nothing.
    bend: Option<f64>,
}

impl Known {
    fn of(point: Point) -> Self {
        let Point { at, value, slope } = point;
        let (log_at, log_odds) = (at.ln(), log_odds(value));
        let bend = value * (1.0 - value) / (slope * at);
        let is_telling = at > 0.0 && slope > 0.0 && bend.is_finite() && bend > 0.0 && log_odds.is_finite();
        Self { point, log_at, log_odds, bend: is_telling.then_some(bend) }
    }
}

fn log_odds(value: f64) -> f64 {
    (value / (1.0 - value)).ln()
}

/// A rising probability on [0, end] with what is known of it so far.
pub struct Rising<F> {
    function: F,
    end: f64,
    guess: f64,
    /// Ascending.
    known: Vec<Known>,
}

/// Relative width at which an argument is taken as found.
const WIDTH: f64 = 1e-12;
/// A step of less than this on the scale of logarithms is the last: the next one would be about its
/// square.
const LAST_STEP: f64 = 2e-6;
/// But only from a point whose log odds are within this of the level's: a short step far from there says
/// that the scales are bent, not that it is found.
const NEAR: f64 = 2e-3;
/// After so many evaluations for one level brackets are halved.
const PATIENCE: usize = 12;

impl<F: Fn(f64) -> Point> Rising<F> {
    /// The function on [0, end]; `guess` is where its middle may lie.
    pub fn new(function: F, guess: f64, end: f64) -> Self {
        let mut known = Vec::with_capacity(40);
        known.push(Known::of(function(0.0)));
        Self { function, end, guess, known }
    }

    /// The smallest argument at which the function reaches a level; zero where it is reached from
    /// the start, `None` where it is not reached by the end.
    ///
    /// Every evaluation narrows the bracket of every later level too. Inside a bracket: inverse
    /// cubic interpolation by values and derivatives on the scales of `Known`, Newton's step where
    /// only one end is telling, and halving once that has taken too long, so that it always ends.
    pub fn reach(&mut self, level: f64) -> Option<f64> {
        if self.known.first()?.point.value >= level {
            return Some(0.0);
        }
        let goal = log_odds(level);
        let mut newest: Option<Known> = None;
        for count in 0..200 {
            let after = self.known.partition_point(|known| known.point.value < level);
            let low = *self.known.get(after.checked_sub(1)?)?;
            let Some(high) = self.known.get(after).copied() else {
                // nothing known above the level: as far as the scales say, but not beyond the end
                if low.point.at >= self.end {
                    return None;
                }
                let ahead = match low.bend {
                    Some(bend) if count < PATIENCE => (low.log_at + (goal - low.log_odds) * bend).exp(),
                    None if self.guess > low.point.at => self.guess,
                    _ => self.end,
                };
                if let Some(newest) = newest
                    && (ahead.ln() - newest.log_at).abs() < LAST_STEP
                    && (goal - newest.log_odds).abs() < NEAR
                    && ahead < self.end
                {
                    return Some(ahead);
                }
                // a little further than that, so that the bracket closes
                let at = if ahead.is_finite() { ahead.max(low.point.at * 1.000_001) } else { self.end };
                newest = Some(self.look(at.min(self.end)));
                continue;
            };
            let width = high.point.at - low.point.at;
            if width < WIDTH * high.point.at.max(1.0) {
                return Some(high.point.at);
            }
            let inside = between(&low, &high, goal, level).filter(|_| count < PATIENCE);
            if let (Some(at), Some(newest)) = (inside, newest)
                && (at.ln() - newest.log_at).abs() < LAST_STEP
                && (goal - newest.log_odds).abs() < NEAR
            {
                return Some(at);
            }
            newest = Some(self.look(inside.unwrap_or(low.point.at + 0.5 * width)));
        }
        None
    }

    fn look(&mut self, at: f64) -> Known {
        let new = Known::of((self.function)(at));
        let place = self.known.partition_point(|known| known.point.at < at);
        self.known.insert(place, new);
        new
    }
}

/// Where the level is reached inside a bracket, as far as its ends tell.
fn between(low: &Known, high: &Known, goal: f64, level: f64) -> Option<f64> {
    let (from, to) = (low.point.at, high.point.at);
    let guess = match (low.bend, high.bend) {
        (Some(a), Some(b)) => {
            let whole = high.log_odds - low.log_odds;
            let t = (goal - low.log_odds) / whole;
            let rest = 1.0 - t;
            // Hermite's cubic
            let cubic = rest * rest * ((1.0 + 2.0 * t) * low.log_at + t * whole * a)
                + t * t * ((3.0 - 2.0 * t) * high.log_at - rest * whole * b);
            if cubic > low.log_at && cubic < high.log_at { cubic } else { rest * low.log_at + t * high.log_at }.exp()
        }
        (Some(a), None) => (low.log_at + (goal - low.log_odds) * a).exp(),
        (None, Some(b)) => (high.log_at + (goal - high.log_odds) * b).exp(),
        (None, None) => f64::NAN,
    };
    if from <= 0.0 && (guess.is_nan() || guess <= 0.2 * to) {
        // near the start a first passage rises like a root
        let share = (level - low.point.value) / (high.point.value - low.point.value);
        return Some(to * (share * share).clamp(0.02, 0.98));
    }
    (guess > from && guess < to).then_some(guess)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// Weibull of shape 2.
    fn weibull(x: f64) -> Point {
        Point { at: x, value: 1.0 - (-x * x).exp(), slope: 2.0 * x * (-x * x).exp() }
    }

    #[test]
    fn levels_are_reached_as_by_inverting() {
        let count = Cell::new(0_usize);
        let f = |x: f64| {
            count.set(count.get() + 1);
            weibull(x)
        };
        let mut rising = Rising::new(f, 3.0, 50.0);
        for level in [0.5, 0.05, 0.95, 0.1, 0.9, 0.25, 0.75_f64] {
            let exact = (-(1.0 - level).ln()).sqrt();
            let found = rising.reach(level).unwrap();
            assert!((found - exact).abs() < 1e-10, "{level}: {found} against {exact}");
        }
        assert!(count.get() <= 26, "{} evaluations", count.get());
        assert_eq!(rising.reach(0.0), Some(0.0));
        assert_eq!(rising.reach(1.5), None);
    }

    #[test]
    fn nothing_is_reached_beyond_the_end() {
        let mut rising = Rising::new(weibull, 3.0, 1.0);
        assert_eq!(rising.reach(0.95), None);
        assert!((rising.reach(0.5).unwrap() - 2_f64.ln().sqrt()).abs() < 1e-10);
        assert_eq!(rising.reach(0.7), None);
    }

    #[test]
    fn a_jump_is_found_with_derivatives_that_say_nothing() {
        let jump = |x: f64| Point { at: x, value: if x < 1.25 { 0.2 } else { 0.9 }, slope: 0.0 };
        let mut rising = Rising::new(jump, f64::NAN, 10.0);
        assert!((rising.reach(0.5).unwrap() - 1.25).abs() < 1e-10);
        assert_eq!(rising.reach(0.2), Some(0.0));
    }

    #[test]
    fn a_start_close_to_the_level_is_no_trap() {
        // rises like a root from a share that has crossed already
        let root = |x: f64| Point { at: x, value: 0.0999 + 0.2 * x.sqrt(), slope: 0.1 / x.sqrt() };
        let found = Rising::new(root, 2.0, 4.0).reach(0.1).unwrap();
        assert!((found - 0.0005_f64.powi(2)).abs() < 1e-12, "{found}");
    }

    #[test]
    fn wrong_derivatives_only_cost_time() {
        let wrong = |x: f64| Point { slope: 37.0, ..weibull(x) };
        let found = Rising::new(wrong, 0.1, 50.0).reach(0.3).unwrap();
        assert!((found - (-(0.7_f64).ln()).sqrt()).abs() < 1e-9, "{found}");
    }
}
