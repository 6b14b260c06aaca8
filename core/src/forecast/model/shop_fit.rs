//! A whole shop: clock, group fit and usage fit.

use super::group_fit::{GroupFit, History, evenly, fit_group};
use super::meter::Curve;
use super::parameters::COUNT;
use super::spindle::{Clock, Counting, Records, build};
use super::strokes::pooled_stroke_sd;
use super::usage::{UsageFit, UsageParameters, fit_usage, prior_level};
use super::working_days::WorkingDays;
use std::collections::BTreeMap;

/// One reference interval in run hours.
pub const REFERENCE_HOURS: f64 = 2000.0;
/// Run hours a working day where nothing is known: from experience, to be confirmed.
pub const USUAL_HOURS: f64 = 8.0;
/// Clamp cycles an hour where nothing is known: from experience, to be confirmed.
pub const USUAL_CYCLES_PER_HOUR: f64 = 12.0;
/// Most spindles of one group fit.
const MOST_HISTORIES: usize = 200;
/// Cycles must explain the readings by so much better than hours to be the clock.
const CLOCK_MARGIN: f64 = 1.0;

/// A group as fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedGroup {
    /// Its hyperparameters.
    pub fit: GroupFit,
    /// Its clock.
    pub counting: Counting,
    /// Stroke repeatability, percent of the reading.
    pub ss: f64,
    /// The objective with hours and with cycles as the clock.
    pub objectives: (f64, f64),
}

/// A shop as fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedShop {
    /// By name of the group.
    pub groups: BTreeMap<String, FittedGroup>,
    /// Usage of the spindles counted in hours.
    pub hours: Option<UsageFit>,
    /// Usage of the spindles counted in cycles.
    pub cycles: Option<UsageFit>,
}

/// Median of cycles per hour over spindles with more than 50 counted hours; meter replacements are
/// skipped.
#[must_use]
pub fn cycles_per_hour(spindles: &[Records], as_of: i64) -> f64 {
    let mut ratios = Vec::new();
    for spindle in spindles {
        let (mut hours, mut cycles) = (0.0, 0.0);
        let rows: Vec<_> = spindle.meters.iter().filter(|row| row.day <= as_of).collect();
        for pair in rows.windows(2) {
            if let [a, b] = pair
                && !b.is_new_meter
                && b.hours >= a.hours
            {
                hours += b.hours - a.hours;
                cycles += (b.cycles - a.cycles).max(0.0);
            }
        }
        if hours > 50.0 && cycles > 0.0 {
            ratios.push(cycles / hours);
        }
    }
    ratios.sort_by(f64::total_cmp);
    let middle = ratios.len() / 2;
    match (ratios.get(middle.wrapping_sub(1)), ratios.get(middle)) {
        (Some(low), Some(high)) if ratios.len().is_multiple_of(2) => 0.5 * (low + high),
        (_, Some(value)) => *value,
        _ => USUAL_CYCLES_PER_HOUR,
    }
}

/// Fits every group with both clocks (three sweeps), takes the better one (hours unless cycles win
/// by more than 1), fits it fully, and then usage per clock over the whole shop.
#[must_use]
pub fn fit_shop(groups: &BTreeMap<String, Vec<Records>>, calendar: &WorkingDays, as_of: i64) -> FittedShop {
    let mut fitted = BTreeMap::new();
    for (name, spindles) in groups {
        fitted.insert(name.clone(), fit_one(spindles, calendar, as_of));
    }
    let usage_of = |clock: Clock| {
        let curves: Vec<(Curve, f64)> = groups
            .iter()
            .filter_map(|(name, spindles)| Some((fitted.get(name)?, spindles)))
            .filter(|(group, _)| group.counting.clock == clock)
            .flat_map(|(group, spindles)| {
                let level = group.counting.prior_level;
                spindles.iter().map(move |s| (s.curve(clock, calendar, as_of), level))
            })
            .collect();
        (!curves.is_empty()).then(|| fit_usage(&curves, calendar, as_of as f64))
    };
    FittedShop { hours: usage_of(Clock::Hours), cycles: usage_of(Clock::Cycles), groups: fitted }
}

fn fit_one(spindles: &[Records], calendar: &WorkingDays, as_of: i64) -> FittedGroup {
    let ss = pooled_stroke_sd(
        spindles
            .iter()
            .flat_map(|s| s.readings.iter())
            .filter(|r| r.day <= as_of && !r.strokes.is_empty())
            .map(|r| r.strokes.as_slice()),
    );
    let per_hour = cycles_per_hour(spindles, as_of);
    let try_clock = |clock: Clock, factor: f64| {
        let mut rates = Vec::new();
        for spindle in spindles {
            let curve = spindle.curve(clock, calendar, as_of);
            let work = curve.work(calendar);
            if work >= 20.0 {
                rates.push(curve.sums.last().copied().unwrap_or(0.0) / work);
            }
        }
        let counting = Counting {
            clock,
            reference: REFERENCE_HOURS * factor,
            prior_level: prior_level(&rates, USUAL_HOURS * factor),
        };
        let usage = UsageParameters::weak();
        let histories: Vec<History> = spindles
            .iter()
            .map(|s| History {
                events: build(s, calendar, &counting, as_of, ss, &usage).events,
                known_start: s.known_start,
            })
            .collect();
        let fit = fit_group(&evenly(&histories, MOST_HISTORIES), ss, 3, &[0.0; COUNT]);
        (fit, counting, histories)
    };
    let hours = try_clock(Clock::Hours, 1.0);
    let cycles = try_clock(Clock::Cycles, per_hour);
    let objectives = (hours.0.objective, cycles.0.objective);
    let (first, counting, histories) = if objectives.0 <= objectives.1 + CLOCK_MARGIN { hours } else { cycles };
    let fit = fit_group(&evenly(&histories, MOST_HISTORIES), ss, 6, &first.theta);
    FittedGroup { fit, counting, ss, objectives }
}
