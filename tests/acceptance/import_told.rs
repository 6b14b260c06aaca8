//! What an import says: a due list is left alone, followers of a broken file are told in one,
//! every refused row is listed where that is asked for, alike questions bear the same words.

use almanac_core::actions::Action;
use almanac_core::due;
use almanac_core::forecast::{NoProgress, Progress};
use almanac_core::import::{ImportError, ImportLimits, LISTED, Source, import, import_paths, import_paths_listing};
use almanac_core::shop::Shop;
use almanac_core::store::{StepStamp, Store};
use almanac_core::tables::FolderTable;
use almanac_tests::small_shop::{MACHINES, METERS, READINGS, SPINDLES, run, shop, today};
use std::cell::Cell;

#[test]
fn a_due_list_is_left_alone_whatever_its_name() {
    let due_head = due::csv_columns().join(",");
    let due_row = ",".repeat(due::csv_columns().len() - 1);
    let due_list = format!("{due_head}\r\n{due_row}\r\nS-0117{due_row}\r\n");
    for (name, text, list) in [("due.csv", &due_list, "a due list"), ("machines.csv", &due_list, "a due list")] {
        let outcome = run(&[(name, text.as_bytes())], &shop());
        assert!(outcome.batch.is_empty() && outcome.may_apply(false), "{name}: {:#?}", outcome.report);
        let notes: Vec<String> = outcome.report.notes.iter().map(ToString::to_string).collect();
        assert_eq!(notes, [format!("{name}: this is {list}: nothing in it is for a shop folder; it was left out")]);
    }
}

#[test]
fn a_table_is_known_by_most_of_the_columns() {
    for (header, table) in [
        ("start,end,what", FolderTable::Closures),
        ("start,end,hall,what", FolderTable::Downtime),
        ("machine,hall", FolderTable::Machines),
    ] {
        let outcome = run(&[("january.csv", format!("{header}\n").as_bytes())], &shop());
        assert_eq!(outcome.report.refused, [], "{header}");
        assert_eq!(outcome.report.files[0].table, Some(table), "{header}");
    }
    let foreign = run(&[("january.csv", b"machine,hall,owner,phone,floor,keys\n".as_slice())], &shop());
    assert!(foreign.report.refused[0].why.contains("most of its columns"), "{:?}", foreign.report.refused);
}

/// A folder of one broken register and many rows that name what stands in it.
fn with_broken(spindles: &[u8], followers: usize) -> Vec<(String, usize, String)> {
    let readings: String =
        (0..followers).map(|n| format!("S-9{n},2026-01-05,routine,clamp_force,kN,16.9,,,\n")).collect();
    let files: [(&str, &[u8]); 4] = [
        ("machines.csv", MACHINES.as_bytes()),
        ("spindles.csv", spindles),
        ("readings.csv", &[READINGS.as_bytes(), readings.as_bytes()].concat()),
        ("meters.csv", &[METERS.as_bytes(), b"S-91,,,2026-01-05,10,,\n"].concat()),
    ];
    let outcome = run(&files, &Shop::default());
    let report = &outcome.report;
    assert_eq!(report.refused_count, report.refused.iter().map(|row| row.rows).sum::<usize>());
    assert_eq!((report.refused_unlisted(), report.files[2].refused), (0, followers));
    report.refused.iter().map(|row| (row.file.clone(), row.rows, format!("{}; {}", row.why, row.mend))).collect()
}

#[test]
fn rows_that_wait_for_a_broken_register_are_told_in_one() {
    let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(SPINDLES.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    let doubled = SPINDLES.replacen("spindle,", "spindle,spindle,", 1);
    let unclosed = SPINDLES.replacen("S-0117", "\"S-0117", 1);
    for (broken, why) in [(utf16.as_slice(), "UTF-16"), (doubled.as_bytes(), "twice"), (unclosed.as_bytes(), "closed")]
    {
        let told = with_broken(broken, 1_259);
        assert_eq!(told.len(), 3, "{told:#?}");
        assert!(told[0].0 == "spindles.csv" && told[0].2.contains(why), "{told:#?}");
        let wait = |rows: &str| format!("{rows} for spindles.csv, which is refused; mend spindles.csv first");
        assert_eq!(told[1], ("readings.csv".to_owned(), 1_259, wait("1,259 rows wait")));
        assert_eq!(told[2], ("meters.csv".to_owned(), 1, wait("1 row waits")));
    }
    // a register of which single rows are refused names each follower as before
    let one = with_broken(b"spindle,interface,nominal_force_kn\nS-1,HSK-A63,-1\n", 2);
    assert_eq!(one.len(), 4, "{one:#?}");
}

#[test]
fn every_refused_row_and_question_is_listed_where_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("readings.csv");
    let bad = "S-0117,2026-02-30,routine,clamp_force,kN,16.9,,,\n".repeat(LISTED + 500);
    let odd: String =
        (0..LISTED + 7).map(|n| format!("S-0117,2026-01-05,routine,clamp_force,kN,165.{n:04},,,\n")).collect();
    std::fs::write(&path, format!("{READINGS}{bad}{odd}")).unwrap();
    let paths = [path];
    let all = import_paths_listing(&paths, &shop(), today(), ImportLimits::ALL, &NoProgress).unwrap().report;
    assert_eq!((all.refused.len(), all.refused_count, all.refused_unlisted()), (LISTED + 500, LISTED + 500, 0));
    let some = import_paths(&paths, &shop(), today(), &NoProgress).unwrap().report;
    assert_eq!((some.refused.len(), some.refused_count, some.refused_unlisted()), (LISTED, LISTED + 500, 500));
    assert_eq!((all.questions.len(), all.question_count), (LISTED + 7, LISTED + 7));
    assert_eq!((some.questions.len(), some.question_count), (LISTED, LISTED + 7));
}

#[test]
fn alike_questions_bear_the_same_words() {
    let rows = "S-0117,2026-01-01,routine,clamp_force,kN,169,,,\n\
                S-0118,2026-01-02,routine,clamp_force,kN,1.69,,,\n\
                S-0117,2026-01-03,routine,clamp_force,kN,171,,,\n\
                S-0117,2026-01-04,routine,clamp_force,kN,1690,,,\n\
                S-0117,2026-01-05,routine,clamp_force,N,3800,,,\n\
                S-0117,2026-01-06,routine,clamp_force,kN,60,,,\n";
    let limits = "interface,setting_dimension_mm\nHSK-A63,10.5\n";
    let settings = "S-0117,2026-01-01,routine,setting_dimension,mm,105,,,\n\
                    S-0117,2026-01-02,routine,setting_dimension,in,4.13,,,\n";
    let meters = format!("{METERS}S-0117,,,2026-01-01,8100,,\nS-0117,,,2026-01-10,816,,\nS-0117,,,2062-01-11,8200,,\n");
    let text = format!("{READINGS}{rows}{settings}");
    let files: [(&str, &[u8]); 3] =
        [("limits.csv", limits.as_bytes()), ("readings.csv", text.as_bytes()), ("meters.csv", meters.as_bytes())];
    let outcome = run(&files, &shop());
    let alike: Vec<&str> = outcome.report.questions.iter().map(|question| question.alike.as_str()).collect();
    assert_eq!(
        alike,
        [
            "kN ten times too large",
            "kN ten times too small",
            "kN ten times too large",
            "kN a hundred times too large",
            "typed in N, fits lbf",
            "kN far off",
            "mm ten times too large",
            "in ten times too large",
            "run hours ten times too small",
            "date after the present",
        ]
    );
}

#[test]
fn sentences_name_the_mend() {
    for (file, text, said) in [
        ("shop.csv", "key,value\nlength_unit,cm\n", "value \"cm\": does not fit length_unit; write mm or in"),
        (
            "spindles.csv",
            "spindle;interface;nominal_force_kn\nS-1;HSK-A63;1.234,5\n",
            "nominal_force_kn \"1.234,5\": has marks for thousands; write 1234.5 without them",
        ),
        (
            "gauges.csv",
            "gauge,quantity,calibrated_on,calibration_due\nG-1,clamp_force,2026-01-10,2026-01-09\n",
            "calibration_due \"2026-01-09\": lies before the calibration, 2026-01-10; write the day",
        ),
    ] {
        let outcome = run(&[(file, text.as_bytes())], &shop());
        let refused: Vec<String> = outcome.report.refused.iter().map(ToString::to_string).collect();
        assert!(refused.len() == 1 && refused[0].contains(said), "{refused:#?}");
    }
}

#[test]
fn a_folder_inside_the_folder_is_called_one() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("spindles.csv"), SPINDLES).unwrap();
    for name in ["sub.csv", "readings.csv"] {
        std::fs::create_dir(folder.path().join(name)).unwrap();
    }
    let outcome = import_paths(&[folder.path().to_owned()], &Shop::default(), today(), &NoProgress).unwrap();
    let notes: Vec<String> = outcome.report.notes.iter().map(ToString::to_string).collect();
    let said = "this is a folder, not a file; it was left out";
    assert_eq!(notes, [format!("readings.csv: {said}"), format!("sub.csv: {said}")]);
}

#[test]
fn the_step_is_called_by_what_comes_in() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create(&folder.path().join("works.almanac")).unwrap();
    let stamp = StepStamp { at: today().and_hms_opt(8, 0, 0).unwrap(), who: "Thorne".to_owned() };
    let settings = "key,value\nname,Works\ncurrency,EUR\n";
    let files: [(&str, &[u8]); 4] = [
        ("in/shop.csv", settings.as_bytes()),
        ("in/machines.csv", MACHINES.as_bytes()),
        ("in/spindles.csv", SPINDLES.as_bytes()),
        ("in/meters.csv", METERS.as_bytes()),
    ];
    let batch = run(&files, &Shop::default()).batch;
    store.perform(Action::Import(Box::new(batch)), &stamp).unwrap();
    assert_eq!(store.undo_label().unwrap().as_deref(), Some("Import 3 files: 7 rows"));
    let more = format!("{SPINDLES}S-0200,HSK-A63,18,\n");
    let batch = run(&[("in/spindles.csv", more.as_bytes())], &store.load_shop().unwrap()).batch;
    store.perform(Action::Import(Box::new(batch)), &stamp).unwrap();
    assert_eq!(store.undo_label().unwrap().as_deref(), Some("Import spindles.csv: 1 row"));
}

/// Counts how often it is asked, and says no from some time on.
struct Asked {
    times: Cell<usize>,
    most: usize,
}

impl Progress for Asked {
    fn step(&self, done: usize, total: usize) -> bool {
        assert!(done <= total);
        self.times.set(self.times.get() + 1);
        self.times.get() < self.most
    }
}

#[test]
fn the_last_look_at_the_figures_can_be_stopped() {
    let rows: String = (0..5_000).map(|n| format!("S-0117,,,2026-01-01,{}.{:03},,\n", n / 1000, n % 1000)).collect();
    let sources = [Source::from_bytes("meters.csv", format!("{METERS}{rows}").as_bytes())];
    let asked = Asked { times: Cell::new(0), most: usize::MAX };
    assert!(import(&sources, &shop(), today(), &asked).is_ok());
    let reading = 5_000_usize.div_ceil(256);
    let all = asked.times.get();
    assert!(all > reading + 3, "{all} times in all, {reading} while reading");
    let stopped = import(&sources, &shop(), today(), &Asked { times: Cell::new(0), most: all });
    assert!(matches!(stopped, Err(ImportError::Cancelled(_))));
}
