//! Files with faults: each is refused with file, row, column, value, reason and mend; nothing hangs
//! or panics whatever a file holds.

use almanac_core::forecast::{NoProgress, Progress};
use almanac_core::import::{ImportError, LISTED, Source, import, import_paths, read_folder};
use almanac_core::shop::Shop;
use almanac_core::tables::FolderTable;
use almanac_tests::small_shop::{METERS, MOUNTINGS, READINGS, SPINDLES, run, shop, today};
use proptest::prelude::*;
use std::cell::Cell;
use std::path::Path;

/// One refused row: `(row, column, value, part of why, part of mend)`.
type Expected<'a> = (u64, &'a str, &'a str, &'a str, &'a str);

#[track_caller]
fn check_bytes(file: &str, bytes: &[u8], (row, column, value, why, mend): Expected<'_>) {
    let outcome = run(&[(file, bytes)], &shop());
    let refused = &outcome.report.refused;
    assert_eq!(refused.len(), 1, "{:#?}", outcome.report);
    let found = &refused[0];
    assert_eq!(
        (found.file.as_str(), found.row, found.column.as_str(), found.value.as_str()),
        (file, row, column, value)
    );
    assert!(found.why.contains(why), "why: {}", found.why);
    assert!(found.mend.contains(mend), "mend: {}", found.mend);
    let sentence = found.to_string();
    assert!(sentence.starts_with(&format!("{file}, row {row}")) && sentence.contains(&found.mend), "{sentence}");
    assert!(!outcome.may_apply(false) && outcome.may_apply(true));
    assert_eq!(outcome.report.files[0].refused, 1);
}

#[track_caller]
fn check(file: &str, text: &str, expected: Expected<'_>) {
    check_bytes(file, text.as_bytes(), expected);
}

#[track_caller]
fn check_reading(row: &str, (column, value, why, mend): (&str, &str, &str, &str)) {
    check("readings.csv", &format!("{READINGS}{row}\n"), (2, column, value, why, mend));
}

#[test]
fn readings_that_cannot_be() {
    check_reading(
        "S-O117,2026-01-05,routine,clamp_force,kN,16.9,,,",
        ("spindle", "S-O117", "is not a spindle of this shop", "did you mean S-0117? Else add it to spindles.csv"),
    );
    check_reading(
        "X,2026-01-05,routine,clamp_force,kN,16.9,,,",
        ("spindle", "X", "is not a spindle", "check the name, or add it to spindles.csv"),
    );
    check_reading(",2026-01-05,routine,clamp_force,kN,16.9,,,", ("spindle", "", "is empty", "fill in spindle"));
    check_reading(
        "S-0117,2026-02-30,routine,clamp_force,kN,16.9,,,",
        ("date", "2026-02-30", "a day that does not exist", "check year, month and day"),
    );
    check_reading(
        "S-0117,17.3.2026,routine,clamp_force,kN,16.9,,,",
        ("date", "17.3.2026", "is not an ISO 8601 date", "write it as 2026-03-17"),
    );
    check_reading(
        "S-0117,03/17/2026,routine,clamp_force,kN,16.9,,,",
        ("date", "03/17/2026", "is not an ISO 8601 date", "such as 2026-03-09"),
    );
    check_reading(
        "S-0117,2026-01-05T25:00,routine,clamp_force,kN,16.9,,,",
        ("date", "2026-01-05T25:00", "is not an ISO 8601 date", "2026-03-09T14:30"),
    );
    check_reading(
        "S-0118,2024-04-30,routine,clamp_force,kN,16.9,,,",
        ("date", "2024-04-30", "before the spindle was installed, 2024-05-01", "correct installed_on"),
    );
    check_reading(
        "S-0117,2026-01-05,as_fond,clamp_force,kN,16.9,,,",
        ("phase", "as_fond", "is not a phase", "did you mean as_found?"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,torque,kN,16.9,,,",
        ("quantity", "torque", "is not a quantity", "clamp_force, setting_dimension"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kg,16.9,,,",
        ("unit", "kg", "is not a unit", "kN, lbf, N, mm, in"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,mm,16.9,,,",
        ("unit", "mm", "does not measure a clamp force", "kN, lbf or N"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,setting_dimension,kN,10.5,,,",
        ("unit", "kN", "does not measure a setting dimension", "mm or in"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,NaN,,,",
        ("stroke_1", "NaN", "is not a finite number", "digits"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,16.9,inf,,",
        ("stroke_2", "inf", "is not a finite number", "digits"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,1e999,,,",
        ("stroke_1", "1e999", "is not a finite number", "digits"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,0,,,",
        ("stroke_1", "0", "not above 0", "what the gauge showed"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,16.9,-1,,",
        ("stroke_2", "-1", "not above 0", "leave it empty"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,16.9 kN,,,",
        ("stroke_1", "16.9 kN", "is not a number", "without a unit"),
    );
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,\"16,9\",,,",
        (
            "stroke_1",
            "16,9",
            "decimal comma in a file separated by commas",
            "write 16.9, or separate the file by semicolons",
        ),
    );
    check_reading("S-0117,2026-01-05,routine,clamp_force,kN,,16.9,,", ("stroke_1", "", "is empty", "fill in stroke_1"));
    check_reading("S-0117,2026-01-05,routine,clamp_force,kN,16.9,,-5,", ("run_hours", "-5", "is below 0", "0 or more"));
    check_reading(
        "S-0117,2026-01-05,routine,clamp_force,kN,16.9,,,,7",
        ("spindle", "S-0117", "the row has 10 fields, the header has 9", "quotes"),
    );
    check_reading("S-0117,2026-01-05", ("spindle", "S-0117", "the row has 2 fields", "separators"));
}

#[test]
fn registers_that_cannot_be() {
    check("machines.csv", "machine,hall\n,Router hall\n", (2, "machine", "", "is empty", "fill in machine"));
    check("machines.csv", "machine,hall\nR-01,\n", (2, "hall", "", "is empty", "fill in hall"));
    check(
        "machines.csv",
        "machine,hall,spindle_positions\nR-01,H,0\n",
        (2, "spindle_positions", "0", "whole number", "from 1 on"),
    );
    check(
        "machines.csv",
        "machine,hall,stop_cost_per_hour\nR-01,H,-1\n",
        (2, "stop_cost_per_hour", "-1", "is below 0", "0 or more"),
    );
    check(
        "machines.csv",
        "machine,hall\nR-01,H\nR-01,K\n",
        (3, "machine", "R-01", "another content in row 2", "leave one"),
    );
    let spindle = |row: &str| {
        format!(
            "spindle,interface,nominal_force_kn,service_limit_pct,stop_limit_pct,installed_on,out_of_service_on\n{row}\n"
        )
    };
    check("spindles.csv", &spindle("S-1,,18,,,,"), (2, "interface", "", "is empty", "fill in interface"));
    check("spindles.csv", &spindle("S-1,HSK-A63,0,,,,"), (2, "nominal_force_kn", "0", "is not above 0", "above 0"));
    check(
        "spindles.csv",
        &spindle("S-1,HSK-A63,18,120,,,"),
        (2, "service_limit_pct", "120", "more than 100 %", "to 100"),
    );
    check(
        "spindles.csv",
        &spindle("S-1,HSK-A63,18,70,80,,"),
        (2, "stop_limit_pct", "80", "not below the service limit", "below"),
    );
    check(
        "spindles.csv",
        &spindle("S-1,HSK-A63,18,,,2024-01-02,2024-01-01"),
        (2, "out_of_service_on", "2024-01-01", "before installed", "correct"),
    );
    check(
        "spindles.csv",
        &spindle("S-1,HSK-A63,18,,,2024-01-02T10:00,"),
        (2, "installed_on", "2024-01-02T10:00", "time of day", "the day alone"),
    );
    check(
        "gauges.csv",
        "gauge,quantity,unit\nG-01,clamp_force,mm\n",
        (2, "unit", "mm", "does not measure a clamp force", "kN"),
    );
    check(
        "gauges.csv",
        "gauge,quantity,out\nG-01,clamp_force,2026-04-12/2026-04-01\n",
        (2, "out", "2026-04-12/2026-04-01", "not a list of days", "2026-04-01/2026-04-12"),
    );
    check(
        "crew.csv",
        "technician,skills\nBrook,minor;mayor\n",
        (2, "skills", "minor;mayor", "'mayor' is not a kind", "minor;major"),
    );
    check(
        "crew.csv",
        "technician,skills,shifts\nBrook,minor,Mon 6-14\n",
        (2, "shifts", "Mon 6-14", "not a list of shifts", "Mon-Fri 06:00-14:00"),
    );
    check(
        "crew.csv",
        "technician,skills\nBrook;Thorne,minor\n",
        (2, "technician", "Brook;Thorne", "semicolon", "without it"),
    );
    check("parts.csv", "part,description,on_hand\nring,,\n", (2, "on_hand", "", "is empty", "fill in on_hand"));
    check(
        "kits.csv",
        "interface,kind,part,quantity\nHSK-A63,minor,ring,0\n",
        (2, "quantity", "0", "is not above 0", "above 0"),
    );
    check(
        "service_kinds.csv",
        "interface,kind,minutes,crew\nHSK-A63,minor,90,3\n",
        (2, "crew", "3", "more than two", "1 or 2"),
    );
    check(
        "limits.csv",
        "interface,stop_limit_pct\nHSK-A63,0\n",
        (2, "stop_limit_pct", "0", "is not above 0", "above 0"),
    );
    check("shop.csv", "key,value\naccepted_risk,7\n", (2, "value", "7", "does not fit", "0.001 to 0.5"));
    check(
        "shop.csv",
        "key,value\naccepted_rsik,0.1\n",
        (2, "key", "accepted_rsik", "not a setting", "did you mean accepted_risk?"),
    );
    let order = "order,spindle,kind,state,held,closed_on,opened_on\n";
    check(
        "orders.csv",
        &format!("{order}26-001,S-9999,minor,planned,,,\n"),
        (2, "spindle", "S-9999", "not a spindle", "spindles.csv"),
    );
    check(
        "orders.csv",
        &format!("{order}26-001,S-0117,minor,plannd,,,\n"),
        (2, "state", "plannd", "not a state", "did you mean planned?"),
    );
    check(
        "orders.csv",
        &format!("{order}26-001,S-0117,minor,planned,perhaps,,\n"),
        (2, "held", "perhaps", "neither yes nor no", "yes or no"),
    );
    check(
        "orders.csv",
        &format!("{order}26-001,S-0117,minor,done,,2026-01-01,2026-01-02\n"),
        (2, "closed_on", "2026-01-01", "before opened_on", "correct"),
    );
}

#[test]
fn records_that_cannot_be() {
    let meter = |row: &str| format!("{METERS}{row}\n");
    check(
        "meters.csv",
        &meter(",,,2026-01-05,100,,"),
        (2, "spindle", "", "is empty, and so is machine", "machine and position"),
    );
    check(
        "meters.csv",
        &meter("S-0117,R-04,1,2026-01-05,100,,"),
        (2, "spindle", "S-0117", "beside a machine", "leave one out"),
    );
    check(
        "meters.csv",
        &meter(",R-4,1,2026-01-05,100,,"),
        (2, "machine", "R-4", "not a machine", "did you mean R-04?"),
    );
    check(
        "meters.csv",
        &meter(",R-07,3,2026-01-05,100,,"),
        (2, "position", "3", "not a position of R-07, which has 2", "1 to 2"),
    );
    check("meters.csv", &meter("S-0117,,,2026-01-05,-1,,"), (2, "run_hours", "-1", "is below 0", "0 or more"));
    check(
        "meters.csv",
        &meter("S-0117,,,2026-01-05,,,"),
        (2, "run_hours", "", "needs run hours or clamp cycles", "fill in"),
    );
    check(
        "meters.csv",
        &meter("S-0118,,,2024-01-05,1,,"),
        (2, "date", "2024-01-05", "before the spindle was installed", "check the day"),
    );
    check(
        "meters.csv",
        &meter("S-0117,,,2026-01-05,1,,true"),
        (2, "meter_replaced", "true", "neither yes nor no", "yes or no"),
    );
    check(
        "services.csv",
        "spindle,date,kind\nS-0117,2026-01-05,mini\n",
        (2, "kind", "mini", "not a kind of service", "minor"),
    );
    check(
        "services.csv",
        "spindle,date,kind,parts\nS-0117,2026-01-05,minor,ring=none\n",
        (2, "parts", "ring=none", "not a list of parts", "name=quantity"),
    );
    check(
        "closures.csv",
        "start,end\n2026-04-05,2026-04-02\n",
        (2, "end", "2026-04-02", "before the start", "exchange"),
    );
    check(
        "deliveries.csv",
        "part,expected_on,quantity\nring,2026-04-05,-2\n",
        (2, "quantity", "-2", "not above 0", "above 0"),
    );
    let window = |row: &str| format!("start,end,hall,machine,repeat\n{row}\n");
    check(
        "downtime.csv",
        &window("2026-03-07T13:00,2026-03-07T07:00,,,"),
        (2, "end", "2026-03-07T07:00", "not lie after the start", "exchange"),
    );
    check(
        "downtime.csv",
        &window("2026-03-07,2026-03-07,,R-4,"),
        (2, "machine", "R-4", "not a machine", "did you mean R-04?"),
    );
    check(
        "downtime.csv",
        &window("2026-03-07,2026-03-07,Mould hall,R-04,"),
        (2, "hall", "Mould hall", "not the hall of R-04, which stands in Router hall", "leave the hall empty"),
    );
    check(
        "downtime.csv",
        &window("2026-03-07,2026-03-07,,,FREQ=YEARLY"),
        (2, "repeat", "FREQ=YEARLY", "no FREQ that is known", "DAILY, WEEKLY or MONTHLY"),
    );
    check(
        "downtime.csv",
        &window("2026-03-07,2026-03-07,,,FREQ=WEEKLY;BYHOUR=7"),
        (2, "repeat", "FREQ=WEEKLY;BYHOUR=7", "'BYHOUR=7' is not known", "one row per window"),
    );
}

#[test]
fn mountings_that_overlap_name_both() {
    let stays = |rows: &str| format!("{MOUNTINGS}{rows}");
    check(
        "mountings.csv",
        &stays("S-0117,R-04,1,2026-01-01,\nS-0119,R-04,1,2026-02-01,\n"),
        (
            3,
            "mounted_on",
            "2026-02-01",
            "S-0119 in R-04 from 2026-02-01 overlaps S-0117 in R-04 from 2026-01-01 (row 2)",
            "removed_on",
        ),
    );
    check(
        "mountings.csv",
        &stays("S-0117,R-07,1,2026-01-01,2026-03-01\nS-0117,R-04,1,2026-02-01,\n"),
        (
            3,
            "mounted_on",
            "2026-02-01",
            "S-0117 in R-04 from 2026-02-01 overlaps S-0117 in R-07/1 from 2026-01-01 to 2026-03-01 (row 2)",
            "removed_on",
        ),
    );
    check(
        "mountings.csv",
        &stays("S-0117,R-04,2,2026-01-01,\n"),
        (2, "position", "2", "not a position of R-04, which has 1", "1 to 1"),
    );
    check(
        "mountings.csv",
        &stays("S-0117,R-04,1,2026-01-01,2026-01-01\n"),
        (2, "removed_on", "2026-01-01", "does not lie after mounted_on", "no longer there"),
    );
    check(
        "mountings.csv",
        &stays("S-0118,R-04,1,2024-01-01,\n"),
        (2, "mounted_on", "2024-01-01", "before the spindle was installed", "check"),
    );
    // the one that ends on a day makes room for one from that day on, in any order of the rows
    let files = stays("S-0119,R-04,1,2026-02-01,\nS-0117,R-04,1,2026-01-01,2026-02-01\n");
    let outcome = run(&[("mountings.csv", files.as_bytes())], &shop());
    assert_eq!((outcome.report.refused_count, outcome.report.new_rows()), (0, 2));
    // an open stay in the shop is ended by the same file that starts the next one
    let first = run(&[("mountings.csv", stays("S-0117,R-04,1,2026-01-01,\n").as_bytes())], &shop());
    let with_stay = first.batch.apply_to(&shop());
    let next = run(&[("mountings.csv", files.as_bytes())], &with_stay);
    assert_eq!((next.report.refused_count, next.report.new_rows(), next.report.changed()), (0, 1, 1));
    // against the shop the new row is refused
    let clash = run(&[("mountings.csv", stays("S-0119,R-04,1,2025-06-01,\n").as_bytes())], &with_stay);
    assert!(clash.report.refused[0].why.contains("overlaps S-0117 in R-04 from 2026-01-01"));
}

#[test]
fn registers_keep_to_what_the_shop_has() {
    let mounted = format!("{MOUNTINGS}S-0117,R-07,2,2026-01-01,\n");
    let shop = run(&[("mountings.csv", mounted.as_bytes())], &shop()).batch.apply_to(&shop());
    let fewer = run(&[("machines.csv", b"machine,hall,spindle_positions\nR-07,Router hall,1\n")], &shop);
    assert!(fewer.report.refused[0].why.contains("less than position 2"), "{:?}", fewer.report.refused);
    let later = b"spindle,interface,nominal_force_kn,installed_on\nS-0117,HSK-A63,18,2026-02-01\n";
    let later = run(&[("spindles.csv", later.as_slice())], &shop);
    assert!(later.report.refused[0].why.contains("after the first record of this spindle, 2026-01-01"));
}

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

#[test]
fn good_rows_are_accepted_alone_when_asked() {
    let text = format!(
        "{READINGS}S-0117,2026-01-05,routine,clamp_force,kN,16.9,,,\nS-0117,2026-01-06,routine,clamp_force,kN,x,,,\n"
    );
    let outcome = run(&[("readings.csv", text.as_bytes())], &shop());
    assert!(!outcome.may_apply(false));
    assert_eq!(outcome.batch.readings.added.len(), 1);
    assert_eq!(outcome.report.summary(), "1 new, 1 refused");
}

#[test]
fn rows_after_a_refused_spindle_say_so() {
    let spindles = "spindle,interface,nominal_force_kn\nS-9,HSK-A63,-1\n";
    let readings = format!("{READINGS}S-9,2026-01-05,routine,clamp_force,kN,16.9,,,\n");
    let outcome = run(&[("readings.csv", readings.as_bytes()), ("spindles.csv", spindles.as_bytes())], &shop());
    assert_eq!(outcome.report.refused.len(), 2);
    assert!(outcome.report.refused[0].mend.contains("its own row was refused"), "{:?}", outcome.report.refused);
}

#[test]
fn equal_rows_of_one_file_are_one() {
    let row = "S-0117,2026-01-05,routine,clamp_force,kN,16.9,17.0,,\n";
    let same = "S-0117,2026-01-05,routine,clamp_force,kN,16.90,17,,doubted\n";
    let other = "S-0117,2026-01-05,routine,clamp_force,kN,16.9,17.1,,\n";
    let outcome = run(&[("readings.csv", format!("{READINGS}{row}{same}{other}").as_bytes())], &shop());
    assert_eq!((outcome.report.new_rows(), outcome.report.already_here()), (2, 1));
}

#[test]
fn register_rows_update_what_they_name() {
    let parts = "part,description,on_hand,unit,price\nring,seal ring,4,piece,2.5\n";
    let shop = run(&[("parts.csv", parts.as_bytes())], &shop()).batch.apply_to(&shop());
    // a column that is not there stays, an empty field empties
    let stock = "part,description,on_hand,unit\nring,seal ring,3,\n";
    let outcome = run(&[("stock.csv", stock.as_bytes())], &shop);
    assert_eq!((outcome.report.changed(), outcome.report.new_rows()), (1, 0));
    let part = &outcome.batch.parts.changed[0];
    assert_eq!((part.on_hand, part.unit.as_str(), part.price.map(|price| price.get())), (3.0, "", Some(2.5)));
}

#[test]
fn semicolons_allow_a_decimal_comma() {
    let text =
        "\u{feff}stroke_1;unit;quantity;phase;date;spindle\r\n16,9;kN;clamp_force;As found;2026-01-05T14:30;S-0117\r\n";
    let outcome = run(&[("round.csv", text.as_bytes())], &shop());
    assert_eq!(outcome.report.refused, []);
    assert_eq!(outcome.batch.readings.added[0].strokes[0].typed, "16.9");
    assert_eq!(outcome.report.files[0].table, Some(FolderTable::Readings));
    assert_eq!(outcome.report.files[0].columns[0].ours, Some("stroke_1"));
    assert_eq!(outcome.report.files[0].columns[0].sample, "16,9");
}

#[test]
fn foreign_columns_can_be_named() {
    let text = "Serial,Day,phase,quantity,unit,F1\nS-0117,2026-01-05,routine,clamp_force,kN,16.9\n";
    let source = Source::from_bytes("export.csv", text.as_bytes())
        .as_table(FolderTable::Readings)
        .with_column("Serial", "spindle")
        .with_column("Day", "date")
        .with_column("F1", "stroke_1");
    let outcome = import(&[source], &shop(), today(), &NoProgress).unwrap();
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
