//! Why a due service has no place, in words, with what would mend it.

use super::basis::{Grid, PlanBasis, money};
use super::candidates::{Candidates, stock_by};
use super::fit::{Wanted, free_place};
use super::problem::LeftReason;
use super::standing::Standing;
use super::why::{kit_arrives, ready_windows_of};
use crate::service::Kind;
use crate::words;

/// The reason in one to three sentences.
pub(super) fn left_words(
    basis: &PlanBasis,
    candidates: &Candidates,
    standing: &Standing<'_>,
    service: usize,
    reason: LeftReason,
) -> String {
    let of = &basis.services[service];
    if let Some(by) = of.service_by.filter(|by| basis.last() < *by) {
        return format!("Not due before {}: for the next plan.", words::date_long(by, basis.as_of));
    }
    if of.service_by.is_none() {
        return "Not due as far as the forecast looks: for the next plan.".to_owned();
    }
    let teller = Teller { basis, candidates, standing, service };
    match reason {
        LeftReason::Date => teller.date(),
        LeftReason::Window => teller.window(),
        LeftReason::Crew => teller.crew(),
        LeftReason::Gauge => teller.gauge(),
        LeftReason::Parts => teller.parts(),
        LeftReason::Dearer => teller.dearer(),
    }
}

struct Teller<'a> {
    basis: &'a PlanBasis,
    candidates: &'a Candidates,
    standing: &'a Standing<'a>,
    service: usize,
}

impl Teller<'_> {
    fn day(&self, day: usize) -> String {
        words::date_mid(self.grid().date(day), self.basis.as_of)
    }

    const fn grid(&self) -> &Grid {
        &self.basis.grid
    }

    fn date(&self) -> String {
        let last = words::date_long(self.basis.last(), self.basis.as_of);
        if let Some(day) = self.basis.services[self.service].not_before {
            let is_beyond = self.basis.last() < day;
            let day = words::date_long(day, self.basis.as_of);
            if is_beyond {
                return format!("Not before {day}, after the last day of this plan.");
            }
            let label = self.basis.label(self.service);
            return format!("Not before {day}, and from then up to {last} {label} has no downtime window.");
        }
        format!("{} has no downtime window up to {last}: it needs one.", self.basis.label(self.service))
    }

    fn window(&self) -> String {
        let windows = &self.basis.problem.windows;
        let longest = ready_windows_of(self.basis, self.service)
            .into_iter()
            .max_by_key(|index| (windows[*index].span.to - windows[*index].span.from, std::cmp::Reverse(*index)));
        let need = self.basis.problem.services[self.service].minutes + self.basis.problem.lockout_min;
        let Some(longest) = longest else { return self.date() };
        let has = windows[longest].span.to - windows[longest].span.from;
        format!(
            "It takes {} with lockout; the longest window, {}, has {}.",
            hours(need),
            self.day(windows[longest].day),
            hours(has)
        )
    }

    fn crew(&self) -> String {
        let of = &self.basis.services[self.service];
        let kind = match of.kind {
            Kind::Minor => "minor",
            Kind::Major => "major",
        };
        let known = self.basis.shop.technicians.len();
        let skilled: Vec<&str> = self
            .basis
            .shop
            .technicians
            .iter()
            .filter(|technician| technician.skills.contains(&of.kind))
            .map(|technician| technician.value.name.as_str())
            .collect();
        if known == 0 {
            return "The shop lists no technician: add the crew.".to_owned();
        }
        if skilled.is_empty() {
            return format!("Nobody has the skill for a {kind} service.");
        }
        let need = hours(self.basis.problem.services[self.service].minutes + self.basis.problem.lockout_min);
        let people = if of.crew == 2 { "two people are" } else { "nobody who can do it is" };
        let not = if of.crew == 2 { "not there together" } else { "there" };
        format!("In none of its windows {people} {not} for {need}: {} would need another shift.", listed(&skilled))
    }

    fn gauge(&self) -> String {
        let job = &self.basis.problem.services[self.service];
        let group = job.gauge.unwrap_or(0);
        let quantity = self.basis.gauges.get(group).copied();
        let label = quantity.map_or("", crate::units::Quantity::label);
        let gauges = self.basis.shop.gauges.iter().filter(|gauge| Some(gauge.quantity) == quantity);
        let need = job.minutes + self.basis.problem.lockout_min;
        let windows = &self.basis.problem.windows;
        let long_enough = ready_windows_of(self.basis, self.service)
            .into_iter()
            .map(|window| &windows[window])
            .filter(|window| window.span.to - window.span.from >= need);
        let first = long_enough.map(|window| window.day).min();
        let latest = gauges.filter_map(|gauge| Some((gauge.calibration_due?, gauge.value.name.as_str()))).max();
        if let Some((first, (due, name))) =
            first.zip(latest).filter(|(first, (due, _))| *due < self.grid().date(*first))
        {
            return format!(
                "Its first window that is long enough, {}, comes after {}, when {name}, the last gauge of {label}, runs \
                 out of its calibration: calibrated again it could be used.",
                self.day(first),
                words::date_long(due, self.basis.as_of)
            );
        }
        let mend = latest.map_or_else(String::new, |(due, name)| {
            let due = words::date_long(due, self.basis.as_of);
            format!(" {name} is the last in calibration, until {due}: calibrated again it could be used.")
        });
        format!("On no day with a window that would do is a gauge of {label} in and within its calibration.{mend}")
    }

    fn parts(&self) -> String {
        let problem = &self.basis.problem;
        let job = &problem.services[self.service];
        let short: Vec<&super::basis::PlanPart> = job
            .parts
            .iter()
            .filter(|(part, quantity)| stock_by(problem, *part, problem.days) < *quantity)
            .filter_map(|(part, _)| self.basis.parts.get(*part))
            .collect();
        let last =
            ready_windows_of(self.basis, self.service).into_iter().map(|window| problem.windows[window].day).max();
        if let Some(part) = short.first() {
            let how = match part {
                part if !part.is_listed => "is not in the list of parts".to_owned(),
                part => match part.orderable_from {
                    Some(day) => format!("arrives {} if ordered today", words::date_mid(day, self.basis.as_of)),
                    None => "is neither here nor on order, and its lead time is not known".to_owned(),
                },
            };
            let after = last.map_or_else(String::new, |last| format!(", after the last window, {}", self.day(last)));
            let after = if part.is_listed && part.orderable_from.is_some() { after } else { String::new() };
            return format!("{} {how}{after}.", words::capital(&part.name));
        }
        let arrives = (0..problem.days)
            .find(|day| job.parts.iter().all(|(part, quantity)| stock_by(problem, *part, *day) >= *quantity));
        match (arrives, last) {
            (Some(arrives), Some(last)) => {
                let kit = kit_arrives(self.basis, self.service, self.grid().date(arrives));
                format!("{}, after the last window, {}.", words::capital(&kit), self.day(last))
            }
            _ => "Its kit is not there in time.".to_owned(),
        }
    }

    fn dearer(&self) -> String {
        let job = &self.basis.problem.services[self.service];
        let cheapest = self.candidates.of.get(self.service).and_then(|list| list.first());
        let currency = &self.basis.shop.settings.currency;
        let left = words::money_in(money(job.leave_cost), currency);
        let Some(cheapest) = cheapest else { return "Its windows are taken by others.".to_owned() };
        let alone = self.standing.marginal(self.service, cheapest.window).total();
        if job.leave_cost <= alone {
            let (day, cost) = (self.day(self.standing.day(cheapest.window)), words::money_in(money(alone), currency));
            return format!("The cheapest window, {day}, would cost {cost}; leaving it costs {left}.");
        }
        let free = self.candidates.of[self.service]
            .iter()
            .find(|candidate| free_place(self.standing, self.service, candidate.window, &Wanted::default()).is_some());
        match free {
            Some(free) => {
                let cost = self.standing.marginal(self.service, free.window).total();
                let (day, cost) = (self.day(self.standing.day(free.window)), words::money_in(money(cost), currency));
                format!("It could stand on {day} for {cost}; leaving it costs {left}.")
            }
            None => {
                let day = self.day(self.standing.day(cheapest.window));
                format!(
                    "Every window that could take it is taken by others; the cheapest is {day}. Leaving it costs {left}."
                )
            }
        }
    }
}

/// `2.5 h`, `6 h`.
pub(super) fn hours(minutes: i64) -> String {
    let hours = words::number(minutes as f64 / 60.0, 2);
    format!("{} h", hours.trim_end_matches('0').trim_end_matches('.'))
}

fn listed(names: &[&str]) -> String {
    match names.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, first)) => format!("{} or {last}", first.join(", ")),
    }
}
