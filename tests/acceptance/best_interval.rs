//! The best interval of a kind: on the demo, and where there is too little history.

use almanac_core::best_interval::{LEAST_INTERVALS, best_interval};
use almanac_core::forecast::NoProgress;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::import::import_paths;
use almanac_core::interface::Interface;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_core::words::number;
use almanac_tests::hand_shop::{HandShop, day};
use almanac_tests::harness::Window;
use chrono::NaiveDate;
use eframe::egui::Key;
use eframe::egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::collections::BTreeSet;
use std::path::Path;

fn demo_shop() -> (Shop, NaiveDate) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let day = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), day, &NoProgress).unwrap();
    (outcome.batch.apply_to(&Shop::default()).sorted(), day)
}

#[test]
fn the_kinds_of_the_demo_have_a_cheapest_interval_or_say_why_not() {
    let (shop, day) = demo_shop();
    let known = shop.known_on(day);
    let fits = ShopFits::fit(&known, day, &NoProgress).unwrap();
    let kinds: BTreeSet<&Interface> = known.spindles.values().map(|spindle| &spindle.interface).collect();
    let mut said = 0;
    for kind in kinds {
        let best = match best_interval(&shop, day, &fits, kind) {
            Ok(best) => best,
            Err(none) => {
                assert!(none.words.starts_with("Nothing is said of a best interval for "), "{}", none.words);
                continue;
            }
        };
        said += 1;
        assert!(best.intervals >= LEAST_INTERVALS && best.planned < best.unplanned);
        let crossed: Vec<f64> = best.curve.iter().map(|point| point.crossed.get()).collect();
        assert!(crossed.windows(2).all(|pair| pair[0] <= pair[1] + 1e-9), "{}", kind.as_str());
        let least = best.curve.iter().map(|point| point.per_year.get()).fold(f64::INFINITY, f64::min);
        if let Some(optimum) = best.optimum {
            let cost = optimum.per_year.get();
            assert!(cost <= least * (1.0 + 1e-9), "{}: {cost} against {least}", kind.as_str());
            assert!(cost > least * 0.99, "between two points of a fine curve");
            assert!(optimum.days < best.longest_days);
            assert!(best.words.contains(&format!("{} days", number(optimum.days, 0))), "{}", best.words);
        } else {
            let last = best.curve.last().unwrap();
            assert!(last.per_year.get() <= least * (1.0 + 1e-6), "it falls to the end");
        }
        if let Some(fixed) = best.fixed {
            let is_within = fixed.cost.days <= best.longest_days;
            assert_eq!(fixed.above_best.is_some(), best.optimum.is_some() && is_within, "{}", best.words);
            assert!(fixed.above_best.is_none_or(|above| above.get() > -1e-3), "nothing costs less than the best");
        }
    }
    assert!(said > 0, "something is said of some kind of the demo");
}

#[test]
fn a_kind_with_too_little_history_says_so() {
    let mut made = HandShop::new();
    for nth in 0..4 {
        let spindle = made.spindle(&format!("R-0{nth}"), 25.0, Some(day(0)));
        for number in [10, 60, 110] {
            made.force(spindle, day(number), 24.0 - number as f64 / 50.0);
        }
    }
    let shop = made.shop();
    let fits = ShopFits::fit(&shop, day(120), &NoProgress).unwrap();
    let words = |name: &str| {
        let kind = Interface::parse(name).unwrap();
        best_interval(&shop, day(120), &fits, &kind).unwrap_err().words
    };
    assert_eq!(
        words("HSK-A63"),
        "Nothing is said of a best interval for HSK-A63: its services on record make 0 intervals, 5 are needed."
    );
    assert_eq!(
        words("HSK-A100"),
        "Nothing is said of a best interval for HSK-A100: fewer than 3 of its spindles have readings."
    );
}

#[test]
fn the_shop_page_says_the_best_interval_beside_the_shops_own() {
    let folder = tempfile::tempdir().unwrap();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let mut window = Window::open(folder.path(), Some(demo));
    window.ctrl(Key::Num6);
    window.harness.get_by_role_and_label(Role::Tab, "drift by interface").click();
    window.settle();
    let names = window.all_names();
    let said = |part: &str| names.iter().filter(|name| name.contains(part)).count();
    assert!(said("between services; a forecast of each spindle by itself says more.") > 0, "{names:#?}");
    let is_row = |label: Option<String>| label.is_some_and(|label| label.contains("HSK-F63"));
    let rows = window.harness.query_all_by_role(Role::ListBoxOption);
    rows.into_iter().find(|row| is_row(row.accesskit_node().label())).unwrap().click();
    window.settle();
    let (shop, day) = demo_shop();
    let fits = ShopFits::fit(&shop.known_on(day), day, &NoProgress).unwrap();
    let best = best_interval(&shop, day, &fits, &Interface::parse("HSK-F63").unwrap()).unwrap();
    window.must_say(&format!("Cost of each interval of HSK-F63 per spindle and year. {}", best.words));
    window.close();
}
