//! What only the inside of the store can try: a full disk, figures in the log.

use super::*;
use crate::actions::{Action, Change, ImportBatch, Recording};
use crate::ids::{MachineId, ReadingId, Row, SpindleId};
use crate::interface::Interface;
use crate::machine::{Machine, Position};
use crate::moment::parse_iso_date;
use crate::mounting::Mounting;
use crate::reading::{Phase, Reading, Stroke};
use crate::spindle::Spindle;
use crate::units::{Kilonewtons, Unit};
use chrono::NaiveDate;

fn day(text: &str) -> NaiveDate {
    parse_iso_date(text).unwrap()
}

fn stamp() -> StepStamp {
    StepStamp { at: day("2026-03-02").and_hms_opt(8, 0, 0).unwrap(), who: "tester".to_owned() }
}

fn spindle(name: &str) -> Spindle {
    Spindle::named(name, Interface::parse("HSK-A63").unwrap(), Kilonewtons::new(18.0).unwrap())
}

fn with_one_spindle() -> Store {
    let mut store = Store::open_in_memory().unwrap();
    store.perform(Action::Machine(Change::Add(Machine::named("R-04", "Router hall"))), &stamp()).unwrap();
    store.perform(Action::Spindle(Change::Add(spindle("S-0117"))), &stamp()).unwrap();
    let mounting = Mounting {
        spindle: SpindleId::from_row(1),
        position: Position { machine: MachineId::from_row(1), number: 1 },
        mounted_on: day("2026-01-05"),
        removed_on: None,
    };
    store.perform(Action::Mounting(Change::Add(mounting)), &stamp()).unwrap();
    store
}

fn reading(force_kn: &str) -> Reading {
    let strokes = vec![Stroke::parse(force_kn, Unit::Kilonewton).unwrap()];
    Reading::of(SpindleId::from_row(1), day("2026-02-02").into(), Phase::Routine, Unit::Kilonewton, strokes)
}

#[test]
fn what_is_done_is_there_and_undo_takes_it_back() {
    let mut store = with_one_spindle();
    let before = store.load_shop().unwrap();
    let changes = store.perform(Action::Reading(Recording::Record(reading("16.9"))), &stamp()).unwrap();
    assert_eq!(changes.tables.iter().collect::<Vec<_>>(), [&ShopTable::Readings]);
    let after = store.reload(&before, &changes).unwrap();
    assert_eq!(after, store.load_shop().unwrap());
    assert_eq!(after.readings.len(), 1);
    assert!(std::sync::Arc::ptr_eq(&after.spindles, &before.spindles));
    assert_eq!(store.undo_label().unwrap().as_deref(), Some("Record reading of S-0117"));
    store.undo(&stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap(), before);
    assert_eq!(store.redo_label().unwrap().as_deref(), Some("Record reading of S-0117"));
    store.redo(&stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap(), after);
}

/// The images of the log are SQL literals: a figure must come back to the last bit.
#[test]
fn a_figure_survives_as_a_literal() {
    let connection = Connection::open_in_memory().unwrap();
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut figures = vec![0.1 + 0.2, 4.5e-17, f64::MAX, f64::MIN_POSITIVE, 5e-324, 1e22, 9_007_199_254_740_993e3];
    while figures.len() < 20_000 {
        // xorshift: any bit pattern, so any exponent; Marsaglia, "Xorshift RNGs", 2003
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        figures.push(f64::from_bits(state));
    }
    let figures: Vec<f64> = figures.into_iter().filter(|figure| figure.is_finite()).collect();
    assert!(figures.len() > 19_000);
    for figure in figures {
        let literal: String = connection.query_row("SELECT quote(?1)", [figure], |row| row.get(0)).unwrap();
        let back: f64 = connection.query_row(&format!("SELECT {literal}"), [], |row| row.get(0)).unwrap();
        assert_eq!(figure.to_bits(), back.to_bits(), "{figure:e} came back from {literal} as {back:e}");
    }
}

fn import_of(n_readings: i64) -> Action {
    let rows = (1..=n_readings).map(|row| Row { id: ReadingId::from_row(row), value: reading("16.9") }).collect();
    let mut batch = ImportBatch { source: "many.csv".to_owned(), ..ImportBatch::default() };
    batch.readings.added = rows;
    Action::Import(Box::new(batch))
}

#[test]
fn a_full_disk_changes_nothing_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(Action::Spindle(Change::Add(spindle("S-0117"))), &stamp()).unwrap();
    let (shop, bytes) = (store.load_shop().unwrap(), std::fs::read(&path).unwrap());
    let pages: i64 = store.connection.query_row("PRAGMA page_count", [], |row| row.get(0)).unwrap();
    store.connection.pragma_update(None, "max_page_count", pages + 4).unwrap();
    let error = store.perform(import_of(2000), &stamp()).unwrap_err();
    assert_eq!(error.to_string(), "the disk is full; nothing was changed");
    assert_eq!(store.load_shop().unwrap(), shop);
    drop(store);
    assert_eq!(std::fs::read(&path).unwrap(), bytes);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no journal stays");
    // with room again, the same is done
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    store.perform(import_of(2000), &stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap().readings.len(), 2000);
}

const WITH_ANOTHER_COLUMN: &[&str] = &[
    migrate::ALL[0],
    migrate::ALL[1],
    migrate::ALL[2],
    migrate::ALL[3],
    migrate::ALL[4],
    migrate::ALL[5],
    "ALTER TABLE machine ADD COLUMN colour TEXT; UPDATE machine SET colour = 'green';",
];

#[test]
fn steps_from_before_a_new_column_are_still_undone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(Action::Machine(Change::Add(Machine::named("R-04", "Router hall"))), &stamp()).unwrap();
    let empty_since = Machine { description: "router".to_owned(), ..Machine::named("R-04", "Mill hall") };
    store.perform(Action::Machine(Change::Set(MachineId::from_row(1), empty_since)), &stamp()).unwrap();
    store.perform(Action::Machine(Change::Add(Machine::named("R-05", "Router hall"))), &stamp()).unwrap();
    store.undo(&stamp()).unwrap();
    drop(store);
    let mut store = Store::open_with(&path, Access::ReadWrite, WITH_ANOTHER_COLUMN).unwrap();
    let whole = store.load_shop().unwrap();
    store.redo(&stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap().machines.len(), 2);
    for _ in 0..3 {
        store.undo(&stamp()).unwrap();
    }
    assert!(store.load_shop().unwrap().machines.is_empty());
    store.redo(&stamp()).unwrap();
    store.redo(&stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap(), whole);
}

const WITH_A_FAULT: &[&str] = &[
    migrate::ALL[0],
    migrate::ALL[1],
    migrate::ALL[2],
    migrate::ALL[3],
    migrate::ALL[4],
    migrate::ALL[5],
    "CREATE TABLE later (id INTEGER PRIMARY KEY) STRICT; UPDATE machine SET hall = 'x'; SELECT no_such_thing();",
];

#[test]
fn a_failing_schema_change_leaves_the_file_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(Action::Machine(Change::Add(Machine::named("R-04", "Router hall"))), &stamp()).unwrap();
    drop(store);
    let before = std::fs::read(&path).unwrap();
    let error = Store::open_with(&path, Access::ReadWrite, WITH_A_FAULT).unwrap_err();
    assert!(error.to_string().contains("no such function: no_such_thing"), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let mut names: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    assert_eq!(names, ["shop.almanac", "shop.before-schema-7.almanac"]);
    assert_eq!(Store::open(&path, Access::ReadWrite).unwrap().load_shop().unwrap().machines.len(), 1);
}
