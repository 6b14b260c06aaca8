//! Usage per working day as a law with several humps: what an undecided change leaves.
//!
//! The same hypotheses about each meter segment as in the plain filter, but each keeps a Gaussian of
//! its own: after a segment that may show a change or a stop the level has two humps, which the next
//! segments tell apart. A change happens at one of three moments inside the segment (the nodes of
//! Gauss and Legendre), and goes part of the way back to the spindle's own middle. Besides, a segment may
//! hold a stop (`stops.rs`); the humps are levels while the spindle runs until all segments are read.

use super::meter::{Curve, Segment};
use super::normal::density;
use super::stops::Stops;
use super::usage::{DAYS_PER_YEAR, RECENT_DAYS, UsageLevel, UsageParameters};

/// One hump of the law of the present level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hump {
    /// How likely it is.
    pub weight: f64,
    /// Exposure per working day.
    pub level: f64,
    /// Its variance.
    pub variance: f64,
}

/// Humps kept from one segment to the next.
const MOST_HUMPS: usize = 4;
/// What they grow into at a segment: no change, an entry that says nothing, two stops, and a change at three
/// moments.
const MOST_GROWN: usize = 7 * MOST_HUMPS;
/// Humps lighter than this are dropped.
const LEAST_WEIGHT: f64 = 2e-3;
/// Neighbours whose levels differ by less than this many of their standard deviations become one.
const APART: f64 = 0.7;
/// Shares of a segment that a change leaves after it, with weights: Gauss and Legendre on (0, 1).
const MOMENTS: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// What a lasting change leads to, seen from a level: mean, the part that follows the old level, and
/// the variance that it brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Expected level afterwards.
    pub level: f64,
    /// Share of the old level's error that stays.
    pub stays: f64,
    /// Variance of the new level given the old one.
    pub variance: f64,
}

impl Change {
    /// A change goes `reversion` of the way from the old level to the spindle's middle, and is as
    /// wide as `change_size` of where it leads, at least of half the middle: so that a spindle that
    /// stood still may run again.
    #[must_use]
    pub fn from(level: f64, middle: f64, par: &UsageParameters) -> Self {
        let target = level + par.reversion * (middle - level);
        let size = par.change_size * target.max(0.5 * middle);
        Self { level: target, stays: 1.0 - par.reversion, variance: size * size }
    }
}

/// The humps, and how likely a change in the last segment was.
struct Mixture {
    humps: Vec<Hump>,
    /// Grown and pruned at each segment.
    grown: Vec<Hump>,
}

impl Mixture {
    fn new(level: f64, variance: f64) -> Self {
        let mut humps = Vec::with_capacity(MOST_GROWN);
        humps.push(Hump { weight: 1.0, level, variance });
        Self { humps, grown: Vec::with_capacity(MOST_GROWN) }
    }

    /// Takes the grown humps, with weights that sum to one, as few as tell them apart.
    fn settle(&mut self, floor: f64) {
        let grown = &mut self.grown;
        grown.retain(|hump| hump.weight > LEAST_WEIGHT);
        for hump in grown.iter_mut() {
            hump.level = hump.level.max(floor);
        }
        grown.sort_by(|a, b| a.level.total_cmp(&b.level));
        let mut gaps = [(f64::INFINITY, f64::INFINITY); MOST_GROWN];
        for (gap, pair) in gaps.iter_mut().zip(grown.windows(2)) {
            *gap = gap_of(pair);
        }
        loop {
            let known = gaps.iter().copied().take(grown.len().saturating_sub(1)).enumerate();
            let Some((at, (apart, _))) = known.min_by(|a, b| a.1.1.total_cmp(&b.1.1)) else { break };
            if grown.len() <= MOST_HUMPS && apart > APART * APART {
                break;
            }
            let b = grown.remove(at + 1);
            if let Some(a) = grown.get_mut(at) {
                *a = joined(a, &b);
            }
            // only the neighbours of the one that they became are new
            gaps.copy_within(at + 1.., at);
            for i in [at.checked_sub(1), Some(at)].into_iter().flatten() {
                if let (Some(gap), Some(pair)) = (gaps.get_mut(i), grown.get(i..i + 2)) {
                    *gap = gap_of(pair);
                }
            }
        }
        let total: f64 = grown.iter().map(|hump| hump.weight).sum();
        self.humps.clear();
        self.humps.extend(grown.drain(..).map(|hump| Hump { weight: hump.weight / total, ..hump }));
    }

    fn moments(&self) -> (f64, f64) {
        let level: f64 = self.humps.iter().map(|hump| hump.weight * hump.level).sum();
        let variance = self.humps.iter().map(|h| h.weight * (h.variance + (h.level - level).powi(2))).sum();
        (level, variance)
    }
}

/// How far two neighbours are from each other, in their standard deviations squared, and what is lost
/// when they become one: of two light ones less than of two heavy ones (Salmond 1990).
fn gap_of(pair: &[Hump]) -> (f64, f64) {
    let [a, b] = pair else { return (f64::INFINITY, f64::INFINITY) };
    let apart = (b.level - a.level).powi(2) / (a.variance + b.variance).max(1e-300);
    (apart, a.weight * b.weight / (a.weight + b.weight) * apart)
}

/// Two humps as one, by moments.
fn joined(a: &Hump, b: &Hump) -> Hump {
    let weight = a.weight + b.weight;
    let (share_a, share_b) = (a.weight / weight, b.weight / weight);
    let level = share_a * a.level + share_b * b.level;
    let variance =
        share_a * (a.variance + (a.level - level).powi(2)) + share_b * (b.variance + (b.level - level).powi(2));
    Hump { weight, level, variance }
}

/// The filter with humps; see [`super::usage::usage_level`].
pub(super) fn usage_humps(curve: &Curve, as_of: f64, prior_level: f64, par: &UsageParameters) -> UsageLevel {
    let mut mixture = Mixture::new(prior_level, (0.5 * prior_level).powi(2));
    let mut last: Option<f64> = None;
    let mut log_likelihood = 0.0;
    let mut changes = Vec::with_capacity(curve.knots().len());
    // the group's level counts as much as two changes of the spindle's own
    let prior_years = (2.0 / par.change_hazard).clamp(1.0, 10.0);
    let (mut run, mut years) = (prior_years * prior_level, prior_years);
    let (mut worked, mut lost) = (0.0, 0.0);
    for segment in curve.segments(as_of) {
        let Segment { from, to, work, level: x } = segment;
        let middle = run / years;
        let (recent, hazard) = par.hazard_over(&segment, as_of, last.is_none());
        let changes_at_all = -(-hazard).exp_m1();
        let stops = Stops::of(&segment, par);
        let one_off = par.one_off_chance();
        let change_chance = changes_at_all * (1.0 - one_off);
        let since = last.map_or(0.0, |last| (to - last) / DAYS_PER_YEAR);
        let relative_noise = par.segment * par.segment * 20.0 / work.max(5.0) + 0.05 * 0.05;
        let stays = (1.0 - one_off) * (1.0 - changes_at_all);
        let mut changed = 0.0;
        let mut total = 0.0;
        let Mixture { humps, grown } = &mut mixture;
        grown.clear();
        for hump in humps.iter() {
            let u = hump.level;
            let scale = u.max(0.2 * prior_level);
            let p = hump.variance + par.wandering * scale * scale * since;
            let mut push = |chance: f64, level: f64, variance: f64| {
                let weight = hump.weight * chance;
                total += weight;
                grown.push(Hump { weight, level, variance });
                weight
            };
            let s = p + scale * scale * relative_noise;
            let gain = p / s;
            push(stays * stops.none * density(x - u, s), u + gain * (x - u), p * (1.0 - gain));
            push(one_off / (3.0 * scale), u, p);
            for (chance, runs) in stops.kinds {
                if chance <= 0.0 {
                    continue;
                }
                // of the working days it runs so many, at its level
                let expected = runs * u;
                let s = runs * runs * p + scale * scale * relative_noise;
                let c = runs * p;
                let weight = stays * chance * density(x - expected, s);
                push(weight, u + c / s * (x - expected), p - c * c / s);
            }
            if change_chance <= 0.0 {
                continue;
            }
            let change = Change::from(u, middle, par);
            for (after, share) in MOMENTS {
                let expected = u + after * (change.level - u);
                let scale = expected.max(0.2 * prior_level);
                let follows = 1.0 - after * (1.0 - change.stays);
                let s = follows * follows * p + after * after * change.variance + scale * scale * relative_noise;
                let c = follows * change.stays * p + after * change.variance;
                let spread = change.stays * change.stays * p + change.variance;
                changed += push(
                    change_chance * share * density(x - expected, s),
                    change.level + c / s * (x - expected),
                    spread - c * c / s,
                );
            }
        }
        for hump in grown.iter_mut() {
            hump.weight /= total;
        }
        if last.is_some() {
            log_likelihood += (total * prior_level).ln();
        }
        if change_chance > 0.0 {
            changes.push((recent, changed / total * par.recent_hazard * recent / hazard));
        }
        mixture.settle(0.02 * prior_level);
        run += x * (to - from) / DAYS_PER_YEAR;
        years += (to - from) / DAYS_PER_YEAR;
        worked += work;
        lost += work * stops.lost();
        last = Some(to);
    }
    let middle = run / years;
    if let Some(last) = last {
        mixture.wait((as_of - last).max(0.0) / DAYS_PER_YEAR, middle, prior_level, par);
    }
    // with nothing read the level is that of the group, its stops in it
    if worked > 0.0 {
        mixture.scale(1.0 - lost / worked);
    }
    let (level, variance) = mixture.moments();
    let log_variance = super::usage::log_variance(level, variance);
    UsageLevel { level, log_variance, log_likelihood, changes, humps: mixture.humps, middle }
}

impl Mixture {
    /// From levels while a spindle runs to its usage with stops.
    fn scale(&mut self, by: f64) {
        for hump in &mut self.humps {
            hump.level *= by;
            hump.variance *= by * by;
        }
    }

    /// The time since the last segment: wandering, and a change that nobody has read yet.
    fn wait(&mut self, gap: f64, middle: f64, prior_level: f64, par: &UsageParameters) {
        let window = RECENT_DAYS / DAYS_PER_YEAR;
        let hazard = par.recent_hazard * gap.min(window) + par.change_hazard * (gap - window).max(0.0);
        let changed = -(-hazard).exp_m1();
        self.grown.clear();
        for hump in &self.humps {
            let variance = hump.variance + par.wandering * hump.level * hump.level * gap;
            let change = Change::from(hump.level, middle, par);
            self.grown.push(Hump { weight: hump.weight * (1.0 - changed), variance, ..*hump });
            self.grown.push(Hump {
                weight: hump.weight * changed,
                level: change.level,
                variance: change.stays * change.stays * variance + change.variance,
            });
        }
        self.settle(0.02 * prior_level);
    }
}

#[cfg(test)]
mod tests {
    use super::super::improvements::Improvements;
    use super::super::meter::Knot;
    use super::*;

    /// Segments of 25 working days, each at a level.
    fn curve(levels: &[f64]) -> Curve {
        let mut knots = vec![Knot { day: 0.0, sum: 0.0, work: 0.0 }];
        for (i, level) in levels.iter().enumerate() {
            let next = (i + 1) as f64;
            knots.push(Knot { day: 35.0 * next, sum: knots[i].sum + 25.0 * level, work: 25.0 * next });
        }
        Curve::through(&knots)
    }

    fn level(levels: &[f64], improvements: Improvements) -> UsageLevel {
        let curve = curve(levels);
        let as_of = curve.knots()[levels.len()].day;
        let mut par = UsageParameters::weak().with(improvements);
        par.reversion = 0.5;
        super::super::usage::usage_level(&curve, as_of, 8.0, &par)
    }

    #[test]
    fn a_spindle_that_runs_again_is_not_locked_at_zero() {
        let levels = [[8.0; 12].as_slice(), &[0.0; 8], &[8.0; 4]].concat();
        let plain = level(&levels, Improvements::none());
        assert!(plain.level < 0.5, "the plain model locks: {}", plain.level);
        let found = level(&levels, Improvements::all());
        assert!((found.level - 8.0).abs() < 1.0, "{}", found.level);
    }

    #[test]
    fn an_undecided_change_leaves_two_humps_until_the_next_segment() {
        let steady = [8.0; 12];
        let undecided = level(&[steady.as_slice(), &[2.0]].concat(), Improvements::all());
        let near = |humps: &[Hump], low: f64, high: f64| -> f64 {
            humps.iter().filter(|h| (low..high).contains(&h.level)).map(|h| h.weight).sum()
        };
        assert!(near(&undecided.humps, 0.5, 5.0) > 0.1, "{:?}", undecided.humps);
        assert!(near(&undecided.humps, 7.0, 9.0) > 0.1, "{:?}", undecided.humps);
        let stayed = level(&[steady.as_slice(), &[2.0, 2.0, 2.0]].concat(), Improvements::all());
        assert!((stayed.level - 2.0).abs() < 0.6, "{}", stayed.level);
        let went = level(&[steady.as_slice(), &[2.0, 8.0, 8.0]].concat(), Improvements::all());
        assert!((went.level - 8.0).abs() < 0.6, "{}", went.level);
    }

    #[test]
    fn a_stop_passes_and_a_change_stays() {
        // seven of the 25 days of the last segment lost
        let (steady, lost) = ([8.0; 13], [[8.0; 12].as_slice(), &[8.0 * 18.0 / 25.0]].concat());
        let mut par = UsageParameters::weak().with(Improvements::all());
        (par.reversion, par.segment, par.stop_days) = (0.0, 0.1, 12.0);
        let mut fall = |stops_per_year: f64| {
            par.stops_per_year = stops_per_year;
            let at = |levels: &[f64]| {
                let curve = curve(levels);
                super::super::usage::usage_level(&curve, curve.knots()[levels.len()].day, 8.0, &par).level
            };
            1.0 - at(&lost) / at(&steady)
        };
        let (without, with) = (fall(0.0), fall(0.8));
        assert!(with < without - 0.03 && with > 0.0, "{with} against {without}");
    }

    #[test]
    fn a_law_that_knows_no_stops_is_used_as_it_was_learnt() {
        let levels = [[8.0; 12].as_slice(), &[5.0]].concat();
        let with = |improvements| level(&levels, improvements);
        let without = with(Improvements { stops: false, ..Improvements::all() });
        assert_eq!(with(Improvements::all()), without);
    }

    #[test]
    fn the_weights_sum_to_one_whatever_comes() {
        for levels in [&[0.0, 0.0, 1e9, 3.0, 0.0][..], &[8.0, 8.1, 24.0], &[]] {
            let found = level(levels, Improvements::all());
            let sum: f64 = found.humps.iter().map(|hump| hump.weight).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{sum}");
            assert!(found.level.is_finite() && found.level > 0.0 && found.log_variance.is_finite());
        }
    }
}
