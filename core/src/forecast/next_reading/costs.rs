//! What taking a reading costs in a shop, and what acting too early or too late does.

use super::super::SpindleForecast;
use super::super::model::next_reading::ActingCost;
use crate::service_costs::{ServiceCosts, needed_kind};
use crate::shop::Shop;
use crate::spindle::Spindle;

/// Minutes that a technician takes for one reading on a round (common practice, no source).
const READING_MINUTES: f64 = 5.0;

/// A reading worth less than this is not listed where nothing says what one costs (common practice,
/// no source).
const LEAST_WORTH: f64 = 5.0;

/// A day too early, below a limit, and below the stop limit ([`ServiceCosts::days`]).
pub(super) fn acting(costs: &ServiceCosts<'_>, spindle: &Spindle, forecast: &SpindleForecast) -> ActingCost {
    let days = costs.days(spindle, forecast, needed_kind(forecast));
    ActingCost { early: days.unused.get(), below: days.below.get(), stopped: days.standing.get() }
}

/// What one reading more on a round costs: a technician's minutes. The round is walked anyway, so its
/// visit is paid, and the machine is taken to stand between two jobs.
pub(super) fn taking(shop: &Shop) -> f64 {
    shop.settings.labour_per_hour.get() * READING_MINUTES / 60.0
}

/// What a reading must be worth, its own cost taken off, to be listed: as much again as taking one
/// costs; where a technician's hour has no price, 5 units of the shop's currency.
pub(super) fn least_worth(shop: &Shop) -> f64 {
    let taking = taking(shop);
    if taking > 0.0 { taking } else { LEAST_WORTH }
}
