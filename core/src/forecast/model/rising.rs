//! Where a rising function reaches given levels, with as few evaluations as may be.

/// A rising function on [0, end] with what is known of it so far.
pub struct Rising<F> {
    function: F,
    /// Arguments with their values, ascending.
    known: Vec<(f64, f64)>,
}

/// Relative width at which an argument is taken as found.
const WIDTH: f64 = 1e-12;

impl<F: Fn(f64) -> f64> Rising<F> {
    /// The function on [0, end].
    pub fn new(function: F, end: f64) -> Self {
        let known = vec![(0.0, function(0.0)), (end, function(end))];
        Self { function, known }
    }

    /// The smallest argument at which the function reaches a level; zero where it is reached from
    /// the start, `None` where it is not reached by the end.
    ///
    /// Each evaluation narrows the bracket of every later level too. Inside a bracket: false
    /// position with the end that stays halved (Illinois; Dowell and Jarratt 1971), and a bisection
    /// whenever that does not halve the bracket in three steps, so that it always ends.
    pub fn reach(&mut self, level: f64) -> Option<f64> {
        if self.known.first()?.1 >= level {
            return Some(0.0);
        }
        if self.known.last()?.1 < level {
            return None;
        }
        let after = self.known.partition_point(|(_, value)| *value < level);
        let (mut low, mut high) = (*self.known.get(after - 1)?, *self.known.get(after)?);
        // what the straight line through the ends is drawn to; halved at an end that stays
        let (mut below, mut above) = (low.1 - level, high.1 - level);
        let mut moved_last = None;
        let mut halved_at = high.0 - low.0;
        let mut slow_steps = 0;
        for _ in 0..200 {
            let width = high.0 - low.0;
            let found = WIDTH * high.0.max(1.0);
            if width < found {
                break;
            }
            if width <= 0.5 * halved_at {
                halved_at = width;
                slow_steps = 0;
            }
            slow_steps += 1;
            let straight = low.0 - below * width / (above - below);
            let at = if slow_steps > 3 || !straight.is_finite() {
                halved_at = width;
                slow_steps = 0;
                moved_last = None;
                (below, above) = (low.1 - level, high.1 - level);
                low.0 + 0.5 * width
            } else {
                // a little inside, so that the bracket also closes from the end that stays
                straight.clamp(low.0 + 0.5 * found, high.0 - 0.5 * found)
            };
            let value = (self.function)(at);
            let place = self.known.partition_point(|(known, _)| *known < at);
            self.known.insert(place, (at, value));
            let reached = value >= level;
            if reached {
                (high, above) = ((at, value), value - level);
            } else {
                (low, below) = ((at, value), value - level);
            }
            if moved_last == Some(reached) {
                if reached { below *= 0.5 } else { above *= 0.5 }
            }
            moved_last = Some(reached);
        }
        Some(high.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    #[test]
    fn levels_are_reached_as_by_bisection() {
        let count = Cell::new(0_usize);
        let f = |x: f64| {
            count.set(count.get() + 1);
            (1.0 - (-x * x).exp()).min(1.0)
        };
        let mut rising = Rising::new(f, 50.0);
        for level in [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95_f64] {
            let exact = (-(1.0 - level).ln()).sqrt();
            let found = rising.reach(level).unwrap();
            assert!((found - exact).abs() < 1e-10, "{level}: {found} against {exact}");
        }
        assert!(count.get() < 160, "{} evaluations", count.get());
        assert_eq!(rising.reach(0.0), Some(0.0));
        assert_eq!(rising.reach(1.5), None);
    }

    #[test]
    fn a_jump_is_found() {
        let mut rising = Rising::new(|x: f64| if x < 1.25 { 0.2 } else { 0.9 }, 10.0);
        assert!((rising.reach(0.5).unwrap() - 1.25).abs() < 1e-10);
        assert_eq!(rising.reach(0.2), Some(0.0));
    }
}
