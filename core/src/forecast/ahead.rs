//! Force ahead: how low it may have fallen by each day, with which chance.
//!
//! Levels come from the first-passage law that gives the crossing dates, so that each edge of the
//! fan meets a limit on the day on which that share has crossed it: a level l has share p at a drift
//! clock g where F(l, g) = p. A possible step drop is in it as in the dates. As wear outweighs
//! wandering, the lowest force so far and the force itself hardly differ.

use super::QUANTILES;
use super::full::{LimitMoments, shares_with};
use super::model::filter::Mean;
use super::model::spindle::LimitForecast;
use statrs::distribution::{ContinuousCDF as _, Normal};

/// Shares with a path of their own: [`QUANTILES`], then the accepted risk.
const PATHS: usize = QUANTILES.len() + 1;
/// Drift clock readings at which levels are computed; straight between them.
const POINTS: usize = 9;
/// Where the law is evaluated at each of them, in standard deviations about what is expected.
const SPREAD: [f64; 7] = [-2.6, -1.7, -0.85, 0.0, 0.85, 1.7, 2.6];
/// Further evaluations where the shares lie outside of these.
const MOST_FURTHER: usize = 24;

/// The levels of all shares over the drift clock.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ForceAhead {
    paths: [Vec<(f64, f64)>; PATHS],
}

impl ForceAhead {
    /// From the law of the service limit, up to a drift clock reading. Where the shares cross a
    /// limit of `limits` (law, level, and the moments of the shares) inside it, the paths go through that very point.
    pub(super) fn of(
        mean: &Mean,
        limits: &[(&LimitForecast<'_>, f64, &LimitMoments)],
        risk: f64,
        end: f64,
    ) -> Option<Self> {
        let (law, ..) = limits.first()?;
        let normal = Normal::new(0.0, 1.0).ok()?;
        let scores = shares_with(risk).map(|share| normal.inverse_cdf(share));
        let mut paths: [Vec<(f64, f64)>; PATHS] = std::array::from_fn(|_| Vec::with_capacity(POINTS + 2));
        for point in 0..POINTS {
            let g = end * (point as f64 / (POINTS - 1) as f64).powi(2);
            let levels = levels_at(mean, law, g, &scores, &normal);
            for (path, level) in paths.iter_mut().zip(levels) {
                path.push((g, level));
            }
            if end <= 0.0 {
                break;
            }
        }
        for (law, limit, moments) in limits {
            for (path, moment) in paths.iter_mut().zip(*moments) {
                let Some(g) = moment.map(|moment| law.drift_clock(moment)).filter(|g| *g > 0.0 && *g < end) else {
                    continue;
                };
                let place = path.partition_point(|(known, _)| *known < g);
                path.insert(place, (g, *limit));
            }
        }
        for path in &mut paths {
            // what a coarse grid leaves over must not rise
            let mut lowest = f64::INFINITY;
            for (_, level) in path {
                lowest = lowest.min(*level);
                *level = lowest;
            }
        }
        Some(Self { paths })
    }

    /// Levels at a drift clock reading: those of [`QUANTILES`], ascending, and that of the accepted
    /// risk.
    pub(super) fn at(&self, g: f64) -> ([f64; QUANTILES.len()], f64) {
        let of = |path: &Vec<(f64, f64)>| {
            let after = path.partition_point(|(known, _)| *known <= g);
            match (after.checked_sub(1).and_then(|before| path.get(before)), path.get(after)) {
                (Some((g0, y0)), Some((g1, y1))) => y0 + (y1 - y0) * (g - g0) / (g1 - g0),
                (Some((_, level)), None) | (None, Some((_, level))) => *level,
                (None, None) => 0.0,
            }
        };
        let mut levels = std::array::from_fn(|index| self.paths.get(index).map_or(0.0, of));
        let mut highest = f64::NEG_INFINITY;
        for level in &mut levels {
            highest = highest.max(*level);
            *level = highest;
        }
        (levels, self.paths.last().map_or(0.0, of))
    }
}

/// The levels of the shares at a drift clock reading: the law is evaluated at a few levels, and
/// inverted straight on the scale of normal scores.
fn levels_at(mean: &Mean, law: &LimitForecast<'_>, g: f64, scores: &[f64; PATHS], normal: &Normal) -> [f64; PATHS] {
    let input = &law.input;
    let p = &law.covariance;
    let rate = law.rate * (0.5 * input.usage_variance).exp();
    let rate_variance = rate * rate * (input.log_rate.1 + input.usage_variance).exp_m1();
    let variance = p[0][0] - 2.0 * g * p[0][1] + g * g * rate_variance + input.q * g;
    let (centre, sd) = (mean[0] - rate * g, variance.max(1e-12).sqrt());
    let score = |level: f64| {
        let chance = law.law().with_limit_higher_by(level - input.limit).cdf(g);
        normal.inverse_cdf(chance.clamp(1e-12, 1.0 - 1e-12))
    };
    let mut known: Vec<(f64, f64)> =
        SPREAD.iter().map(|z| centre + z * sd).map(|level| (level, score(level))).collect();
    let (least, most) =
        scores.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| (low.min(*s), high.max(*s)));
    for _ in 0..MOST_FURTHER {
        match (known.first().copied(), known.last().copied()) {
            (Some((level, first)), _) if first > least => {
                let lower = level - 1.2 * sd;
                known.insert(0, (lower, score(lower)));
            }
            (_, Some((level, last))) if last < most => {
                let higher = level + 1.2 * sd;
                known.push((higher, score(higher)));
            }
            _ => break,
        }
    }
    scores.map(|wanted| {
        let after = known.partition_point(|(_, score)| *score < wanted).clamp(1, known.len() - 1);
        match (known.get(after - 1), known.get(after)) {
            (Some((y0, s0)), Some((y1, s1))) if s1 > s0 => y0 + (y1 - y0) * (wanted - s0) / (s1 - s0),
            (Some((level, _)), _) => *level,
            _ => centre,
        }
    })
}
