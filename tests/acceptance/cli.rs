//! The headless commands as a script sees them: output, exit status, one sentence where it fails.

use almanac_tests::plain_csv;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The demo as it stands in the project.
fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

fn program(args: &[&Path]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
        .args(args)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .unwrap()
}

fn run(args: &[&str]) -> Output {
    let paths: Vec<&Path> = args.iter().map(Path::new).collect();
    program(&paths)
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

#[track_caller]
fn done(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(0), "{}", stderr(output));
    stdout(output)
}

/// Exit status 1, nothing on stdout, one line on stderr with these words, no panic.
#[track_caller]
fn fails(output: &Output, words: &[&str]) {
    let said = stderr(output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert_eq!(stdout(output), "");
    assert!(!said.contains("panicked"), "{said}");
    for word in words {
        assert!(said.contains(word), "'{word}' is missing in: {said}");
    }
}

/// Cells of a CSV text, by a reader that is not the product's.
#[track_caller]
fn cells(text: &str) -> Vec<Vec<String>> {
    plain_csv::read(text).unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn the_due_list_of_the_demo_in_three_formats() {
    let folder = sample();
    let table = done(&run(&["due", text(&folder)]));
    assert!(table.starts_with("One spindle must not run"), "{table}");
    let csv = cells(&done(&run(&["due", text(&folder), "--format", "csv"])));
    let json: serde_json::Value =
        serde_json::from_str(&done(&run(&["due", text(&folder), "--format", "json"]))).unwrap();
    let spindles = json["spindles"].as_array().unwrap();
    assert_eq!(spindles.len(), 31);
    assert_eq!(csv.len(), 32, "a head and a row a spindle");
    assert_eq!(json["as_of"], "2026-03-02");
    assert_eq!(json["horizon_days"], 1825);
    for key in [
        "spindle",
        "machine",
        "hall",
        "interface",
        "run_hours",
        "clamp_cycles",
        "hours_per_day",
        "cycles_per_day",
        "force_now_kn",
        "force_now_pct",
        "service_limit_kn",
        "stop_limit_kn",
        "reserve_pct",
        "cross_service_limit",
        "cross_stop_limit",
        "cross_setting_dimension",
        "due_calendar",
        "due_run_hours",
        "due_clamp_cycles",
        "service_by",
        "governing_limit",
        "reason",
        "recoverable_loss_pct",
        "lasting_loss_pct",
        "major_service_by",
        "state",
        "mark",
        "warnings",
    ] {
        assert!(spindles.iter().all(|spindle| spindle.get(key).is_some()), "{key} is missing");
    }
    let by: Vec<Option<&str>> = spindles.iter().map(|spindle| spindle["service_by"].as_str()).collect();
    let mut sorted = by.clone();
    sorted.sort_by_key(|day| (day.is_none(), *day));
    assert_eq!(by, sorted, "soonest first, none last");
    assert!(json["worth_reading"].is_array());
}

#[test]
fn a_past_day_uses_nothing_later() {
    let folder = sample();
    let then = done(&run(&["due", text(&folder), "--as-of", "2024-06-03", "--format", "json"]));
    let json: serde_json::Value = serde_json::from_str(&then).unwrap();
    assert_eq!(json["as_of"], "2024-06-03");

    // the same folder without any row dated later than that day says the same
    let shorter = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if path.extension().is_none_or(|ext| ext != "csv") {
            continue;
        }
        let whole = std::fs::read_to_string(&path).unwrap();
        let date_columns = match name.as_str() {
            "readings.csv" | "services.csv" | "meters.csv" => vec!["date", "recorded_on"],
            _ => vec![],
        };
        let rows: Vec<Vec<String>> = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(whole.as_bytes())
            .records()
            .map(|record| record.unwrap().iter().map(str::to_owned).collect())
            .collect();
        let head = rows[0].clone();
        let at: Vec<usize> =
            date_columns.iter().filter_map(|column| head.iter().position(|name| name == column)).collect();
        let kept = rows
            .into_iter()
            .enumerate()
            .filter(|(row, cells)| *row == 0 || at.iter().all(|i| cells[*i].get(..10).unwrap_or("") <= "2024-06-03"))
            .map(|(_, cells)| {
                cells.iter().map(|c| format!("\"{}\"", c.replace('"', "\"\""))).collect::<Vec<_>>().join(",")
            })
            .collect::<Vec<_>>()
            .join("\r\n");
        std::fs::write(shorter.path().join(name), kept + "\r\n").unwrap();
    }
    let from_shorter = done(&run(&["due", text(shorter.path()), "--as-of", "2024-06-03", "--format", "json"]));
    assert_eq!(then, from_shorter);
}

#[test]
fn the_list_goes_to_a_file_whole_and_reads_back() {
    let scratch = tempfile::tempdir().unwrap();
    let list = scratch.path().join("list.csv");
    std::fs::write(&list, "what stood here before").unwrap();
    done(&run(&["orders", text(&sample()), "--out", text(&list)]));
    let written = std::fs::read_to_string(&list).unwrap();
    assert!(written.contains("\r\n"), "CRLF");
    let rows = cells(&written);
    assert_eq!(
        rows[0].join(","),
        "order,state,hall,machine,position,spindle,interface,service,governing_limit,reason,service_by,start,end,\
         duration_h,technician,kit,kit_ready_on,force_now_kn,force_now_pct,service_limit_kn,run_hours,clamp_cycles,\
         stop_cost,notes"
    );
    let all = cells(&done(&run(&["orders", text(&sample()), "--all"])));
    assert!(all.len() > rows.len() + 100, "closed orders too");
    let json: serde_json::Value =
        serde_json::from_str(&done(&run(&["orders", text(&sample()), "--format", "json"]))).unwrap();
    assert_eq!(json.as_array().unwrap().len(), rows.len() - 1);
    assert_eq!(std::fs::read_dir(scratch.path()).unwrap().count(), 1, "nothing is left beside the list");
}

#[test]
fn import_export_check_and_backup() {
    let scratch = tempfile::tempdir().unwrap();
    let shop = scratch.path().join("works.almanac");
    let said = done(&run(&["import", text(&shop), text(&sample()), "--dry-run"]));
    assert!(said.contains("nothing was written") && !shop.exists(), "{said}");
    let said = done(&run(&["import", text(&shop), text(&sample())]));
    assert!(said.contains("169") && said.contains("likely 16.9"), "{said}");
    let again = done(&run(&["import", text(&shop), text(&sample())]));
    assert!(again.contains("0 new") && again.contains("nothing to add"), "{again}");
    assert_eq!(done(&run(&["check", text(&shop)])), "no fault found\n");

    let out = scratch.path().join("folder");
    done(&run(&["export", text(&shop), text(&out)]));
    let back = scratch.path().join("back.almanac");
    done(&run(&["import", text(&back), text(&out)]));
    let out_again = scratch.path().join("again");
    done(&run(&["export", text(&back), text(&out_again)]));
    for entry in std::fs::read_dir(&out).unwrap() {
        let name = entry.unwrap().file_name();
        let (first, second) = (std::fs::read(out.join(&name)).unwrap(), std::fs::read(out_again.join(&name)).unwrap());
        assert_eq!(first, second, "{name:?}");
    }

    let copy = scratch.path().join("copy.almanac");
    done(&run(&["backup", text(&shop), text(&copy)]));
    assert_eq!(done(&run(&["check", text(&copy)])), "no fault found\n");
    fails(&run(&["backup", text(&shop), text(&copy)]), &["already", "copy.almanac"]);
}

#[test]
fn refused_rows_stop_an_import_unless_the_good_ones_are_accepted() {
    let scratch = tempfile::tempdir().unwrap();
    let shop = scratch.path().join("works.almanac");
    let spindles = scratch.path().join("spindles.csv");
    std::fs::write(&spindles, "spindle,interface,nominal_force_kn\nS-1,HSK-A63,18\nS-2,HSK-A63,minus two\n").unwrap();
    let refused = run(&["import", text(&shop), text(&spindles), "--format", "csv"]);
    assert_eq!(refused.status.code(), Some(1));
    let rows = cells(&stdout(&refused));
    assert_eq!(rows[0][..6], ["file", "row", "column", "value", "why", "mend"].map(str::to_owned));
    assert_eq!(rows[1][1..4], ["3", "nominal_force_kn", "minus two"].map(str::to_owned));
    assert!(!rows[1][5].is_empty(), "a mend");
    assert!(!shop.exists(), "nothing is made for a refused import");
    done(&run(&["import", text(&shop), text(&spindles), "--accept-good-rows"]));
    assert_eq!(done(&run(&["check", text(&shop)])), "no fault found\n");
}

#[test]
fn our_own_lists_come_back_as_nothing() {
    let scratch = tempfile::tempdir().unwrap();
    let shop = scratch.path().join("works.almanac");
    done(&run(&["import", text(&shop), text(&sample())]));
    let (orders, due) = (scratch.path().join("wol.csv"), scratch.path().join("list.csv"));
    done(&run(&["orders", text(&shop), "--out", text(&orders)]));
    done(&run(&["due", text(&shop), "--format", "csv", "--out", text(&due)]));
    for (list, what) in [(&orders, "a work-order list"), (&due, "a due list")] {
        let said = done(&run(&["import", text(&shop), text(list)]));
        let remarks = said.split("\nremarks:\n").nth(1).unwrap();
        assert!(remarks.contains(what) && remarks.contains("left out"), "{said}");
        assert!(said.contains("nothing to add, nothing was written"), "{said}");
    }
}

#[test]
fn the_report_lists_every_refused_row() {
    let scratch = tempfile::tempdir().unwrap();
    let shop = scratch.path().join("works.almanac");
    let spindles = scratch.path().join("spindles.csv");
    let rows: String = (0..1_203).map(|n| format!("S-{n},HSK-A63,minus\n")).collect();
    std::fs::write(&spindles, format!("spindle,interface,nominal_force_kn\n{rows}")).unwrap();
    let refused = run(&["import", text(&shop), text(&spindles), "--format", "csv"]);
    assert_eq!(cells(&stdout(&refused)).len(), 1 + 1_203);
    let refused = run(&["import", text(&shop), text(&spindles), "--format", "json"]);
    assert_eq!(stdout(&refused).matches("\"mend\"").count(), 1_203);
    let refused = run(&["import", text(&shop), text(&spindles)]);
    assert_eq!(stdout(&refused).matches("is not a number").count(), 1_203);
}

#[test]
fn what_cannot_be_done_is_one_sentence() {
    let scratch = tempfile::tempdir().unwrap();
    let missing = scratch.path().join("missing.almanac");
    fails(&run(&["due", text(&missing)]), &["missing.almanac"]);
    let empty = scratch.path().join("empty");
    std::fs::create_dir(&empty).unwrap();
    fails(&run(&["due", text(&empty)]), &["spindles.csv"]);
    let junk = scratch.path().join("junk.almanac");
    std::fs::write(&junk, [0xFF_u8, 0, 1, 2].repeat(4096)).unwrap();
    fails(&run(&["due", text(&junk)]), &["junk.almanac"]);
    fails(&run(&["check", text(&junk)]), &["junk.almanac"]);
    assert_eq!(std::fs::read(&junk).unwrap(), [0xFF_u8, 0, 1, 2].repeat(4096), "untouched");
    fails(&run(&["import", text(&empty), text(&sample())]), &["shop file"]);
    let nowhere = scratch.path().join("no/such/folder/list.csv");
    fails(&run(&["orders", text(&sample()), "--out", text(&nowhere)]), &["list.csv"]);
}

#[test]
fn refused_rows_of_a_folder_name_a_mend_that_exists() {
    let scratch = tempfile::tempdir().unwrap();
    let bad: String = (0..1234).map(|row| format!("S-{row},HSK-A63,minus two\n")).collect();
    std::fs::write(scratch.path().join("spindles.csv"), format!("spindle,interface,nominal_force_kn\n{bad}")).unwrap();
    let out = scratch.path().join("out");
    for args in [&["due"][..], &["orders"], &["check"], &["export"]] {
        let mut args = args.to_vec();
        args.push(text(scratch.path()));
        if args[0] == "export" {
            args.push(text(&out));
        }
        let output = run(&args);
        fails(
            &output,
            &["1,234 rows are refused", "mend them, or import the folder into a shop file with --accept-good-rows"],
        );
        assert!(!stderr(&output).contains("takes the others"));
    }
    assert!(!out.exists());
}

#[test]
fn a_day_after_the_present_is_remarked_and_shown() {
    let folder = sample();
    for command in ["due", "orders", "track-record"] {
        let output = run(&[command, text(&folder), "--as-of", "2026-09-01"]);
        assert!(!done(&output).is_empty());
        let line = "drawbar-almanac: 1 September 2026 lies after the present, 2 March 2026: nothing is known since";
        assert_eq!(stderr(&output).lines().filter(|said| *said == line).count(), 1, "{}", stderr(&output));
        let output = run(&[command, text(&folder), "--as-of", "2026-03-02"]);
        done(&output);
        assert!(!stderr(&output).contains("lies after"), "{}", stderr(&output));
    }
}

#[test]
fn what_is_missing_or_closed_is_named() {
    let scratch = tempfile::tempdir().unwrap();
    let nowhere = scratch.path().join("none");
    let output = run(&["import", text(&nowhere.join("x.almanac")), text(&sample())]);
    fails(&output, &[&format!("there is no folder {}; make it first", nowhere.display())]);
    assert!(!stderr(&output).contains(".lock"), "{}", stderr(&output));
    let output = run(&["due", text(&sample()), "--as-of", "9999-12-31"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("of the years 1900 to 2199"), "{}", stderr(&output));
}

#[test]
fn an_import_of_nothing_makes_no_file() {
    let scratch = tempfile::tempdir().unwrap();
    let shop = scratch.path().join("works.almanac");
    let spindles = scratch.path().join("spindles.csv");
    std::fs::write(&spindles, "spindle,interface,nominal_force_kn\n").unwrap();
    let said = done(&run(&["import", text(&shop), text(&spindles)]));
    assert!(said.contains("nothing was written"), "{said}");
    assert_eq!(std::fs::read_dir(scratch.path()).unwrap().count(), 1, "no shop file, no lock");
}

#[cfg(unix)]
#[test]
fn a_device_or_pipe_is_written_to_and_a_link_is_followed() {
    use std::os::unix::fs::{FileTypeExt as _, PermissionsExt as _, symlink};
    let scratch = tempfile::tempdir().unwrap();
    let (list, link) = (scratch.path().join("list.txt"), scratch.path().join("link"));
    std::fs::write(&list, "old").unwrap();
    std::fs::set_permissions(&list, std::fs::Permissions::from_mode(0o600)).unwrap();
    symlink("list.txt", &link).unwrap();
    done(&run(&["due", text(&sample()), "--out", text(&link)]));
    assert!(std::fs::read_to_string(&list).unwrap().starts_with("One spindle must not run"));
    assert_eq!(std::fs::metadata(&list).unwrap().permissions().mode() & 0o777, 0o600);
    assert!(link.is_symlink());

    let pipe = scratch.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let from = pipe.clone();
    let reader = std::thread::Builder::new().name("reader of the pipe".to_owned());
    let reader = reader.spawn(move || std::fs::read_to_string(from).unwrap()).unwrap();
    done(&run(&["due", text(&sample()), "--out", text(&pipe)]));
    assert!(std::fs::symlink_metadata(&pipe).unwrap().file_type().is_fifo());
    assert!(reader.join().unwrap().starts_with("One spindle must not run"));

    let full = Path::new("/dev/full");
    if full.exists() {
        let output = run(&["due", text(&sample()), "--out", text(full)]);
        fails(&output, &["cannot write", "/dev/full"]);
        assert!(std::fs::metadata(full).unwrap().file_type().is_char_device());
    }
}

#[test]
fn wrong_usage_is_exit_2() {
    for args in [&["due"][..], &["due", "x", "--as-of", "2026-02-31"], &["orders", "x", "--format", "pdf"], &["import"]]
    {
        let output = run(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(!output.stderr.is_empty());
    }
}

#[test]
fn help_names_every_command() {
    let help = done(&run(&["--help"]));
    for word in ["due", "orders", "track-record", "import", "export", "backup", "check", "Examples", "Exit status"] {
        assert!(help.contains(word), "{word}");
    }
}

#[test]
fn the_track_record_of_the_demo_in_three_formats() {
    let folder = sample();
    let table = done(&run(&["track-record", text(&folder)]));
    let json: serde_json::Value =
        serde_json::from_str(&done(&run(&["track-record", text(&folder), "--format", "json"]))).unwrap();
    let keys = |value: &serde_json::Value| value.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    let sorted = |mut keys: Vec<String>| {
        keys.sort();
        keys
    };
    assert_eq!(
        sorted(keys(&json)),
        ["bias_pct", "crossings", "crps_pct", "inside", "naive", "scored", "since"].map(str::to_owned)
    );
    assert_eq!(sorted(keys(&json["inside"])), ["50", "80", "90"].map(str::to_owned));
    assert_eq!(sorted(keys(&json["naive"])), ["crps_pct", "inside"].map(str::to_owned));
    assert_eq!(sorted(keys(&json["crossings"])), ["caught", "n", "naive_caught"].map(str::to_owned));
    let (scored, inside) = (json["scored"].as_u64().unwrap(), json["inside"]["80"].as_u64().unwrap());
    assert!(scored > 400, "{json}");
    assert!(json["crps_pct"].as_f64().unwrap() < json["naive"]["crps_pct"].as_f64().unwrap(), "{json}");
    assert!(table.starts_with(&format!("Of {scored} readings forecast since ")), "{table}");
    assert!(table.lines().next().unwrap().contains(&format!(", {inside} lay inside the 80 % band (")), "{table}");
    let caught = format!("{} of {}", json["crossings"]["caught"], json["crossings"]["n"]);
    assert!(table.contains(&caught), "{table}");

    let scratch = tempfile::tempdir().unwrap();
    let file = scratch.path().join("scores.csv");
    assert_eq!(done(&run(&["track-record", text(&folder), "--format", "csv", "--out", text(&file)])), "");
    let rows = cells(&std::fs::read_to_string(&file).unwrap());
    assert_eq!(rows.len() as u64, scored + 1, "a head and a row a reading");
    assert_eq!(rows[0][..4].join(","), "spindle,day,forecast_from,phase");
    let column = rows[0].iter().position(|name| name == "inside_80").unwrap();
    assert_eq!(rows.iter().filter(|row| row[column] == "yes").count() as u64, inside);
    assert!(rows[1..].iter().all(|row| row[2] < row[1]), "forecast before the reading");
}

#[test]
fn a_young_track_record_is_told_in_counts() {
    let folder = sample();
    let args = ["track-record", text(&folder), "--as-of", "2021-04-20"];
    let table = done(&run(&args));
    let first = table.lines().next().unwrap();
    assert!(first.contains("a percentage takes at least 20"), "{table}");
    assert!(!first.contains("(") && !first.contains("honest"), "{table}");

    let none = run(&["track-record", text(&folder), "--as-of", "2021-03-10"]);
    assert!(done(&none).starts_with("Nothing to score yet"));
    let none = run(&["track-record", text(&folder), "--as-of", "2021-03-10", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&done(&none)).unwrap();
    assert_eq!(json["scored"], 0);
    assert!(json["bias_pct"].is_null() && json["since"].is_null(), "{json}");
    assert!(stderr(&none).contains("Nothing to score yet"), "{}", stderr(&none));

    let scratch = tempfile::tempdir().unwrap();
    fails(&run(&["track-record", text(&scratch.path().join("missing.almanac"))]), &["missing.almanac"]);
    assert_eq!(run(&["track-record", text(&folder), "--format", "pdf"]).status.code(), Some(2));
}

#[test]
fn without_a_display_the_due_list_is_printed() {
    let output = run(&[text(&sample())]);
    let table = done(&output);
    assert!(table.contains("S-0117"), "{table}");
    let said = stderr(&output);
    assert!(said.contains("no display"), "{said}");
    let alone = run(&[]);
    assert_eq!(alone.status.code(), Some(0));
    assert!(stderr(&alone).contains("no display"));
}
