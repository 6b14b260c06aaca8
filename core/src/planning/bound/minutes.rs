//! The quick bound: the minutes of each post on each day are priced too.
//!
//! What is left falls apart: a service is taken in a window where its price exceeds its cost and
//! its minutes, a stop is made where that pays its lockout, a hall visited where that pays the visit.

use super::day::{Day, Fine};
use super::parts::{NetPrices, PartRow};

/// Prices of services, parts and minutes, each with its slope.
pub(super) struct Priced<'a> {
    pub service: &'a [Fine],
    pub part: &'a [Fine],
    /// Post after post of each day.
    pub minute: &'a [Fine],
}

/// What a minute costs, and whose it is.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rent {
    pub price: Fine,
    lead: usize,
    second: Option<usize>,
}

impl Day {
    /// What a minute of the cheapest people for each of [`Day::hires`] costs.
    pub(super) fn rents(&self, minute: &[Fine], rents: &mut Vec<Rent>) {
        let cheapest = |posts: u32| {
            let could = (0..minute.len()).filter(|post| posts & (1 << post) != 0);
            could.min_by_key(|post| minute[*post])
        };
        rents.clear();
        for (lead, second) in &self.hires {
            let (lead, second) = (cheapest(*lead).unwrap_or(0), cheapest(*second));
            let price = minute[lead] + second.map_or(0, |post| minute[post]);
            rents.push(Rent { price, lead, second });
        }
    }

    /// The most the day can earn at prices of its minutes; `net` says what a candidate earns. Says of
    /// each candidate taken which it is, and adds the minutes used less those there to `used`.
    pub(super) fn most(
        &self,
        minute: &[Fine],
        net: impl Fn(usize) -> Fine,
        work: &mut Work,
        used: &mut [f64],
        mut taken: impl FnMut(usize),
    ) -> Fine {
        let Work { rents, gains, stops } = work;
        self.rents(minute, rents);
        gains.clear();
        gains.resize(self.visits.len(), 0);
        stops.clear();
        let beyond = |candidate: usize| {
            let of = &self.candidates[candidate];
            net(candidate) - rents[of.hire].price * of.minutes
        };
        for (index, stop) in self.stops.iter().enumerate() {
            let lockout = stop.lockout + if stop.held { 0 } else { rents[stop.hire].price * self.lockout_min };
            let sum: Fine = (stop.candidates.0..stop.candidates.1).map(|candidate| beyond(candidate).max(0)).sum();
            if sum > lockout {
                gains[stop.hall] += sum - lockout;
                stops.push(index);
            }
        }
        let mut use_up = |rent: &Rent, minutes: i64| {
            used[rent.lead] += minutes as f64;
            if let Some(second) = rent.second {
                used[second] += minutes as f64;
            }
        };
        for index in stops.iter() {
            let stop = &self.stops[*index];
            if gains[stop.hall] <= self.visits[stop.hall] {
                continue;
            }
            if !stop.held {
                use_up(&rents[stop.hire], self.lockout_min);
            }
            for candidate in stop.candidates.0..stop.candidates.1 {
                if beyond(candidate) > 0 {
                    let of = &self.candidates[candidate];
                    use_up(&rents[of.hire], of.minutes);
                    taken(candidate);
                }
            }
        }
        let mut most: Fine = gains.iter().zip(&self.visits).map(|(gain, visit)| (gain - visit).max(0)).sum();
        for (post, minutes) in self.posts.iter().enumerate() {
            most += minutes * minute[post];
            used[post] -= *minutes as f64;
        }
        most
    }

    /// Moves the prices of the minutes a few steps towards those that say the least; what is the
    /// most at them. `known` is what some set earns.
    pub(super) fn tune(
        &self,
        earns: &[Fine],
        known: Fine,
        steps: u32,
        minute: &mut Vec<Fine>,
        work: &mut Work,
    ) -> Fine {
        let mut used = vec![0.0; self.posts.len()];
        let mut tried = minute.clone();
        let mut least = Fine::MAX;
        for _ in 0..steps {
            used.fill(0.0);
            let most = self.most(&tried, |candidate| earns[candidate], work, &mut used, |_| {});
            if most < least {
                least = most;
                minute.clone_from(&tried);
            }
            for (post, along) in used.iter_mut().enumerate() {
                if tried[post] <= 0 && *along < 0.0 {
                    *along = 0.0;
                }
            }
            let norm: f64 = used.iter().map(|along| along * along).sum();
            if norm < 1.0 || most <= known {
                break;
            }
            // half of the way to what is known to be earned, along the minutes that are short
            let length = 0.5 * (most - known) as f64 / norm;
            for (price, along) in tried.iter_mut().zip(&used) {
                *price = (*price as f64 + length * along).max(0.0) as Fine;
            }
        }
        least
    }
}

/// Room to work in, kept from day to day.
#[derive(Debug, Default)]
pub(super) struct Work {
    rents: Vec<Rent>,
    gains: Vec<Fine>,
    stops: Vec<usize>,
}

/// The bound at these prices, without what is the same at all prices; the slope is added to `slope`,
/// rows in the order services, parts, minutes.
pub(super) fn value(days: &[Day], rows: &[PartRow], priced: &Priced<'_>, work: &mut Work, slope: &mut [f64]) -> Fine {
    let services = priced.service.len();
    let mut total: Fine = 0;
    let mut net = NetPrices::new(priced.service, rows, priced.part);
    let (slope, minute_slope) = slope.split_at_mut(services + priced.part.len());
    let mut post = 0;
    for day in days {
        net.go_to(day.day);
        let posts = post..post + day.posts.len();
        let earns = |candidate: usize| {
            let of = &day.candidates[candidate];
            net.net[of.service] - of.own
        };
        let done = |candidate: usize| take(rows, services, day.day, day.candidates[candidate].service, slope);
        total -= day.most(&priced.minute[posts.clone()], earns, work, &mut minute_slope[posts.clone()], done);
        post = posts.end;
    }
    total
}

/// What a service done on a day changes in the rows of services and parts.
pub(super) fn take(rows: &[PartRow], services: usize, day: usize, service: usize, slope: &mut [f64]) {
    slope[service] -= 1.0;
    for (row, part) in rows.iter().enumerate().filter(|(_, part)| day <= part.day) {
        if let Some((_, quantity)) = part.takes.iter().find(|(of, _)| *of == service) {
            slope[services + row] += *quantity as f64;
        }
    }
}
