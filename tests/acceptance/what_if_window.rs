//! The what-if in the window, by keyboard, through the names that a screen reader reads.

use almanac_core::store::{Access, Store};
use almanac_tests::harness::{Start, Window};
use drawbar_almanac::pages::Page;
use eframe::egui::{Event, Key, Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::PathBuf;

fn sample() -> PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

fn write(window: &mut Window, text: &str) {
    window.harness.event(Event::Text(text.to_owned()));
    window.settle();
}

/// The rows of the due page as they are read out.
fn rows(window: &Window) -> Vec<String> {
    let rows = window.harness.query_all_by_role(Role::ListBoxOption);
    rows.filter_map(|row| row.accesskit_node().label()).collect()
}

/// Opens the page of a spindle by its position or name.
fn open(window: &mut Window, what: &str) {
    window.key(Key::Slash);
    write(window, what);
    window.key(Key::Enter);
    if window.harness.state().page() == Page::Due {
        window.key(Key::Enter);
    }
    assert!(matches!(window.harness.state().page(), Page::Spindle(_)), "{what}");
}

#[test]
fn usage_on_the_due_page_and_back_by_escape() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let in_force = rows(&window);
    assert!(in_force.len() > 20);
    window.key(Key::W);
    window.must_say("What if: nothing is pretended yet");
    window.must_say("what if: nothing is saved; Esc ends");
    assert!(in_force.starts_with(&rows(&window)), "nothing is pretended yet");
    // the caret stands in the first field; no pointer is needed
    write(&mut window, "2");
    window.must_say("What if: usage × 2: nothing is saved.");
    window.must_say("With usage × 2, ");
    let pretended = rows(&window);
    assert!(pretended.len() > 15, "the rows in view");
    assert!(pretended.iter().all(|row| row.starts_with("What if: Spindle ")), "{pretended:#?}");
    assert!(pretended.iter().filter(|row| row.contains(" In force: service ")).count() > 15);
    assert!(pretended.iter().any(|row| !in_force.iter().any(|before| row.contains(before.as_str()))));
    window.key(Key::Enter);
    write(&mut window, "5");
    window.must_say("What if: usage × 2, accepted risk 5 %: nothing is saved.");
    window.key(Key::Escape);
    window.must_not_say("What if");
    assert_eq!(rows(&window), in_force, "all is as it was");
}

/// Leaves only the rows of one kind, such as one state.
fn only(window: &mut Window, what: &str, kind: &str) {
    window.key(Key::F);
    window.click(&format!("{what}: any"));
    window.harness.get_by_label(kind).click();
    window.settle();
    window.key(Key::Escape);
    window.must_say(&format!("{what}: {kind}"));
}

/// The places of the rows, in any order.
fn places(rows: &[String]) -> Vec<String> {
    let place = |row: &String| row.split("position ").nth(1)?.split(':').next().map(ToOwned::to_owned);
    let mut places: Vec<String> = rows.iter().filter_map(place).collect();
    places.sort_unstable();
    places
}

#[test]
fn a_state_filter_goes_by_the_states_in_force() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    only(&mut window, "state", "clear");
    let in_force = rows(&window);
    assert!(in_force.len() > 5 && in_force.iter().all(|row| row.contains(": clear. ")), "{in_force:#?}");
    window.key(Key::W);
    // it settles: who is pretended about does not hang on what comes of it
    write(&mut window, "2");
    window.must_say("What if: usage × 2: nothing is saved.");
    let pretended = rows(&window);
    assert_eq!(places(&pretended), places(&in_force));
    assert!(pretended.iter().any(|row| row.contains(": to book. ")), "{pretended:#?}");
    assert!(pretended.iter().all(|row| row.contains(" In force: service ")), "{pretended:#?}");
    window.must_say("state: clear");
    window.key(Key::Escape);
    assert_eq!(rows(&window), in_force, "all is as it was");
    window.must_say("state: clear");
}

#[test]
fn a_pretence_never_takes_a_filter_away() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    only(&mut window, "state", "past limit");
    let in_force = rows(&window);
    assert_eq!(in_force.len(), 1, "{in_force:#?}");
    window.key(Key::W);
    window.harness.get_by_label("what if of: this spindle").click();
    window.settle();
    // with its service done nothing is past its limit any more
    window.harness.get_by_label("service: minor").click();
    window.settle();
    window.must_say("a minor service on 2 March: nothing is saved.");
    let pretended = rows(&window);
    assert_eq!(places(&pretended), places(&in_force));
    assert!(!pretended.iter().any(|row| row.contains(": past limit. ")), "{pretended:#?}");
    window.must_say("state: past limit");
    window.key(Key::Escape);
    window.must_say("state: past limit");
    assert_eq!(rows(&window), in_force);
}

#[test]
fn the_first_row_stays_the_one_pretended_of_when_it_sinks() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    let chosen = |window: &Window| {
        let mut rows = window.harness.query_all_by_role(Role::ListBoxOption);
        let row = rows.find(|row| row.accesskit_node().is_selected() == Some(true)).unwrap();
        places(&[row.accesskit_node().label().unwrap()])
    };
    // here the first one must have its service now, and may run
    only(&mut window, "hall", "Router hall");
    let in_force = rows(&window);
    let first = chosen(&window);
    assert_eq!(first, places(&in_force[..1]));
    window.key(Key::W);
    window.harness.get_by_label("what if of: this spindle").click();
    window.settle();
    window.harness.get_by_label("service: minor").click();
    window.settle();
    window.must_say("What if: a minor service on 2 March: nothing is saved.");
    assert_ne!(places(&rows(&window)[..1]), first, "it sank");
    assert_eq!(chosen(&window), first, "and is still the one");
    window.key(Key::Escape);
    assert_eq!(rows(&window), in_force, "all is as it was");
    assert_eq!(chosen(&window), first);
}

#[test]
fn one_spindle_shows_both_dates_and_a_pretended_reading() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    open(&mut window, "s-0111");
    let before = window.all_names();
    window.key(Key::W);
    write(&mut window, "× 2");
    window.must_say("What if: service by ");
    window.must_say("In force: service by ");
    window.must_say("instead of by ");
    window.must_say("service by, what if");
    window.type_into("usage", " ");
    window.type_into("reading", "18.1 18.2");
    window.must_say("What if: a routine reading of 18.1 18.2 kN on 2 March: nothing is saved.");
    window.must_say("kN is ");
    // another spindle: what was read of this one is not pretended of that one
    window.harness.get_by_label_contains("next spindle, ").click();
    window.settle();
    window.must_say("What if: nothing is pretended yet");
    window.harness.get_by_label_contains("previous spindle, ").click();
    window.settle();
    window.key(Key::Escape);
    assert_eq!(window.all_names(), before, "all is as it was");
}

#[test]
fn nothing_of_it_reaches_the_file_and_entry_is_closed() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.ctrl(Key::S);
    window.type_into("Save the shop as", "~/works");
    window.key(Key::Enter);
    window.close();
    let path = folder.path().join("works.almanac");
    let tables = |path: &PathBuf| Store::open(path, Access::ReadWrite).unwrap().load_shop().unwrap();
    let before = tables(&path);

    let mut window = Window::open(folder.path(), Some(path.clone()));
    let journal = window.harness.state().document().unwrap().snapshot().journal.clone();
    let revision = window.harness.state().document().unwrap().snapshot().revision;
    open(&mut window, "s-0111");
    window.key(Key::W);
    for (field, text) in [
        ("usage", "1.5"),
        ("accepted risk", "5"),
        ("service limit", "85"),
        ("stop limit", "72"),
        ("every, months", "6"),
        ("every, run hours", "1,000"),
        ("every, cycles", "10000"),
        ("reading", "18.3"),
        ("service on", "27.2."),
    ] {
        window.type_into(field, text);
    }
    window.harness.get_by_label("service: minor").click();
    window.settle();
    window.must_say("a minor service on 27 February: nothing is saved.");
    for entry in ["new reading", "service", "meter", "edit spindle", "exchange", "correct"] {
        let buttons = window.harness.query_all_by_role(Role::Button);
        let found: Vec<_> =
            buttons.filter(|button| button.accesskit_node().label().as_deref() == Some(entry)).collect();
        assert!(!found.is_empty() && found.iter().all(|button| button.accesskit_node().is_disabled()), "{entry}");
    }
    window.ctrl(Key::E);
    window.must_say("The list holds the figures in force");
    window.key(Key::Escape);
    window.key(Key::Escape);
    let document = window.harness.state().document().unwrap().snapshot();
    assert_eq!((&document.journal, document.revision), (&journal, revision));
    window.close();
    assert_eq!(tables(&path), before);
}

#[test]
fn what_does_not_fit_is_said_at_once_and_old_figures_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), Some(sample()));
    window.key(Key::W);
    write(&mut window, "2");
    window.type_into("accepted risk", "90");
    window.must_say("Accepted risk 90 % does not fit; expected 0.1 to 50");
    window.must_say("What if: usage × 2: nothing is saved.");
    window.type_into("accepted risk", " ");
    window.type_into("stop limit", "60");
    window.must_say("limits in force stay as they are");
    window.must_not_say("does not fit");
    window.click("Shop");
    window.must_not_say("What if");
}

#[test]
fn the_list_of_keys_names_it_and_narrow_windows_hold_it() {
    let folder = tempfile::tempdir().unwrap();
    let start = Start { size: [900.0, 600.0], ..Start::default() };
    let mut window = Window::open_with(folder.path(), Some(sample()), start);
    window.key(Key::F1);
    window.must_say("what if: usage, risk, limits of all shown; Esc ends");
    window.key(Key::F1);
    window.key(Key::W);
    write(&mut window, "16 h");
    window.must_say("What if: 16 h a working day: nothing is saved.");
    for field in ["usage", "accepted risk", "service limit", "stop limit", "setting tolerance", "every, cycles"] {
        let place = window.harness.get_by_role_and_label(Role::TextInput, field).rect();
        assert!(place.left() >= 0.0 && place.right() <= 900.0 && place.width() > 40.0, "{field}: {place:?}");
    }
}
