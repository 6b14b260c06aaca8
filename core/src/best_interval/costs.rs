//! What a planned and an unplanned service of a kind cost.
//!
//! * Planned: a minor service, its kit and labour, and the standstill of its machine for the service
//!   and its lockout in a window of the usual stop factor (the middle of the shop's downtime
//!   windows; without any, in the running shift).
//! * Unplanned: the same in the running shift, and besides the standstill until somebody comes, half
//!   a shift. Common practice, no source: what crossing a limit unseen really costs (a dropped tool,
//!   scrap) is not in the shop's records.

use crate::exposure::usage::median;
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::limits::Limits;
use crate::service::Kind;
use crate::service_costs::{ServiceCosts, work_of};
use crate::shop::Shop;
use crate::units::Money;
use chrono::NaiveDate;

/// Hours until an unplanned service begins: half a shift of eight (common practice, no source).
const WAITING_HOURS: f64 = 4.0;

/// In the shop's currency.
pub(super) struct Costs {
    pub(super) planned: f64,
    pub(super) unplanned: f64,
}

/// Of the spindles of an interface, at the middle of their machines' stop costs.
pub(super) fn of(shop: &Shop, as_of: NaiveDate, interface: &Interface, spindles: &[(SpindleId, Limits)]) -> Costs {
    // the accepted risk plays no part in what a service costs
    let service = ServiceCosts::of(shop, as_of, shop.settings.accepted_risk).service(interface, Kind::Minor).get();
    let mut stops: Vec<f64> = spindles
        .iter()
        .filter_map(|(id, _)| shop.machines.get(&shop.position_on(*id, as_of)?.machine)?.stop_cost_per_hour)
        .map(Money::get)
        .collect();
    let per_hour = median(&mut stops).unwrap_or(0.0);
    let mut factors: Vec<f64> =
        shop.downtimes.iter().filter_map(|window| window.stop_factor).map(|factor| factor.get() / 100.0).collect();
    let factor = median(&mut factors).unwrap_or(1.0).min(1.0);
    let minutes = work_of(shop, interface, Kind::Minor).minutes.get() + shop.settings.lockout.get();
    let stop = per_hour * minutes / 60.0;
    Costs { planned: service + factor * stop, unplanned: service + stop + per_hour * WAITING_HOURS }
}
