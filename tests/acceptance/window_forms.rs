//! A form beside a page: whose keys they are, by the names that a screen reader reads.

use almanac_tests::harness::Window;
use drawbar_almanac::pages::Page;
use eframe::egui::accesskit::Toggled;
use eframe::egui::{Event, Key, Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::{Path, PathBuf};

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

/// The page of S-0111 of the sample shop with the form of a service beside it.
fn service_form(folder: &Path) -> Window {
    let mut window = Window::open(folder, Some(sample()));
    window.key(Key::Slash);
    window.harness.event(Event::Text("s-0111".to_owned()));
    window.settle();
    window.key(Key::Enter);
    if window.harness.state().page() == Page::Due {
        window.key(Key::Enter);
    }
    window.key(Key::V);
    window.must_say("Service of S-0111");
    window
}

#[test]
fn the_letters_of_the_page_rest_while_the_form_has_the_focus() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = service_form(folder.path());
    window.harness.get_by_role_and_label(Role::RadioButton, "kind: minor").focus();
    window.harness.run();
    let page = window.harness.state().page();
    for key in [Key::M, Key::N, Key::C, Key::W, Key::PageDown] {
        window.key(key);
        window.must_say("Service of S-0111");
        assert_eq!(window.harness.state().page(), page);
    }
    window.must_not_say("What if:");
    // the keys of the form act: Tab leads on, Space takes a word
    window.key(Key::Tab);
    window.key(Key::Space);
    let major = window.harness.get_by_role_and_label(Role::RadioButton, "kind: major");
    assert!(major.is_focused() && major.accesskit_node().toggled() == Some(Toggled::True));
    // in the page its letters act as ever, and the form comes back as it was left
    window.type_into("stop hours", "1.5");
    window.harness.get_by_role_and_label(Role::Button, "meter").click();
    window.settle();
    window.must_not_say("Service of S-0111");
    window.must_say("Meter reading of S-0111");
    window.key(Key::Escape);
    window.key(Key::V);
    let hours = window.harness.get_by_role_and_label(Role::TextInput, "stop hours");
    assert_eq!(hours.accesskit_node().value().as_deref(), Some("1.5"));
}
