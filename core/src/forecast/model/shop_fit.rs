//! A whole shop: clock, group fit and usage fit.

use super::coordinate_search::GoOn;
use super::group_fit::{FitStart, GroupFit, History, evenly, fit_group, search_group};
use super::improvements::Improvements;
use super::meter::Curve;
use super::observed::{Clock, Counting, Observed, build};
use super::strokes::pooled_stroke_sd;
use super::usage::{UsageParameters, prior_level};
use super::usage_fit::{UsageFit, fit_usage};
use super::working_days::WorkingDays;
use crate::exposure::CYCLES_PER_HOUR;
use crate::forecast::Cancelled;

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

/// Clamp cycles in a run hour: the median over spindles that counted more than 50 hours, each
/// given as hours and cycles. Figures that no spindle can make do not count.
#[must_use]
pub fn cycles_per_hour(counted: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut ratios: Vec<f64> = counted
        .filter(|(hours, cycles)| *hours > 50.0 && *cycles > 0.0)
        .map(|(hours, cycles)| cycles / hours)
        .filter(|ratio| CYCLES_PER_HOUR.contains(ratio))
        .collect();
    ratios.sort_by(f64::total_cmp);
    let middle = ratios.len() / 2;
    match (ratios.get(middle.wrapping_sub(1)), ratios.get(middle)) {
        (Some(low), Some(high)) if ratios.len().is_multiple_of(2) => 0.5 * (low + high),
        (_, Some(value)) => *value,
        _ => USUAL_CYCLES_PER_HOUR,
    }
}

/// The spindles of a group, and how many cycles they make in an hour.
#[derive(Debug, Clone, Copy)]
pub struct Group<'a> {
    /// Its spindles.
    pub spindles: &'a [&'a Observed],
    /// Clamp cycles in a run hour.
    pub cycles_per_hour: f64,
}

/// Fits a group with both clocks (three sweeps), takes the better one (hours unless cycles win by
/// more than 1) and fits it fully, with the rates of steps and of faults of the records that its readings
/// tell at what the first search found.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_clocks(
    group: Group<'_>,
    calendar: &WorkingDays,
    as_of: i64,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<FittedGroup, Cancelled> {
    let ss = pooled_stroke_sd(group.spindles.iter().flat_map(|spindle| spindle.strokes()));
    let some = evenly(group.spindles, MOST_HISTORIES);
    let try_clock = |clock: Clock, factor: f64| {
        let rates: Vec<f64> = group.spindles.iter().filter_map(|s| s.meter.of(clock).long_run_rate(20.0)).collect();
        let counting = Counting {
            clock,
            reference: REFERENCE_HOURS * factor,
            prior_level: prior_level(&rates, USUAL_HOURS * factor),
        };
        let usage = UsageParameters::weak().with(improvements);
        let histories: Vec<History> = some
            .iter()
            .map(|s| History {
                events: build(s, calendar, &counting, as_of, ss, &usage).events,
                known_start: s.known_start,
            })
            .collect();
        let fit = search_group(&histories.iter().collect::<Vec<_>>(), ss, 3, &FitStart::PRIOR, improvements, go_on)?;
        Ok::<_, Cancelled>((fit, counting, histories))
    };
    let hours = try_clock(Clock::Hours, 1.0)?;
    let cycles = try_clock(Clock::Cycles, group.cycles_per_hour)?;
    let objectives = (hours.0.objective, cycles.0.objective);
    let (first, counting, histories) = if objectives.0 <= objectives.1 + CLOCK_MARGIN { hours } else { cycles };
    let histories: Vec<&History> = histories.iter().collect();
    let fit = fit_group(&histories, ss, 6, &first.onwards(&histories), improvements, go_on)?;
    Ok(FittedGroup { fit, counting, ss, objectives })
}

/// The usage law of one clock over the spindles of all groups that count by it.
///
/// # Errors
/// [`Cancelled`] as soon as `go_on` says no.
pub fn fit_usage_of<'a>(
    clock: Clock,
    groups: impl Iterator<Item = (&'a FittedGroup, &'a [&'a Observed])>,
    as_of: i64,
    improvements: Improvements,
    go_on: GoOn<'_>,
) -> Result<Option<UsageFit>, Cancelled> {
    let curves: Vec<(&Curve, f64)> = groups
        .filter(|(group, _)| group.counting.clock == clock)
        .flat_map(|(group, spindles)| spindles.iter().map(|s| (s.meter.of(clock), group.counting.prior_level)))
        .collect();
    if curves.is_empty() {
        return Ok(None);
    }
    fit_usage(&curves, as_of as f64, improvements, go_on).map(Some)
}
