//! The shop file: opened, refused, locked, copied.

use almanac_core::actions::{Action, Change, ImportBatch};
use almanac_core::ids::{MachineId, ReadingId, Row, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::machine::{Machine, Position};
use almanac_core::moment::parse_iso_date;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::spindle::Spindle;
use almanac_core::store::{Access, StepStamp, StepState, Store, StoreError, backup_file, check_file};
use almanac_core::units::{Kilonewtons, Unit};
use rusqlite::Connection;
use std::path::{Path, PathBuf};
use std::process::Command;

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

/// Each thing that is not a shop, with what is said about it.
#[test]
fn what_is_not_a_shop_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let shop = std::fs::read(shop_in(folder.path())).unwrap();
    let other_program = {
        let path = folder.path().join("other.db");
        Connection::open(&path).unwrap().execute_batch("CREATE TABLE t (x); PRAGMA application_id = 7;").unwrap();
        std::fs::read(path).unwrap()
    };
    let with = |at: usize, bytes: &[u8]| {
        let mut changed = shop.clone();
        changed[at..at + bytes.len()].copy_from_slice(bytes);
        changed
    };
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (Vec::new(), "this is not a shop file of this program (it is empty): "),
        (b"spindle,date\n".to_vec(), "this is not a shop file of this program (it is not a database): "),
        (shop[..60].to_vec(), "this is not a shop file of this program (it is cut off): "),
        (other_program, "this is not a shop file of this program (it belongs to another program): "),
        // byte 60: user_version, as SQLite's file format says
        (with(60, &[0, 0, 0, 0]), "this is not a shop file of this program (it holds no shop): "),
        (shop[..shop.len() / 2].to_vec(), "the shop file is damaged ("),
        (with(4096, &[0xff; 4096]), "the shop file is damaged ("),
        (with(shop.len() - 8192, &[0x5a; 8192]), "the shop file is damaged ("),
    ];
    for (bytes, said) in cases {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.almanac");
        std::fs::write(&path, &bytes).unwrap();
        for access in [Access::ReadWrite, Access::ReadOnly] {
            let error = Store::open(&path, access).unwrap_err().to_string();
            assert!(error.starts_with(said), "{error}");
            assert!(error.ends_with(&format!(": {}", path.display())), "{error}");
            assert!(!error.contains('\n'), "one sentence: {error}");
            assert_eq!(std::fs::read(&path).unwrap(), bytes, "{said}");
            assert_eq!(names_in(folder.path()), ["shop.almanac"], "{said}");
        }
    }
}

#[test]
fn missing_files_and_folders_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("none.almanac");
    for access in [Access::ReadWrite, Access::ReadOnly] {
        let error = Store::open(&missing, access).unwrap_err();
        assert_eq!(error.to_string(), format!("there is no file {}", missing.display()));
        let error = Store::open(folder.path(), access).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!("a shop file was expected, but this is a folder: {}", folder.path().display())
        );
    }
    let nowhere = folder.path().join("no folder").join("shop.almanac");
    assert!(matches!(Store::create(&nowhere), Err(StoreError::NoFolder(_))));
    let there = shop_in(folder.path());
    let bytes = std::fs::read(&there).unwrap();
    assert!(matches!(Store::create(&there), Err(StoreError::AlreadyThere(_))));
    assert_eq!(std::fs::read(&there).unwrap(), bytes);
    assert_eq!(names_in(folder.path()), ["shop.almanac"]);
}

#[test]
fn odd_names_are_names() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["file:x?mode=memory.almanac", "Werk Süd #1 %20.almanac", "it's.almanac", ":memory:"] {
        let path = folder.path().join(name);
        drop(Store::create(&path).unwrap());
        assert!(Store::open(&path, Access::ReadWrite).unwrap().load_shop().unwrap().machines.is_empty());
        assert!(path.is_file(), "{name}");
    }
}

/// Runs this test again as a child: as which user, and with what in `ALMANAC_TEST_CHILD`.
/// This test again in a process of its own, from a copy that every user may run: the build folder
/// may lie where another user cannot go.
fn child_of_this_test(test: &str, what: &Path) -> Command {
    let copy = what.join("this-test");
    std::fs::copy(std::env::current_exe().unwrap(), &copy).unwrap();
    let mut command = Command::new(copy);
    command.current_dir(what);
    command.args(["--exact", test, "--nocapture"]).env("ALMANAC_TEST_CHILD", what);
    command
}

fn told_by_parent() -> Option<PathBuf> {
    std::env::var_os("ALMANAC_TEST_CHILD").map(PathBuf::from)
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_written_is_read() {
    use std::os::unix::fs::PermissionsExt as _;
    use std::os::unix::process::CommandExt as _;
    if let Some(folder) = told_by_parent() {
        // a file, and a folder in which nothing can be made, without the right to write
        for path in [folder.join("read only/shop.almanac"), folder.join("closed/shop.almanac")] {
            let error = Store::open(&path, Access::ReadWrite).unwrap_err();
            assert!(matches!(error, StoreError::NoPermission { .. }), "{error:?}");
            assert!(error.to_string().starts_with("no permission to write "), "{error}");
            let store = Store::open(&path, Access::ReadOnly).unwrap();
            assert_eq!(store.load_shop().unwrap().machines.len(), 1);
            assert_eq!(store.check().unwrap(), Vec::<String>::new());
        }
        let error = Store::open(&folder.join("secret.almanac"), Access::ReadOnly).unwrap_err();
        assert!(error.to_string().starts_with("no permission to read "), "{error}");
        let error = Store::create(&folder.join("closed/new.almanac")).unwrap_err();
        assert!(error.to_string().starts_with("no permission to write "), "{error}");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let mode = |path: &Path, mode: u32| std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    mode(folder.path(), 0o755);
    for name in ["read only", "closed"] {
        std::fs::create_dir(at(name)).unwrap();
        shop_in(&at(name));
    }
    let shop = std::fs::read(at("closed/shop.almanac")).unwrap();
    std::fs::write(at("secret.almanac"), &shop).unwrap();
    mode(&at("read only/shop.almanac"), 0o444);
    mode(&at("read only"), 0o777);
    mode(&at("closed/shop.almanac"), 0o666);
    mode(&at("closed"), 0o555);
    mode(&at("secret.almanac"), 0o000);
    let mut child = child_of_this_test("shop_file::a_file_that_may_not_be_written_is_read", folder.path());
    if std::fs::read(at("secret.almanac")).is_ok() {
        // permissions mean nothing to this user: be one to whom they do
        child.uid(65534).gid(65534);
    }
    let output = child.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    for path in [at("read only/shop.almanac"), at("closed/shop.almanac")] {
        assert_eq!(std::fs::read(path).unwrap(), shop);
    }
    assert_eq!(names_in(&at("read only")), ["shop.almanac"]);
    assert_eq!(names_in(&at("closed")), ["shop.almanac"]);
    mode(&at("closed"), 0o755);
}

fn many_readings(first_row: i64) -> Action {
    let rows = (0..400).map(|index| {
        let strokes = vec![Stroke::parse("16.9", Unit::Kilonewton).unwrap()];
        let day = parse_iso_date("2026-02-02").unwrap();
        let reading = Reading::of(SpindleId::from_row(1), day.into(), Phase::Routine, Unit::Kilonewton, strokes);
        Row { id: ReadingId::from_row(first_row + index), value: reading }
    });
    let mut batch = ImportBatch { source: "readings.csv".to_owned(), ..ImportBatch::default() };
    batch.readings.added = rows.collect();
    Action::Import(Box::new(batch))
}

fn add_spindle(name: &str) -> Action {
    let interface = Interface::parse("HSK-A63").unwrap();
    Action::Spindle(Change::Add(Spindle::named(name, interface, Kilonewtons::new(18.0).unwrap())))
}

/// A writer that died in the middle of writing leaves its journal: reading and writing roll it back.
#[test]
fn a_half_written_change_is_rolled_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    store.perform(add_spindle("S-0117"), &stamp()).unwrap();
    store.perform(many_readings(1), &stamp()).unwrap();
    let shop = store.load_shop().unwrap();
    drop(store);
    for access in [Access::ReadOnly, Access::ReadWrite] {
        let crashed = tempfile::tempdir().unwrap();
        let crashed_path = crashed.path().join("shop.almanac");
        {
            // hardly any cache, so that changed pages go to the file before the commit
            let writer = Connection::open(&path).unwrap();
            writer
                .execute_batch("PRAGMA cache_size = 1; BEGIN; UPDATE reading SET note = hex(randomblob(200));")
                .unwrap();
            std::fs::copy(&path, &crashed_path).unwrap();
            std::fs::copy(folder.path().join("shop.almanac-journal"), crashed.path().join("shop.almanac-journal"))
                .unwrap();
        }
        assert_ne!(std::fs::read(&crashed_path).unwrap(), std::fs::read(&path).unwrap());
        let store = Store::open(&crashed_path, access).unwrap();
        assert_eq!(store.load_shop().unwrap(), shop);
        assert_eq!(store.check().unwrap(), Vec::<String>::new());
        drop(store);
        assert_eq!(names_in(crashed.path()), ["shop.almanac"]);
    }
}

#[test]
fn a_backup_is_the_shop_and_never_takes_the_place_of_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    store.perform(add_spindle("S-0117"), &stamp()).unwrap();
    let shop = store.load_shop().unwrap();
    let copy = folder.path().join("copy.almanac");
    store.backup(&copy).unwrap();
    // from outside as well, while the window is open
    let second = folder.path().join("second.almanac");
    backup_file(&path, &second).unwrap();
    store.perform(add_machine("R-05"), &stamp()).unwrap();
    for copy in [&copy, &second] {
        let mut copied = Store::open(copy, Access::ReadWrite).unwrap();
        assert_eq!(copied.load_shop().unwrap(), shop);
        assert_eq!(copied.check().unwrap(), Vec::<String>::new());
        copied.undo(&stamp()).unwrap();
    }
    let bytes = std::fs::read(&copy).unwrap();
    let error = store.backup(&copy).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!("there is already a file of that name, and it is never overwritten: {}", copy.display())
    );
    assert!(matches!(store.backup(&path), Err(StoreError::AlreadyThere(_))));
    assert_eq!(std::fs::read(&copy).unwrap(), bytes);
    assert!(matches!(store.backup(&folder.path().join("none/copy.almanac")), Err(StoreError::NoFolder(_))));
    drop(store);
    assert_eq!(names_in(folder.path()), ["copy.almanac", "second.almanac", "shop.almanac"]);
}

#[test]
fn saved_under_another_name_it_goes_on_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let bytes = std::fs::read(&path).unwrap();
    let mut store = Store::open(&path, Access::ReadOnly).unwrap();
    let named = folder.path().join("named.almanac");
    assert!(matches!(store.save_as(&path), Err(StoreError::AlreadyThere(_))));
    store.save_as(&named).unwrap();
    assert_eq!((store.path(), store.access()), (Some(named.as_path()), Access::ReadWrite));
    store.perform(add_machine("R-05"), &stamp()).unwrap();
    assert!(matches!(Store::open(&named, Access::ReadWrite), Err(StoreError::InUse(_))));
    drop(store);
    assert_eq!(std::fs::read(&path).unwrap(), bytes);
    assert_eq!(Store::open(&named, Access::ReadOnly).unwrap().load_shop().unwrap().machines.len(), 2);
    let mut memory = Store::open_in_memory().unwrap();
    memory.perform(add_machine("R-04"), &stamp()).unwrap();
    memory.save_as(&folder.path().join("from memory.almanac")).unwrap();
    assert_eq!(memory.undo_label().unwrap().as_deref(), Some("Add machine R-04"));
}

/// What another program may do to the file, and what is found of it.
#[test]
fn a_check_names_each_fault() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    store.perform(add_spindle("S-0117"), &stamp()).unwrap();
    store.perform(add_spindle("S-0139"), &stamp()).unwrap();
    store.perform(many_readings(1), &stamp()).unwrap();
    drop(store);
    assert_eq!(check_file(&path).unwrap(), Vec::<String>::new());
    let outside = Connection::open(&path).unwrap();
    outside
        .execute_batch(
            "INSERT INTO mounting VALUES (1, 1, 1, 1, '2026-01-05', NULL), (2, 2, 1, 1, '2026-02-05', NULL),
                 (3, 2, 1, 2, '2026-01-05', '2026-01-06');
             UPDATE reading SET value_1 = 169.0 WHERE id = 7;
             UPDATE reading SET taken_at = '2026-02-31' WHERE id = 8;
             DELETE FROM reading WHERE id = 9;
             UPDATE spindle SET installed_on = '2026-01-20' WHERE id = 1;
             PRAGMA foreign_keys = OFF;
             INSERT INTO work_order VALUES (1, '26-001', 99, 'minor', 'planned', NULL, NULL, NULL, NULL, '', 0, NULL, '');",
        )
        .unwrap();
    let faults = check_file(&path).unwrap();
    let expected = [
        "work order in row 1 refers to a spindle that is not there",
        "reading of S-0117 in row 7: stroke 1 was typed as '16.9' kN, but its value is stored as 169",
        "table reading, row 8, taken_at: '2026-02-31' does not fit",
        "position R-04 already holds spindle S-0117 from 2026-01-05",
        "mounting in row 3: machine R-04 has no position 2",
        "mounting in row 1: 2026-01-05 lies before spindle S-0117 was installed on 2026-01-20",
        "spindle in row 1 is not as the journal left it",
        "reading in row 7 is not as the journal left it",
        "reading in row 8 is not as the journal left it",
        "reading in row 9 is not as the journal left it",
        "mounting in row 1 is in no step of the journal",
        "mounting in row 2 is in no step of the journal",
        "mounting in row 3 is in no step of the journal",
        "work order in row 1 is in no step of the journal",
    ];
    assert_eq!(faults, expected);
    // undo does not guess over what was changed outside
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    let error = store.undo(&stamp()).unwrap_err();
    assert_eq!(
        error.to_string(),
        "'Import readings.csv: 400 rows' cannot be turned back: reading 9 was changed outside of this program"
    );
}

#[test]
fn a_damaged_file_is_checked_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = shop_in(folder.path());
    let mut bytes = std::fs::read(&path).unwrap();
    let last_page = bytes.len() - 4096;
    for damaged in [4096..8192, last_page..last_page + 4096] {
        bytes[damaged].fill(0xff);
        std::fs::write(&path, &bytes).unwrap();
        let faults = check_file(&path).unwrap();
        let named = faults.iter().all(|fault| fault.starts_with("the file is damaged: "));
        assert!(!faults.is_empty() && named, "{faults:?}");
        assert_eq!(std::fs::read(&path).unwrap(), bytes);
    }
    assert_eq!(names_in(folder.path()), ["shop.almanac"]);
}

#[test]
fn the_journal_says_who_changed_what_when() {
    let mut store = Store::open_in_memory().unwrap();
    store.perform(add_machine("R-04"), &stamp()).unwrap();
    store.perform(add_spindle("S-0117"), &stamp()).unwrap();
    let position = Position { machine: MachineId::from_row(1), number: 1 };
    let on = parse_iso_date("2026-01-05").unwrap();
    let incoming = Some(SpindleId::from_row(1));
    store.perform(Action::ExchangeSpindle { position, incoming, on }, &stamp()).unwrap();
    let later = StepStamp { at: stamp().at + chrono::TimeDelta::minutes(5), who: "planner".to_owned() };
    let on = parse_iso_date("2026-02-05").unwrap();
    store.perform(Action::ExchangeSpindle { position, incoming: None, on }, &later).unwrap();
    store.undo(&later).unwrap();
    let entries = store.journal(2, 0).unwrap();
    assert_eq!(entries.len(), 2);
    let newest = &entries[0];
    assert_eq!(newest.what, "Take S-0117 out of R-04");
    assert_eq!((newest.at, newest.who.as_str(), newest.table), (later.at, "planner", "mounting"));
    assert_eq!((newest.state, newest.turned.clone()), (StepState::Undone, Some((later.at, "planner".to_owned()))));
    assert_eq!(newest.before.as_deref(), Some("spindle S-0117, machine R-04, position 1, mounted on 2026-01-05"));
    assert_eq!(
        newest.after.as_deref(),
        Some("spindle S-0117, machine R-04, position 1, mounted on 2026-01-05, removed on 2026-02-05")
    );
    assert_eq!((entries[1].what.as_str(), entries[1].before.as_deref()), ("Mount S-0117 in R-04", None));
    let oldest = store.journal(10, 3).unwrap();
    assert_eq!(oldest.len(), 1);
    assert_eq!(oldest[0].after.as_deref(), Some("name R-04, hall Router hall, positions 1"));
}
