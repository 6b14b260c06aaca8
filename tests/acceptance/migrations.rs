//! Schema changes: older files are brought up without loss, newer and damaged ones are left alone.

use almanac_core::actions::{Action, Change, Recording};
use almanac_core::closure::Closure;
use almanac_core::ids::{MachineId, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::{DayRange, parse_iso_date};
use almanac_core::mounting::Mounting;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service, parse_parts};
use almanac_core::settings::ShopSettings;
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::store::{APPLICATION_ID, Access, StepStamp, Store, StoreError, StoredFit, latest_version};
use almanac_core::units::{Kilonewtons, RunHours, Unit};
use rusqlite::Connection;
use std::path::{Path, PathBuf};

fn day(text: &str) -> chrono::NaiveDate {
    parse_iso_date(text).unwrap()
}

fn stamp() -> StepStamp {
    StepStamp { at: day("2026-03-02").and_hms_opt(8, 0, 0).unwrap(), who: "tester".to_owned() }
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/schema")
}

/// The shop of which the dumps are: something in the registers, in the records and undone.
fn example_actions() -> Vec<Action> {
    let spindle = Spindle::named("S-0117", Interface::parse("HSK-A63").unwrap(), Kilonewtons::new(18.0).unwrap());
    let position = Position { machine: MachineId::from_row(1), number: 1 };
    let strokes = |typed: &[&str]| typed.iter().filter_map(|text| Stroke::parse(text, Unit::PoundForce)).collect();
    let id = SpindleId::from_row(1);
    let reading =
        Reading::of(id, day("2026-01-12").into(), Phase::AsFound, Unit::PoundForce, strokes(&["3800", "3790.5"]));
    let meter = MeterReading {
        owner: MeterOwner::Position(position),
        at: day("2026-01-09").into(),
        run_hours: RunHours::new(8123.4),
        clamp_cycles: None,
        meter_replaced: false,
        recorded_on: None,
        replaced_on: None,
    };
    let service = Service {
        parts: parse_parts("gripper grease=1").unwrap(),
        ..Service::of(id, day("2026-01-12").into(), Kind::Minor)
    };
    vec![
        Action::Settings(ShopSettings { name: "it's a shop".to_owned(), ..ShopSettings::default() }),
        Action::Machine(Change::Add(Machine::named("R-04", "Router hall"))),
        Action::Spindle(Change::Add(spindle)),
        Action::Mounting(Change::Add(Mounting {
            spindle: id,
            position,
            mounted_on: day("2026-01-05"),
            removed_on: None,
        })),
        Action::Closure(Change::Add(Closure {
            days: DayRange { first: day("2026-08-03"), last: day("2026-08-21") },
            what: "summer".to_owned(),
        })),
        Action::Meter(Recording::Record(meter)),
        Action::RecordService(service, vec![reading]),
        Action::Machine(Change::Add(Machine::named("R-05", "Router hall"))),
    ]
}

fn example(path: &Path) -> Store {
    let mut store = Store::create(path).unwrap();
    for action in example_actions() {
        store.perform(action, &stamp()).unwrap();
    }
    store.undo(&stamp()).unwrap();
    let fit = StoredFit { subject: "HSK-A63".to_owned(), fitted_on: day("2026-02-01"), parameters: "0.5".to_owned() };
    store.save_fits(&[fit]).unwrap();
    store
}

/// SQL that makes the same database again.
fn dump(path: &Path) -> String {
    let connection = Connection::open(path).unwrap();
    let strings = |sql: &str| -> Vec<(String, String)> {
        let mut statement = connection.prepare(sql).unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let mut text = String::new();
    let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
    text.push_str(&format!("PRAGMA application_id = {APPLICATION_ID};\nPRAGMA user_version = {version};\n"));
    for (_, sql) in strings("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid") {
        text.push_str(&format!("{sql};\n"));
    }
    for (table, _) in strings("SELECT name, sql FROM sqlite_schema WHERE type = 'table' ORDER BY rowid") {
        let columns = strings(&format!("SELECT name, 'quote(' || name || ')' FROM pragma_table_info('{table}')"));
        let names: Vec<&str> = columns.iter().map(|(name, _)| name.as_str()).collect();
        let quoted: Vec<&str> = columns.iter().map(|(_, quoted)| quoted.as_str()).collect();
        let select = format!("SELECT '', concat_ws(', ', {}) FROM {table} ORDER BY rowid", quoted.join(", "));
        for (_, values) in strings(&select) {
            text.push_str(&format!("INSERT INTO {table} ({}) VALUES ({values});\n", names.join(", ")));
        }
    }
    text
}

/// `sqlite_schema` without what SQLite makes itself.
fn schema(path: &Path) -> Vec<String> {
    let connection = Connection::open(path).unwrap();
    let mut statement =
        connection.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY type, name").unwrap();
    let rows = statement.query_map([], |row| row.get(0)).unwrap();
    rows.map(Result::unwrap).collect()
}

fn versions() -> std::ops::RangeInclusive<i64> {
    1..=latest_version()
}

fn file_of_version(folder: &Path, version: i64) -> PathBuf {
    let sql = std::fs::read_to_string(fixtures().join(format!("v{version:04}.sql"))).unwrap();
    let path = folder.join("shop.almanac");
    Connection::open(&path).unwrap().execute_batch(&sql).unwrap();
    path
}

/// What a file of an older version holds of the example: later tables are empty.
fn expected(version: i64, whole: &Shop) -> Shop {
    let mut shop = whole.clone();
    if version < 2 {
        shop.meters = Shop::default().meters;
        shop.readings = Shop::default().readings;
        shop.services = Shop::default().services;
    }
    shop
}

#[test]
fn migrations_are_numbered_without_gaps_and_each_has_a_dump() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../migrations");
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    let numbers: Vec<i64> = names.iter().map(|name| name[..4].parse().unwrap()).collect();
    assert_eq!(numbers, versions().collect::<Vec<_>>(), "{names:?}");
    for version in versions() {
        assert!(fixtures().join(format!("v{version:04}.sql")).is_file(), "schema {version} has no dump");
    }
}

/// A change of a released migration shows here; a new one needs its dump:
/// `ALMANAC_WRITE_DUMP=1 cargo test -p almanac-tests the_newest_dump` writes it.
#[test]
fn the_newest_dump_is_what_the_program_makes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.almanac");
    drop(example(&path));
    let stored = fixtures().join(format!("v{:04}.sql", latest_version()));
    if std::env::var_os("ALMANAC_WRITE_DUMP").is_some() {
        std::fs::write(&stored, dump(&path)).unwrap();
    }
    assert_eq!(dump(&path), std::fs::read_to_string(stored).unwrap());
}

#[test]
fn each_older_file_is_copied_and_then_equals_a_new_one() {
    let new = tempfile::tempdir().unwrap();
    let new_path = new.path().join("shop.almanac");
    let whole = example(&new_path).load_shop().unwrap();
    for version in versions() {
        let folder = tempfile::tempdir().unwrap();
        let path = file_of_version(folder.path(), version);
        let before = dump(&path);

        let reader = Store::open(&path, Access::ReadOnly).unwrap();
        assert_eq!(reader.load_shop().unwrap(), expected(version, &whole), "schema {version}, reading");
        assert_eq!(dump(&path), before, "reading changes nothing");

        let mut store = Store::open(&path, Access::ReadWrite).unwrap();
        assert_eq!(store.load_shop().unwrap(), expected(version, &whole), "schema {version}");
        assert_eq!(schema(&path), schema(&new_path), "schema {version}");
        match store.backup_before_upgrade() {
            Some(copy) => {
                assert!(version < latest_version());
                let name = format!("shop.before-schema-{}.almanac", latest_version());
                assert_eq!(copy.file_name().unwrap().to_str().unwrap(), name);
                assert_eq!(dump(copy), before);
            }
            None => assert_eq!(version, latest_version()),
        }
        if version >= 3 {
            assert_eq!(store.check().unwrap(), Vec::<String>::new());
            store.redo(&stamp()).unwrap();
            store.undo(&stamp()).unwrap();
            while store.undo_label().unwrap().is_some() {
                store.undo(&stamp()).unwrap();
            }
            assert_eq!(store.load_shop().unwrap(), Shop::default());
        }
    }
}

#[test]
fn a_newer_file_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = file_of_version(folder.path(), latest_version());
    Connection::open(&path).unwrap().pragma_update(None, "user_version", latest_version() + 1).unwrap();
    let before = std::fs::read(&path).unwrap();
    for access in [Access::ReadWrite, Access::ReadOnly] {
        let error = Store::open(&path, access).unwrap_err();
        assert!(matches!(error, StoreError::TooNew { .. }));
        assert_eq!(
            error.to_string(),
            format!(
                "this shop file was made by a newer version of this program (schema {}, known up to {}): {}",
                latest_version() + 1,
                latest_version(),
                path.display()
            )
        );
    }
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
