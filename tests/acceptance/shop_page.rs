//! A shop from nothing by hand, and its registers, in the whole window with a real shop file.

use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::order::OrderState;
use almanac_core::reading::Phase;
use almanac_core::shop::Shop;
use almanac_core::words;
use almanac_tests::harness::{Start, Window};
use drawbar_almanac::pages::Page;
use eframe::egui::accesskit::Toggled;
use eframe::egui::{Key, Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::Path;

/// A window on a new, empty shop.
pub(super) fn new_shop(folder: &Path) -> Window {
    let mut window = Window::open(folder, None);
    window.key(Key::N);
    window
}

pub(super) fn shop(window: &Window) -> Shop {
    window.harness.state().document().unwrap().snapshot().whole.as_ref().clone()
}

#[track_caller]
pub(super) fn choose(window: &mut Window, role: Role, name: &str) {
    window.harness.get_by_role_and_label(role, name).click();
    window.settle();
}

#[track_caller]
pub(super) fn first_machine(window: &mut Window) {
    window.key(Key::N);
    window.must_say("The first machine");
    window.type_into("name of the shop", "Weir & Daughters");
    window.type_into("machine", "R-01");
    window.type_into("hall", "Router hall");
    window.type_into("spindle", "S-0001");
    window.type_into("tool interface", "HSK-A63");
    window.type_into("mounted since", "2025-01-06");
    window.must_say("from memory, to be confirmed; the spindle builder's value rules");
    window.click("Take 18 kN");
    window.ctrl(Key::Enter);
}

#[track_caller]
pub(super) fn go_to_shop(window: &mut Window, register: &str) {
    window.ctrl(Key::Num6);
    assert_eq!(window.harness.state().page(), Page::Shop);
    choose(window, Role::Tab, register);
}

#[test]
fn a_shop_is_run_by_hand_from_nothing_to_its_first_date() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    let made = shop(&window);
    assert_eq!(made.settings.name, "Weir & Daughters");
    assert_eq!((made.machines.len(), made.spindles.len(), made.mountings.len()), (1, 1, 1));
    let spindle = made.spindles.values().next().unwrap();
    assert_eq!(spindle.limits.source.as_deref(), Some("from memory, to be confirmed"));

    // the due page has one row; its spindle page takes the readings
    window.key(Key::ArrowDown);
    window.key(Key::Enter);
    assert!(matches!(window.harness.state().page(), Page::Spindle(_)), "{:?}", window.all_names());
    for (day, hours, stroke) in
        [("2025-06-02", "700", "17.9"), ("2025-10-06", "1,400", "16.9"), ("2026-02-23", "2,200", "15.8")]
    {
        window.key(Key::N);
        window.type_into("stroke 1", stroke);
        window.type_into("date", day);
        window.type_into("run hours", hours);
        window.ctrl(Key::Enter);
    }
    let measured = shop(&window);
    assert_eq!(measured.readings.len(), 3);
    assert!(measured.readings.iter().all(|reading| reading.phase == Phase::Routine && reading.doubt.is_none()));

    let as_of = window.harness.state().document().unwrap().snapshot().as_of;
    let forecast =
        forecast_shop(&measured.known_on(as_of), as_of, &ForecastConfig::of(&measured), &NoProgress).unwrap();
    let service_by = forecast.spindles.values().next().unwrap().service_by.expect("a falling force leads to a date");
    assert!(service_by > as_of, "{service_by}");
    window.key(Key::Escape);
    window.must_say(&format!("Service by {}", words::date_weekday(service_by, as_of)));

    // one step back takes the last reading away again, as the file has it
    window.ctrl(Key::Z);
    assert_eq!(shop(&window).readings.len(), 2);
}

#[test]
fn a_register_row_is_added_changed_and_removed_and_each_can_be_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "gauges");
    window.must_say("Nothing here yet.");
    window.click("Add a gauge");
    window.must_say("Missing: gauge.");
    window.type_into("gauge", "G-02");
    choose(&mut window, Role::RadioButton, "unit: mm");
    window.must_say("clamp force is not measured in mm");
    choose(&mut window, Role::RadioButton, "unit: kN");
    window.type_into("calibration due", "2026-02-14");
    window.click("Add the gauge");
    let gauge = shop(&window).gauges.first().cloned().unwrap();
    assert_eq!((gauge.name.as_str(), gauge.unit.map(|unit| unit.symbol())), ("G-02", Some("kN")));
    window.must_say("G-02; measures clamp force, shows kN, calibration due 2026-02-14, overdue");

    window.type_into("certificate", "C-1881");
    window.must_say("gauges, not saved");
    window.ctrl(Key::Enter);
    assert_eq!(shop(&window).gauges.first().unwrap().certificate, "C-1881");
    window.must_not_say("gauges, not saved");

    window.click("Remove the gauge");
    assert!(shop(&window).gauges.is_empty());
    window.ctrl(Key::Z);
    assert_eq!(shop(&window).gauges.first().unwrap().certificate, "C-1881");
    window.ctrl(Key::Z);
    assert_eq!(shop(&window).gauges.first().unwrap().certificate, "");
    window.ctrl(Key::Z);
    assert!(shop(&window).gauges.is_empty());
}

#[test]
fn a_row_that_others_need_is_not_removed_and_the_sentence_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "halls and machines");
    let row = window.harness.query_all_by_role(Role::ListBoxOption).next().unwrap();
    row.click();
    window.settle();
    window.click("Remove the machine");
    window.must_say("cannot be removed");
    assert_eq!(shop(&window).machines.len(), 1);
}

#[test]
fn limits_show_their_steps_and_the_one_in_force() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "limits");
    window.click("Add a set of limits");
    window.type_into("tool interface", "HSK-A63");
    window.type_into("service limit", "70");
    window.type_into("stop limit", "75");
    window.must_say("stop limit 75 % is not below the service limit 70 %");
    window.type_into("service limit", "82.5");
    window.type_into("source of limits", "handbook, table 4");
    window.click("Add the set of limits");
    choose(&mut window, Role::Tab, "spindles");
    window.harness.query_all_by_role(Role::ListBoxOption).next().unwrap().click();
    window.settle();
    window.must_say("service limit 82.5 %, interface: handbook, table 4");
    window.must_say("setting 10.50 mm, built in: common practice, no source");
}

#[test]
fn settings_are_checked_as_typed_and_saved_as_one_step() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "shop");
    window.harness.query_all_by_role(Role::ListBoxOption).next().unwrap().click();
    window.settle();
    window.type_into("accepted risk", "7");
    window.must_say("expected a share from 0.001 to 0.5");
    assert!(!window.is_enabled("Save"));
    window.type_into("accepted risk", "0.05");
    window.type_into("labour", "64");
    window.click("Save");
    let settings = shop(&window).settings;
    assert!((settings.accepted_risk - 0.05).abs() < 1e-12);
    assert!((settings.labour_per_hour.get() - 64.0).abs() < 1e-12);
}

#[test]
fn the_journal_says_who_did_what() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "journal");
    window.must_say("who tester, what Begin the shop Weir & Daughters");
    let names: Vec<String> =
        window.harness.query_all_by_role(Role::ListBoxOption).filter_map(|row| row.accesskit_node().label()).collect();
    assert!(names.iter().any(|name| name.contains("row machine")), "{names:?}");
}

#[test]
fn a_service_closes_its_order_and_takes_parts_in_one_step_that_can_be_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    // tall, so that every field of the service is in sight
    let tall = Start { size: [1280.0, 2400.0], ..Start::default() };
    let mut window = Window::open_with(folder.path(), None, tall);
    window.key(Key::N);
    first_machine(&mut window);
    go_to_shop(&mut window, "parts");
    window.click("Add a part");
    window.type_into("part", "gripper grease");
    window.type_into("on hand", "3");
    window.click("Add the part");
    choose(&mut window, Role::Tab, "kits");
    window.click("Add a kit line");
    window.type_into("tool interface", "HSK-A63");
    window.type_into("part", "gripper grease");
    window.click("Add the kit line");
    choose(&mut window, Role::Tab, "orders");
    window.click("Add an order");
    window.type_into("spindle", "S-0001");
    window.click("Add the order");
    assert_eq!(shop(&window).orders.first().unwrap().name, "26-001");

    window.ctrl(Key::Num1);
    window.key(Key::ArrowDown);
    window.key(Key::Enter);
    window.key(Key::V);
    choose(&mut window, Role::CheckBox, "Locked out, zero energy verified, before anything was opened");
    choose(&mut window, Role::CheckBox, "as found not measured");
    choose(&mut window, Role::CheckBox, "setting dimension not measured");
    window.type_into("as left stroke 1", "17.6");
    window.ctrl(Key::Enter);

    let after = shop(&window);
    assert_eq!((after.services.len(), after.readings.len()), (1, 1));
    assert_eq!(after.readings.first().unwrap().phase, Phase::AsLeft);
    assert_eq!(after.services.first().unwrap().order.as_deref(), Some("26-001"));
    let order = after.orders.first().unwrap();
    assert_eq!(
        (order.state, order.closed_on.map(|day| day.to_string()).as_deref()),
        (OrderState::Done, Some("2026-03-02"))
    );
    assert!((after.parts.first().unwrap().on_hand - 2.0).abs() < 1e-9);

    window.ctrl(Key::Z);
    let before = shop(&window);
    assert_eq!((before.services.len(), before.readings.len()), (0, 0));
    assert_eq!(before.orders.first().unwrap().state, OrderState::Planned);
    assert!((before.parts.first().unwrap().on_hand - 3.0).abs() < 1e-9);
}

#[test]
fn the_arrows_choose_a_row_and_a_register_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    window.ctrl(Key::Num6);
    let chosen = |window: &Window, role: Role| -> Option<String> {
        let mut nodes = window.harness.query_all_by_role(role).map(|node| node.accesskit_node());
        nodes.find(|node| node.toggled() == Some(Toggled::True)).and_then(|node| node.label())
    };
    assert_eq!(chosen(&window, Role::ListBoxOption), None);
    window.key(Key::ArrowDown);
    assert!(chosen(&window, Role::ListBoxOption).is_some_and(|row| row.contains("R-01")));
    window.key(Key::ArrowRight);
    assert_eq!(chosen(&window, Role::Tab).as_deref(), Some("spindles"));
    window.key(Key::ArrowDown);
    assert!(chosen(&window, Role::ListBoxOption).is_some_and(|row| row.starts_with("S-0001")));
    window.ctrl(Key::ArrowRight);
    assert_eq!(chosen(&window, Role::Tab).as_deref(), Some("mountings"));
    window.key(Key::ArrowLeft);
    window.key(Key::Enter);
    // Enter leads into the form, where its first field is typed over
    assert!(window.harness.get_by_role_and_label(Role::TextInput, "spindle").is_focused());
    window.harness.event(eframe::egui::Event::Text("S-0002".to_owned()));
    window.settle();
    window.ctrl(Key::Enter);
    assert_eq!(shop(&window).spindles.values().next().unwrap().name, "S-0002");
}

#[test]
fn a_meter_reading_is_corrected_from_the_shop_page() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    window.key(Key::ArrowDown);
    window.key(Key::Enter);
    for (day, hours) in [("2025-06-02", "700"), ("2026-02-23", "2,200")] {
        window.key(Key::M);
        window.type_into("date", day);
        window.type_into("run hours", hours);
        window.ctrl(Key::Enter);
    }
    go_to_shop(&mut window, "meter readings");
    window.must_say("S-0001; date 2026-02-23, run hours 2,200");
    // newest first: the second one is the older
    window.key(Key::ArrowDown);
    window.key(Key::ArrowDown);
    window.key(Key::Enter);
    window.must_say("Correct a meter reading of S-0001");
    assert!(window.harness.get_by_role_and_label(Role::TextInput, "run hours").is_focused());
    window.type_into("run hours", "710");
    window.ctrl(Key::Enter);
    window.must_say("S-0001; date 2025-06-02, run hours 710");
    window.must_say("S-0001; date 2025-06-02, run hours 700, counts superseded 2026-03-02");
    let meters = shop(&window).meters;
    assert_eq!(meters.iter().filter(|meter| meter.replaced_on.is_none()).count(), 2);
    assert_eq!(meters.len(), 3);
}

#[test]
fn the_spindle_page_leads_to_its_spindle_machine_mounting_and_exchange() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    window.key(Key::ArrowDown);
    window.key(Key::Enter);
    window.key(Key::E);
    window.must_say("Spindle S-0001");
    window.click("Edit its machine");
    window.must_say("Machine R-01");
    window.key(Key::Escape);
    window.click("edit spindle");
    window.click("Edit its mounting");
    window.must_say("Mounting R-01");
    window.key(Key::Escape);
    window.key(Key::G);
    assert!(window.harness.query_by_role_and_label(Role::TextInput, "comes in").is_some());
}

#[test]
fn an_unlikely_nominal_force_is_asked_about_but_not_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "spindles");
    window.key(Key::ArrowDown);
    window.type_into("nominal force", "8.9");
    window.must_say("It is less than half of the 18.0 kN for HSK-A63 (from memory, to be confirmed).");
    window.type_into("nominal force", "9");
    window.must_not_say("from memory, to be confirmed).");
    window.type_into("nominal force", "8.9");
    window.click("Save");
    assert!((shop(&window).spindles.values().next().unwrap().nominal_force.get() - 8.9).abs() < 1e-9);
    choose(&mut window, Role::Tab, "halls and machines");
    window.click("Add a machine with its spindle");
    window.type_into("tool interface", "HSK-A63");
    window.type_into("nominal force", "37");
    window.must_say("Is 37.0 kN right? It is more than twice the 18.0 kN for HSK-A63 (from memory, to be confirmed).");
}

#[test]
fn a_calibration_is_not_due_before_it_was_done() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = new_shop(folder.path());
    first_machine(&mut window);
    go_to_shop(&mut window, "gauges");
    window.click("Add a gauge");
    window.type_into("gauge", "G-02");
    window.type_into("calibrated on", "2026-02-14");
    window.type_into("calibration due", "2026-02-13");
    window.must_say("2026-02-13 lies before the calibration of 2026-02-14");
    assert!(!window.is_enabled("Add the gauge"));
    window.type_into("calibration due", "2027-02-14");
    assert!(window.is_enabled("Add the gauge"));
}
