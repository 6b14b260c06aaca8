//! Where open orders stand: held ones stay, whatever they break; planned ones may be moved.

use super::{PlanBasis, people, trays};
use crate::moment::Moment;
use crate::order::{Order, OrderState};
use crate::planning::problem::{Booked, Job, Place, PlanWindow, Scope, Span};
use crate::planning::proposal::{Costs, PlacedService, Placement};
use crate::units::Percent;
use crate::words;
use chrono::TimeDelta;
use std::collections::BTreeMap;

/// Weeks of notice that a move of a booked service should have.
const NOTICE_WEEKS: i64 = 3;

/// An open order of a service of the plan.
pub(super) struct Standing {
    pub(super) service: usize,
    pub(super) order: Order,
    pub(super) held: bool,
}

/// Puts every open order with a start where it stands.
pub(super) fn place(basis: &mut PlanBasis, standing: &[Standing]) {
    let mut held: Vec<(i64, i64, usize)> = Vec::new();
    let mut gone: Vec<usize> = Vec::new();
    for (index, Standing { service, order, held: is_held }) in standing.iter().enumerate() {
        let Some(start) = order.start else { continue };
        let Some(machine) = basis.problem.services.get(*service).map(|job| job.machine) else { continue };
        let moment = moment_of(basis, machine, start);
        match basis.grid.inside(moment) {
            Some((day, minute)) if *is_held => held.push((day as i64, minute, index)),
            Some((day, minute)) => book(basis, *service, order, day, minute),
            None if *is_held => gone.push(index),
            None => {}
        }
    }
    held.sort_unstable();
    hold(basis, standing, &held);
    for index in &gone {
        if let Some(Standing { service, order, .. }) = standing.get(*index) {
            leave_outside(basis, *service, order);
        }
    }
    // what is outside the plan is no service of it; the last ones first, so that indices hold
    let settings = &basis.shop.settings;
    let is_past = |order: &Order| order.start.is_some_and(|start| settings.day_of_start(start) <= basis.as_of);
    let standing = gone.iter().filter_map(|index| standing.get(*index));
    let mut services: Vec<(usize, bool)> = standing.map(|s| (s.service, is_past(&s.order))).collect();
    services.sort_unstable();
    for (service, is_past) in services.into_iter().rev() {
        let (of, job) = (basis.services.remove(service), basis.problem.services.remove(service));
        basis.booked.places.remove(service);
        // the kit of what was to start by now was taken with its old place
        let parts = if is_past { Vec::new() } else { job.parts };
        basis.outside_jobs.push((of, Job { parts, ..job }));
    }
}

/// The start of an order; one of which only the day is known starts with the first tray of its
/// machine on it, else with the day.
pub(super) fn moment_of(basis: &PlanBasis, machine: usize, start: Moment) -> chrono::NaiveDateTime {
    if start.time.is_some() {
        return start.date_time();
    }
    let day = basis.grid.day_of(start.date);
    let first = day.and_then(|day| {
        trays_of(basis, machine).find(|index| basis.problem.windows.get(*index).is_some_and(|window| window.day == day))
    });
    match (first.and_then(|index| basis.trays.get(index)), day) {
        (Some(tray), _) => tray.start,
        (None, Some(day)) => basis.grid.moment(day, 0),
        (None, None) => start.date.and_time(basis.shop.settings.day_begins),
    }
}

/// The trays of a machine, by start.
fn trays_of(basis: &PlanBasis, machine: usize) -> impl Iterator<Item = usize> + '_ {
    let line = basis.problem.machines.get(machine).and_then(|line| basis.problem.lines.get(*line));
    let hall = line.map(|line| line.hall);
    let windows = basis.problem.windows.iter().take(basis.trays.len()).enumerate();
    windows
        .filter(move |(_, window)| match window.scope {
            Scope::Hall(of) => Some(of) == hall,
            Scope::Machine(of) => of == machine,
        })
        .map(|(index, _)| index)
}

/// The tray in which a span lies, else the one in which it starts; of several the cheapest to stop in.
fn tray_at(basis: &PlanBasis, service: usize, day: usize, span: Span) -> Option<(usize, bool)> {
    let machine = basis.problem.services.get(service)?.machine;
    trays_of(basis, machine)
        .filter_map(|index| {
            let window = basis.problem.windows.get(index)?;
            let starts = window.day == day && window.span.from <= span.from && span.from < window.span.to;
            starts.then_some((index, span.to <= window.span.to, window.stop_factor))
        })
        .min_by_key(|(index, holds, factor)| (!*holds, *factor, *index))
        .map(|(index, holds, _)| (index, holds))
}

fn technicians(basis: &PlanBasis, order: &Order) -> Vec<Option<usize>> {
    let known = basis.shop.technicians.len();
    order.technicians.iter().map(|name| basis.technicians.iter().take(known).position(|known| known == name)).collect()
}

/// A planned order: another window is a move, which costs the less the more notice it has.
fn book(basis: &mut PlanBasis, service: usize, order: &Order, day: usize, minute: i64) {
    let Some(minutes) = basis.services.get(service).map(|service| service.minutes) else { return };
    let span = Span { from: minute, to: minute + minutes };
    let window = tray_at(basis, service, day, span).map(|(window, _)| window);
    let missing = (NOTICE_WEEKS - day as i64 / 7).max(0);
    let move_cost = trays::cents(basis.shop.settings.move_cost_per_week) * missing;
    let people: Option<Vec<usize>> = technicians(basis, order).into_iter().collect();
    if let Some(job) = basis.problem.services.get_mut(service) {
        job.booked = Some(Booked { window, move_cost });
        let people = people.filter(|people| people.len() == job.crew);
        if let (Some(window), Some(technicians)) = (window, people)
            && let Some(place) = basis.booked.places.get_mut(service)
        {
            *place = Some(Place { window, start: minute, technicians });
            return;
        }
    }
    let Some(of) = basis.services.get(service) else { return };
    let why = if window.is_none() {
        "Booked outside every downtime window."
    } else {
        "Booked for another number of people than it takes, or for unknown ones."
    };
    let end = minute + minutes + basis.problem.lockout_min;
    basis.loose.push(PlacedService {
        spindle: of.spindle,
        kind: of.kind,
        minutes,
        order: of.order,
        place: Placement {
            tray: window,
            start: basis.grid.moment(day, minute),
            end: basis.grid.moment(day, end),
            technicians: order.technicians.clone(),
        },
        held: false,
        service_by: of.service_by,
        moved_from: None,
        costs: Costs::default(),
        chance_crossed: Percent::ZERO,
        why: why.to_owned(),
    });
}

/// Held orders, in the order of their starts. One that lies in no tray, lockout included where its
/// service would do it, gets a window of its own; so does a person the shop does not know.
fn hold(basis: &mut PlanBasis, standing: &[Standing], held: &[(i64, i64, usize)]) {
    let lockout = basis.problem.lockout_min;
    let mut stops: BTreeMap<(usize, usize), i64> = BTreeMap::new();
    for (day, start, index) in held {
        let (Some(Standing { service, order, .. }), Ok(day)) = (standing.get(*index), usize::try_from(*day)) else {
            continue;
        };
        let Some(minutes) = basis.services.get(*service).map(|service| service.minutes) else { continue };
        let Some((machine, crew)) = basis.problem.services.get(*service).map(|job| (job.machine, job.crew)) else {
            continue;
        };
        let line = basis.problem.machines.get(machine).copied().unwrap_or(0);
        let found = tray_at(basis, *service, day, Span { from: *start, to: start + minutes });
        let in_tray = found.filter(|(_, holds)| *holds).map(|(tray, _)| tray).filter(|tray| {
            let is_first = !stops.contains_key(&(line, *tray));
            let end = start + minutes + if is_first { lockout } else { 0 };
            basis.problem.windows.get(*tray).is_some_and(|window| end <= window.span.to)
        });
        let whole = Span { from: *start, to: start + minutes + lockout };
        let window = in_tray.unwrap_or_else(|| {
            basis.problem.add_window(PlanWindow {
                scope: Scope::Machine(machine),
                day,
                span: whole,
                stop_factor: 100,
                premium_per_hour: 0,
            })
        });
        stops.entry((line, window)).or_insert(*start);
        let mut people: Vec<Option<usize>> = technicians(basis, order);
        people.resize(crew, None);
        let technicians: Vec<usize> = people
            .into_iter()
            .enumerate()
            .map(|(nth, known)| {
                known.unwrap_or_else(|| {
                    let name = order.technicians.get(nth).cloned().unwrap_or_default();
                    basis.technicians.push(name);
                    basis.problem.technicians.push(people::stranger(day, whole));
                    basis.technicians.len() - 1
                })
            })
            .collect();
        let place = Place { window, start: *start, technicians };
        if let Some(job) = basis.problem.services.get_mut(*service) {
            job.held = Some(place.clone());
        }
        if let Some(booked) = basis.booked.places.get_mut(*service) {
            *booked = Some(place);
        }
    }
}

/// A held order before or after the days of the plan: it stays where it is, and its kit is taken.
fn leave_outside(basis: &mut PlanBasis, service: usize, order: &Order) {
    let (Some(moment), Some(plan)) = (order.start, basis.services.get(service).cloned()) else { return };
    let (start, day) = (moment.date_time(), basis.shop.settings.day_of_start(moment));
    let is_past = day <= basis.as_of;
    if is_past {
        if order.state != OrderState::UnderWay && order.state != OrderState::PartlyDone {
            let day = words::date_long(day, basis.as_of);
            basis.remarks.push(format!(
                "Order {} of {} was to start on {day}: close it, or give it another start.",
                order.name, plan.position
            ));
        }
        let kit = basis.problem.services.get(service).map(|job| job.parts.clone()).unwrap_or_default();
        for (part, quantity) in kit {
            if let Some(stock) = basis.problem.parts.get_mut(part) {
                stock.on_hand = (stock.on_hand - quantity).max(0);
            }
        }
    }
    let end = start.checked_add_signed(TimeDelta::minutes(plan.minutes)).unwrap_or(start);
    basis.outside.push(PlacedService {
        spindle: plan.spindle,
        kind: plan.kind,
        minutes: plan.minutes,
        order: plan.order,
        place: Placement { tray: None, start, end, technicians: order.technicians.clone() },
        held: true,
        service_by: plan.service_by,
        moved_from: None,
        costs: Costs::default(),
        chance_crossed: Percent::ZERO,
        why: if is_past { "held before the first day of the plan" } else { "held after the last day of the plan" }
            .to_owned(),
    });
}
