//! One counter (run hours or clamp cycles of one meter) as a sum that never falls.
//!
//! Of several figures of one day the larger counts. A flagged reading, or a fall to less than half,
//! starts a new meter: what ran unseen is filled at the mean rate so far. A small fall, or a rise
//! that cannot be, is a misread counter and stays out; it is named.

use chrono::NaiveDate;

/// One figure that a meter showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shown {
    pub(super) day: NaiveDate,
    pub(super) value: f64,
    /// First figure of a new meter.
    pub(super) replaced: bool,
}

/// A stretch between two figures of one meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Segment {
    pub(super) to: NaiveDate,
    /// Working days it lasted.
    pub(super) work: f64,
    /// What the meter went on.
    pub(super) made: f64,
}

/// A figure that was left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Misread {
    pub(super) day: NaiveDate,
    pub(super) value: f64,
    /// The neighbouring figure that it does not go with.
    pub(super) against: f64,
}

/// A counter made whole.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Counter {
    pub(super) days: Vec<NaiveDate>,
    /// Working days of the meter at these days.
    pub(super) work: Vec<f64>,
    /// Sum at these days; the first one is what the meter showed.
    pub(super) sums: Vec<f64>,
    pub(super) segments: Vec<Segment>,
    pub(super) misread: Vec<Misread>,
}

/// A fall by no more than this is rounding.
const ROUNDING: f64 = 0.5;
/// No counter goes beyond this; keeps sums of absurd figures finite.
const LARGEST: f64 = 1e12;

impl Counter {
    /// The counter of these figures, in any order. `work` gives the working days up to a day,
    /// `most_per_day` what a meter can at most go on in a calendar day.
    pub(super) fn of(shown: Vec<Shown>, work: impl Fn(NaiveDate) -> f64, most_per_day: f64) -> Self {
        let mut counter = Self::default();
        let kept = clean(one_per_day(shown), most_per_day, &mut counter.misread);
        for figures in [&mut counter.work, &mut counter.sums] {
            figures.reserve_exact(kept.len());
        }
        counter.days.reserve_exact(kept.len());
        counter.segments.reserve_exact(kept.len());
        let (mut sum, mut made_so_far, mut work_so_far) = (0.0, 0.0, 0.0);
        let mut previous: Option<(f64, Kept)> = None;
        for figure in kept {
            let now = work(figure.day);
            match previous {
                None => sum = figure.value,
                Some((before, last)) => {
                    let passed = (now - before).max(0.0);
                    let made = if figure.start == Start::SameMeter {
                        let made = (figure.value - last.value).max(0.0);
                        made_so_far += made;
                        work_so_far += passed;
                        counter.segments.push(Segment { to: figure.day, work: passed, made });
                        made
                    } else {
                        let usual = if work_so_far > 0.0 { made_so_far / work_so_far * passed } else { 0.0 };
                        // a meter that was not announced began at nothing and shows at least what ran on it
                        if figure.start == Start::Unannounced { usual.max(figure.value) } else { usual }
                    };
                    sum += made;
                }
            }
            counter.days.push(figure.day);
            counter.work.push(now);
            counter.sums.push(sum);
            previous = Some((now, figure));
        }
        counter
    }

    /// Sum at a day with so many working days of the meter; `rate` per working day goes on after
    /// the last figure.
    pub(super) fn at(&self, day: NaiveDate, work: f64, rate: f64) -> Option<f64> {
        let after = self.days.partition_point(|known| *known <= day);
        let knot = |index: usize| Some((*self.work.get(index)?, *self.sums.get(index)?));
        let Some((work_before, sum_before)) = after.checked_sub(1).and_then(knot) else {
            let (first_work, first_sum) = knot(0)?;
            return Some((first_sum - self.first_rate(rate) * (first_work - work).max(0.0)).max(0.0));
        };
        Some(match knot(after) {
            Some((work_after, sum_after)) if work_after > work_before => {
                let share = ((work - work_before) / (work_after - work_before)).clamp(0.0, 1.0);
                sum_before + (sum_after - sum_before) * share
            }
            Some(_) => sum_before,
            None => sum_before + rate * (work - work_before).max(0.0),
        })
    }

    /// Rate of its first stretch, by which the time before the first figure is filled.
    fn first_rate(&self, otherwise: f64) -> f64 {
        self.segments.iter().find(|segment| segment.work >= 1.0).map_or(otherwise, |s| s.made / s.work)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Start {
    SameMeter,
    /// A new meter, flagged as such.
    Announced,
    /// A new meter by its fall.
    Unannounced,
    /// The counter goes on from elsewhere.
    Jumped,
}

#[derive(Debug, Clone, Copy)]
struct Kept {
    day: NaiveDate,
    value: f64,
    start: Start,
}

/// Sorted by day; of a day the largest figure of the old meter, then the largest of the new one.
fn one_per_day(mut shown: Vec<Shown>) -> Vec<Shown> {
    shown.retain(|figure| figure.value.is_finite());
    for figure in &mut shown {
        figure.value = figure.value.clamp(0.0, LARGEST);
    }
    shown.sort_by(|a, b| (a.day, a.replaced).cmp(&(b.day, b.replaced)).then(b.value.total_cmp(&a.value)));
    shown.dedup_by_key(|figure| (figure.day, figure.replaced));
    // the new meter read twice on its day without the flag the second time
    shown
}

fn clean(shown: Vec<Shown>, most_per_day: f64, misread: &mut Vec<Misread>) -> Vec<Kept> {
    let possible = |from: (NaiveDate, f64), to: (NaiveDate, f64)| {
        let days = (to.0 - from.0).num_days() as f64 + 1.0;
        to.1 - from.1 <= most_per_day * days
    };
    let goes_on = |from: (NaiveDate, f64), to: (NaiveDate, f64)| to.1 >= from.1 - ROUNDING && possible(from, to);
    let mut kept: Vec<Kept> = Vec::with_capacity(shown.len());
    for (index, figure) in shown.iter().enumerate() {
        let now = (figure.day, figure.value);
        let keep = |start| Kept { day: figure.day, value: figure.value, start };
        let Some(last) = kept.last().copied() else {
            kept.push(keep(Start::SameMeter));
            continue;
        };
        if figure.replaced {
            kept.push(keep(Start::Announced));
            continue;
        }
        let before = (last.day, last.value);
        if goes_on(before, now) {
            kept.push(keep(Start::SameMeter));
            continue;
        }
        let next = shown.get(index + 1).filter(|next| !next.replaced).map(|next| (next.day, next.value));
        let fits_around = next.is_some_and(|next| goes_on(before, next));
        let falls = now.1 < before.1;
        if falls && now.1 < before.1 / 2.0 && !fits_around {
            // unless the figure before was the wrong one: this one goes on from the one before that
            let earlier = kept.len().checked_sub(2).and_then(|at| kept.get(at)).copied();
            let last_was_high = last.start == Start::Jumped
                && earlier.is_some_and(|earlier| goes_on((earlier.day, earlier.value), now));
            if !last_was_high {
                kept.push(keep(Start::Unannounced));
                continue;
            }
        }
        let earlier = kept.len().checked_sub(2).and_then(|at| kept.get(at)).copied();
        let from_earlier = earlier.is_some_and(|e| last.start != Start::Announced && goes_on((e.day, e.value), now));
        if falls && !fits_around && from_earlier && next.is_some_and(|next| goes_on(now, next)) {
            misread.push(Misread { day: last.day, value: last.value, against: figure.value });
            kept.pop();
            kept.push(keep(Start::SameMeter));
        } else if !fits_around && next.is_some_and(|next| goes_on(now, next)) {
            kept.push(keep(Start::Jumped));
        } else {
            misread.push(Misread { day: figure.day, value: figure.value, against: last.value });
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Days;

    fn day(number: u64) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 1, 1).unwrap().checked_add_days(Days::new(number)).unwrap()
    }

    fn work(day: NaiveDate) -> f64 {
        (day - NaiveDate::from_ymd_opt(2026, 1, 1).unwrap()).num_days() as f64
    }

    #[track_caller]
    fn check(figures: &[(u64, f64, bool)], sums: &[f64], misread: usize) {
        let shown =
            figures.iter().map(|(d, value, replaced)| Shown { day: day(*d), value: *value, replaced: *replaced });
        let counter = Counter::of(shown.collect(), work, 24.0);
        assert_eq!(counter.sums, sums);
        assert_eq!(counter.misread.len(), misread);
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
        let shown = [(10, 180.0), (20, 280.0)].map(|(d, value)| Shown { day: day(d), value, replaced: false });
        let counter = Counter::of(shown.to_vec(), work, 24.0);
        let at = |d| counter.at(day(d), d as f64, 6.0).unwrap();
        assert!((at(15) - 230.0).abs() < 1e-9);
        assert!((at(25) - 310.0).abs() < 1e-9);
        assert!((at(5) - 130.0).abs() < 1e-9);
        assert_eq!(Counter::default().at(day(1), 1.0, 8.0), None);
    }
}
