//! What only the inside of the store can try: a full disk, figures in the log.

use super::*;
use crate::actions::{Action, Change, Recording};
use crate::ids::{MachineId, SpindleId};
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
