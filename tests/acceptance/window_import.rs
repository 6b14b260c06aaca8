//! The window: folders and CSV files, from dropping them to the rows in the shop.

use almanac_tests::harness::Window;
use drawbar_almanac::pages::Page;
use eframe::egui::{Key, Modifiers};
use std::path::{Path, PathBuf};

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

/// A folder with one machine-less spindle and some readings.
fn small_folder(at: &Path, readings: &str) -> PathBuf {
    let folder = at.join("small");
    std::fs::create_dir_all(&folder).unwrap();
    let spindles = "spindle,interface,nominal_force_kn\nS-1,HSK-A63,18\n";
    std::fs::write(folder.join("spindles.csv"), spindles).unwrap();
    let head = "spindle,date,phase,quantity,unit,stroke_1\n";
    std::fs::write(folder.join("readings.csv"), format!("{head}{readings}")).unwrap();
    folder
}

fn readings(window: &Window) -> usize {
    window.harness.state().document().unwrap().snapshot().whole.readings.len()
}

#[test]
fn a_folder_opens_as_a_shop_without_a_name_and_the_folder_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let window = Window::open(folder.path(), Some(sample()));
    window.must_say("Ottermere Pattern & Joinery");
    window.must_say("as of Mon 2 March 2026");
    window.must_say("not saved under a name yet: Ctrl S");
    window.must_say("doubted and marked so");
    let shop = window.harness.state().document().unwrap().snapshot().whole.clone();
    assert_eq!((shop.machines.len(), shop.spindles.len()), (24, 31));
    let file = folder.path().join("data/untitled-1.almanac");
    assert!(file.is_file());
    window.close();
    assert!(!file.exists(), "nothing was changed in it");
}

#[test]
fn the_sample_comes_with_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::S);
    window.must_say("Ottermere Pattern & Joinery");
}

#[test]
fn a_folder_that_is_no_shop_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty");
    std::fs::create_dir(&empty).unwrap();
    let window = Window::open(folder.path(), Some(empty.clone()));
    window.must_say("The folder has no spindles.csv");
    window.must_say("choose the folder that has one, or open a shop and drop the CSV files on it");
    window.must_say("Nothing was written to it.");
    assert_eq!(std::fs::read_dir(empty).unwrap().count(), 0);
}

#[test]
fn a_broken_folder_is_looked_through_before_anything_comes_in() {
    let folder = tempfile::tempdir().unwrap();
    let rows = "S-1,2026-01-05,routine,clamp_force,kN,16.9\nS-1,2026-02-30,routine,clamp_force,kN,16.8\n";
    let small = small_folder(folder.path(), rows);
    let mut window = Window::open(folder.path(), Some(small));
    assert_eq!(window.harness.state().page(), Page::Import);
    window.must_say("One row is refused, so nothing comes in.");
    window.must_say("readings.csv, row 3, date \"2026-02-30\"");
    assert_eq!(readings(&window), 0);
    assert!(!window.is_enabled("write"), "all or nothing");
    window.ctrl(Key::Enter);
    assert_eq!(readings(&window), 0);

    window.key(Key::A);
    window.must_say("Nothing is written until Ctrl Enter.");
    window.ctrl(Key::Enter);
    assert_eq!(readings(&window), 1);
    assert_eq!(window.harness.state().page(), Page::Due);
    window.must_say("Imported: ");
    window.ctrl(Key::Z);
    assert_eq!(readings(&window), 0, "an import is one step");
    window.ctrl(Key::Y);
    assert_eq!(readings(&window), 1);
}

#[test]
fn a_question_takes_the_likely_figure_or_keeps_the_typed_one_as_doubted() {
    let folder = tempfile::tempdir().unwrap();
    let good = "S-1,2026-01-05,routine,clamp_force,kN,16.9\nS-1,2026-01-20,routine,clamp_force,kN,16.8\n";
    let small = small_folder(folder.path(), good);
    let mut window = Window::open(folder.path(), Some(small));
    assert_eq!(readings(&window), 2);

    for (answer, typed, doubted) in [(Key::Space, "16.7", false), (Key::Enter, "167", true)] {
        let slip = "S-1,2026-02-10,routine,clamp_force,kN,167\n";
        let small = small_folder(folder.path(), &format!("{good}{slip}"));
        window.ctrl(Key::I);
        window.type_into("Import the file or folder", &small.join("readings.csv").display().to_string());
        window.key(Key::Enter);
        assert_eq!(window.harness.state().page(), Page::Import);
        window.must_say("1 new, 2 already here");
        window.key(answer);
        window.ctrl(Key::Enter);
        let shop = window.harness.state().document().unwrap().snapshot().whole.clone();
        let last = shop.readings.last().unwrap();
        assert_eq!(last.strokes.first().unwrap().typed, typed);
        assert_eq!(last.doubt.is_some(), doubted);
        window.ctrl(Key::Z);
        assert_eq!(readings(&window), 2);
    }
}

#[test]
fn what_is_already_here_is_not_written_twice() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.keys(Modifiers::COMMAND, Key::I);
    window.type_into("Import the file or folder", &sample().display().to_string());
    window.key(Key::Enter);
    window.must_say("There is nothing to write");
    assert!(!window.is_enabled("write"));
    window.key(Key::Escape);
    assert_eq!(window.harness.state().page(), Page::Due);
}

#[test]
fn the_work_order_list_goes_to_a_typed_path_and_asks_before_replacing() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let list = folder.path().join("list.csv");
    std::fs::write(&list, "older").unwrap();
    window.ctrl(Key::E);
    window.type_into("Write the list to", "~/nowhere/list.csv");
    window.key(Key::Enter);
    window.must_say("nowhere");
    window.type_into("Write the list to", "~/list.csv");
    window.key(Key::Enter);
    window.must_say("~/list.csv is already there; Enter once more replaces it");
    assert_eq!(std::fs::read_to_string(&list).unwrap(), "older");
    window.key(Key::Enter);
    window.must_say("Wrote the work-order list");
    let text = std::fs::read_to_string(&list).unwrap();
    assert!(text.starts_with("order,state,hall,machine,position,spindle,interface,service,governing_limit"));
    assert!(text.contains("S-0131"), "M-02 is to book");
}

#[test]
fn the_shop_folder_is_written_and_opens_as_an_equal_shop() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.keys(Modifiers::COMMAND | Modifiers::SHIFT, Key::E);
    window.type_into("Write the shop folder to", "~/out");
    window.key(Key::Enter);
    window.must_say("Wrote the shop folder: ~/out");
    let first = window.harness.state().document().unwrap().snapshot().whole.clone();
    let other = tempfile::tempdir().unwrap();
    let again = Window::open(other.path(), Some(folder.path().join("out")));
    let second = again.harness.state().document().unwrap().snapshot().whole.clone();
    assert_eq!(first.settings, second.settings);
    assert_eq!(first.readings.len(), second.readings.len());
    assert_eq!(first.orders.len(), second.orders.len());
}

/// A file let go of over the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl eframe::egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }
    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

#[test]
fn a_dropped_file_opens_or_is_looked_through() {
    let folder = tempfile::tempdir().unwrap();
    let small = small_folder(folder.path(), "S-1,2026-01-05,routine,clamp_force,kN,16.9\n");
    let mut window = Window::open(folder.path(), None);
    window.harness.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(small.clone())));
    window.settle();
    assert_eq!(window.harness.state().page(), Page::Due, "a folder becomes a shop where none is open");
    assert_eq!(readings(&window), 1);
    let head = "spindle,date,phase,quantity,unit,stroke_1\n";
    let more = folder.path().join("more-readings.csv");
    std::fs::write(&more, format!("{head}S-1,2026-02-05,routine,clamp_force,kN,16.8\n")).unwrap();
    window.harness.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(more)));
    window.settle();
    assert_eq!(window.harness.state().page(), Page::Import);
    window.must_say("1 new. Nothing is written until Ctrl Enter.");
    assert_eq!(readings(&window), 1);
    window.ctrl(Key::Enter);
    assert_eq!(readings(&window), 2);
}

#[test]
fn a_column_of_another_name_is_matched_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let small = small_folder(folder.path(), "");
    let mut window = Window::open(folder.path(), Some(small));
    let other = folder.path().join("readings.csv");
    let text = "spindle,date,phase,quantity,unit,stroke_1,by\nS-1,2026-02-05,routine,clamp_force,kN,16.8,Thorne\n";
    std::fs::write(&other, text).unwrap();
    window.ctrl(Key::I);
    window.type_into("Import the file or folder", &other.display().to_string());
    window.key(Key::Enter);
    window.must_say("left out: by");
    window.key(Key::ArrowRight);
    for _ in 0..7 {
        window.key(Key::ArrowDown);
    }
    window.key(Key::Enter);
    window.click("technician");
    window.must_not_say("left out: by");
    window.ctrl(Key::Enter);
    let shop = window.harness.state().document().unwrap().snapshot().whole.clone();
    assert_eq!(shop.readings.last().unwrap().technician.as_deref(), Some("Thorne"));
}
