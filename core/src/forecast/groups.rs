//! What the spindles of an interface, and of the whole shop, have in common.
//!
//! The loss of a spindle is the mean of its stretches' least-squares slopes, weighted by what each
//! can tell; an interface takes the middle of its spindles. An interface with fewer than three
//! spindles to tell it from borrows the figures of all; a shop without history takes figures from
//! experience, and the forecast says so.

use super::history::{History, Point, Stretch};
use super::straight::{Scatter, SlopePrior};
use crate::exposure::UsualUsage;
use crate::exposure::usage::median;
use crate::interface::Interface;
use crate::reading::Phase;
use std::collections::BTreeMap;

/// Loss where nothing is known, percent of nominal per 1,000 run hours: from memory, to be confirmed.
pub(super) const USUAL_LOSS: f64 = 6.0;
/// Its spread between spindles, as a share: from memory, to be confirmed.
const USUAL_LOSS_SPREAD: f64 = 0.5;
/// Least spread between the spindles of a group, as a share.
const LEAST_SPREAD: f64 = 0.25;
/// Least spread between the stretches of one spindle, as a share.
const LEAST_OWN_SPREAD: f64 = 0.22;
/// Scatter of force readings about a line, percent of nominal, and the degrees of freedom for which
/// it counts beside the shop's own lines: from memory, to be confirmed.
const USUAL_SCATTER: f64 = 1.0;
const USUAL_SCATTER_FREEDOM: f64 = 4.0;
/// The pooled scatter counts for at most so many degrees of freedom in a single line.
const MOST_POOLED_FREEDOM: f64 = 12.0;
/// Wandering of the true force about a line: variance per 1,000 run hours; from memory, to be confirmed.
pub(super) const FORCE_WANDER: f64 = 0.35;
/// Level when new or after a service where nothing is known, percent of nominal, and its spread:
/// from memory, to be confirmed.
const USUAL_LEVEL: f64 = 98.0;
const USUAL_LEVEL_SD: f64 = 2.0;
/// A stretch tells a slope from so many readings...
const FIT_READINGS: usize = 3;
/// ...over so many 1,000 run hours.
const FIT_SPAN: f64 = 0.2;
/// A group of fewer spindles borrows.
const LEAST_SPINDLES: usize = 3;

/// The figures of a group of spindles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct GroupFigures {
    /// Loss per 1,000 run hours: quarter below, middle, quarter above.
    pub(super) loss: [f64; 3],
    /// Spread of the loss between spindles.
    pub(super) loss_sd: f64,
    /// Spindles that it rests on.
    pub(super) spindles: usize,
    /// Scatter of readings about a line.
    pub(super) scatter: Scatter,
    /// Level after a service.
    pub(super) restored: f64,
    /// Its spread.
    pub(super) restored_sd: f64,
    /// Whether the loss comes from experience, not from this shop.
    pub(super) is_usual: bool,
}

/// The figures of all groups of a shop.
#[derive(Debug, Clone, PartialEq)]
pub struct Groups {
    by_interface: BTreeMap<Interface, GroupFigures>,
    all: GroupFigures,
    /// What spindles usually run.
    pub(super) usual: UsualUsage,
}

/// What one spindle contributes.
#[derive(Debug, Clone, Default)]
struct Contribution {
    slopes: Vec<f64>,
    residual_sum: f64,
    freedom: f64,
    restored: Vec<f64>,
}

/// A least-squares slope of a stretch and its weight, where it can be told.
pub(super) fn slope_of(stretch: &Stretch) -> Option<(f64, f64, f64)> {
    let points = without_steps(stretch);
    let count = points.len();
    if count < FIT_READINGS {
        return None;
    }
    let k_mean = points.iter().map(|p| p.k).sum::<f64>() / count as f64;
    let level = points.iter().map(|p| p.y).sum::<f64>() / count as f64;
    let square: f64 = points.iter().map(|p| (p.k - k_mean).powi(2)).sum();
    let span =
        points.iter().map(|p| p.k).fold(f64::MIN, f64::max) - points.iter().map(|p| p.k).fold(f64::MAX, f64::min);
    if span < FIT_SPAN || square <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|p| (p.k - k_mean) * (p.y - level)).sum::<f64>() / square;
    let sum: f64 = points.iter().map(|p| (p.y - level - slope * (p.k - k_mean)).powi(2)).sum();
    Some((slope, square, sum))
}

/// The readings of a stretch as if the force had never dropped at once.
fn without_steps(stretch: &Stretch) -> Vec<Point> {
    let mut points = stretch.force.clone();
    for step in &stretch.steps {
        for point in points.iter_mut().skip(step.index) {
            point.y += step.size;
        }
    }
    points
}

impl Groups {
    /// The figures of a shop's histories, each with the interface of its spindle.
    pub(super) fn of<'a>(histories: impl Iterator<Item = (&'a Interface, &'a History)>, usual: UsualUsage) -> Self {
        let mut by_interface: BTreeMap<Interface, Contribution> = BTreeMap::new();
        let mut all = Contribution::default();
        for (interface, history) in histories {
            let entry = by_interface.entry(interface.clone()).or_default();
            for contribution in [entry, &mut all] {
                contribution.add(history);
            }
        }
        let all = all.figures(&GroupFigures::USUAL);
        let by_interface = by_interface.into_iter().map(|(interface, own)| (interface, own.figures(&all))).collect();
        Self { by_interface, all, usual }
    }

    pub(super) fn figures(&self, interface: &Interface) -> &GroupFigures {
        self.by_interface.get(interface).unwrap_or(&self.all)
    }
}

impl Contribution {
    fn add(&mut self, history: &History) {
        let (mut weighted, mut weight) = (0.0, 0.0);
        for stretch in &history.stretches {
            if let Some((slope, square, sum)) = slope_of(stretch) {
                weighted += slope * square;
                weight += square;
                self.residual_sum += sum;
                self.freedom += stretch.force.len() as f64 - 2.0;
            }
            self.restored.extend(restored_level(stretch));
        }
        if weight > 0.0 {
            self.slopes.push(-weighted / weight);
        }
    }

    fn figures(mut self, otherwise: &GroupFigures) -> GroupFigures {
        self.slopes.sort_by(f64::total_cmp);
        let spindles = self.slopes.len();
        let is_own = spindles >= LEAST_SPINDLES;
        let (loss, loss_sd) = if is_own {
            let loss = [0.25, 0.5, 0.75].map(|share| quantile(&self.slopes, share));
            let [low, middle, high] = loss;
            // for a normal law the quarters lie 1.349 sd apart
            (loss, ((high - low) / 1.349).max(LEAST_SPREAD * middle.abs()).max(0.5))
        } else {
            (otherwise.loss, otherwise.loss_sd)
        };
        let freedom = self.freedom + USUAL_SCATTER_FREEDOM;
        let variance = (self.residual_sum + USUAL_SCATTER_FREEDOM * USUAL_SCATTER * USUAL_SCATTER) / freedom;
        let scatter =
            Scatter { sd: variance.sqrt().min(50.0), freedom: freedom.min(MOST_POOLED_FREEDOM), wander: FORCE_WANDER };
        let (restored, restored_sd) = match median(&mut self.restored) {
            Some(middle) if self.restored.len() >= LEAST_SPINDLES => {
                let mut away: Vec<f64> = self.restored.iter().map(|level| (level - middle).abs()).collect();
                // 1.4826 times the median distance is the sd of a normal law
                (middle, (1.4826 * median(&mut away).unwrap_or(0.0)).clamp(1.0, 10.0))
            }
            _ => (otherwise.restored, otherwise.restored_sd),
        };
        GroupFigures {
            loss,
            loss_sd,
            spindles,
            scatter,
            restored,
            restored_sd,
            is_usual: !is_own && otherwise.is_usual,
        }
    }
}

impl GroupFigures {
    const USUAL: Self = Self {
        loss: [
            USUAL_LOSS * (1.0 - 0.67 * USUAL_LOSS_SPREAD),
            USUAL_LOSS,
            USUAL_LOSS * (1.0 + 0.67 * USUAL_LOSS_SPREAD),
        ],
        loss_sd: USUAL_LOSS * USUAL_LOSS_SPREAD,
        spindles: 0,
        scatter: Scatter { sd: USUAL_SCATTER, freedom: USUAL_SCATTER_FREEDOM, wander: FORCE_WANDER },
        restored: USUAL_LEVEL,
        restored_sd: USUAL_LEVEL_SD,
        is_usual: true,
    };

    /// What is known of the slope of a spindle's current stretch: its earlier ones, else the group.
    pub(super) fn slope_prior(&self, earlier: &[Stretch]) -> (SlopePrior, SlopeBasis) {
        let slopes: Vec<(f64, f64)> =
            earlier.iter().filter_map(slope_of).map(|(slope, square, _)| (slope, square)).collect();
        let weight: f64 = slopes.iter().map(|(_, square)| square).sum();
        if weight <= 0.0 {
            let [_, middle, _] = self.loss;
            let basis = if self.spindles >= LEAST_SPINDLES {
                SlopeBasis::Interface
            } else if self.is_usual {
                SlopeBasis::Usual
            } else {
                SlopeBasis::Shop
            };
            return (SlopePrior { mean: -middle, sd: self.loss_sd }, basis);
        }
        let mean = slopes.iter().map(|(slope, square)| slope * square).sum::<f64>() / weight;
        let spread = slopes.iter().map(|(slope, square)| (slope - mean).powi(2) * square).sum::<f64>() / weight;
        let count = slopes.len() as f64;
        let between = if count > 1.0 { spread * count / (count - 1.0) } else { 0.0 };
        let least = (LEAST_OWN_SPREAD * mean).powi(2).max(0.25);
        let uncertain = self.scatter.sd.powi(2) / weight;
        (
            SlopePrior { mean, sd: (between.max(least) * (1.0 + 1.0 / count) + uncertain).sqrt() },
            SlopeBasis::OwnStretches,
        )
    }
}

/// What the slope of a line is held near.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SlopeBasis {
    OwnStretches,
    Interface,
    Shop,
    Usual,
}

/// Level as left at the start of a stretch: mean of the as-left readings of its first day with one.
pub(super) fn restored_point(stretch: &Stretch) -> Option<(chrono::NaiveDate, f64, f64)> {
    let first = stretch.force.iter().find(|point| point.phase == Phase::AsLeft)?;
    let same: Vec<f64> = stretch
        .force
        .iter()
        .filter(|point| point.phase == Phase::AsLeft && point.day == first.day)
        .map(|point| point.y)
        .collect();
    Some((first.day, first.k, same.iter().sum::<f64>() / same.len() as f64))
}

fn restored_level(stretch: &Stretch) -> Option<f64> {
    restored_point(stretch).map(|(_, _, level)| level)
}

/// A quantile of sorted figures, straight between them.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len().saturating_sub(1)) as f64;
    let below = place.floor() as usize;
    let low = sorted.get(below).copied().unwrap_or(0.0);
    let high = sorted.get(below + 1).copied().unwrap_or(low);
    low + (high - low) * (place - below as f64)
}
