//! A shop with a quick plan of it, and what leads to that.

use super::present;
use almanac_core::due::{DueList, due_list};
use almanac_core::forecast::{ForecastConfig, NoProgress, ShopForecast, forecast_shop};
use almanac_core::ids::OrderId;
use almanac_core::order::Order;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::proposal::{PlacedService, PlanningConfig, Proposal};
use almanac_core::planning::propose::{NoPlanProgress, propose};
use almanac_core::shop::Shop;

/// How a shop is planned here.
pub const CONFIG: PlanningConfig = PlanningConfig { moves_per_service: 40, ..PlanningConfig::quick(26) };

/// So many shops show everything that they are drawn for.
pub const SEEDS: u64 = 60;

/// A shop with its plan as of [`present`].
#[derive(Debug)]
pub struct Planned {
    /// The shop.
    pub shop: Shop,
    /// Its forecasts.
    pub forecast: ShopForecast,
    /// What is due.
    pub due: DueList,
    /// What was planned.
    pub basis: PlanBasis,
    /// The plan.
    pub proposal: Proposal,
}

/// Plans a shop.
#[must_use]
pub fn plan(shop: Shop) -> Planned {
    let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
    let due = due_list(&shop, &forecast);
    let basis = PlanBasis::of(&shop, &forecast, &due, present(), &CONFIG);
    let proposal = propose(&basis, &CONFIG, &NoPlanProgress).unwrap();
    Planned { shop, forecast, due, basis, proposal }
}

/// Proposed, not held: what the planner answers for.
pub fn proposed(planned: &Planned) -> impl Iterator<Item = &PlacedService> {
    planned.proposal.placed.iter().filter(|placed| !placed.held)
}

/// An order of a shop.
#[must_use]
pub fn order(shop: &Shop, id: OrderId) -> &Order {
    &shop.orders.iter().find(|row| row.id == id).unwrap().value
}
