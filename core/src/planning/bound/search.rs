//! The most a day can earn at given prices: which services to do on it, by depth-first search.
//!
//! A service earns its price less what it costs there; a stop costs its lockout and a hall its
//! visit, once. Branches are cut by a bound from the crew minutes alone (any price of a minute
//! gives one: minutes x price + what each service earns beyond it), and by whether the set admits
//! a day sheet. Where the limit is reached, the bounds of the branches left count as earned.
//!
//! A stop's lockout need not be done by a service that earns anything: one that earns nothing may
//! come first and do it, which leaves the others more room. So such services are tried as well once
//! a line is through; a second one in a stop, or one where nothing is earned, never pays.

use super::day::{Day, Fine};
use super::fits::{Asked, MOST_SERVICES};
use std::collections::HashMap;

/// Halls that are decided one by one; of further ones the visit counts where it is first needed.
const MOST_HALLS: usize = 4;

/// The first set is done when so many services found no sheet with it.
const MOST_REFUSED: u32 = 12;

/// Sets of a day whose sheets were tried, kept from one set of prices to the next.
pub(super) type Tried = HashMap<Vec<Asked>, bool>;

/// What a day earns.
#[derive(Debug, Clone, Default)]
pub(super) struct Earned {
    /// No set earns more.
    pub upper: Fine,
    /// Candidates of the best set found.
    pub chosen: Vec<usize>,
    /// Branches looked at.
    pub steps: u32,
}

/// A service that would earn something, in one window.
#[derive(Debug, Clone, Copy)]
struct Slot {
    candidate: usize,
    stop: usize,
    earns: Fine,
    /// The same with its share of the lockout.
    earns_alone: Fine,
    /// Crew minutes.
    minutes: i64,
    /// The same with its share of the lockout's.
    minutes_alone: i64,
    /// What it earns beyond the prices of the posts it needs, without and with its share of the lockout.
    left_over: Fine,
    left_over_alone: Fine,
}

impl Slot {
    /// What it earns and the minutes it takes; where it is the first of its stop, with its share of the lockout.
    const fn seen(&self, first: bool) -> (Fine, i64) {
        if first { (self.earns_alone, self.minutes_alone) } else { (self.earns, self.minutes) }
    }

    /// What it earns beyond its minutes at a price, in 1/1024.
    const fn beyond(&self, rate: Fine, first: bool) -> Fine {
        let (earns, takes) = self.seen(first);
        earns.saturating_mul(1024).saturating_sub(rate.saturating_mul(takes))
    }
}

/// A service with its windows, the best first.
#[derive(Debug, Clone)]
struct Unit {
    line: usize,
    hall: usize,
    slots: Vec<Slot>,
}

impl Unit {
    /// What a minute of it earns at best, in 1/1024.
    fn rate(&self) -> Fine {
        let one = |slot: &Slot| slot.earns_alone.saturating_mul(1024) / slot.minutes_alone.max(1);
        self.slots.iter().map(one).max().unwrap_or(0)
    }
}

/// How far a branch is.
#[derive(Debug, Clone, Copy)]
struct SoFar {
    /// What its set earns.
    earned: Fine,
    /// Crew minutes left.
    minutes: i64,
    /// What its minutes cost at the prices of the posts.
    rent: Fine,
}

struct Search<'a> {
    day: &'a Day,
    /// What a minute costs, by [`Day::hires`].
    rents: Vec<Fine>,
    /// What all minutes there cost.
    stock: Fine,
    tried: &'a mut Tried,
    /// Services of one line stand together.
    units: Vec<Unit>,
    /// Units by what a minute of them earns, the best first.
    by_rate: Vec<usize>,
    /// By candidate.
    earns: &'a [Fine],
    /// Which halls may be visited, and which already are or cost nothing.
    closed: Vec<bool>,
    opened: Vec<bool>,
    set: Vec<Asked>,
    /// Members of each stop.
    members: Vec<u32>,
    gauges: Vec<i64>,
    best: Fine,
    chosen: Vec<usize>,
    left_open: Fine,
    steps: u32,
    most_steps: u32,
}

impl Day {
    /// The most the day can earn; `earns` is by candidate: its price less its own cost.
    ///
    /// `known` is a set that fits, by candidates; `minute` prices the minutes of each post.
    pub(super) fn earn<'a>(
        &'a self,
        earns: &'a [Fine],
        known: &[usize],
        minute: &[Fine],
        most_steps: u32,
        tried: &'a mut Tried,
    ) -> Earned {
        let mut rents = Vec::new();
        self.rents(minute, &mut rents);
        let mut search = Search {
            day: self,
            rents: rents.iter().map(|rent| rent.price).collect(),
            stock: self.posts.iter().zip(minute).map(|(minutes, price)| minutes * price).sum(),
            tried,
            units: Vec::new(),
            by_rate: Vec::new(),
            earns,
            closed: vec![false; self.visits.len()],
            opened: self.visits.iter().map(|visit| *visit == 0).collect(),
            set: Vec::new(),
            members: vec![0; self.stops.len()],
            gauges: self.gauges.clone(),
            best: 0,
            chosen: Vec::new(),
            left_open: 0,
            steps: 0,
            most_steps,
        };
        // a best set that is none would only make the bound weaker
        let known: Vec<usize> = known.iter().copied().filter(|candidate| earns[*candidate] > 0).collect();
        let worth = self.worth(earns, &known);
        if worth > 0 {
            search.best = worth;
            search.chosen = known;
        }
        let units = units(self, earns, &search.rents);
        search.set_units(units);
        search.halls();
        let Search { best, chosen, left_open, steps, .. } = search;
        Earned { upper: left_open.max(best), chosen, steps }
    }

    /// What a set earns.
    pub(super) fn worth(&self, earns: &[Fine], set: &[usize]) -> Fine {
        let mut stops: Vec<usize> = set.iter().map(|candidate| self.candidates[*candidate].stop).collect();
        stops.sort_unstable();
        stops.dedup();
        let mut halls: Vec<usize> = stops.iter().map(|stop| self.stops[*stop].hall).collect();
        halls.sort_unstable();
        halls.dedup();
        set.iter().map(|candidate| earns[*candidate]).sum::<Fine>()
            - stops.iter().map(|stop| self.stops[*stop].lockout).sum::<Fine>()
            - halls.iter().map(|hall| self.visits[*hall]).sum::<Fine>()
    }
}

/// The services that earn something, lines of the best earners first.
fn units(day: &Day, earns: &[Fine], rents: &[Fine]) -> Vec<Unit> {
    let mut found: Vec<(usize, Unit)> = Vec::new();
    for (index, stop) in day.stops.iter().enumerate() {
        let range = stop.candidates.0..stop.candidates.1;
        let (mut count, mut sum) = (0, 0);
        for candidate in range.clone() {
            let earned = earns[candidate];
            if earned > 0 {
                count += 1;
                sum += earned;
            }
        }
        if count == 0 || sum <= stop.lockout {
            continue;
        }
        for candidate in range {
            let earned = earns[candidate];
            if earned <= 0 {
                continue;
            }
            let of = &day.candidates[candidate];
            // of those in the stop, one person at least does the lockout, all of its crew where nobody else could
            let alone = stop.candidates.1 - stop.candidates.0 == 1;
            let lockout_minutes = match (stop.held, alone) {
                (true, _) => 0,
                (false, true) => day.lockout_min * of.crew as i64,
                (false, false) => day.lockout_min,
            };
            let minutes = of.minutes * of.crew as i64;
            let slot = Slot {
                candidate,
                stop: index,
                earns: earned,
                // the whole lockout is paid if all take part: so each pays its share at least
                earns_alone: earned - stop.lockout / count,
                minutes,
                minutes_alone: minutes + lockout_minutes / count,
                left_over: earned - rents[of.hire] * of.minutes,
                left_over_alone: earned
                    - rents[of.hire] * of.minutes
                    - (stop.lockout + if stop.held { 0 } else { rents[stop.hire] * day.lockout_min }) / count,
            };
            // the stops of a line stand together
            let of_line = found.iter_mut().rev().take_while(|(_, unit)| unit.line == stop.line);
            match of_line.into_iter().find(|(service, _)| *service == of.service) {
                Some((_, unit)) => unit.slots.push(slot),
                None => {
                    let unit = Unit { line: stop.line, hall: stop.hall, slots: vec![slot] };
                    found.push((of.service, unit));
                }
            }
        }
    }
    let mut units: Vec<Unit> = found.into_iter().map(|(_, unit)| unit).collect();
    for unit in &mut units {
        unit.slots.sort_by_key(|slot| (-slot.earns_alone, slot.candidate));
    }
    let mut best_of_line: HashMap<usize, Fine> = HashMap::new();
    for unit in &units {
        let best = best_of_line.entry(unit.line).or_insert(Fine::MIN);
        *best = unit.rate().max(*best);
    }
    units.sort_by_key(|unit| {
        (-best_of_line.get(&unit.line).copied().unwrap_or(0), unit.line, -unit.rate(), unit.slots[0].candidate)
    });
    units
}

impl Search<'_> {
    /// Decides which halls are visited, the most promising choice first.
    fn halls(&mut self) {
        let mut open: Vec<usize> = (0..self.day.visits.len())
            .filter(|hall| !self.opened[*hall] && self.units.iter().any(|unit| unit.hall == *hall))
            .collect();
        open.truncate(MOST_HALLS);
        let mut choices: Vec<(Fine, u32)> = Vec::new();
        for choice in 0..1u32 << open.len() {
            let base = self.choose(&open, choice);
            choices.push((self.bound(0, self.start(base)), choice));
        }
        choices.sort_by_key(|(bound, choice)| (-bound, *choice));
        if let Some((_, choice)) = choices.first() {
            self.choose(&open, *choice);
            self.first_set();
        }
        let all = std::mem::take(&mut self.units);
        for (_, choice) in choices {
            let base = self.choose(&open, choice);
            self.set_units(all.clone());
            self.drop_hopeless(base);
            self.next_line(0, self.start(base));
        }
    }

    const fn start(&self, earned: Fine) -> SoFar {
        SoFar { earned, minutes: self.day.capacity, rent: 0 }
    }

    fn set_units(&mut self, units: Vec<Unit>) {
        self.by_rate = (0..units.len()).collect();
        self.by_rate.sort_by_key(|unit| (-units[*unit].rate(), *unit));
        self.units = units;
    }

    /// Leaves out services with which no set could earn more than the best one: the bound, with the
    /// service taken although its minutes cost more than it earns.
    fn drop_hopeless(&mut self, base: Fine) {
        let start = self.start(base);
        let rate = self.rate(0, start.minutes);
        let (most, rented) = (self.bound_at(rate, 0, start), self.bound_of_posts(0, start));
        let enough = self.left_open.max(self.best);
        let could = |unit: &Unit| {
            let beyond = unit.slots.iter().map(|slot| slot.beyond(rate, true)).max().unwrap_or(0).min(0);
            let left_over = unit.slots.iter().map(|slot| slot.left_over_alone).max().unwrap_or(0).min(0);
            !self.closed[unit.hall] && most + beyond.div_euclid(1024) + 1 > enough && rented + left_over > enough
        };
        let kept = self.units.iter().filter(|unit| could(unit)).cloned().collect();
        self.set_units(kept);
    }

    /// A set to begin with: the best earners one after another, as far as a sheet is found.
    fn first_set(&mut self) {
        let (mut left, mut refused) = (self.day.capacity, 0);
        for unit in self.by_rate.clone() {
            let (hall, slot) = (self.units[unit].hall, self.units[unit].slots[0]);
            let stop = &self.day.stops[slot.stop];
            let gauge = self.day.candidates[slot.candidate].gauge;
            let same = |asked: &Asked| {
                let of = &self.day.candidates[asked.candidate];
                gauge.is_some() && of.gauge == gauge
            };
            let taken = self.set.iter().filter(|asked| same(asked)).count() as i64;
            let is_carried = gauge.is_none_or(|group| taken < self.gauges.get(group).copied().unwrap_or(0));
            if self.set.len() == MOST_SERVICES {
                break;
            }
            if self.closed[hall] || slot.earns_alone <= 0 || slot.minutes > left || !is_carried {
                continue;
            }
            self.set.push(Asked { candidate: slot.candidate, lockout: !stop.held });
            if self.admits() {
                left -= slot.minutes;
            } else {
                self.set.pop();
                refused += 1;
            }
            if refused > MOST_REFUSED {
                break;
            }
        }
        let set: Vec<usize> = std::mem::take(&mut self.set).iter().map(|asked| asked.candidate).collect();
        let worth = self.day.worth(self.earns, &set);
        if worth > self.best {
            self.best = worth;
            self.chosen = set;
        }
    }

    /// Sets the halls of a choice; what their visits cost.
    fn choose(&mut self, open: &[usize], choice: u32) -> Fine {
        let mut base = 0;
        for (bit, hall) in open.iter().enumerate() {
            let is_open = choice & (1 << bit) != 0;
            self.opened[*hall] = is_open;
            self.closed[*hall] = !is_open;
            if is_open {
                base -= self.day.visits[*hall];
            }
        }
        base
    }

    /// No completion earns more: from the crew minutes left, and from those of each post.
    fn bound(&self, from: usize, so_far: SoFar) -> Fine {
        let of_posts = self.bound_of_posts(from, so_far);
        if of_posts <= self.left_open.max(self.best) {
            return of_posts;
        }
        of_posts.min(self.bound_at(self.rate(from, so_far.minutes), from, so_far))
    }

    /// The bound at the prices of the posts.
    fn bound_of_posts(&self, from: usize, so_far: SoFar) -> Fine {
        let mut most = self.stock + so_far.earned - so_far.rent;
        for unit in self.units.get(from..).unwrap_or_default().iter().filter(|unit| !self.closed[unit.hall]) {
            let one = |slot: &Slot| if self.members[slot.stop] == 0 { slot.left_over_alone } else { slot.left_over };
            most += unit.slots.iter().map(one).max().unwrap_or(0).max(0);
        }
        most
    }

    /// The rate at which the minutes run out if the best earners are taken first, in 1/1024.
    fn rate(&self, from: usize, minutes: i64) -> Fine {
        let mut left = minutes;
        for index in &self.by_rate {
            let unit = if *index < from { continue } else { &self.units[*index] };
            let slot = &unit.slots[0];
            let (earns, takes) = slot.seen(self.members[slot.stop] == 0);
            if self.closed[unit.hall] || earns <= 0 {
                continue;
            }
            left -= takes;
            if left < 0 {
                return earns.saturating_mul(1024) / takes.max(1);
            }
        }
        0
    }

    /// The bound with a minute at this price: any price gives one.
    fn bound_at(&self, rate: Fine, from: usize, so_far: SoFar) -> Fine {
        let mut sum = rate.saturating_mul(so_far.minutes);
        for unit in self.units.get(from..).unwrap_or_default().iter().filter(|unit| !self.closed[unit.hall]) {
            let one = |slot: &Slot| slot.beyond(rate, self.members[slot.stop] == 0);
            sum = sum.saturating_add(unit.slots.iter().map(one).max().unwrap_or(0).max(0));
        }
        // rounded up
        so_far.earned + sum.div_euclid(1024) + 1
    }

    /// Whether a branch need not be looked at: it cannot earn enough, or the limit is reached.
    fn is_cut(&mut self, bound: Fine) -> bool {
        if bound <= self.left_open.max(self.best) {
            return true;
        }
        if self.steps >= self.most_steps {
            self.left_open = self.left_open.max(bound);
            return true;
        }
        self.steps += 1;
        false
    }

    /// All stops are closed, and the set fits.
    fn next_line(&mut self, from: usize, so_far: SoFar) {
        if so_far.earned > self.best {
            self.best = so_far.earned;
            self.chosen = self.set.iter().map(|asked| asked.candidate).collect();
        }
        if from >= self.units.len() {
            return;
        }
        let bound = self.bound(from, so_far);
        if self.is_cut(bound) {
            return;
        }
        let line = self.units[from].line;
        self.unit(from, line, self.set.len(), so_far);
    }

    /// One service: in each of its windows, or not at all.
    fn unit(&mut self, at: usize, line: usize, line_from: usize, so_far: SoFar) {
        let Some(unit) = self.units.get(at).filter(|unit| unit.line == line) else {
            self.close_line(at, line_from, so_far);
            return;
        };
        let (hall, count) = (unit.hall, unit.slots.len());
        if !self.closed[hall] {
            for nth in 0..count {
                self.with(at, nth, line_from, so_far);
            }
        }
        let bound = self.bound(at + 1, so_far);
        if !self.is_cut(bound) {
            self.unit(at + 1, line, line_from, so_far);
        }
    }

    fn with(&mut self, at: usize, nth: usize, line_from: usize, so_far: SoFar) {
        let Slot { candidate, stop, earns, minutes: own_minutes, .. } = self.units[at].slots[nth];
        let (line, hall) = (self.units[at].line, self.units[at].hall);
        let of = &self.day.stops[stop];
        let gauge = self.day.candidates[candidate].gauge;
        if gauge.is_some_and(|group| self.gauges.get(group).copied().unwrap_or(0) < 1) {
            return;
        }
        let alone = of.candidates.1 - of.candidates.0 == 1;
        let own = &self.day.candidates[candidate];
        let mut next = SoFar {
            earned: so_far.earned + earns,
            minutes: so_far.minutes - own_minutes,
            rent: so_far.rent + self.rents[own.hire] * own.minutes,
        };
        if self.members[stop] == 0 {
            next.earned -= of.lockout;
            if !of.held {
                let crew = if alone { self.day.candidates[candidate].crew as i64 } else { 1 };
                next.minutes -= self.day.lockout_min * crew;
                next.rent += self.rents[of.hire] * self.day.lockout_min;
            }
        }
        let visited = self.opened[hall];
        if !visited {
            next.earned -= self.day.visits[hall];
        }
        if next.minutes < 0 {
            return;
        }
        self.members[stop] += 1;
        self.opened[hall] = true;
        let bound = self.bound(at + 1, next);
        if !self.is_cut(bound) {
            if let Some(room) = gauge.and_then(|group| self.gauges.get_mut(group)) {
                *room -= 1;
            }
            // whether its stop needs a lockout is settled once the line is through
            self.set.push(Asked { candidate, lockout: alone && !of.held });
            if self.admits() {
                self.unit(at + 1, line, line_from, next);
            }
            self.set.pop();
            if let Some(room) = gauge.and_then(|group| self.gauges.get_mut(group)) {
                *room += 1;
            }
        }
        self.opened[hall] = visited;
        self.members[stop] -= 1;
    }

    /// The line is through: its stops do their lockouts themselves, or one that earns nothing comes along and does.
    fn close_line(&mut self, at: usize, line_from: usize, so_far: SoFar) {
        let mut stops: Vec<usize> = Vec::new();
        for asked in &self.set[line_from..] {
            let stop = self.day.candidates[asked.candidate].stop;
            if !asked.lockout && !self.day.stops[stop].held && !stops.contains(&stop) {
                stops.push(stop);
            }
        }
        if stops.is_empty() {
            self.next_line(at, so_far);
            return;
        }
        self.close_stops(&stops, at, line_from, so_far);
    }

    fn close_stops(&mut self, stops: &[usize], at: usize, line_from: usize, so_far: SoFar) {
        let Some((stop, others)) = stops.split_first() else {
            let before: Vec<Asked> = self.set[line_from..].to_vec();
            for asked in &mut self.set[line_from..] {
                let stop = self.day.candidates[asked.candidate].stop;
                asked.lockout = !self.day.stops[stop].held;
            }
            if self.admits() {
                self.next_line(at, so_far);
            }
            self.set.truncate(line_from);
            self.set.extend(before);
            return;
        };
        self.close_stops(others, at, line_from, so_far);
        let (from, to) = self.day.stops[*stop].candidates;
        for candidate in from..to {
            let lost = self.earns[candidate];
            if lost > 0 {
                continue;
            }
            let of = &self.day.candidates[candidate];
            let next = SoFar {
                earned: so_far.earned + lost,
                minutes: so_far.minutes - of.crew_minutes,
                rent: so_far.rent + self.rents[of.hire] * of.minutes,
            };
            let is_there = |asked: &Asked| self.day.candidates[asked.candidate].service == of.service;
            if next.minutes < 0 || self.set[line_from..].iter().any(is_there) {
                continue;
            }
            let bound = self.bound(at, next);
            if bound <= self.left_open.max(self.best) || self.is_cut(bound) {
                continue;
            }
            self.set.push(Asked { candidate, lockout: false });
            self.close_stops(others, at, line_from, next);
            self.set.pop();
        }
    }

    /// Whether the set admits a day sheet.
    fn admits(&mut self) -> bool {
        if self.set.len() > MOST_SERVICES {
            return true;
        }
        let mut key = self.set.clone();
        key.sort_unstable();
        if let Some(known) = self.tried.get(&key) {
            return *known;
        }
        let fits = self.day.admits(&key);
        self.tried.insert(key, fits);
        fits
    }
}
