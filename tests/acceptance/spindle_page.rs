//! The spindle page through its accessible names: axes, cursor and read-out, panels, keys, entry,
//! superseded records, spindles without readings or machine.

use almanac_core::due::{DueList, due_list};
use almanac_core::forecast::{ForecastConfig, NoProgress, ShopForecast, forecast_shop};
use almanac_core::ids::{ReadingId, Row, SpindleId};
use almanac_core::import::{Source, import};
use almanac_core::reading::{Phase, Reading};
use almanac_core::shop::Shop;
use almanac_core::units::Quantity;
use chrono::NaiveDate;
use drawbar_almanac::pages::spindle::SpindlePage;
use drawbar_almanac::pages::{Form, Page, PageContext, Request, Requests};
use drawbar_almanac::theme;
use eframe::egui::accesskit::Toggled;
use eframe::egui::{self, Key, Modifiers, Role, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::sync::Arc;

/// An invented shop: S-1 in R-1 with two stretches, S-2 new in R-2, S-3 on the shelf, S-4 in R-4
/// with one reading.
const SHOP: [(&str, &str); 8] = [
    ("shop.csv", "key,value\nname,Test works\nas_of,2026-03-02\n"),
    ("machines.csv", "machine,hall\nR-1,Router hall\nR-2,Router hall\nR-4,Router hall\n"),
    (
        "spindles.csv",
        "spindle,interface,nominal_force_kn,service_every_months,limit_source\n\
         S-1,HSK-A63,18,12,the builder's manual\nS-2,HSK-A63,18,,\nS-3,HSK-A63,18,,\nS-4,HSK-A63,18,,\n",
    ),
    (
        "mountings.csv",
        "spindle,machine,position,mounted_on,removed_on\nS-1,R-1,1,2024-01-01,\nS-2,R-2,1,2026-01-05,\n\
         S-3,R-2,1,2024-01-01,2026-01-05\nS-4,R-4,1,2025-01-01,\n",
    ),
    (
        "meters.csv",
        "machine,position,date,run_hours,clamp_cycles\nR-1,1,2024-01-01,0,0\nR-1,1,2025-01-01,2000,30000\n\
         R-1,1,2026-03-02,4300,64000\nR-2,1,2024-01-01,100,\nR-2,1,2026-03-02,2500,\nR-4,1,2025-01-01,0,0\n\
         R-4,1,2026-03-02,900,9000\n",
    ),
    ("gauges.csv", "gauge,quantity,calibration_due\nG-02,clamp_force,2026-04-30\nD-01,setting_dimension,\n"),
    (
        "readings.csv",
        "spindle,date,phase,quantity,unit,stroke_1,stroke_2,stroke_3,gauge,technician,note,recorded_on,replaced_on,doubt\n\
         S-1,2024-02-01,routine,clamp_force,kN,17.4,17.5,17.3,G-02,Thorne,,,,\n\
         S-1,2024-07-01,routine,clamp_force,kN,16.2,16.3,16.4,G-02,Thorne,,,,\n\
         S-1,2025-01-15,as_found,clamp_force,kN,14.8,14.9,14.7,G-02,Brook,,,,\n\
         S-1,2025-01-15,as_found,setting_dimension,mm,10.53,,,D-01,Brook,,,,\n\
         S-1,2025-01-15,as_left,clamp_force,kN,17.3,17.3,17.3,G-02,Brook,,,,\n\
         S-1,2025-06-02,routine,clamp_force,kN,16.4,16.2,16.3,G-02,Brook,holds fine,,,\n\
         S-1,2025-10-01,routine,clamp_force,kN,1.55,15.5,15.4,G-02,Brook,,,,a stroke looks misplaced\n\
         S-1,2026-02-10,routine,clamp_force,kN,9.15,9.2,9.1,G-02,Aldous,,,2026-02-13,\n\
         S-1,2026-02-10,routine,clamp_force,kN,14.9,15.0,14.8,G-02,Aldous,,2026-02-13,,\n\
         S-3,2024-03-01,routine,clamp_force,kN,17.0,17.1,,G-02,Thorne,,,,\n\
         S-4,2026-02-10,routine,clamp_force,kN,16.0,,,G-02,Thorne,,,,\n",
    ),
    ("services.csv", "spindle,date,kind,technician,stop_hours,findings\nS-1,2025-01-15,minor,Brook,1.4,gripper dry\n"),
];

struct Screen {
    page: SpindlePage,
    spindle: SpindleId,
    whole: Shop,
    known: Shop,
    forecast: ShopForecast,
    due: DueList,
    as_of: NaiveDate,
    closed: Option<&'static str>,
    has_figures: bool,
    asked: Vec<Request>,
}

type Window = Harness<'static, Screen>;

impl Screen {
    fn ui(&mut self, ui: &mut egui::Ui) {
        let Self { page, spindle, whole, known, forecast, due, as_of, closed, has_figures, asked } = self;
        let context = PageContext {
            shop: known,
            whole,
            forecast: has_figures.then_some(forecast),
            due: has_figures.then_some(due),
            revision: 1,
            figures_revision: u64::from(*has_figures),
            is_current: *has_figures,
            doing: None,
            fits: None,
            intervals: &[],
            as_of: *as_of,
            present: *as_of,
            entry_closed: *closed,
            journal: &[],
            what_if: None,
        };
        let mut requests = Requests::default();
        page.ui(ui, *spindle, &context, &mut requests);
        asked.extend(requests.take());
    }
}

fn day(text: &str) -> NaiveDate {
    almanac_core::moment::parse_iso_date(text).unwrap()
}

fn shop() -> Shop {
    shop_with("")
}

/// The shop with further rows of readings.
fn shop_with(readings: &str) -> Shop {
    shop_with_orders(readings, "")
}

/// The same with orders.
fn shop_with_orders(readings: &str, orders: &str) -> Shop {
    let text_of =
        |name: &str, text: &str| if name == "readings.csv" { format!("{text}{readings}") } else { text.to_owned() };
    let mut sources: Vec<Source> =
        SHOP.iter().map(|(name, text)| Source::from_bytes(name, text_of(name, text).into_bytes())).collect();
    if !orders.is_empty() {
        let head = "order,spindle,kind,state,opened_on,service_by,start,duration_h,technician,held,closed_on\n";
        sources.push(Source::from_bytes("orders.csv", format!("{head}{orders}").into_bytes()));
    }
    let outcome = import(&sources, &Shop::default(), day("2026-03-02"), &NoProgress).unwrap();
    assert_eq!(outcome.report.refused_count, 0, "{:?}", outcome.report.refused);
    outcome.batch.apply_to(&Shop::default()).sorted()
}

fn open_at(spindle: &str, as_of: &str, closed: Option<&'static str>, size: [f32; 2]) -> Window {
    open_shop(shop(), spindle, as_of, (closed, size))
}

fn open_shop(whole: Shop, spindle: &str, as_of: &str, (closed, size): (Option<&'static str>, [f32; 2])) -> Window {
    let as_of = day(as_of);
    let known = whole.known_on(as_of);
    let forecast = forecast_shop(&known, as_of, &ForecastConfig::of(&known), &NoProgress).unwrap();
    let due = due_list(&known, &forecast);
    let spindle = whole.spindle_named(spindle).unwrap();
    let page = SpindlePage::default();
    let screen =
        Screen { page, spindle, whole, known, forecast, due, as_of, closed, has_figures: true, asked: Vec::new() };
    let mut window = Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_context_setup(theme::install)
        .build_ui_state(|ui, screen: &mut Screen| screen.ui(ui), screen);
    window.run();
    window
}

fn open(spindle: &str) -> Window {
    open_at(spindle, "2026-03-02", None, [1296.0, 775.0])
}

/// S-1 with one reading more, on the as-of day.
fn open_with_last(strokes: &str) -> Window {
    let row = format!("S-1,2026-03-02,routine,clamp_force,kN,{strokes},,,G-02,Thorne,,,,\n");
    open_shop(shop_with(&row), "S-1", "2026-03-02", (None, [1296.0, 775.0]))
}

fn press(window: &mut Window, key: Key) {
    window.key_press(key);
    window.run();
}

/// An order whose day is over says so, as on the due page.
#[test]
fn an_order_that_was_not_done_is_not_told_as_booked() {
    let order = |start: &str| format!("26-001,S-1,minor,planned,2026-02-01,,{start},2,Thorne,no,\n");
    let said = |start: &str| {
        let window = open_shop(shop_with_orders("", &order(start)), "S-1", "2026-03-02", (None, [1296.0, 775.0]));
        let node = window.get_by_label_contains("order 26-001").accesskit_node();
        node.label().or_else(|| node.value()).unwrap_or_default()
    };
    assert!(
        said("2026-02-26T08:00").contains("was to start Thu 26 February, not done"),
        "{}",
        said("2026-02-26T08:00")
    );
    assert!(!said("2026-03-05T08:00").contains("not done"), "{}", said("2026-03-05T08:00"));
    assert!(said("").contains("no place yet"), "{}", said(""));
}

/// What the read-out says.
fn read_out(window: &Window) -> String {
    window.get_by_role(Role::Status).accesskit_node().label().unwrap_or_default()
}

/// What the chosen row of the table says.
fn chosen_row(window: &Window) -> String {
    let rows: Vec<String> = window
        .query_all_by_role(Role::ListBoxOption)
        .filter(|row| row.accesskit_node().toggled() == Some(Toggled::True))
        .filter_map(|row| row.accesskit_node().label())
        .collect();
    assert_eq!(rows.len(), 1, "one row is chosen: {rows:?}");
    rows.into_iter().next().unwrap_or_default()
}

/// What the drift chart says.
fn chart(window: &Window) -> String {
    let mut said = window.query_all_by_role(Role::Image).filter_map(|image| image.accesskit_node().label());
    said.find(|sentence| sentence.starts_with("Clamp force of")).expect("the drift chart says something")
}

#[test]
fn the_chart_says_what_it_shows() {
    let window = open("S-1");
    let sentence = chart(&window);
    for part in
        ["R-1 S-1 over date", "7 readings, 1 of them doubted, 1 service", "service limit 14.4 kN, stop limit 12.6 kN"]
    {
        assert!(sentence.contains(part), "{part} in {sentence}");
    }
}

#[test]
fn the_axis_changes_by_key_and_by_word() {
    let mut window = open("S-1");
    press(&mut window, Key::X);
    assert!(chart(&window).contains("over run hours"), "{}", chart(&window));
    window.get_by_role_and_label(Role::RadioButton, "clamp cycles").click();
    window.run();
    assert!(chart(&window).contains("over clamp cycles"));
    press(&mut window, Key::X);
    assert!(chart(&window).contains("over date"));
}

#[test]
fn an_axis_without_a_meter_cannot_be_chosen() {
    let mut window = open("S-2");
    let word = window.get_by_role_and_label(Role::RadioButton, "clamp cycles");
    assert!(word.accesskit_node().is_disabled());
    press(&mut window, Key::X);
    press(&mut window, Key::X);
    assert!(chart(&window).contains("over date"), "the key leaves out what has no meter");
}

#[test]
fn stepping_moves_row_and_read_out_together() {
    let mut window = open("S-1");
    assert!(read_out(&window).starts_with("Tue 10 Feb 2026 routine 14.90 kN ± 0.06 82.8 %"), "{}", read_out(&window));
    let mut seen = Vec::new();
    for _ in 0..9 {
        assert_eq!(chosen_row(&window), read_out(&window));
        seen.push(read_out(&window));
        press(&mut window, Key::ArrowDown);
    }
    for part in [
        "minor service gripper dry",
        "as left 17.30 kN",
        "setting 10.53 mm",
        "doubted: a stroke looks misplaced",
        "holds fine",
    ] {
        assert!(seen.iter().any(|line| line.contains(part)), "{part} in {seen:#?}");
    }
    press(&mut window, Key::ArrowDown);
    press(&mut window, Key::Home);
    assert_eq!(read_out(&window), seen[0]);
    press(&mut window, Key::ArrowUp);
    assert_eq!(read_out(&window), seen[0], "the newest is the end");
}

#[test]
fn a_clicked_row_becomes_the_cursor_and_arrows_go_on_from_it() {
    let mut window = open("S-1");
    window.get_by_label_contains("Mon 2 Jun 2025").click();
    window.run();
    assert!(chosen_row(&window).starts_with("Mon 2 Jun 2025"), "{}", chosen_row(&window));
    window.remove_cursor();
    press(&mut window, Key::ArrowDown);
    assert!(chosen_row(&window).starts_with("Wed 15 Jan 2025 as left"), "{}", chosen_row(&window));
    assert_eq!(chosen_row(&window), read_out(&window));
}

#[test]
fn a_superseded_reading_stays_and_says_so() {
    let mut window = open("S-1");
    let row = window.get_by_label_contains("superseded 13 Feb").accesskit_node().label().unwrap_or_default();
    assert!(row.contains("9.15 kN"), "{row}");
    press(&mut window, Key::ArrowDown);
    assert!(read_out(&window).contains("superseded 13 Feb"));
    press(&mut window, Key::C);
    assert!(matches!(window.state().asked.last(), Some(Request::Notice(_))), "it is not corrected again");
    press(&mut window, Key::L);
    assert!(chart(&window).contains("7 readings"), "shown or not, it does not count");
    // two days before, nobody knew of the correction
    let before = open_at("S-1", "2026-02-12", None, [1296.0, 775.0]);
    assert!(before.query_by_label_contains("superseded").is_none());
    assert!(read_out(&before).contains("9.15 kN"));
}

#[test]
fn keys_ask_for_the_forms_of_this_spindle() {
    let mut window = open("S-1");
    let spindle = window.state().spindle;
    for key in [Key::N, Key::V, Key::M] {
        press(&mut window, key);
    }
    let forms = [Form::Reading(spindle), Form::Service(spindle), Form::Meter(spindle)];
    assert_eq!(window.state().asked, forms.map(Request::OpenForm));
    press(&mut window, Key::C);
    assert!(matches!(window.state().asked.last(), Some(Request::OpenForm(Form::CorrectReading(_)))));
    for _ in 0..5 {
        press(&mut window, Key::ArrowDown);
    }
    assert!(read_out(&window).contains("minor service"), "{}", read_out(&window));
    window.get_by_role_and_label(Role::Button, "correct").click();
    window.run();
    assert!(matches!(window.state().asked.last(), Some(Request::OpenForm(Form::CorrectService(_)))));
    press(&mut window, Key::Escape);
    assert_eq!(window.state().asked.last(), Some(&Request::Back));
}

/// Force and setting dimension of one occasion share a row: either can be corrected from it.
#[test]
fn a_row_with_two_readings_asks_which_one_is_corrected() {
    let mut window = open("S-1");
    for _ in 0..6 {
        press(&mut window, Key::ArrowDown);
    }
    let row = chosen_row(&window);
    assert!(row.contains("as found 14.80 kN") && row.contains("setting 10.53 mm"), "{row}");
    let found = |window: &Window, quantity: Quantity| {
        let whole = &window.state().whole;
        let is_it = |row: &&Row<ReadingId, Reading>| row.phase == Phase::AsFound && row.quantity() == quantity;
        whole.readings.iter().find(is_it).map(|row| Request::OpenForm(Form::CorrectReading(row.id)))
    };
    press(&mut window, Key::C);
    assert_eq!(window.state().asked, [], "it asks first");
    let force = window.get_by_role_and_label(Role::Button, "Correct the clamp force, 14.80 kN");
    assert!(force.is_focused());
    press(&mut window, Key::ArrowDown);
    assert!(window.get_by_role_and_label(Role::Button, "Correct the setting dimension, 10.53 mm").is_focused());
    assert_eq!(chosen_row(&window), row, "the arrow chose in the menu");
    press(&mut window, Key::Enter);
    assert_eq!(window.state().asked.last(), found(&window, Quantity::SettingDimension).as_ref());
    assert!(window.query_by_label_contains("Correct the").is_none(), "the menu is gone");
    press(&mut window, Key::C);
    press(&mut window, Key::Escape);
    assert!(window.query_by_label_contains("Correct the").is_none());
    assert_eq!(window.state().asked.len(), 1, "Esc leaves the menu, not the page");
    window.get_by_role_and_label(Role::Button, "correct").click();
    window.run();
    window.get_by_role_and_label(Role::Button, "Correct the clamp force, 14.80 kN").click();
    window.run();
    assert_eq!(window.state().asked.last(), found(&window, Quantity::ClampForce).as_ref());
}

#[test]
fn closed_entry_is_said_and_its_keys_rest() {
    let why = "Entry is closed: you look at 1 February.";
    let mut window = open_at("S-1", "2026-02-01", Some(why), [1296.0, 775.0]);
    assert!(window.query_by_label(why).is_some());
    for (key, name) in [(Key::N, "new reading"), (Key::V, "service"), (Key::M, "meter"), (Key::C, "correct")] {
        assert!(window.get_by_role_and_label(Role::Button, name).accesskit_node().is_disabled(), "{name}");
        press(&mut window, key);
    }
    assert_eq!(window.state().asked, []);
    assert!(read_out(&window).starts_with("Wed 1 Oct 2025"), "later readings are not known yet");
}

#[test]
fn neighbours_stand_in_due_order() {
    let mut window = open("S-1");
    let order: Vec<SpindleId> = window.state().due.rows.iter().map(|row| row.spindle).collect();
    let here = order.iter().position(|id| *id == window.state().spindle).unwrap();
    let next = order.get(here + 1).copied().unwrap();
    press(&mut window, Key::PageDown);
    assert_eq!(window.state().asked, [Request::Go(Page::Spindle(next))]);
    window.get_by_label_contains("next spindle,").click();
    window.run();
    assert_eq!(window.state().asked.len(), 2);
}

#[test]
fn panels_follow_ctrl_arrows_and_words() {
    let mut window = open("S-1");
    window.get_by_label_contains("between services laid over one another");
    for name in ["Setting dimension over time", "Usage over time", "Strokes about their mean"] {
        window.key_press_modifiers(Modifiers::COMMAND, Key::ArrowRight);
        window.run();
        assert!(window.query_by_label_contains(name).is_some(), "{name}");
    }
    assert!(read_out(&window).starts_with("Tue 10 Feb 2026"), "the cursor stays where it was");
    window.get_by_role_and_label(Role::RadioButton, "usage").click();
    window.run();
    assert!(window.query_by_label_contains("Usage over time").is_some());
}

#[test]
fn facts_name_the_step_and_source_of_every_limit() {
    let window = open("S-1");
    for fact in [
        "service limit 80 % built in; built in: common practice, no source",
        "calendar interval, over since 15 Jan 12 months this spindle; this spindle: the builder's manual",
        "setting tolerance ± 0.10 mm built in; built in: common practice, no source",
    ] {
        assert!(window.query_by_label(fact).is_some(), "{fact}");
    }
}

#[test]
fn never_measured_shows_from_whom_the_fan_is_taken() {
    let window = open("S-2");
    let said = read_out(&window);
    assert!(
        said.starts_with("No reading yet; taken from ") && said.ends_with("3 HSK-A63 spindles of this shop"),
        "{said}"
    );
    assert!(chart(&window).contains("no reading, no service"));
    assert!(window.query_by_label("no reading").is_some(), "the state word");
}

#[test]
fn a_spindle_on_the_shelf_and_one_with_one_reading_are_drawn() {
    let window = open("S-3");
    assert!(window.query_by_label_contains("not mounted; in R-2 until 5 January 2026").is_some());
    assert!(chart(&window).contains("1 reading, no service"));
    let window = open("S-4");
    assert!(read_out(&window).starts_with("Tue 10 Feb 2026 routine 16.00 kN 88.9 %"), "{}", read_out(&window));
    assert!(chart(&window).contains("1 reading, no service"));
}

#[test]
fn a_narrow_window_scrolls_and_keeps_every_part() {
    let mut window = open_at("S-1", "2026-03-02", None, [820.0, 700.0]);
    assert!(read_out(&window).starts_with("Tue 10 Feb 2026"));
    press(&mut window, Key::ArrowDown);
    assert!(read_out(&window).contains("superseded"));
    assert!(window.query_by_role_and_label(Role::Button, "new reading").is_some());
}

#[test]
fn records_stand_there_before_the_figures_are_computed() {
    let mut window = open("S-1");
    window.state_mut().has_figures = false;
    window.run();
    assert!(window.query_by_label_contains("Not computed yet.").is_some());
    assert!(read_out(&window).starts_with("Tue 10 Feb 2026 routine 14.90 kN"));
    press(&mut window, Key::N);
    assert_eq!(window.state().asked.len(), 1, "entry does not wait for figures");
    window.state_mut().has_figures = true;
    window.run();
    assert!(chart(&window).contains("7 readings"));
}

#[test]
fn zooming_leaves_the_whole_view_one_key_away() {
    let mut window = open("S-1");
    assert!(window.query_by_label("whole view").is_none());
    press(&mut window, Key::Plus);
    assert!(window.query_by_label("whole view").is_some());
    press(&mut window, Key::End);
    assert!(read_out(&window).starts_with("Thu 1 Feb 2024"), "the view follows the cursor");
    press(&mut window, Key::Num0);
    assert!(window.query_by_label("whole view").is_none());
}

/// The last one had 14.9 kN: 24 kN is a third more than nominal, more than any service restores.
#[test]
fn a_reading_that_the_model_doubts_says_so() {
    let window = open_with_last("24.0");
    let said = read_out(&window);
    assert!(said.contains("133.3 % doubted: 133.3 % read, "), "{said}");
    assert!(said.contains(" % expected; it counts with "), "{said}");
    assert!(chart(&window).contains("2 of them doubted"), "{}", chart(&window));
    let heading = window.get_by_label("What weakens these figures").rect();
    let limit = window.get_by_label_contains("service limit 80 %").rect();
    let force = window.get_by_label_contains("force now").rect();
    assert!(heading.bottom() <= force.top() && force.top() < limit.top(), "{heading:?} {force:?}");
    assert!(window.query_by_label_contains("Clamp force of 2 March doubtful (133.3 % read, ").is_some());
}

#[test]
fn a_gauge_out_of_calibration_is_said_in_words() {
    let mut whole = shop();
    let mut gauges = (*whole.gauges).clone();
    for gauge in &mut gauges {
        gauge.value.calibration_due = Some(day(if gauge.name == "G-02" { "2025-12-15" } else { "2024-12-31" }));
    }
    whole.gauges = Arc::new(gauges);
    let mut window = open_shop(whole, "S-1", "2026-03-02", (None, [1296.0, 775.0]));
    assert!(chosen_row(&window).contains("gauge G-02, calibration overdue since 15 December 2025"));
    assert_eq!(chosen_row(&window), read_out(&window));
    for _ in 0..6 {
        press(&mut window, Key::ArrowDown);
    }
    // as found in January 2025: the force gauge was good then, the setting gauge was not
    let row = chosen_row(&window);
    assert!(row.contains("gauge G-02, calibration due 15 December 2025"), "{row}");
    assert!(row.contains("gauge D-01, calibration overdue since 31 December 2024"), "{row}");
}

/// Settings that drift from 10.50 mm out of tolerance, and at last 11.4 mm, which the projection sets aside.
#[test]
fn the_setting_panel_says_what_is_doubted_and_what_is_out_of_tolerance() {
    let settings: String = [
        ("2025-02-10", "10.50"),
        ("2025-04-07", "10.52"),
        ("2025-06-10", "10.54"),
        ("2025-08-11", "10.56"),
        ("2025-11-03", "10.59"),
        ("2026-01-12", "10.61"),
        ("2026-03-02", "11.40"),
    ]
    .iter()
    .map(|(on, typed)| format!("S-1,{on},routine,setting_dimension,mm,{typed},,,D-01,Brook,,,,\n"))
    .collect();
    let mut window = open_shop(shop_with(&settings), "S-1", "2026-03-02", (None, [1296.0, 775.0]));
    assert!(chosen_row(&window).contains("setting 11.40 mm doubted: "), "{}", chosen_row(&window));
    window.key_press_modifiers(Modifiers::COMMAND, Key::ArrowRight);
    window.run();
    let said = |part: &str| {
        let node = window.get_by_label_contains(part).accesskit_node();
        node.label().or_else(|| node.value()).unwrap_or_default()
    };
    let picture = said("Setting dimension over time: ");
    assert!(picture.contains("8 readings, 1 of them doubted, 1 of them out of tolerance."), "{picture}");
    assert!(said("mm 11.40").contains("mm 11.40 doubted: "), "{}", said("mm 11.40"));
    assert!(said("mm 10.61").ends_with("mm 10.61 out of tolerance"), "{}", said("mm 10.61"));
    assert!(said("date 3 Nov 2025").ends_with("mm 10.59"), "{}", said("date 3 Nov 2025"));
}

#[test]
fn a_drop_at_once_is_said_with_its_size_and_day() {
    assert!(!chart(&open("S-1")).contains("step"));
    // 14.9 kN on 10 February, 12.8 kN on 2 March
    let window = open_with_last("12.8");
    assert!(chart(&window).contains("1 service, step −"), "{}", chart(&window));
    assert!(chart(&window).contains("%, 2 Mar;"), "{}", chart(&window));
}

/// The words that choose a panel stand beside its head, clear of the columns of its table.
#[test]
fn panel_words_stand_beside_the_head() {
    let window = open("S-1");
    let head = window.get_by_role_and_label(Role::RadioButton, "between services").rect();
    let last = window.get_by_role_and_label(Role::RadioButton, "strokes").rect();
    assert!(head.right() < last.left() && last.right() < head.left() + 420.0, "{head:?} {last:?}");
}

#[test]
fn the_legend_stays_within_the_window() {
    for (width, height) in [(1296.0, 775.0), (1024.0, 700.0), (560.0, 700.0)] {
        let window = open_shop(shop(), "S-1", "2026-03-02", (None, [width, height]));
        let marks: Vec<_> = window.query_all_by_label_contains("mark: ").map(|mark| mark.rect()).collect();
        assert_eq!(marks.len(), 6);
        assert!(marks.iter().all(|mark| mark.right() <= width), "{width}: {marks:?}");
    }
}

#[test]
fn a_reading_worth_taking_is_said_after_the_reason() {
    use almanac_core::forecast::next_reading::{Narrows, NextReading};
    let mut window = open("S-1");
    let id = window.state().spindle;
    assert!(window.query_by_label_contains("would narrow the band").is_none());
    window.state_mut().due.worth_reading = vec![NextReading {
        spindle: id,
        quantity: Quantity::ClampForce,
        by: day("2026-03-20"),
        worth: almanac_core::units::Money::new(12.0).unwrap(),
        narrows: Narrows { from: 62, to: 31 },
        reason: "its usage changed lately".to_owned(),
    }];
    window.run();
    assert!(
        window.query_by_label_contains("A reading by 20 March would narrow the band from 62 to 31 days.").is_some()
    );
}
