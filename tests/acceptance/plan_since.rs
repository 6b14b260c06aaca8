//! What came between a proposal and its acceptance: such lines are not accepted, and it is said why.

use almanac_core::planning::accept::{ByHand, Lines, accept, place_by_hand};
use almanac_core::planning::proposal::{PlacedService, PlanChangeKind, Proposal, ServiceKey};
use almanac_core::planning::since::no_longer;
use almanac_core::shop::Shop;
use almanac_core::spindle::NotBefore;
use almanac_tests::planning_shop::planned::{Planned, SEEDS, plan};
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use chrono::Days;
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
