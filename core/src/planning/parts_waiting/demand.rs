//! Who takes which part, and when.

use super::super::basis::{PlanBasis, kit};
use super::super::proposal::Proposal;
use crate::ids::SpindleId;
use crate::order::OrderState;
use crate::service::Kind;
use crate::service_costs::needed_kind;
use crate::units::Percent;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// A service without a place is named from this chance on (common practice, no source).
const LEAST_NAMED_PCT: f64 = 25.0;

/// What is needed of one part.
#[derive(Debug, Clone, Default)]
pub(super) struct Demand {
    /// By day, of services with a place.
    pub(super) placed: Vec<f64>,
    /// By day, of others by their chance.
    pub(super) likely: Vec<f64>,
    /// By whom: those with a place by day, then the others by service-by.
    pub(super) needs: Vec<Need>,
}

/// One service that takes a part.
#[derive(Debug, Clone)]
pub(super) struct Need {
    pub(super) spindle: SpindleId,
    pub(super) position: String,
    pub(super) on: Option<NaiveDate>,
    pub(super) quantity: f64,
    pub(super) chance: Percent,
    pub(super) has_place: bool,
}

/// The demand of every part that the shop lists or a kit names.
pub(super) fn of(basis: &PlanBasis, plan: &Proposal) -> BTreeMap<String, Demand> {
    let days = basis.grid.days();
    let empty = || Demand { placed: vec![0.0; days], likely: vec![0.0; days], needs: Vec::new() };
    let mut all: BTreeMap<String, Demand> =
        basis.shop.parts.iter().map(|part| (part.value.name.clone(), empty())).collect();
    let mut has_place: BTreeSet<SpindleId> = BTreeSet::new();
    for placed in &plan.placed {
        has_place.insert(placed.spindle);
        let row = placed.order.and_then(|id| basis.shop.orders.iter().find(|row| row.id == id));
        // once work has begun its kit is no longer on the shelf
        if row.is_some_and(|row| matches!(row.state, OrderState::UnderWay | OrderState::PartlyDone)) {
            continue;
        }
        let on = basis.shop.settings.day_of(placed.place.start).max(basis.as_of);
        let Some(day) = basis.grid.day_of(on) else { continue };
        for (part, quantity) in kit_of(basis, placed.spindle, placed.kind) {
            let demand = all.entry(part).or_insert_with(empty);
            if let Some(amount) = demand.placed.get_mut(day) {
                *amount += quantity;
            }
            demand.needs.push(Need {
                spindle: placed.spindle,
                position: position(basis, placed.spindle),
                on: Some(on),
                quantity,
                chance: Percent::new(100.0).unwrap_or_default(),
                has_place: true,
            });
        }
    }
    for (id, forecast) in &basis.forecasts {
        if has_place.contains(id) || basis.shop.position_on(*id, basis.as_of).is_none() {
            continue;
        }
        let left = plan.left.iter().find(|left| left.spindle == *id);
        let kind = left.map_or_else(|| needed_kind(forecast), |left| left.kind);
        let by_day: Vec<f64> = (0..days)
            .map(|day| forecast.crossed.by(basis.as_of, u32::try_from(day).unwrap_or(u32::MAX)).get() / 100.0)
            .collect();
        let whole = by_day.last().copied().unwrap_or(0.0);
        for (part, quantity) in kit_of(basis, *id, kind) {
            let demand = all.entry(part).or_insert_with(empty);
            let mut before = 0.0;
            for (amount, chance) in demand.likely.iter_mut().zip(&by_day) {
                *amount += quantity * (chance - before).max(0.0);
                before = chance.max(before);
            }
            if LEAST_NAMED_PCT <= whole * 100.0 {
                demand.needs.push(Need {
                    spindle: *id,
                    position: position(basis, *id),
                    on: forecast.service_by,
                    quantity,
                    chance: Percent::new(whole * 100.0).unwrap_or_default(),
                    has_place: false,
                });
            }
        }
    }
    for demand in all.values_mut() {
        demand.needs.sort_by(|a, b| {
            let key = |need: &Need| (!need.has_place, need.on.is_none(), need.on);
            key(a).cmp(&key(b)).then_with(|| a.position.cmp(&b.position)).then_with(|| a.spindle.cmp(&b.spindle))
        });
    }
    all
}

fn kit_of(basis: &PlanBasis, spindle: SpindleId, kind: Kind) -> Vec<(String, f64)> {
    basis.shop.spindles.get(&spindle).map(|spindle| kit(&basis.shop, &spindle.interface, kind)).unwrap_or_default()
}

fn position(basis: &PlanBasis, spindle: SpindleId) -> String {
    let position = basis.shop.position_on(spindle, basis.as_of);
    position.map(|position| basis.shop.position_label(position)).unwrap_or_default()
}
