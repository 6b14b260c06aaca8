//! A plan gone through once: stops, visits, who is where on which day, and what of each part is left.

use super::costs::CostBook;
use super::problem::{CostParts, Place, Plan, Problem, Span};
use std::collections::{BTreeMap, BTreeSet};

/// A service at work on a day.
#[derive(Debug, Clone)]
pub(super) struct Work {
    pub(super) service: usize,
    pub(super) span: Span,
    pub(super) technicians: Vec<usize>,
}

/// A plan with what follows from it.
#[derive(Debug)]
pub(super) struct Standing<'a> {
    pub(super) problem: &'a Problem,
    pub(super) plan: &'a Plan,
    pub(super) costs: CostBook<'a>,
    /// Services of each stop (line, window), by start.
    stops: BTreeMap<(usize, usize), Vec<(i64, usize)>>,
    /// Services of each visit (hall, day).
    visits: BTreeMap<(usize, usize), BTreeSet<usize>>,
    /// Services of each day.
    days: Vec<Vec<usize>>,
    /// What is taken of each part up to each day.
    taken: Vec<Vec<i64>>,
    /// What is there of each part up to each day.
    there: Vec<Vec<i64>>,
}

impl<'a> Standing<'a> {
    pub(super) fn of(problem: &'a Problem, plan: &'a Plan) -> Self {
        let mut standing = Self {
            problem,
            plan,
            costs: CostBook::new(problem),
            stops: BTreeMap::new(),
            visits: BTreeMap::new(),
            days: vec![Vec::new(); problem.days],
            taken: vec![vec![0; problem.days]; problem.parts.len()],
            there: problem
                .parts
                .iter()
                .map(|part| {
                    let mut by_day = vec![0; problem.days];
                    for (day, quantity) in &part.arrivals {
                        if let Some(arrived) = by_day.get_mut(*day) {
                            *arrived += quantity;
                        }
                    }
                    running(by_day, part.on_hand)
                })
                .collect(),
        };
        for (service, place) in plan.places.iter().enumerate() {
            let Some(place) = place else { continue };
            let day = standing.day(place.window);
            standing.stops.entry((standing.line(service), place.window)).or_default().push((place.start, service));
            standing.visits.entry((standing.hall(service), day)).or_default().insert(service);
            standing.days[day].push(service);
            for (part, quantity) in &problem.services[service].parts {
                standing.taken[*part][day] += quantity;
            }
        }
        for taken in &mut standing.taken {
            *taken = running(std::mem::take(taken), 0);
        }
        for stop in standing.stops.values_mut() {
            stop.sort_unstable();
        }
        standing
    }

    pub(super) fn place(&self, service: usize) -> Option<&'a Place> {
        self.plan.places.get(service).and_then(Option::as_ref)
    }

    pub(super) fn day(&self, window: usize) -> usize {
        self.problem.windows[window].day
    }

    pub(super) fn line(&self, service: usize) -> usize {
        self.problem.machines[self.problem.services[service].machine]
    }

    pub(super) fn hall(&self, service: usize) -> usize {
        self.problem.lines[self.line(service)].hall
    }

    /// The services of a stop, by start; the first one locks out.
    pub(super) fn stop(&self, line: usize, window: usize) -> &[(i64, usize)] {
        self.stops.get(&(line, window)).map(Vec::as_slice).unwrap_or_default()
    }

    /// The services of a visit.
    pub(super) fn visit(&self, hall: usize, day: usize) -> impl Iterator<Item = usize> + '_ {
        self.visits.get(&(hall, day)).into_iter().flatten().copied()
    }

    /// From when to when a placed service lasts, its lockout included where it does it.
    pub(super) fn span(&self, service: usize, place: &Place) -> Span {
        let first = self.stop(self.line(service), place.window).first().map(|(_, first)| *first);
        let lockout = if first == Some(service) { self.problem.lockout_min } else { 0 };
        Span { from: place.start, to: place.start + lockout + self.problem.services[service].minutes }
    }

    /// What is at work on a day, without one service.
    pub(super) fn works(&self, day: usize, without: usize) -> Vec<Work> {
        let others =
            self.days.get(day).map(Vec::as_slice).unwrap_or_default().iter().filter(|other| **other != without);
        others
            .filter_map(|other| {
                let place = self.place(*other)?;
                Some(Work { service: *other, span: self.span(*other, place), technicians: place.technicians.clone() })
            })
            .collect()
    }

    /// Whether the parts of a service are there for a place on a day, beside all others.
    pub(super) fn parts_suffice(&self, service: usize, day: usize) -> bool {
        let own = self.place(service).map(|place| self.day(place.window));
        self.problem.services[service].parts.iter().all(|(part, quantity)| {
            (day..self.problem.days).all(|later| {
                let own = if own.is_some_and(|own| own <= later) { *quantity } else { 0 };
                self.taken[*part][later] - own + quantity <= self.there[*part][later]
            })
        })
    }

    /// Whether a gauge of its group is free on a day.
    pub(super) fn gauge_is_free(&self, service: usize, day: usize) -> bool {
        let Some(group) = self.problem.services[service].gauge else { return true };
        let taken = self.days[day]
            .iter()
            .filter(|other| **other != service && self.problem.services[**other].gauge == Some(group))
            .count();
        self.problem.gauges[group].get(day).is_some_and(|room| (taken as i64) < *room)
    }

    /// What the plan costs because of a service in a window: its own parts, a lockout where no other
    /// stops its line there, a visit where no other is in its hall that day.
    pub(super) fn marginal(&self, service: usize, window: usize) -> CostParts {
        let mut parts = self.costs.own(service, window);
        let line = self.line(service);
        if self.stop(line, window).iter().all(|(_, other)| *other == service) {
            parts.lockout = self.costs.lockout(line, window);
        }
        if self.visit(self.hall(service), self.day(window)).all(|other| other == service) {
            parts.visit = self.problem.visit_cost;
        }
        parts
    }

    /// What a placed service costs with its even share of lockout and visit; odd cents go to the
    /// first of those who share.
    pub(super) fn shared(&self, service: usize, place: &Place) -> CostParts {
        let mut parts = self.costs.own(service, place.window);
        let line = self.line(service);
        let stop: BTreeSet<usize> = self.stop(line, place.window).iter().map(|(_, other)| *other).collect();
        parts.lockout = share(self.costs.lockout(line, place.window), &stop, service);
        let visit: BTreeSet<usize> = self.visit(self.hall(service), self.day(place.window)).collect();
        parts.visit = share(self.problem.visit_cost, &visit, service);
        parts
    }

    /// What leaving a service costs.
    pub(super) fn left(&self, service: usize) -> CostParts {
        CostParts { left: self.problem.services[service].leave_cost, ..CostParts::default() }
    }

    /// The whole plan's cost.
    pub(super) fn total(&self) -> CostParts {
        let mut sum = CostParts::default();
        for service in 0..self.problem.services.len() {
            let parts = match self.place(service) {
                Some(place) => self.shared(service, place),
                None => self.left(service),
            };
            sum = add(&sum, &parts);
        }
        sum
    }
}

fn running(mut by_day: Vec<i64>, start: i64) -> Vec<i64> {
    let mut sum = start;
    for amount in &mut by_day {
        sum += *amount;
        *amount = sum;
    }
    by_day
}

fn share(cost: i64, among: &BTreeSet<usize>, service: usize) -> i64 {
    let count = i64::try_from(among.len().max(1)).unwrap_or(1);
    let odd = cost.rem_euclid(count);
    let nth = among.iter().position(|other| *other == service).and_then(|nth| i64::try_from(nth).ok()).unwrap_or(0);
    cost.div_euclid(count) + i64::from(nth < odd)
}

fn add(a: &CostParts, b: &CostParts) -> CostParts {
    CostParts {
        stop: a.stop + b.stop,
        premium: a.premium + b.premium,
        risk: a.risk + b.risk,
        early: a.early + b.early,
        moved: a.moved + b.moved,
        lockout: a.lockout + b.lockout,
        visit: a.visit + b.visit,
        left: a.left + b.left,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shared_cost_is_shared_to_the_cent() {
        let among: BTreeSet<usize> = [3, 5, 9].into_iter().collect();
        let shares: Vec<i64> = [3, 5, 9].map(|service| share(100, &among, service)).to_vec();
        assert_eq!(shares, [34, 33, 33]);
        assert_eq!(share(100, &[7].into_iter().collect(), 7), 100);
    }
}
