//! Files that cannot be read, are cut short, full of faults or of anything at all: said in words, and
//! nothing hangs or panics.

use super::bad_input::{check, check_bytes};
use almanac_core::forecast::{NoProgress, Progress};
use almanac_core::import::{ImportError, LISTED, Source, import, import_paths, read_folder};
use almanac_core::shop::Shop;
use almanac_core::tables::FolderTable;
use almanac_tests::small_shop::{READINGS, SPINDLES, run, shop, today};
use proptest::prelude::*;
use std::cell::Cell;
use std::path::Path;

#[test]
fn files_that_cannot_be_read() {
    check("readings.csv", "", (1, "", "", "the file is empty", "header row"));
    check("readings.csv", "\u{feff}\r\n", (1, "", "", "the file is empty", "header row"));
    check(
        "readings.csv",
        "spindle,date,phases,quantity,unit,stroke_1\n",
        (
            1,
            "header",
            "spindle,date,phases,quantity,unit,stroke_1",
            "readings.csv needs the column phase; found are spindle, date, phases, quantity, unit, stroke_1",
            "is phases meant? Name it phase",
        ),
    );
    check(
        "meters.csv",
        "date,run_hours\n",
        (1, "header", "date,run_hours", "needs the column spindle (or machine and position)", "add spindle"),
    );
    check("closures.csv", "start,end,Start\n", (1, "start", "Start", "names it twice, in fields 1 and 3", "leave one"));
    check(
        "january.csv",
        "when,what\n",
        (1, "header", "when,what", "found are when, what", "name the file shop.csv, machines.csv"),
    );
    check(
        "january.csv",
        "start,end,what,a,b,c\n",
        (1, "header", "start,end,what,a,b,c", "most of its columns are not of a shop folder", "name it closures.csv"),
    );
    check_bytes(
        "closures.csv",
        b"start,end,what\n2026-01-01,2026-01-02,Caf\xe9\n",
        (2, "what", "Caf\u{fffd}", "is not UTF-8 text", "save the file as UTF-8"),
    );
    check_bytes(
        "closures.csv",
        b"start,end,wh\xe4t\n",
        (1, "header", "wh\u{fffd}t", "is not UTF-8 text", "save the file as UTF-8"),
    );
    check_bytes("closures.csv", b"\xff\xfes\0t\0", (1, "", "", "UTF-16", "UTF-8"));
    check_bytes("closures.csv", b"PK\x03\x04\0\0\0\x08binary", (1, "", "", "is not text", "export it as CSV"));
    check(
        "closures.csv",
        "start,end,what\n2026-01-01,2026-01-02,x\n2026-01-03,2026-01-04,\"x\n2026-01-05,2026-01-06,x\n",
        (3, "", "", "never closed", "close the quote"),
    );
    check(
        "closures.csv",
        "start,end,what\n2026-01-01,2026-01-02,\"x\"y\n",
        (2, "what", "xy", "follows its closing quote", "double each quote"),
    );
    // rows are lines as a person sees them, also after a field of several lines
    check(
        "closures.csv",
        "start,end,what\r\n2026-01-01,2026-01-02,\"two\r\nlines\"\r\n2026-01-05,2026-01-04,x\r\n",
        (4, "end", "2026-01-04", "before the start", "exchange"),
    );
}

#[test]
fn paths_that_cannot_be_read_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("nowhere");
    let error = import_paths(std::slice::from_ref(&missing), &Shop::default(), today(), &NoProgress).unwrap_err();
    assert!(matches!(error, ImportError::Missing(_)) && error.to_string().contains("nowhere"), "{error}");
    let error = read_folder(folder.path()).unwrap_err();
    assert!(matches!(error, ImportError::NoSpindles(_)) && error.to_string().contains("spindles.csv"), "{error}");
    let error = import_paths(&[Path::new("/dev/zero").to_owned()], &Shop::default(), today(), &NoProgress).unwrap_err();
    assert!(matches!(error, ImportError::NotAFile(_)) && error.to_string().contains("/dev/zero"), "{error}");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let locked = folder.path().join("spindles.csv");
        std::fs::write(&locked, SPINDLES).unwrap();
        std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o000)).unwrap();
        // the superuser may read everything; then there is nothing to see here
        if std::fs::File::open(&locked).is_err() {
            let error = read_folder(folder.path()).unwrap_err();
            assert!(matches!(error, ImportError::NoRights(_)) && error.to_string().contains("spindles.csv"), "{error}");
        }
    }
}

#[test]
fn a_folder_names_what_it_leaves_out() {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("Spindles.CSV", "spindle,interface,nominal_force_kn,colour,notess\nS-1,HSK-A63,18,red,x\n,,,,\n"),
        ("vibration.csv", "a,b\n"),
        ("README.md", "text"),
    ] {
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let outcome = import_paths(&[folder.path().to_owned()], &Shop::default(), today(), &NoProgress).unwrap();
    let notes: Vec<String> = outcome.report.notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        notes,
        [
            "Spindles.CSV: 1 rows without any value were left out",
            "Spindles.CSV: column 'colour' is not known and was left out",
            "Spindles.CSV: column 'notess' is not known and was left out; is notes meant?",
            "vibration.csv: not a file of a shop folder; it was left out",
        ]
    );
    assert_eq!((outcome.report.new_rows(), outcome.report.refused_count), (1, 0));
}

/// Counts and stops after a while.
struct StopAt(Cell<usize>);

impl Progress for StopAt {
    fn step(&self, done: usize, total: usize) -> bool {
        assert!(done <= total);
        self.0.set(self.0.get() - 1);
        self.0.get() > 0
    }
}

#[test]
fn the_work_can_be_stopped() {
    let text = format!("{READINGS}{}", "S-0117,2026-01-05,routine,clamp_force,kN,16.9,,,\n".repeat(5000));
    let error = import(&[Source::from_bytes("readings.csv", text.as_bytes())], &shop(), today(), &StopAt(Cell::new(3)));
    assert!(matches!(error, Err(ImportError::Cancelled(_))));
}

#[test]
fn a_file_full_of_faults_is_counted_and_listed_to_a_bound() {
    let text = format!("{READINGS}{}", "S-0000,2026-01-05,routine,clamp_force,kN,16.9,,,\n".repeat(LISTED + 500));
    let outcome = run(&[("readings.csv", text.as_bytes())], &shop());
    assert_eq!((outcome.report.refused.len(), outcome.report.refused_count), (LISTED, LISTED + 500));
    assert_eq!(outcome.report.files[0].refused, LISTED + 500);
}

#[test]
fn a_huge_line_is_left_after_a_million_bytes() {
    let mut text = READINGS.to_owned();
    text.push_str(&"x".repeat(3 << 20));
    let outcome = run(&[("readings.csv", text.as_bytes())], &shop());
    assert_eq!(outcome.report.refused[0].row, 2);
    assert!(outcome.report.refused[0].why.contains("longer than a million bytes"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_panics_on_any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..400), table in 0..17_usize) {
        let name = FolderTable::ALL[table].file_name();
        let outcome = run(&[(name, bytes.as_slice()), ("any.csv", bytes.as_slice())], &shop());
        prop_assert!(outcome.report.refused_count > 0 || outcome.batch.is_empty());
    }

    /// Fields by chance under a right header: every row is taken, here already, or refused.
    #[test]
    fn every_row_is_accounted_for(
        rows in proptest::collection::vec(proptest::collection::vec("[-=0-9.a-zA-Z;:,/\"\u{e4} ]{0,12}|S-0117|R-04|2026-01-05|minor|clamp_force|kN|16\\.9|HSK-A63", 30), 0..8),
        table in 0..17_usize,
    ) {
        let table = FolderTable::ALL[table];
        let width = table.columns().len();
        let mut text = table.columns().iter().map(|column| column.name).collect::<Vec<_>>().join(",");
        for row in &rows {
            text.push_str("\r\n");
            let fields: Vec<String> = row.iter().take(width).map(|field| format!("\"{}\"", field.replace('"', "\"\""))).collect();
            text.push_str(&fields.join(","));
        }
        let outcome = run(&[(table.file_name(), text.as_bytes())], &shop());
        let file = &outcome.report.files[0];
        let blank = rows.iter().filter(|row| row.iter().take(width).all(|field| field.trim().is_empty())).count();
        prop_assert_eq!(file.new + file.changed + file.already_here + file.refused + blank, rows.len(), "{:#?}", outcome.report);
        // what came in comes in no second time
        let after = outcome.batch.apply_to(&shop());
        let again = run(&[(table.file_name(), text.as_bytes())], &after);
        prop_assert!(again.batch.is_empty() || again.report.refused_count < outcome.report.refused_count, "{:#?}", again);
    }
}
