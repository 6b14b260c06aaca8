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
use super::wide::wide;

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
/// What they grow into at a segment at most.
const MOST_GROWN: usize = HYPOTHESES * MOST_HUMPS;
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
    /// How far neighbours are from each other while that is done.
    gaps: Vec<(f64, f64)>,
    /// What each hump says of the segment at hand.
    told: [Told; MOST_HUMPS],
}

impl Mixture {
    fn new(level: f64, variance: f64) -> Self {
        let mut humps = Vec::with_capacity(MOST_GROWN);
        humps.push(Hump { weight: 1.0, level, variance });
        Self {
            humps,
            grown: Vec::with_capacity(MOST_GROWN),
            gaps: Vec::with_capacity(MOST_GROWN),
            told: [Told::EMPTY; MOST_HUMPS],
        }
    }

    /// Takes the grown humps, with weights that sum to one, as few as tell them apart.
    fn settle(&mut self, floor: f64) {
        let Self { grown, gaps, .. } = self;
        grown.retain(|hump| hump.weight > LEAST_WEIGHT);
        for hump in grown.iter_mut() {
            hump.level = hump.level.max(floor);
        }
        grown.sort_by(|a, b| a.level.total_cmp(&b.level));
        gaps.clear();
        gaps.extend(grown.windows(2).map(gap_of));
        loop {
            let known = gaps.iter().copied().enumerate();
            let Some((at, (apart, _))) = known.reduce(|a, b| if b.1.1 < a.1.1 { b } else { a }) else { break };
            if grown.len() <= MOST_HUMPS && apart > APART * APART {
                break;
            }
            let b = grown.remove(at + 1);
            if let Some(a) = grown.get_mut(at) {
                *a = joined(a, &b);
            }
            // only the neighbours of the one that they became are new
            gaps.remove(at);
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

/// What may have happened in a segment, of one hump: no change, an entry that says nothing, a short stop, a long
/// one, and a change at three moments.
const HYPOTHESES: usize = 7;
/// With one that never holds, so that the processor takes them by fours.
const PADDED: usize = HYPOTHESES + 1;

/// Something of each hypothesis about one hump, side by side.
type Each = [f64; PADDED];

/// One segment, and what its hypotheses are reckoned with.
struct Segmented<'a> {
    segment: &'a Segment,
    par: &'a UsageParameters,
    stops: Stops,
    /// Chance of a change in it.
    changes: f64,
    /// What the spindle usually runs so far, and the group's level.
    middle: f64,
    prior_level: f64,
    /// Years since the segment before.
    since: f64,
    relative_noise: f64,
}

/// What a hump says of a segment, under each hypothesis.
#[derive(Debug, Clone, Copy)]
struct Told {
    /// How likely what the segment shows is, with the chance of the hypothesis.
    weight: Each,
    /// The level afterwards, the segment looked at, and its variance.
    level: Each,
    variance: Each,
}

impl Told {
    const EMPTY: Self = Self { weight: [0.0; PADDED], level: [0.0; PADDED], variance: [0.0; PADDED] };
}

/// Where in [`Each`] the entry that says nothing stands, and where changes begin.
const ENTRY_ERROR: usize = 1;
const CHANGES: usize = 4;

impl Segmented<'_> {
    /// How likely each hypothesis is before the segment is looked at.
    fn chances(&self) -> Each {
        let one_off = self.par.one_off_chance();
        let stays = (1.0 - one_off) * (1.0 - self.changes);
        let change = self.changes * (1.0 - one_off);
        let [short, long] = self.stops.kinds.map(|(chance, _)| stays * chance);
        let [early, middle, late] = MOMENTS.map(|(_, share)| change * share);
        [stays * self.stops.none, one_off, short, long, early, middle, late, 0.0]
    }

    /// What a hump says, where under each hypothesis the spindle ran so much of the working days (`runs`), and its
    /// level had changed for so much of them (`after`).
    ///
    /// It is expected to show `runs u + after (u' - u)`, where `u'` is the level that a change leads to; that and
    /// the level afterwards both follow the present level in part, and a change in part.
    #[inline(always)]
    fn told(&self, hump: &Hump, chances: &Each, runs: &Each, after: &Each) -> Told {
        let (u, x, least) = (hump.level, self.segment.level, 0.2 * self.prior_level);
        let scale = u.max(least);
        let p = hump.variance + self.par.wandering * scale * scale * self.since;
        let change = Change::from(u, self.middle, self.par);
        let step = change.level - u;
        let (mut weight, mut level, mut variance) = ([0.0; PADDED], [0.0; PADDED], [0.0; PADDED]);
        for k in 0..PADDED {
            let has_changed = after[k] > 0.0;
            let (stays, more) = if has_changed { (change.stays, change.variance) } else { (1.0, 0.0) };
            let expected = runs[k] * u + after[k] * step;
            // scatter goes with the level in force, whatever was lost in stops
            let own = if has_changed { expected } else { u };
            let scale = if own > least { own } else { least };
            let follows = runs[k] * (1.0 - after[k] * (1.0 - stays));
            let shown = follows * follows * p + after[k] * after[k] * more + scale * scale * self.relative_noise;
            let covariance = follows * stays * p + after[k] * more;
            let gain = covariance / shown;
            let off = x - expected;
            weight[k] = hump.weight * (chances[k] * density(off, shown));
            level[k] = if has_changed { change.level } else { u } + gain * off;
            variance[k] = stays * stays * p + more - gain * covariance;
        }
        // as likely anywhere in three times the level
        weight[ENTRY_ERROR] = hump.weight * (chances[ENTRY_ERROR] / (3.0 * scale));
        (level[ENTRY_ERROR], variance[ENTRY_ERROR]) = (u, p);
        Told { weight, level, variance }
    }

    /// Grows the humps by what the segment shows; the sum of all weights, and that of the changes.
    fn grow(&self, Mixture { humps, grown, told, .. }: &mut Mixture) -> (f64, f64) {
        let chances = self.chances();
        let [(_, short), (_, long)] = self.stops.kinds;
        let [(early, _), (middle, _), (late, _)] = MOMENTS;
        let runs = [1.0, 1.0, short, long, 1.0, 1.0, 1.0, 1.0];
        let after = [0.0, 0.0, 0.0, 0.0, early, middle, late, 0.0];
        wide(
            #[inline(always)]
            || {
                for (told, hump) in told.iter_mut().zip(humps.iter()) {
                    *told = self.told(hump, &chances, &runs, &after);
                }
            },
        );
        let told = told.get(..humps.len()).unwrap_or(told);
        let sum = |from: usize| -> f64 { told.iter().map(|told| told.weight[from..].iter().sum::<f64>()).sum() };
        let (total, changed) = (sum(0), sum(CHANGES));
        grown.clear();
        let least = LEAST_WEIGHT * total;
        for told in told {
            for k in 0..HYPOTHESES {
                if told.weight[k] > least {
                    grown.push(Hump {
                        weight: told.weight[k] / total,
                        level: told.level[k],
                        variance: told.variance[k],
                    });
                }
            }
        }
        (total, changed)
    }
}

/// `1 - exp(-x)` of figures that mostly are those of the segment before.
#[derive(Default)]
struct Chance {
    last: (f64, f64),
}

impl Chance {
    fn of(&mut self, expected: f64) -> f64 {
        if expected.to_bits() != self.last.0.to_bits() {
            self.last = (expected, -(-expected).exp_m1());
        }
        self.last.1
    }
}

/// The filter with humps; see [`super::usage::usage_level`].
pub(super) fn usage_humps(curve: &Curve, as_of: f64, prior_level: f64, par: &UsageParameters) -> UsageLevel {
    let mut mixture = Mixture::new(prior_level, (0.5 * prior_level).powi(2));
    let mut last: Option<f64> = None;
    let mut likelihood = Product::default();
    let mut changes = Vec::with_capacity(curve.knots().len());
    // the group's level counts as much as two changes of the spindle's own
    let prior_years = (2.0 / par.change_hazard).clamp(1.0, 10.0);
    let (mut run, mut years) = (prior_years * prior_level, prior_years);
    let (mut worked, mut lost) = (0.0, 0.0);
    let (mut change, mut stop) = (Chance::default(), Chance::default());
    for segment in curve.segments(as_of) {
        let Segment { from, to, work, level: x } = segment;
        let (recent, hazard) = par.hazard_over(&segment, as_of, last.is_none());
        let any_stop = stop.of(Stops::expected(&segment, par));
        let segmented = Segmented {
            segment: &segment,
            par,
            stops: Stops::of(&segment, par, any_stop),
            changes: change.of(hazard),
            middle: run / years,
            prior_level,
            since: last.map_or(0.0, |last| (to - last) / DAYS_PER_YEAR),
            relative_noise: par.segment * par.segment * 20.0 / work.max(5.0) + 0.05 * 0.05,
        };
        let (total, changed) = segmented.grow(&mut mixture);
        if last.is_some() {
            likelihood.times(total * prior_level);
        }
        if segmented.changes > 0.0 {
            changes.push((recent, changed / total * par.recent_hazard * recent / hazard));
        }
        mixture.settle(0.02 * prior_level);
        run += x * (to - from) / DAYS_PER_YEAR;
        years += (to - from) / DAYS_PER_YEAR;
        worked += work;
        lost += work * segmented.stops.lost();
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
    let log_likelihood = likelihood.logarithm();
    UsageLevel { level, log_variance, log_likelihood, changes, humps: mixture.humps, middle }
}

/// A product of many figures by its logarithm, which is taken only now and then.
struct Product {
    so_far: f64,
    logarithm: f64,
}

impl Default for Product {
    fn default() -> Self {
        Self { so_far: 1.0, logarithm: 0.0 }
    }
}

impl Product {
    fn times(&mut self, factor: f64) {
        let product = self.so_far * factor;
        if (1e-200..1e200).contains(&product) {
            self.so_far = product;
        } else {
            *self = Self { so_far: 1.0, logarithm: self.logarithm() + factor.ln() };
        }
    }

    fn logarithm(&self) -> f64 {
        self.logarithm + self.so_far.ln()
    }
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
