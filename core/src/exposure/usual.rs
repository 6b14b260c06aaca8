//! What spindles run on a working day: each by its meter, and the middle of the others to borrow from.

use super::meters::{Meter, Meters};
use super::usage::{BORROWED, CYCLES_PER_HOUR, USUAL_CYCLES_PER_HOUR, USUAL_HOURS_PER_DAY, Usage, UsageBasis, median};
use crate::interface::Interface;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The middle of the shop's usages, to borrow from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UsualUsage {
    /// Run hours per working day by interface.
    interface_hours: BTreeMap<Interface, f64>,
    /// The same of all spindles.
    shop_hours: Option<f64>,
    /// Clamp cycles in a run hour.
    cycles_per_hour: Option<f64>,
    /// The first day of all that is on record.
    pub(super) earliest: Option<NaiveDate>,
}

/// What the meter of a spindle shows of its usage.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct OwnUsage {
    pub(super) hours: Option<Usage>,
    pub(super) cycles: Option<Usage>,
}

impl OwnUsage {
    /// By the meter that tells it: that of the position where it sits on the as-of day, else its own.
    pub(super) fn of(telling: Option<&Meter>) -> Self {
        telling.map(|meter| Self { hours: meter.hours.usage, cycles: meter.cycles.usage }).unwrap_or_default()
    }
}

impl UsualUsage {
    /// The middle of these meters.
    pub(super) fn of(shop: &Shop, meters: &Meters, as_of: i32, earliest: Option<NaiveDate>) -> Self {
        let mut by_interface: BTreeMap<&Interface, Vec<f64>> = BTreeMap::new();
        let mut ratios = Vec::with_capacity(meters.sitters.len());
        for sitter in &meters.sitters {
            let OwnUsage { hours: Some(hours), cycles } = OwnUsage::of(meters.telling(sitter, as_of)) else { continue };
            if let Some(spindle) = shop.spindles.get(&sitter.spindle).filter(|_| hours.per_day > 0.0) {
                by_interface.entry(&spindle.interface).or_default().push(hours.per_day);
            }
            let ratio = cycles.map(|cycles| cycles.per_day / hours.per_day);
            ratios.extend(ratio.filter(|ratio| CYCLES_PER_HOUR.contains(ratio)));
        }
        let mut all: Vec<f64> = by_interface.values().flatten().copied().collect();
        let interface_hours = by_interface
            .into_iter()
            .filter_map(|(interface, mut rates)| median(&mut rates).map(|rate| (interface.clone(), rate)))
            .collect();
        Self { interface_hours, shop_hours: median(&mut all), cycles_per_hour: median(&mut ratios), earliest }
    }
}

impl UsualUsage {
    /// Clamp cycles in a run hour, middle of the shop's spindles.
    #[must_use]
    pub fn cycles_per_hour(&self) -> f64 {
        self.cycles_per_hour.unwrap_or(USUAL_CYCLES_PER_HOUR)
    }

    /// What a spindle without a usage of its own is taken to run.
    pub(super) fn borrowed_hours(&self, interface: &Interface) -> Usage {
        let (per_day, basis) = match (self.interface_hours.get(interface), self.shop_hours) {
            (Some(rate), _) => (*rate, UsageBasis::Interface),
            (None, Some(rate)) => (rate, UsageBasis::Shop),
            (None, None) => (USUAL_HOURS_PER_DAY, UsageBasis::Usual),
        };
        Usage { per_day, relative_sd: BORROWED, basis }
    }
}
