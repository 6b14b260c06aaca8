//! Where a probability that rises with time reaches given levels, with few evaluations.

/// One value of the function.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The argument, not below zero.
    pub at: f64,
    /// The probability there.
    pub value: f64,
    /// Its derivative. Where [`Closeness::Exact`] is asked for, a wrong one costs evaluations, nothing else.
    pub slope: f64,
    /// The derivative of that; likewise.
    pub curvature: f64,
}

impl Point {
    /// The same of a function that is so many times as large.
    #[must_use]
    pub fn scaled(&self, by: f64) -> Self {
        Self { value: by * self.value, slope: by * self.slope, curvature: by * self.curvature, ..*self }
    }

    /// The same of the sum of two functions.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            value: self.value + other.value,
            slope: self.slope + other.slope,
            curvature: self.curvature + other.curvature,
            ..*self
        }
    }
}

/// How closely an argument is sought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closeness {
    /// To about twelve digits.
    Exact,
    /// For a date: to a ten-millionth of itself in the mean (seconds in three years), and seldom to less than a
    /// millionth; levels that differ by less may come in either order.
    Date,
}

impl Closeness {
    /// By how much two curves may differ on the scale of logarithms, of which the better one is taken as it is: what it
    /// is off is a small part of that.
    const fn alike(self) -> f64 {
        match self {
            Self::Exact => 0.0,
            Self::Date => 1e-5,
        }
    }
}

/// A point with its place on the scales on which crossing laws are nearly straight: the logarithm
/// of the argument over the log odds of the probability.
#[derive(Debug, Clone, Copy)]
struct Known {
    point: Point,
    log_at: f64,
    log_odds: f64,
    /// First and second derivative of the former by the latter; `None` where the first says nothing, the second
    /// not finite where that one does not.
    bends: Option<(f64, f64)>,
}

impl Known {
    fn of(point: Point) -> Self {
        let Point { at, value, slope, curvature } = point;
        let (log_at, log_odds) = (at.ln(), log_odds(value));
        let both = value * (1.0 - value);
        // derivatives of the log odds by the logarithm of the argument
        let rise = slope * at / both;
        let turn = rise + curvature * at * at / both - rise * rise * (1.0 - 2.0 * value);
        let bends = (1.0 / rise, -turn / (rise * rise * rise));
        let is_telling = at > 0.0 && bends.0 > 0.0 && bends.0.is_finite() && log_odds.is_finite();
        Self { point, log_at, log_odds, bends: is_telling.then_some(bends) }
    }

    /// Where the log odds lie so far on, by the derivatives here.
    fn ahead(&self, goal: f64) -> Option<Guess> {
        let (first, second) = self.bends?;
        let by = goal - self.log_odds;
        let (straight, bent) = (by * first, 0.5 * by * by * second);
        // a parabola is believed as long as it is little more than its tangent
        let is_believed = bent.abs() < 0.5 * straight.abs();
        let along = if is_believed { straight + bent } else { straight };
        let is_near = is_believed && by.abs() < REACH_BEYOND.0 && along.abs() < REACH_BEYOND.1;
        Some(Guess { log_at: self.log_at + along, off: bent.abs(), is_near })
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
    closeness: Closeness,
    /// Ascending.
    known: Vec<Known>,
}

/// Relative width at which an argument is taken as found.
const WIDTH: f64 = 1e-12;
/// A step of less than this on the scale of logarithms is the last: the next one would be about its
/// square.
const LAST_STEP: f64 = 2e-7;
/// But only from a point whose log odds are within this of the level's: a short step far from there says
/// that the scales are bent, not that it is found.
const NEAR: f64 = 2e-3;
/// Curves of third and of fifth order through two points, or a tangent and a parabola through one, are compared
/// only so far from the next known point on the scale of log odds, ...
const REACH: f64 = 0.7;
/// ... and so far beyond the last one, on that scale and on the other.
const REACH_BEYOND: (f64, f64) = (0.05, 0.02);
/// After so many evaluations for one level brackets are halved.
const PATIENCE: usize = 12;

impl<F: Fn(f64) -> Point> Rising<F> {
    /// The function on [0, end], known at its start; `guess` is where its middle may lie.
    pub fn new(function: F, start: Point, guess: f64, end: f64, closeness: Closeness) -> Self {
        let mut known = Vec::with_capacity(24);
        known.push(Known::of(start));
        Self { function, end, guess, closeness, known }
    }

    /// The smallest argument at which the function reaches a level; zero where it is reached from
    /// the start, `None` where it is not reached by the end.
    ///
    /// Every evaluation narrows the bracket of every later level too. Inside a bracket: inverse
    /// interpolation of fifth order by values and derivatives on the scales of `Known`, a parabola
    /// where only one end is telling, and halving once that has taken too long, so that it always ends.
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
                let guess = match low.ahead(goal).filter(|_| count < PATIENCE) {
                    Some(guess) => guess,
                    None if low.bends.is_none() && self.guess > low.point.at => Guess::blind(self.guess),
                    None => Guess::blind(self.end),
                };
                let ahead = guess.log_at.exp();
                if self.is_found(&guess, goal, newest.as_ref()) && ahead < self.end {
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
            if let Some((at, guess)) = &inside
                && self.is_found(guess, goal, newest.as_ref())
            {
                return Some(*at);
            }
            let is_new = |at: &f64| *at > low.point.at && *at < high.point.at;
            let at = inside.map(|(at, _)| at).filter(is_new);
            newest = Some(self.look(at.unwrap_or(low.point.at + 0.5 * width)));
        }
        None
    }

    /// Whether a guess is close enough to what is sought.
    fn is_found(&self, guess: &Guess, goal: f64, newest: Option<&Known>) -> bool {
        if guess.is_near && guess.off < self.closeness.alike() {
            return true;
        }
        newest.is_some_and(|newest| {
            (guess.log_at - newest.log_at).abs() < LAST_STEP && (goal - newest.log_odds).abs() < NEAR
        })
    }

    fn look(&mut self, at: f64) -> Known {
        let new = Known::of((self.function)(at));
        let place = self.known.partition_point(|known| known.point.at < at);
        self.known.insert(place, new);
        new
    }
}

/// Where a level may be reached.
struct Guess {
    log_at: f64,
    /// How far a simpler curve is from it.
    off: f64,
    /// Whether the next known point is near enough for the difference to tell.
    is_near: bool,
}

impl Guess {
    /// One that no curve says.
    fn blind(at: f64) -> Self {
        Self { log_at: at.ln(), off: f64::INFINITY, is_near: false }
    }
}

/// Where the level is reached inside a bracket, as far as its ends tell.
fn between(low: &Known, high: &Known, goal: f64, level: f64) -> Option<(f64, Guess)> {
    let (from, to) = (low.point.at, high.point.at);
    let guess = match (low.bends, high.bends) {
        (Some(a), Some(b)) => Some(Guess::through(low, high, (a, b), goal)),
        (Some(_), None) => low.ahead(goal),
        (None, _) => high.ahead(goal),
    };
    let at = guess.as_ref().map_or(f64::NAN, |guess| guess.log_at.exp());
    if from <= 0.0 && (at.is_nan() || at <= 0.2 * to) {
        // near the start a first passage rises like a root
        let share = (level - low.point.value) / (high.point.value - low.point.value);
        let at = to * (share * share).clamp(0.02, 0.98);
        return Some((at, Guess::blind(at)));
    }
    guess.filter(|_| at >= from && at <= to).map(|guess| (at, guess))
}

impl Guess {
    /// By Hermite's curve of fifth order through two telling points.
    fn through(low: &Known, high: &Known, (a, b): ((f64, f64), (f64, f64)), goal: f64) -> Self {
        let whole = high.log_odds - low.log_odds;
        let t = (goal - low.log_odds) / whole;
        let rest = 1.0 - t;
        let (first_a, first_b) = (whole * a.0, whole * b.0);
        let (second_a, second_b) = (whole * whole * a.1, whole * whole * b.1);
        let is_inside = |y: f64| y >= low.log_at && y <= high.log_at;
        let cubic = rest * rest * ((1.0 + 2.0 * t) * low.log_at + t * first_a)
            + t * t * ((3.0 - 2.0 * t) * high.log_at - rest * first_b);
        // what the second derivatives of the cubic curve lack at both ends
        let rise = high.log_at - low.log_at;
        let lacks_a = second_a - (6.0 * rise - 4.0 * first_a - 2.0 * first_b);
        let lacks_b = second_b - (-6.0 * rise + 2.0 * first_a + 4.0 * first_b);
        let weight = 0.5 * t * t * rest * rest;
        let more = weight * (rest * lacks_a + t * lacks_b);
        // each by itself: where they cancel, the curves agree by chance
        let apart = weight * (rest * lacks_a.abs() + t * lacks_b.abs());
        let (log_at, off) = match (is_inside(cubic + more), is_inside(cubic)) {
            (true, _) => (cubic + more, apart),
            (false, true) => (cubic, f64::INFINITY),
            (false, false) => (rest * low.log_at + t * high.log_at, f64::INFINITY),
        };
        Self { log_at, off, is_near: t.min(rest) * whole < REACH }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// Weibull of shape 2.
    fn weibull(x: f64) -> Point {
        let left = (-x * x).exp();
        Point { at: x, value: 1.0 - left, slope: 2.0 * x * left, curvature: (2.0 - 4.0 * x * x) * left }
    }

    fn exact<F: Fn(f64) -> Point>(function: F, guess: f64, end: f64) -> Rising<F> {
        let start = function(0.0);
        Rising::new(function, start, guess, end, Closeness::Exact)
    }

    #[test]
    fn levels_are_reached_as_by_inverting() {
        let count = Cell::new(0_usize);
        let f = |x: f64| {
            count.set(count.get() + 1);
            weibull(x)
        };
        let mut rising = exact(f, 3.0, 50.0);
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
        let mut rising = exact(weibull, 3.0, 1.0);
        assert_eq!(rising.reach(0.95), None);
        assert!((rising.reach(0.5).unwrap() - 2_f64.ln().sqrt()).abs() < 1e-10);
        assert_eq!(rising.reach(0.7), None);
    }

    #[test]
    fn a_jump_is_found_with_derivatives_that_say_nothing() {
        let jump = |x: f64| Point { at: x, value: if x < 1.25 { 0.2 } else { 0.9 }, slope: 0.0, curvature: 0.0 };
        let mut rising = exact(jump, f64::NAN, 10.0);
        assert!((rising.reach(0.5).unwrap() - 1.25).abs() < 1e-10);
        assert_eq!(rising.reach(0.2), Some(0.0));
    }

    #[test]
    fn a_start_close_to_the_level_is_no_trap() {
        // rises like a root from a share that has crossed already
        let root = |x: f64| Point {
            at: x,
            value: 0.0999 + 0.2 * x.sqrt(),
            slope: 0.1 / x.sqrt(),
            curvature: -0.05 / (x * x.sqrt()),
        };
        let found = exact(root, 2.0, 4.0).reach(0.1).unwrap();
        assert!((found - 0.0005_f64.powi(2)).abs() < 1e-12, "{found}");
    }

    #[test]
    fn wrong_derivatives_only_cost_time() {
        let wrong = |x: f64| Point { slope: 37.0, ..weibull(x) };
        let found = exact(wrong, 0.1, 50.0).reach(0.3).unwrap();
        assert!((found - (-(0.7_f64).ln()).sqrt()).abs() < 1e-9, "{found}");
    }
}
