//! What a note overrides when a service is placed by hand, and what none does: on the sample shop.

use almanac_core::due::{Mark, due_list};
use almanac_core::forecast::{ForecastConfig, NoProgress, ShopForecast, forecast_shop};
use almanac_core::import::import_paths;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::proposal::{PlanningConfig, Proposal, Weighed};
use almanac_core::planning::propose::booked;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_tests::planning_shop::present;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

struct Demo {
    shop: Shop,
    forecast: ShopForecast,
    marks: BTreeMap<almanac_core::ids::SpindleId, Mark>,
    basis: PlanBasis,
    plan: Proposal,
}

static DEMO: LazyLock<Demo> = LazyLock::new(|| {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let empty = Shop::default();
    let outcome = import_paths(&[sample], &empty, present(), &NoProgress).unwrap();
    let shop = outcome.batch.apply_to(&empty).sorted();
    let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
    let due = due_list(&shop, &forecast);
    let basis = PlanBasis::of(&shop, &forecast, &due, present(), &PlanningConfig::quick(26));
    let plan = booked(&basis);
    let marks = due.rows.iter().map(|row| (row.spindle, row.mark)).collect();
    Demo { shop, forecast, marks, basis, plan }
});

fn tried(trial: &Trial<'_>) -> Option<Weighed> {
    weigh(&DEMO.basis, &DEMO.plan, trial)
}

/// A spindle that still runs is not left to run on below its stop limit, whatever anybody writes.
#[test]
fn no_note_lets_a_spindle_run_below_its_stop_limit() {
    let demo = &*DEMO;
    let (mut refused, mut free) = (0, 0);
    for service in demo.basis.services() {
        for (tray, window) in demo.basis.trays().iter().enumerate() {
            let trial = Trial { service: service.key(), tray, start: None, technicians: None };
            let Some(weighed) = tried(&trial) else { continue };
            let rule = weighed.broken.iter().find(|rule| rule.words.contains("below the stop limit"));
            // the chance by the evening before, of the forecast itself
            let before = (window.start.date() - present()).num_days() - 1;
            let chance = u32::try_from(before)
                .map_or(0.0, |before| demo.forecast.spindles[&service.spindle].crossed.stop.by(before).get());
            let stands = demo.marks[&service.spindle] == Mark::DoNotRun;
            assert_eq!(rule.is_some(), !stands && 10.0 < chance, "{}, {chance} %", service.position);
            if let Some(rule) = rule {
                assert!(!rule.with_note, "{}: {}", service.position, rule.words);
                refused += 1;
            } else {
                free += 1;
            }
        }
    }
    assert!(refused > 10 && free > 100, "{refused} refused, {free} not");
}

/// Aldous leads minor services only.
#[test]
fn no_note_gives_anybody_a_skill() {
    let demo = &*DEMO;
    let aldous = ["Aldous".to_owned()];
    let lacks = |kind: Kind| {
        let rows = || demo.shop.technicians.iter();
        let row = rows().find(|row| row.name == "Aldous").unwrap();
        !row.skills.contains(&kind)
    };
    assert!(lacks(Kind::Major) && !lacks(Kind::Minor));
    let mut refused = 0;
    for service in demo.basis.services() {
        for tray in 0..demo.basis.trays().len() {
            let trial = Trial { service: service.key(), tray, start: None, technicians: Some(&aldous) };
            let Some(weighed) = tried(&trial) else { continue };
            let rule = weighed.broken.iter().find(|rule| rule.words.contains("has no skill"));
            assert_eq!(rule.is_some(), lacks(service.kind), "{}", service.position);
            if let Some(rule) = rule {
                assert_eq!(rule.words, "Aldous has no skill for a major service");
                assert!(!rule.with_note);
                refused += 1;
            }
        }
    }
    assert!(refused > 5, "{refused}");
}
