//! From figures to pixels along one direction, and the figures at which an axis is marked.

/// A straight mapping of figures onto pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    from: f64,
    to: f64,
    start: f32,
    end: f32,
}

impl Scale {
    /// Maps `from` onto the pixel `start` and `to` onto `end`; a span of nothing is widened.
    #[must_use]
    pub fn new(from: f64, to: f64, start: f32, end: f32) -> Self {
        let to = if (to - from).abs() < 1e-9 { from + 1.0 } else { to };
        Self { from, to, start, end }
    }

    /// The pixel of a figure.
    #[must_use]
    pub fn px(&self, value: f64) -> f32 {
        let share = (value - self.from) / (self.to - self.from);
        (f64::from(self.start) + share * f64::from(self.end - self.start)) as f32
    }

    /// The figure of a pixel.
    #[must_use]
    pub fn value(&self, px: f32) -> f64 {
        let width = f64::from(self.end - self.start);
        if width.abs() < 1e-9 {
            return self.from;
        }
        self.from + f64::from(px - self.start) / width * (self.to - self.from)
    }

    /// First and last figure.
    #[must_use]
    pub const fn span(&self) -> (f64, f64) {
        (self.from, self.to)
    }
}

/// The step of 1, 2 or 5 times a power of ten at which a span gets at most so many marks.
#[must_use]
pub fn step_of(from: f64, to: f64, most: usize) -> f64 {
    let raw = ((to - from).abs() / most.max(1) as f64).max(1e-9);
    let power = 10_f64.powf(raw.log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0].into_iter().find(|factor| factor * power >= raw * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}

/// The marks inside a span, ascending.
#[must_use]
pub fn marks(from: f64, to: f64, step: f64) -> Vec<f64> {
    if !(step > 0.0 && to >= from) {
        return Vec::new();
    }
    let first = (from / step - 1e-6).ceil() as i64;
    let last = (to / step + 1e-6).floor() as i64;
    (first..=last.min(first + 500)).map(|index| index as f64 * step).collect()
}

/// Decimals that tell marks of such a step apart.
#[must_use]
pub fn decimals_of(step: f64) -> usize {
    if step <= 0.0 {
        return 0;
    }
    (-(step.log10() + 1e-9).floor()).clamp(0.0, 6.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_goes_there_and_back() {
        let scale = Scale::new(12.0, 18.0, 440.0, 194.0);
        assert!((scale.px(15.0) - 317.0).abs() < 1e-3);
        assert!((scale.value(scale.px(13.7)) - 13.7).abs() < 1e-5);
        assert!(Scale::new(3.0, 3.0, 0.0, 10.0).px(3.0).is_finite());
    }

    #[test]
    fn marks_stand_at_round_figures() {
        assert!((step_of(11.8, 18.4, 8) - 1.0).abs() < 1e-9);
        assert!((step_of(0.0, 3400.0, 4) - 1000.0).abs() < 1e-9);
        assert_eq!(marks(11.8, 15.2, 1.0), vec![12.0, 13.0, 14.0, 15.0]);
        assert_eq!((decimals_of(1.0), decimals_of(0.5), decimals_of(0.02), decimals_of(50.0)), (0, 1, 2, 0));
    }
}
