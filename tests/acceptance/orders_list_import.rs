//! The work-order list on its way to other systems and back.

use super::projection::project;
use almanac_core::actions::Action;
use almanac_core::due::due_list;
use almanac_core::forecast::NoProgress;
use almanac_core::ids::{Row, ServiceId};
use almanac_core::import::{ImportOutcome, Source, import, import_paths};
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::orders_list::{COLUMNS, OrderLine, order_lines, to_csv};
use almanac_core::service::{Kind, Service};
use almanac_core::shop::Shop;
use almanac_core::store::{StepStamp, Store};
use almanac_core::units::RunHours;
use almanac_tests::plain_csv;
use chrono::NaiveDate;
use proptest::prelude::*;
use std::path::Path;
use std::sync::{Arc, LazyLock};

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap()
}

/// The demo with its open orders and what is to book; projected once for all tests.
static DEMO: LazyLock<(Shop, Vec<OrderLine>)> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let outcome = import_paths(&[folder], &Shop::default(), today(), &NoProgress).unwrap();
    let shop = outcome.batch.apply_to(&Shop::default()).sorted();
    let due = due_list(&shop, &project(&shop, today()));
    let lines = order_lines(&shop, &due, true);
    (shop, lines)
});

fn read_back(shop: &Shop, csv: &str) -> ImportOutcome {
    import(&[Source::from_bytes("orders-list.csv", csv.as_bytes())], shop, today(), &NoProgress).unwrap()
}

/// The list with the cells of one order changed, as a spreadsheet would.
fn edited(csv: &str, order: &str, cells: &[(&str, &str)]) -> String {
    let mut records = plain_csv::read(csv).unwrap();
    let row = records.iter_mut().find(|record| record[0] == order).unwrap();
    for (column, text) in cells {
        let place = COLUMNS.iter().position(|known| known == column).unwrap();
        (*text).clone_into(&mut row[place]);
    }
    let quoted = |cell: &String| format!("\"{}\"", cell.replace('"', "\"\""));
    records.iter().map(|record| record.iter().map(quoted).collect::<Vec<_>>().join(",") + "\r\n").collect()
}

fn changed(outcome: &ImportOutcome) -> &Order {
    assert_eq!(outcome.report.refused, [], "{:#?}", outcome.report);
    let table = &outcome.batch.orders;
    assert_eq!((table.added.len(), table.changed.len()), (0, 1), "{:#?}", outcome.report);
    &table.changed[0].value
}

#[track_caller]
fn refused(outcome: &ImportOutcome) -> String {
    assert_eq!(outcome.report.refused_count, 1, "{:#?}", outcome.report);
    assert!(outcome.batch.is_empty(), "nothing of it comes in");
    outcome.report.refused[0].to_string()
}

#[test]
fn a_list_as_it_was_written_changes_nothing() {
    let (shop, lines) = &*DEMO;
    let outcome = read_back(shop, &to_csv(lines, today()));
    assert!(outcome.batch.is_empty(), "{:#?}", outcome.batch);
    assert!(outcome.may_apply(false), "{:#?}", outcome.report.refused);
    let to_book = lines.iter().filter(|line| line.id.is_none()).count();
    assert!(to_book > 1 && lines.len() - to_book > 100);
    assert_eq!(outcome.report.already_here(), lines.len() - to_book);
    let notes: Vec<String> = outcome.report.notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        notes,
        [
            format!("orders-list.csv: {to_book} rows to book have no order yet and were left out"),
            "orders-list.csv: a work-order list: state, service, start, duration and technician are taken from it, \
             all else in it only tells"
                .to_owned(),
        ]
    );
}

/// Every cell against a reader that is not ours.
#[test]
fn another_reader_finds_every_cell() {
    let (_, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), lines.len() + 1);
    assert_eq!(records[0].iter().collect::<Vec<_>>(), COLUMNS);
    let shown = |value: Option<f64>, decimals: i32| {
        let scale = 10.0_f64.powi(decimals);
        value.map(|value| ((value * scale).round() / scale).to_string()).unwrap_or_default()
    };
    for (record, line) in records.iter().skip(1).zip(lines) {
        let kit = match line.kit {
            Some(almanac_core::due::KitReady::Here) => "here",
            Some(almanac_core::due::KitReady::On(_)) => "on order",
            Some(almanac_core::due::KitReady::Missing) => "missing",
            None => "",
        };
        let date = |day: Option<NaiveDate>| day.map(|day| day.to_string()).unwrap_or_default();
        let expected = [
            line.order.clone(),
            line.state.label().to_owned(),
            line.hall.clone(),
            line.machine.clone(),
            line.position.map(|position| position.to_string()).unwrap_or_default(),
            line.spindle.clone(),
            line.interface.clone(),
            line.service.key().to_owned(),
            line.governing_limit.map(|limit| limit.label().to_owned()).unwrap_or_default(),
            line.reason.clone(),
            date(line.service_by),
            line.start.map(|start| start.to_string()).unwrap_or_default(),
            line.end.map(|end| end.to_string()).unwrap_or_default(),
            shown(line.duration.map(RunHours::get), 2),
            line.technicians.join("; "),
            kit.to_owned(),
            date(line.kit_ready_on(today())),
            shown(line.force_now.map(|force| force.get()), 3),
            shown(line.force_now_pct.map(|share| share.get()), 2),
            shown(Some(line.service_limit.get()), 3),
            shown(line.run_hours.map(RunHours::get), 1),
            shown(line.clamp_cycles.map(|cycles| cycles.get()), 0),
            shown(line.stop_cost.map(|cost| cost.get()), 2),
            line.notes.clone(),
        ];
        let found: Vec<&str> = record.iter().collect();
        assert_eq!(found, expected, "{}", line.order);
    }
}

#[test]
fn what_was_changed_in_a_spreadsheet_changes_the_order() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let of = |order: &str| shop.orders.iter().find(|row| row.name == order).unwrap().value.clone();
    let issued = read_back(shop, &edited(&csv, "26-041", &[("state", "issued")]));
    assert_eq!(*changed(&issued), Order { state: OrderState::Issued, ..of("26-041") });
    let moved = read_back(shop, &edited(&csv, "26-041", &[("start", "2026-03-13T12:30"), ("duration_h", "2")]));
    let start = Moment::parse("2026-03-13T12:30");
    assert_eq!(*changed(&moved), Order { start, duration: RunHours::new(2.0), ..of("26-041") });
    let given = read_back(shop, &edited(&csv, "26-041", &[("technician", "Aldous; Marlow")]));
    let technicians = vec!["Aldous".to_owned(), "Marlow".to_owned()];
    assert_eq!(*changed(&given), Order { technicians, ..of("26-041") });
    let not_done = read_back(shop, &edited(&csv, "26-038", &[("state", "NOT DONE")]));
    assert_eq!(*changed(&not_done), Order { state: OrderState::NotDone, closed_on: Some(today()), ..of("26-038") });
    // columns that only tell
    let told = read_back(
        shop,
        &edited(
            &csv,
            "26-038",
            &[("reason", "=none"), ("service_by", "2027-01-01"), ("force_now_kn", "x"), ("hall", "")],
        ),
    );
    assert!(told.batch.is_empty() && told.may_apply(false), "{:#?}", told.report);
}

#[test]
fn changes_obey_the_rules_of_the_page() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let check = |order: &str, cells: &[(&str, &str)], said: &str| {
        let sentence = refused(&read_back(shop, &edited(&csv, order, cells)));
        assert!(sentence.contains(said), "{sentence}");
    };
    check("26-041", &[("state", "under way")], "order 26-041 is planned: issue it first; go one step at a time");
    check("26-038", &[("state", "done")], "order 26-038 has no recorded service yet; record the service");
    check("26-038", &[("state", "ready")], "is not a state of an order");
    check("26-009", &[("state", "issued")], "order 26-009 is closed as done");
    check("26-009", &[("technician", "Aldous")], "is closed as done; leave closed orders as they are");
    check("26-041", &[("technician", "Nobody")], "who is no technician of this shop");
    check("26-041", &[("start", "14.3.2026")], "write it as 2026-03-14");
    check("26-041", &[("spindle", "S-0119")], "is not the spindle of order 26-041, which is S-0117");
    // Thorne is at R-04 from 7:00 to 9:00 on that day: half an hour of lockout, an hour and a half of work
    check("26-044", &[("start", "2026-03-14T08:45")], "lies at the time of 26-041, at which Thorne is");
}

/// The list with cells of several orders changed.
fn edited_all(csv: &str, orders: &[(&str, &[(&str, &str)])]) -> String {
    orders.iter().fold(csv.to_owned(), |csv, (order, cells)| edited(&csv, order, cells))
}

/// Two rows that only clash with each other: the later one is refused, whichever it is.
#[test]
fn two_rows_do_not_give_one_person_the_same_hour() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let at = [("start", "2026-05-02T07:00"), ("technician", "Brook")];
    let outcome = read_back(shop, &edited_all(&csv, &[("26-041", &at), ("26-044", &at)]));
    assert_eq!(outcome.report.refused_count, 1, "{:#?}", outcome.report);
    let sentence = outcome.report.refused[0].to_string();
    let row = 2 + lines.iter().position(|line| line.order == "26-044").unwrap();
    assert_eq!(
        sentence,
        format!(
            "orders-list.csv, row {row}, technician \"Brook\": order 26-044 lies at the time of 26-041, at which Brook \
             is; name somebody else, or another start"
        )
    );
    assert!(!outcome.may_apply(false));
    assert_eq!(changed_names(&outcome), ["26-041"], "the good row alone, where good rows are taken");
    assert_eq!((outcome.report.changed(), outcome.report.files[0].refused), (1, 1));
}

fn changed_names(outcome: &ImportOutcome) -> Vec<&str> {
    outcome.batch.orders.changed.iter().map(|row| row.value.name.as_str()).collect()
}

/// Each alone would put two people in two places.
#[test]
fn two_orders_swap_their_people() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let same_time = ("start", "2026-05-02T07:00");
    let shop = read_back(shop, &edited_all(&csv, &[("26-043", &[same_time]), ("26-044", &[same_time])]))
        .batch
        .apply_to(shop)
        .sorted();
    let csv = to_csv(&order_lines(&shop, &due_of_demo(&shop), true), today());
    let (to_thorne, to_aldous): (&[_], &[_]) = (&[("technician", "Thorne")], &[("technician", "Aldous")]);
    let one = refused(&read_back(&shop, &edited_all(&csv, &[("26-043", to_thorne)])));
    assert!(one.contains("order 26-043 lies at the time of 26-044, at which Thorne is"), "{one}");
    let both = read_back(&shop, &edited_all(&csv, &[("26-043", to_thorne), ("26-044", to_aldous)]));
    assert_eq!(both.report.refused, []);
    assert_eq!(changed_names(&both), ["26-043", "26-044"]);
}

/// A row may count on another that makes room; where that one is refused, so is the first.
#[test]
fn a_row_falls_with_the_one_it_counts_on() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let makes_room: &[(&str, &str)] = &[("start", "2026-05-02T07:00")];
    let takes_it: &[(&str, &str)] = &[("start", "2026-04-11T07:00"), ("technician", "Thorne")];
    let both = read_back(shop, &edited_all(&csv, &[("26-044", makes_room), ("26-041", takes_it)]));
    assert_eq!((both.report.refused.as_slice(), changed_names(&both)), (&[][..], vec!["26-041", "26-044"]));
    let wrong: &[(&str, &str)] = &[("start", "2026-05-02T07:00"), ("service", "major"), ("technician", "Aldous")];
    let neither = read_back(shop, &edited_all(&csv, &[("26-044", wrong), ("26-041", takes_it)]));
    assert_eq!(neither.report.refused_count, 2, "{:#?}", neither.report);
    assert!(neither.batch.is_empty());
}

/// Somebody new, and a service, from files of the same run.
#[test]
fn a_list_knows_what_comes_in_with_it() {
    let (shop, lines) = &*DEMO;
    let csv =
        edited_all(&to_csv(lines, today()), &[("26-041", &[("technician", "Fenn")]), ("26-038", &[("state", "done")])]);
    let list = || Source::from_bytes("orders-list.csv", csv.as_bytes());
    let crew = Source::from_bytes("crew.csv", *b"technician,skills\nFenn,minor\n");
    let services = Source::from_bytes("services.csv", *b"spindle,date,kind,order\nS-0109,2026-03-01,minor,26-038\n");
    let alone = import(&[list()], shop, today(), &NoProgress).unwrap();
    assert_eq!(alone.report.refused_count, 2, "{:#?}", alone.report);
    let together = import(&[list(), crew, services], shop, today(), &NoProgress).unwrap();
    assert_eq!(together.report.refused, []);
    assert_eq!(changed_names(&together), ["26-038", "26-041"]);
    assert_eq!(together.batch.orders.changed[0].value.state, OrderState::Done);
}

#[test]
fn who_leads_must_have_the_skill_of_another_service_too() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let sentence = refused(&read_back(shop, &edited(&csv, "26-043", &[("service", "major")])));
    assert!(
        sentence.contains(
            "service \"major\": order 26-043 is a major service, which Aldous does not lead; name somebody else to lead \
             it, or leave the service as it is"
        ),
        "{sentence}"
    );
    let led = read_back(shop, &edited(&csv, "26-043", &[("service", "major"), ("technician", "Brook")]));
    assert_eq!((changed(&led).kind, changed(&led).technicians.clone()), (Kind::Major, vec!["Brook".to_owned()]));
}

#[test]
fn an_order_is_done_once_its_service_is_recorded() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let mut shop = shop.clone();
    let spindle = shop.orders.iter().find(|row| row.name == "26-038").unwrap().spindle;
    let service =
        Service { order: Some("26-038".to_owned()), ..Service::of(spindle, Moment::day(today()), Kind::Minor) };
    Arc::make_mut(&mut shop.services).push(Row { id: ServiceId::from_row(99_999), value: service });
    let shop = shop.sorted();
    let done = read_back(&shop, &edited(&csv, "26-038", &[("state", "done")]));
    assert_eq!((changed(&done).state, changed(&done).closed_on), (OrderState::Done, Some(today())));
}

/// A number and a state typed into a row to book open an order, with the checks of any other.
#[test]
fn a_row_to_book_becomes_an_order_by_its_number() {
    let (shop, lines) = &*DEMO;
    let csv = to_csv(lines, today());
    let first = lines.iter().find(|line| line.id.is_none()).unwrap();
    let cells = [("order", "26-050"), ("state", "planned"), ("start", "2026-03-21T07:00"), ("technician", "Brook")];
    let mut records = plain_csv::read(&csv).unwrap();
    records.retain(|record| record[5] == first.spindle || record[0] == "order");
    for record in records.iter_mut().filter(|record| record[1] == "to book") {
        for (column, text) in cells {
            text.clone_into(&mut record[COLUMNS.iter().position(|known| *known == column).unwrap()]);
        }
    }
    let text: String = records
        .iter()
        .map(|record| {
            record.iter().map(|cell| format!("\"{}\"", cell.replace('"', "\"\""))).collect::<Vec<_>>().join(",")
                + "\r\n"
        })
        .collect();
    let outcome = read_back(shop, &text);
    assert_eq!(outcome.report.refused, [], "{:#?}", outcome.report);
    let [added] = &outcome.batch.orders.added[..] else { panic!("{:#?}", outcome.batch.orders) };
    assert_eq!((added.name.as_str(), added.spindle, added.state), ("26-050", first.spindle_id, OrderState::Planned));
    assert_eq!((added.opened_on, added.service_by), (Some(today()), first.service_by));
    assert_eq!(added.technicians, ["Brook"]);
}

/// Through a file, with the formula guard, into a real shop file, and undone in one step.
#[test]
fn a_changed_list_is_one_step_in_the_shop_file() {
    let (shop, lines) = &*DEMO;
    let scratch = tempfile::tempdir().unwrap();
    let mut store = Store::create(&scratch.path().join("works.almanac")).unwrap();
    let stamp = StepStamp { at: today().and_hms_opt(8, 0, 0).unwrap(), who: "tester".to_owned() };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let demo = import_paths(&[folder], &Shop::default(), today(), &NoProgress).unwrap();
    store.perform(Action::Import(Box::new(demo.batch)), &stamp).unwrap();
    let before = store.load_shop().unwrap();
    assert!(before.same_content(shop));
    let csv = edited(&to_csv(lines, today()), "26-041", &[("state", "issued"), ("technician", "Aldous")]);
    let outcome = read_back(&before, &csv);
    store.perform(Action::Import(Box::new(outcome.batch)), &stamp).unwrap();
    let after = store.load_shop().unwrap();
    let order = after.orders.iter().find(|row| row.name == "26-041").unwrap();
    assert_eq!((order.state, order.technicians.clone()), (OrderState::Issued, vec!["Aldous".to_owned()]));
    assert!(read_back(&after, &csv).batch.is_empty(), "a second time it is already here");
}

fn any_name() -> impl Strategy<Value = String> {
    // what an order or a person may be called: a line, no semicolon, no space around it
    "[=+@'\"a-zA-Z0-9äß,.:/()_-][=+@'\" a-zA-Z0-9äß,.:/()_-]{0,10}[=+@'\"a-zA-Z0-9äß,.:/()_-]"
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever orders and people are called, and however long a service takes, the list comes back
    /// as no change.
    #[test]
    fn any_list_comes_back_as_no_change(
        names in prop::collection::btree_set(any_name(), 6),
        people in prop::collection::vec(any_name(), 0..3),
        minutes in 1_u32..2_000,
        states in prop::collection::vec(0_usize..6, 6),
    ) {
        let (shop, _) = &*DEMO;
        let mut shop = shop.clone();
        let orders = Arc::make_mut(&mut shop.orders);
        let open = orders.iter_mut().filter(|row| row.closed_on.is_none());
        for ((row, name), state) in open.zip(&names).zip(&states) {
            row.value.name.clone_from(name);
            row.value.technicians.clone_from(&people);
            row.value.duration = RunHours::new(f64::from(minutes) / 60.0);
            row.value.state = OrderState::ALL[*state];
            row.value.closed_on = (!row.value.state.is_open()).then(today);
        }
        let due = due_of_demo(&shop);
        let lines = order_lines(&shop, &due, true);
        let outcome = read_back(&shop, &to_csv(&lines, today()));
        prop_assert!(outcome.batch.is_empty(), "{:#?}", outcome.batch.orders);
        prop_assert_eq!(outcome.report.refused_count, 0, "{:#?}", outcome.report.refused);
    }
}

/// The due list of a shop with the demo's spindles and other orders: the projection stays.
fn due_of_demo(shop: &Shop) -> almanac_core::due::DueList {
    static FORECAST: LazyLock<almanac_core::forecast::ShopForecast> = LazyLock::new(|| project(&DEMO.0, today()));
    due_list(shop, &FORECAST)
}
