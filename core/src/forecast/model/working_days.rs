//! Working days as a running sum over day numbers, fractions of a day included.

/// Sum of daily weights up to each day, counted from day 0.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkingDays {
    sums: Vec<f64>,
}

impl WorkingDays {
    /// From the weight of each day.
    #[must_use]
    pub fn new(weights: impl Iterator<Item = f64>) -> Self {
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for weight in weights {
            sum += weight;
            sums.push(sum);
        }
        Self { sums }
    }

    /// From the running sum up to each day: nothing up to the first, and one more than there are days.
    #[must_use]
    pub fn of_sums(sums: &[f64]) -> Self {
        Self { sums: if sums.is_empty() { vec![0.0] } else { sums.to_vec() } }
    }

    /// Working days up to the start of a day; outside, the nearest edge.
    #[must_use]
    pub fn until(&self, t: f64) -> f64 {
        let last = self.sums.len() - 1;
        let t = t.clamp(0.0, last as f64);
        let i = t as usize;
        match (self.sums.get(i), self.sums.get(i + 1)) {
            (Some(a), Some(b)) => a + (t - i as f64) * (b - a),
            (Some(a), None) => *a,
            _ => 0.0,
        }
    }

    /// The first moment by which so much work was done from t0 on; `None` beyond the calendar.
    #[must_use]
    pub fn reaching(&self, t0: f64, work: f64) -> Option<f64> {
        if work <= 0.0 {
            return Some(t0);
        }
        let target = self.until(t0) + work;
        let days_per_work = self.sums.len() as f64 / self.sums.last()?.max(1.0);
        let i = self.first_reaching(target - 1e-12, t0 + work * days_per_work);
        let c1 = *self.sums.get(i)?;
        let Some(c0) = i.checked_sub(1).and_then(|i| self.sums.get(i)) else { return Some(t0) };
        let moment = if c1 > *c0 { (i - 1) as f64 + (target - c0) / (c1 - c0) } else { i as f64 };
        // next to nothing after a closure was already done when the closure began
        Some(moment.max(t0))
    }

    /// How many sums are below a figure, which may be about at `guess`: sought from there outwards, as
    /// working days come nearly evenly.
    fn first_reaching(&self, figure: f64, guess: f64) -> usize {
        let is_below = |i: usize| self.sums.get(i).is_some_and(|sum| *sum < figure);
        let (mut low, mut high) = (0, self.sums.len());
        let mut at = (guess.max(0.0) as usize).min(high);
        let mut step = 16;
        if is_below(at) {
            while is_below(at) {
                low = at + 1;
                at += step;
                step *= 4;
            }
            high = high.min(at);
        } else {
            high = at;
            while at > 0 && !is_below(at - 1) {
                high = at - 1;
                at = at.saturating_sub(step);
                step *= 4;
            }
            low = at;
        }
        let between = self.sums.get(low..high).unwrap_or_default();
        low + between.partition_point(|sum| *sum < figure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn next_to_no_work_is_not_done_before_it_is_begun() {
        // two days of work, three days closed, two days of work
        let days = WorkingDays::new([1.0, 1.0, 0.0, 0.0, 0.0, 1.0, 1.0].into_iter());
        assert_eq!(days.reaching(5.0, 1e-15), Some(5.0));
        assert_eq!(days.reaching(4.0, 0.5), Some(5.5));
        assert_eq!(days.reaching(0.5, 1.0), Some(1.5));
        assert_eq!(days.reaching(6.0, 1.5), None);
    }

    #[test]
    fn a_sum_is_found_from_any_guess() {
        let days = WorkingDays::new((0..300).map(|day| if day % 7 < 5 { 1.0 } else { 0.0 }));
        for step in -4..=870 {
            let figure = f64::from(step) * 0.25;
            let want = days.sums.partition_point(|sum| *sum < figure);
            for guess in [-5.0, 0.0, 1.0, 17.0, 120.5, 299.0, 300.0, 301.0, 1e9, f64::INFINITY, f64::NAN] {
                assert_eq!(days.first_reaching(figure, guess), want, "{figure} from {guess}");
            }
        }
    }
}
