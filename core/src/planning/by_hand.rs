//! A place tried by hand: what it costs beside the one where the service stands, and which rules it
//! would break.

use super::basis::PlanBasis;
use super::broken::Broken;
use super::check::check;
use super::clashes::broken_words;
use super::describe::{chance, costs, placement};
use super::fit::{Wanted, free_place};
use super::problem::{Place, Plan};
use super::proposal::{BrokenRule, PlacedService, Proposal, ServiceKey, Weighed};
use super::standing::Standing;
use super::why::{kit_arrives, windows_of};
use crate::words;
use chrono::NaiveDateTime;

/// What is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trial<'a> {
    /// Which service.
    pub service: ServiceKey,
    /// Which of [`PlanBasis::trays`].
    pub tray: usize,
    /// From when; `None`: the earliest start that breaks least.
    pub start: Option<NaiveDateTime>,
    /// By whom, the one who leads first; `None`: who can do it best.
    pub technicians: Option<&'a [String]>,
}

/// Weighs a place beside where the service stands in `current`. `None` where the basis does not
/// know the service, the tray is none of its machine, or a technician is none of the crew.
///
/// With a note may be taken: a place after service-by, outside a shift or beyond somebody's hours
/// of the day, before the kit is there. Never: without the skill, with a person in two places, with
/// a spindle that may run below its stop limit until then, or against any other rule.
#[must_use]
pub fn weigh(basis: &PlanBasis, current: &Proposal, trial: &Trial<'_>) -> Option<Weighed> {
    let with_it;
    let (basis, service) = match basis.find(trial.service) {
        Some(service) => (basis, service),
        None => {
            with_it = basis.with_outside(trial.service)?;
            (&with_it, with_it.find(trial.service)?)
        }
    };
    if !windows_of(basis, service).contains(&trial.tray) {
        return None;
    }
    let known = basis.shop.technicians.len();
    let people: Option<Vec<usize>> = match trial.technicians {
        None => None,
        Some(names) => {
            let find = |name: &String| basis.technicians.iter().take(known).position(|known| known == name);
            Some(names.iter().map(find).collect::<Option<_>>()?)
        }
    };
    let day = basis.problem.windows.get(trial.tray)?.day;
    let start = match trial.start {
        None => None,
        Some(moment) => Some(basis.grid.inside(moment).filter(|(on, _)| *on == day).map(|(_, minute)| minute)?),
    };
    let standing_plan = plan_of(basis, current);
    let mut others = standing_plan.clone();
    if let Some(place) = others.places.get_mut(service) {
        *place = None;
    }
    let beside = Standing::of(&basis.problem, &others);
    let wanted = Wanted { start, technicians: people.as_deref(), crew: Some(known), ..Wanted::default() };
    let place = least_broken(&beside, service, trial.tray, wanted);
    let mut then = others.clone();
    if let Some(slot) = then.places.get_mut(service) {
        *slot = Some(place.clone());
    }
    let after = Standing::of(&basis.problem, &then);
    let now = standing_plan.places.get(service).and_then(Option::as_ref);
    let here = match now {
        Some(now) => beside.marginal(service, now.window),
        None => beside.left(service),
    };
    let days = basis.grid.days();
    Some(Weighed {
        here: costs(&here),
        there: costs(&beside.marginal(service, trial.tray)),
        chance_here: chance(basis, service, now.map_or(days, |now| beside.day(now.window))),
        chance_there: chance(basis, service, day),
        place: placement(basis, &after, service, &place),
        broken: broken_rules(basis, service, &place, &others, &then, &beside),
    })
}

/// The places of a proposal as a plan of the basis; what the basis does not know is not in it.
pub(super) fn plan_of(basis: &PlanBasis, current: &Proposal) -> Plan {
    let mut plan = Plan { places: vec![None; basis.services.len()] };
    for placed in &current.placed {
        let Some(service) = basis.find(placed.key()) else { continue };
        let held = basis.problem.services.get(service).and_then(|job| job.held.clone());
        if let Some(slot) = plan.places.get_mut(service) {
            *slot = held.or_else(|| place_of(basis, placed));
        }
    }
    plan
}

fn place_of(basis: &PlanBasis, placed: &PlacedService) -> Option<Place> {
    let window = placed.place.tray?;
    let (_, start) = basis.grid.inside(placed.place.start)?;
    let find = |name: &String| basis.technicians.iter().position(|known| known == name);
    let technicians: Vec<usize> = placed.place.technicians.iter().filter_map(find).collect();
    Some(Place { window, start, technicians })
}

/// The earliest start in a tray that breaks least: first nothing, then what a note may override,
/// then whatever is left. A day that is too early is so at every start of the tray, so it decides none.
fn least_broken(beside: &Standing<'_>, service: usize, window: usize, wanted: Wanted<'_>) -> Place {
    let wanted = Wanted { without_ready: true, ..wanted };
    let loosened = [
        wanted,
        Wanted { without_parts: true, ..wanted },
        Wanted { without_parts: true, outside_shifts: true, ..wanted },
        Wanted { without_parts: true, outside_shifts: true, without_gauge: true, ..wanted },
    ];
    let found = loosened.iter().find_map(|wanted| free_place(beside, service, window, wanted));
    found.unwrap_or_else(|| {
        let problem = beside.problem;
        let job = &problem.services[service];
        let day = beside.day(window);
        let can_lead = |who: &usize| problem.technicians[*who].skills.get(job.kind).copied().unwrap_or(false);
        let there = |who: &usize| problem.technicians[*who].shifts.iter().any(|shift| shift.day == day);
        let crew = wanted.crew.unwrap_or(usize::MAX).min(problem.technicians.len());
        let mut people: Vec<usize> = (0..crew).collect();
        people.sort_by_key(|who| (!can_lead(who), !there(who), *who));
        people.truncate(job.crew);
        Place {
            window,
            start: wanted.start.unwrap_or(problem.windows[window].span.from),
            technicians: wanted.technicians.map_or(people, ToOwned::to_owned),
        }
    })
}

/// What the place breaks that was whole before, the worst first.
fn broken_rules(
    basis: &PlanBasis,
    service: usize,
    place: &Place,
    others: &Plan,
    then: &Plan,
    beside: &Standing<'_>,
) -> Vec<BrokenRule> {
    let before: Vec<Broken> = check(&basis.problem, others).broken.iter().map(Broken::without_times).collect();
    let mut rules: Vec<BrokenRule> = Vec::new();
    for broken in check(&basis.problem, then).broken {
        // that a held one stands elsewhere is what is being tried
        let is_the_trial = matches!(broken, Broken::HeldChanged { service: of } if of == service);
        if is_the_trial || before.contains(&broken.without_times()) {
            continue;
        }
        let with_note = matches!(broken, Broken::NotThere { .. } | Broken::TooLong { .. } | Broken::PartShort { .. });
        rules.push(BrokenRule { words: words_of(basis, service, place, &broken, beside), with_note });
    }
    let of = &basis.services[service];
    let date = basis.grid.date(beside.day(place.window));
    rules.extend(of.service_by.filter(|by| *by < date).map(|by| BrokenRule {
        words: format!(
            "{} after the service-by date, {}",
            words::days((date - by).num_days()),
            words::date_long(by, basis.as_of)
        ),
        with_note: true,
    }));
    rules.extend(stop_limit(basis, service, beside.day(place.window)));
    rules.sort_by_key(|rule| rule.with_note);
    rules.dedup();
    rules
}

/// A spindle that may run must not be under its stop limit before its service, by more than the
/// accepted risk. One that must not run stands until then.
fn stop_limit(basis: &PlanBasis, service: usize, day: usize) -> Option<BrokenRule> {
    let of = &basis.services[service];
    let forecast = basis.forecasts.get(&of.spindle)?;
    let before = day.checked_sub(1).and_then(|day| u32::try_from(day).ok())?;
    let chance = forecast.crossed.stop.by(before);
    let accepted = basis.accepted_risk * 100.0;
    (!of.must_not_run && accepted < chance.get()).then(|| BrokenRule {
        words: format!("by then it may run below the stop limit: {}", words::chance(chance)),
        with_note: false,
    })
}

fn words_of(basis: &PlanBasis, service: usize, place: &Place, broken: &Broken, beside: &Standing<'_>) -> String {
    let name = |who: &usize| basis.technicians.get(*who).cloned().unwrap_or_default();
    match broken {
        Broken::NotThere { service: of, technician } if *of == service => {
            let day = words::date_mid(basis.grid.date(beside.day(place.window)), basis.as_of);
            format!("outside the shifts of {} on {day}", name(technician))
        }
        Broken::NoSkill { technician, .. } => {
            let kind = basis.services.get(service).map_or("", |of| of.kind.key());
            format!("{} has no skill for a {kind} service", name(technician))
        }
        Broken::PartShort { .. } => {
            let job = &basis.problem.services[service];
            let arrives = (beside.day(place.window)..basis.grid.days()).find(|day| {
                job.parts
                    .iter()
                    .all(|(part, quantity)| super::candidates::stock_by(&basis.problem, *part, *day) >= *quantity)
            });
            match arrives {
                Some(day) if beside.day(place.window) < day => {
                    format!("before the kit is there: {}", kit_arrives(basis, service, basis.grid.date(day)))
                }
                _ => format!("before the kit is there: {}", broken_words(basis, broken)),
            }
        }
        other => broken_words(basis, other),
    }
}
