//! Rows with faults: each is refused with file, row, column, value, reason and mend.

use almanac_core::forecast::NoProgress;
use almanac_core::import::{Source, import};
use almanac_core::tables::FolderTable;
use almanac_tests::small_shop::{METERS, MOUNTINGS, READINGS, run, shop, today};

/// One refused row: `(row, column, value, part of why, part of mend)`.
pub(super) type Expected<'a> = (u64, &'a str, &'a str, &'a str, &'a str);

#[track_caller]
pub(super) fn check_bytes(file: &str, bytes: &[u8], (row, column, value, why, mend): Expected<'_>) {
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
pub(super) fn check(file: &str, text: &str, expected: Expected<'_>) {
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
        "spindles.csv",
        "spindle,interface,nominal_force_kn,service_not_before,not_before_said_on\nS-1,HSK-A63,18,,2026-03-02\n",
        (2, "not_before_said_on", "2026-03-02", "service_not_before has none", "leave both empty"),
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
