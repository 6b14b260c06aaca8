//! What a service costs a shop, and what a day too early or too late costs: the one place for
//! plans and for the worth of a reading.

use crate::exposure::usage::median;
use crate::forecast::SpindleForecast;
use crate::interface::Interface;
use crate::order::Order;
use crate::part::ServiceKind;
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{Minutes, Money, Quantity, RunHours};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Days between services where the shop says nothing (common practice, no source).
const USUAL_INTERVAL_DAYS: f64 = 365.0;
/// Mean length of a month of the Gregorian calendar.
const DAYS_PER_MONTH: f64 = 30.436_875;
/// Run hours per working day where nothing is known (common practice, no source).
const USUAL_HOURS: f64 = 8.0;

/// Which service a spindle needs: major when a minor one will no longer do by the day it is due.
#[must_use]
pub fn needed_kind(forecast: &SpindleForecast) -> Kind {
    match (forecast.major_service_by, forecast.service_by) {
        (Some(major), Some(by)) if major <= by => Kind::Major,
        _ => Kind::Minor,
    }
}

/// How long a service takes, by how many and with which gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Work {
    /// Working time without lockout.
    pub minutes: Minutes,
    /// One or two people.
    pub crew: u32,
    /// What its gauge measures.
    pub gauge: Quantity,
}

/// By the shop's list, else minor 90 min, major 300 min, one person, a gauge of clamp force.
#[must_use]
pub fn work_of(shop: &Shop, interface: &Interface, kind: Kind) -> Work {
    let said = shop.service_kinds.iter().find(|row| row.kind == kind && row.interface == *interface);
    Work {
        minutes: said.map_or_else(|| ServiceKind::usual_minutes(kind), |row| row.minutes),
        crew: said.map_or(1, |row| row.crew.clamp(1, 2)),
        gauge: said.and_then(|row| row.gauge_quantity).unwrap_or(Quantity::ClampForce),
    }
}

/// How many people do an order: whoever put two on it means two.
#[must_use]
pub fn crew_of(order: &Order, work: Work) -> u32 {
    work.crew.max(u32::try_from(order.technicians.len().clamp(1, 2)).unwrap_or(1))
}

/// Whether an order names as many people as it takes, all of the crew: only then a plan knows who is
/// at it.
#[must_use]
pub fn is_manned(shop: &Shop, order: &Order) -> bool {
    let Some(spindle) = shop.spindles.get(&order.spindle) else { return false };
    let wanted = crew_of(order, work_of(shop, &spindle.interface, order.kind));
    let is_known = |name: &String| shop.technicians.iter().any(|technician| technician.name == *name);
    order.technicians.len() == wanted as usize && order.technicians.iter().all(is_known)
}

/// A service longer than a week is a slip.
const MOST_MINUTES: f64 = 10_080.0;

/// A working time in whole minutes, to the nearest: at least one, at most a week. Plan, list,
/// calendar and checks all count so: 1.67 h are 100 minutes.
#[must_use]
pub fn whole_minutes(minutes: Minutes) -> i64 {
    minutes.get().round().clamp(1.0, MOST_MINUTES) as i64
}

/// How long an order takes, as it says, else as long as such a service usually does.
#[must_use]
pub fn work_minutes(said: Option<RunHours>, usual: Minutes) -> i64 {
    whole_minutes(said.and_then(|hours| Minutes::new(hours.get() * 60.0)).unwrap_or(usual))
}

/// What a day costs on which a spindle is served too early or too late.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayCosts {
    /// A day of service life given away (g).
    pub unused: Money,
    /// A day below a limit (b).
    pub below: Money,
    /// Whether the machine says what that costs; else it follows from the accepted risk.
    pub below_is_said: bool,
    /// A day below the stop limit, on which the machine stands, besides.
    pub standing: Money,
}

/// What all spindles of a shop have in common for that.
#[derive(Debug)]
pub struct ServiceCosts<'a> {
    shop: &'a Shop,
    as_of: NaiveDate,
    accepted_risk: f64,
    /// Middle of the days between two services, by interface.
    between: BTreeMap<&'a Interface, f64>,
    /// Price of a kit, by interface and kind.
    kits: BTreeMap<(&'a Interface, Kind), f64>,
}

impl<'a> ServiceCosts<'a> {
    /// Of a shop as known on a day.
    #[must_use]
    pub fn of(shop: &'a Shop, as_of: NaiveDate, accepted_risk: f64) -> Self {
        let mut days: BTreeMap<&Interface, Vec<f64>> = BTreeMap::new();
        for (id, spindle) in shop.spindles.iter() {
            let pairs = shop.services_of(*id).windows(2).filter_map(|pair| match pair {
                [a, b] => Some((b.at.date - a.at.date).num_days() as f64),
                _ => None,
            });
            days.entry(&spindle.interface).or_default().extend(pairs.filter(|days| 0.0 < *days));
        }
        let between =
            days.into_iter().filter_map(|(interface, mut days)| Some((interface, median(&mut days)?))).collect();
        let prices: BTreeMap<&str, f64> =
            shop.parts.iter().filter_map(|part| Some((part.value.name.as_str(), part.price?.get()))).collect();
        let mut kits: BTreeMap<(&Interface, Kind), f64> = BTreeMap::new();
        for line in shop.kit_lines.iter() {
            let price = prices.get(line.value.part.as_str()).copied().unwrap_or(0.0);
            *kits.entry((&line.value.interface, line.kind)).or_default() += line.quantity.max(0.0) * price;
        }
        Self { shop, as_of, accepted_risk, between, kits }
    }

    /// Kit and labour of one service.
    #[must_use]
    pub fn service(&self, interface: &Interface, kind: Kind) -> Money {
        let kit = self.kits.get(&(interface, kind)).copied().unwrap_or(0.0);
        let work = work_of(self.shop, interface, kind);
        let labour = self.shop.settings.labour_per_hour.get() * f64::from(work.crew) * work.minutes.get() / 60.0;
        Money::new(kit + labour).unwrap_or_default()
    }

    /// A day of service life given away is worth what a service costs by the usual interval. A day
    /// below a limit costs what the machine says, else so much that the cheapest day is that on
    /// which the accepted risk is reached (the newsvendor's share: Arrow, Harris and Marschak 1951).
    /// A day below the stop limit costs the machine's standstill over its run hours.
    #[must_use]
    pub fn days(&self, spindle: &Spindle, forecast: &SpindleForecast, kind: Kind) -> DayCosts {
        let unused = self.service(&spindle.interface, kind).get() / self.interval_days(spindle, forecast);
        let position = self.shop.position_on(forecast.spindle, self.as_of);
        let machine = position.and_then(|position| self.shop.machines.get(&position.machine));
        let below = machine.and_then(|machine| machine.day_below_cost).map(Money::get);
        let hours = forecast.hours_per_day.map_or(USUAL_HOURS, RunHours::get);
        let working = self.shop.settings.weekday_weights.iter().sum::<f64>() / 7.0;
        let stop = machine.and_then(|machine| machine.stop_cost_per_hour).map_or(0.0, Money::get);
        let money = |amount: f64| Money::new(amount).unwrap_or_default();
        DayCosts {
            unused: money(unused),
            below: money(below.unwrap_or(unused * (1.0 - self.accepted_risk) / self.accepted_risk)),
            below_is_said: below.is_some(),
            standing: money(stop * hours * working),
        }
    }

    /// The calendar interval, else the middle between the services of the interface, else a year.
    fn interval_days(&self, spindle: &Spindle, forecast: &SpindleForecast) -> f64 {
        if let Some(months) = &forecast.limits.every_months
            && 0 < months.value
        {
            return f64::from(months.value) * DAYS_PER_MONTH;
        }
        self.between.get(&spindle.interface).copied().unwrap_or(USUAL_INTERVAL_DAYS)
    }
}
