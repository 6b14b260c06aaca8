//! The shop folder: what is read comes back, twice adds nothing, questions and refusals are told.

use almanac_core::export::folder::{folder_files, write_folder};
use almanac_core::forecast::NoProgress;
use almanac_core::import::{Answer, ImportOutcome, Source, apply_answers, import, import_paths};
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use chrono::NaiveDate;
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
    assert!(answered.readings.iter().all(|reading| reading.doubt.is_none()));
    assert!(answered.readings.iter().any(|reading| reading.id == doubted[0].id && reading.strokes[0].typed == "16.9"));

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
