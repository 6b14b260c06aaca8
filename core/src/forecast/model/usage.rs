//! Usage per working day: a level that wanders, changes for good, or is hidden by one-off stops.

use super::humps::{Hump, usage_humps};
use super::improvements::Improvements;
use super::meter::{Curve, Segment};
use super::normal::density;
use super::parameters::{Prior, Transform};
use serde::{Deserialize, Serialize};

/// A year's rhythm that the level does not follow, relative.
pub(super) const SEASON: f64 = 0.05;
/// Chance that a meter segment says nothing: unplanned stop or entry error.
pub(super) const ONE_OFF_CHANCE: f64 = 0.05;
/// The same where stops have a law of their own: entry errors alone. From experience, to be confirmed.
const ENTRY_ERROR_CHANCE: f64 = 0.02;
/// Days before as-of in which the shop's rate of changes is judged on its own.
pub(super) const RECENT_DAYS: f64 = 120.0;
/// Most of the variance of the logarithm that usage may have.
pub(super) const MOST_VARIANCE: f64 = 0.7;
pub(super) const DAYS_PER_YEAR: f64 = 365.0;

/// How usage behaves over the whole shop, per clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct UsageParameters {
    /// Variance of the logarithm of the level per year: slow wandering.
    pub wandering: f64,
    /// Scatter of a 20-working-day mean around the level, relative.
    pub segment: f64,
    /// Relative size of a lasting change.
    pub change_size: f64,
    /// Lasting changes per spindle and year.
    pub change_hazard: f64,
    /// The same in the last 120 days.
    pub recent_hazard: f64,
    /// How far a lasting change goes back to the spindle's own middle; 0 in the plain model.
    pub reversion: f64,
    /// Stops per spindle and year; none in the plain model.
    #[serde(default)]
    pub stops_per_year: f64,
    /// Working days that a stop takes, in the mean.
    #[serde(default)]
    pub stop_days: f64,
    /// What the model does with them beyond its plain form; not kept with them, as the
    /// program decides it.
    #[serde(skip, default = "Improvements::all")]
    pub improvements: Improvements,
}

const PRIORS: [(f64, f64); 4] = [(0.02, 0.9), (0.18, 0.5), (0.50, 0.2), (0.40, 0.7)];

impl UsageParameters {
    pub(super) fn at(theta: &[f64; 4]) -> Self {
        let mut values = [0.0; 4];
        for ((value, (middle, sd)), theta) in values.iter_mut().zip(PRIORS).zip(theta) {
            let prior = Prior { transform: Transform::Log, mean: f64::ln(middle), sd };
            *value = prior.value_at(*theta);
        }
        let [wandering, segment, change_size, change_hazard] = values;
        Self {
            wandering,
            segment,
            change_size,
            change_hazard,
            recent_hazard: change_hazard,
            reversion: 0.0,
            stops_per_year: 0.0,
            stop_days: 0.0,
            improvements: Improvements::none(),
        }
    }

    /// The same, used with these improvements.
    #[must_use]
    pub const fn with(mut self, improvements: Improvements) -> Self {
        self.improvements = improvements;
        self
    }

    /// The prior centre, for the plain model.
    #[must_use]
    pub fn weak() -> Self {
        Self::at(&[0.0; 4])
    }

    /// Years of a segment that lie in the recent window before as-of, and the expected number of lasting
    /// changes in all of it; none in the first segment, which shows the first level.
    pub(super) fn hazard_over(&self, segment: &Segment, as_of: f64, is_first: bool) -> (f64, f64) {
        let days = segment.to - segment.from;
        let recent = days.min(segment.to - (as_of - RECENT_DAYS)).max(0.0) / DAYS_PER_YEAR;
        let earlier = days / DAYS_PER_YEAR - recent;
        let hazard = if is_first { 0.0 } else { self.change_hazard * earlier + self.recent_hazard * recent };
        (recent, hazard)
    }

    /// Chance that a meter segment says nothing.
    pub(super) fn one_off_chance(&self) -> f64 {
        if self.has_stops() { ENTRY_ERROR_CHANCE } else { ONE_OFF_CHANCE }
    }

    /// Whether stops have a law of their own: one that was learnt before they had none.
    pub(super) fn has_stops(&self) -> bool {
        self.improvements.stops && self.stops_per_year > 0.0
    }

    /// Growth per year of the variance of the logarithm of usage.
    #[must_use]
    pub fn growth_per_year(&self) -> f64 {
        self.wandering + self.change_hazard * self.change_size * self.change_size
    }
}

/// Usage as the filter left it.
#[derive(Debug, Clone, PartialEq)]
pub struct UsageLevel {
    /// Exposure per working day.
    pub level: f64,
    /// Variance of its logarithm at as-of.
    pub log_variance: f64,
    /// Log marginal likelihood of the segments.
    pub log_likelihood: f64,
    /// Per segment: its years inside the recent window, and the chance of a change in them.
    pub changes: Vec<(f64, f64)>,
    /// The law of the level as a mixture; empty in the plain model.
    pub humps: Vec<Hump>,
    /// What the spindle usually runs; the level itself in the plain model.
    pub middle: f64,
}

/// One hypothesis about a segment.
#[derive(Clone, Copy)]
struct Hypothesis {
    weight: f64,
    level: f64,
    variance: f64,
}

/// Filters the segments of a meter curve up to a day, under three hypotheses each, collapsed by
/// moments: normal; a lasting change at an unknown moment inside the segment, which then shows on
/// average half of it; a one-off that says nothing.
#[must_use]
pub fn usage_level(curve: &Curve, as_of: f64, prior_level: f64, par: &UsageParameters) -> UsageLevel {
    if par.improvements.usage_humps {
        return usage_humps(curve, as_of, prior_level, par);
    }
    let mut u = prior_level;
    let mut p = (0.5 * prior_level).powi(2);
    let mut last: Option<f64> = None;
    let mut log_likelihood = 0.0;
    let mut changes = Vec::with_capacity(curve.knots().len());
    for segment in curve.segments(as_of) {
        let Segment { to, work, level: x, .. } = segment;
        let scale = u.max(0.2 * prior_level);
        if let Some(last) = last {
            p += par.wandering * scale * scale * (to - last) / DAYS_PER_YEAR;
        }
        let noise = scale * scale * (par.segment * par.segment * 20.0 / work.max(5.0) + 0.05 * 0.05);
        let (recent, hazard) = par.hazard_over(&segment, as_of, last.is_none());
        let changed = -(-hazard).exp_m1();
        let change_chance = changed * (1.0 - ONE_OFF_CHANCE);
        let s = p + noise;
        let gain = p / s;
        let mut hypotheses = [
            Hypothesis {
                weight: (1.0 - ONE_OFF_CHANCE) * (1.0 - changed) * density(x - u, s),
                level: u + gain * (x - u),
                variance: p * (1.0 - gain),
            },
            Hypothesis { weight: ONE_OFF_CHANCE / (3.0 * scale), level: u, variance: p },
            Hypothesis { weight: 0.0, level: u, variance: p },
        ];
        if change_chance > 0.0 {
            let jump = (par.change_size * scale).powi(2);
            let s = p + jump / 3.0 + noise;
            let c = p + jump / 2.0;
            hypotheses[2] = Hypothesis {
                weight: change_chance * density(x - u, s),
                level: u + c / s * (x - u),
                variance: p + jump - c * c / s,
            };
        }
        let total: f64 = hypotheses.iter().map(|h| h.weight).sum();
        if last.is_some() {
            log_likelihood += (total * scale).ln();
        }
        if change_chance > 0.0 {
            changes.push((recent, hypotheses[2].weight / total * par.recent_hazard * recent / hazard));
        }
        let mean = hypotheses.iter().map(|h| h.weight * h.level).sum::<f64>() / total;
        p = hypotheses.iter().map(|h| h.weight * (h.variance + (h.level - mean).powi(2))).sum::<f64>() / total;
        u = mean.max(0.02 * prior_level);
        last = Some(to);
    }
    if let Some(last) = last {
        let gap = (as_of - last).max(0.0) / DAYS_PER_YEAR;
        let window = RECENT_DAYS / DAYS_PER_YEAR;
        let hazard = par.recent_hazard * gap.min(window) + par.change_hazard * (gap - window).max(0.0);
        p += par.wandering * u * u * gap - (-hazard).exp_m1() * (par.change_size * u).powi(2);
    }
    let log_variance = log_variance(u, p);
    UsageLevel { level: u, log_variance, log_likelihood, changes, humps: Vec::new(), middle: u }
}

/// Variance of the logarithm of a level, with what the season leaves.
pub(super) fn log_variance(level: f64, variance: f64) -> f64 {
    ((variance / (level * level)).ln_1p() + SEASON * SEASON).min(MOST_VARIANCE)
}

/// Prior level of a group: geometric mean of its spindles' long-run rates, with two imagined
/// spindles at the default.
#[must_use]
pub fn prior_level(rates: &[f64], default: f64) -> f64 {
    let logs: f64 = rates.iter().map(|rate| rate.max(0.05 * default).ln()).sum();
    ((2.0 * default.ln() + logs) / (2.0 + rates.len() as f64)).exp()
}
