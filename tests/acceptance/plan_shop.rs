//! Plans of shops, checked in the shop's own dates and names, by rules written here from the design
//! and by nothing of the planner's own checking.

use almanac_core::ids::{MachineId, OrderId, SpindleId};
use almanac_core::order::OrderState;
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::PlacedService;
use almanac_core::planning::propose::{NoPlanProgress, propose};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{Quantity, RunHours};
use almanac_core::windows::Windows;
use almanac_tests::planning_shop::planned::{CONFIG, Planned, SEEDS, order, plan, proposed};
use almanac_tests::planning_shop::{machine_of, planning_shop, present};
use chrono::{Datelike as _, Days, NaiveDate, NaiveDateTime, TimeDelta};
use std::collections::{BTreeMap, BTreeSet};

fn each(check: impl Fn(u64, &Planned)) {
    for seed in 0..SEEDS {
        check(seed, &plan(planning_shop(seed)));
    }
}

/// The day of the shop in which a moment lies.
fn shop_day(shop: &Shop, moment: NaiveDateTime) -> NaiveDate {
    let begins = shop.settings.day_begins - chrono::NaiveTime::MIN;
    (moment - begins).date()
}

#[test]
fn placed_and_left_are_exactly_what_is_due() {
    let mut placed = 0;
    each(|seed, planned| {
        let last = present().checked_add_days(Days::new(26 * 7 - 1)).unwrap();
        let mut due: BTreeSet<(SpindleId, Option<OrderId>)> = BTreeSet::new();
        for (id, forecast) in &planned.forecast.spindles {
            let spindle = &planned.shop.spindles[id];
            if planned.shop.position_on(*id, present()).is_none() {
                continue;
            }
            let open: Vec<OrderId> = planned
                .shop
                .orders
                .iter()
                .filter(|row| row.spindle == *id && row.is_open_on(present()))
                .map(|row| row.id)
                .collect();
            if open.is_empty() && forecast.service_by.is_some_and(|by| by <= last) && !spindle.is_out_on(present()) {
                due.insert((*id, None));
            }
            due.extend(open.into_iter().map(|order| (*id, Some(order))));
        }
        let proposal = &planned.proposal;
        let told: Vec<(SpindleId, Option<OrderId>)> = proposal
            .placed
            .iter()
            .map(|placed| (placed.spindle, placed.order))
            .chain(proposal.left.iter().map(|left| (left.spindle, left.order)))
            .collect();
        assert_eq!(told.iter().copied().collect::<BTreeSet<_>>(), due, "seed {seed}");
        assert_eq!(told.len(), due.len(), "seed {seed}: one is told twice");
    });
    for seed in 0..SEEDS {
        placed += proposed(&plan(planning_shop(seed))).count();
    }
    assert!(placed > 100, "the rules are tested on placements: {placed}");
}

#[test]
fn a_place_lies_in_a_window_of_its_machine_within_one_day_and_no_closure() {
    each(|seed, planned| {
        let shop = &planned.shop;
        let last = present().checked_add_days(Days::new(190)).unwrap();
        let windows = Windows::between(shop, present().pred_opt().unwrap(), last);
        for placed in proposed(planned) {
            let (start, end) = (placed.place.start, placed.place.end);
            let machine = machine_of(shop, placed.spindle);
            let holds = windows.of_machine(machine).into_iter().any(|window| {
                let row = shop.downtimes.iter().find(|row| row.id == window.downtime).unwrap();
                let closed = shop.closures.iter().any(|closure| closure.days.contains(window.start.date()));
                window.start <= start && end <= window.end && !(closed && row.repeat.is_some())
            });
            assert!(holds, "seed {seed}: {start} to {end} lies in no window");
            let last_minute = end - TimeDelta::minutes(1);
            assert_eq!(shop_day(shop, start), shop_day(shop, last_minute), "seed {seed}: over the shop's day");
            assert!(present() <= shop_day(shop, start), "seed {seed}: before the present");
            let tray = &planned.basis.trays()[placed.place.tray.unwrap()];
            assert!(tray.start <= start && end <= tray.end, "seed {seed}");
        }
    });
}

/// The shifts of somebody that cover a stretch, by the words of the register.
fn is_there(shop: &Shop, name: &str, start: NaiveDateTime, end: NaiveDateTime) -> bool {
    let person = shop.technicians.iter().find(|row| row.name == name).unwrap();
    let absent = |day: NaiveDate| person.absent.iter().any(|days| days.contains(day));
    if absent(start.date()) || absent((end - TimeDelta::minutes(1)).date()) {
        return false;
    }
    [start.date().pred_opt().unwrap(), start.date()].into_iter().any(|day| {
        person.shifts.iter().any(|shift| {
            let to_day = if shift.from < shift.to { day } else { day.succ_opt().unwrap() };
            shift.is_on(day.weekday())
                && !absent(day)
                && day.and_time(shift.from) <= start
                && end <= to_day.and_time(shift.to)
        })
    })
}

#[test]
fn people_are_there_once_with_the_skill_and_within_their_hours() {
    each(|seed, planned| {
        let shop = &planned.shop;
        for placed in proposed(planned) {
            let people = &placed.place.technicians;
            let spindle = &shop.spindles[&placed.spindle];
            let row =
                shop.service_kinds.iter().find(|row| row.kind == placed.kind && row.interface == spindle.interface);
            let crew = row.map_or(1, |row| row.crew as usize);
            assert_eq!(people.len(), crew, "seed {seed}");
            assert_eq!(people.iter().collect::<BTreeSet<_>>().len(), crew, "seed {seed}: one person twice");
            let lead = shop.technicians.iter().find(|row| row.name == people[0]).unwrap();
            assert!(lead.skills.contains(&placed.kind), "seed {seed}: {} leads a {:?}", people[0], placed.kind);
            for name in people {
                assert!(
                    is_there(shop, name, placed.place.start, placed.place.end),
                    "seed {seed}: {name} is not there at {}",
                    placed.place.start
                );
            }
        }
        let all = &planned.proposal.placed;
        for (nth, one) in all.iter().enumerate() {
            for other in all.iter().skip(nth + 1).filter(|other| !one.held || !other.held) {
                let apart = one.place.end <= other.place.start || other.place.end <= one.place.start;
                let shared = one.place.technicians.iter().any(|name| other.place.technicians.contains(name));
                assert!(apart || !shared, "seed {seed}: one person at {} and {}", one.place.start, other.place.start);
                let same = machine_of(shop, one.spindle) == machine_of(shop, other.spindle);
                assert!(apart || !same, "seed {seed}: one machine at {} and {}", one.place.start, other.place.start);
            }
        }
        for row in shop.technicians.iter() {
            let Some(most) = row.hours_per_day else { continue };
            let mut days: BTreeMap<NaiveDate, (i64, bool)> = BTreeMap::new();
            for placed in all.iter().filter(|placed| placed.place.technicians.contains(&row.name)) {
                let day = days.entry(shop_day(shop, placed.place.start)).or_default();
                day.0 += (placed.place.end - placed.place.start).num_minutes();
                day.1 |= !placed.held;
            }
            for (day, (minutes, is_proposed)) in days {
                let fits = minutes as f64 <= RunHours::get(most) * 60.0 + 1e-9;
                assert!(fits || !is_proposed, "seed {seed}: {} has {minutes} min on {day}", row.name);
            }
        }
    });
}

#[test]
fn a_stop_begins_with_its_lockout() {
    each(|seed, planned| {
        let shop = &planned.shop;
        let lockout = TimeDelta::minutes(shop.settings.lockout.get() as i64);
        let mut stops: BTreeMap<(String, usize), Vec<&PlacedService>> = BTreeMap::new();
        for placed in planned.proposal.placed.iter() {
            let Some(tray) = placed.place.tray else { continue };
            let machine = machine_of(shop, placed.spindle);
            let of = &shop.machines[&machine];
            let line = of.line.as_ref().map_or_else(|| of.name.clone(), |line| format!("{line}, {}", of.hall));
            stops.entry((line, tray)).or_default().push(placed);
        }
        for ((line, _), mut services) in stops {
            services.sort_by_key(|placed| placed.place.start);
            for (nth, placed) in services.iter().enumerate() {
                let work = TimeDelta::minutes(placed.minutes);
                let lasts = placed.place.end - placed.place.start;
                let first = services[0].place.start;
                if nth == 0 {
                    assert_eq!(lasts, lockout + work, "seed {seed}, {line}");
                } else {
                    assert_eq!(lasts, work, "seed {seed}, {line}");
                    assert!(first + lockout <= placed.place.start || placed.held, "seed {seed}, {line}");
                }
            }
        }
    });
}

#[test]
fn parts_and_gauges_suffice() {
    each(|seed, planned| {
        let shop = &planned.shop;
        let mut days: Vec<NaiveDate> =
            planned.proposal.placed.iter().map(|placed| shop_day(shop, placed.place.start)).collect();
        days.sort_unstable();
        days.dedup();
        for day in days {
            for part in shop.parts.iter() {
                let lead =
                    part.lead_time_days.map(|lead| present().checked_add_days(Days::new(u64::from(lead))).unwrap());
                if lead.is_some_and(|ordered| ordered <= day) {
                    continue;
                }
                let coming =
                    shop.deliveries.iter().filter(|d| d.part == part.name && d.expected_on.max(present()) <= day);
                let there = part.on_hand + coming.map(|delivery| delivery.quantity).sum::<f64>();
                let takes = |placed: &PlacedService| -> f64 {
                    let interface = &shop.spindles[&placed.spindle].interface;
                    let lines =
                        shop.kit_lines.iter().filter(|line| line.kind == placed.kind && line.interface == *interface);
                    lines.filter(|line| line.part == part.name).map(|line| line.quantity).sum()
                };
                let until: Vec<&PlacedService> =
                    planned.proposal.placed.iter().filter(|placed| shop_day(shop, placed.place.start) <= day).collect();
                let taken: f64 = until.iter().map(|placed| takes(placed)).sum();
                let is_proposed = until.iter().any(|placed| !placed.held && takes(placed) > 0.0);
                assert!(
                    taken <= there + 1e-9 || !is_proposed,
                    "seed {seed}: {taken} of {} by {day}, {there} there",
                    part.name
                );
            }
            let gauges: Vec<_> = shop.gauges.iter().filter(|gauge| gauge.quantity == Quantity::ClampForce).collect();
            let is_in = |gauge: &&&almanac_core::ids::Row<_, almanac_core::gauge::Gauge>| {
                !gauge.out.iter().any(|days| days.contains(day)) && gauge.calibration_due.is_none_or(|due| day <= due)
            };
            let any_number = gauges.iter().filter(is_in).any(|gauge| gauge.services_per_day.is_none());
            let room: u32 = gauges.iter().filter(is_in).filter_map(|gauge| gauge.services_per_day).sum();
            let on_day: Vec<&PlacedService> = planned
                .proposal
                .placed
                .iter()
                .filter(|placed| shop_day(shop, placed.place.start) == day && needs_force_gauge(shop, placed))
                .collect();
            let fits = any_number || on_day.len() <= room as usize;
            assert!(
                fits || on_day.iter().all(|placed| placed.held),
                "seed {seed}: {} services on {day}, room for {room}",
                on_day.len()
            );
        }
    });
}

/// A gauge of clamp force where the shop says nothing else; it lists none of setting dimensions.
fn needs_force_gauge(shop: &Shop, placed: &PlacedService) -> bool {
    let interface = &shop.spindles[&placed.spindle].interface;
    let row = shop.service_kinds.iter().find(|row| row.kind == placed.kind && row.interface == *interface);
    row.and_then(|row| row.gauge_quantity).is_none_or(|quantity| quantity == Quantity::ClampForce)
}

#[test]
fn what_is_held_or_issued_stays_to_the_minute() {
    let mut held = 0;
    for seed in 0..SEEDS {
        let planned = plan(planning_shop(seed));
        let fixed = planned.shop.orders.iter().filter(|row| {
            row.is_open_on(present()) && row.start.is_some() && (row.held || row.state == OrderState::Issued)
        });
        for row in fixed {
            let placed = planned.proposal.placed.iter().find(|placed| placed.order == Some(row.id)).unwrap();
            assert_eq!(placed.place.start, row.start.unwrap().date_time(), "seed {seed}, {}", row.name);
            assert!(placed.held);
            let known: Vec<&String> = row.technicians.iter().filter(|name| shop_knows(&planned.shop, name)).collect();
            assert!(known.into_iter().all(|name| placed.place.technicians.contains(name)), "seed {seed}");
            assert!(planned.proposal.changes.iter().all(|change| change.order != Some(row.id)), "seed {seed}");
            held += 1;
        }
    }
    assert!(held > 30, "{held}");
}

fn shop_knows(shop: &Shop, name: &str) -> bool {
    shop.technicians.iter().any(|row| row.name == name)
}

#[test]
fn costs_add_up_and_the_same_shop_gives_the_same_plan() {
    each(|seed, planned| {
        let proposal = &planned.proposal;
        let cents = |amount: f64| (amount * 100.0).round() as i64;
        let placed: i64 = proposal.placed.iter().map(|placed| cents(placed.costs.total().get())).sum();
        let left: i64 = proposal.left.iter().map(|left| cents(left.cost.get())).sum();
        assert_eq!(placed + left, cents(proposal.costs.total().get()), "seed {seed}");
        let again = propose(&planned.basis, &CONFIG, &NoPlanProgress).unwrap();
        assert_eq!(&again, proposal, "seed {seed}");
        for placed in proposed(planned) {
            assert!(!placed.why.is_empty(), "seed {seed}");
        }
        assert!(proposal.left.iter().all(|left| left.words.ends_with('.')), "seed {seed}");
    });
}

/// Every tray for every service: what weighing says is free keeps the rules; the chance grows with
/// the day; nothing that the design forbids may be taken with a note.
#[test]
fn weighing_says_what_a_place_costs_and_breaks() {
    let mut free = 0;
    for seed in 0..12 {
        let planned = plan(planning_shop(seed));
        for service in planned.basis.services() {
            let mut chance = -1.0;
            for (tray, window) in planned.basis.trays().iter().enumerate() {
                let trial = Trial { service: service.key(), tray, start: None, technicians: None };
                let Some(weighed) = weigh(&planned.basis, &planned.proposal, &trial) else {
                    assert!(!is_for(&planned.shop, window.machine, &window.hall, service.machine));
                    continue;
                };
                assert!(is_for(&planned.shop, window.machine, &window.hall, service.machine));
                assert_eq!(weighed.place.tray, Some(tray));
                assert!(chance <= weighed.chance_there.get() + 1e-9, "seed {seed}");
                chance = weighed.chance_there.get();
                let late = service.service_by.is_some_and(|by| by < shop_day(&planned.shop, window.start));
                assert_eq!(
                    weighed.broken.iter().any(|rule| rule.words.contains("after the service-by date")),
                    late,
                    "seed {seed}: {:?}",
                    weighed.broken
                );
                let may = |words: &str| {
                    ["after the service-by", "shift", "before the kit", "are allowed", "would be taken by"]
                        .iter()
                        .any(|known| words.contains(known))
                };
                for rule in &weighed.broken {
                    assert_eq!(rule.with_note, may(&rule.words), "seed {seed}: {}", rule.words);
                }
                if weighed.broken.is_empty() {
                    free += 1;
                    let (start, end) = (weighed.place.start, weighed.place.end);
                    assert!(window.start <= start && end <= window.end);
                    for name in &weighed.place.technicians {
                        assert!(is_there(&planned.shop, name, start, end), "seed {seed}: {name}");
                    }
                }
            }
        }
    }
    assert!(free > 100, "{free}");
}

fn is_for(shop: &Shop, machine: Option<MachineId>, hall: &str, of: MachineId) -> bool {
    machine.map_or_else(|| shop.machines[&of].hall == hall, |machine| machine == of)
}

/// With everything else equal on each day, the cheapest day is the service-by day: no window or
/// person is in the way, a stop costs nothing, and waiting costs what the accepted risk says.
#[test]
fn the_cheapest_day_is_the_service_by_day() {
    let mut compared = 0;
    for seed in 0..20 {
        let planned = plan(planning_shop(seed));
        for (service, job) in planned.basis.services().iter().zip(&planned.basis.problem().services) {
            let forecast = &planned.forecast.spindles[&service.spindle];
            let Some(by) = forecast.service_by.filter(|by| *by <= planned.basis.last()) else { continue };
            if job.day_below_cost == 0 || machine_says(&planned.shop, service.machine) {
                continue;
            }
            let days = planned.basis.problem().days;
            let cost = |day: usize| -> i64 {
                (0..days)
                    .map(|t| {
                        let crossed = job.crossed_on(t);
                        if t < day { job.day_below_cost * crossed } else { job.unused_day_value * (70_000 - crossed) }
                    })
                    .sum()
            };
            let cheapest = (0..days).min_by_key(|day| cost(*day)).unwrap();
            let date = present().checked_add_days(Days::new(cheapest as u64)).unwrap();
            assert_eq!(date, by, "seed {seed}, {}", service.position);
            compared += 1;
        }
    }
    assert!(compared > 30, "{compared}");
}

fn machine_says(shop: &Shop, machine: MachineId) -> bool {
    shop.machines[&machine].day_below_cost.is_some()
}

#[test]
fn a_spindle_under_way_is_not_planned_again_and_a_clash_is_told() {
    let mut shop = planning_shop(3);
    let orders = std::sync::Arc::make_mut(&mut shop.orders);
    let first = orders[0].value.start.unwrap_or_else(|| almanac_core::moment::Moment::day(present()));
    for row in orders.iter_mut() {
        row.value.start = Some(first);
        row.value.held = true;
        row.value.technicians = vec!["Brook".to_owned()];
    }
    orders[2].value.state = OrderState::UnderWay;
    orders[2].value.start = None;
    let spindle = orders[2].spindle;
    let planned = plan(shop);
    assert!(planned.basis.services().iter().all(|service| service.spindle != spindle));
    let text = planned.proposal.clashes.join(" ");
    assert!(text.contains("Brook would be at"), "{text}");
    assert_eq!(planned.proposal.placed.iter().filter(|placed| placed.held).count(), 2, "both stay");
}

#[test]
fn kinds_follow_the_forecast_unless_the_order_says_otherwise() {
    each(|seed, planned| {
        for service in planned.basis.services() {
            let forecast = &planned.forecast.spindles[&service.spindle];
            let expected = match service.order {
                Some(id) => order(&planned.shop, id).kind,
                None => match (forecast.major_service_by, forecast.service_by) {
                    (Some(major), Some(by)) if major <= by => Kind::Major,
                    _ => Kind::Minor,
                },
            };
            assert_eq!(service.kind, expected, "seed {seed}");
        }
    });
}
