//! How much a spindle runs on a working day, and how sure that is.

use super::stretches::Stretch;
use std::ops::RangeInclusive;

/// Run hours or clamp cycles per working day of weight 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Usage {
    /// The rate.
    pub per_day: f64,
    /// One standard uncertainty of its mean over the coming months, as a share of it.
    pub relative_sd: f64,
    /// What it rests on.
    pub basis: UsageBasis,
}

/// What a usage rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum UsageBasis {
    /// The meter's own last stretches.
    Meter,
    /// The same, but it hardly ran of late: a share of what it used to run.
    Idle,
    /// The middle of the shop's other spindles of that interface.
    Interface,
    /// The middle of all spindles of the shop.
    Shop,
    /// 8 h a working day.
    Usual,
}

/// Run hours of a working day where nothing is known: common practice, no source.
pub(crate) const USUAL_HOURS_PER_DAY: f64 = 8.0;
/// Clamp cycles in a run hour where nothing is known: from memory, to be confirmed.
pub(crate) const USUAL_CYCLES_PER_HOUR: f64 = 12.0;
/// Clamp cycles in a run hour that a spindle can make: from a tool that stays in for a year to many a
/// second. What two meters say beyond it is no ratio but a wrong figure, and a clock filled by it from
/// the other one would leave all bounds.
pub(crate) const CYCLES_PER_HOUR: RangeInclusive<f64> = 1e-4..=1e5;

/// Stretches within so many days before the last figure count as recent...
const RECENT_DAYS: i32 = 120;
/// ...and the last three in any case.
const RECENT_STRETCHES: usize = 3;
/// The coming months differ from the past ones at least by so much (seasons, orders): common
/// practice, no source.
const SEASON: f64 = 0.10;
/// With one stretch only.
const ONE_STRETCH: f64 = 0.25;
/// Nothing is surer or less sure than this.
const WIDEST: f64 = 0.7;
/// What is reckoned for a spindle that stood still of late, as a share of what it ran before, so
/// that one which starts again is not taken for one that never will.
const IDLE_SHARE: f64 = 0.2;

/// The spread that is taken for a usage borrowed from other spindles.
pub(super) const BORROWED: f64 = 0.5;

/// The usage that the stretches of a meter show, short ones joined; `None` without one to tell it
/// from.
pub(super) fn of_stretches(stretches: &[Stretch]) -> Option<Usage> {
    let since = stretches.last()?.to - RECENT_DAYS;
    let within = stretches.iter().rev().take_while(|stretch| since < stretch.to).count();
    let count = within.max(RECENT_STRETCHES).min(stretches.len());
    let recent = stretches.get(stretches.len() - count..)?;
    let (rate, work) = mean_rate(recent)?;
    let (long_run, _) = mean_rate(stretches)?;
    if rate < IDLE_SHARE * long_run {
        return Some(Usage { per_day: IDLE_SHARE * long_run, relative_sd: WIDEST, basis: UsageBasis::Idle });
    }
    let relative_sd = if count < 2 || rate <= 0.0 {
        ONE_STRETCH
    } else {
        // spread of the stretches about their mean, weighted by their length
        let spread: f64 = recent.iter().map(|s| s.work * (s.made / s.work / rate - 1.0).powi(2)).sum();
        let variance = spread / work * count as f64 / (count as f64 - 1.0);
        (variance / count as f64 + SEASON * SEASON).sqrt()
    };
    Some(Usage { per_day: rate, relative_sd: relative_sd.clamp(SEASON, WIDEST), basis: UsageBasis::Meter })
}

fn mean_rate(stretches: &[Stretch]) -> Option<(f64, f64)> {
    let sums = |(work, made), stretch: &Stretch| (work + stretch.work, made + stretch.made);
    let (work, made) = stretches.iter().fold((0.0, 0.0), sums);
    (work > 0.0).then(|| (made / work, work))
}

/// The middle of some figures; of an even number the mean of the two in the middle.
#[must_use]
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    let lower = *values.get((values.len() - 1) / 2)?;
    Some(lower / 2.0 + upper / 2.0)
}

#[cfg(test)]
mod tests {
    use super::super::counter::{Counter, Shown};
    use super::*;

    fn usage(figures: &[(i32, f64)]) -> Option<Usage> {
        let shown = figures.iter().map(|(day, value)| Shown { day: *day, value: *value, replaced: false });
        Counter::of(shown.collect(), f64::from, 24.0).usage
    }

    #[test]
    fn the_last_stretches_count() {
        // 200 days at 10 h, then 130 days at 16 h in stretches of 65: both end within 120 days
        // of the last figure; the third one is taken to make three: (65*16*2 + 200*10)/330
        let found = usage(&[(0, 0.0), (200, 2000.0), (265, 3040.0), (330, 4080.0)]).unwrap();
        assert!((found.per_day - 4080.0 / 330.0).abs() < 1e-9);
        assert_eq!(found.basis, UsageBasis::Meter);
        // with more stretches the old one no longer counts
        let found = usage(&[(0, 0.0), (200, 2000.0), (240, 2640.0), (280, 3280.0), (320, 3920.0)]).unwrap();
        assert!((found.per_day - 16.0).abs() < 1e-9);
        assert!((found.relative_sd - SEASON).abs() < 1e-12);
    }

    #[test]
    fn an_idle_spindle_is_not_taken_for_dead() {
        let found = usage(&[(0, 0.0), (300, 3000.0), (340, 3000.0), (380, 3000.0), (420, 3000.0)]).unwrap();
        assert_eq!(found.basis, UsageBasis::Idle);
        assert!((found.per_day - 0.2 * 3000.0 / 420.0).abs() < 1e-9);
    }

    #[test]
    fn nothing_to_tell_it_from() {
        assert_eq!(usage(&[]), None);
        assert_eq!(usage(&[(0, 5.0)]), None);
        assert_eq!(usage(&[(0, 5.0), (1, 15.0)]), None, "too short");
    }

    #[test]
    fn medians() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0]), Some(3.0));
        assert_eq!(median(&mut [4.0, 1.0]), Some(2.5));
    }
}
