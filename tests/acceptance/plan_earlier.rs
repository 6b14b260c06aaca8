//! Orders from before the plan are given a place in it by hand.

use almanac_core::actions::{Action, Change};
use almanac_core::due::due_list;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::moment::Moment;
use almanac_core::order::OrderState;
use almanac_core::planning::accept::{ByHand, place_by_hand};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::{PlanningConfig, Proposal, ServiceKey};
use almanac_core::planning::propose::booked;
use almanac_core::planning::week_view::{WeekView, earlier};
use almanac_core::shop::Shop;
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use std::sync::Arc;

const CONFIG: PlanningConfig = PlanningConfig::quick(26);

fn plan(shop: &Shop) -> (PlanBasis, Proposal, WeekView) {
    let forecast = forecast_shop(shop, present(), &ForecastConfig::of(shop), &NoProgress).unwrap();
    let due = due_list(shop, &forecast);
    let basis = PlanBasis::of(shop, &forecast, &due, present(), &CONFIG);
    let plan = booked(&basis);
    let view = WeekView::of(shop, (&forecast, &due), basis.trays(), &plan, None);
    (basis, plan, view)
}

/// The first order of a shop, as it was to start a week ago.
fn late(seed: u64, state: OrderState) -> (Shop, ServiceKey) {
    let mut shop = planning_shop(seed);
    let row = &mut Arc::make_mut(&mut shop.orders)[0];
    let start = (present() - chrono::Days::new(7)).and_hms_opt(7, 0, 0).unwrap();
    row.value.state = state;
    row.value.start = Some(Moment { date: start.date(), time: Some(start.time()) });
    row.value.opened_on = None;
    row.value.closed_on = None;
    let key = ServiceKey { spindle: row.spindle, order: Some(row.id) };
    (shop, key)
}

#[test]
fn an_order_from_before_the_plan_gets_a_window_and_is_no_longer_among_the_earlier_ones() {
    let mut placed = 0;
    for seed in 0..12 {
        for state in [OrderState::Planned, OrderState::Issued, OrderState::PartlyDone] {
            let (shop, key) = late(seed, state);
            let (basis, plan, view) = self::plan(&shop);
            assert!(view.earlier.iter().any(|order| order.service == key), "seed {seed} {state:?}");
            let found = (0..basis.trays().len()).find_map(|tray| {
                let trial = Trial { service: key, tray, start: None, technicians: None };
                weigh(&basis, &plan, &trial).filter(|weighed| weighed.broken.iter().all(|rule| rule.with_note))
            });
            let Some(weighed) = found else { continue };
            let by_hand = ByHand { service: key, place: &weighed.place, note: Some("it did not happen then") };
            let action = place_by_hand(&shop, &plan, &by_hand).unwrap();
            let Action::Together(_, changes) = &action else { panic!("{action:?}") };
            assert!(matches!(&changes[..], [Action::Order(Change::Set(id, _))] if Some(*id) == key.order));
            let shop = after_orders(&shop, &action);
            let (_, plan, _) = self::plan(&shop);
            assert!(earlier(&shop, present()).iter().all(|order| order.service != key), "seed {seed} {state:?}");
            let now = plan.placed.iter().find(|one| one.key() == key).unwrap();
            assert_eq!(now.place.start, weighed.place.start, "seed {seed} {state:?}");
            placed += 1;
        }
    }
    assert!(placed > 15, "{placed}");
}

#[test]
fn a_remark_on_it_is_no_clash() {
    let (shop, _) = late(1, OrderState::Issued);
    let (_, plan, view) = self::plan(&shop);
    assert!(plan.remarks.iter().any(|remark| remark.contains("was to start on")), "{:?}", plan.remarks);
    assert!(view.clashes.iter().all(|clash| !clash.contains("was to start on")), "{:?}", view.clashes);
}
