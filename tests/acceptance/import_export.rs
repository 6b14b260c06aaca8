//! The shop folder: what is read comes back, twice adds nothing, questions and refusals are told.

use almanac_core::actions::Action;
use almanac_core::export::csv_text::{CsvText, undo_harmless};
use almanac_core::export::folder::{folder_files, write_folder};
use almanac_core::forecast::NoProgress;
use almanac_core::import::{Answer, ImportOutcome, Source, apply_answers, import, import_paths};
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_core::store::{StepStamp, Store};
use almanac_core::tables::FolderTable;
use almanac_tests::any_action::any_action;
use almanac_tests::plain_csv;
use almanac_tests::random_shop::random_shop;
use chrono::NaiveDate;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn today() -> NaiveDate {
    parse_iso_date("2026-11-01").unwrap()
}

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

fn import_files(files: &[(&str, Vec<u8>)], shop: &Shop) -> ImportOutcome {
    let sources: Vec<Source> = files.iter().map(|(name, bytes)| Source::from_bytes(name, bytes.clone())).collect();
    import(&sources, shop, today(), &NoProgress).unwrap()
}

#[test]
fn another_first_day_for_a_service_was_not_said_when_the_old_one_was() {
    let read = |shop: &Shop, columns: &str, cells: &str| {
        let text = format!("spindle,interface,nominal_force_kn{columns}\nS-1,HSK-A63,18{cells}\n");
        import_files(&[("spindles.csv", text.into_bytes())], shop).batch.apply_to(shop)
    };
    let said = |shop: &Shop| shop.spindles.values().next().unwrap().not_before.unwrap();
    let day = |text| parse_iso_date(text).unwrap();
    let shop = read(&Shop::default(), ",service_not_before,not_before_said_on", ",2026-03-14,2026-01-01");
    assert_eq!((said(&shop).day, said(&shop).said_on), (day("2026-03-14"), Some(day("2026-01-01"))));
    let same = read(&shop, ",service_not_before", ",2026-03-14");
    assert_eq!(said(&same).said_on, Some(day("2026-01-01")));
    let other = read(&shop, ",service_not_before", ",2026-06-01");
    assert_eq!((said(&other).day, said(&other).said_on), (day("2026-06-01"), None));
}

#[test]
fn the_demo_comes_in_with_its_one_question() {
    let empty = Shop::default();
    let outcome = import_paths(&[demo()], &empty, today(), &NoProgress).unwrap();
    assert_eq!(outcome.report.refused, []);
    assert_eq!(outcome.report.notes, []);
    let questions: Vec<String> = outcome.report.questions.iter().map(ToString::to_string).collect();
    assert_eq!(questions.len(), 1, "{questions:#?}");
    let question = &outcome.report.questions[0];
    assert_eq!((question.file.as_str(), question.column, question.value.as_str()), ("readings.csv", "stroke_1", "169"));
    assert_eq!(question.likely.as_deref(), Some("16.9"));

    let shop = outcome.batch.apply_to(&empty);
    assert_eq!((shop.machines.len(), shop.spindles.len(), shop.technicians.len()), (24, 31, 4));
    let doubted: Vec<_> = shop.readings.iter().filter(|reading| reading.doubt.is_some()).collect();
    assert_eq!(doubted.len(), 1);
    assert_eq!(doubted[0].strokes[0].typed, "169");

    let answered = apply_answers(outcome, &[Answer { question: 0, take_likely: true }]).batch.apply_to(&empty);
    let known = answered.known_on(answered.present(today()));
    assert!(known.readings.iter().all(|reading| reading.doubt.is_none()));
    let corrected = known.readings_of(doubted[0].spindle).iter().find(|reading| reading.at == doubted[0].at);
    assert_eq!(corrected.unwrap().strokes[0].typed, "16.9");
    assert!(import_paths(&[demo()], &answered, today(), &NoProgress).unwrap().batch.is_empty());

    let again = import_paths(&[demo()], &shop, today(), &NoProgress).unwrap();
    assert!(again.batch.is_empty(), "{}", again.report.summary());
    assert_eq!((again.report.new_rows(), again.report.changed(), again.report.question_count), (0, 0, 0));

    let folder = tempfile::tempdir().unwrap();
    write_folder(&shop, folder.path()).unwrap();
    let back = import_paths(&[folder.path().to_owned()], &empty, today(), &NoProgress).unwrap();
    assert_eq!(back.report.refused, []);
    assert!(back.batch.apply_to(&empty).same_content(&shop));
    assert!(import_files(&folder_files(&shop), &shop).batch.is_empty());
}

#[track_caller]
fn comes_back(shop: &Shop) {
    let empty = Shop::default();
    let files = folder_files(shop);
    let outcome = import_files(&files, &empty);
    assert_eq!(outcome.report.refused, [], "{:#?}", outcome.report);
    let back = outcome.batch.apply_to(&empty);
    for ((name, before), (_, after)) in files.iter().zip(folder_files(&back)) {
        assert_eq!(String::from_utf8_lossy(before), String::from_utf8_lossy(&after), "{name}");
    }
    assert!(back.same_content(shop));
    let again = import_files(&files, &back);
    assert!(again.batch.is_empty(), "{}", again.report.summary());
    assert_eq!((again.report.new_rows(), again.report.changed(), again.report.refused_count), (0, 0, 0));
}

/// The shop through a real shop file.
fn stored(shop: &Shop) -> Shop {
    let outcome = import_files(&folder_files(shop), &Shop::default());
    let mut store = Store::open_in_memory().unwrap();
    let stamp = StepStamp { at: today().and_hms_opt(8, 0, 0).unwrap(), who: "Brook".to_owned() };
    store.perform(Action::Import(Box::new(outcome.batch)), &stamp).unwrap();
    store.load_shop().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_shop_comes_back_from_its_folder(seed in any::<u64>()) {
        comes_back(&random_shop(seed));
    }

    #[test]
    fn any_shop_comes_back_from_its_file(seed in any::<u64>()) {
        let shop = random_shop(seed);
        let stored = stored(&shop);
        for ((name, before), (_, after)) in folder_files(&shop).iter().zip(folder_files(&stored)) {
            prop_assert_eq!(String::from_utf8_lossy(before), String::from_utf8_lossy(&after), "{}", name);
        }
    }

    /// Whatever the store takes in comes back from its folder.
    #[test]
    fn any_actions_come_back_from_the_folder(actions in proptest::collection::vec(any_action(), 0..40)) {
        let mut store = Store::open_in_memory().unwrap();
        let stamp = StepStamp { at: today().and_hms_opt(8, 0, 0).unwrap(), who: "Brook".to_owned() };
        for action in actions {
            // refused ones change nothing
            drop(store.perform(action, &stamp));
        }
        let shop = store.load_shop().unwrap();
        let files = folder_files(&shop);
        // CSV has no way to hold the NUL character
        prop_assume!(!files.iter().any(|(_, bytes)| bytes.contains(&0)));
        comes_back(&shop);
    }

    /// What stands in the files, read by the grammar of RFC 4180 and not by our own reader.
    #[test]
    fn files_keep_to_the_grammar(seed in any::<u64>()) {
        let shop = random_shop(seed);
        for (name, bytes) in folder_files(&shop) {
            let table = FolderTable::of_file_name(name).unwrap();
            let records = plain_csv::read(&String::from_utf8(bytes).unwrap()).unwrap();
            let columns: Vec<&str> = table.columns().iter().map(|column| column.name).collect();
            prop_assert_eq!(&records[0], &columns);
            for record in &records {
                prop_assert_eq!(record.len(), columns.len());
                for (column, cell) in table.columns().iter().zip(record) {
                    prop_assert!(!column.text || !cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']), "{}", cell);
                }
            }
        }
        let notes: BTreeMap<String, String> =
            shop.spindles.values().map(|spindle| (spindle.name.clone(), spindle.notes.clone())).collect();
        let files = folder_files(&shop);
        let (_, spindles) = files.iter().find(|(name, _)| *name == "spindles.csv").unwrap();
        let records = plain_csv::read(std::str::from_utf8(spindles).unwrap()).unwrap();
        let written: BTreeMap<String, String> = records[1..]
            .iter()
            .map(|record| (undo_harmless(&record[0]).to_owned(), undo_harmless(&record[13]).to_owned()))
            .collect();
        prop_assert_eq!(written, notes);
    }
}

#[test]
fn an_empty_shop_comes_back() {
    comes_back(&Shop::default());
}

#[test]
fn a_folder_keeps_its_other_files() {
    let folder = tempfile::tempdir().unwrap();
    let nested = folder.path().join("new");
    std::fs::create_dir(&nested).unwrap();
    std::fs::write(nested.join("README.md"), "ours").unwrap();
    std::fs::write(nested.join("readings.csv"), "old").unwrap();
    write_folder(&random_shop(1), &nested).unwrap();
    write_folder(&random_shop(2), &nested).unwrap();
    let mut names: Vec<_> =
        std::fs::read_dir(&nested).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    let mut expected: Vec<String> = FolderTable::ALL.iter().map(|table| table.file_name().to_owned()).collect();
    expected.push("README.md".to_owned());
    expected.sort();
    assert_eq!(names, expected);
    let back = import_paths(&[nested], &Shop::default(), today(), &NoProgress).unwrap();
    assert!(back.batch.apply_to(&Shop::default()).same_content(&random_shop(2)));
}

/// Cases of `rfc_format_cases.csv`: RFC 4180 2.6 and 2.7, OWASP CSV injection, written from the
/// rules' text.
#[test]
fn fields_follow_the_published_rules() {
    let cases = include_str!("../fixtures/rfc_format_cases.csv").lines().filter(|line| !line.starts_with('#'));
    let cases = plain_csv::read(&cases.collect::<Vec<_>>().join("\r\n")).unwrap();
    let real = |escaped: &str| escaped.replace("\\r\\n", "\r\n").replace("\\t", "\t");
    let (mut plain, mut formulas) = (0, 0);
    for case in cases.iter().filter(|case| case[0].starts_with("csv")) {
        let (input, expected) = (real(&case[1]), real(&case[2]));
        let mut csv = CsvText::new();
        csv.text(&input).end_row();
        let written = csv.finish();
        if case[0] == "csv" {
            assert_eq!(written, format!("{expected}\r\n"), "{}", case[3]);
            plain += 1;
        } else {
            // the rule asks for an apostrophe and for quotes; the case shows the field's content
            assert_eq!(written, format!("\"{expected}\"\r\n"), "{}", case[3]);
            formulas += 1;
        }
        assert_eq!(undo_harmless(&plain_csv::read(&written).unwrap()[0][0]), input);
    }
    assert_eq!((plain, formulas), (5, 3));
    let mut csv = CsvText::new();
    csv.number(-3.2).end_row();
    assert_eq!(csv.finish(), "-3.2\r\n");
}
