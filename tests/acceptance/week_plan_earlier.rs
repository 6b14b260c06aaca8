//! Open orders from before the plan, in the week plan: seen, reached by keys, and led on from there.

use almanac_core::actions::{Action, Change};
use almanac_core::due::DueRow;
use almanac_core::ids::OrderId;
use almanac_core::moment::parse_iso_date;
use almanac_core::order::OrderState;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_tests::plan_page::{PlanWindow, must_say, press, says, window, window_of};
use almanac_tests::plan_view::{PlanFixture, plan_fixture};
use drawbar_almanac::pages::{Form, Request};
use drawbar_almanac::planner::Ask;
use eframe::egui::Key;
use eframe::egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};

const SIZE: [f32; 2] = [1296.0, 776.0];
/// High enough that every line of the panel is in sight.
const TALL: [f32; 2] = [1296.0, 1000.0];

/// M-02 is under way since Thursday, R-08 was issued for Wednesday, R-01 planned for Friday.
fn with_earlier() -> PlanFixture {
    let mut fixture = plan_fixture();
    fixture.add_earlier("M-02", 30, OrderState::UnderWay, 4);
    fixture.add_earlier("R-08", 31, OrderState::Issued, 5);
    fixture.add_earlier("R-01", 32, OrderState::Planned, 3);
    fixture
}

fn service(window: &PlanWindow, position: &str, number: i64) -> ServiceKey {
    ServiceKey { spindle: window.state().fixture.spindle(position), order: Some(OrderId::from_row(number)) }
}

fn focused(window: &PlanWindow) -> String {
    let node = window.query_by(|node| node.is_focused()).expect("something has the focus");
    node.accesskit_node().label().unwrap_or_default()
}

#[test]
fn what_is_open_from_earlier_days_is_told_and_listed() {
    let window = window_of(with_earlier(), false, SIZE);
    must_say(
        &window,
        "Six services are booked, one that is due has no place. Two orders from before 2 March are still open.",
    );
    must_say(&window, "Open from earlier days");
    must_say(
        &window,
        "R-08, spindle S-0118, minor service, Marlow; order 26-031, issued, was to start on Wednesday 25 February. Say \
         whether it was done, or give it a later window.",
    );
    must_say(&window, "order 26-030, under way since Thursday 26 February. Say what came of it.");
    must_say(&window, "order 26-032, planned, was to start on Friday 27 February.");
    let without = self::window(false);
    assert!(!says(&without, "Open from earlier days") && !says(&without, "earlier orders"));
}

#[test]
fn a_key_leads_to_them_one_after_the_other_and_arrows_too() {
    let mut window = window_of(with_earlier(), false, SIZE);
    press(&mut window, Key::E);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "R-08", 31)), "the oldest first");
    assert!(focused(&window).contains("order 26-031"), "{}", focused(&window));
    press(&mut window, Key::E);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "M-02", 30)));
    press(&mut window, Key::ArrowDown);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "R-01", 32)));
    press(&mut window, Key::ArrowUp);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "M-02", 30)));
    assert!(focused(&window).contains("order 26-030"));
    press(&mut window, Key::E);
    press(&mut window, Key::E);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "R-08", 31)), "and round again");
    press(&mut window, Key::ArrowRight);
    assert!(focused(&window).contains("R-07/1, spindle"), "from there into the weeks: {}", focused(&window));
}

fn performed(window: &PlanWindow) -> Vec<&Action> {
    let asked = window.state().asked.iter();
    asked.filter_map(|request| if let Request::Perform(action) = request { Some(&**action) } else { None }).collect()
}

#[test]
fn one_is_closed_as_not_done_or_marked_partly_done_by_its_keys() {
    let mut window = window_of(with_earlier(), false, SIZE);
    press(&mut window, Key::N);
    assert!(performed(&window).is_empty(), "nothing of it is chosen yet");
    press(&mut window, Key::E);
    press(&mut window, Key::N);
    press(&mut window, Key::E);
    press(&mut window, Key::L);
    let states: Vec<(i64, OrderState, bool)> = performed(&window)
        .into_iter()
        .map(|action| match action {
            Action::Together(_, changes) => match &changes[..] {
                [Action::Order(Change::Set(id, order))] => (id.row(), order.state, order.closed_on.is_some()),
                other => panic!("{other:?}"),
            },
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(states, [(31, OrderState::NotDone, true), (30, OrderState::PartlyDone, false)]);
}

#[test]
fn done_opens_the_service_that_is_still_to_be_recorded() {
    let mut window = window_of(with_earlier(), false, SIZE);
    window.get_by_label_contains("order 26-031, issued, was to start").click();
    window.run();
    window.get_by_role_and_label(Role::Button, "done").click();
    window.run();
    let spindle = window.state().fixture.spindle("R-08");
    assert!(window.state().asked.contains(&Request::OpenForm(Form::Service(spindle))), "{:?}", window.state().asked);
}

#[test]
fn one_is_moved_to_a_later_window_by_keys() {
    let mut window = window_of(with_earlier(), false, SIZE);
    press(&mut window, Key::E);
    press(&mut window, Key::M);
    must_say(&window, "Moving R-08");
    press(&mut window, Key::ArrowRight);
    let key = service(&window, "R-08", 31);
    assert!(window.state().asked.contains(&Request::Plan(Ask::Weigh(key, 1))), "the first window of its hall");
    let weighed = window.state().fixture.weighed("R-08", 1, Vec::new());
    window.state_mut().weighed.insert((key, 1), Ok(weighed));
    window.run();
    must_say(&window, "Cost of the place. left: ");
    press(&mut window, Key::Enter);
    assert_eq!(window.state().plan_asked(), [&Ask::Place(key, 1, None)]);
}

#[test]
fn what_is_under_way_is_not_moved_before_it_is_said_what_came_of_it() {
    let mut window = window_of(with_earlier(), false, SIZE);
    press(&mut window, Key::E);
    press(&mut window, Key::E);
    press(&mut window, Key::M);
    assert!(!says(&window, "Moving M-02"));
    assert_eq!(
        window.state().troubles(),
        ["order 26-030 is under way: say first that it is partly done, then the rest is moved"]
    );
    assert!(window.get_by_role_and_label(Role::Button, "to a later window").accesskit_node().is_disabled());
}

#[test]
fn on_an_earlier_day_nothing_can_be_said_of_them() {
    let mut window = window_of(with_earlier(), false, SIZE);
    window.state_mut().entry_closed = Some("entry is closed on a day before the present");
    window.run();
    press(&mut window, Key::E);
    press(&mut window, Key::N);
    assert!(performed(&window).is_empty());
    assert_eq!(window.state().troubles(), ["entry is closed on a day before the present"]);
}

/// R-01, planned for Friday; the proposal gives it a new place, what is booked has none for it.
fn placed_anew() -> PlanFixture {
    let mut fixture = plan_fixture();
    fixture.add_earlier("R-01", 32, OrderState::Planned, 3);
    let (spindle, order) = (fixture.spindle("R-01"), Some(OrderId::from_row(32)));
    let placed = fixture.proposed.placed.iter_mut().find(|placed| placed.spindle == spindle).unwrap();
    placed.order = order;
    let (minutes, service_by) = (placed.minutes, placed.service_by);
    fixture.proposed.changes.iter_mut().find(|change| change.spindle == spindle).unwrap().order = order;
    let left = LeftService { spindle, order, minutes, service_by, ..fixture.booked.left[0].clone() };
    fixture.booked.left.push(left);
    fixture
}

#[test]
fn one_that_a_proposal_gives_a_new_place_is_looked_at_there() {
    let mut window = window_of(placed_anew(), true, TALL);
    must_say(&window, "Open from earlier days");
    window.get_by_label_contains("R-01 added on Sat 28 Mar").click();
    window.run();
    assert_eq!(window.state().page.chosen(), Some(service(&window, "R-01", 32)));
    must_say(&window, "The last window before its service-by date.");
    press(&mut window, Key::B);
    assert!(window.query_by_role_and_label(Role::TextInput, "not before which day").is_some());
}

#[test]
fn what_came_of_it_can_be_said_while_a_proposal_gives_it_a_new_place() {
    let mut window = window_of(placed_anew(), true, TALL);
    window.get_by_label_contains("R-01 added on Sat 28 Mar").click();
    window.run();
    must_say(&window, "Planned, was to start on Friday 27 February.");
    assert!(window.query_by_role_and_label(Role::Button, "to a later window").is_none(), "it has one already");
    window.get_by_role_and_label(Role::Button, "done").click();
    window.run();
    let spindle = window.state().fixture.spindle("R-01");
    assert!(window.state().asked.contains(&Request::OpenForm(Form::Service(spindle))), "{:?}", window.state().asked);
    press(&mut window, Key::N);
    match performed(&window)[..] {
        [Action::Together(_, changes)] => match &changes[..] {
            [Action::Order(Change::Set(id, order))] => {
                assert_eq!((id.row(), order.state), (32, OrderState::NotDone));
            }
            other => panic!("{other:?}"),
        },
        ref other => panic!("{other:?}"),
    }
    // another block takes no such key
    press(&mut window, Key::ArrowLeft);
    press(&mut window, Key::N);
    assert_eq!(performed(&window).len(), 1);
}

#[test]
fn one_without_a_place_stands_in_one_list_with_its_reason() {
    let mut window = window_of(placed_anew(), false, SIZE);
    let lines = |window: &PlanWindow, says: &str| {
        let lines = window.query_all_by_role(Role::ListBoxOption);
        lines.filter_map(|node| node.accesskit_node().label()).filter(|label| label.contains(says)).count()
    };
    assert_eq!(lines(&window, "R-01"), 1);
    assert_eq!((lines(&window, "not placed:"), lines(&window, "M-06")), (1, 1), "the other one is still there");
    press(&mut window, Key::E);
    assert_eq!(window.state().page.chosen(), Some(service(&window, "R-01", 32)));
    let reasons =
        window.query_all_by_label("The HSK-A63 kit arrives Thu 26 March, after the last window, Sat 21 March.");
    assert_eq!(reasons.count(), 1, "said beside the chosen one");
}

#[test]
fn one_without_a_place_is_counted_once_in_the_lead() {
    let window = window_of(placed_anew(), false, SIZE);
    must_say(
        &window,
        "Six services are booked, one that is due has no place. One order from before 2 March is still open.",
    );
}

/// Only orders from before the plan; what is due within it stands in them.
fn nothing_else(positions: &[(&str, i64)]) -> PlanFixture {
    let mut fixture = plan_fixture();
    for plan in [&mut fixture.booked, &mut fixture.proposed] {
        plan.placed.clear();
        plan.left.clear();
    }
    let is_one = |row: &DueRow| positions.iter().any(|(position, _)| row.position.as_deref() == Some(position));
    fixture.due.due.rows.retain(|row| is_one(row) || row.days.is_none_or(|days| 190 < days));
    for (position, number) in positions {
        fixture.add_earlier(position, *number, OrderState::Issued, 4);
        let row = fixture.due.due.rows.iter_mut().find(|row| row.position.as_deref() == Some(position)).unwrap();
        let booking = row.booking.as_mut().unwrap();
        booking.name = format!("26-{number:03}");
        booking.day = parse_iso_date("2026-02-26");
    }
    fixture
}

#[test]
fn what_is_due_in_an_order_from_before_the_plan_is_not_told_away() {
    let window = window_of(nothing_else(&[("R-04", 30)]), false, SIZE);
    must_say(
        &window,
        "R-04, due on 17 March, stands in order 26-030 from before 2 March; nothing else is due before 31 August.",
    );
    let window = window_of(nothing_else(&[("R-09", 31), ("R-04", 30)]), false, SIZE);
    must_say(
        &window,
        "Two are due before 31 August, all of them in orders from before 2 March: R-04 first, on 17 March.",
    );
}

#[test]
fn none_is_chosen_by_itself() {
    let mut window = window_of(nothing_else(&[("R-04", 30)]), false, SIZE);
    assert_eq!(window.state().page.chosen(), None);
    press(&mut window, Key::N);
    press(&mut window, Key::D);
    assert!(performed(&window).is_empty() && window.state().troubles().is_empty());
    press(&mut window, Key::E);
    press(&mut window, Key::N);
    assert_eq!(performed(&window).len(), 1);
}

#[test]
fn the_key_leads_through_the_lines_that_are_drawn_and_no_further() {
    let mut fixture = plan_fixture();
    for nth in 0..45 {
        fixture.add_earlier("R-01", 100 + nth, OrderState::Planned, 60 - nth);
    }
    let mut window = window_of(fixture, false, SIZE);
    must_say(&window, "and 5 more: see the orders");
    for nth in (0..40).chain([0, 1]) {
        press(&mut window, Key::E);
        assert_eq!(window.state().page.chosen(), Some(service(&window, "R-01", 100 + nth)));
        assert!(focused(&window).contains(&format!("order 26-{}", 100 + nth)), "{}", focused(&window));
    }
}
