//! A plan in the shop's own words.

use super::basis::{PlanBasis, money};
use super::problem::{LeftReason, Place, Plan};
use super::proposal::{Costs, LeftService, PlacedService, Placement, Proposal};
use crate::units::Percent;

/// A plan of a basis as a proposal.
pub(super) fn describe(basis: &PlanBasis, plan: &Plan, cheapest_possible: Option<i64>) -> Proposal {
    let mut placed = Vec::new();
    let mut left = Vec::new();
    for (service, of) in basis.services.iter().enumerate() {
        match plan.places.get(service).and_then(Option::as_ref) {
            Some(place) => placed.push(PlacedService {
                spindle: of.spindle,
                kind: of.kind,
                minutes: of.minutes,
                order: of.order,
                place: placement(basis, place, of.minutes),
                held: of.held,
                service_by: of.service_by,
                moved_from: None,
                costs: Costs::default(),
                chance_crossed: Percent::ZERO,
                why: String::new(),
            }),
            None => left.push(LeftService {
                spindle: of.spindle,
                kind: of.kind,
                minutes: of.minutes,
                order: of.order,
                service_by: of.service_by,
                reason: LeftReason::Dearer,
                words: String::new(),
                cost: basis.problem.services.get(service).map(|job| money(job.leave_cost)).unwrap_or_default(),
                for_next_plan: of.service_by.is_none_or(|by| basis.last() < by),
            }),
        }
    }
    placed.extend(basis.outside.iter().cloned());
    placed.sort_by_key(|service| (service.place.start, service.spindle));
    Proposal {
        as_of: basis.as_of,
        last: basis.last(),
        placed,
        left,
        costs: Costs::default(),
        cheapest_possible: cheapest_possible.map(money),
        changes: Vec::new(),
        clashes: basis.remarks.clone(),
    }
}

fn placement(basis: &PlanBasis, place: &Place, minutes: i64) -> Placement {
    let day = basis.problem.windows.get(place.window).map_or(0, |window| window.day);
    let people = place.technicians.iter().filter_map(|index| basis.technicians.get(*index));
    Placement {
        tray: Some(place.window).filter(|window| *window < basis.trays.len()),
        start: basis.grid.moment(day, place.start),
        end: basis.grid.moment(day, place.start + minutes),
        technicians: people.filter(|name| !name.is_empty()).cloned().collect(),
    }
}
