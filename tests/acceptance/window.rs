//! The window: opening, the head, days, steps, paths; through the names a screen reader reads.

use almanac_core::ids::Row;
use almanac_core::reading::Reading;
use almanac_core::store::{Access, Store};
use almanac_core::units::Quantity;
use almanac_tests::harness::Window;
use drawbar_almanac::pages::Page;
use eframe::egui::{Key, Modifiers};

#[test]
fn without_a_shop_four_ways_lead_to_one() {
    let folder = tempfile::tempdir().unwrap();
    let window = Window::open(folder.path(), None);
    for way in ["Open …", "New shop", "Import a shop folder …", "Try the sample shop"] {
        window.must_say(way);
    }
    window.must_say("Nothing yet.");
    assert!(!window.shows("Due"), "places that lead nowhere are not in the head");
}

#[test]
fn a_file_that_is_no_shop_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("letter.almanac");
    std::fs::write(&path, "Dear Mr Brook").unwrap();
    let window = Window::open(folder.path(), Some(path.clone()));
    window.must_say("not a shop file of this program");
    window.must_say("Nothing was written to it.");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "Dear Mr Brook");
    assert_eq!(
        std::fs::read_dir(folder.path()).unwrap().filter_map(Result::ok).filter(|e| e.file_name() != "config").count(),
        1
    );
}

#[test]
fn a_new_shop_is_kept_at_once_and_goes_again_where_nothing_was_changed() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::N);
    window.must_say("Shop without a name");
    window.must_say("not saved under a name yet: Ctrl S");
    assert_eq!(window.harness.state().page(), Page::Due);
    let file = folder.path().join("data/untitled-1.almanac");
    assert!(file.is_file());
    window.close();
    assert!(!file.exists(), "nothing was changed in it");
}

#[test]
fn save_as_gives_the_shop_a_name_by_a_typed_path() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::N);
    window.ctrl(Key::S);
    window.type_into("Save the shop as", "~/works");
    window.key(Key::Enter);
    window.must_say("Saved as ~/works.almanac");
    window.must_say("saved 12:00");
    assert!(!folder.path().join("data/untitled-1.almanac").exists(), "it lies under its name now");
    window.close();
    let named = folder.path().join("works.almanac");
    Store::open(&named, Access::ReadWrite).unwrap();
    assert!(!folder.path().join("works.almanac.lock").exists());
}

#[test]
fn a_second_window_reads_only_and_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("works.almanac");
    drop(Store::create(&path).unwrap());
    let first = Window::open(folder.path(), Some(path.clone()));
    let second = Window::open(folder.path(), Some(path));
    second.must_say("open in another window: read only");
    first.must_not_say("read only");
}

#[test]
fn the_day_goes_back_by_keys_and_by_typing_and_entry_closes() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::N);
    window.must_say("as of Mon 2 March 2026");
    window.keys(Modifiers::ALT, Key::ArrowLeft);
    window.must_say("as of Sun 1 March 2026");
    window.must_say("back to 2 March");
    window.keys(Modifiers::ALT, Key::PageUp);
    window.must_say("as of Sun 1 February 2026");
    assert!(window.harness.state().document().unwrap().snapshot().as_of.to_string() == "2026-02-01");

    window.click("as of Sun 1 February 2026");
    window.type_into("Day to look at", "soon");
    window.key(Key::Enter);
    window.must_say("'soon' is no day");
    window.type_into("Day to look at", "2026-04-01");
    window.key(Key::Enter);
    window.must_say("lies after the present");
    window.type_into("Day to look at", "20.1.");
    window.key(Key::Enter);
    window.must_say("as of Tue 20 January 2026");

    window.ctrl(Key::I);
    assert!(!window.shows("Import the file or folder"), "nothing is imported on a day before the present");
    window.keys(Modifiers::ALT, Key::Home);
    window.must_say("as of Mon 2 March 2026");
    window.must_not_say("back to");
}

#[test]
fn f1_lists_every_key_in_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::F1);
    window.must_say("Every key of the program");
    window.must_say("Ctrl Shift E");
    window.key(Key::Escape);
    window.must_not_say("Every key of the program");
}

#[test]
fn escape_leaves_the_path_line_and_then_goes_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::N);
    window.ctrl(Key::Num6);
    assert_eq!(window.harness.state().page(), Page::Shop);
    window.ctrl(Key::O);
    window.must_say("Open the shop");
    window.key(Key::Escape);
    window.must_not_say("Open the shop");
    assert_eq!(window.harness.state().page(), Page::Shop, "one Esc, one step");
    window.key(Key::Escape);
    assert_eq!(window.harness.state().page(), Page::Due);
}

#[test]
fn the_menu_prints_the_keys_and_shows_what_cannot_be_used() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.key(Key::N);
    window.click("File");
    for name in ["Save as …", "Back up …", "Import into this shop …", "Export shop folder …", "Keys"] {
        window.must_say(name);
    }
    assert!(!window.is_enabled("Undo"));
    assert!(window.is_enabled("Save as …"));
}

#[test]
fn scale_and_colours_are_kept_for_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.ctrl(Key::T);
    for _ in 0..9 {
        window.ctrl(Key::Plus);
    }
    window.close();
    let kept = std::fs::read_to_string(folder.path().join("config/preferences.json")).unwrap();
    assert!(kept.contains("\"colours\": \"dark\""), "{kept}");
    assert!(kept.contains("\"scale_percent\": 160"), "80 to 160 %: {kept}");
}

fn sample() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

#[test]
fn a_reading_goes_into_the_file_and_undo_takes_it_out_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let count = |window: &Window| window.harness.state().document().unwrap().snapshot().whole.readings.len();
    let before = count(&window);
    window.key(Key::Slash);
    window.harness.event(eframe::egui::Event::Text("s-0111".to_owned()));
    window.settle();
    window.key(Key::Enter);
    let Page::Spindle(spindle) = window.harness.state().page() else { panic!("Enter opens a spindle") };
    // What was read last is no slip, whichever spindle stands second.
    let shop = window.harness.state().document().unwrap().snapshot().whole.clone();
    let of_force = |reading: &&Row<_, Reading>| reading.quantity() == Quantity::ClampForce && reading.doubt.is_none();
    let last = shop.readings_of(spindle).iter().rfind(of_force).unwrap();
    let stroke = last.strokes.first().unwrap().typed.as_str();
    window.key(Key::N);
    window.must_say("Reading of S-");
    for stroke in [stroke, stroke] {
        window.harness.event(eframe::egui::Event::Text(stroke.to_owned()));
        window.settle();
        window.key(Key::Enter);
    }
    window.ctrl(Key::Enter);
    assert_eq!(count(&window), before + 1, "{:#?}", window.all_names());
    window.must_say("Recorded reading of S-0111: service by ");
    window.must_say("; Ctrl Z takes it back");
    window.ctrl(Key::Z);
    assert_eq!(count(&window), before);
    window.must_say("Taken back: ");
    window.ctrl(Key::Y);
    assert_eq!(count(&window), before + 1);
    let file = folder.path().join("data/untitled-1.almanac");
    window.close();
    assert!(file.is_file(), "it was changed, so it stays");
    let kept = Store::open(&file, Access::ReadWrite).unwrap().load_shop().unwrap();
    assert_eq!(kept.readings.len(), before + 1);

    let mut again = Window::open(folder.path(), None);
    assert!(again.shows("Ottermere Pattern & Joinery, untitled-1, not saved yet"), "{:#?}", again.all_names());
    again.key(Key::Num1);
    assert_eq!(count(&again), before + 1);
    again.must_say("not saved under a name yet: Ctrl S");
}

#[test]
fn on_a_day_before_the_present_no_form_opens() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.keys(Modifiers::ALT, Key::PageUp);
    window.must_say("entry is closed; limits and registers as they stand now");
    window.key(Key::Enter);
    window.key(Key::N);
    window.must_not_say("Reading of");
    window.click("back to 2 March");
    window.must_say("as of Mon 2 March 2026");
}

#[test]
fn escape_closes_the_menu_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.ctrl(Key::Num6);
    window.key(Key::F10);
    window.must_say("Export shop folder …");
    window.key(Key::Escape);
    window.must_not_say("Export shop folder …");
    assert_eq!(window.harness.state().page(), Page::Shop);
}

#[test]
fn an_untouched_window_asks_for_no_frame() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    for _ in 0..3 {
        window.harness.step();
        let delay = window.harness.output().viewport_output.values().map(|viewport| viewport.repaint_delay).min();
        assert!(delay.unwrap() > std::time::Duration::from_secs(3600), "{delay:?}");
    }
}

#[test]
fn a_dialog_is_a_second_way_to_a_path() {
    let folder = tempfile::tempdir().unwrap();
    let chosen = folder.path().join("chosen.csv");
    let start = almanac_tests::harness::Start { dialog: Some(chosen.clone()), ..Default::default() };
    let mut window = Window::open_with(folder.path(), Some(sample()), start);
    window.ctrl(Key::E);
    window.ctrl(Key::B);
    window.must_say("Wrote the work-order list");
    assert!(chosen.is_file());

    let none = tempfile::tempdir().unwrap();
    let mut window = Window::open(none.path(), Some(sample()));
    window.ctrl(Key::E);
    window.click("browse");
    window.must_say("Nothing was chosen; where no dialog opens, type the path");
}

#[test]
fn enter_and_escape_in_a_line_at_the_top_stay_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let is_due = |window: &Window| window.harness.state().page() == Page::Due;
    window.ctrl(Key::D);
    window.type_into("Day to look at", "soon");
    window.key(Key::Enter);
    window.must_say("'soon' is no day");
    assert!(is_due(&window), "a refused day opens no spindle");
    window.type_into("Day to look at", "2025-11-20");
    window.key(Key::Enter);
    window.must_say("as of Thu 20 November 2025");
    assert!(is_due(&window), "a day opens no spindle");
    window.keys(Modifiers::ALT, Key::Home);

    window.ctrl(Key::I);
    window.type_into("Import the file or folder", "~/nowhere");
    window.key(Key::Enter);
    window.must_say("There is nothing at ~/nowhere");
    assert!(is_due(&window), "a refused path opens no spindle");
    window.key(Key::Escape);
    window.ctrl(Key::E);
    window.type_into("Write the list to", "~/list.csv");
    window.key(Key::Enter);
    window.must_say("Wrote the work-order list");
    assert!(is_due(&window), "a path opens no spindle");

    // The filter of the page stays too: Esc belongs to the line.
    window.key(Key::Slash);
    window.harness.event(eframe::egui::Event::Text("s-01".to_owned()));
    window.settle();
    window.must_say("of 27 shown");
    for line in [Key::D, Key::E] {
        window.ctrl(line);
        window.key(Key::Escape);
        window.must_say("of 27 shown");
        assert!(is_due(&window));
    }
    window.must_not_say("Write the list to");
    assert!(!window.shows("Day to look at"));
}

#[test]
fn what_is_typed_takes_the_place_of_the_proposed_path() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.ctrl(Key::I);
    window.harness.event(eframe::egui::Event::Text("/nowhere/x.csv".to_owned()));
    window.settle();
    window.key(Key::Enter);
    window.must_say("There is nothing at /nowhere/x.csv");
    // What was refused is typed on.
    window.harness.event(eframe::egui::Event::Text("x".to_owned()));
    window.settle();
    window.key(Key::Enter);
    window.must_say("There is nothing at /nowhere/x.csvx");
}

#[test]
fn a_notice_takes_no_row_from_the_sample_and_its_keys_go_on_acting() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let rows = |window: &Window| {
        use egui_kittest::kittest::Queryable as _;
        window.harness.query_all_by_role(eframe::egui::Role::ListBoxOption).count()
    };
    window.must_say("doubted and marked so");
    assert_eq!(rows(&window), 27, "all at once in 1280 by 800");
    window.must_not_say("part of the list in view");
    window.key(Key::Slash);
    window.must_say("find a spindle");
    window.key(Key::Escape);
    window.must_say("doubted and marked so");
    window.click("dismiss");
    window.must_not_say("doubted and marked so");
    window.click("find");
    window.must_say("find a spindle");
}

#[test]
fn a_past_day_says_in_narrow_windows_too_that_limits_are_those_of_now() {
    let folder = tempfile::tempdir().unwrap();
    let start = almanac_tests::harness::Start { size: [900.0, 560.0], ..Default::default() };
    let mut window = Window::open_with(folder.path(), Some(sample()), start);
    window.keys(Modifiers::ALT, Key::PageUp);
    window.must_say("entry is closed; limits and registers as they stand now");
}

#[test]
fn a_missing_file_is_said_to_be_missing_and_no_more() {
    let folder = tempfile::tempdir().unwrap();
    let window = Window::open(folder.path(), Some(folder.path().join("gone.almanac")));
    window.must_say("There is no file ");
    window.must_not_say("Nothing was written to it.");
}

#[test]
fn files_opened_before_are_called_by_the_name_of_their_shop() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.ctrl(Key::S);
    window.type_into("Save the shop as", "~/works");
    window.key(Key::Enter);
    window.must_say("Saved as ~/works.almanac");
    window.close();
    let mut again = Window::open(folder.path(), None);
    assert!(again.shows("Ottermere Pattern & Joinery, ~/works.almanac"), "{:#?}", again.all_names());
    again.key(Key::Num1);
    again.must_say("as of Mon 2 March 2026");
}
