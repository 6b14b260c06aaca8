//! One day of the bound: who is there, which services could be done, which stops they would share.

use crate::planning::costs::CostBook;
use crate::planning::problem::{Problem, Scope, Span};
use std::collections::BTreeMap;

/// Money of the bound, in 1/64 of a cent: whole, so that nothing is claimed by rounding.
pub(super) type Fine = i64;
/// Fine units in a cent.
pub(super) const FINE: Fine = 64;

/// Someone who is there on the day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Worker {
    /// By kind of service.
    pub skills: Vec<bool>,
    /// Shifts of the day, by start.
    pub shifts: Vec<Span>,
    /// Minutes at services that are still allowed.
    pub allowed: i64,
    /// At held services.
    pub busy: Vec<Span>,
}

impl Worker {
    /// Whether this person may lead a kind of service.
    pub(super) fn can_lead(&self, kind: usize) -> bool {
        self.skills.get(kind).copied().unwrap_or(false)
    }
}

/// A service in one window of the day.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub service: usize,
    /// Which of the day's stops it would belong to.
    pub stop: usize,
    /// What it costs there by itself.
    pub own: Fine,
    pub minutes: i64,
    pub crew: usize,
    /// Minutes of all its people.
    pub crew_minutes: i64,
    /// Who could do it, one of [`Day::hires`].
    pub hire: usize,
    pub kind: usize,
    pub machine: usize,
    pub gauge: Option<usize>,
    pub window: Span,
}

/// A line in a window.
#[derive(Debug, Clone)]
pub(super) struct Stop {
    pub line: usize,
    /// Which of the day's halls.
    pub hall: usize,
    /// What the lockout costs; nothing where a held service pays it.
    pub lockout: Fine,
    /// Who could do the lockout, one of [`Day::hires`].
    pub hire: usize,
    /// A held service is there: it may do the lockout, so none is asked of the others.
    pub held: bool,
    /// Candidates: from, to.
    pub candidates: (usize, usize),
}

/// A day with everything that its problem needs.
#[derive(Debug, Clone)]
pub(super) struct Day {
    pub day: usize,
    pub lockout_min: i64,
    pub workers: Vec<Worker>,
    /// By line, then window, then service.
    pub candidates: Vec<Candidate>,
    pub stops: Vec<Stop>,
    /// What a visit costs to each hall of the day; nothing where a held service pays it.
    pub visits: Vec<Fine>,
    /// Services of each gauge group that can still be carried.
    pub gauges: Vec<i64>,
    /// Held services on machines.
    pub machines_busy: Vec<(usize, Span)>,
    /// Minutes of all people together, as far as windows go.
    pub capacity: i64,
    /// Minutes of each post: people with the same shifts and skills.
    pub posts: Vec<i64>,
    /// Who could do something: posts that could lead it, and those that could be second, a bit each.
    pub hires: Vec<(u32, u32)>,
}

/// What held services take, and what they cost whatever else is planned.
#[derive(Debug, Clone, Default)]
pub(super) struct Held {
    /// In cents.
    pub cost: i64,
    /// Line and window.
    stops: BTreeMap<(usize, usize), usize>,
    /// Hall and day.
    visits: BTreeMap<(usize, usize), usize>,
    /// Of each held service that stands in a window of its machine.
    placed: Vec<(usize, usize)>,
}

/// Whether a window is for a machine.
fn is_for(problem: &Problem, window: usize, machine: usize) -> bool {
    match problem.windows[window].scope {
        Scope::Hall(hall) => problem.lines[problem.machines[machine]].hall == hall,
        Scope::Machine(of) => of == machine,
    }
}

/// The held services of a problem. One in a window that is none of its machine takes and costs nothing.
pub(super) fn held(problem: &Problem, book: &CostBook<'_>) -> Held {
    let mut held = Held::default();
    for (service, job) in problem.services.iter().enumerate() {
        let Some(place) = &job.held else { continue };
        if place.window >= problem.windows.len() || !is_for(problem, place.window, job.machine) {
            continue;
        }
        let line = problem.machines[job.machine];
        held.cost += book.own(service, place.window).total();
        *held.stops.entry((line, place.window)).or_default() += 1;
        *held.visits.entry((problem.lines[line].hall, problem.windows[place.window].day)).or_default() += 1;
        held.placed.push((service, place.window));
    }
    held.cost += held.stops.keys().map(|(line, window)| book.lockout(*line, *window)).sum::<i64>();
    held.cost += problem.visit_cost * held.visits.len() as i64;
    held
}

/// The days on which anything could be done, each with its candidates.
pub(super) fn days(problem: &Problem, book: &CostBook<'_>, held: &Held) -> Vec<Day> {
    let mut by_line: Vec<Vec<usize>> = vec![Vec::new(); problem.lines.len()];
    for (service, job) in problem.services.iter().enumerate().filter(|(_, job)| job.held.is_none()) {
        by_line[problem.machines[job.machine]].push(service);
    }
    let last_window = problem.windows.iter().map(|window| window.day + 1).max().unwrap_or(0);
    let mut by_day: Vec<Vec<usize>> = vec![Vec::new(); problem.days.max(last_window)];
    for (window, place) in problem.windows.iter().enumerate() {
        if let Some(windows) = by_day.get_mut(place.day) {
            windows.push(window);
        }
    }
    let mut days = Vec::new();
    for (day, windows) in by_day.iter().enumerate() {
        let workers = workers(problem, held, day);
        if workers.is_empty() || windows.is_empty() {
            continue;
        }
        let mut model = Day {
            day,
            lockout_min: problem.lockout_min,
            capacity: 0,
            posts: Vec::new(),
            hires: Vec::new(),
            workers,
            candidates: Vec::new(),
            stops: Vec::new(),
            visits: Vec::new(),
            gauges: gauges(problem, held, day),
            machines_busy: machines_busy(problem, held, day),
        };
        let mut halls: BTreeMap<usize, usize> = BTreeMap::new();
        for (line, services) in by_line.iter().enumerate() {
            let hall = problem.lines[line].hall;
            for window in windows {
                let candidates = |service: &&usize| {
                    let job = &problem.services[**service];
                    day >= job.ready_day && is_for(problem, *window, job.machine)
                };
                let from = model.candidates.len();
                for service in services.iter().filter(candidates) {
                    let candidate = candidate(problem, book, &model, *service, *window);
                    if model.could_be_done(&candidate) {
                        model.candidates.push(candidate);
                    }
                }
                if model.candidates.len() == from {
                    continue;
                }
                let new_hall = model.visits.len();
                let hall_index = *halls.entry(hall).or_insert(new_hall);
                if hall_index == new_hall {
                    let paid = held.visits.contains_key(&(hall, day));
                    model.visits.push(if paid { 0 } else { problem.visit_cost * FINE });
                }
                let is_held = held.stops.contains_key(&(line, *window));
                model.stops.push(Stop {
                    line,
                    hall: hall_index,
                    lockout: if is_held { 0 } else { book.lockout(line, *window) * FINE },
                    hire: 0,
                    held: is_held,
                    candidates: (from, model.candidates.len()),
                });
            }
        }
        if !model.candidates.is_empty() {
            model.set_posts();
            days.push(model);
        }
    }
    days
}

fn candidate(problem: &Problem, book: &CostBook<'_>, day: &Day, service: usize, window: usize) -> Candidate {
    let job = &problem.services[service];
    Candidate {
        service,
        stop: day.stops.len(),
        own: book.own(service, window).total() * FINE,
        minutes: job.minutes,
        crew: job.crew,
        crew_minutes: job.minutes * job.crew as i64,
        hire: 0,
        kind: job.kind,
        machine: job.machine,
        gauge: job.gauge,
        window: problem.windows[window].span,
    }
}

impl Day {
    /// Gathers people of the same shifts and skills, and who could do what.
    fn set_posts(&mut self) {
        let mut kinds: Vec<Worker> = Vec::new();
        let mut post_of: Vec<usize> = Vec::new();
        for worker in &self.workers {
            let known = kinds.iter().position(|kind| kind == worker);
            // people beyond the last bit share it: together they can do what each can
            let post = known.unwrap_or(kinds.len()).min(31);
            if known.is_none() {
                kinds.push(worker.clone());
            }
            post_of.push(post);
        }
        let could = |worker: &Worker, candidate: &Candidate| {
            worker.shifts.iter().any(|shift| {
                shift.to.min(candidate.window.to) - shift.from.max(candidate.window.from) >= candidate.minutes
            })
        };
        let mut windows: Vec<Vec<Span>> = vec![Vec::new(); self.workers.len()];
        let mut hires: Vec<(u32, u32)> = Vec::new();
        let mut hire = |who: (u32, u32)| match hires.iter().position(|known| *known == who) {
            Some(known) => known,
            None => {
                hires.push(who);
                hires.len() - 1
            }
        };
        let mut anybody = vec![0; self.stops.len()];
        for candidate in &mut self.candidates {
            let (mut lead, mut second) = (0, 0);
            for (who, worker) in self.workers.iter().enumerate().filter(|(_, worker)| could(worker, candidate)) {
                let can_lead = worker.can_lead(candidate.kind);
                lead |= u32::from(can_lead) << post_of[who];
                second |= u32::from(candidate.crew > 1) << post_of[who];
                if can_lead || candidate.crew > 1 {
                    windows[who].push(candidate.window);
                }
            }
            anybody[candidate.stop] |= lead | second;
            candidate.hire = hire((lead, second));
        }
        for (stop, who) in self.stops.iter_mut().zip(anybody) {
            stop.hire = hire((who, 0));
        }
        self.hires = hires;
        self.posts = vec![0; kinds.len().min(32)];
        for ((worker, windows), post) in self.workers.iter().zip(&mut windows).zip(post_of) {
            self.posts[post] += open_minutes(worker, windows);
        }
        self.capacity = self.posts.iter().sum();
    }
}

/// Minutes a worker can still give within some windows.
fn open_minutes(worker: &Worker, windows: &mut [Span]) -> i64 {
    windows.sort_unstable();
    // where held services overlap each other, which is their own clash, nothing is claimed of them
    let clash =
        worker.busy.iter().enumerate().any(|(index, one)| {
            worker.busy.iter().skip(index + 1).any(|other| one.from < other.to && other.from < one.to)
        });
    let held = |from: i64, to: i64| -> i64 {
        let within = worker.busy.iter().map(|busy| (busy.to.min(to) - busy.from.max(from)).max(0));
        if clash { 0 } else { within.sum() }
    };
    let mut open = 0;
    for shift in &worker.shifts {
        let mut until = shift.from;
        for window in windows.iter() {
            let (from, to) = (window.from.max(until), window.to.min(shift.to));
            if to > from {
                open += to - from - held(from, to);
            }
            until = until.max(to);
        }
    }
    open.min(worker.allowed)
}

/// Who is there on a day. A held service counts with its minutes but without lockout: another
/// service of its stop may come first and do it.
fn workers(problem: &Problem, held: &Held, day: usize) -> Vec<Worker> {
    let mut workers = Vec::new();
    for (who, person) in problem.technicians.iter().enumerate() {
        let mut shifts: Vec<Span> =
            person.shifts.iter().filter(|shift| shift.day == day).map(|shift| shift.span).collect();
        if shifts.is_empty() {
            continue;
        }
        shifts.sort_unstable();
        let busy: Vec<Span> = held_spans(problem, held, day)
            .filter(|(service, _)| {
                problem.services[*service].held.as_ref().is_some_and(|place| place.technicians.contains(&who))
            })
            .map(|(_, span)| span)
            .collect();
        let taken: i64 = busy.iter().map(|span| span.to - span.from).sum();
        // held work alone over the limit is its own clash; nothing more fits, and nothing is claimed of it
        let allowed = person.minutes_per_day.map_or(i64::MAX, |allowed| (allowed - taken).max(0));
        workers.push(Worker { skills: person.skills.clone(), shifts, allowed, busy });
    }
    workers
}

/// Held services of a day with the minutes that they take in any case.
fn held_spans<'a>(problem: &'a Problem, held: &'a Held, day: usize) -> impl Iterator<Item = (usize, Span)> + 'a {
    held.placed.iter().filter(move |(_, window)| problem.windows[*window].day == day).filter_map(|(service, window)| {
        let job = &problem.services[*service];
        let start = job.held.as_ref()?.start;
        // alone on its line in that window, it does its lockout itself
        let line = problem.machines[job.machine];
        let shared = problem.services.iter().enumerate().any(|(other, of)| {
            other != *service && problem.machines[of.machine] == line && is_for(problem, *window, of.machine)
        });
        let lockout = if shared { 0 } else { problem.lockout_min };
        Some((*service, Span { from: start, to: start + lockout + job.minutes }))
    })
}

fn machines_busy(problem: &Problem, held: &Held, day: usize) -> Vec<(usize, Span)> {
    held_spans(problem, held, day).map(|(service, span)| (problem.services[service].machine, span)).collect()
}

fn gauges(problem: &Problem, held: &Held, day: usize) -> Vec<i64> {
    let mut room: Vec<i64> = problem.gauges.iter().map(|days| days.get(day).copied().unwrap_or(0)).collect();
    for (service, _) in held_spans(problem, held, day) {
        if let Some(room) = problem.services[service].gauge.and_then(|group| room.get_mut(group)) {
            *room -= 1;
        }
    }
    room
}
