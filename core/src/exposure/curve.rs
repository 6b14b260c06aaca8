//! What was counted by which day, as plain figures that the forecast takes as they are.

use std::sync::Arc;

/// One point of a [`Curve`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Number of the day.
    pub day: f64,
    /// Exposure by then, from any origin.
    pub sum: f64,
    /// Working days that were run through by then, from any origin.
    pub work: f64,
}

/// Cumulative exposure at some days, of a meter those on which it was read. Cheap to clone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    knots: Arc<[Knot]>,
}

impl Curve {
    /// The curve through these points; days ascend.
    #[must_use]
    pub fn through(knots: &[Knot]) -> Self {
        Self { knots: Arc::from(knots) }
    }

    /// Its points, days ascending.
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.knots.is_empty()
    }

    /// How many points lie on this day or before it.
    pub(super) fn up_to(&self, day: i32) -> usize {
        // mostly it is asked for a day after the last one
        self.all_if_last(|last| last <= f64::from(day))
            .unwrap_or_else(|| self.knots.partition_point(|knot| knot.day <= f64::from(day)))
    }

    /// How many points lie before this day.
    pub(super) fn before(&self, day: i32) -> usize {
        self.all_if_last(|last| last < f64::from(day))
            .unwrap_or_else(|| self.knots.partition_point(|knot| knot.day < f64::from(day)))
    }

    /// The number of all points where the day of the last one is such.
    fn all_if_last(&self, is_such: impl Fn(f64) -> bool) -> Option<usize> {
        self.knots.last().filter(|last| is_such(last.day)).map(|_| self.knots.len())
    }

    /// The same curve in another unit, `factor` of it in one of this.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        self.knots.iter().map(|knot| Knot { sum: knot.sum * factor, ..*knot }).collect()
    }
}

impl FromIterator<Knot> for Curve {
    fn from_iter<I: IntoIterator<Item = Knot>>(knots: I) -> Self {
        Self { knots: knots.into_iter().collect() }
    }
}
