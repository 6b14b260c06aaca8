//! How much a spindle runs on a working day, and how sure that is.

use super::counter::{Counter, Segment};
use chrono::{Days, NaiveDate};

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

/// Stretches within so many days before the last figure count as recent...
const RECENT_DAYS: u64 = 120;
/// ...and the last three in any case.
const RECENT_SEGMENTS: usize = 3;
/// Shorter stretches are joined with the next one.
const SHORTEST_WORK: f64 = 3.0;
/// The coming months differ from the past ones at least by so much (seasons, orders): common
/// practice, no source.
const SEASON: f64 = 0.10;
/// With one stretch only.
const ONE_SEGMENT: f64 = 0.25;
/// Nothing is surer or less sure than this.
const WIDEST: f64 = 0.7;
/// What is reckoned for a spindle that stood still of late, as a share of what it ran before, so
/// that one which starts again is not taken for one that never will.
const IDLE_SHARE: f64 = 0.2;

/// The spread that is taken for a usage borrowed from other spindles.
pub(super) const BORROWED: f64 = 0.5;

/// The usage that a meter shows; `None` without a stretch to tell it from.
pub(super) fn of_counter(counter: &Counter) -> Option<Usage> {
    let joined = join_short(&counter.segments);
    let last = joined.last()?.to;
    let since = last.checked_sub_days(Days::new(RECENT_DAYS)).unwrap_or(NaiveDate::MIN);
    let within = joined.iter().rev().take_while(|segment| since < segment.to).count();
    let count = within.max(RECENT_SEGMENTS).min(joined.len());
    let recent = joined.get(joined.len() - count..)?;
    let (rate, work) = mean_rate(recent)?;
    let (long_run, _) = mean_rate(&joined)?;
    if rate < IDLE_SHARE * long_run {
        return Some(Usage { per_day: IDLE_SHARE * long_run, relative_sd: WIDEST, basis: UsageBasis::Idle });
    }
    let relative_sd = if count < 2 || rate <= 0.0 {
        ONE_SEGMENT
    } else {
        // spread of the stretches about their mean, weighted by their length
        let spread: f64 = recent.iter().map(|s| s.work * (s.made / s.work / rate - 1.0).powi(2)).sum();
        let variance = spread / work * count as f64 / (count as f64 - 1.0);
        (variance / count as f64 + SEASON * SEASON).sqrt()
    };
    Some(Usage { per_day: rate, relative_sd: relative_sd.clamp(SEASON, WIDEST), basis: UsageBasis::Meter })
}

fn mean_rate(segments: &[Segment]) -> Option<(f64, f64)> {
    let work: f64 = segments.iter().map(|segment| segment.work).sum();
    let made: f64 = segments.iter().map(|segment| segment.made).sum();
    (work > 0.0).then(|| (made / work, work))
}

fn join_short(segments: &[Segment]) -> Vec<Segment> {
    let mut joined: Vec<Segment> = Vec::with_capacity(segments.len());
    let mut open: Option<Segment> = None;
    for segment in segments {
        let sum = open.map_or(*segment, |o| Segment {
            to: segment.to,
            work: o.work + segment.work,
            made: o.made + segment.made,
        });
        if sum.work >= SHORTEST_WORK {
            joined.push(sum);
            open = None;
        } else {
            open = Some(sum);
        }
    }
    if let (Some(rest), Some(last)) = (open, joined.last_mut()) {
        *last = Segment { to: rest.to, work: last.work + rest.work, made: last.made + rest.made };
    }
    joined
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
    use super::super::counter::Shown;
    use super::*;

    fn usage(figures: &[(u64, f64)]) -> Option<Usage> {
        let first = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
        let shown = figures.iter().map(|(d, value)| Shown {
            day: first.checked_add_days(Days::new(*d)).unwrap(),
            value: *value,
            replaced: false,
        });
        of_counter(&Counter::of(shown.collect(), |day| (day - first).num_days() as f64, 24.0))
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
