//! The orders page of the demo, through the names that a screen reader reads.

use almanac_core::order::{Order, OrderState};
use almanac_core::shop::Shop;
use almanac_tests::harness::Window;
use drawbar_almanac::pages::Page;
use eframe::egui::accesskit::Role;
use eframe::egui::{Key, Modifiers};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

/// The demo with its orders page open.
fn orders_page(folder: &Path) -> Window {
    let mut window = Window::open(folder, Some(sample()));
    window.key(Key::Escape);
    window.ctrl(Key::Num4);
    assert_eq!(window.harness.state().page(), Page::Orders);
    window
}

fn shop(window: &Window) -> Arc<Shop> {
    Arc::clone(&window.harness.state().document().unwrap().snapshot().whole)
}

fn order(window: &Window, name: &str) -> Order {
    let shop = shop(window);
    let row = shop.orders.iter().find(|order| order.name == name);
    row.unwrap_or_else(|| panic!("no order {name}")).value.clone()
}

fn undo_label(window: &Window) -> Option<String> {
    window.harness.state().document().unwrap().snapshot().undo.clone()
}

/// The sentences of the lines in view, from top to bottom.
fn lines(window: &Window) -> Vec<String> {
    let rows = window.harness.query_all_by(|node| node.role() == Role::ListBoxOption);
    rows.filter_map(|node| node.accesskit_node().label()).collect()
}

/// Clicks the line that holds that text.
#[track_caller]
fn choose(window: &mut Window, part: &str) {
    let rows: Vec<_> = window
        .harness
        .query_all_by(|node| {
            node.role() == Role::ListBoxOption && node.label().is_some_and(|label| label.contains(part))
        })
        .collect();
    assert_eq!(rows.len(), 1, "lines with '{part}'");
    rows[0].click();
    drop(rows);
    window.settle();
}

/// Keeps only lines of one state.
fn filter_state(window: &mut Window, state: &str) {
    window.key(Key::F);
    window.click("state: any");
    window.harness.get_by_role_and_label(Role::CheckBox, state).click();
    window.settle();
    window.key(Key::Escape);
}

#[test]
fn the_list_answers_what_where_when_who_with_which_kit() {
    let folder = tempfile::tempdir().unwrap();
    let window = orders_page(folder.path());
    let lines = lines(&window);
    let line =
        |order: &str| lines.iter().find(|line| line.starts_with(order)).unwrap_or_else(|| panic!("{lines:#?}")).clone();
    let issued = line("26-038");
    assert!(issued.starts_with("26-038, issued, R-07/1, spindle S-0109, minor service"), "{issued}");
    assert!(issued.contains("on Saturday 7 March 07:00, by Thorne, kit "), "{issued}");
    assert!(issued.ends_with("1.5 h"), "{issued}");
    assert!(line("26-041").ends_with(", held"));
    assert_eq!(lines.iter().filter(|line| line.starts_with("to book, ")).count(), 4);
    assert_eq!(lines.len(), 10);
    // what comes next, made from the data
    window.must_say("Next is ");
    window.must_say(" today at 08:00 with Brook; six orders are open");
    window.must_say("; four are to be booked, the first is M-02 by 11 March.");
    // totals in the last line: six orders of 1.5 to 5.5 h, four to book
    window.must_say("10 lines: 4 to book, 4 planned, 2 issued; ");
    window.must_say(" h of work; stop cost \u{20AC}");
}

#[test]
fn three_are_marked_issued_and_taken_back_in_one_step() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    filter_state(&mut window, "planned");
    assert_eq!(lines(&window).len(), 4);
    window.must_say("4 lines: 4 planned");
    window.must_say("4 of 10 shown");
    choose(&mut window, "26-041");
    for _ in 0..3 {
        window.key(Key::Space);
        window.key(Key::ArrowDown);
    }
    assert_eq!(lines(&window).iter().filter(|line| line.ends_with(", marked")).count(), 3);
    window.key(Key::I);
    window.must_say("3 orders; Ctrl Z takes it back");
    let states = |window: &Window| ["26-041", "26-043", "26-044", "26-046"].map(|name| order(window, name).state);
    let before = [OrderState::Issued, OrderState::Issued, OrderState::Issued, OrderState::Planned];
    assert_eq!(states(&window), before);
    assert_eq!(undo_label(&window).as_deref(), Some("Issue 3 orders"));
    assert_eq!(lines(&window).len(), 1, "the filter keeps what is still planned");
    window.ctrl(Key::Z);
    assert_eq!(states(&window), [OrderState::Planned; 4]);
    window.ctrl(Key::Y);
    assert_eq!(states(&window), before);
}

#[test]
fn steps_off_the_path_are_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    choose(&mut window, "26-041");
    window.key(Key::U);
    window.must_say("26-041 is planned: issue it first");
    window.key(Key::Escape);
    choose(&mut window, "26-038");
    window.click("take off");
    window.must_say("26-038 is issued: close it as not done instead");
    window.key(Key::Escape);
    window.key(Key::I);
    window.must_say("26-038 is issued already");
    assert_eq!(order(&window, "26-038").state, OrderState::Issued);
    window.key(Key::Escape);
    // one of two can go: it goes, and the other is named
    filter_state(&mut window, "issued");
    window.key(Key::A);
    window.key(Key::U);
    window.must_say("2 orders marked under way");
    window.key(Key::D);
    window.must_say("has no recorded service yet");
    assert_eq!(order(&window, "26-038").state, OrderState::UnderWay);
}

#[test]
fn done_without_a_service_leads_to_its_form() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    choose(&mut window, "26-038");
    window.click("done");
    window.must_say("26-038 has no recorded service yet: record it here, which closes the order");
    window.must_say(drawbar_almanac::forms::cautions::CAUTIONS[0]);
    let number = window.harness.get_by_role_and_label(Role::TextInput, "order");
    assert_eq!(number.accesskit_node().value().as_deref(), Some("26-038"));
}

#[test]
fn hold_assign_take_off_and_close() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    choose(&mut window, "26-041");
    assert!(order(&window, "26-041").held);
    window.key(Key::H);
    assert!(!order(&window, "26-041").held);
    window.must_say("Order 26-041 released");
    window.key(Key::H);
    assert!(order(&window, "26-041").held);
    window.key(Key::T);
    window.click("Aldous");
    assert_eq!(order(&window, "26-041").technicians, ["Aldous"]);
    assert_eq!(undo_label(&window).as_deref(), Some("Give Aldous order 26-041"));
    window.key(Key::N);
    let closed = order(&window, "26-041");
    assert_eq!((closed.state, closed.closed_on), (OrderState::NotDone, shop(&window).settings.as_of));
    assert!(!lines(&window).iter().any(|line| line.starts_with("26-041")), "closed ones are not listed");
    choose(&mut window, "26-038");
    window.key(Key::C);
    assert!(lines(&window).len() > 20, "closed ones too, those in view");
    assert!(lines(&window).iter().any(|line| line.starts_with("26-038")), "the chosen one stays in view");
    window.key(Key::C);
    choose(&mut window, "26-043");
    window.key(Key::X);
    assert!(!shop(&window).orders.iter().any(|order| order.name == "26-043"));
    window.ctrl(Key::Z);
    assert_eq!(order(&window, "26-043").state, OrderState::Planned);
}

#[test]
fn what_is_to_book_is_booked_by_the_pattern_of_the_shop() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    filter_state(&mut window, "to book");
    assert_eq!(lines(&window).len(), 4);
    window.key(Key::A);
    window.must_say("4 marked");
    window.key(Key::B);
    window.must_say("Four services booked as orders 26-047 to 26-050; Ctrl Z takes it back");
    let booked: Vec<Order> =
        ["26-047", "26-048", "26-049", "26-050"].into_iter().map(|name| order(&window, name)).collect();
    for order in &booked {
        assert_eq!((order.state, order.opened_on), (OrderState::Planned, shop(&window).settings.as_of));
        assert!(order.start.is_none() && order.duration.is_some() && order.technicians.is_empty());
    }
    assert_eq!(undo_label(&window).as_deref(), Some("Book four services"));
    window.click("show all");
    assert_eq!(lines(&window).iter().filter(|line| line.starts_with("to book")).count(), 0);
    window.must_say("4 without a day");
    choose(&mut window, "26-047");
    window.key(Key::I);
    window.must_say("26-047 has no day yet");
    window.ctrl(Key::Z);
    assert!(!shop(&window).orders.iter().any(|order| order.name == "26-047"));
}

#[test]
fn the_list_and_the_calendar_go_to_files() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    window.key(Key::E);
    window.type_into("Write the list to", "~/list.csv");
    window.key(Key::Enter);
    window.must_say("Wrote the work-order list, ten lines: ~/list.csv");
    window.key(Key::K);
    window.type_into("Write the calendar to", "~/services.ics");
    window.key(Key::Enter);
    window.must_say("Wrote the calendar, six booked services: ~/services.ics");
    let text = std::fs::read_to_string(folder.path().join("services.ics")).unwrap();
    assert!(text.starts_with("BEGIN:VCALENDAR\r\n") && text.contains("SUMMARY:Minor service R-07/1\\, S-0109\r\n"));
    let list = std::fs::read_to_string(folder.path().join("list.csv")).unwrap();
    assert!(list.contains("26-038,issued,"));
}

#[test]
fn the_calendar_is_that_of_the_people_and_halls_of_the_filter() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    let written = |window: &mut Window, name: &str| {
        window.key(Key::K);
        window.type_into("Write the calendar to", &format!("~/{name}.ics"));
        window.key(Key::Enter);
        std::fs::read_to_string(folder.path().join(format!("{name}.ics"))).unwrap()
    };
    let keep = |window: &mut Window, what: &str, name: &str| {
        window.key(Key::F);
        window.click(&format!("{what}: any"));
        window.harness.get_by_role_and_label(Role::CheckBox, name).click();
        window.settle();
        window.key(Key::Escape);
    };
    keep(&mut window, "technician", "Thorne");
    let of_thorne = written(&mut window, "thorne");
    window.must_say("Wrote the calendar of Thorne, three booked services: ~/thorne.ics");
    assert_eq!(of_thorne.matches("BEGIN:VEVENT").count(), 3);
    assert!(!of_thorne.contains("26-036"), "that one is Brook's");
    window.key(Key::Escape);
    keep(&mut window, "hall", "Turning hall");
    assert!(written(&mut window, "turning").contains("26-036"));
    window.must_say("Wrote the calendar of Turning hall, one booked service: ~/turning.ics");
}

#[test]
fn parts_waiting_say_what_to_order_and_who_waits() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    window.key(Key::W);
    window.must_say("to be ordered");
    let set = lines(&window).into_iter().find(|line| line.starts_with("service set HSK-A63, 1 ")).unwrap();
    assert!(set.contains("order "), "{set}");
    choose(&mut window, "service set HSK-A63, 1 ");
    window.must_say("stock of service set HSK-A63 by week: 1 now, ");
    window.key(Key::E);
    window.type_into("Write the parts list to", "~/parts.csv");
    window.key(Key::Enter);
    window.must_say("Wrote the parts list, ");
    let text = std::fs::read_to_string(folder.path().join("parts.csv")).unwrap();
    assert!(text.starts_with("part,on_hand,unit,reorder_point,") && text.contains("service set HSK-A63,1,"), "{text}");
    window.key(Key::Escape);
    assert_eq!(lines(&window).len(), 10, "back at the orders");
}

#[test]
fn search_sort_and_the_way_to_the_spindle() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    window.click("find");
    window.type_into("find an order", "thorne router");
    assert_eq!(lines(&window).len(), 3);
    window.key(Key::Enter);
    window.key(Key::Escape);
    assert_eq!(lines(&window).len(), 10);
    window.harness.get_by_role_and_label(Role::ColumnHeader, "sort by order").click();
    window.settle();
    let numbers: Vec<String> =
        lines(&window).iter().map(|line| line.split(',').next().unwrap_or("").to_owned()).collect();
    assert_eq!(numbers[4..], ["26-036", "26-038", "26-041", "26-043", "26-044", "26-046"]);
    choose(&mut window, "26-044");
    window.key(Key::Enter);
    let spindle = shop(&window).spindle_named("S-0108").unwrap();
    assert_eq!(window.harness.state().page(), Page::Spindle(spindle));
    window.key(Key::Escape);
    assert_eq!(window.harness.state().page(), Page::Orders);
}

#[test]
fn on_a_day_before_the_present_entry_is_closed_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = orders_page(folder.path());
    window.keys(Modifiers::ALT, Key::PageUp);
    window.must_say("entry is closed on a day before the present");
    assert!(!window.shows("issue"), "no step is offered");
    let before = shop(&window);
    window.key(Key::X);
    assert_eq!(before.orders.len(), shop(&window).orders.len());
    assert!(!lines(&window).iter().any(|line| line.starts_with("26-046")), "opened later");
}

#[test]
fn an_empty_shop_says_where_to_begin() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open(folder.path(), None);
    window.ctrl(Key::N);
    window.ctrl(Key::Num4);
    window.must_say("There are no orders in a shop without spindles.");
    window.must_say("No spindles yet, so there is nothing to order. Begin on the due page:");
    window.click("due");
    assert_eq!(window.harness.state().page(), Page::Due);
}
