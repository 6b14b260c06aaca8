//! The week plan through its accessible names: choose, move, hold, accept, issue, and what it says
//! where there is nothing to place or nowhere to place it.

use almanac_core::planning::proposal::BrokenRule;
use almanac_tests::due_list;
use almanac_tests::plan_page::{PlanWindow, choose, chosen, must_say, names, press, says, weigh, window, window_of};
use almanac_tests::plan_view::{PlanFixture, plan_fixture};
use drawbar_almanac::pages::{Form, Request};
use drawbar_almanac::planner::{Ask, Proposing};
use eframe::egui::{self, Key, Modifiers, accesskit::Role};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::sync::Arc;

#[test]
fn every_block_and_tray_says_all_about_itself() {
    let window = window(true);
    must_say(&window, "Nine services are placed, one is not.");
    must_say(&window, "The plan costs €4,310, at most 0.8 % above the cheapest possible.");
    must_say(
        &window,
        "R-04, spindle S-0117, minor service, 1.5 h: Saturday 14 March 07:00 to 09:00, Thorne, held; order 26-041, \
         planned; service by 17 March; chance of a limit crossed by then 6 %.",
    );
    must_say(
        &window,
        "T-04, spindle S-0126, major service, 5.5 h: Monday 2 March 08:00 to 14:00, Brook, held; order 26-036, issued; do not run; service now",
    );
    must_say(
        &window,
        "R-01, spindle S-0102, minor service, 1.5 h: Saturday 28 March 07:00 to 09:00, Aldous; proposed, not accepted yet",
    );
    must_say(
        &window,
        "R-09, spindle S-0119, minor service, 1.5 h: Saturday 28 March 09:00 to 11:00, Aldous; order 26-043, planned; proposed, moved from Saturday 14 March, not accepted yet",
    );
    must_say(&window, "booked here, the proposal moves it");
    must_say(
        &window,
        "Saturday 7 March, 07:00 to 13:00, Router hall, Saturday: a stop costs 15 % of the stop cost, €14 extra per person and hour; one service in it.",
    );
    must_say(
        &window,
        "M-06, spindle S-0122, minor service, service by 22 March, not placed: The HSK-A63 kit arrives Thu 26 March",
    );
    must_say(&window, "Week 13 of 23 March: 4.5 h placed");
    must_say(&window, "Router hall, no stop cost");
}

#[test]
fn arrows_lead_from_block_to_block_and_on_through_the_weeks() {
    let mut window = window(false);
    assert_eq!(chosen(&window), "T-04", "the first one is chosen");
    press(&mut window, Key::ArrowRight);
    assert_eq!(chosen(&window), "R-04", "its own hall has no other: that of the nearest hall in the next week");
    press(&mut window, Key::ArrowLeft);
    assert_eq!(chosen(&window), "R-07/1");
    press(&mut window, Key::ArrowDown);
    assert_eq!(chosen(&window), "T-04", "in the same week");
    press(&mut window, Key::ArrowUp);
    press(&mut window, Key::ArrowRight);
    assert_eq!(chosen(&window), "R-04");
    press(&mut window, Key::ArrowUp);
    assert_eq!(chosen(&window), "R-09", "it stands over the other");
    press(&mut window, Key::ArrowDown);
    assert_eq!(chosen(&window), "R-04");
    press(&mut window, Key::ArrowRight);
    assert_eq!(chosen(&window), "R-03/2");
    for _ in 0..4 {
        press(&mut window, Key::Minus);
    }
    press(&mut window, Key::ArrowRight);
    assert_eq!(chosen(&window), "M-01");
    assert!(0 < window.state().page.view.first, "the weeks follow the choice");
    must_say(&window, "M-01, spindle S-0130");
}

#[test]
fn a_moved_service_is_weighed_and_placed() {
    let mut window = window(true);
    choose(&mut window, "M-02");
    press(&mut window, Key::M);
    must_say(&window, "Moving M-02");
    press(&mut window, Key::ArrowRight);
    let service = window.state().fixture.service("M-02");
    assert!(window.state().asked.contains(&Request::Plan(Ask::Weigh(service, 4))), "Saturday 14 March is tried");
    weigh(&mut window, "M-02", 4, Vec::new());
    must_say(
        &window,
        "Sat 7 Mar: stop €58, risk €96, early €14, visit €60, move €0, together €228. Sat 14 Mar: stop €58, risk €412",
    );
    must_say(&window, "Chance of a limit crossed by then: 6\u{a0}% becomes 24\u{a0}%.");
    press(&mut window, Key::Enter);
    assert_eq!(window.state().plan_asked(), [&Ask::Place(service, 4, None)]);
    assert!(!says(&window, "Moving M-02"));
}

#[test]
fn a_rule_that_may_be_overridden_asks_for_a_note() {
    let mut window = window(true);
    let late = || vec![BrokenRule { words: "5 days after the service-by date, 9 March".to_owned(), with_note: true }];
    choose(&mut window, "M-02");
    press(&mut window, Key::Enter);
    press(&mut window, Key::ArrowRight);
    weigh(&mut window, "M-02", 4, late());
    must_say(&window, "5 days after the service-by date, 9 March");
    must_say(&window, "place, with a note");
    press(&mut window, Key::Enter);
    assert!(window.state().plan_asked().is_empty(), "not without a note");
    let note = window.get_by_role_and_label(Role::TextInput, "note");
    assert!(note.accesskit_node().is_focused());
    press(&mut window, Key::Enter);
    must_say(&window, "Say why: the note goes with the order.");
    window.get_by_role_and_label(Role::TextInput, "note").type_text("agreed with the hall");
    window.run();
    press(&mut window, Key::Enter);
    let service = window.state().fixture.service("M-02");
    assert_eq!(window.state().plan_asked(), [&Ask::Place(service, 4, Some("agreed with the hall".to_owned()))]);
}

#[test]
fn a_rule_that_stands_refuses_in_words_and_esc_leaves_it_where_it_is() {
    let mut window = window(false);
    choose(&mut window, "R-07/1");
    press(&mut window, Key::M);
    press(&mut window, Key::ArrowRight);
    let rule = BrokenRule { words: "nobody with the skill is free".to_owned(), with_note: false };
    weigh(&mut window, "R-07/1", 3, vec![rule]);
    must_say(&window, "It cannot stand there.");
    let mut keys = window.query_all_by_role_and_label(Role::Button, "place");
    assert!(keys.any(|key| key.accesskit_node().is_disabled()), "the key beside the words");
    drop(keys);
    press(&mut window, Key::Enter);
    assert_eq!(window.state().troubles(), ["R-07/1 cannot stand there: nobody with the skill is free"]);
    must_say(&window, "Moving R-07/1");
    press(&mut window, Key::Escape);
    assert!(!says(&window, "Moving R-07/1"));
    assert!(window.state().plan_asked().is_empty());
}

#[test]
fn a_block_can_be_dragged_into_another_tray() {
    let mut window = window(true);
    weigh(&mut window, "M-02", 4, Vec::new());
    let from = window.get_all_by_label_contains("M-02, spindle").next().unwrap().rect().center();
    let to = window.get_by_label_contains("Saturday 14 March, 07:00 to 11:00, Mould hall").rect().center();
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
    ] {
        window.event(event);
        window.step();
    }
    must_say(&window, "Moving M-02");
    window.event(button(to, false));
    window.run();
    let service = window.state().fixture.service("M-02");
    assert_eq!(window.state().plan_asked(), [&Ask::Place(service, 4, None)]);
}

#[test]
fn lines_of_a_proposal_are_accepted_one_by_one_or_all() {
    let mut window = window(true);
    must_say(&window, "R-09 Sat 14 Mar to Sat 28 Mar: shares a visit with R-01, saves €60.");
    must_say(&window, "R-08 added on Sat 28 Mar: same visit.");
    window.get_by_label_contains("R-08 added on Sat 28 Mar").click();
    window.run();
    assert_eq!(chosen(&window), "R-08");
    press(&mut window, Key::Space);
    let service = window.state().fixture.service("R-08");
    assert_eq!(window.state().plan_asked(), [&Ask::Accept(vec![service])]);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    window.run();
    assert_eq!(window.state().plan_asked().last(), Some(&&Ask::AcceptAll));
    press(&mut window, Key::Escape);
    assert_eq!(window.state().plan_asked().last(), Some(&&Ask::Drop));
}

#[test]
fn what_is_held_is_released_and_what_is_issued_stays() {
    let mut window = window(false);
    choose(&mut window, "R-04");
    press(&mut window, Key::H);
    choose(&mut window, "R-07/1");
    press(&mut window, Key::H);
    press(&mut window, Key::Delete);
    choose(&mut window, "T-04");
    press(&mut window, Key::H);
    let of = |position: &str| window.state().fixture.service(position);
    assert_eq!(
        window.state().plan_asked(),
        [&Ask::Release(of("R-04")), &Ask::Hold(of("R-07/1")), &Ask::TakeOff(of("R-07/1"))]
    );
    assert_eq!(window.state().troubles().len(), 1);
    assert!(window.state().troubles()[0].contains("order 26-036 is issued"));
}

#[test]
fn planned_orders_are_issued_one_or_all_shown() {
    let mut window = window(false);
    choose(&mut window, "R-07/1");
    press(&mut window, Key::O);
    window.get_by_label("Issue order 26-038 of R-07/1").click();
    window.run();
    press(&mut window, Key::O);
    window.get_by_label("Issue all 5 planned orders shown").click();
    window.run();
    let asked = window.state().plan_asked();
    let counts: Vec<usize> =
        asked.iter().map(|ask| if let Ask::Issue(orders) = ask { orders.len() } else { 0 }).collect();
    assert_eq!(counts, [1, 5]);
}

#[test]
fn rows_turn_into_technicians_and_weeks_change() {
    let mut window = window(false);
    for (name, hours) in [("Brook", 6.0), ("Thorne", 6.0)] {
        let screen = window.state_mut();
        let rows = Arc::make_mut(&mut screen.fixture.due.shop.technicians);
        let id = almanac_core::ids::TechnicianId::from_row(rows.len() as i64 + 1);
        let value = almanac_core::crew::Technician {
            name: name.to_owned(),
            skills: Vec::new(),
            shifts: Vec::new(),
            hours_per_day: almanac_core::units::RunHours::new(hours),
            absent: Vec::new(),
        };
        rows.push(almanac_core::ids::Row { id, value });
        screen.revision += 1;
    }
    press(&mut window, Key::T);
    must_say(&window, "Thorne, 3 services");
    must_say(&window, "Brook, 1 service");
    press(&mut window, Key::T);
    must_say(&window, "Router hall");
    assert_eq!(window.state().page.view.weeks, 8);
    press(&mut window, Key::Minus);
    assert_eq!(window.state().page.view.weeks, 6);
    press(&mut window, Key::Plus);
    assert_eq!(window.state().page.view.weeks, 8);
}

#[test]
fn closed_entry_is_said_in_words() {
    let mut window = window(false);
    window.state_mut().entry_closed = Some("entry is closed on a day before the present");
    window.run();
    press(&mut window, Key::H);
    press(&mut window, Key::M);
    assert!(window.state().plan_asked().is_empty());
    assert_eq!(window.state().troubles(), vec!["entry is closed on a day before the present"; 2]);
    assert!(window.get_by_role_and_label(Role::Button, "move").accesskit_node().is_disabled());
}

#[test]
fn progress_is_said_and_esc_stops() {
    let mut window = window(false);
    window.state_mut().proposing =
        Some(Proposing { done: 1_240, total: 6_000, best: Some(almanac_tests::plan_view::money(4_310.0)) });
    window.run();
    must_say(&window, "proposing, 20 %; best so far €4,310");
    press(&mut window, Key::Escape);
    assert_eq!(window.state().plan_asked(), [&Ask::Stop]);
}

#[test]
fn without_windows_it_says_what_to_do_first() {
    let mut fixture = plan_fixture();
    fixture.trays.clear();
    for plan in [&mut fixture.booked, &mut fixture.proposed] {
        plan.placed.clear();
    }
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    must_say(&window, "No downtime window lies ahead: say first when machines may be stopped.");
    press(&mut window, Key::W);
    let windows = drawbar_almanac::pages::shop::registers::RegisterKind::Windows;
    assert!(window.state().asked.contains(&Request::OpenForm(Form::Row(windows, None))));
}

#[test]
fn with_nothing_due_it_names_the_earliest() {
    let mut fixture = plan_fixture();
    for plan in [&mut fixture.booked, &mut fixture.proposed] {
        plan.placed.clear();
        plan.left.clear();
    }
    // the two due by now and all within the horizon are left out of the list
    fixture.due.due.rows.retain(|row| row.days.is_none_or(|days| 190 < days));
    let window = window_of(fixture, false, [1296.0, 776.0]);
    must_say(&window, "Nothing is due before 31 August; earliest is R-03/1 on 29 September.");
}

/// The same service over and over, in one tray.
fn crowded(count: usize) -> PlanFixture {
    let mut fixture = plan_fixture();
    let shop = due_list::rows(27 * 12);
    fixture.due = shop;
    let model = fixture.booked.placed.iter().find(|one| one.place.tray == Some(1)).unwrap().clone();
    let in_hall = fixture.due.due.rows.iter().filter(|row| row.hall.as_deref() == Some("Router hall"));
    fixture.booked.placed = in_hall
        .take(count)
        .map(|row| almanac_core::planning::proposal::PlacedService {
            spindle: row.spindle,
            order: None,
            ..model.clone()
        })
        .collect();
    fixture.booked.left.clear();
    fixture
}

#[test]
fn a_tray_of_many_shows_their_number_and_opens() {
    let mut window = window_of(crowded(14), false, [1296.0, 776.0]);
    assert_eq!(window.query_all_by_role(Role::ListBoxOption).count(), 0, "no block is drawn in it");
    must_say(&window, "14 services in it");
    press(&mut window, Key::Enter);
    must_say(&window, "14 services, 07:00 to 13:00");
    assert!(8 < window.query_all_by_role(Role::ListBoxOption).count());
    press(&mut window, Key::Enter);
    must_say(&window, "Moving ");
    press(&mut window, Key::Escape);
    press(&mut window, Key::Escape);
    assert!(!says(&window, "14 services, 07:00 to 13:00"));
}

#[test]
fn many_halls_are_shown_one_at_a_time() {
    let mut fixture = plan_fixture();
    let machines = Arc::make_mut(&mut fixture.due.shop.machines);
    for number in 0..6 {
        let id = almanac_core::ids::MachineId::from_row(900 + number);
        machines.insert(id, almanac_core::machine::Machine::named(&format!("X-{number}"), &format!("Annex {number}")));
    }
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    must_say(&window, "Annex 0, no stop cost");
    assert!(!says(&window, "Router hall, no stop cost"));
    press(&mut window, Key::CloseBracket);
    must_say(&window, "Annex 1, no stop cost");
    press(&mut window, Key::PageUp);
    must_say(&window, "Annex 0, no stop cost");
    press(&mut window, Key::ArrowRight);
    must_say(&window, "Router hall, no stop cost");
    // by technician and back again it is still the hall of the chosen one
    press(&mut window, Key::T);
    assert!(!says(&window, "Router hall, no stop cost"));
    press(&mut window, Key::T);
    must_say(&window, "Router hall, no stop cost");
}

#[test]
fn two_thousand_spindles_are_laid_out_as_far_as_they_are_seen() {
    let mut fixture = plan_fixture();
    fixture.due = due_list::rows(2_000);
    let model = fixture.booked.placed.iter().find(|one| one.place.tray == Some(1)).unwrap().clone();
    let saturday = fixture.trays[1].clone();
    let halls = ["Mould hall", "Router hall", "Turning hall"];
    let later = |weeks: i64| chrono::TimeDelta::weeks(weeks);
    fixture.trays = (0..26)
        .flat_map(|week| halls.map(|hall| (week, hall)))
        .map(|(week, hall)| almanac_core::planning::proposal::Tray {
            hall: hall.to_owned(),
            start: saturday.start + later(week),
            end: saturday.end + later(week),
            ..saturday.clone()
        })
        .collect();
    let place_in = |tray: usize, start: chrono::NaiveDateTime| almanac_core::planning::proposal::Placement {
        tray: Some(tray),
        start,
        end: start + chrono::TimeDelta::minutes(120),
        technicians: vec!["Thorne".to_owned()],
    };
    let mut next = [0_usize; 3];
    fixture.booked.placed = Vec::new();
    for row in &fixture.due.due.rows {
        let Some(hall) = halls.iter().position(|hall| row.hall.as_deref() == Some(hall)) else { continue };
        let tray = next[hall] % 26 * 3 + hall;
        next[hall] += 1;
        let place = place_in(tray, fixture.trays[tray].start);
        let service = almanac_core::planning::proposal::PlacedService {
            spindle: row.spindle,
            order: None,
            place,
            ..model.clone()
        };
        fixture.booked.placed.push(service);
    }
    fixture.booked.left.clear();
    let mut window = window_of(fixture, false, [1296.0, 776.0]);
    must_say(&window, "2,000 services are booked.");
    let named = |window: &PlanWindow| names(window).len();
    assert!(named(&window) < 150, "{} things are on the screen", named(&window));
    for _ in 0..12 {
        press(&mut window, Key::ArrowRight);
    }
    assert!(0 < window.state().page.view.first);
    press(&mut window, Key::Enter);
    must_say(&window, "services, 07:00 to 13:00; M moves the chosen one");
    assert!(named(&window) < 180, "the list is drawn as far as it is seen: {}", named(&window));
}
