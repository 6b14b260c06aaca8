//! Rules that held placements break, in the shop's own words: they stay, and it is said.

use super::basis::{PlanBasis, PlanPart};
use super::broken::Broken;
use super::check::check;
use super::problem::Plan;
use crate::words;

/// One sentence for each rule that what is held breaks by itself.
pub(super) fn clashes(basis: &PlanBasis) -> Vec<String> {
    let held = Plan { places: basis.problem.services.iter().map(|job| job.held.clone()).collect() };
    let mut sentences: Vec<String> = Vec::new();
    for (service, of) in basis.services.iter().enumerate() {
        let Some(place) = held.places.get(service).and_then(Option::as_ref) else { continue };
        let day = words::date_mid(basis.grid.date(basis.problem.windows[place.window].day), basis.as_of);
        if basis.trays.len() <= place.window {
            sentences.push(format!("{} is held on {day} outside every downtime window.", of.position));
        }
        let known = basis.shop.technicians.len();
        for stranger in place.technicians.iter().filter(|who| known <= **who) {
            let name = basis.technicians.get(*stranger).map_or("", String::as_str);
            sentences.push(if name.is_empty() {
                format!("{} is held on {day} without {} to do it.", of.position, people(of.crew))
            } else {
                format!("{} is held on {day} for {name}, who is not in the crew.", of.position)
            });
        }
    }
    let checked = check(&basis.problem, &held);
    sentences.extend(checked.broken.iter().map(|broken| format!("{}.", words::capital(&broken_words(basis, broken)))));
    sentences
}

const fn people(crew: usize) -> &'static str {
    if crew == 2 { "two technicians" } else { "a technician" }
}

/// A broken rule as a clause, without its full stop.
pub(super) fn broken_words(basis: &PlanBasis, broken: &Broken) -> String {
    let service = |index: &usize| basis.label(*index).to_owned();
    let person = |index: &usize| basis.technicians.get(*index).cloned().unwrap_or_default();
    let day = |day: &usize| words::date_mid(basis.grid.date(*day), basis.as_of);
    match broken {
        Broken::HeldLeft { service: of } => format!("{} is held but has no place", service(of)),
        Broken::HeldChanged { service: of } => format!("{} is held elsewhere", service(of)),
        Broken::WrongWindow { service: of, .. } => format!("the window is not for {}", service(of)),
        Broken::NotReady { service: of, day: on } => {
            let ready = basis.services.get(*of).and_then(|of| of.not_before);
            let ready =
                ready.map_or_else(String::new, |day| format!(": not before {}", words::date_long(day, basis.as_of)));
            format!("{} may not be done yet on {}{ready}", service(of), day(on))
        }
        Broken::OutsideWindow { service: of, .. } => format!("{} does not fit into its window", service(of)),
        Broken::BeforeLockout { service: of, first } => {
            format!("{} starts before the lockout by {} is done", service(of), service(first))
        }
        Broken::Crew { service: of, wanted } => {
            format!("{} needs {}", service(of), if *wanted == 2 { "two different people" } else { "one person" })
        }
        Broken::NoSkill { service: of, technician } => {
            let kind = basis.services.get(*of).map_or("", |of| of.kind.key());
            format!("{} has no skill for a {kind} service, as {} needs", person(technician), service(of))
        }
        Broken::NotThere { service: of, technician } => {
            format!("{} has no shift that covers {}", person(technician), service(of))
        }
        Broken::PersonTwice { technician, day: on, one, other } => {
            format!("{} would be at {} and {} at once on {}", person(technician), service(one), service(other), day(on))
        }
        Broken::TooLong { technician, day: on, minutes, allowed } => {
            let (has, may) = (super::left_words::hours(*minutes), super::left_words::hours(*allowed));
            format!("{} would be {has} at services on {}, {may} are allowed", person(technician), day(on))
        }
        Broken::MachineTwice { day: on, one, other, .. } => {
            format!("{} and {} would overlap on one machine on {}", service(one), service(other), day(on))
        }
        Broken::GaugesTaken { group, day: on, services, room } => {
            let quantity = basis.gauges.get(*group).map_or("", |quantity| quantity.label());
            if *room == 0 {
                return format!("no gauge of {quantity} is in and within its calibration on {}", day(on));
            }
            format!("{} services need a gauge of {quantity} on {}, which has room for {room}", services.len(), day(on))
        }
        Broken::PartShort { part, day: on, taken, there } => {
            let name = basis.parts.get(*part).map_or("", |part: &PlanPart| part.name.as_str());
            let count = |thousandths: &i64| {
                let figure = words::number(*thousandths as f64 / 1000.0, 3);
                if figure.contains('.') {
                    figure.trim_end_matches('0').trim_end_matches('.').to_owned()
                } else {
                    figure
                }
            };
            format!("{} of {name} would be taken by {}, and {} are there", count(taken), day(on), count(there))
        }
    }
}
