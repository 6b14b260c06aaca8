//! The process really killed at random moments: every step is wholly there or wholly absent.

use almanac_core::actions::Action;
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store};
use almanac_tests::fleet::{Dice, fleet, last_day};
use almanac_tests::killed::{READINGS_A_STEP, note_of};
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

const KILLS_WHILE_RECORDING: usize = 30;
const KILLS_WHILE_IMPORTING: usize = 25;

fn stamp() -> StepStamp {
    StepStamp { at: last_day().and_hms_opt(8, 0, 0).unwrap(), who: "test".to_owned() }
}

fn shop_of(path: &Path) -> Shop {
    Store::open(path, Access::ReadOnly).unwrap().load_shop().unwrap()
}

#[track_caller]
fn has_no_fault(path: &Path) {
    let faults = almanac_core::store::check_file(path).unwrap();
    assert!(faults.is_empty(), "{faults:?}");
}

/// Kills a child after a while and gives back what it had printed.
fn kill_after(mut child: Child, pause: Duration) -> Vec<String> {
    std::thread::sleep(pause);
    child.kill().unwrap(); // SIGKILL on Unix
    let printed = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok).collect();
    child.wait().unwrap();
    printed
}

#[test]
fn recording_killed_at_random_moments_leaves_whole_steps() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("works.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(Action::Import(Box::new(fleet(1, 7))), &stamp()).unwrap();
    let before = store.load_shop().unwrap();
    drop(store);

    let mut dice = Dice::new(4711);
    let mut last_printed = None;
    for _ in 0..KILLS_WHILE_RECORDING {
        let child =
            Command::new(env!("CARGO_BIN_EXE_record_until_killed")).arg(&path).stdout(Stdio::piped()).spawn().unwrap();
        let printed = kill_after(child, Duration::from_micros(dice.between(1_000.0, 120_000.0) as u64));
        if let Some(step) = printed.last() {
            last_printed = Some(step.parse::<usize>().unwrap());
        }
        has_no_fault(&path);
        let shop = shop_of(&path);
        let steps = shop.services.iter().filter(|service| service.note.starts_with("step ")).count();
        let first = before.services.len();
        if let Some(last) = last_printed {
            assert!(first + steps > last, "step {last} was reported as stored but is not there");
        }
        for step in first..first + steps {
            let note = note_of(step);
            let services = shop.services.iter().filter(|service| service.note == note).count();
            let readings = shop.readings.iter().filter(|reading| reading.note == note).count();
            assert_eq!((services, readings), (1, READINGS_A_STEP), "step {step} is there in part");
        }
        let readings = shop.readings.iter().filter(|reading| reading.note.starts_with("step ")).count();
        assert_eq!(readings, steps * READINGS_A_STEP, "readings without their service");
    }
    assert!(last_printed.is_some_and(|step| step > before.services.len() + 10), "too little was ever recorded");

    // what was killed can still be undone, step by step
    let mut store = Store::open(&path, Access::ReadWrite).unwrap();
    let mut undone = 0;
    while store.load_shop().unwrap().services.len() > before.services.len() && undone < 5 {
        store.undo(&stamp()).unwrap();
        undone += 1;
    }
    assert_eq!(undone, 5);
    drop(store);
    has_no_fault(&path);
}

#[test]
fn importing_killed_at_random_moments_is_all_or_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open_in_memory().unwrap();
    store.perform(Action::Import(Box::new(fleet(40, 11))), &stamp()).unwrap();
    let whole = store.load_shop().unwrap();
    let csv = folder.path().join("csv");
    almanac_core::export::folder::write_folder(&whole, &csv).unwrap();

    let mut dice = Dice::new(1905);
    let (mut absent, mut present) = (0, 0);
    let mut longest = 400_000.0;
    for round in 0..KILLS_WHILE_IMPORTING {
        let path = folder.path().join(format!("import-{round}.almanac"));
        let child = Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
            .arg("import")
            .arg(&path)
            .arg(&csv)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        kill_after(child, Duration::from_micros(dice.between(2_000.0, longest) as u64));
        if !path.exists() {
            absent += 1;
            longest *= 1.4;
            continue;
        }
        has_no_fault(&path);
        let shop = shop_of(&path);
        if shop.spindles.is_empty() {
            assert!(shop.same_content(&Shop::default()), "round {round}: something of the import is there");
            absent += 1;
            longest *= 1.4;
        } else {
            assert!(shop.same_content(&whole), "round {round}: the import is there in part");
            present += 1;
            longest /= 1.4;
        }
    }
    assert_eq!(absent + present, KILLS_WHILE_IMPORTING);
    assert!(absent > 0 && present > 0, "killed only {absent} times before and {present} times after the step");
}
