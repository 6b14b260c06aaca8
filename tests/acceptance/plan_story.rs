//! The planner's whole way on the sample shop, in the window: propose, accept, move, hold, propose anew,
//! issue, and take all of it back.

use almanac_core::order::OrderState;
use almanac_tests::harness::Window;
use drawbar_almanac::pages::Page;
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use std::path::Path;

#[test]
fn the_whole_way_on_the_sample_shop() {
    let folder = tempfile::tempdir().unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let mut window = Window::open(folder.path(), Some(sample));
    window.key(Key::Escape);
    window.ctrl(Key::Num3);
    assert_eq!(window.harness.state().page(), Page::WeekPlan);
    window.must_say("order 26-041, planned");
    window.must_say("have no place.");
    let step = |window: &Window| window.harness.state().document().unwrap().snapshot().undo.clone();
    let before = step(&window);
    let orders = |window: &Window| {
        let whole = &window.harness.state().document().unwrap().snapshot().whole;
        whole.orders.iter().map(|row| row.value.clone()).collect::<Vec<_>>()
    };
    let at_first = orders(&window);

    window.key(Key::P);
    window.must_say("Changed by this proposal");
    window.must_say("not accepted yet");
    window.keys(Modifiers::COMMAND, Key::Enter);
    assert!(step(&window).unwrap().starts_with("Accept "), "{:?}", step(&window));
    window.must_say("Nothing, or all of it is accepted.");
    let accepted = orders(&window);
    assert!(at_first.len() < accepted.len());

    // one is moved to a later window of its machine
    let label = "R-01, spindle S-0102";
    window.harness.get_all_by_label_contains(label).next().unwrap().click();
    window.settle();
    window.key(Key::M);
    window.key(Key::ArrowRight);
    window.must_say("Cost of the place.");
    window.key(Key::Enter);
    if window.says("Note, why it is placed there all the same") {
        window.type_into("note", "the hall wants it so");
        window.key(Key::Enter);
    }
    assert!(step(&window).unwrap().starts_with("Place order "), "{:?}", step(&window));

    // one is held, and stays when places are proposed anew
    window.harness.get_all_by_label_contains("R-03/2, spindle").next().unwrap().click();
    window.settle();
    window.key(Key::H);
    assert_eq!(step(&window).as_deref(), Some("Hold order 26-044"));
    let held = orders(&window).into_iter().find(|order| order.name == "26-044").unwrap();
    window.key(Key::P);
    window.must_say("Changed by this proposal");
    window.keys(Modifiers::COMMAND, Key::Enter);
    window.key(Key::Escape);
    assert_eq!(orders(&window).into_iter().find(|order| order.name == "26-044").unwrap(), held);

    // three are issued
    for position in ["R-04, spindle", "R-03/2, spindle", "M-01, spindle"] {
        window.harness.get_all_by_label_contains(position).next().unwrap().click();
        window.settle();
        window.key(Key::O);
        window.harness.get_all_by_label_contains("Issue order").next().unwrap().click();
        window.settle();
        assert!(step(&window).unwrap().starts_with("Issue order"), "{:?}", step(&window));
    }
    let issued = orders(&window).iter().filter(|order| order.state == OrderState::Issued).count();
    assert_eq!(issued, 5, "two were issued before");

    // list and calendar go out, with what was moved, held and issued
    window.ctrl(Key::Num4);
    assert_eq!(window.harness.state().page(), Page::Orders);
    window.key(Key::E);
    window.type_into("Write the list to", "~/list.csv");
    window.key(Key::Enter);
    window.must_say("Wrote the work-order list, ");
    window.key(Key::K);
    window.type_into("Write the calendar to", "~/services.ics");
    window.key(Key::Enter);
    window.must_say("Wrote the calendar, ");
    let written = orders(&window);
    let open: Vec<_> = written.iter().filter(|order| order.state.is_open() && !order.is_closed()).collect();
    let list = std::fs::read_to_string(folder.path().join("list.csv")).unwrap();
    for order in &open {
        let row = list.lines().find(|row| row.starts_with(&format!("{},", order.name)));
        let row = row.unwrap_or_else(|| panic!("order {} is not in the list", order.name));
        assert!(row.contains(&format!(",{},", order.state.key())), "{row}");
    }
    let calendar = std::fs::read_to_string(folder.path().join("services.ics")).unwrap();
    let booked = open.iter().filter(|order| order.start.is_some()).count();
    assert_eq!(calendar.matches("BEGIN:VEVENT").count(), booked);
    window.ctrl(Key::Num3);

    // and all of it is taken back
    for _ in 0..20 {
        if step(&window) == before {
            break;
        }
        window.ctrl(Key::Z);
    }
    assert_eq!(step(&window), before);
    assert_eq!(orders(&window), at_first);
}
