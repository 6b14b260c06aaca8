//! What came between a proposal and its acceptance: such lines are not accepted, and it is said why.

use almanac_core::ids::{KitLineId, MachineId, MountingId, OrderId, PartId, Row, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::machine::Position;
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{KitLine, Part};
use almanac_core::planning::accept::{ByHand, Lines, accept, place_by_hand};
use almanac_core::planning::proposal::{PlacedService, PlanChangeKind, Proposal, ServiceKey};
use almanac_core::planning::since::no_longer;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::spindle::{NotBefore, Spindle};
use almanac_core::units::{Quantity, RunHours};
use almanac_tests::planning_shop::planned::{Planned, SEEDS, plan};
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use chrono::{Days, NaiveDate, NaiveTime};
use std::collections::BTreeSet;
use std::sync::Arc;

fn shops() -> impl Iterator<Item = (u64, Planned)> {
    (0..SEEDS / 2).map(|seed| (seed, plan(planning_shop(seed))))
}

/// The lines that add a service, with their places.
fn added(proposal: &Proposal) -> Vec<(usize, PlacedService)> {
    let changes = proposal.changes.iter().enumerate();
    changes
        .filter(|(_, change)| change.kind == PlanChangeKind::Added)
        .filter_map(|(line, change)| {
            Some((line, proposal.placed.iter().find(|one| one.key() == change.key())?.clone()))
        })
        .collect()
}

fn stands_at(shop: &Shop, key: ServiceKey, placed: &PlacedService) -> bool {
    shop.orders
        .iter()
        .any(|row| row.spindle == key.spindle && row.start.is_some_and(|at| at.date_time() == placed.place.start))
}

#[test]
fn nothing_stands_against_lines_that_are_accepted_one_by_one_in_any_order() {
    let mut accepted = 0;
    for (seed, planned) in shops() {
        let count = planned.proposal.changes.len();
        for lines in [(0..count).collect::<Vec<_>>(), (0..count).rev().collect()] {
            let mut shop = planned.shop.clone();
            for line in lines {
                let said = no_longer(&shop, &planned.proposal, Lines::All);
                assert_eq!(said, Vec::<String>::new(), "seed {seed}, line {line}");
                let Some(action) = accept(&shop, &planned.proposal, Lines::Some(&[line])) else { continue };
                shop = after_orders(&shop, &action);
                accepted += 1;
            }
        }
    }
    assert!(accepted > 80, "{accepted}");
}

#[test]
fn a_line_before_a_first_day_said_since_is_not_accepted() {
    let mut tried = 0;
    for (seed, planned) in shops() {
        for (line, placed) in added(&planned.proposal) {
            let day = planned.shop.settings.day_of(placed.place.start);
            let mut shop = planned.shop.clone();
            let mut say = |days: u64| {
                let not_before = NotBefore { day: day + Days::new(days), said_on: Some(present()) };
                let spindle = Arc::make_mut(&mut shop.spindles).get_mut(&placed.spindle).unwrap();
                spindle.not_before = Some(not_before);
                shop.clone()
            };
            let (same_day, day_after) = (say(0), say(1));
            assert!(accept(&same_day, &planned.proposal, Lines::Some(&[line])).is_some(), "seed {seed}");
            assert!(accept(&day_after, &planned.proposal, Lines::Some(&[line])).is_none(), "seed {seed}");
            let said = no_longer(&day_after, &planned.proposal, Lines::All);
            assert!(said.len() == 1 && said[0].contains("is not to be done before"), "seed {seed}: {said:?}");
            // the other lines are taken all the same
            let after = accept(&day_after, &planned.proposal, Lines::All);
            let after = after.map_or_else(|| day_after.clone(), |action| after_orders(&day_after, &action));
            assert!(!stands_at(&after, placed.key(), &placed), "seed {seed}");
            tried += 1;
        }
    }
    assert!(tried > 40, "{tried}");
}

#[test]
fn a_line_whose_person_was_booked_elsewhere_since_is_not_accepted() {
    let mut tried = 0;
    for (seed, planned) in shops() {
        let lines = added(&planned.proposal);
        let [(_, by_hand), (line, placed), ..] = &lines[..] else { continue };
        let place = &placed.place;
        let by_hand = ByHand { service: by_hand.key(), place, note: None };
        let shop = after_orders(&planned.shop, &place_by_hand(&planned.shop, &planned.proposal, &by_hand).unwrap());
        assert!(accept(&shop, &planned.proposal, Lines::Some(&[*line])).is_none(), "seed {seed}");
        let said = no_longer(&shop, &planned.proposal, Lines::Some(&[*line]));
        let who = &place.technicians[0];
        assert!(said.len() == 1 && said[0].starts_with(&format!("{who}, who was to do ")), "seed {seed}: {said:?}");
        assert!(said[0].ends_with("by now"), "seed {seed}: {said:?}");
        tried += 1;
    }
    assert!(tried > 10, "{tried}");
}

/// The same shop with one more spindle like that of a line, on a machine of its own, and an order for
/// it on a day at a minute before midnight, for somebody nobody else waits for.
fn with_booking(shop: &Shop, placed: &PlacedService, day: NaiveDate) -> Shop {
    let mut shop = shop.clone();
    let spindle = shop.spindles[&placed.spindle].clone();
    let id = SpindleId::from_row(9_000);
    let mounting = shop.mountings.iter().find(|row| row.spindle == placed.spindle).unwrap();
    let machine = MachineId::from_row(9_000);
    let mut described = shop.machines[&mounting.position.machine].clone();
    (described.name, described.line) = ("X-01".to_owned(), None);
    let mut mounting = mounting.value;
    (mounting.spindle, mounting.position) = (id, Position { machine, number: 1 });
    Arc::make_mut(&mut shop.machines).insert(machine, described);
    Arc::make_mut(&mut shop.spindles).insert(id, Spindle { name: "S-9000".to_owned(), ..spindle });
    Arc::make_mut(&mut shop.mountings).push(Row { id: MountingId::from_row(9_000), value: mounting });
    let order = Order {
        name: "99-001".to_owned(),
        spindle: id,
        kind: placed.kind,
        state: OrderState::Planned,
        opened_on: Some(present()),
        service_by: None,
        start: Some(Moment { date: day, time: NaiveTime::from_hms_opt(23, 59, 0) }),
        duration: RunHours::new(1.0),
        technicians: vec!["Nobody of ours".to_owned()],
        held: false,
        closed_on: None,
        note: String::new(),
    };
    Arc::make_mut(&mut shop.orders).push(Row { id: OrderId::from_row(9_000), value: order });
    shop
}

/// Whether a line is still accepted, and what is said of it.
fn tried(shop: &Shop, planned: &Planned, line: usize) -> (bool, Vec<String>) {
    let lines = [line];
    let accepted = accept(shop, &planned.proposal, Lines::Some(&lines)).is_some();
    (accepted, no_longer(shop, &planned.proposal, Lines::Some(&lines)))
}

#[test]
fn a_line_whose_gauge_was_booked_since_is_not_accepted() {
    let mut done = 0;
    for (seed, mut planned) in shops() {
        let Some((line, placed)) = added(&planned.proposal).into_iter().next() else { continue };
        // one gauge of clamp force, with room for as many services as the plan has on that day
        let day = planned.shop.settings.day_of(placed.place.start);
        let on_day = |one: &&PlacedService| planned.shop.settings.day_of(one.place.start) == day;
        let count = planned.proposal.placed.iter().filter(on_day).count();
        for row in Arc::make_mut(&mut planned.shop.service_kinds) {
            row.value.gauge_quantity = None;
        }
        planned.shop.kit_lines = Arc::default();
        let gauges = Arc::make_mut(&mut planned.shop.gauges);
        gauges.retain(|row| row.quantity == Quantity::ClampForce);
        gauges.truncate(1);
        let Some(gauge) = gauges.first_mut() else { continue };
        let gauge = &mut gauge.value;
        (gauge.calibration_due, gauge.services_per_day) = (None, Some(u32::try_from(count).unwrap()));
        gauge.out.clear();
        assert_eq!(tried(&planned.shop, &planned, line), (true, Vec::new()), "seed {seed}");
        let next_day = day.succ_opt().unwrap();
        assert!(tried(&with_booking(&planned.shop, &placed, next_day), &planned, line).0, "seed {seed}");
        let (is_accepted, said) = tried(&with_booking(&planned.shop, &placed, day), &planned, line);
        assert!(!is_accepted && said.len() == 1, "seed {seed}: {said:?}");
        assert!(said[0].starts_with("the gauges of clamp force are booked for others by now, so "), "{said:?}");
        let gauge = &mut Arc::make_mut(&mut planned.shop.gauges)[0].value;
        gauge.services_per_day = Some(u32::try_from(count).unwrap() + 1);
        assert!(tried(&with_booking(&planned.shop, &placed, day), &planned, line).0, "seed {seed}: room for one more");
        done += 1;
    }
    assert!(done > 8, "{done}");
}

#[test]
fn a_line_whose_part_was_booked_since_is_not_accepted() {
    let mut done = 0;
    for (seed, mut planned) in shops() {
        let lines = added(&planned.proposal);
        let Some((line, placed)) = lines.first().cloned() else { continue };
        let day = planned.shop.settings.day_of(placed.place.start);
        // every service takes one of one part, of which there are as many as the plan takes
        let interfaces: BTreeSet<Interface> =
            planned.shop.spindles.values().map(|spindle| spindle.interface.clone()).collect();
        let kits = interfaces.into_iter().flat_map(|interface| Kind::ALL.map(|kind| (interface.clone(), kind)));
        let kits = kits.enumerate().map(|(nth, (interface, kind))| {
            let value = KitLine { interface, kind, part: "seal ring".to_owned(), quantity: 1.0 };
            Row { id: KitLineId::from_row(nth as i64 + 1), value }
        });
        planned.shop.kit_lines = Arc::new(kits.collect());
        (planned.shop.deliveries, planned.shop.gauges) = (Arc::default(), Arc::default());
        let begun: BTreeSet<OrderId> =
            planned.shop.orders.iter().filter(|row| row.has_begun()).map(|row| row.id).collect();
        let takes = |one: &&PlacedService| !one.order.is_some_and(|order| begun.contains(&order));
        let count = planned.proposal.placed.iter().filter(takes).count();
        let stocked = |on_hand: usize| {
            let mut shop = planned.shop.clone();
            let part = Part {
                name: "seal ring".to_owned(),
                description: String::new(),
                on_hand: on_hand as f64,
                unit: String::new(),
                lead_time_days: None,
                price: None,
                reorder_point: None,
            };
            shop.parts = Arc::new(vec![Row { id: PartId::from_row(1), value: part }]);
            shop
        };
        let shop = stocked(count);
        assert_eq!(tried(&shop, &planned, line), (true, Vec::new()), "seed {seed}");
        // before it or after it: the last of them finds nothing
        for on in [day, planned.proposal.last] {
            let (is_accepted, said) = tried(&with_booking(&shop, &placed, on), &planned, line);
            assert!(!is_accepted && said.len() == 1, "seed {seed}: {said:?}");
            assert!(said[0].starts_with("seal ring is taken for others by now, so "), "{said:?}");
        }
        assert!(tried(&with_booking(&stocked(count + 1), &placed, day), &planned, line).0, "seed {seed}");
        done += 1;
    }
    assert!(done > 8, "{done}");
}
