//! The stretches between the figures of a meter, by which usage is told.

/// A stretch between two figures of one meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    /// Number of the day on which it ends.
    pub(super) to: i32,
    /// Working days it lasted.
    pub(super) work: f64,
    /// What the meter went on.
    pub(super) made: f64,
}

/// A shorter stretch says nothing of a rate.
const SHORTEST_FOR_RATE: f64 = 1.0;
/// Shorter stretches are joined with the next one.
const SHORTEST_WORK: f64 = 3.0;

/// Stretches as they come, short ones joined with the next.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Stretches {
    joined: Vec<Stretch>,
    /// What is still too short to stand alone.
    open: Option<Stretch>,
    first_rate: Option<f64>,
}

impl Stretches {
    pub(super) fn push(&mut self, stretch: Stretch) {
        if self.first_rate.is_none() && stretch.work >= SHORTEST_FOR_RATE {
            self.first_rate = Some(stretch.made / stretch.work);
        }
        let sum = self.open.map_or(stretch, |open| open.with(stretch));
        if sum.work >= SHORTEST_WORK {
            self.joined.push(sum);
            self.open = None;
        } else {
            self.open = Some(sum);
        }
    }

    /// Rate of the first stretch of at least a working day.
    pub(super) const fn first_rate(&self) -> Option<f64> {
        self.first_rate
    }

    /// All of them; what is too short at the end belongs to the one before it.
    pub(super) fn ended(&mut self) -> &[Stretch] {
        if let (Some(rest), Some(last)) = (self.open.take(), self.joined.last_mut()) {
            *last = last.with(rest);
        }
        &self.joined
    }

    /// None any more, with the memory kept for the next meter.
    pub(super) fn clear(&mut self) {
        self.joined.clear();
        self.open = None;
        self.first_rate = None;
    }
}

impl Stretch {
    fn with(self, next: Self) -> Self {
        Self { to: next.to, work: self.work + next.work, made: self.made + next.made }
    }
}
