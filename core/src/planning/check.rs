//! Every rule and every cost of a finished plan, gone through one by one.
//!
//! Written from the rules alone and independently of the search: nothing here is shared with what
//! places services, so that a slip there is seen here.

use super::broken::Broken;
use super::problem::{CostParts, Job, Place, Plan, PlanWindow, Problem, Scope, Span};
use std::collections::{BTreeMap, BTreeSet};

/// What a plan costs and which rules it breaks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Checked {
    /// Its cost, part by part. A service in a window that is not one of its machine costs nothing
    /// here: it is named among the rules broken.
    pub parts: CostParts,
    /// Rules broken, by service, then by person, machine, gauge and part; empty where every rule is kept.
    pub broken: Vec<Broken>,
}

/// Goes through a plan. A service beyond the end of [`Plan::places`] has no place.
#[must_use]
pub fn check(problem: &Problem, plan: &Plan) -> Checked {
    let mut round = Round::new(problem);
    for (service, job) in problem.services.iter().enumerate() {
        round.take(service, job, plan.places.get(service).and_then(Option::as_ref));
    }
    round.stops();
    round.people();
    round.machines();
    round.gauges();
    round.parts();
    round.costs.visit = problem.visit_cost * i64::try_from(round.visits.len()).unwrap_or(i64::MAX);
    Checked { parts: round.costs, broken: round.broken }
}

/// One service at work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Work {
    span: Span,
    service: usize,
}

/// What is done in a stop: start, service, place.
type Stop<'a> = Vec<(i64, usize, &'a Place)>;

/// A plan on its way through the rules.
struct Round<'a> {
    problem: &'a Problem,
    costs: CostParts,
    broken: Vec<Broken>,
    /// Line and window: what is done there, with its place.
    stops: BTreeMap<(usize, usize), Stop<'a>>,
    /// Hall and day.
    visits: BTreeSet<(usize, usize)>,
    /// Technician and day.
    at_work: BTreeMap<(usize, usize), Vec<Work>>,
    /// Machine and day.
    on_machine: BTreeMap<(usize, usize), Vec<Work>>,
    /// Gauge group and day.
    gauges: BTreeMap<(usize, usize), Vec<usize>>,
    /// Part: day and how many.
    parts: BTreeMap<usize, Vec<(usize, i64)>>,
}

impl<'a> Round<'a> {
    fn new(problem: &'a Problem) -> Self {
        Self {
            problem,
            costs: CostParts::default(),
            broken: Vec::new(),
            stops: BTreeMap::new(),
            visits: BTreeSet::new(),
            at_work: BTreeMap::new(),
            on_machine: BTreeMap::new(),
            gauges: BTreeMap::new(),
            parts: BTreeMap::new(),
        }
    }

    fn line_of(&self, job: &Job) -> usize {
        self.problem.machines[job.machine]
    }

    /// What one service costs by itself, and what it takes from the others.
    fn take(&mut self, service: usize, job: &'a Job, place: Option<&'a Place>) {
        let Some(place) = place else {
            add(&mut self.costs.left, job.leave_cost);
            if job.held.is_some() {
                self.broken.push(Broken::HeldLeft { service });
            }
            return;
        };
        let (line, problem) = (self.line_of(job), self.problem);
        let hall = problem.lines[line].hall;
        let is_its_own = |window: &&PlanWindow| match window.scope {
            Scope::Hall(of) => of == hall,
            Scope::Machine(of) => of == job.machine,
        };
        let Some(window) = problem.windows.get(place.window).filter(is_its_own) else {
            self.broken.push(Broken::WrongWindow { service, window: place.window });
            return;
        };
        if window.day < job.ready_day {
            self.broken.push(Broken::NotReady { service, day: window.day });
        }
        if job.held.as_ref().is_some_and(|held| !is_same(held, place)) {
            self.broken.push(Broken::HeldChanged { service });
        }
        self.add_own(job, line, place.window);
        self.stops.entry((line, place.window)).or_default().push((place.start, service, place));
        self.visits.insert((hall, window.day));
        if let Some(group) = job.gauge {
            self.gauges.entry((group, window.day)).or_default().push(service);
        }
        for (part, quantity) in &job.parts {
            self.parts.entry(*part).or_default().push((window.day, *quantity));
        }
    }

    fn add_own(&mut self, job: &Job, line: usize, at: usize) {
        let window = &self.problem.windows[at];
        let rate = self.problem.lines[line].stop_cost_per_hour;
        add(&mut self.costs.stop, half_up(product([rate, window.stop_factor, job.minutes]), 6000));
        add(&mut self.costs.premium, half_up(product([window.premium_per_hour, job.crew as i64, job.minutes]), 60));
        let mut risk = 0;
        for day in 0..window.day {
            risk += product([job.day_below_cost, crossed(job, day)]);
            if let Some((curve, cost)) = &job.standing {
                risk += product([*cost, in_70000(&curve.0, day)]);
            }
        }
        let mut unused = product([70_000, job.tail_days]);
        for day in window.day..self.problem.days {
            unused += i128::from(70_000 - crossed(job, day));
        }
        add(&mut self.costs.risk, half_up(risk, 70_000));
        add(&mut self.costs.early, half_up(i128::from(job.unused_day_value).saturating_mul(unused), 70_000));
        if job.booked.is_some_and(|booked| booked.window != Some(at)) {
            add(&mut self.costs.moved, job.booked.map_or(0, |booked| booked.move_cost));
        }
    }

    /// Lockouts, and who is where from when to when: the first of a stop locks out, the others wait for its end.
    fn stops(&mut self) {
        let problem = self.problem;
        for ((line, at), mut works) in std::mem::take(&mut self.stops) {
            works.sort_by_key(|(start, service, _)| (*start, *service));
            let window = &problem.windows[at];
            let rate = problem.lines[line].stop_cost_per_hour;
            let lockout = half_up(product([rate, window.stop_factor, problem.lockout_min]), 6000)
                .saturating_add(half_up(product([window.premium_per_hour, problem.lockout_min]), 60));
            add(&mut self.costs.lockout, lockout);
            let (first_start, first) = works.first().map_or((0, 0), |(start, service, _)| (*start, *service));
            for (nth, (start, service, place)) in works.into_iter().enumerate() {
                let lockout = if nth == 0 { problem.lockout_min } else { 0 };
                let span = Span { from: start, to: start + problem.services[service].minutes + lockout };
                if span.from < window.span.from || span.to > window.span.to {
                    self.broken.push(Broken::OutsideWindow { service, span });
                }
                if nth > 0 && start < first_start + problem.lockout_min {
                    self.broken.push(Broken::BeforeLockout { service, first });
                }
                self.crew(Work { span, service }, window.day, &place.technicians);
                let machine = problem.services[service].machine;
                self.on_machine.entry((machine, window.day)).or_default().push(Work { span, service });
            }
        }
    }

    fn crew(&mut self, work: Work, day: usize, technicians: &[usize]) {
        let (service, job) = (work.service, &self.problem.services[work.service]);
        let different: BTreeSet<usize> = technicians.iter().copied().collect();
        let known = different.iter().all(|who| *who < self.problem.technicians.len());
        if technicians.len() != job.crew || different.len() != technicians.len() || !known {
            self.broken.push(Broken::Crew { service, wanted: job.crew });
            return;
        }
        for (nth, who) in technicians.iter().enumerate() {
            let person = &self.problem.technicians[*who];
            if nth == 0 && !person.skills.get(job.kind).copied().unwrap_or(false) {
                self.broken.push(Broken::NoSkill { service, technician: *who });
            }
            let covers = |from: i64, to: i64| from <= work.span.from && work.span.to <= to;
            if !person.shifts.iter().any(|shift| shift.day == day && covers(shift.span.from, shift.span.to)) {
                self.broken.push(Broken::NotThere { service, technician: *who });
            }
            self.at_work.entry((*who, day)).or_default().push(work);
        }
    }

    fn people(&mut self) {
        for ((technician, day), mut works) in std::mem::take(&mut self.at_work) {
            for (one, other) in overlaps(&mut works) {
                self.broken.push(Broken::PersonTwice { technician, day, one, other });
            }
            let minutes: i64 = works.iter().map(|work| work.span.to - work.span.from).sum();
            let allowed = self.problem.technicians[technician].minutes_per_day;
            if let Some(allowed) = allowed.filter(|allowed| minutes > *allowed) {
                self.broken.push(Broken::TooLong { technician, day, minutes, allowed });
            }
        }
    }

    fn machines(&mut self) {
        for ((machine, day), mut works) in std::mem::take(&mut self.on_machine) {
            for (one, other) in overlaps(&mut works) {
                self.broken.push(Broken::MachineTwice { machine, day, one, other });
            }
        }
    }

    fn gauges(&mut self) {
        for ((group, day), services) in std::mem::take(&mut self.gauges) {
            let room = self.problem.gauges.get(group).and_then(|days| days.get(day)).copied().unwrap_or(0);
            if services.len() as i64 > room {
                self.broken.push(Broken::GaugesTaken { group, day, services, room });
            }
        }
    }

    fn parts(&mut self) {
        for (part, takes) in std::mem::take(&mut self.parts) {
            let days: BTreeSet<usize> = takes.iter().map(|(day, _)| *day).collect();
            for day in days {
                let taken: i64 = takes.iter().filter(|(on, _)| *on <= day).map(|(_, quantity)| quantity).sum();
                let there = self.problem.parts.get(part).map_or(0, |stock| {
                    let came = stock.arrivals.iter().filter(|(on, _)| *on <= day);
                    stock.on_hand + came.map(|(_, quantity)| quantity).sum::<i64>()
                });
                if taken > there {
                    self.broken.push(Broken::PartShort { part, day, taken, there });
                }
            }
        }
    }
}

/// Whether a held service stands where it is held; who leads is not part of it.
fn is_same(held: &Place, place: &Place) -> bool {
    let sorted = |place: &Place| {
        let mut people = place.technicians.clone();
        people.sort_unstable();
        people
    };
    held.window == place.window && held.start == place.start && sorted(held) == sorted(place)
}

/// Pairs that are at work at the same time: each with the one before it that ends last.
fn overlaps(works: &mut [Work]) -> Vec<(usize, usize)> {
    works.sort_unstable();
    let mut found = Vec::new();
    let mut last: Option<Work> = None;
    for work in works {
        if let Some(before) = last.filter(|before| work.span.from < before.span.to) {
            found.push((before.service, work.service));
        }
        if last.is_none_or(|before| before.span.to < work.span.to) {
            last = Some(*work);
        }
    }
    found
}

/// Whole cents, half up.
/// Money of absurd prices stays at the end of its range.
fn half_up(amount: i128, unit: i128) -> i64 {
    let whole = amount.saturating_add(unit / 2).div_euclid(unit);
    i64::try_from(whole).unwrap_or(if whole < 0 { i64::MIN } else { i64::MAX })
}

/// A product that cannot wrap round.
fn product<const N: usize>(factors: [i64; N]) -> i128 {
    factors.iter().fold(1, |all: i128, factor| all.saturating_mul(i128::from(*factor)))
}

fn add(sum: &mut i64, amount: i64) {
    *sum = sum.saturating_add(amount);
}

/// The chance of having crossed a limit on a day, in 1/70000: 1 once a fixed interval is over.
fn crossed(job: &Job, day: usize) -> i64 {
    match job.hard_day {
        Some(hard) if day >= hard => 70_000,
        _ => in_70000(&job.crossed.0, day),
    }
}

/// A chance on a day, in 1/70000: straight between the weekly points.
fn in_70000(points: &[i64], day: usize) -> i64 {
    let at = |week: usize| points.get(week).or_else(|| points.last()).copied().unwrap_or(0);
    let past = (day % 7) as i64;
    if past == 0 { at(day / 7) * 7 } else { at(day / 7) * (7 - past) + at(day / 7 + 1) * past }
}
