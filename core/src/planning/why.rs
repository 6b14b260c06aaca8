//! Why a service stands where it does: what decides, and what the next-best place would cost.

use super::basis::{PlanBasis, money};
use super::candidates::Candidates;
use super::describe::chance;
use super::fit::{Wanted, free_place};
use super::problem::{CostParts, Place};
use super::standing::Standing;
use crate::words;
use chrono::NaiveDate;

/// A sentence names at most so many others.
const NAMED: usize = 3;

/// What sentences about a plan look at.
pub(super) struct Reasons<'a> {
    basis: &'a PlanBasis,
    candidates: &'a Candidates,
    standing: &'a Standing<'a>,
}

/// Another place of a service beside all others.
#[derive(Debug, Clone, Copy)]
struct NextBest {
    window: usize,
    parts: CostParts,
}

impl<'a> Reasons<'a> {
    pub(super) const fn new(basis: &'a PlanBasis, candidates: &'a Candidates, standing: &'a Standing<'a>) -> Self {
        Self { basis, candidates, standing }
    }

    /// Why a service stands there, in one or two sentences.
    pub(super) fn why(&self, service: usize, place: &Place) -> String {
        let of = &self.basis.services[service];
        if of.held {
            return match of.state {
                Some(state) if state != crate::order::OrderState::Planned => {
                    format!("Its order is {}: it stays where it is.", state.key())
                }
                _ if self.is_further(service) => {
                    "Its spindle waits for another order first: it stays where it is.".to_owned()
                }
                _ => "Held: it stays where it is.".to_owned(),
            };
        }
        let here = self.standing.marginal(service, place.window);
        let next = self.next_best(service, place.window);
        let mut sentences = Vec::new();
        sentences.extend(self.late(service, place));
        sentences.extend(self.shares(service, place));
        match next {
            None => sentences.push("It has no other free window in the plan.".to_owned()),
            Some(next) => sentences.push(self.next_words(&here, &next)),
        }
        sentences.truncate(2);
        sentences.join(" ")
    }

    fn ready_day(&self, service: usize) -> usize {
        self.basis.problem.services[service].ready_day
    }

    /// Whether its order stays though the planner did not fix it.
    fn is_further(&self, service: usize) -> bool {
        let order = self.basis.services[service].order;
        self.basis.shop.orders.iter().any(|row| Some(row.id) == order && !row.held)
    }

    /// What the next-best place would cost.
    fn next_words(&self, here: &CostParts, next: &NextBest) -> String {
        let more = next.parts.total() - here.total();
        let day = self.day_words(next.window);
        let amount = words::money_in(money(more.abs()), &self.basis.shop.settings.currency);
        match more {
            -49..50 => format!("{day} would cost the same."),
            more if more < 0 => format!("{day} would cost {amount} less."),
            _ => {
                let part = widest(here, &next.parts);
                let because = part.map_or_else(String::new, |part| format!(", for {part}"));
                format!("Next best {day}, {amount} more{because}.")
            }
        }
    }

    /// The cheapest other window with a free place.
    fn next_best(&self, service: usize, without: usize) -> Option<NextBest> {
        let mut best: Option<NextBest> = None;
        for candidate in self.candidates.of.get(service).map(Vec::as_slice).unwrap_or_default() {
            if candidate.window == without {
                continue;
            }
            if best.is_some_and(|best| best.parts.total() <= candidate.own) {
                break;
            }
            let parts = self.standing.marginal(service, candidate.window);
            if best.is_some_and(|best| best.parts.total() <= parts.total()) {
                continue;
            }
            if free_place(self.standing, service, candidate.window, &Wanted::default()).is_some() {
                best = Some(NextBest { window: candidate.window, parts });
            }
        }
        best
    }

    /// It comes after its service-by date: what stood in the way before.
    fn late(&self, service: usize, place: &Place) -> Option<String> {
        let late = self.days_late(service, place)?;
        let by = self.basis.services[service].service_by?;
        let until = self.basis.grid.day_of(by).unwrap_or(0);
        let because = self.in_the_way(service, until, place.window);
        Some(format!("{}{because}.", words::capital(&late)))
    }

    /// `9 days after service-by (14 % crossed by then)`.
    fn days_late(&self, service: usize, place: &Place) -> Option<String> {
        let by = self.basis.services[service].service_by?;
        let day = self.standing.day(place.window);
        let late = (self.basis.grid.date(day) - by).num_days();
        let crossed = words::percent_short(chance(self.basis, service, day));
        (0 < late).then(|| format!("{} after service-by ({crossed} % crossed by then)", words::days(late)))
    }

    /// What keeps a service out of the windows up to a day: none, its kit, or those who are there.
    fn in_the_way(&self, service: usize, until: usize, at: usize) -> String {
        let stands = self.standing.day(at);
        if let Some(day) = self.basis.services[service].not_before.filter(|_| until < self.ready_day(service)) {
            return format!(": not before {}", words::date_long(day, self.basis.as_of));
        }
        let own = ready_windows_of(self.basis, service);
        let early: Vec<usize> = own.into_iter().filter(|window| self.standing.day(*window) <= until).collect();
        let Some(last) = early.last() else {
            return ": its machine has no window before".to_owned();
        };
        let arrives = (0..=stands).find(|day| self.standing.parts_suffice(service, *day));
        if let Some(arrives) = arrives.filter(|arrives| until < *arrives) {
            return format!(": {}", self.kit_words(service, arrives, *last));
        }
        if early.iter().all(|window| self.candidates.of[service].iter().all(|c| c.window != *window)) {
            return ": nobody can do it in the windows before".to_owned();
        }
        let here = self.standing.marginal(service, at);
        let free =
            early.iter().filter(|window| free_place(self.standing, service, **window, &Wanted::default()).is_some());
        let cheapest = free.map(|window| (self.standing.marginal(service, *window).total(), *window)).min();
        match cheapest {
            None => {
                let wanted = Wanted { without_gauge: true, ..Wanted::default() };
                let gauge =
                    early.iter().rev().find(|window| free_place(self.standing, service, **window, &wanted).is_some());
                match gauge {
                    Some(window) => format!(": on {} no gauge is free", self.day_words(*window)),
                    None => ": the windows before are taken by others".to_owned(),
                }
            }
            Some((cost, window)) => {
                let more = words::money_in(money((cost - here.total()).max(0)), &self.basis.shop.settings.currency);
                let part = widest(&here, &self.standing.marginal(service, window));
                let because = part.map_or_else(String::new, |part| format!(", for {part}"));
                format!(": {}, before it, would cost {more} more{because}", self.day_words(window))
            }
        }
    }

    fn kit_words(&self, service: usize, arrives: usize, last: usize) -> String {
        let day = self.basis.grid.date(arrives);
        let kit = kit_arrives(self.basis, service, day);
        let last = words::date_mid(self.basis.grid.date(self.standing.day(last)), self.basis.as_of);
        format!("{kit}, after the last window, {last}")
    }

    /// With whom it shares stop and visit.
    fn shares(&self, service: usize, place: &Place) -> Option<String> {
        let hall = self.standing.hall(service);
        let others: Vec<usize> =
            self.standing.visit(hall, self.standing.day(place.window)).filter(|other| *other != service).collect();
        let line = self.standing.line(service);
        let stop = self.standing.stop(line, place.window);
        let in_stop: Vec<usize> = stop.iter().map(|(_, other)| *other).filter(|other| *other != service).collect();
        if !in_stop.is_empty() {
            return Some(format!("One stop with {}.", self.names(&in_stop)));
        }
        (!others.is_empty()).then(|| format!("Shares the visit with {}.", self.names(&others)))
    }

    /// `R-01, R-09 and two more`.
    pub(super) fn names(&self, services: &[usize]) -> String {
        let named: Vec<&str> = services.iter().take(NAMED).map(|service| self.basis.label(*service)).collect();
        let more = services.len().saturating_sub(NAMED);
        match (named.split_last(), more) {
            (None, _) => String::new(),
            (Some(_), more) if 0 < more => format!("{} and {} more", named.join(", "), words::count_words(more)),
            (Some((last, [])), _) => (*last).to_owned(),
            (Some((last, first)), _) => format!("{} and {last}", first.join(", ")),
        }
    }

    fn day_words(&self, window: usize) -> String {
        words::date_short(self.basis.grid.date(self.standing.day(window)), self.basis.as_of)
    }

    /// Why another window than the booked one, or why a place at all; for the list of changes.
    pub(super) fn change(&self, service: usize, place: &Place, booked: Option<&Place>) -> String {
        let currency = &self.basis.shop.settings.currency;
        let here = self.standing.marginal(service, place.window);
        let shares = self.shares(service, place).map(|words| lower(&words));
        let Some(booked) = booked else {
            let alone = shares.is_none();
            let lead = shares.or_else(|| self.late(service, place).map(|words| lower(&words)));
            let margin = self.margin(service, place).or_else(|| self.days_late(service, place).filter(|_| !alone));
            return [lead, margin].into_iter().flatten().collect::<Vec<_>>().join(", ");
        };
        let there = self.standing.marginal(service, booked.window);
        let wanted = Wanted { start: None, ..Wanted::default() };
        if free_place(self.standing, service, booked.window, &wanted).is_none() {
            let because = if self.standing.day(booked.window) < self.ready_day(service) {
                "its booked window lies before the day from which on it may be done"
            } else if self.candidates.of[service].iter().any(|c| c.window == booked.window) {
                "its booked window is taken by others now"
            } else {
                "its booked window can no longer take it"
            };
            return [Some(because.to_owned()), shares].into_iter().flatten().collect::<Vec<_>>().join(", ");
        }
        let saved = there.total() - here.total();
        let saves = (0 < saved).then(|| format!("saves {}", words::money_in(money(saved), currency)));
        let part = widest(&here, &there).filter(|_| shares.is_none()).map(|part| format!("less {part}"));
        let all: Vec<String> = [shares, part, saves].into_iter().flatten().collect();
        if all.is_empty() { "makes room for others".to_owned() } else { all.join(", ") }
    }

    /// How far before or after service-by.
    fn margin(&self, service: usize, place: &Place) -> Option<String> {
        let by = self.basis.services[service].service_by?;
        let date = self.basis.grid.date(self.standing.day(place.window));
        let days = (by - date).num_days();
        match days {
            days if days < 0 => None,
            0 => Some("on its service-by day".to_owned()),
            days => Some(format!("{} before service-by", words::days(days))),
        }
    }
}

/// The kit of a service with its interface, and when it is there.
pub(super) fn kit_arrives(basis: &PlanBasis, service: usize, day: NaiveDate) -> String {
    let of = &basis.services[service];
    let interface = basis.shop.spindles.get(&of.spindle).map(|spindle| spindle.interface.to_string());
    let interface = interface.unwrap_or_default();
    // what is not on order by then must still be ordered
    let must_order = basis.problem.services[service].parts.iter().any(|(part, quantity)| {
        let Some(known) = basis.parts.get(*part) else { return false };
        let on_hand = basis.problem.parts[*part].on_hand;
        let coming: f64 = known.deliveries.iter().filter(|(on, _)| *on <= day).map(|(_, quantity)| quantity).sum();
        known.orderable_from.is_some_and(|from| from <= day) && (on_hand as f64 + coming * 1000.0) < *quantity as f64
    });
    let day = words::date_mid(day, basis.as_of);
    if must_order {
        format!("the {interface} kit, if ordered today, arrives {day}")
    } else {
        format!("the {interface} kit arrives {day}")
    }
}

/// The windows of a service's machine, by day.
pub(super) fn windows_of(basis: &PlanBasis, service: usize) -> Vec<usize> {
    let job = &basis.problem.services[service];
    let hall = basis.problem.lines[basis.problem.machines[job.machine]].hall;
    let windows = basis.problem.windows.iter().take(basis.trays.len()).enumerate();
    windows
        .filter(|(_, window)| match window.scope {
            super::problem::Scope::Hall(of) => of == hall,
            super::problem::Scope::Machine(of) => of == job.machine,
        })
        .map(|(index, _)| index)
        .collect()
}

/// Those from the day on on which it may be done.
pub(super) fn ready_windows_of(basis: &PlanBasis, service: usize) -> Vec<usize> {
    let ready = basis.problem.services[service].ready_day;
    let mut windows = windows_of(basis, service);
    windows.retain(|window| ready <= basis.problem.windows[*window].day);
    windows
}

/// The part that makes the other place dearer the most.
fn widest(here: &CostParts, there: &CostParts) -> Option<&'static str> {
    let parts = [
        ("the stop", here.stop + here.lockout, there.stop + there.lockout),
        ("extra pay", here.premium, there.premium),
        ("risk", here.risk, there.risk),
        ("service life given away", here.early, there.early),
        ("the move", here.moved, there.moved),
        ("a visit of its own", here.visit, there.visit),
    ];
    let (name, more) =
        parts.into_iter().map(|(name, here, there)| (name, there - here)).max_by_key(|(_, more)| *more)?;
    (0 < more).then_some(name)
}

/// A sentence as a clause.
fn lower(sentence: &str) -> String {
    let mut letters = sentence.trim_end_matches('.').chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
