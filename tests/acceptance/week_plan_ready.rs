//! The planner gives a service a later first day in the week plan.

use almanac_core::actions::{Action, Change};
use almanac_core::moment::parse_iso_date;
use almanac_core::planning::proposal::PlacedService;
use almanac_core::spindle::NotBefore;
use almanac_tests::due_list::{self, as_of};
use almanac_tests::harness::Window;
use almanac_tests::plan_page::{PlanWindow, choose, must_say, press, says, window, window_of};
use almanac_tests::plan_view::plan_fixture;
use drawbar_almanac::pages::Request;
use drawbar_almanac::planner::Ask;
use eframe::egui::accesskit::Role;
use eframe::egui::{Event, Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::sync::Arc;

const FIELD: &str = "not before which day";

fn type_day(window: &mut PlanWindow, text: &str) {
    press(window, Key::B);
    let field = window.get_by_role_and_label(Role::TextInput, FIELD);
    assert!(field.accesskit_node().is_focused());
    field.type_text(text);
    window.run();
    press(window, Key::Enter);
}

/// What was asked to be changed: position and first day of each spindle.
fn said(window: &PlanWindow) -> Vec<(String, Option<NotBefore>)> {
    let screen = window.state();
    let actions = screen.asked.iter().filter_map(|request| match request {
        Request::Perform(action) => Some(&**action),
        _ => None,
    });
    actions
        .map(|action| match action {
            Action::Together(_, steps) => match &steps[..] {
                [Action::Spindle(Change::Set(id, spindle))] => {
                    (screen.fixture.due.due.row(*id).unwrap().position.clone().unwrap(), spindle.not_before)
                }
                other => panic!("{other:?}"),
            },
            other => panic!("{other:?}"),
        })
        .collect()
}

fn on(text: &str) -> Option<NotBefore> {
    Some(NotBefore { day: parse_iso_date(text).unwrap(), said_on: Some(as_of()) })
}

#[test]
fn a_later_first_day_is_said_for_a_placed_and_for_a_left_service() {
    let mut window = window(false);
    choose(&mut window, "R-09");
    type_day(&mut window, "17.3.");
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_none(), "the field closes");
    window.get_by_label_contains("M-06, spindle S-0122").click();
    window.run();
    must_say(&window, "not placed: The HSK-A63 kit");
    type_day(&mut window, "+14");
    assert_eq!(said(&window), [("R-09".to_owned(), on("2026-03-17")), ("M-06".to_owned(), on("2026-03-16"))]);
}

#[test]
fn a_day_that_is_over_or_none_is_refused_at_the_field() {
    let mut window = window(false);
    choose(&mut window, "R-09");
    type_day(&mut window, "2026-02-14");
    must_say(&window, "14 February is no later than 2 March, from which on it may be done anyway");
    press(&mut window, Key::Escape);
    type_day(&mut window, "soon");
    must_say(&window, "'soon' is no day; expected such as");
    assert_eq!(said(&window), []);
    press(&mut window, Key::Escape);
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_none());
}

#[test]
fn a_first_day_is_shown_where_it_acts_and_is_taken_back_by_an_empty_field() {
    let mut fixture = plan_fixture();
    let day = parse_iso_date("2026-03-17").unwrap();
    let (r09, m06) = (fixture.spindle("R-09"), fixture.spindle("M-06"));
    for (id, spindle) in Arc::make_mut(&mut fixture.due.shop.spindles) {
        spindle.not_before = (*id == r09 || *id == m06).then_some(NotBefore { day, said_on: Some(as_of()) });
    }
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    must_say(&window, "not before 17 March, and it is placed before that");
    must_say(&window, "service by 22 March, not before 17 March, not placed");
    choose(&mut window, "R-07/1");
    assert!(!says(&window, "Not before 17 March."));
    choose(&mut window, "R-09");
    must_say(&window, "Not before 17 March.");
    must_say(&window, "It stands before that day.");
    type_day(&mut window, "");
    assert_eq!(said(&window), [("R-09".to_owned(), None)]);
}

#[test]
fn what_is_begun_or_waits_for_another_order_takes_no_first_day() {
    let mut fixture = plan_fixture();
    fixture.add_further("R-03/2", 50, 13, 1);
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    window.get_all_by_label_contains("order 26-050, planned").next().unwrap().click();
    window.run();
    press(&mut window, Key::B);
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_none());
    window.get_all_by_label_contains("order 26-044, planned").next().unwrap().click();
    window.run();
    press(&mut window, Key::B);
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_some());
}

#[test]
fn escape_leaves_the_field_first_and_the_proposal_only_then() {
    let mut window = window(true);
    choose(&mut window, "R-07/1");
    press(&mut window, Key::B);
    window.get_by_role_and_label(Role::TextInput, FIELD).type_text("17.");
    window.run();
    press(&mut window, Key::Escape);
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_none(), "the field closes");
    assert!(window.state().plan_asked().is_empty(), "{:?}", window.state().plan_asked());
    press(&mut window, Key::Escape);
    assert_eq!(window.state().plan_asked(), [&Ask::Drop]);
}

#[test]
fn the_field_stands_in_the_panel_in_place_of_the_list_of_a_crowded_tray() {
    let mut fixture = plan_fixture();
    fixture.due = due_list::rows(27 * 12);
    let model = fixture.booked.placed.iter().find(|one| one.place.tray == Some(1)).unwrap().clone();
    let in_hall = fixture.due.due.rows.iter().filter(|row| row.hall.as_deref() == Some("Router hall")).take(14);
    fixture.booked.placed =
        in_hall.map(|row| PlacedService { spindle: row.spindle, order: None, ..model.clone() }).collect();
    fixture.booked.left.clear();
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    press(&mut window, Key::Enter);
    must_say(&window, "14 services, 07:00 to 13:00");
    press(&mut window, Key::B);
    assert!(window.get_by_role_and_label(Role::TextInput, FIELD).accesskit_node().is_focused());
    press(&mut window, Key::Escape);
    assert!(window.query_by_role_and_label(Role::TextInput, FIELD).is_none());
}

/// In the demo: a place of the proposal from before a first day is not accepted in the moment between.
#[test]
fn in_the_demo_nothing_is_accepted_before_the_plan_knows_of_a_first_day() {
    let folder = tempfile::tempdir().unwrap();
    let sample = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let mut window = Window::open(folder.path(), Some(sample));
    window.key(Key::Escape);
    window.ctrl(Key::Num3);
    window.key(Key::P);
    window.must_say("Changed by this proposal");
    let undo = |window: &Window| window.harness.state().document().unwrap().snapshot().undo.clone().unwrap_or_default();
    let proposed = |label: &str| label.contains(", spindle ") && label.contains("proposed");
    let block = window.harness.query_all_by(|node| node.label().is_some_and(|label| proposed(&label))).next().unwrap();
    block.click();
    window.settle();
    window.key(Key::B);
    window.type_into(FIELD, "2026-09-20");
    // the second key comes in the frame after the first, long before anything is worked out
    let enter = |modifiers| Event::Key { key: Key::Enter, pressed: true, modifiers, repeat: false, physical_key: None };
    window.harness.event(enter(Modifiers::NONE));
    window.harness.event(enter(Modifiers::COMMAND));
    window.harness.step();
    window.harness.step();
    let refusals = ["shop was changed since this plan: accept once", "shop file is still being written: accept"];
    assert!(refusals.iter().any(|refusal| window.says(refusal)), "{:#?}", window.all_names());
    window.settle();
    assert!(undo(&window).ends_with("not before 20 September"), "accepted all the same: {}", undo(&window));
    // once the plan knows of that day its lines are accepted
    window.keys(Modifiers::COMMAND, Key::Enter);
    assert!(undo(&window).starts_with("Accept "), "{}", undo(&window));
    window.must_say("Nothing, or all of it is accepted.");
    let whole = window.harness.state().document().unwrap().snapshot().whole.clone();
    let (spindle, _) = whole.spindles.iter().find(|(_, spindle)| spindle.not_before.is_some()).unwrap();
    let starts = whole.orders.iter().filter(|row| row.spindle == *spindle && !row.is_closed());
    let ready = parse_iso_date("2026-09-20").unwrap();
    assert!(starts.filter_map(|row| row.start).all(|start| ready <= start.date));
}

/// In the demo: said, kept in the shop file, shown by the plan that follows, and taken back.
#[test]
fn in_the_demo_a_first_day_goes_into_the_shop_and_undo_takes_it_back() {
    let folder = tempfile::tempdir().unwrap();
    let sample = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let mut window = Window::open(folder.path(), Some(sample));
    window.key(Key::Escape);
    window.ctrl(Key::Num3);
    let planned = |label: &str| label.contains(", spindle ") && label.contains(", planned");
    let block = window.harness.query_all_by(|node| node.label().is_some_and(|label| planned(&label))).next().unwrap();
    block.click();
    window.settle();
    window.key(Key::B);
    window.type_into(FIELD, "2026-09-20");
    window.key(Key::Enter);
    let snapshot = |window: &Window| window.harness.state().document().unwrap().snapshot().clone();
    let said = |window: &Window| -> Vec<Option<NotBefore>> {
        snapshot(window).whole.spindles.values().map(|spindle| spindle.not_before).filter(Option::is_some).collect()
    };
    assert_eq!(said(&window), [on("2026-09-20")]);
    assert!(snapshot(&window).undo.unwrap().ends_with("not before 20 September"));
    window.must_say("Not before 20 September.");
    window.ctrl(Key::Z);
    assert_eq!(said(&window), []);
    window.must_not_say("Not before 20 September.");
}
