//! What to order by when, and who waits: on the demo and on shops made by chance.

use almanac_core::due::due_list;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::ids::SpindleId;
use almanac_core::import::import_paths;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::parts_waiting::{PartsWaiting, Supply, list_to_csv, parts_waiting, weeks_to_csv};
use almanac_core::planning::proposal::{PlanningConfig, Proposal};
use almanac_core::planning::propose::{NoPlanProgress, propose};
use almanac_core::shop::Shop;
use almanac_tests::plain_csv;
use almanac_tests::planning_shop::{planning_shop, present};
use std::collections::BTreeSet;
use std::path::Path;

fn planned(shop: &Shop) -> (Proposal, PartsWaiting) {
    let config = PlanningConfig::quick(26);
    let forecast = forecast_shop(shop, present(), &ForecastConfig::of(shop), &NoProgress).unwrap();
    let due = due_list(shop, &forecast);
    let basis = PlanBasis::of(shop, &forecast, &due, present(), &config);
    let proposal = propose(&basis, &config, &NoPlanProgress).unwrap();
    let parts = parts_waiting(&basis, &proposal);
    (proposal, parts)
}

fn demo() -> Shop {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let empty = Shop::default();
    let outcome = import_paths(&[sample], &empty, present(), &NoProgress).unwrap();
    outcome.batch.apply_to(&empty).sorted()
}

#[test]
fn the_demo_says_who_waits_for_the_kit_of_hsk_a63() {
    let (proposal, parts) = planned(&demo());
    let set = parts.parts.iter().find(|part| part.name == "service set HSK-A63").unwrap();
    // parts.csv: one on the shelf; deliveries.csv: four on 26 March
    assert_eq!((set.on_hand, set.reorder_point, set.lead_time_days), (1.0, 3.0, Some(28)));
    let first = set.uses.first().unwrap();
    assert_eq!((first.position.as_str(), first.supply), ("R-04", Some(Supply::Shelf)));
    let waiting = set.waiting_words(present()).join(", ");
    assert!(waiting.contains("M-06 waits for the delivery of Thu 26 March"), "{waiting}");
    assert!(set.order_words(present()).unwrap().contains("service set HSK-A63"));
    let placed: f64 = set.weeks.iter().map(|week| week.placed).sum();
    let takes = set.uses.iter().filter(|one| one.supply.is_some()).map(|one| one.quantity).sum::<f64>();
    assert!((placed - takes).abs() < 1e-9);
    assert!(parts.lead().contains("to be ordered"), "{}", parts.lead());
    assert!(proposal.placed.len() > 15);
    let list = plain_csv::read(&list_to_csv(&parts)).unwrap();
    assert_eq!(list.len(), parts.parts.len() + 1);
    let weeks = plain_csv::read(&weeks_to_csv(&parts)).unwrap();
    assert_eq!(weeks.len(), parts.parts.iter().map(|part| part.weeks.len()).sum::<usize>() + 1);
}

#[test]
fn stock_is_what_was_there_and_came_less_what_was_taken() {
    for seed in 0..25 {
        let (proposal, parts) = planned(&planning_shop(seed));
        let held: BTreeSet<SpindleId> = proposal.placed.iter().filter(|one| one.held).map(|one| one.spindle).collect();
        for part in &parts.parts {
            let mut stock = part.on_hand;
            for week in &part.weeks {
                stock += week.arrives - week.placed - week.likely;
                assert!((stock - week.stock).abs() < 1e-6, "seed {seed}, {}", part.name);
                assert!(week.likely >= 0.0 && week.placed >= 0.0);
            }
            if let Some(order) = part.order {
                assert!(present() <= order.by && order.by <= order.falls_on.max(present()), "seed {seed}");
                let lowest = part.weeks.iter().map(|week| week.stock).fold(f64::INFINITY, f64::min);
                assert!(order.quantity >= part.reorder_point - lowest - 1e-6, "seed {seed}: too few");
            }
            // what a proposal placed has its part when it is needed: here, coming, or still to be
            // ordered; what is held stays, whatever it lacks
            let waits = part.uses.iter().filter(|one| one.supply == Some(Supply::NotOrdered));
            for one in waits {
                let lead = part.lead_time_days.unwrap_or(u32::MAX);
                let days = (one.on.unwrap() - present()).num_days();
                let is_held = held.contains(&one.spindle);
                assert!(i64::from(lead) <= days || is_held, "seed {seed}: {} on {:?}", part.name, one.on);
            }
        }
    }
}
