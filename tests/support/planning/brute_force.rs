//! The cheapest plan of a tiny shop by trying everything: every choice of windows, and for each, day
//! by day, every start on the half hour and every choice of people. Written from the rules alone.
//!
//! Where all times are multiples of half an hour, starts on the half hour are enough: in any plan
//! every service can be moved up until something stops it, and all that stops it lies on one.
//! At most one service may be held.

use almanac_core::planning::check::check;
use almanac_core::planning::problem::{Place, Plan, Problem, Scope};
use std::collections::BTreeMap;

/// Starts are tried at multiples of so many minutes; all times of a problem are to be multiples too.
pub const GRID_MIN: i64 = 30;

/// A service at work on a day: service, window, start, people.
type Work = (usize, usize, i64, Vec<usize>);

/// The cheapest plan and what it costs; what is held stays where it is.
///
/// # Panics
/// Where no choice of windows has starts and people: to leave everything that is not held always has.
#[must_use]
pub fn cheapest(problem: &Problem) -> (Plan, i64) {
    let mut choices: Vec<(i64, Vec<Option<usize>>)> = Vec::new();
    choose(problem, &mut Vec::new(), &mut choices);
    choices.sort();
    let mut known = BTreeMap::new();
    let mut sheets = |windows: &[Option<usize>]| -> Option<Plan> {
        let mut plan = Plan { places: vec![None; windows.len()] };
        for day in 0..problem.days {
            let there: Vec<(usize, usize)> = (0..windows.len())
                .filter_map(|service| Some((service, windows[service]?)))
                .filter(|(_, window)| problem.windows[*window].day == day)
                .collect();
            let sheet: &Option<Vec<Work>> = known.entry(there.clone()).or_insert_with(|| {
                let mut works = Vec::new();
                has_sheet(problem, &there, &mut works).then_some(works)
            });
            for (service, window, start, technicians) in sheet.iter().flatten().cloned() {
                plan.places[service] = Some(Place { window, start, technicians });
            }
            sheet.as_ref()?;
        }
        Some(plan)
    };
    let found = choices.into_iter().find_map(|(cost, windows)| Some((sheets(&windows)?, cost)));
    found.expect("to leave everything is a plan")
}

/// Every choice of windows that gauges and parts allow, with its cost.
fn choose(problem: &Problem, windows: &mut Vec<Option<usize>>, all: &mut Vec<(i64, Vec<Option<usize>>)>) {
    let service = windows.len();
    let Some(job) = problem.services.get(service) else {
        if supplied(problem, windows) {
            // what a plan costs hangs on the windows alone
            let place = |window: usize| Place { window, start: 0, technicians: Vec::new() };
            let plan = Plan { places: windows.iter().map(|window| window.map(place)).collect() };
            all.push((check(problem, &plan).parts.total(), windows.clone()));
        }
        return;
    };
    if let Some(held) = &job.held {
        windows.push(Some(held.window));
        choose(problem, windows, all);
        windows.pop();
        return;
    }
    let hall = problem.lines[problem.machines[job.machine]].hall;
    let fits = |window: &usize| {
        let is = &problem.windows[*window];
        (is.scope == Scope::Hall(hall) || is.scope == Scope::Machine(job.machine)) && is.day >= job.ready_day
    };
    for choice in std::iter::once(None).chain((0..problem.windows.len()).filter(fits).map(Some)) {
        windows.push(choice);
        choose(problem, windows, all);
        windows.pop();
    }
}

/// Gauges and parts, as far as anything but what is held takes of them.
fn supplied(problem: &Problem, windows: &[Option<usize>]) -> bool {
    let placed: Vec<(usize, usize)> =
        (0..windows.len()).filter_map(|service| Some((service, problem.windows[windows[service]?].day))).collect();
    let free = |service: usize| problem.services[service].held.is_none();
    for (group, room) in problem.gauges.iter().enumerate() {
        for (day, room) in room.iter().enumerate().take(problem.days) {
            let there: Vec<usize> = placed
                .iter()
                .filter(|(service, on)| *on == day && problem.services[*service].gauge == Some(group))
                .map(|(service, _)| *service)
                .collect();
            if there.len() as i64 > *room && there.iter().any(|service| free(*service)) {
                return false;
            }
        }
    }
    for (part, stock) in problem.parts.iter().enumerate() {
        for day in 0..problem.days {
            let takes: Vec<(usize, i64)> = placed
                .iter()
                .filter(|(_, on)| *on <= day)
                .flat_map(|(service, _)| problem.services[*service].parts.iter().map(move |row| (*service, *row)))
                .filter(|(_, (of, _))| *of == part)
                .map(|(service, (_, quantity))| (service, quantity))
                .collect();
            let there: i64 = stock.on_hand + stock.arrivals.iter().filter(|a| a.0 <= day).map(|a| a.1).sum::<i64>();
            let taken: i64 = takes.iter().map(|(_, quantity)| quantity).sum();
            if taken > there && takes.iter().any(|(service, _)| free(*service)) {
                return false;
            }
        }
    }
    true
}

/// Whether starts and people exist for what a day carries; `works` is what it finds, else as before.
fn has_sheet(problem: &Problem, there: &[(usize, usize)], works: &mut Vec<Work>) -> bool {
    let Some((service, window)) = there.get(works.len()).copied() else { return day_holds(problem, works) };
    let job = &problem.services[service];
    if let Some(held) = &job.held {
        works.push((service, window, held.start, held.technicians.clone()));
        let has = has_sheet(problem, there, works);
        if !has {
            works.pop();
        }
        return has;
    }
    let is = problem.windows[window].span;
    let everybody = 0..problem.technicians.len();
    let mut crews: Vec<Vec<usize>> = Vec::new();
    for lead in everybody.clone().filter(|who| problem.technicians[*who].skills[job.kind]) {
        if job.crew == 1 {
            crews.push(vec![lead]);
        } else {
            crews.extend(everybody.clone().filter(|second| *second != lead).map(|second| vec![lead, second]));
        }
    }
    for step in 0.. {
        let start = is.from + GRID_MIN * step;
        if start + job.minutes > is.to {
            return false;
        }
        for crew in &crews {
            works.push((service, window, start, crew.clone()));
            if apart(problem, works) && has_sheet(problem, there, works) {
                return true;
            }
            works.pop();
        }
    }
    false
}

/// Whether the last one, even without a lockout, keeps clear of those before and is inside shifts.
fn apart(problem: &Problem, works: &[Work]) -> bool {
    let Some(((service, window, start, crew), before)) = works.split_last() else { return true };
    let (day, end) = (problem.windows[*window].day, start + problem.services[*service].minutes);
    let there = |who: &usize| {
        let shifts = &problem.technicians[*who].shifts;
        shifts.iter().any(|shift| shift.day == day && shift.span.from <= *start && end <= shift.span.to)
    };
    crew.iter().all(there)
        && before.iter().all(|(other, _, from, others)| {
            let shared = problem.services[*other].machine == problem.services[*service].machine
                || others.iter().any(|who| crew.contains(who));
            !shared || end <= *from || from + problem.services[*other].minutes <= *start
        })
}

/// All rules of a day, apart from those that only held services break.
fn day_holds(problem: &Problem, works: &[Work]) -> bool {
    let line = |service: usize| problem.machines[problem.services[service].machine];
    let is_held = |work: &Work| problem.services[work.0].held.is_some();
    let mut spans: Vec<(i64, i64)> = Vec::new();
    for work in works {
        let (service, window, start, crew) = work;
        let stop = || works.iter().filter(|other| other.1 == *window && line(other.0) == line(*service));
        let first = stop().map(|other| other.2).min().unwrap_or(*start);
        let opens = first == *start;
        let clash = stop().filter(|other| other.2 == first).count() > 1 && problem.lockout_min > 0;
        let waits = opens && !clash || !opens && *start >= first + problem.lockout_min;
        let end = start + problem.services[*service].minutes + if opens { problem.lockout_min } else { 0 };
        spans.push((*start, end));
        if !waits {
            return false;
        }
        if is_held(work) {
            continue;
        }
        let is = &problem.windows[*window];
        let there = |who: &usize| {
            let shifts = &problem.technicians[*who].shifts;
            shifts.iter().any(|s| s.day == is.day && s.span.from <= *start && end <= s.span.to)
        };
        if *start < is.span.from || end > is.span.to || !crew.iter().all(there) {
            return false;
        }
    }
    for (nth, work) in works.iter().enumerate() {
        for (other_nth, other) in works.iter().enumerate().take(nth) {
            let shared = problem.services[work.0].machine == problem.services[other.0].machine
                || work.3.iter().any(|who| other.3.contains(who));
            let overlap = spans[nth].0 < spans[other_nth].1 && spans[other_nth].0 < spans[nth].1;
            if shared && overlap {
                return false;
            }
        }
    }
    problem.technicians.iter().enumerate().all(|(who, person)| {
        let mine = || works.iter().zip(&spans).filter(|(work, _)| work.3.contains(&who));
        let minutes: i64 = mine().map(|(_, (from, to))| to - from).sum();
        mine().all(|(work, _)| is_held(work)) || person.minutes_per_day.is_none_or(|most| minutes <= most)
    })
}
