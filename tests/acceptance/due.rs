//! The due list, the lead line and the work-order list, on small shops and on the demo.

use super::projection::project_plainly;
use almanac_core::due::{
    DueList, DueRow, KitLate, KitReady, Mark, accessible_sentence, due_list, row_sentence, to_csv, to_json, to_table,
};
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::ids::SpindleId;
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::order::OrderState;
use almanac_core::orders_list::{self, COLUMNS, LineState, order_lines};
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::Unit;
use almanac_tests::hand_shop::{HandShop, day};
use chrono::NaiveDate;
use std::path::Path;
use std::sync::Arc;

/// By the plain model, whose dates were worked out apart from the program.
fn due(shop: &Shop, as_of: NaiveDate) -> DueList {
    due_list(shop, &project_plainly(shop, as_of))
}

/// As the program works it out.
fn due_today(shop: &Shop, as_of: NaiveDate) -> DueList {
    let forecast = forecast_shop(shop, as_of, &ForecastConfig::of(shop), &NoProgress).unwrap();
    due_list(shop, &forecast)
}

fn row(list: &DueList, spindle: SpindleId) -> &DueRow {
    list.rows.iter().find(|row| row.spindle == spindle).unwrap()
}

/// A spindle of 20 kN in a machine of its own, ten hours a day, whose three readings fall by 6 % per
/// 1,000 h to `now` percent of nominal on day 200, which is Sunday 20 July 2025. Alone in its shop and
/// at 84 % it is due 25 days later, on 14 August, as worked out beside
/// `projection::straight_wear_by_the_reference_values`; what others of its kind show moves the day.
fn wearing(made: &mut HandShop, name: &str, now: f64) -> SpindleId {
    let machine = made.machine(name);
    let spindle = made.spindle(&format!("S-{name}"), 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    for (on, hours, share) in [(0, 0.0, now + 12.0), (100, 1000.0, now + 6.0), (200, 2000.0, now)] {
        made.hours_at(machine, day(on), hours);
        made.force(spindle, day(on), 0.2 * share);
    }
    spindle
}

const NOW: u64 = 200;

#[test]
fn every_state_word_has_its_case() {
    let mut made = HandShop::new();
    let clear = wearing(&mut made, "clear", 93.0);
    let to_book = wearing(&mut made, "book", 84.0);
    let booked = wearing(&mut made, "booked", 84.0);
    let late = wearing(&mut made, "late", 84.0);
    let unplaced = wearing(&mut made, "unplaced", 84.0);
    let past = wearing(&mut made, "past", 78.0);
    let past_and_booked = wearing(&mut made, "both", 78.0);
    let stopped = wearing(&mut made, "stop", 69.0);
    let gone = wearing(&mut made, "gone", 69.0);
    made.change_spindle(gone, |spindle| spindle.out_of_service_on = Some(day(199)));
    let machine = made.machine("new");
    let unread = made.spindle("S-new", 20.0, Some(day(200)));
    made.mount(unread, machine, day(200), None);
    let shelf = made.spindle("S-shelf", 20.0, None);
    // on the service-by day itself is in time, the day after is late
    let by = row(&due(&made.shop(), day(NOW)), booked).forecast.service_by.unwrap();
    made.order("1", booked, OrderState::Planned, Some(&format!("{by}T07:00")));
    made.order("2", late, OrderState::Planned, Some(&format!("{}T07:00", by.succ_opt().unwrap())));
    made.order("3", unplaced, OrderState::Planned, None);
    made.order("4", past_and_booked, OrderState::Issued, Some("2025-07-26T07:00"));
    let list = due(&made.shop(), day(NOW));
    for (spindle, mark) in [
        (clear, Mark::Clear),
        (to_book, Mark::ToBook),
        (booked, Mark::Booked),
        (late, Mark::BookedLate),
        (unplaced, Mark::ToBook),
        (past, Mark::PastLimit),
        (past_and_booked, Mark::PastLimit),
        (stopped, Mark::DoNotRun),
        (gone, Mark::OutOfService),
        (unread, Mark::NoReading),
        (shelf, Mark::OutOfService),
    ] {
        let found = row(&list, spindle);
        assert_eq!(found.mark, mark, "{}: {}", found.name, found.forecast.reason);
    }
    let words: Vec<&str> = Mark::ALL.iter().map(|mark| mark.label()).collect();
    assert_eq!(
        words,
        ["out of service", "do not run", "past limit", "to book", "booked late", "booked", "no reading", "clear"]
    );
    assert_eq!(row(&list, past_and_booked).booking.as_ref().unwrap().name, "4");
}

#[test]
fn a_spindle_never_measured_is_booked_like_any_other() {
    let mut made = HandShop::new();
    let machine = made.machine("new");
    let spindle = made.spindle("S-new", 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    made.limits(spindle, |limits| limits.every_months = Some(7));
    // after seven months its interval ends on 1 August
    assert_eq!(row(&due(&made.shop(), day(NOW)), spindle).mark, Mark::ToBook);
    // and figures of others alone never say that it must not run
    assert_ne!(row(&due(&made.shop(), day(1500)), spindle).mark, Mark::DoNotRun);
}

#[test]
fn rows_stand_by_service_by_then_reserve_then_name() {
    let mut made = HandShop::new();
    wearing(&mut made, "c", 93.0);
    wearing(&mut made, "b", 84.0);
    wearing(&mut made, "a", 84.0);
    wearing(&mut made, "z", 76.0);
    wearing(&mut made, "y", 74.0);
    made.spindle("S-shelf", 20.0, None);
    let list = due(&made.shop(), day(NOW));
    let names: Vec<&str> = list.rows.iter().map(|row| row.name.as_str()).collect();
    assert_eq!(names, ["S-y", "S-z", "S-a", "S-b", "S-c", "S-shelf"]);
    assert_eq!(list.rows[2].days, Some((list.rows[2].forecast.service_by.unwrap() - day(NOW)).num_days()));
    assert_eq!(list.rows[5].days, None);
}

#[test]
fn the_last_window_is_the_one_before_service_by() {
    let mut made = HandShop::new();
    let spindle = wearing(&mut made, "a", 84.0);
    // service-by is Thursday 14 August
    let by = row(&due(&made.shop(), day(NOW)), spindle).forecast.service_by.unwrap();
    assert_eq!(by, parse_iso_date("2025-08-14").unwrap());
    assert_eq!(row(&due(&made.shop(), day(NOW)), spindle).last_window, None);
    made.window("2025-07-12T07:00", "2025-07-12T13:00", Some("FREQ=WEEKLY;INTERVAL=2;BYDAY=SA"));
    let list = due(&made.shop(), day(NOW));
    let found = row(&list, spindle);
    assert_eq!(found.last_window, parse_iso_date("2025-08-09"));
    assert_eq!(found.next_window, parse_iso_date("2025-07-26"));
    made.closure(parse_iso_date("2025-08-04").unwrap(), parse_iso_date("2025-08-17").unwrap());
    let list = due(&made.shop(), day(NOW));
    let found = row(&list, spindle);
    // two closed weeks move service-by too, but 9 August is no longer a window
    assert_eq!(found.forecast.service_by, parse_iso_date("2025-08-28"));
    assert_eq!(found.last_window, parse_iso_date("2025-08-23"));
}

#[test]
fn kits_go_to_services_in_the_order_of_their_days() {
    let mut made = HandShop::new();
    let first = wearing(&mut made, "a", 84.0);
    let second = wearing(&mut made, "b", 83.0);
    made.window("2025-07-26T07:00", "2025-07-26T13:00", Some("FREQ=WEEKLY;BYDAY=SA"));
    made.kit(1.0);
    made.delivery(parse_iso_date("2025-08-05").unwrap(), 1.0);
    let list = due(&made.shop(), day(NOW));
    // the one on the shelf is for the earlier service, the delivery comes before the later one
    assert_eq!((row(&list, second).kit, row(&list, second).kit_late), (Some(KitReady::Here), None));
    let arrives = KitReady::On(parse_iso_date("2025-08-05").unwrap());
    assert_eq!((row(&list, first).kit, row(&list, first).kit_late), (Some(arrives), None));
    // one that is booked earlier takes it; the other has its last window on 26 July: too late
    made.order("1", first, OrderState::Planned, Some("2025-07-26T07:00"));
    let list = due(&made.shop(), day(NOW));
    assert_eq!(row(&list, first).kit, Some(KitReady::Here));
    assert_eq!(row(&list, second).kit_late, Some(KitLate::On(parse_iso_date("2025-08-05").unwrap())));
    // nothing on order at all
    Arc::make_mut(&mut made.tables().deliveries).clear();
    let list = due(&made.shop(), day(NOW));
    assert_eq!(row(&list, second).kit_late, Some(KitLate::Missing));
    // work under way has its kit already
    Arc::make_mut(&mut made.tables().orders)[0].value.state = OrderState::UnderWay;
    let list = due(&made.shop(), day(NOW));
    assert_eq!((row(&list, first).kit, row(&list, second).kit), (None, Some(KitReady::Here)));
}

/// Where the day begins at six, two in the night belongs to the day before: the mark, the sentence and
/// the kit go by that day.
#[test]
fn a_night_shift_is_booked_on_the_day_on_which_it_begins() {
    let mut made = HandShop::new();
    let spindle = wearing(&mut made, "a", 84.0);
    let by = row(&due(&made.shop(), day(NOW)), spindle).forecast.service_by.unwrap();
    let night = by.succ_opt().unwrap();
    made.order("1", spindle, OrderState::Planned, Some(&format!("{night}T02:00")));
    let said = |made: &mut HandShop, hour: u32| {
        Arc::make_mut(&mut made.tables().settings).day_begins = chrono::NaiveTime::from_hms_opt(hour, 0, 0).unwrap();
        let list = due(&made.shop(), day(NOW));
        let row = row(&list, spindle);
        let sentence = almanac_core::due::row_sentence(row, day(NOW));
        (row.mark, row.booking.as_ref().unwrap().day, sentence)
    };
    let (mark, placed_on, sentence) = said(&mut made, 0);
    assert_eq!((mark, placed_on), (Mark::BookedLate, Some(night)));
    assert!(sentence.contains("Placed 1 day after that, which is too late."), "{sentence}");
    let (mark, placed_on, sentence) = said(&mut made, 6);
    assert_eq!((mark, placed_on), (Mark::Booked, Some(by)));
    assert!(sentence.contains("Placed on that day."), "{sentence}");
}

/// A day that is over without the work begun: told as such, and not as a service that is placed.
#[test]
fn an_order_whose_day_is_over_is_told() {
    let mut made = HandShop::new();
    let a = wearing(&mut made, "A", 84.0);
    made.order("25-007", a, OrderState::Issued, Some("2025-07-17T07:00"));
    let said = |made: &HandShop| row_sentence(row(&due(&made.shop(), day(NOW)), a), day(NOW));
    let list = due(&made.shop(), day(NOW));
    assert_eq!(row(&list, a).mark, Mark::Booked, "the state words know of no day");
    let sentence = said(&made);
    assert!(sentence.ends_with("Order 25-007 was to start on Thursday 17 July; not done."), "{sentence}");
    let table = to_table(&made.shop(), &list);
    assert!(table.contains("was Thu 17 Jul Brook"), "{table}");
    let over = |urgent: &str, rest: &str| (urgent.to_owned(), rest.to_owned());
    let one = "The day of order 25-007 of A is over and it has not begun.";
    assert_eq!(lead(&made), over(one, "One spindle needs service by 18 September."));
    let b = wearing(&mut made, "B", 84.0);
    made.order("25-008", b, OrderState::Planned, Some("2025-08-07T07:00"));
    assert_eq!(lead(&made), over(one, "Two spindles need service by 18 September; the other one is booked."));
    let c = wearing(&mut made, "C", 78.0);
    made.order("25-009", c, OrderState::Planned, Some("2025-07-19T07:00"));
    let (urgent, rest) = lead(&made);
    assert_eq!(
        urgent,
        "One spindle is past its service limit. The days of two orders are over and they have not begun."
    );
    assert_eq!(rest, "Two more need service by 18 September; the other one is booked.");
    // today is not over; work begun before it goes on; what was closed since is said of no earlier day
    let state = |made: &mut HandShop, state: OrderState, start: &str| {
        let order = &mut Arc::make_mut(&mut made.tables().orders)[0].value;
        (order.state, order.start) = (state, almanac_core::moment::Moment::parse(start));
    };
    for (as_it_is, start, expected) in [
        (OrderState::Issued, "2025-07-20T07:00", "before that."),
        (OrderState::UnderWay, "2025-07-17T07:00", "Under way since Thursday 17 July."),
        (OrderState::PartlyDone, "2025-07-17T07:00", "Partly done, begun on Thursday 17 July."),
    ] {
        state(&mut made, as_it_is, start);
        assert!(said(&made).ends_with(expected), "{}", said(&made));
        assert!(lead(&made).0.ends_with("The day of order 25-009 of C is over and it has not begun."));
    }
    state(&mut made, OrderState::Done, "2025-07-17T07:00");
    Arc::make_mut(&mut made.tables().orders)[0].value.closed_on = Some(day(NOW + 5));
    assert!(said(&made).ends_with("Placed on Thursday 17 July."), "{}", said(&made));
}

#[test]
fn an_order_without_a_day_has_no_place_yet() {
    let mut made = HandShop::new();
    let a = wearing(&mut made, "A", 84.0);
    made.order("25-007", a, OrderState::Planned, None);
    let list = due(&made.shop(), day(NOW));
    assert!(row_sentence(row(&list, a), day(NOW)).ends_with("Order 25-007 has no place yet."));
    assert!(to_table(&made.shop(), &list).contains("no place yet Brook"));
}

/// One that was taken out and still sits in its machine is no work: no date, no limit, its own sentence.
#[test]
fn a_spindle_taken_out_but_still_mounted_is_no_work() {
    let mut made = HandShop::new();
    let gone = wearing(&mut made, "gone", 69.0);
    let stopped = wearing(&mut made, "stop", 69.0);
    made.change_spindle(gone, |spindle| spindle.out_of_service_on = Some(day(199)));
    let list = due(&made.shop(), day(NOW));
    let said = |spindle| accessible_sentence(row(&list, spindle), day(NOW), Unit::Kilonewton);
    assert!(said(gone).starts_with("Spindle S-gone, HSK-A63, position gone: out of service."), "{}", said(gone));
    assert!(said(gone).ends_with("No service due. Taken out of service on 19 July."), "{}", said(gone));
    assert!(said(stopped).contains("Service now, because of force."), "{}", said(stopped));
    let table = to_table(&made.shop(), &list);
    let line = |name: &str| table.lines().find(|line| line.contains(name)).unwrap().to_owned();
    assert!(!line("S-gone").contains("now") && !line("S-gone").contains("force"), "{table}");
    assert!(line("S-stop").contains("now") && line("S-stop").contains("force"), "{table}");
    // scripts have the dates as usual
    assert_eq!(row(&list, gone).forecast.service_by, Some(day(NOW)));
}

fn lead(made: &HandShop) -> (String, String) {
    let lead = due(&made.shop(), day(NOW)).lead;
    (lead.urgent, lead.rest)
}

#[test]
fn the_lead_line_says_what_matters() {
    let said = |urgent: &str, rest: &str| (urgent.to_owned(), rest.to_owned());
    let mut made = HandShop::new();
    assert_eq!(lead(&made), said("", "No spindles yet: import a shop folder or add the first one."));
    made.spindle("S-shelf", 20.0, None);
    assert_eq!(
        lead(&made),
        said("", "No spindle is mounted, so nothing comes due; mountings.csv or the Shop page says where they sit.")
    );
    wearing(&mut made, "C", 93.0);
    let (urgent, rest) = lead(&made);
    assert_eq!(urgent, "");
    assert!(rest.starts_with("Nothing needs service by 18 September; the next is C, by "), "{rest}");
    let a = wearing(&mut made, "A", 84.0);
    assert_eq!(
        lead(&made),
        said("", "One spindle needs service by 18 September and is not booked: A, no downtime window is known for it.")
    );
    made.window("2025-07-26T07:00", "2025-07-26T13:00", Some("FREQ=WEEKLY;BYDAY=SA"));
    assert_eq!(
        lead(&made),
        said(
            "",
            "One spindle needs service by 18 September and is not booked: A, its last window is Saturday 9 August."
        )
    );
    made.order("1", a, OrderState::Planned, Some("2025-08-09T07:00"));
    assert_eq!(lead(&made), said("", "One spindle needs service by 18 September and is booked."));
    wearing(&mut made, "B", 84.0);
    assert_eq!(
        lead(&made),
        said(
            "",
            "Two spindles need service by 18 September; one of them is not booked, B: its last window is Saturday 9 August."
        )
    );
    let past = wearing(&mut made, "P", 78.0);
    assert_eq!(
        lead(&made),
        said(
            "One spindle is past its service limit, and it is not booked.",
            "Two more need service by 18 September; one of them is not booked, B: its last window is Saturday 16 August."
        )
    );
    made.order("2", past, OrderState::Planned, Some("2025-07-26T07:00"));
    let stop = wearing(&mut made, "X", 69.0);
    made.order("3", stop, OrderState::Issued, Some("2025-07-21T07:00"));
    assert_eq!(lead(&made).0, "One spindle must not run and one is past its service limit.");
    wearing(&mut made, "Y", 68.0);
    assert_eq!(lead(&made).0, "Two spindles must not run and one is past its service limit; Y is not booked.");
}

#[test]
fn a_booking_too_late_is_named() {
    let mut made = HandShop::new();
    let a = wearing(&mut made, "A", 84.0);
    made.order("1", a, OrderState::Planned, Some("2025-09-06T07:00"));
    assert_eq!(lead(&made).1, "One spindle needs service by 18 September, booked after its service-by date.");
    wearing(&mut made, "B", 84.0);
    wearing(&mut made, "C", 84.0);
    assert_eq!(
        lead(&made).1,
        "Three spindles need service by 18 September; two of them are not booked, the first of them is B: \
         no downtime window is known for it; one is booked after its service-by date."
    );
}

#[test]
fn a_row_in_sentences() {
    let mut made = HandShop::new();
    let a = wearing(&mut made, "A", 84.0);
    made.order("1", a, OrderState::Planned, Some("2025-08-07T07:00"));
    let list = due(&made.shop(), day(NOW));
    assert_eq!(
        row_sentence(row(&list, a), day(NOW)),
        "At 10.0 h a working day the force reaches 16.0 kN between 3 August and 2 January 2026; 10 % risk by 14 August. \
         Lasting loss 1.4 %, recoverable 11.7 %. Placed 7 days before that."
    );
    let whole = accessible_sentence(row(&list, a), day(NOW), Unit::Kilonewton);
    assert!(
        whole.starts_with(
            "Spindle S-A, HSK-A63, position A: booked. Force 16.8 kN, 84.0 %, reserve +4.0 %. \
             Service by Thursday 14 August, in 25 days, because of force. At 10.0 h"
        ),
        "{whole}"
    );
}

/// Whatever is on the list, nothing under its stop limit is told to run on.
#[test]
fn nothing_under_its_stop_limit_is_told_to_run() {
    let mut made = HandShop::new();
    let read = wearing(&mut made, "read", 68.0);
    let estimated = wearing(&mut made, "estimated", 71.0);
    let serviced = wearing(&mut made, "serviced", 68.0);
    made.service(serviced, day(NOW), Kind::Major);
    let list = due(&made.shop(), day(NOW));
    // 71 % on day 200 is 65 % on day 300
    let later = due(&made.shop(), day(300));
    for (list, spindle) in [(&list, read), (&list, serviced), (&later, estimated)] {
        let found = row(list, spindle);
        assert_eq!(found.mark, Mark::DoNotRun);
        assert!(found.forecast.reason.contains("do not run it until it is measured within limits"));
        assert!(list.lead.urgent.contains("must not run"), "{}", list.lead.urgent);
    }
    // the major service is proven by a reading
    made.reading(serviced, day(NOW), Phase::AsLeft, Unit::Kilonewton, &["19.5"]);
    assert_eq!(row(&due(&made.shop(), day(NOW)), serviced).mark, Mark::Clear);
}

#[test]
fn json_has_the_shape_of_the_formats() {
    let mut made = HandShop::new();
    wearing(&mut made, "A", 84.0);
    made.spindle("S-shelf", 20.0, None);
    let shop = made.shop();
    let forecast = project_plainly(&shop, day(NOW));
    let text = to_json(&shop, &forecast, &due_list(&shop, &forecast)).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    for (key, expected) in [
        ("as_of", serde_json::json!("2025-07-20")),
        ("accepted_risk", serde_json::json!(0.1)),
        ("horizon_days", serde_json::json!(1825)),
        ("worth_reading", serde_json::json!([])),
    ] {
        assert_eq!(value[key], expected);
    }
    let first = &value["spindles"][0];
    let names = [
        "spindle",
        "machine",
        "hall",
        "interface",
        "run_hours",
        "clamp_cycles",
        "hours_per_day",
        "cycles_per_day",
        "force_now_kn",
        "force_now_pct",
        "service_limit_kn",
        "stop_limit_kn",
        "reserve_pct",
        "cross_service_limit",
        "cross_stop_limit",
        "cross_setting_dimension",
        "due_calendar",
        "due_run_hours",
        "due_clamp_cycles",
        "service_by",
        "governing_limit",
        "reason",
        "recoverable_loss_pct",
        "lasting_loss_pct",
        "major_service_by",
        "state",
        "mark",
        "warnings",
    ];
    for name in names {
        assert!(first.get(name).is_some(), "{name} is missing");
    }
    assert_eq!(first["force_now_kn"]["mean"], serde_json::json!(16.807));
    assert_eq!(first["cross_service_limit"]["p10"], serde_json::json!("2025-08-14"));
    assert_eq!(first["service_by"], serde_json::json!("2025-08-14"));
    // in force, but never read
    assert_eq!(first["cross_setting_dimension"]["p50"], serde_json::Value::Null);
    assert!(
        first["cross_setting_dimension"].is_object() && first["place"].is_string() && first.get("position").is_none()
    );
    assert_eq!((&first["state"], &first["mark"]), (&serde_json::json!("in service"), &serde_json::json!("to book")));
    let shelf = &value["spindles"][1];
    assert_eq!(shelf["state"], serde_json::json!("not mounted"));
    for name in ["machine", "hall", "service_by", "governing_limit", "major_service_by"] {
        assert_eq!(shelf[name], serde_json::Value::Null, "{name}");
    }
    assert_eq!(shelf["cross_service_limit"]["p50"], serde_json::Value::Null);
}

#[test]
fn the_work_order_list_has_its_columns_and_rows() {
    let mut made = HandShop::new();
    let booked = wearing(&mut made, "A", 84.0);
    let open = wearing(&mut made, "B", 83.0);
    wearing(&mut made, "C", 93.0);
    made.order("25-002", booked, OrderState::Issued, Some("2025-08-23T07:00"));
    made.order("25-001", open, OrderState::Done, Some("2025-05-23T07:00"));
    Arc::make_mut(&mut made.tables().orders)[1].value.closed_on = Some(day(150));
    let machine = made.shop().machine_named("A").unwrap();
    let cost = almanac_core::units::Money::new(60.0);
    if let Some(machine) = Arc::make_mut(&mut made.tables().machines).get_mut(&machine) {
        machine.stop_cost_per_hour = cost;
    }
    let shop = made.shop();
    let list = due(&shop, day(NOW));
    let lines = order_lines(&shop, &list, false);
    let found: Vec<(&str, LineState, &str)> =
        lines.iter().map(|line| (line.order.as_str(), line.state, line.spindle.as_str())).collect();
    assert_eq!(found, [("", LineState::ToBook, "S-B"), ("25-002", LineState::Order(OrderState::Issued), "S-A")]);
    // half an hour of lockout and an hour and a half at 60 in a running shift
    assert_eq!(lines[1].stop_cost.map(|cost| cost.get()), Some(120.0));
    assert_eq!(lines[1].end.unwrap().to_string(), "2025-08-23T09:00");
    assert_eq!(order_lines(&shop, &list, true).len(), 3);
    let csv = orders_list::to_csv(&lines, day(NOW));
    assert!(csv.starts_with(
        "order,state,hall,machine,position,spindle,interface,service,governing_limit,reason,service_by,start,end,\
         duration_h,technician,kit,kit_ready_on,force_now_kn,force_now_pct,service_limit_kn,run_hours,clamp_cycles,\
         stop_cost,notes\r\n"
    ));
    assert!(csv.contains("\r\n25-002,issued,North,A,1,S-A,HSK-A63,minor,force,"), "{csv}");
    assert!(
        csv.contains(",2025-08-15,2025-08-23T07:00,2025-08-23T09:00,1.5,Brook,,,16.819,84.09,16,2000,,120,\r\n"),
        "{csv}"
    );
    let json: serde_json::Value = serde_json::from_str(&orders_list::to_json(&lines, day(NOW)).unwrap()).unwrap();
    assert_eq!(json.as_array().unwrap().len(), 2);
    for column in COLUMNS {
        assert!(json[0].get(column).is_some(), "{column} is missing");
    }
    assert_eq!(json[0]["order"], serde_json::Value::Null);
    assert_eq!(json[1]["stop_cost"], serde_json::json!(120));
    assert_eq!(orders_list::to_json(&[], day(NOW)).unwrap(), "[]\n");
}

fn demo() -> Shop {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let today = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), today, &NoProgress).unwrap();
    outcome.batch.apply_to(&Shop::default())
}

/// The stories of the demo as its README tells them.
#[test]
fn the_demo_tells_its_stories() {
    let shop = demo();
    let as_of = shop.settings.as_of.unwrap();
    let list = due_today(&shop, as_of);
    let of = |name: &str| list.rows.iter().find(|row| row.name == name).unwrap();
    assert_eq!(list.rows.len(), 31);
    assert_eq!(list.rows.iter().filter(|row| row.mark == Mark::OutOfService).count(), 4);
    let marked = |mark: Mark| -> Vec<&str> {
        list.rows.iter().filter(|row| row.mark == mark).map(|row| row.name.as_str()).collect()
    };
    assert_eq!(marked(Mark::DoNotRun), ["S-0126"]);
    assert_eq!(marked(Mark::PastLimit), ["S-0109"]);
    assert_eq!(marked(Mark::NoReading), ["S-0144"]);
    assert_eq!(list.lead.urgent, "One spindle must not run and one is past its service limit.");
    // the broken spring is a step, and a minor service will not mend it
    assert_eq!(of("S-0126").forecast.steps.len(), 1);
    assert_eq!(of("S-0126").service, Kind::Major);
    // most of it stays lost: a minor service would not last long
    let broken = &of("S-0126").forecast;
    assert!(broken.lasting_loss.unwrap().get() > 6.0, "{:?}", broken.lasting_loss);
    assert!(broken.steps[0].weight.get() > 80.0 && broken.steps[0].size.get() > 6.0, "{:?}", broken.steps);
    let lasting = "is lasting, as with a broken spring: a minor service will not bring it back, a major service will.";
    assert!(broken.reason.starts_with("Read under the stop limit of 31.5 kN: do not run it"), "{}", broken.reason);
    assert!(broken.reason.ends_with(lasting), "{}", broken.reason);
    let others = list.rows.iter().filter(|row| row.name != "S-0126");
    assert_eq!(others.filter(|row| row.forecast.reason.contains("lasting")).count(), 0);
    // the kit of M-06 comes after its last window
    assert_eq!(of("S-0122").kit_late, Some(KitLate::On(parse_iso_date("2026-03-26").unwrap())));
    assert_eq!(of("S-0122").forecast.service_by, parse_iso_date("2026-03-22"));
    let because = |name: &str| of(name).forecast.governing.map(almanac_core::forecast::GoverningLimit::label);
    assert_eq!(because("S-0119"), Some("clamp cycles"));
    assert_eq!(because("S-0112"), Some("setting dimension"));
    assert_eq!(because("S-0122"), Some("calendar"));
    assert_eq!(because("S-0111"), Some("run hours"));
    // as left no longer comes back
    assert!(of("S-0121").forecast.lasting_loss.unwrap().get() > 4.0);
    assert!(of("S-0121").forecast.major_service_by.unwrap() < parse_iso_date("2026-09-01").unwrap());
    // the typing error is named, and only the good strokes count
    assert!(of("S-0118").forecast.warnings.iter().any(|warning| warning.contains("169 kN")));
    assert!(to_table(&shop, &list).lines().count() > 31);
    assert_eq!(to_csv(&list).matches("\r\n").count(), 32);
}

/// Looking back, nothing later shows: the same shop without its later rows gives the same list.
#[test]
fn the_demo_on_an_earlier_day() {
    let shop = demo();
    let earlier = parse_iso_date("2025-06-01").unwrap();
    let known = shop.known_on(earlier);
    assert!(known.readings.len() < shop.readings.len());
    let (full, cut) = (due_today(&shop, earlier), due_today(&known, earlier));
    assert_eq!(full, cut);
    assert!(full.rows.iter().all(|row| row.forecast.service_by.is_none_or(|by| earlier <= by)));
    assert!(full.rows.iter().filter_map(|row| row.forecast.last_service).all(|day| day <= earlier));
}
