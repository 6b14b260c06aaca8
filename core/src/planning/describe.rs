//! A plan in the shop's own words.

use super::basis::{PlanBasis, money};
use super::candidates::Candidates;
use super::changes;
use super::clashes::clashes;
use super::left_words::left_words;
use super::problem::{CostParts, LeftReason, Place, Plan};
use super::proposal::{Costs, LeftService, PlacedService, Placement, PlanChangeKind, Proposal};
use super::standing::Standing;
use super::why::Reasons;
use crate::units::Percent;

/// A proposal is at most so far above the cheapest possible that it may say so, in percent.
const WORTH_SAYING_PCT: i64 = 15;

/// A plan of a basis as a proposal. `bound`: no plan costs less, in cents; nothing is said of it
/// where it lies too far below.
pub(super) fn describe(basis: &PlanBasis, candidates: &Candidates, plan: &Plan, bound: Option<i64>) -> Proposal {
    let standing = Standing::of(&basis.problem, plan);
    let reasons = Reasons::new(basis, candidates, &standing);
    let mut placed = Vec::new();
    let mut left = Vec::new();
    for (service, of) in basis.services.iter().enumerate() {
        match standing.place(service) {
            Some(place) => placed.push(PlacedService {
                spindle: of.spindle,
                kind: of.kind,
                minutes: of.minutes,
                order: of.order,
                place: placement(basis, &standing, service, place),
                held: of.held,
                service_by: of.service_by,
                moved_from: changes::kind_of(basis, service, Some(place))
                    .filter(|kind| *kind == PlanChangeKind::Moved)
                    .and(of.start),
                costs: costs(&standing.shared(service, place)),
                chance_crossed: chance(basis, service, standing.day(place.window)),
                why: reasons.why(service, place),
            }),
            None => {
                let reason = candidates.reasons.get(service).copied().unwrap_or(LeftReason::Dearer);
                left.push(LeftService {
                    spindle: of.spindle,
                    kind: of.kind,
                    minutes: of.minutes,
                    order: of.order,
                    service_by: of.service_by,
                    reason,
                    words: left_words(basis, candidates, &standing, service, reason),
                    cost: money(basis.problem.services[service].leave_cost),
                    for_next_plan: of.service_by.is_none_or(|by| basis.last() < by),
                });
            }
        }
    }
    let total = standing.total();
    placed.extend(basis.outside.iter().cloned());
    placed.sort_by_key(|service| (service.place.start, service.spindle, service.order));
    left.sort_by_key(|service| (service.service_by.is_none(), service.service_by, service.spindle, service.order));
    let cheapest = bound.filter(|bound| {
        let over = i128::from(total.total()) - i128::from(*bound);
        0 <= over && over * 100 <= i128::from(*bound) * i128::from(WORTH_SAYING_PCT)
    });
    Proposal {
        as_of: basis.as_of,
        last: basis.last(),
        placed,
        left,
        costs: costs(&total),
        cheapest_possible: cheapest.map(money),
        changes: changes::changes(basis, candidates, &standing, &reasons),
        remarks: basis.remarks.clone(),
        clashes: clashes(basis),
    }
}

/// Cents as money, part by part.
pub(super) fn costs(parts: &CostParts) -> Costs {
    Costs {
        stop: money(parts.stop),
        premium: money(parts.premium),
        risk: money(parts.risk),
        early: money(parts.early),
        moved: money(parts.moved),
        lockout: money(parts.lockout),
        visit: money(parts.visit),
        left: money(parts.left),
    }
}

/// The chance of having crossed a limit by the start of a day.
pub(super) fn chance(basis: &PlanBasis, service: usize, day: usize) -> Percent {
    let Some(forecast) = basis.services.get(service).and_then(|of| basis.forecasts.get(&of.spindle)) else {
        return Percent::ZERO;
    };
    match day.checked_sub(1).and_then(|before| u32::try_from(before).ok()) {
        Some(before) => forecast.crossed.by(basis.as_of, before),
        // today: it was crossed, or it was not
        None if forecast.is_passed => Percent::new(100.0).unwrap_or_default(),
        None => Percent::ZERO,
    }
}

/// A place in dates and names.
pub(super) fn placement(basis: &PlanBasis, standing: &Standing<'_>, service: usize, place: &Place) -> Placement {
    let day = standing.day(place.window);
    let span = standing.span(service, place);
    let people = place.technicians.iter().filter_map(|index| basis.technicians.get(*index));
    Placement {
        tray: Some(place.window).filter(|window| *window < basis.trays.len()),
        start: basis.grid.moment(day, span.from),
        end: basis.grid.moment(day, span.to),
        technicians: people.filter(|name| !name.is_empty()).cloned().collect(),
    }
}
