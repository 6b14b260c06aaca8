//! The best interval between services where no spindle in particular is forecast.
//!
//! For spindles of one kind (a tool interface): from what the shop's readings taught of them, the
//! chance that a spindle just serviced has crossed its service limit after some days; and from what
//! services cost, the interval at which a fixed plan would cost least in the long run
//! ([`age_replacement`]), beside the interval that the shop keeps. A forecast of each spindle by
//! itself is better still: this is for comparison, and for kinds that are hardly ever measured.
//!
//! No interval is looked at by whose end more than the accepted risk would be below the stop limit.

pub mod age_replacement;
mod costs;
mod wear;

use self::age_replacement::{AtAge, Renewal, cost_at, cost_curve};
use self::wear::Wear;
use crate::exposure::usage::median;
use crate::forecast::fits::{LEAST_SPINDLES, ShopFits};
use crate::forecast::{Cancelled, Progress};
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::limits::Limits;
use crate::shop::Shop;
use crate::units::{Money, Percent};
use crate::words;
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// Fewer intervals between services than this say too little of a kind (common practice, no source).
pub const LEAST_INTERVALS: usize = 5;
/// No interval is looked at that is longer: ten years, in days.
const LONGEST_DAYS: f64 = 3652.0;
/// Steps of a curve.
const STEPS: u32 = 800;
/// Days in a year, in the mean over leap years.
const DAYS_PER_YEAR: f64 = 365.2425;
/// Mean length of a month, in days.
const DAYS_PER_MONTH: f64 = DAYS_PER_YEAR / 12.0;

/// An interval and what it costs per spindle in the long run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntervalCost {
    /// Days from service to service, closed days included.
    pub days: f64,
    /// Per spindle and year.
    pub per_year: Money,
    /// Chance of crossing the service limit before it ends.
    pub crossed: Percent,
}

/// The interval that the shop keeps for a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixedInterval {
    /// It, and what it costs.
    pub cost: IntervalCost,
    /// How much more it costs than the best one; `None` where there is none, or where it is longer
    /// than the longest that is looked at.
    pub above_best: Option<Percent>,
}

/// What is known of the intervals of a kind.
#[derive(Debug, Clone, PartialEq)]
pub struct BestInterval {
    /// The kind.
    pub interface: Interface,
    /// What intervals cost, the shortest first.
    pub curve: Vec<IntervalCost>,
    /// The one that costs least; `None` where waiting costs ever less, as far as one looks.
    pub optimum: Option<IntervalCost>,
    /// The one that the shop keeps, where it keeps one.
    pub fixed: Option<FixedInterval>,
    /// What a planned service costs (module `costs`).
    pub planned: Money,
    /// What one costs that was not planned.
    pub unplanned: Money,
    /// In how many intervals between services of how many spindles.
    pub intervals: usize,
    /// Spindles whose readings taught it.
    pub spindles: usize,
    /// Intervals are looked at up to here, in days: ten years, or what the stop limit allows.
    pub longest_days: f64,
    /// All of it in sentences.
    pub words: String,
}

/// Why nothing can be said of a kind, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{words}")]
pub struct NoBestInterval {
    /// The sentence.
    pub words: String,
}

/// What is known of the intervals of one interface, or why nothing is said of them.
pub type IntervalOrNot = (Interface, Result<BestInterval, NoBestInterval>);

/// What is known of the intervals of each interface that a shop's spindles have, in their order.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn best_intervals(
    shop: &Shop,
    as_of: NaiveDate,
    fits: &ShopFits,
    progress: &dyn Progress,
) -> Result<Vec<IntervalOrNot>, Cancelled> {
    let interfaces: BTreeSet<&Interface> = shop.spindles.values().map(|spindle| &spindle.interface).collect();
    let total = interfaces.len();
    let mut all = Vec::with_capacity(total);
    for (done, interface) in interfaces.into_iter().enumerate() {
        if !progress.step(done, total) {
            return Err(Cancelled);
        }
        all.push((interface.clone(), best_interval(shop, as_of, fits, interface)));
    }
    Ok(all)
}

/// The best interval of the spindles of an interface, from what the shop taught by a day.
///
/// # Errors
/// There is too little history: fewer than [`LEAST_SPINDLES`] spindles with readings or fewer than
/// [`LEAST_INTERVALS`] intervals between services; or no cost of a service is known.
pub fn best_interval(
    shop: &Shop,
    as_of: NaiveDate,
    fits: &ShopFits,
    interface: &Interface,
) -> Result<BestInterval, NoBestInterval> {
    let kind = interface.as_str();
    let known = shop.known_on(as_of);
    let spindles: Vec<(SpindleId, Limits)> = known
        .spindles
        .iter()
        .filter(|(_, spindle)| spindle.interface == *interface)
        .map(|(id, spindle)| (*id, known.limits_of(spindle)))
        .collect();
    let Some(fit) = fits.interfaces.get(interface) else {
        return Err(too_little(format!(
            "Nothing is said of a best interval for {kind}: fewer than {LEAST_SPINDLES} of its spindles have readings."
        )));
    };
    let intervals: usize = spindles.iter().map(|(id, _)| known.services_of(*id).len().saturating_sub(1)).sum();
    if intervals < LEAST_INTERVALS {
        return Err(too_little(format!(
            "Nothing is said of a best interval for {kind}: its services on record make {intervals} intervals, \
             {LEAST_INTERVALS} are needed."
        )));
    }
    let costs = costs::of(&known, as_of, interface, &spindles);
    if costs.planned <= 0.0 {
        return Err(too_little(format!(
            "Nothing is said of a best interval for {kind}: no price of its kit, no labour and no stop cost is known."
        )));
    }
    let mut limits: Vec<f64> = spindles.iter().map(|(_, limits)| limits.service_limit.value.get()).collect();
    let limit = median(&mut limits).unwrap_or_default();
    let working = known.settings.weekday_weights.iter().sum::<f64>() / 7.0;
    let wear = Wear::just_serviced(fit, limit, working);
    // the highest of the stop limits: it is crossed first
    let stop_limit = spindles.iter().map(|(_, limits)| limits.stop_limit.value.get()).fold(0.0, f64::max);
    let stop = Wear::just_serviced(fit, stop_limit, working);
    let risk = known.settings.accepted_risk;
    let Some(longest_days) = longest(|days| stop.crossed_by(days) <= risk) else {
        return Err(too_little(format!(
            "Nothing is said of a best interval for {kind}: right after a service more than {} % of its spindles \
             would be below their stop limit.",
            words::number(100.0 * risk, 0)
        )));
    };
    let renewal = Renewal { planned: costs.planned, unplanned: costs.unplanned };
    let life = |days: f64| wear.crossed_by(days);
    let curve = cost_curve(renewal, &life, longest_days, STEPS);
    let cost = |at: AtAge| IntervalCost {
        days: at.age,
        per_year: Money::new(at.rate * DAYS_PER_YEAR).unwrap_or_default(),
        crossed: Percent::new(100.0 * life(at.age)).unwrap_or_default(),
    };
    let optimum = curve.optimum.map(cost);
    let fixed = shortest_fixed(&spindles, &wear, working).map(|days| {
        let kept = cost(cost_at(renewal, &life, days, STEPS));
        let above = optimum
            .filter(|_| days <= longest_days)
            .map(|best| 100.0 * (kept.per_year.get() / best.per_year.get() - 1.0));
        FixedInterval { cost: kept, above_best: above.and_then(Percent::new) }
    });
    let mut best = BestInterval {
        interface: interface.clone(),
        curve: curve.points.into_iter().map(cost).collect(),
        optimum,
        fixed,
        planned: Money::new(costs.planned).unwrap_or_default(),
        unplanned: Money::new(costs.unplanned).unwrap_or_default(),
        intervals,
        spindles: fit.spindles,
        longest_days,
        words: String::new(),
    };
    best.words = sentences(&best, risk);
    Ok(best)
}

const fn too_little(words: String) -> NoBestInterval {
    NoBestInterval { words }
}

/// The longest whole number of days up to the longest of all for which something holds; it holds for
/// all shorter ones. `None` if not even for one day.
fn longest(holds: impl Fn(f64) -> bool) -> Option<f64> {
    if holds(LONGEST_DAYS) {
        return Some(LONGEST_DAYS);
    }
    let (mut low, mut high) = (0.0, LONGEST_DAYS);
    while high - low > 1.0 {
        let middle = ((low + high) / 2.0).floor();
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low >= 1.0).then_some(low)
}

/// The shortest of the fixed intervals in force, in days; the middle one of the spindles.
fn shortest_fixed(spindles: &[(SpindleId, Limits)], wear: &Wear<'_>, working: f64) -> Option<f64> {
    let of = |limits: &Limits| {
        let months = limits.every_months.as_ref().map(|months| f64::from(months.value) * DAYS_PER_MONTH);
        let per_day = |per_working_day: f64| per_working_day * working;
        let hours = limits.every_hours.as_ref().map(|hours| hours.value.get() / per_day(wear.hours_per_day()));
        let cycles = limits.every_cycles.as_ref().map(|cycles| cycles.value.get() / per_day(wear.cycles_per_day()));
        let said = [months, hours, cycles].into_iter().flatten();
        said.filter(|days| days.is_finite() && *days > 0.0).min_by(f64::total_cmp)
    };
    let mut days: Vec<f64> = spindles.iter().filter_map(|(_, limits)| of(limits)).collect();
    median(&mut days)
}

/// What it says, for the screen.
fn sentences(best: &BestInterval, risk: f64) -> String {
    let kind = best.interface.as_str();
    let about = |days: f64| format!("{} days", words::number(days, 0));
    let mut text = match (&best.optimum, best.unplanned.get() <= best.planned.get()) {
        (Some(optimum), _) => format!(
            "If {kind} were serviced by a fixed interval alone, about {} would cost least; by then {} % have crossed \
             the service limit.",
            about(optimum.days),
            words::number(optimum.crossed.get(), 0)
        ),
        (None, true) => format!(
            "There is no best interval for {kind}: an unplanned service is known to cost no more than a planned one."
        ),
        (None, false) if best.longest_days < LONGEST_DAYS => format!(
            "For {kind} a longer interval costs less up to about {}; of none longer is anything said, as more than \
             {} % would be below their stop limit.",
            about(best.longest_days),
            words::number(100.0 * risk, 0)
        ),
        (None, false) => format!(
            "Wear of {kind} is so slow, or so little alike from spindle to spindle, that no fixed interval up to {} \
             costs less than a longer one.",
            about(LONGEST_DAYS)
        ),
    };
    if let Some(fixed) = &best.fixed {
        text.push_str(&format!(" The shop's interval is {}", about(fixed.cost.days)));
        match fixed.above_best {
            Some(above) if above.get() < 0.5 => text.push_str(", which costs hardly more."),
            Some(above) => text.push_str(&format!(", which costs {} % more.", words::number(above.get(), 0))),
            None if best.longest_days < fixed.cost.days => text.push_str(&format!(
                "; by its end more than {} % would be below their stop limit.",
                words::number(100.0 * risk, 0)
            )),
            None => text.push('.'),
        }
    }
    let counted = |count: usize, one: &str, more: &str| match count {
        1 => one.to_owned(),
        _ => format!("{} {more}", words::count_words(count)),
    };
    text.push_str(&format!(
        " This rests on readings of {} and {} between services; a forecast of each spindle by itself says more.",
        counted(best.spindles, "one spindle", "spindles"),
        counted(best.intervals, "one interval", "intervals"),
    ));
    text
}
