//! The cheapest plan of a tiny problem by trying everything: windows, starts and people.
//!
//! Independent of the search and of the bound: only the check of a finished plan says what a plan
//! costs and what it breaks. A plan's cost depends on its windows alone, so choices of windows are
//! gone through by cost, and the first for which starts and people are found is the cheapest.

use almanac_core::planning::broken::Broken;
use almanac_core::planning::check::check;
use almanac_core::planning::problem::{Place, Plan, Problem, Scope};

/// Starts are tried at multiples of this many minutes; spans of the problem must be multiples too.
pub const GRID_MIN: i64 = 30;

/// The cheapest plan that keeps every rule, with its cost; held services stay where they are.
///
/// `None` where no plan keeps every rule: then held services clash.
#[must_use]
pub fn cheapest(problem: &Problem) -> Option<(Plan, i64)> {
    let mut choices: Vec<(i64, Plan)> = Vec::new();
    choose(problem, &mut Plan::default(), &mut choices);
    choices.sort_by_key(|(cost, _)| *cost);
    choices.into_iter().find_map(|(cost, plan)| with_sheet(problem, &plan).map(|plan| (plan, cost)))
}

/// Every choice of windows that keeps the rules about windows, parts and gauges.
fn choose(problem: &Problem, plan: &mut Plan, choices: &mut Vec<(i64, Plan)>) {
    let Some(job) = problem.services.get(plan.places.len()) else {
        let checked = check(problem, plan);
        let of_windows = |broken: &Broken| {
            matches!(
                broken,
                Broken::NotReady { .. }
                    | Broken::WrongWindow { .. }
                    | Broken::GaugesTaken { .. }
                    | Broken::PartShort { .. }
            )
        };
        if !checked.broken.iter().any(of_windows) {
            choices.push((checked.parts.total(), plan.clone()));
        }
        return;
    };
    if let Some(held) = &job.held {
        plan.places.push(Some(held.clone()));
        choose(problem, plan, choices);
        plan.places.pop();
        return;
    }
    plan.places.push(None);
    choose(problem, plan, choices);
    plan.places.pop();
    let hall = problem.lines[problem.machines[job.machine]].hall;
    for (window, place) in problem.windows.iter().enumerate() {
        if place.scope != Scope::Hall(hall) && place.scope != Scope::Machine(job.machine) {
            continue;
        }
        plan.places.push(Some(Place { window, start: place.span.from, technicians: Vec::new() }));
        choose(problem, plan, choices);
        plan.places.pop();
    }
}

/// Starts and people for a choice of windows, if there are any: day by day, as days do not touch.
fn with_sheet(problem: &Problem, chosen: &Plan) -> Option<Plan> {
    let mut plan = chosen.clone();
    for day in 0..problem.days {
        let on_day =
            |place: &Option<Place>| place.as_ref().is_some_and(|place| problem.windows[place.window].day == day);
        let only: Vec<Option<Place>> =
            chosen.places.iter().map(|place| if on_day(place) { place.clone() } else { None }).collect();
        let open: Vec<usize> = (0..only.len())
            .filter(|service| only[*service].is_some() && problem.services[*service].held.is_none())
            .collect();
        let mut sheet = Plan { places: only };
        if !fill(problem, &mut sheet, &open, 0) {
            return None;
        }
        for service in open {
            plan.places[service].clone_from(&sheet.places[service]);
        }
    }
    check(problem, &plan).broken.is_empty().then_some(plan)
}

/// Whether a day's sheet keeps every rule, services of other days aside.
fn is_kept(problem: &Problem, sheet: &Plan) -> bool {
    let is_of_other_days = |broken: &Broken| matches!(broken, Broken::HeldLeft { .. });
    check(problem, sheet).broken.iter().all(is_of_other_days)
}

fn fill(problem: &Problem, sheet: &mut Plan, open: &[usize], nth: usize) -> bool {
    let Some(service) = open.get(nth).copied() else { return is_kept(problem, sheet) };
    let window = sheet.places[service].as_ref().map_or(0, |place| place.window);
    let (job, span) = (&problem.services[service], problem.windows[window].span);
    let people = 0..problem.technicians.len();
    let crews: Vec<Vec<usize>> = if job.crew == 1 {
        people.map(|who| vec![who]).collect()
    } else {
        let pairs = people.clone().flat_map(|lead| people.clone().map(move |second| vec![lead, second]));
        pairs.filter(|pair| pair[0] != pair[1]).collect()
    };
    let mut start = span.from;
    while start + job.minutes <= span.to {
        for technicians in &crews {
            sheet.places[service] = Some(Place { window, start, technicians: technicians.clone() });
            if !clashes(problem, sheet, &open[..nth], service) && fill(problem, sheet, open, nth + 1) {
                return true;
            }
        }
        start += GRID_MIN;
    }
    sheet.places[service] = Some(Place { window, start: span.from, technicians: Vec::new() });
    false
}

/// Whether two services of one person or machine overlap even without their lockouts.
fn clashes(problem: &Problem, sheet: &Plan, before: &[usize], service: usize) -> bool {
    let of = |service: usize| sheet.places[service].as_ref().map(|place| (place, &problem.services[service]));
    let Some((place, job)) = of(service) else { return false };
    before.iter().filter_map(|other| of(*other)).any(|(other, other_job)| {
        let overlap = place.start < other.start + other_job.minutes && other.start < place.start + job.minutes;
        let shared =
            other.technicians.iter().any(|who| place.technicians.contains(who)) || other_job.machine == job.machine;
        overlap && shared
    })
}
