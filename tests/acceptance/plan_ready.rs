//! A later first day for a service, as the planner says: plans and places by hand keep to it.

use almanac_core::due::due_list;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::ids::SpindleId;
use almanac_core::planning::accept::{Lines, accept};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::{BrokenRule, PlanChangeKind, PlanningConfig, Proposal};
use almanac_core::planning::propose::{NoPlanProgress, booked, propose};
use almanac_core::shop::Shop;
use almanac_core::spindle::NotBefore;
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use chrono::{Days, NaiveDate};
use std::sync::Arc;

const CONFIG: PlanningConfig = PlanningConfig { moves_per_service: 40, ..PlanningConfig::quick(26) };

fn basis(shop: &Shop) -> PlanBasis {
    let forecast = forecast_shop(shop, present(), &ForecastConfig::of(shop), &NoProgress).unwrap();
    PlanBasis::of(shop, &forecast, &due_list(shop, &forecast), present(), &CONFIG)
}

fn plan(shop: &Shop) -> Proposal {
    propose(&basis(shop), &CONFIG, &NoPlanProgress).unwrap()
}

fn not_before(shop: &mut Shop, spindle: SpindleId, day: NaiveDate) {
    let row = Arc::make_mut(&mut shop.spindles).get_mut(&spindle).unwrap();
    row.not_before = Some(NotBefore { day, said_on: Some(present()) });
}

/// A shop with its proposal booked, and a service of it that may be moved, with the day on which it
/// starts.
fn booked_shop(seed: u64) -> Option<(Shop, SpindleId, NaiveDate)> {
    let shop = planning_shop(seed);
    let proposal = plan(&shop);
    let shop = match accept(&shop, &proposal, Lines::All) {
        Some(step) => after_orders(&shop, &step),
        None => shop,
    };
    let placed = booked(&basis(&shop)).placed;
    let first = placed.iter().find(|placed| !placed.held && placed.place.tray.is_some())?;
    Some((shop.clone(), first.spindle, shop.settings.day_of(first.place.start)))
}

#[test]
fn a_proposal_moves_what_is_booked_before_its_first_day_and_says_why() {
    let (mut moved, mut told) = (0, 0);
    for seed in 0..40 {
        let Some((mut shop, spindle, stands)) = booked_shop(seed) else { continue };
        let ready = stands.checked_add_days(Days::new(1 + seed % 20)).unwrap();
        if ready <= present() {
            continue;
        }
        not_before(&mut shop, spindle, ready);
        let proposal = plan(&shop);
        for placed in proposal.placed.iter().filter(|placed| placed.spindle == spindle && !placed.held) {
            let day = shop.settings.day_of(placed.place.start);
            assert!(ready <= day, "seed {seed}: {day} lies before {ready}");
        }
        let change = proposal.changes.iter().find(|change| change.spindle == spindle).unwrap();
        assert!(matches!(change.kind, PlanChangeKind::Moved | PlanChangeKind::TakenOff), "seed {seed}: {change:?}");
        moved += 1;
        told += usize::from(change.why.contains("before the day from which on it may be done"));
    }
    assert!(moved > 15 && told > 5, "{moved} moved, {told} told");
}

#[test]
fn a_place_by_hand_before_the_first_day_is_refused_in_words() {
    let mut refused = 0;
    for seed in 0..30 {
        let Some((mut shop, spindle, stands)) = booked_shop(seed) else { continue };
        let ready = stands.checked_add_days(Days::new(3)).unwrap();
        let any_time = basis(&shop);
        not_before(&mut shop, spindle, ready);
        let basis = basis(&shop);
        let current = booked(&basis);
        let service = basis.services().iter().find(|service| service.spindle == spindle && !service.held).unwrap();
        for (tray, window) in basis.trays().iter().enumerate() {
            let trial = Trial { service: service.key(), tray, start: None, technicians: None };
            let Some(weighed) = weigh(&basis, &current, &trial) else { continue };
            let too_early = shop.settings.day_of(window.start) < ready;
            let rule = weighed.broken.iter().find(|rule| rule.words.contains("not before"));
            // where it is booked already it breaks no more than it did
            let is_here = current.placed.iter().any(|one| one.key() == service.key() && one.place.tray == Some(tray));
            if !is_here {
                assert_eq!(rule.is_some(), too_early, "seed {seed}, {}", window.start);
            }
            assert!(rule.is_none_or(|rule| !rule.with_note), "no note overrides it");
            // that it is too early is all that is wrong: start, people and other rules are those of any day
            let at_any_time = weigh(&any_time, &current, &trial).unwrap();
            assert_eq!(weighed.place, at_any_time.place, "seed {seed}, {}", window.start);
            let others: Vec<&BrokenRule> = weighed.broken.iter().filter(|one| Some(*one) != rule).collect();
            assert_eq!(others, at_any_time.broken.iter().collect::<Vec<_>>(), "seed {seed}, {}", window.start);
            refused += usize::from(rule.is_some());
        }
    }
    assert!(refused > 20, "{refused}");
}

#[test]
fn what_finds_no_window_after_its_first_day_is_left_with_that_reason() {
    let mut left = 0;
    for seed in 0..20 {
        let Some((mut shop, spindle, _)) = booked_shop(seed) else { continue };
        not_before(&mut shop, spindle, present().checked_add_days(Days::new(400)).unwrap());
        let proposal = plan(&shop);
        assert!(proposal.placed.iter().all(|placed| placed.spindle != spindle || placed.held), "seed {seed}");
        for one in proposal.left.iter().filter(|one| one.spindle == spindle && !one.for_next_plan) {
            assert!(one.words.starts_with("Not before "), "seed {seed}: {}", one.words);
            assert!(one.words.ends_with(", after the last day of this plan."), "seed {seed}: {}", one.words);
            left += 1;
        }
    }
    assert!(left > 5, "{left}");
}

#[test]
fn what_is_held_before_its_first_day_stays_and_is_told() {
    let mut told = 0;
    for seed in 0..20 {
        let Some((mut shop, spindle, stands)) = booked_shop(seed) else { continue };
        for row in Arc::make_mut(&mut shop.orders).iter_mut().filter(|row| row.value.spindle == spindle) {
            row.value.held = true;
        }
        not_before(&mut shop, spindle, stands.checked_add_days(Days::new(9)).unwrap());
        let proposal = plan(&shop);
        let stays = proposal.placed.iter().any(|placed| {
            placed.spindle == spindle && placed.held && shop.settings.day_of(placed.place.start) == stands
        });
        assert!(stays, "seed {seed}");
        told += usize::from(proposal.clashes.iter().any(|clash| clash.contains("may not be done yet on")));
    }
    assert!(told > 8, "{told}");
}
