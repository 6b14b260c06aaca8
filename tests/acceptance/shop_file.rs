//! The shop file: opened, refused, locked, copied.

use almanac_core::actions::{Action, Change};
use almanac_core::machine::Machine;
use almanac_core::moment::parse_iso_date;
use almanac_core::store::{Access, StepStamp, Store, StoreError};
use std::path::{Path, PathBuf};

fn stamp() -> StepStamp {
    let at = parse_iso_date("2026-03-02").unwrap().and_hms_opt(8, 0, 0).unwrap();
    StepStamp { at, who: "tester".to_owned() }
}

fn add_machine(name: &str) -> Action {
    Action::Machine(Change::Add(Machine::named(name, "Router hall")))
}

/// A closed shop file with one machine.
fn shop_in(folder: &Path) -> PathBuf {
    let path = folder.join("shop.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(add_machine("R-04"), &stamp()).unwrap();
    path
}

fn names_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn closed_a_shop_is_one_file_and_opens_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    assert_eq!(names_in(folder.path()), ["shop.almanac"]);
    let store = Store::open(&path, Access::ReadWrite).unwrap();
    assert_eq!(store.load_shop().unwrap().machines.len(), 1);
    assert_eq!(store.undo_label().unwrap().as_deref(), Some("Add machine R-04"));
}

#[test]
fn a_second_writer_is_refused_and_readers_are_not() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let mut first = Store::open(&path, Access::ReadWrite).unwrap();
    assert!(matches!(Store::open(&path, Access::ReadWrite), Err(StoreError::InUse(_))));
    let mut reader = Store::open(&path, Access::ReadOnly).unwrap();
    first.perform(add_machine("R-05"), &stamp()).unwrap();
    assert_eq!(reader.load_shop().unwrap().machines.len(), 2);
    let error = reader.perform(add_machine("R-06"), &stamp()).unwrap_err();
    assert_eq!(error.to_string(), "the shop is open for reading only");
    assert!(matches!(reader.undo(&stamp()), Err(StoreError::ReadOnly)));
    drop(first);
    Store::open(&path, Access::ReadWrite).unwrap();
}
