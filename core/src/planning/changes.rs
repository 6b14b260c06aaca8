//! What a plan changes against what is booked.

use super::basis::PlanBasis;
use super::candidates::Candidates;
use super::problem::{LeftReason, Place};
use super::proposal::{PlanChange, PlanChangeKind};
use super::standing::Standing;
use super::why::Reasons;
use crate::words;

/// How a place differs from where the order of the service stands; `None`: it does not.
pub(super) fn kind_of(basis: &PlanBasis, service: usize, place: Option<&Place>) -> Option<PlanChangeKind> {
    let of = &basis.services[service];
    if of.held {
        return None;
    }
    let booked = basis.booked.places.get(service).and_then(Option::as_ref);
    let window = basis.problem.services[service].booked.and_then(|booked| booked.window);
    match place {
        // a start before the plan is no place in it
        None => {
            (of.start.is_some() && basis.problem.services[service].booked.is_some()).then_some(PlanChangeKind::TakenOff)
        }
        Some(_) if of.start.is_none() || basis.problem.services[service].booked.is_none() => {
            Some(PlanChangeKind::Added)
        }
        Some(place) if window != Some(place.window) => Some(PlanChangeKind::Moved),
        Some(place) => (booked != Some(place)).then_some(PlanChangeKind::Rearranged),
    }
}

/// All changes, by start.
pub(super) fn changes(
    basis: &PlanBasis,
    candidates: &Candidates,
    standing: &Standing<'_>,
    reasons: &Reasons<'_>,
) -> Vec<PlanChange> {
    let mut changes = Vec::new();
    for (service, of) in basis.services.iter().enumerate() {
        let place = standing.place(service);
        let Some(kind) = kind_of(basis, service, place) else { continue };
        let booked = basis.booked.places.get(service).and_then(Option::as_ref);
        let why = match (kind, place) {
            (PlanChangeKind::TakenOff, _) => {
                let is_due = of.service_by.is_some_and(|by| by <= basis.last());
                let last = words::date_long(basis.last(), basis.as_of);
                let has_window = basis.problem.services[service].booked.is_some_and(|booked| booked.window.is_some());
                match candidates.reasons.get(service) {
                    Some(LeftReason::Dearer) | None if is_due => {
                        "the cheapest place costs more than to leave it".to_owned()
                    }
                    _ if is_due => "no window can take it any more".to_owned(),
                    _ if !has_window => format!("it stands outside every window, and is not due by {last}"),
                    _ => format!("not due by {last}: it gives away more service life than it saves"),
                }
            }
            (PlanChangeKind::Rearranged, _) => "same window, another start or other people".to_owned(),
            (PlanChangeKind::Moved, Some(place)) => reasons.change(service, place, booked),
            (_, Some(place)) => reasons.change(service, place, None),
            (_, None) => String::new(),
        };
        let start = place.map(|place| basis.grid.moment(standing.day(place.window), place.start)).or(of.start);
        changes.push((start, PlanChange { spindle: of.spindle, order: of.order, kind, why }));
    }
    changes.sort_by_key(|(start, change)| (*start, change.spindle, change.order));
    changes.into_iter().map(|(_, change)| change).collect()
}
