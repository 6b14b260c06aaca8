//! The due page through its accessible names: sort, filter, find, choose, open, group, empty.

use almanac_core::due::{DueRow, Mark};
use almanac_core::ids::SpindleId;
use almanac_tests::due_list::{self, DueFixture};
use drawbar_almanac::command::Command;
use drawbar_almanac::pages::due::{DuePage, GroupBy, SortBy};
use drawbar_almanac::pages::{Form, Page, PageContext, Request, Requests};
use drawbar_almanac::theme;
use drawbar_almanac::worker::Doing;
use eframe::egui::{self, Key, accesskit::Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::sync::Arc;

struct Screen {
    page: DuePage,
    fixture: DueFixture,
    requests: Requests,
    has_figures: bool,
    is_current: bool,
    doing: Option<Doing>,
}

impl Screen {
    fn ui(&mut self, ui: &mut egui::Ui) {
        let Self { page, fixture, requests, has_figures, is_current, doing } = self;
        let context = PageContext {
            shop: &fixture.shop,
            whole: &fixture.shop,
            forecast: has_figures.then_some(&fixture.forecast),
            due: has_figures.then_some(&fixture.due),
            revision: 1,
            figures_revision: u64::from(*has_figures),
            is_current: *is_current,
            doing: *doing,
            fits: None,
            intervals: &[],
            as_of: due_list::as_of(),
            present: due_list::as_of(),
            entry_closed: None,
            journal: &[],
            what_if: None,
        };
        page.ui(ui, &context, requests);
    }
}

type Window = Harness<'static, Screen>;

/// The harness keeps this free around what it shows.
const HARNESS_MARGIN: f32 = 8.0;

fn window_of(rows: usize, size: [f32; 2]) -> Window {
    window_with(due_list::rows(rows), size)
}

fn window_with(fixture: DueFixture, size: [f32; 2]) -> Window {
    let screen = Screen {
        page: DuePage::default(),
        fixture,
        requests: Requests::default(),
        has_figures: true,
        is_current: true,
        doing: None,
    };
    let mut window = Harness::builder()
        .with_size(size.map(|side| side + 2.0 * HARNESS_MARGIN))
        .with_step_dt(1.0 / 60.0) // two clicks can follow each other at once
        .with_context_setup(theme::install)
        .build_ui_state(|ui, screen: &mut Screen| screen.ui(ui), screen);
    window.run();
    window
}

fn window(rows: usize) -> Window {
    window_of(rows, [1280.0, 760.0])
}

/// Positions of the rows in view, from top to bottom.
fn shown(window: &Window) -> Vec<String> {
    let mut rows: Vec<(f32, String)> = window
        .query_all_by_role(Role::ListBoxOption)
        .map(|row| (row.rect().top(), position(&row.accesskit_node().label().unwrap_or_default())))
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    rows.into_iter().map(|(_, position)| position).collect()
}

/// The position out of a sentence such as `Spindle S-0117, HSK-A63, position R-04: booked. ...`.
fn position(sentence: &str) -> String {
    let after = sentence.split("position ").nth(1).unwrap_or_default();
    after.split(':').next().unwrap_or_default().to_owned()
}

fn chosen(window: &Window) -> String {
    let id = window.state().page.chosen().expect("a row is chosen");
    let rows = &window.state().fixture.due.rows;
    rows.iter().find(|row| row.spindle == id).and_then(|row| row.position.clone()).expect("it has a position")
}

fn press(window: &mut Window, key: Key) {
    window.key_press(key);
    window.run();
}

fn type_text(window: &mut Window, text: &str) {
    window.event(egui::Event::Text(text.to_owned()));
    window.run();
}

#[test]
fn twenty_seven_rows_need_no_scrolling_at_800() {
    // 41 of the 800 are the head of the program
    let window = window_of(27, [1280.0, 759.0]);
    let rows = shown(&window);
    assert_eq!(rows.len(), 27);
    assert_eq!(rows.first().map(String::as_str), Some("T-04"));
    assert!(window.query_by_label("part of the list in view").is_none());
}

#[test]
fn a_row_says_all_that_it_shows() {
    let window = window(27);
    let row = window.get_by_label_contains("Spindle S-0117, HSK-A63, position R-04: booked.");
    let sentence = row.accesskit_node().label().unwrap_or_default();
    for part in
        ["Force 14.7 kN, 81.6 %, reserve +1.6 %.", "Service by Tuesday 17 March, in 15 days", "because of force"]
    {
        assert!(sentence.contains(part), "{part} in {sentence}");
    }
    assert!(window.query_by_label_contains("position R-10: no reading. Force never measured.").is_some());
}

#[test]
fn column_heads_sort_and_turn_the_order_round() {
    let mut window = window(27);
    window.get_by_label("sort by position").click();
    window.run();
    let by_position = shown(&window);
    assert_eq!(by_position.get(..4), Some(&["M-01", "M-02", "M-03", "M-04/1"].map(str::to_owned)[..]));
    window.get_by_label("sort by position, sorted").click();
    window.run();
    assert_eq!(shown(&window).first().map(String::as_str), Some("T-06"));
    window.get_by_label("sort by reserve").click();
    window.run();
    assert_eq!(shown(&window).first().map(String::as_str), Some("T-04"));
    assert_eq!(shown(&window).last().map(String::as_str), Some("R-10"), "unknown stands last");
}

#[test]
fn the_sort_menu_opens_by_its_key() {
    let mut window = window(27);
    press(&mut window, Key::S);
    window.get_by_label("interface").click();
    window.run();
    assert_eq!(window.state().page.view.sort, SortBy::Interface);
    assert!(window.query_by_label("interface").is_none(), "the menu is closed again");
    press(&mut window, Key::S);
    press(&mut window, Key::Enter);
    assert!(window.state().page.view.descending, "the entry in force has the focus and turns the order round");
}

#[test]
fn finding_narrows_the_list_and_esc_shows_all() {
    let mut window = window(27);
    press(&mut window, Key::Slash);
    type_text(&mut window, "r-07");
    assert_eq!(shown(&window), ["R-07/1", "R-07/2"]);
    assert!(window.query_by_label("2 of 27 shown").is_some());
    assert_eq!(chosen(&window), "R-07/1");
    press(&mut window, Key::Escape);
    assert_eq!(shown(&window).len(), 27);
    assert!(window.query_by_label_contains("of 27 shown").is_none(), "the filter line is gone");
    assert!(window.state_mut().requests.take().is_empty());
}

#[test]
fn the_sign_that_opens_the_search_does_not_land_in_it() {
    let mut window = window(27);
    window.event(egui::Event::Text("/".to_owned()));
    window.run();
    assert_eq!(window.state().page.view.filter.find, "");
    type_text(&mut window, "s-0112");
    assert_eq!(shown(&window), ["T-02"]);
}

#[test]
fn a_scanned_order_number_opens_its_spindle() {
    let mut window = window(27);
    press(&mut window, Key::Slash);
    type_text(&mut window, "26-043");
    press(&mut window, Key::Enter);
    let requests = window.state_mut().requests.take();
    assert_eq!(requests, [Request::Go(Page::Spindle(SpindleId::from_row(4)))], "26-043 is the order of R-04");
}

#[test]
fn letters_typed_into_the_search_do_nothing_else() {
    let mut window = window(27);
    press(&mut window, Key::Slash);
    for (key, letter) in [(Key::E, "e"), (Key::S, "s"), (Key::G, "g")] {
        window.key_press(key);
        type_text(&mut window, letter);
    }
    assert_eq!(window.state().page.view.filter.find, "esg");
    assert!(window.state_mut().requests.take().is_empty());
    assert!(window.query_by_label("by hall").is_none());
    assert!(window.query_by_label("None of 27 spindles fits this filter.").is_some());
}

#[test]
fn filters_take_several_words() {
    let mut window = window(27);
    press(&mut window, Key::F);
    window.get_by_label("state: any").click();
    window.run();
    window.get_by_label("to book").click();
    window.run();
    window.get_by_label("past limit").click();
    window.run();
    press(&mut window, Key::Escape);
    assert_eq!(shown(&window), ["R-07/1", "M-02", "M-06", "R-01", "T-02"]);
    window.get_by_label("hall: any").click();
    window.run();
    window.get_by_label("Mould hall").click();
    window.run();
    press(&mut window, Key::Escape);
    assert_eq!(shown(&window), ["M-02", "M-06"]);
    assert!(window.query_by_label("state: 2 of 6").is_some());
    window.get_by_label("show all").click();
    window.run();
    assert_eq!(shown(&window).len(), 27);
}

#[test]
fn arrows_move_the_choice_and_enter_opens_it() {
    let mut window = window(27);
    assert_eq!(chosen(&window), "T-04");
    press(&mut window, Key::ArrowDown);
    press(&mut window, Key::ArrowDown);
    assert_eq!(chosen(&window), "M-02");
    press(&mut window, Key::ArrowUp);
    assert_eq!(chosen(&window), "R-07/1");
    press(&mut window, Key::End);
    assert_eq!(chosen(&window), "M-08");
    press(&mut window, Key::ArrowDown);
    assert_eq!(chosen(&window), "M-08");
    press(&mut window, Key::Home);
    assert_eq!(chosen(&window), "T-04");
    press(&mut window, Key::Enter);
    let requests = window.state_mut().requests.take();
    assert_eq!(requests, [Request::Go(Page::Spindle(SpindleId::from_row(1)))]);
}

#[test]
fn a_click_chooses_and_a_second_one_at_once_opens() {
    let mut window = window(27);
    window.get_by_label_contains("position R-04:").click();
    window.run();
    assert_eq!(chosen(&window), "R-04");
    assert!(window.state_mut().requests.take().is_empty());
    assert!(window.get_by_label_contains("position R-04:").is_focused());
    window.get_by_label("open").click();
    window.run();
    let opens = [Request::Go(Page::Spindle(SpindleId::from_row(4)))];
    assert_eq!(window.state_mut().requests.take(), opens);
    window.run_steps(40); // or the click before makes it three
    for _ in 0..2 {
        window.get_by_label_contains("position R-04:").click();
        window.step();
    }
    assert_eq!(window.state_mut().requests.take(), opens, "two clicks at once");
}

#[test]
fn tab_stops_at_the_chosen_row_only() {
    let mut window = window(27);
    press(&mut window, Key::ArrowDown);
    press(&mut window, Key::ArrowDown);
    press(&mut window, Key::Tab);
    assert_eq!(chosen(&window), "M-02");
    let on_row = window.query_all_by_role(Role::ListBoxOption).any(|row| row.is_focused());
    assert!(!on_row, "Tab leaves the list");
    // all the way round, the list is one stop: the chosen row
    let mut stops = 0;
    for _ in 0..60 {
        press(&mut window, Key::Tab);
        if let Some(row) = window.query_all_by_role(Role::ListBoxOption).find(|row| row.is_focused()) {
            stops += 1;
            assert_eq!(position(&row.accesskit_node().label().unwrap_or_default()), "M-02");
        }
    }
    assert!((1..=4).contains(&stops), "{stops} stops in 60 steps");
    assert_eq!(chosen(&window), "M-02");
}

#[test]
fn groups_have_heads_with_counts() {
    let mut window = window(27);
    press(&mut window, Key::G);
    window.get_by_label("by hall").click();
    window.run();
    assert_eq!(window.state().page.view.group, GroupBy::Hall);
    assert!(window.query_by_label("Mould hall, 9 spindles").is_some());
    assert!(window.query_by_label("Router hall, 12 spindles").is_some());
    press(&mut window, Key::G);
    window.get_by_label("by month of service-by").click();
    window.run();
    assert!(window.query_by_label("now, 2 spindles").is_some());
    assert!(window.query_by_label("March 2026, 4 spindles").is_some());
    assert!(window.query_by_label("April 2026, 4 spindles").is_some());
}

#[test]
fn two_thousand_rows_lay_out_only_those_in_view() {
    let mut window = window(2000);
    assert!(shown(&window).len() < 30);
    assert!(window.query_by_label("part of the list in view").is_some());
    press(&mut window, Key::End);
    let rows = shown(&window);
    assert!(rows.len() < 30);
    let last = window.state().fixture.due.rows.last().and_then(|row| row.position.clone());
    assert_eq!(rows.last().cloned(), last, "the last row came into view");
    press(&mut window, Key::PageUp);
    press(&mut window, Key::Home);
    assert_eq!(shown(&window).first().map(String::as_str), Some("T-04"));
}

#[test]
fn an_empty_shop_says_what_to_do_first() {
    let mut window = window(0);
    assert!(window.query_by_label_contains("No spindles yet. Import a shop folder").is_some());
    assert!(window.query_by_label("sort by service by, sorted").is_some(), "the head stays");
    press(&mut window, Key::N);
    assert_eq!(window.state_mut().requests.take(), [Request::OpenForm(Form::FirstMachine)]);
    press(&mut window, Key::I);
    assert_eq!(window.state_mut().requests.take(), [Request::Run(Command::Import)]);
    press(&mut window, Key::Enter);
    press(&mut window, Key::ArrowDown);
    assert!(window.state_mut().requests.take().is_empty());
}

#[test]
fn names_stand_before_the_figures_do() {
    let mut window = window(27);
    window.state_mut().has_figures = false;
    window.state_mut().is_current = false;
    window.state_mut().doing = Some(Doing::Projecting(412, 2000));
    window.run();
    assert!(window.query_by_label("R-04, spindle S-0117, HSK-A63, not computed yet").is_some());
    assert!(window.query_by_label("updating, 412 of 2,000").is_some());
    press(&mut window, Key::Escape);
    assert_eq!(window.state_mut().requests.take(), [Request::Run(Command::StopUpdating)]);
    window.state_mut().has_figures = true;
    window.state_mut().is_current = true;
    window.state_mut().doing = None;
    window.run();
    assert_eq!(shown(&window).first().map(String::as_str), Some("T-04"));
}

#[test]
fn keys_change_the_axis_and_export() {
    let mut window = window(27);
    press(&mut window, Key::Plus);
    assert_eq!(window.state().page.view.weeks, 39);
    press(&mut window, Key::Minus);
    press(&mut window, Key::Minus);
    assert_eq!(window.state().page.view.weeks, 20);
    window.get_by_label("more weeks").click();
    window.run();
    assert_eq!(window.state().page.view.weeks, 26);
    press(&mut window, Key::E);
    assert_eq!(window.state_mut().requests.take(), [Request::ExportList]);
}

#[test]
fn the_page_draws_in_both_schemes_and_narrow_windows() {
    for theme in [egui::Theme::Light, egui::Theme::Dark] {
        for size in [[1920.0, 1040.0], [900.0, 500.0]] {
            let mut window = window_of(3, size);
            window.ctx.set_theme(theme);
            window.run();
            assert_eq!(shown(&window).len(), 3);
        }
    }
}

#[test]
fn a_frame_of_two_thousand_rows_costs_no_more_than_one_of_fifty() {
    let cost = |rows: usize| {
        let mut window = window(rows);
        let mut frames = || {
            let started = std::time::Instant::now();
            window.run_steps(10);
            started.elapsed()
        };
        // the least of several: other work of the machine only adds to it
        [frames(), frames(), frames(), frames()].into_iter().min().unwrap_or_default()
    };
    let (few, many) = (cost(50), cost(2000));
    assert!(many < few * 4, "10 frames of 50 rows took {few:?}, of 2,000 rows {many:?}");
}

#[test]
fn stale_figures_can_be_renewed() {
    let mut window = window(27);
    window.state_mut().is_current = false;
    window.run();
    assert!(window.query_by_label("figures from before the last change").is_some());
    press(&mut window, Key::R);
    assert_eq!(window.state_mut().requests.take(), [Request::Run(Command::Renew)]);
    window.state_mut().is_current = true;
    window.run();
    press(&mut window, Key::R);
    assert!(window.state_mut().requests.take().is_empty());
}

#[test]
fn the_first_row_is_chosen_until_the_user_chooses() {
    let mut window = window(27);
    window.get_by_label("sort by position").click();
    window.run();
    assert_eq!(chosen(&window), "M-01");
    window.get_by_label_contains("position M-04/1:").click();
    window.run();
    window.get_by_label("sort by reserve").click();
    window.run();
    assert_eq!(chosen(&window), "M-04/1");
}

/// The row of a position in a list before it is shown.
fn row_of<'a>(fixture: &'a mut DueFixture, position: &str) -> &'a mut DueRow {
    fixture.due.rows.iter_mut().find(|row| row.position.as_deref() == Some(position)).expect("a row of the list")
}

/// The inks in which a text is painted, wherever it stands.
fn inks_of(window: &Window, text: &str) -> Vec<egui::Color32> {
    fn gather(shape: &egui::Shape, text: &str, found: &mut Vec<egui::Color32>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| gather(shape, text, found)),
            egui::Shape::Text(painted) if painted.galley.text() == text => {
                found.extend(painted.galley.job.sections.first().map(|section| section.format.color));
            }
            _ => {}
        }
    }
    let mut found = Vec::new();
    for clipped in &window.output().shapes {
        gather(&clipped.shape, text, &mut found);
    }
    found
}

/// The accent of the dark colours, which the harness begins with: a person must act.
const ACT: egui::Color32 = egui::Color32::from_rgb(0xFF, 0x9C, 0x6B);

#[test]
fn an_order_whose_day_is_over_is_in_accent() {
    let mut fixture = due_list::twenty_seven();
    let booking = row_of(&mut fixture, "R-04").booking.as_mut().expect("it is booked");
    booking.day = due_list::as_of().checked_sub_days(chrono::Days::new(3));
    let booking = row_of(&mut fixture, "R-03/2").booking.as_mut().expect("it is booked");
    (booking.start, booking.day) = (None, None);
    let window = window_with(fixture, [1280.0, 760.0]);
    assert_eq!(inks_of(&window, "was Fri 27 Feb"), [ACT]);
    assert_ne!(inks_of(&window, "Sat 28 Mar"), [ACT], "R-09 is booked in time");
    assert_eq!(inks_of(&window, "Sat 28 Mar").len(), 1);
    assert_eq!(inks_of(&window, "26-048, no place yet").len(), 1, "the same words everywhere");
    assert!(window.query_by_label_contains("Order 26-043 was to start on Friday 27 February; not done.").is_some());
}

#[test]
fn a_spindle_taken_out_but_still_mounted_is_no_work() {
    let mut fixture = due_list::twenty_seven();
    let row = row_of(&mut fixture, "R-07/1");
    row.mark = Mark::OutOfService;
    row.booking = None;
    let before = window(27);
    let due_now = |window: &Window| inks_of(window, "now").len();
    assert_eq!((due_now(&before), inks_of(&before, "\u{2212}1.2")), (2, vec![ACT]));
    assert!(before.query_by_label_contains("2 in the week of 2 March").is_some());
    let mut window = window_with(fixture, [1280.0, 760.0]);
    // T-04, which merely must not run, stays as it is
    assert_eq!((due_now(&window), inks_of(&window, "now")), (1, vec![ACT]));
    assert!(inks_of(&window, "\u{2212}1.2").iter().all(|ink| *ink != ACT));
    assert_eq!(inks_of(&window, "\u{2212}11.3"), [ACT]);
    assert!(window.query_by_label_contains("1 in the week of 2 March").is_some());
    assert_eq!(
        shown(&window).get(..2),
        Some(&["T-04", "M-02"].map(str::to_owned)[..]),
        "it stands with what has no date"
    );
    press(&mut window, Key::G);
    window.get_by_label("by month of service-by").click();
    window.run();
    assert!(window.query_by_label("now, 1 spindle").is_some());
    press(&mut window, Key::End);
    assert!(window.query_by_label("out of service, 1 spindle").is_some());
}

#[test]
fn a_row_is_told_by_its_place_among_the_rows() {
    let mut window = window(27);
    press(&mut window, Key::G);
    window.get_by_label("by hall").click();
    window.run();
    press(&mut window, Key::End);
    let last = shown(&window).last().cloned().expect("a row");
    let place = format!("position {last}:");
    let row = window.get_by_label_contains(&place);
    assert_eq!(row.accesskit_node().position_in_set(), Some(27), "heads of groups are no rows");
}

#[test]
fn the_readings_worth_taking_open_by_their_key() {
    use almanac_core::forecast::next_reading::{Narrows, NextReading};
    use almanac_core::units::{Money, Quantity};
    let mut window = window(27);
    assert!(window.query_by_label("next readings").is_none(), "without any there is no key");
    press(&mut window, Key::N);
    assert!(window.state_mut().requests.take().is_empty());
    let reading = |row, quantity, worth, reason: &str| NextReading {
        spindle: SpindleId::from_row(row),
        quantity,
        by: due_list::as_of() + chrono::Days::new(14),
        worth: Money::new(worth).unwrap(),
        narrows: Narrows { from: 62, to: 31 },
        reason: reason.to_owned(),
    };
    let step = "a reading would settle whether the drop of 14 January was a step";
    "EUR".clone_into(&mut Arc::make_mut(&mut window.state_mut().fixture.shop.settings).currency);
    window.state_mut().fixture.due.worth_reading = vec![
        reading(4, Quantity::ClampForce, 41.3, step),
        reading(5, Quantity::SettingDimension, 0.2, "the last reading is seven months old"),
    ];
    window.run();
    assert!(window.query_by_label("next readings").is_some());
    press(&mut window, Key::N);
    let first =
        window.get_by_label_contains("R-04  S-0117: by Mon 16 Mar, band from 62 to 31 days, worth \u{20AC}41\n");
    let said = first.accesskit_node().label().unwrap_or_default();
    assert!(said.ends_with("A reading would settle whether the drop of 14 January was a step."), "{said}");
    assert!(window.query_by_label_contains("setting dimension, by Mon 16 Mar, band from 62 to 31 days\n").is_some());
    press(&mut window, Key::Enter);
    let requests = window.state_mut().requests.take();
    assert_eq!(requests, [Request::Go(Page::Spindle(SpindleId::from_row(4)))], "the first has the focus");
    assert_eq!(chosen(&window), "R-04");
    assert!(window.query_by_label_contains("R-04  S-0117: by").is_none(), "the list is closed again");
}
