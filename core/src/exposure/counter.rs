//! One counter (run hours or clamp cycles of one meter) as a sum that never falls.
//!
//! What counts, and where a new meter begins, says [`super::clean`]; what ran unseen is filled at
//! the mean rate so far. Figures that come in order and simply go on, as nearly all do, are taken as
//! they come ([`Steady`]).

use super::clean::{Kept, LARGEST, Misread, Start, clean, goes_on, one_per_day};
use super::curve::{Curve, Knot};
use super::stretches::{Stretch, Stretches};
use super::usage::{self, Usage};

/// One figure that a meter showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    /// Number of the day.
    pub(super) day: i32,
    pub(super) value: f64,
    /// First figure of a new meter.
    pub(super) replaced: bool,
}

/// A counter made whole.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Counter {
    /// Sums at the days on which it was read, the first one what the meter showed; the working days
    /// are those of the meter.
    pub(super) curve: Curve,
    /// What it tells of usage.
    pub(super) usage: Option<Usage>,
    /// Rate of its first stretch, by which the time before the first figure is filled.
    first_rate: Option<f64>,
    pub(super) misread: Vec<Misread>,
}

impl Counter {
    /// The counter of these figures, in any order. `work` gives the working days up to a day,
    /// `most_per_day` what a meter can at most go on in a calendar day.
    pub(super) fn of(shown: Vec<Shown>, work: impl Fn(i32) -> f64, most_per_day: f64) -> Self {
        let mut misread = Vec::new();
        let kept = clean(one_per_day(shown), most_per_day, &mut misread);
        let mut growing = Growing::default();
        let mut previous: Option<Kept> = None;
        for figure in kept {
            let now = work(figure.day);
            match previous {
                None => growing.begin(figure.day, now, figure.value),
                Some(last) if figure.start == Start::SameMeter => {
                    growing.go_on(figure.day, now, figure.value - last.value);
                }
                // a meter that was not announced began at nothing and shows at least what ran on it
                Some(_) if figure.start == Start::Unannounced => growing.jump(figure.day, now, figure.value),
                Some(_) => growing.jump(figure.day, now, 0.0),
            }
            previous = Some(figure);
        }
        Self { misread, ..growing.ended() }
    }

    /// Whether it has no figure.
    pub(super) fn is_empty(&self) -> bool {
        self.curve.is_empty()
    }

    /// Sum at a day with so many working days of the meter; `rate` per working day goes on after
    /// the last figure.
    pub(super) fn at(&self, day: i32, work: f64, rate: f64) -> Option<f64> {
        let after = self.curve.up_to(day);
        let knots = self.curve.knots();
        let Some(before) = after.checked_sub(1).and_then(|before| knots.get(before)) else {
            let first = knots.first()?;
            return Some((first.sum - self.first_rate.unwrap_or(rate) * (first.work - work).max(0.0)).max(0.0));
        };
        Some(match knots.get(after) {
            Some(after) if after.work > before.work => {
                let share = ((work - before.work) / (after.work - before.work)).clamp(0.0, 1.0);
                before.sum + (after.sum - before.sum) * share
            }
            Some(_) => before.sum,
            None => before.sum + rate * (work - before.work).max(0.0),
        })
    }
}

/// A counter as it grows, figure by figure.
#[derive(Debug, Default)]
struct Growing {
    knots: Vec<Knot>,
    /// What the last figure came to.
    sum: f64,
    /// Working days up to it.
    work: f64,
    /// What was seen to be made, and in how many working days.
    seen: f64,
    seen_work: f64,
    stretches: Stretches,
}

impl Growing {
    /// The first figure.
    fn begin(&mut self, day: i32, work: f64, value: f64) {
        (self.seen, self.seen_work) = (0.0, 0.0);
        self.stretches.clear();
        self.knots.clear();
        self.reach(day, work, value);
    }

    /// The same meter went on by so much; a fall is rounding.
    fn go_on(&mut self, day: i32, work: f64, made: f64) {
        let (made, passed) = (made.max(0.0), (work - self.work).max(0.0));
        self.seen += made;
        self.seen_work += passed;
        self.stretches.push(Stretch { to: day, work: passed, made });
        self.reach(day, work, self.sum + made);
    }

    /// Another meter: what ran unseen is filled at the rate so far, and is no less than it shows.
    fn jump(&mut self, day: i32, work: f64, shows: f64) {
        let passed = (work - self.work).max(0.0);
        let usual = if self.seen_work > 0.0 { self.seen / self.seen_work * passed } else { 0.0 };
        self.reach(day, work, self.sum + usual.max(shows));
    }

    fn reach(&mut self, day: i32, work: f64, sum: f64) {
        (self.sum, self.work) = (sum, work);
        self.knots.push(Knot { day: f64::from(day), sum, work });
    }

    /// The counter of what came so far.
    fn ended(&mut self) -> Counter {
        if self.knots.is_empty() {
            return Counter::default();
        }
        let curve = Curve::through(&self.knots);
        self.knots.clear();
        Counter {
            curve,
            usage: usage::of_stretches(self.stretches.ended()),
            first_rate: self.stretches.first_rate(),
            misread: Vec::new(),
        }
    }
}

/// A counter whose figures come day by day and simply go on: made whole as they come, to the bit as
/// [`Counter::of`] would. Used again for one meter after the other.
#[derive(Debug)]
pub(super) struct Steady {
    growing: Growing,
    /// What a meter can at most go on in a calendar day.
    most_per_day: f64,
    last: Option<(i32, f64)>,
    is_odd: bool,
}

impl Steady {
    pub(super) fn new(most_per_day: f64) -> Self {
        Self { growing: Growing::default(), most_per_day, last: None, is_odd: false }
    }

    /// Takes the next figure, shown after so many working days.
    pub(super) fn take(&mut self, shown: Shown, work: f64) {
        // not a number is in no range
        let is_plain = (0.0..=LARGEST).contains(&shown.value);
        let now = (shown.day, shown.value);
        match self.last {
            _ if !is_plain || self.is_odd => self.is_odd = true,
            None => self.growing.begin(shown.day, work, shown.value),
            Some(last) if !shown.replaced && last.0 < shown.day && goes_on(last, now, self.most_per_day) => {
                self.growing.go_on(shown.day, work, shown.value - last.1);
            }
            Some(_) => self.is_odd = true,
        }
        self.last = Some(now);
    }

    /// The counter, ready for the next meter; `None` where a figure did not simply go on.
    pub(super) fn ended(&mut self) -> Option<Counter> {
        let counter = self.growing.ended();
        self.last = None;
        (!std::mem::take(&mut self.is_odd)).then_some(counter)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(figures: &[(i32, f64, bool)], sums: &[f64], misread: usize) {
        let shown =
            figures.iter().map(|(day, value, replaced)| Shown { day: *day, value: *value, replaced: *replaced });
        let counter = Counter::of(shown.collect(), f64::from, 24.0);
        assert_eq!(counter.curve.knots().iter().map(|knot| knot.sum).collect::<Vec<_>>(), sums);
        assert_eq!(counter.misread.len(), misread);
    }

    /// Figures by chance: they go on, now and then with a figure that does not, or on the same day.
    fn by_chance(seed: u64) -> Vec<Shown> {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        let mut dice = |sides: u64| {
            state ^= state >> 12;
            state ^= state << 25;
            state ^= state >> 27;
            (state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % sides
        };
        let (mut day, mut value) = (dice(30) as i32 - 10, dice(90_000) as f64 / 7.0);
        let is_odd = dice(2) == 0;
        let shown = (0..dice(40)).map(|_| {
            let (days, happens) = (dice(60) as i32, if is_odd { dice(40) } else { 40 });
            day += if happens == 0 { 0 } else { days + 1 };
            value += f64::from(days) * dice(2200) as f64 / 100.0 + [0.0, -0.3][usize::from(happens == 1)];
            let shows = match happens {
                2 => value * 0.3,
                3 => value * 0.97,
                4 => value * 4.0,
                5 => f64::NAN,
                6 => -1.0,
                7 => 1e15,
                _ => value,
            };
            Shown { day, value: shows, replaced: happens == 8 }
        });
        shown.collect()
    }

    #[test]
    fn figures_taken_as_they_come_make_the_same_counter() {
        // five days of seven, from some day on
        let work = |day: i32| f64::from((day.max(3) / 7 * 5) + (day.max(3) % 7).min(5)) - 3.0;
        let mut steady = Steady::new(24.0);
        let (mut simple, mut odd) = (0, 0);
        for seed in 0..4000 {
            let shown = by_chance(seed);
            for figure in &shown {
                steady.take(*figure, work(figure.day));
            }
            match steady.ended() {
                Some(counter) => {
                    let general = Counter::of(shown, work, 24.0);
                    // as text every figure is told to the bit
                    assert_eq!(format!("{counter:?}"), format!("{general:?}"), "seed {seed}");
                    simple += 1;
                }
                None => odd += 1,
            }
        }
        assert!(simple > 1000 && odd > 1000, "{simple} simple and {odd} odd");
    }

    #[test]
    fn figures_add_up() {
        check(&[(0, 100.0, false), (10, 180.0, false), (10, 170.0, false)], &[100.0, 180.0], 0);
    }

    #[test]
    fn a_flagged_reading_starts_a_new_meter() {
        // 8 h a day so far, so 5 unseen days are 40 h
        check(
            &[(0, 100.0, false), (10, 180.0, false), (15, 0.0, true), (20, 30.0, false)],
            &[100.0, 180.0, 220.0, 250.0],
            0,
        );
    }

    #[test]
    fn old_and_new_meter_on_one_day_lose_nothing() {
        check(
            &[(0, 100.0, false), (10, 180.0, false), (10, 5.0, true), (20, 30.0, false)],
            &[100.0, 180.0, 180.0, 205.0],
            0,
        );
    }

    #[test]
    fn a_deep_fall_is_a_new_meter() {
        // 5 days at 8 h are 40 h; the new meter shows 60 h, which is more
        check(
            &[(0, 1000.0, false), (10, 1080.0, false), (15, 60.0, false), (25, 140.0, false)],
            &[1000.0, 1080.0, 1140.0, 1220.0],
            0,
        );
    }

    #[test]
    fn a_small_fall_is_a_misread_counter() {
        check(
            &[(0, 1000.0, false), (10, 1080.0, false), (20, 1016.0, false), (30, 1240.0, false)],
            &[1000.0, 1080.0, 1240.0],
            1,
        );
        // the high one is the wrong one
        check(
            &[(0, 1000.0, false), (10, 1180.0, false), (20, 1160.0, false), (30, 1175.0, false)],
            &[1000.0, 1160.0, 1175.0],
            1,
        );
    }

    #[test]
    fn a_jump_that_cannot_be_stays_out() {
        check(&[(0, 1000.0, false), (10, 901_080.0, false), (20, 1160.0, false)], &[1000.0, 1160.0], 1);
        check(&[(0, 1000.0, false), (10, 901_080.0, false)], &[1000.0], 1);
    }

    #[test]
    fn a_jump_that_goes_on_is_another_meter() {
        check(
            &[(0, 1000.0, false), (10, 1080.0, false), (20, 50_000.0, false), (30, 50_080.0, false)],
            &[1000.0, 1080.0, 1160.0, 1240.0],
            0,
        );
    }

    #[test]
    fn between_and_beyond_the_figures() {
        let shown = [(10, 180.0), (20, 280.0)].map(|(day, value)| Shown { day, value, replaced: false });
        let counter = Counter::of(shown.to_vec(), f64::from, 24.0);
        let at = |day: i32| counter.at(day, f64::from(day), 6.0).unwrap();
        assert!((at(15) - 230.0).abs() < 1e-9);
        assert!((at(25) - 310.0).abs() < 1e-9);
        assert!((at(5) - 130.0).abs() < 1e-9);
        assert_eq!(Counter::default().at(1, 1.0, 8.0), None);
    }
}
