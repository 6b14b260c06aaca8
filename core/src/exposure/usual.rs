//! What spindles run on a working day: each by its meter, and the middle of the others to borrow from.

use super::meters::{Meter, Stay};
use super::usage::{self, BORROWED, USUAL_CYCLES_PER_HOUR, USUAL_HOURS_PER_DAY, Usage, UsageBasis, median};
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::meter::MeterOwner;
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

/// Usage of every spindle of which a meter shows it.
pub(super) struct Usages {
    pub(super) hours: BTreeMap<SpindleId, Usage>,
    pub(super) cycles: BTreeMap<SpindleId, Usage>,
}

impl Usages {
    pub(super) fn of(
        shop: &Shop,
        spindles: impl Iterator<Item = SpindleId>,
        as_of: NaiveDate,
        meters: &BTreeMap<MeterOwner, Meter>,
    ) -> Self {
        let (mut hours, mut cycles) = (BTreeMap::new(), BTreeMap::new());
        for id in spindles {
            let sits = shop.mountings_of(id).iter().map(|row| Stay::of(row, as_of)).find(|stay| stay.covers(as_of));
            let own = meters.get(&MeterOwner::Spindle(id));
            let Some(meter) = sits.and_then(|stay| meters.get(&MeterOwner::Position(stay.position))).or(own) else {
                continue;
            };
            hours.extend(usage::of_counter(&meter.hours).map(|usage| (id, usage)));
            cycles.extend(usage::of_counter(&meter.cycles).map(|usage| (id, usage)));
        }
        Self { hours, cycles }
    }

    pub(super) fn usual(&self, shop: &Shop, earliest: Option<NaiveDate>) -> UsualUsage {
        let Self { hours, cycles } = self;
        let mut by_interface: BTreeMap<Interface, Vec<f64>> = BTreeMap::new();
        for (id, usage) in hours {
            if let Some(spindle) = shop.spindles.get(id).filter(|_| usage.per_day > 0.0) {
                by_interface.entry(spindle.interface.clone()).or_default().push(usage.per_day);
            }
        }
        let mut all: Vec<f64> = by_interface.values().flatten().copied().collect();
        let interface_hours = by_interface
            .into_iter()
            .filter_map(|(interface, mut rates)| median(&mut rates).map(|rate| (interface, rate)))
            .collect();
        let mut ratios: Vec<f64> = hours
            .iter()
            .filter_map(|(id, usage)| Some(cycles.get(id)?.per_day / usage.per_day))
            .filter(|ratio| ratio.is_finite() && *ratio > 0.0)
            .collect();
        let (shop_hours, cycles_per_hour) = (median(&mut all), median(&mut ratios));
        UsualUsage { interface_hours, shop_hours, cycles_per_hour, earliest }
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
