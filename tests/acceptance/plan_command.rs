//! The `plan` command as a script sees it, on the demo.

use almanac_core::store::{Access, Store};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn sample() -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop").to_str().unwrap().to_owned()
}

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
        .args(args)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .unwrap()
}

#[track_caller]
fn done(args: &[&str]) -> String {
    let output = run(args);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[track_caller]
fn refused(args: &[&str], code: i32, words: &str) {
    let output = run(args);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(code), "{said}");
    assert!(said.contains(words), "{said}");
    assert!(output.stdout.is_empty());
}

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&done(args)).unwrap()
}

/// The demo as a shop file.
fn shop_file(folder: &Path) -> PathBuf {
    let path = folder.join("works.almanac");
    done(&["import", path.to_str().unwrap(), &sample()]);
    path
}

const PARTS: [&str; 8] = ["stop", "premium", "risk", "early", "move", "lockout", "visit", "left"];

#[test]
fn the_demo_is_planned_in_json() {
    let plan = json(&["plan", &sample(), "--format", "json"]);
    assert_eq!(plan, json(&["plan", &sample(), "--format", "json"]), "the same shop, the same plan");
    let sum = |parts: &Value| PARTS.iter().map(|part| parts[part].as_i64().unwrap()).sum::<i64>();
    assert_eq!(sum(&plan["parts"]), plan["cost"].as_i64().unwrap());
    let placed = plan["plan"].as_object().unwrap();
    let left = plan["left"].as_object().unwrap();
    for part in PARTS.iter().filter(|part| **part != "left") {
        let of_placed: i64 = placed.values().map(|one| one["parts"][part].as_i64().unwrap()).sum();
        assert_eq!(of_placed, plan["parts"][part].as_i64().unwrap(), "{part}");
    }
    if let Some(bound) = plan["bound"].as_i64() {
        assert!(bound <= plan["cost"].as_i64().unwrap());
    }
    for (spindle, one) in placed {
        let (start, end) = (one["start"].as_str().unwrap(), one["end"].as_str().unwrap());
        assert!(start.len() == 16 && start < end, "{spindle}: {start} to {end}");
        assert!(one["held"].is_boolean() && !one["technicians"].as_array().unwrap().is_empty(), "{spindle}");
        assert!(one["moved_from"].is_null() || one["moved_from"].as_str().unwrap().len() == 16);
        let (from, to) = one["window"].as_str().unwrap().split_once('/').unwrap();
        assert!(from <= start && end <= to, "{spindle}");
    }
    // issued orders and the held one stay; see orders.csv of the demo
    for (spindle, order, start) in [
        ("S-0126", "26-036", "2026-03-02T08:00"),
        ("S-0109", "26-038", "2026-03-07T07:00"),
        ("S-0117", "26-041", "2026-03-14T07:00"),
    ] {
        let one = &placed[spindle];
        assert_eq!((one["order"].as_str(), one["start"].as_str()), (Some(order), Some(start)));
        assert_eq!(one["held"], true);
    }
    // the kit of M-06 comes on 26 March, and its hall's next window is on 11 April
    let late = &placed["S-0122"];
    assert!(late["start"].as_str().unwrap() >= "2026-03-26", "{late}");
    assert!(late["why"].as_str().unwrap().contains("the HSK-A63 kit arrives Thu 26 March"), "{late}");
    // M-05 needs 5 h in one window, which only the summer shutdown has: no gauge is calibrated then
    assert_eq!(left["S-0121"], "gauge");
    let words = plan["left_words"]["S-0121"].as_str().unwrap();
    assert!(words.contains("G-03") && words.contains("3 Aug"), "{words}");
}

#[test]
fn due_and_plan_agree_about_who_is_due() {
    let plan = json(&["plan", &sample(), "--format", "json", "--weeks", "10"]);
    let due = json(&["due", &sample(), "--format", "json"]);
    let last = plan["last"].as_str().unwrap();
    assert_eq!(last, "2026-05-10", "ten weeks from 2 March, the first day included");
    for spindle in due["spindles"].as_array().unwrap() {
        let name = spindle["spindle"].as_str().unwrap();
        let is_due = spindle["service_by"].as_str().is_some_and(|by| by <= last) && spindle["state"] != "not mounted";
        let is_told = plan["plan"].get(name).is_some() || plan["left"].get(name).is_some();
        let has_order = ["S-0126", "S-0109", "S-0117", "S-0119", "S-0108", "S-0130"].contains(&name);
        assert_eq!(is_told, is_due || has_order, "{name}");
    }
}

#[test]
fn people_read_a_sentence_and_tables_and_spreadsheets_csv() {
    let table = done(&["plan", &sample()]);
    let first = table.lines().next().unwrap();
    assert!(first.contains(" placed") && first.contains("The plan costs €"), "{first}");
    assert!(table.contains("Changed by this proposal:"), "{table}");
    let rows = almanac_tests::plain_csv::read(&done(&["plan", &sample(), "--format", "csv"])).unwrap();
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    assert_eq!(rows[0][..2], ["spindle", "state"]);
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("plan.csv");
    done(&["plan", &sample(), "--format", "csv", "--out", out.to_str().unwrap()]);
    assert_eq!(almanac_tests::plain_csv::read(&std::fs::read_to_string(out).unwrap()).unwrap(), rows);
}

#[test]
fn an_accepted_plan_is_one_step_and_stays() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_file(folder.path());
    let path = path.to_str().unwrap();
    let steps = |store: &Store| store.undo_label().unwrap();
    let store = Store::open(Path::new(path), Access::ReadOnly).unwrap();
    let before = (store.load_shop().unwrap(), steps(&store));
    drop(store);
    let first = json(&["plan", path, "--apply", "--format", "json"]);
    let store = Store::open(Path::new(path), Access::ReadOnly).unwrap();
    let after = store.load_shop().unwrap();
    assert!(steps(&store).unwrap().starts_with("Accept "), "{:?}", steps(&store));
    drop(store);
    for (spindle, one) in first["plan"].as_object().unwrap() {
        let order = one["order"].as_str().unwrap();
        let row = after.orders.iter().find(|row| row.name == order).unwrap();
        assert_eq!(row.start.unwrap().to_string(), one["start"].as_str().unwrap(), "{spindle}");
    }
    assert!(after.orders.len() > before.0.orders.len());
    let second = json(&["plan", path, "--apply", "--format", "json"]);
    assert_eq!(second["changes"].as_array().unwrap().len(), 0, "{}", second["changes"]);
    let mut store = Store::open(Path::new(path), Access::ReadWrite).unwrap();
    assert_eq!(store.load_shop().unwrap(), after, "the second one wrote nothing");
    let stamp = almanac_core::store::StepStamp {
        at: chrono::NaiveDate::from_ymd_opt(2026, 3, 2).unwrap().and_hms_opt(9, 0, 0).unwrap(),
        who: "tester".to_owned(),
    };
    store.undo(&stamp).unwrap();
    assert_eq!(store.load_shop().unwrap(), before.0, "all of it is undone at once");
    assert_eq!(steps(&store), before.1);
}

#[test]
fn what_cannot_be_done_is_said() {
    refused(&["plan", &sample(), "--apply"], 1, "needs a shop file");
    refused(&["plan", &sample(), "--weeks", "0"], 2, "--weeks");
    refused(&["plan", "nowhere.almanac"], 1, "nowhere.almanac");
    let folder = tempfile::tempdir().unwrap();
    let path = shop_file(folder.path());
    refused(&["plan", path.to_str().unwrap(), "--apply", "--as-of", "2026-02-01"], 1, "2 March 2026");
}

#[test]
fn an_earlier_day_knows_nothing_of_later_orders() {
    let plan = json(&["plan", &sample(), "--as-of", "2026-02-16", "--format", "json"]);
    assert_eq!(plan["as_of"], "2026-02-16");
    let orders: Vec<&str> =
        plan["plan"].as_object().unwrap().values().filter_map(|one| one["order"].as_str()).collect();
    assert!(orders.contains(&"26-036"), "{orders:?}");
    for later in ["26-038", "26-041", "26-043", "26-044", "26-046"] {
        assert!(!orders.contains(&later), "{later} was opened later: {orders:?}");
    }
}
