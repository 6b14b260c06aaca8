//! The next reading: which are worth taking, in list, JSON and window, and what that costs.

use almanac_core::due::{DueList, Mark, due_list, to_csv, to_json, to_table};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::next_reading::{NextReading, next_readings};
use almanac_core::forecast::{
    Cancelled, ForecastBasis, ForecastConfig, NoProgress, Progress, ShopForecast, project_shop,
};
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_core::units::Quantity;
use almanac_tests::fleet::{fleet, last_day};
use chrono::NaiveDate;
use std::path::Path;
use std::sync::Arc;

struct Seen {
    shop: Shop,
    basis: ForecastBasis,
    forecast: ShopForecast,
    due: DueList,
}

fn look(shop: Shop, day: NaiveDate) -> Seen {
    let fits = Arc::new(ShopFits::fit(&shop.known_on(day), day, &NoProgress).unwrap());
    let forecast = project_shop(&shop, day, &ForecastConfig::of(&shop), &fits, &NoProgress).unwrap();
    let basis = ForecastBasis::of(&shop, day, &ForecastConfig::of(&shop), &fits, &NoProgress).unwrap();
    let readings = next_readings(&basis, &forecast, &NoProgress).unwrap();
    let due = due_list(&shop, &forecast).with_readings(readings);
    Seen { shop, basis, forecast, due }
}

fn demo() -> Seen {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let day = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), day, &NoProgress).unwrap();
    look(outcome.batch.apply_to(&Shop::default()).sorted(), day)
}

/// What must hold in every shop.
fn check(seen: &Seen) {
    let readings = &seen.due.worth_reading;
    let key = |reading: &NextReading| (reading.spindle, reading.quantity);
    for (place, reading) in readings.iter().enumerate() {
        let row = seen.due.row(reading.spindle).unwrap();
        let forecast = &row.forecast;
        assert!(reading.narrows.to < reading.narrows.from, "{}: {reading:?}", row.name);
        assert!(0.0 <= reading.worth.get() && reading.worth.get().is_finite(), "{}: {reading:?}", row.name);
        let floor = seen.shop.settings.labour_per_hour.get() * 5.0 / 60.0;
        let floor = if floor > 0.0 { floor } else { 5.0 };
        assert!(floor <= reading.worth.get() || !forecast.force_measured, "{}: {reading:?}", row.name);
        assert!(seen.due.as_of <= reading.by, "{}: {reading:?}", row.name);
        assert!(forecast.service_by.is_none_or(|by| reading.by < by.max(seen.due.as_of.succ_opt().unwrap())));
        assert!(!matches!(row.mark, Mark::DoNotRun | Mark::PastLimit | Mark::OutOfService), "{}", row.name);
        assert!(!reading.reason.is_empty() && !reading.reason.ends_with('.'), "{}: {}", row.name, reading.reason);
        assert!(readings.iter().skip(place + 1).all(|other| key(other) != key(reading)), "{} twice", row.name);
    }
    assert!(readings.is_sorted_by(|a, b| a.worth >= b.worth), "most useful first");
}

#[test]
fn the_demo_lists_what_is_worth_reading() {
    let seen = demo();
    check(&seen);
    // never measured: at the head or not, it is on the list
    let new: Vec<_> = seen.due.rows.iter().filter(|row| row.mark == Mark::NoReading).collect();
    assert!(!new.is_empty());
    for row in new {
        let reading = seen.due.worth_reading.iter().find(|reading| reading.spindle == row.spindle).unwrap();
        assert_eq!(reading.quantity, Quantity::ClampForce);
        assert!(reading.reason.starts_with("it was never measured"), "{}", reading.reason);
    }
    let again = next_readings(&seen.basis, &seen.forecast, &NoProgress).unwrap();
    assert_eq!(again, seen.due.worth_reading, "the same shop says the same");
    // the list as JSON, as a table; the CSV stays what it was
    let json: serde_json::Value =
        serde_json::from_str(&to_json(&seen.shop, &seen.forecast, &seen.due).unwrap()).unwrap();
    let listed = json["worth_reading"].as_array().unwrap();
    assert_eq!(listed.len(), seen.due.worth_reading.len());
    for (said, reading) in listed.iter().zip(&seen.due.worth_reading) {
        let names: Vec<&str> = said.as_object().unwrap().keys().map(String::as_str).collect();
        let mut expected = ["spindle", "quantity", "by", "worth", "narrows_days", "reason"];
        expected.sort_unstable();
        let mut names = names.clone();
        names.sort_unstable();
        assert_eq!(names, expected);
        assert_eq!(said["spindle"], seen.due.row(reading.spindle).unwrap().name.as_str());
        assert_eq!(said["by"], reading.by.to_string());
        assert_eq!(said["narrows_days"]["from"], reading.narrows.from);
        assert_eq!(said["narrows_days"]["to"], reading.narrows.to);
    }
    let table = to_table(&seen.shop, &seen.due);
    assert!(table.contains("Readings worth taking in the next round, most useful first:"), "{table}");
    // a first reading may save nothing in money: then no sum is said
    let first = seen.due.worth_reading.iter().find(|reading| reading.worth.get() < 0.5);
    assert!(first.is_some_and(|reading| reading.worth_in_words("EUR").is_none()), "the demo has one");
    assert!(!table.contains(" 0 EUR"), "{table}");
    let without = DueList { worth_reading: Vec::new(), ..seen.due.clone() };
    assert!(!to_table(&seen.shop, &without).contains("Readings worth taking"));
    assert_eq!(to_csv(&without), to_csv(&seen.due));
}

#[test]
fn a_fleet_lists_what_is_worth_reading() {
    check(&look(fleet(200, 11).apply_to(&Shop::default()).sorted(), last_day()));
}

#[test]
fn it_can_be_stopped() {
    struct Never;
    impl Progress for Never {
        fn step(&self, _done: usize, _total: usize) -> bool {
            false
        }
    }
    let seen = demo();
    assert_eq!(next_readings(&seen.basis, &seen.forecast, &Never), Err(Cancelled));
}
