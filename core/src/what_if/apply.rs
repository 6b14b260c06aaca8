//! From a shop to the shop that is pretended.

use super::{InvalidWhatIf, WhatIf};
use crate::forecast::{ForecastConfig, PlannedUsage, SpindleForecast};
use crate::ids::{ReadingId, Row, ServiceId, SpindleId};
use crate::limits::Limits;
use crate::moment::Moment;
use crate::service::Service;
use crate::shop::Shop;
use crate::units::{Percent, Quantity, RunHours};
use crate::words;
use chrono::NaiveDate;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A shop that is not so.
#[derive(Debug, Clone, PartialEq)]
pub struct Pretended {
    /// The copy with the changed limits, and with the reading or service that was not.
    pub shop: Shop,
    /// What the forecast of it is asked for.
    pub config: ForecastConfig,
    /// Usage of the days ahead, for the spindles of which something is pretended.
    pub usage: PlannedUsage,
    /// What was not taken as it was typed, and why; one sentence each.
    pub remarks: Vec<String>,
}

impl WhatIf {
    /// The pretended shop for some spindles; the given one is left as it is.
    ///
    /// # Errors
    /// What breaks a rule by itself ([`WhatIf::checked`]) or against the limits of a spindle.
    pub fn apply(
        &self,
        shop: &Shop,
        as_of: NaiveDate,
        config: &ForecastConfig,
        spindles: &BTreeSet<SpindleId>,
    ) -> Result<Pretended, InvalidWhatIf> {
        let what_if = self.clone().checked(as_of)?;
        if what_if.is_of_one_spindle() && spindles.len() != 1 {
            return Err(InvalidWhatIf::SeveralSpindles(spindles.len()));
        }
        let mut pretended =
            Pretended { shop: shop.clone(), config: *config, usage: what_if.usage, remarks: Vec::new() };
        if let Some(risk) = what_if.accepted_risk {
            pretended.config.accepted_risk = risk.get() / 100.0;
            Arc::make_mut(&mut pretended.shop.settings).accepted_risk = risk.get() / 100.0;
        }
        what_if.change_limits(shop, as_of, spindles, &mut pretended)?;
        if let Some(spindle) = spindles.first().filter(|_| what_if.is_of_one_spindle()) {
            what_if.add_records(*spindle, as_of, &mut pretended)?;
        }
        Ok(pretended)
    }

    const fn changes_limits(&self) -> bool {
        self.service_limit.is_some()
            || self.stop_limit.is_some()
            || self.setting_tolerance.is_some()
            || self.every_months.is_some()
            || self.every_hours.is_some()
            || self.every_cycles.is_some()
    }

    fn change_limits(
        &self,
        shop: &Shop,
        as_of: NaiveDate,
        spindles: &BTreeSet<SpindleId>,
        pretended: &mut Pretended,
    ) -> Result<(), InvalidWhatIf> {
        if !self.changes_limits() {
            return Ok(());
        }
        let mut held = Held::default();
        let changed = Arc::make_mut(&mut pretended.shop.spindles);
        for id in spindles {
            let Some(spindle) = changed.get_mut(id) else { continue };
            let in_force = shop.limits_of(spindle);
            let shares = self.shares(&in_force, || place_of(shop, *id, as_of), &mut held)?;
            let limits = &mut spindle.limits;
            limits.service_limit = shares.service.or(limits.service_limit);
            limits.stop_limit = shares.stop.or(limits.stop_limit);
            limits.setting_tolerance = self.setting_tolerance.or(limits.setting_tolerance);
            limits.every_months = self.every_months.or(limits.every_months);
            limits.every_hours = self.every_hours.or(limits.every_hours);
            limits.every_cycles = self.every_cycles.or(limits.every_cycles);
        }
        pretended.remarks.extend(held.sentences(self));
        Ok(())
    }

    /// Service and stop limit to be reckoned with: the stop limit in force is never undercut.
    fn shares(
        &self,
        in_force: &Limits,
        place: impl FnOnce() -> String,
        held: &mut Held,
    ) -> Result<Shares, InvalidWhatIf> {
        let floor = in_force.stop_limit.value;
        if self.stop_limit.is_some_and(|stop| stop < floor) {
            held.stop.insert(bits(floor));
        }
        let stop = self.stop_limit.map(|stop| stop.max(floor));
        let least = stop.unwrap_or(floor);
        let Some(service) = self.service_limit else {
            let service = in_force.service_limit.value;
            if stop.is_some_and(|stop| stop > floor && stop >= service) {
                let of = format!(" of {}", place());
                return Err(InvalidWhatIf::LimitOrder { stop: least.get(), service: service.get(), of });
            }
            return Ok(Shares { service: None, stop });
        };
        if service < least {
            held.service.insert(bits(least));
        }
        Ok(Shares { service: Some(service.max(least)), stop })
    }

    fn add_records(
        &self,
        spindle: SpindleId,
        as_of: NaiveDate,
        pretended: &mut Pretended,
    ) -> Result<(), InvalidWhatIf> {
        let shop = &mut pretended.shop;
        if let Some(reading) = &self.reading {
            let described = shop.spindles.get(&spindle);
            let has_setting = described.is_some_and(|spindle| shop.limits_of(spindle).setting().is_some());
            if reading.unit.quantity() == Quantity::SettingDimension && !has_setting {
                return Err(InvalidWhatIf::NoSettingDimension(place_of(shop, spindle, as_of)));
            }
            let next = shop.readings.iter().map(|row| row.id.row()).max().unwrap_or(0).saturating_add(1);
            let row = Row { id: ReadingId::from_row(next), value: reading.as_row(spindle) };
            let rows = Arc::make_mut(&mut shop.readings);
            let at = rows.partition_point(|known| (known.spindle, known.at, known.id) < (spindle, row.at, row.id));
            rows.insert(at, row);
        }
        if let Some(service) = self.service {
            let next = shop.services.iter().map(|row| row.id.row()).max().unwrap_or(0).saturating_add(1);
            let value = Service::of(spindle, Moment::day(service.day), service.kind);
            let row = Row { id: ServiceId::from_row(next), value };
            let rows = Arc::make_mut(&mut shop.services);
            let at = rows.partition_point(|known| (known.spindle, known.at, known.id) < (spindle, row.at, row.id));
            rows.insert(at, row);
        }
        Ok(())
    }
}

/// Shares of nominal in place of those of a spindle.
struct Shares {
    service: Option<Percent>,
    stop: Option<Percent>,
}

/// Stop limits in force that held what was typed up, as bits so that they can be told apart.
#[derive(Default)]
struct Held {
    stop: BTreeSet<u64>,
    service: BTreeSet<u64>,
}

const fn bits(share: Percent) -> u64 {
    share.get().to_bits()
}

impl Held {
    fn sentences(&self, what_if: &WhatIf) -> Vec<String> {
        let share = |value: Percent| format!("{} %", words::percent_short(value));
        let mut sentences = Vec::new();
        if let (Some(typed), Some(in_force)) = (what_if.stop_limit, in_force(&self.stop)) {
            sentences.push(format!(
                "Stop limit {} lies under the one in force, {in_force}: limits in force stay as they are, and under \
                 the stop limit in force the spindle must not run.",
                share(typed),
            ));
        }
        if let (Some(typed), Some(in_force)) = (what_if.service_limit, in_force(&self.service)) {
            sentences.push(format!(
                "Service limit {} lies under the stop limit, {in_force}: that one stays as it is and is reckoned \
                 with instead, since under it the spindle must not run.",
                share(typed),
            ));
        }
        sentences
    }
}

/// `70 %`, or `70 to 75 %` where spindles differ.
fn in_force(held: &BTreeSet<u64>) -> Option<String> {
    let share = |bits: &u64| Percent::new(f64::from_bits(*bits)).map(words::percent_short);
    // of figures above zero the order of the bits is that of the figures
    let (low, high) = (share(held.first()?)?, share(held.last()?)?);
    Some(if low == high { format!("{low} %") } else { format!("{low} to {high} %") })
}

/// Where a spindle sits on a day, else its name.
pub(super) fn place_of(shop: &Shop, spindle: SpindleId, day: NaiveDate) -> String {
    let position = shop.position_on(spindle, day).map(|position| shop.position_label(position));
    position.or_else(|| shop.spindles.get(&spindle).map(|spindle| spindle.name.clone())).unwrap_or_default()
}

/// The usage of one spindle, held at the hours that a day has, and whether it had to be.
pub(super) fn usage_of(planned: PlannedUsage, before: &SpindleForecast) -> (PlannedUsage, bool) {
    let (PlannedUsage::Share(share), Some(hours)) = (planned, before.hours_per_day) else { return (planned, false) };
    let most = RunHours::new(super::HOURS_OF_A_DAY).unwrap_or_default();
    if hours.get() * share.get() / 100.0 > most.get() {
        (PlannedUsage::HoursPerDay(most), true)
    } else {
        (planned, false)
    }
}
