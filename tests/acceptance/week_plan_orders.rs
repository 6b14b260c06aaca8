//! Two open orders of one spindle in the week plan: each is chosen, moved, held and issued for itself.

use almanac_core::ids::OrderId;
use almanac_core::planning::proposal::ServiceKey;
use almanac_tests::plan_page::{PlanWindow, must_say, press, says, window_of};
use almanac_tests::plan_view::{PlanFixture, plan_fixture};
use drawbar_almanac::pages::Request;
use drawbar_almanac::planner::Ask;
use eframe::egui::{self, Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};

const SIZE: [f32; 2] = [1296.0, 776.0];

/// R-03/2 has order 26-044 on Sat 11 April, and 26-050 on Sat 25 April.
fn two_orders() -> PlanFixture {
    let mut fixture = plan_fixture();
    fixture.add_further("R-03/2", 50, 13, 1);
    fixture
}

fn service(window: &PlanWindow, number: i64) -> ServiceKey {
    let spindle = window.state().fixture.spindle("R-03/2");
    ServiceKey { spindle, order: Some(OrderId::from_row(number)) }
}

fn click(window: &mut PlanWindow, order: &str) {
    window.get_all_by_label_contains(&format!("order {order}, planned")).next().unwrap().click();
    window.run();
}

#[test]
fn a_click_chooses_one_of_two_orders_of_a_spindle() {
    let mut window = window_of(two_orders(), false, SIZE);
    for number in [50, 44, 50] {
        click(&mut window, &format!("26-0{number}"));
        assert_eq!(window.state().page.chosen(), Some(service(&window, number)));
        let selected = window.query_all_by(|node| node.is_selected() == Some(true));
        let selected: Vec<String> = selected.filter_map(|node| node.accesskit_node().label()).collect();
        assert_eq!(selected.len(), 1, "one block is chosen, and no other: {selected:?}");
        assert!(selected[0].contains(&format!("order 26-0{number}")), "{selected:?}");
    }
    must_say(&window, "order 26-050, planned");
    must_say(&window, "kept: its spindle waits for another order first");
}

#[test]
fn arrows_lead_from_one_order_of_a_spindle_to_the_other_and_on() {
    let mut window = window_of(two_orders(), false, SIZE);
    click(&mut window, "26-044");
    press(&mut window, Key::ArrowRight);
    assert_eq!(window.state().page.chosen(), Some(service(&window, 50)));
    press(&mut window, Key::ArrowLeft);
    assert_eq!(window.state().page.chosen(), Some(service(&window, 44)));
}

#[test]
fn each_order_is_held_released_taken_off_and_issued_for_itself() {
    let mut window = window_of(two_orders(), false, SIZE);
    let asked = |window: &PlanWindow| window.state().plan_asked().last().map(|ask| (*ask).clone());
    for number in [44, 50] {
        click(&mut window, &format!("26-0{number}"));
        let key = service(&window, number);
        press(&mut window, Key::H);
        assert_eq!(asked(&window), Some(Ask::Hold(key)), "what only stays since another comes first is not held yet");
        press(&mut window, Key::Delete);
        assert_eq!(asked(&window), Some(Ask::TakeOff(key)));
        press(&mut window, Key::O);
        window.get_by_label(&format!("Issue order 26-0{number} of R-03/2")).click();
        window.run();
        assert_eq!(asked(&window), Some(Ask::Issue(vec![OrderId::from_row(number)])));
    }
}

#[test]
fn the_second_order_is_moved_by_keys_and_the_first_stays() {
    let mut window = window_of(two_orders(), false, SIZE);
    click(&mut window, "26-050");
    press(&mut window, Key::M);
    must_say(&window, "Moving R-03/2");
    press(&mut window, Key::ArrowLeft);
    let key = service(&window, 50);
    assert!(window.state().asked.contains(&Request::Plan(Ask::Weigh(key, 10))), "from its own place to the one before");
    let weighed = window.state().fixture.weighed("R-03/2", 10, Vec::new());
    window.state_mut().weighed.insert((key, 10), Ok(weighed));
    window.run();
    press(&mut window, Key::Enter);
    assert_eq!(window.state().plan_asked(), [&Ask::Place(key, 10, None)]);
    assert!(!says(&window, "Moving R-03/2"));
}

#[test]
fn the_second_order_is_dragged_and_the_first_stays() {
    let mut window = window_of(two_orders(), false, SIZE);
    let key = service(&window, 50);
    let weighed = window.state().fixture.weighed("R-03/2", 7, Vec::new());
    window.state_mut().weighed.insert((key, 7), Ok(weighed));
    let from = window.get_all_by_label_contains("order 26-050").next().unwrap().rect().center();
    let to = window.get_by_label_contains("Saturday 28 March, 07:00 to 13:00, Router hall").rect().center();
    let button = |pos, pressed| egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    for event in [
        egui::Event::PointerMoved(from),
        button(from, true),
        egui::Event::PointerMoved(from.lerp(to, 0.5)),
        egui::Event::PointerMoved(to),
        button(to, false),
    ] {
        window.event(event);
        window.step();
    }
    window.run();
    assert_eq!(window.state().plan_asked(), [&Ask::Place(key, 7, None)]);
}

#[test]
fn the_choice_stays_with_its_order_when_the_plan_changes() {
    let mut window = window_of(two_orders(), false, SIZE);
    click(&mut window, "26-050");
    let screen = window.state_mut();
    screen.fixture.booked.placed.retain(|one| one.order != Some(OrderId::from_row(44)));
    screen.view = screen.fixture.view(false);
    screen.revision += 1;
    window.run();
    assert_eq!(window.state().page.chosen(), Some(service(&window, 50)));
}

#[test]
fn what_was_only_proposed_stays_chosen_once_it_has_its_order() {
    let mut window = window_of(plan_fixture(), true, SIZE);
    window.get_all_by_label_contains("M-02, spindle").next().unwrap().click();
    window.run();
    let spindle = window.state().fixture.spindle("M-02");
    assert_eq!(window.state().page.chosen(), Some(ServiceKey { spindle, order: None }));
    let order = Some(OrderId::from_row(60));
    let screen = window.state_mut();
    for placed in screen.fixture.proposed.placed.iter_mut().filter(|one| one.spindle == spindle) {
        placed.order = order;
    }
    screen.view = screen.fixture.view(true);
    screen.revision += 1;
    window.run();
    assert_eq!(window.state().page.chosen(), Some(ServiceKey { spindle, order }));
}
