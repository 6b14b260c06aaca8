//! Plans of shops become orders: what is accepted, held, taken off or overtaken, and what stands as
//! booked after it.

use almanac_core::due::due_list;
use almanac_core::moment::Moment;
use almanac_core::order::OrderState;
use almanac_core::planning::accept::{Lines, accept, hold, overtaken, take_off};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::{PlanChange, PlanChangeKind};
use almanac_core::planning::propose::{NoPlanProgress, booked, propose};
use almanac_tests::planning_shop::planned::{CONFIG, SEEDS, order, plan, proposed};
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use std::collections::BTreeSet;
use std::sync::Arc;

#[test]
fn what_is_accepted_is_booked_and_a_second_proposal_changes_nothing() {
    let mut added = 0;
    for seed in 0..SEEDS {
        let planned = plan(planning_shop(seed));
        let Some(action) = accept(&planned.shop, &planned.proposal, Lines::All) else { continue };
        let shop = after_orders(&planned.shop, &action);
        let names: BTreeSet<&str> = shop.orders.iter().map(|row| row.value.name.as_str()).collect();
        assert_eq!(names.len(), shop.orders.len(), "seed {seed}: a number is given twice");
        for placed in proposed(&planned) {
            let row = shop
                .orders
                .iter()
                .find(|row| {
                    row.spindle == placed.spindle && row.start.is_some_and(|at| at.date_time() == placed.place.start)
                })
                .unwrap();
            assert_eq!(row.technicians, placed.place.technicians, "seed {seed}");
            let before = placed.order.map_or(OrderState::Planned, |id| order(&planned.shop, id).state);
            assert_eq!(row.state, before, "seed {seed}");
            assert_eq!((row.duration.unwrap().get() * 60.0).round() as i64, placed.minutes);
            if placed.order.is_none() {
                assert!(row.name.starts_with("26-"), "{}", row.name);
                assert_eq!((row.opened_on, row.service_by), (Some(present()), placed.service_by));
                added += 1;
            }
        }
        // the same proposal once more, as when a key is pressed twice
        assert!(accept(&shop, &planned.proposal, Lines::All).is_none(), "seed {seed}");
        assert_eq!(overtaken(&shop, &planned.proposal, Lines::All), Vec::<String>::new(), "seed {seed}");
        let (forecast, due) = (planned.forecast.clone(), due_list(&shop, &planned.forecast));
        let basis = PlanBasis::of(&shop, &forecast, &due, present(), &CONFIG);
        // a plan from before its order was opened still speaks of the same service
        for placed in proposed(&planned).filter(|placed| placed.order.is_none()) {
            let tray = placed.place.tray.unwrap();
            let trial = Trial { service: placed.key(), tray, start: None, technicians: None };
            assert!(weigh(&basis, &planned.proposal, &trial).is_some(), "seed {seed}");
        }
        let second = propose(&basis, &CONFIG, &NoPlanProgress).unwrap();
        assert_eq!(second.changes, Vec::new(), "seed {seed}");
        assert!(accept(&shop, &second, Lines::All).is_none());
        let mut now = booked(&basis);
        now.cheapest_possible = second.cheapest_possible;
        assert_eq!(now, second, "seed {seed}: what is booked is what is proposed");
    }
    assert!(added > 60, "{added}");
}

#[test]
fn by_hand_only_the_crew_is_chosen() {
    let mut weighed = 0;
    for seed in 0..SEEDS / 3 {
        let mut shop = planning_shop(seed);
        // issued to nobody by name: somebody unknown is there for that one service
        let mut nobody = 0;
        for row in Arc::make_mut(&mut shop.orders).iter_mut().filter(|row| row.value.state == OrderState::Issued) {
            row.value.technicians.clear();
            nobody += 1;
        }
        if nobody == 0 {
            continue;
        }
        let planned = plan(shop);
        let crew: BTreeSet<&str> = planned.shop.technicians.iter().map(|row| row.value.name.as_str()).collect();
        for service in planned.basis.services().iter().filter(|service| !service.held) {
            for tray in 0..planned.basis.trays().len() {
                let trial = Trial { service: service.key(), tray, start: None, technicians: None };
                let Some(found) = weigh(&planned.basis, &planned.proposal, &trial) else { continue };
                for who in &found.place.technicians {
                    assert!(crew.contains(who.as_str()), "seed {seed}: '{who}' is none of the crew");
                }
                weighed += 1;
            }
        }
    }
    assert!(weighed > 100, "{weighed}");
}

#[test]
fn what_is_booked_outside_every_window_costs_nothing_as_left() {
    let mut outside = 0;
    for seed in 0..SEEDS / 3 {
        let mut shop = planning_shop(seed);
        for row in Arc::make_mut(&mut shop.orders).iter_mut().filter(|row| row.value.state == OrderState::Planned) {
            let moment = row.value.start.map(|start| start.date.and_hms_opt(3, 7, 0).unwrap());
            row.value.start = moment.map(|at| Moment { date: at.date(), time: Some(at.time()) });
        }
        let planned = plan(shop);
        let plan = booked(&planned.basis);
        outside += plan.placed.iter().filter(|placed| placed.place.tray.is_none()).count();
        let left: f64 = plan.left.iter().map(|left| left.cost.get()).sum();
        assert!((plan.costs.left.get() - left).abs() < 0.005, "seed {seed}: {} is not {left}", plan.costs.left.get());
    }
    assert!(outside > 5, "{outside}");
}

#[test]
fn an_order_issued_since_the_proposal_stays_as_it_is() {
    let mut tried = 0;
    for seed in 0..SEEDS {
        let planned = plan(planning_shop(seed));
        let moves = |change: &&PlanChange| matches!(change.kind, PlanChangeKind::Moved | PlanChangeKind::TakenOff);
        let Some(change) = planned.proposal.changes.iter().find(moves) else { continue };
        let mut shop = planned.shop.clone();
        let rows = Arc::make_mut(&mut shop.orders);
        let row = rows.iter_mut().find(|row| Some(row.id) == change.order).unwrap();
        row.value.state = OrderState::Issued;
        let issued = row.clone();
        let after = match accept(&shop, &planned.proposal, Lines::All) {
            Some(action) => after_orders(&shop, &action),
            None => shop.clone(),
        };
        assert_eq!(*order(&after, issued.id), issued.value, "seed {seed}");
        assert_eq!(overtaken(&shop, &planned.proposal, Lines::All), std::slice::from_ref(&issued.name), "seed {seed}");
        // and one that was taken away opens no other
        Arc::make_mut(&mut shop.orders).retain(|row| row.id != issued.id);
        let index = planned.proposal.changes.iter().position(|other| other == change).unwrap();
        assert!(accept(&shop, &planned.proposal, Lines::Some(&[index])).is_none(), "seed {seed}");
        tried += 1;
    }
    assert!(tried > 3, "{tried}");
}

#[test]
fn single_lines_can_be_accepted_held_and_taken_off() {
    let planned = (0..SEEDS)
        .map(|seed| plan(planning_shop(seed)))
        .find(|p| p.proposal.changes.iter().filter(|change| change.kind == PlanChangeKind::Added).count() > 1);
    let planned = planned.unwrap();
    let added = planned.proposal.changes.iter().position(|change| change.kind == PlanChangeKind::Added).unwrap();
    let action = accept(&planned.shop, &planned.proposal, Lines::Some(&[added])).unwrap();
    let shop = after_orders(&planned.shop, &action);
    let spindle = planned.proposal.changes[added].spindle;
    let row = shop.orders.iter().find(|row| row.spindle == spindle && row.is_open_on(present())).unwrap();
    let start = row.start;
    assert!(start.is_some());
    let held = after_orders(&shop, &hold(&shop, row.id, true).unwrap());
    assert!(order(&held, row.id).held);
    let basis = PlanBasis::of(&held, &planned.forecast, &planned.due, present(), &CONFIG);
    assert!(basis.services().iter().any(|service| service.order == Some(row.id) && service.held));
    let off = after_orders(&held, &take_off(&held, row.id).unwrap());
    assert_eq!((order(&off, row.id).start, order(&off, row.id).held), (None, false));
    assert!(take_off(&off, row.id).is_none(), "it has no place any more");
    assert!(hold(&off, row.id, true).is_none());
}
