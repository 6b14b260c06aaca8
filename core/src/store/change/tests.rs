//! Each action with the label of its step, and what is said when it is refused.

use crate::actions::{Action, Change, ImportBatch, Recording};
use crate::downtime::{Downtime, WindowScope};
use crate::ids::{
    GaugeId, MachineId, MeterReadingId, MountingId, OrderId, PartId, ReadingId, Row, ServiceId, SpindleId, TechnicianId,
};
use crate::interface::Interface;
use crate::limits::{InterfaceLimits, LimitValues};
use crate::machine::{Machine, Position};
use crate::meter::{MeterOwner, MeterReading};
use crate::moment::{Moment, parse_iso_date};
use crate::mounting::Mounting;
use crate::order::{Order, OrderState};
use crate::part::{KitLine, Part};
use crate::reading::{Phase, Reading, Stroke};
use crate::service::{Kind, Service};
use crate::settings::ShopSettings;
use crate::spindle::Spindle;
use crate::store::{StepStamp, Store};
use crate::units::{Kilonewtons, Percent, Quantity, RunHours, Unit};
use chrono::NaiveDate;

fn day(text: &str) -> NaiveDate {
    parse_iso_date(text).unwrap()
}

fn stamp() -> StepStamp {
    StepStamp { at: day("2026-03-02").and_hms_opt(8, 0, 0).unwrap(), who: "tester".to_owned() }
}

fn hsk() -> Interface {
    Interface::parse("HSK-A63").unwrap()
}

fn spindle(name: &str) -> Spindle {
    Spindle::named(name, hsk(), Kilonewtons::new(18.0).unwrap())
}

fn place(machine: i64, number: u32) -> Position {
    Position { machine: MachineId::from_row(machine), number }
}

fn stay(spindle: i64, position: Position, from: &str, to: Option<&str>) -> Mounting {
    Mounting { spindle: SpindleId::from_row(spindle), position, mounted_on: day(from), removed_on: to.map(day) }
}

fn reading(spindle: i64, on: &str) -> Reading {
    let strokes = vec![Stroke::parse("16.9", Unit::Kilonewton).unwrap()];
    Reading::of(SpindleId::from_row(spindle), day(on).into(), Phase::Routine, Unit::Kilonewton, strokes)
}

fn service(spindle: i64, on: &str) -> Service {
    Service::of(SpindleId::from_row(spindle), day(on).into(), Kind::Minor)
}

fn meter(owner: MeterOwner, hours: f64) -> MeterReading {
    MeterReading {
        owner,
        at: day("2026-02-01").into(),
        run_hours: RunHours::new(hours),
        clamp_cycles: None,
        meter_replaced: false,
        recorded_on: None,
        replaced_on: None,
    }
}

fn order(name: &str, spindle: i64) -> Order {
    Order {
        name: name.to_owned(),
        spindle: SpindleId::from_row(spindle),
        kind: Kind::Minor,
        state: OrderState::Planned,
        opened_on: Some(day("2026-02-20")),
        service_by: None,
        start: None,
        duration: None,
        technicians: vec!["A. Berg".to_owned()],
        held: false,
        closed_on: None,
        note: String::new(),
    }
}

/// R-04 with S-0117 (installed 2025-06-01) in it since 2026-01-05; R-07 with two positions, S-0139 in
/// the second until 2026-02-10.
fn shop() -> Store {
    let mut store = Store::open_in_memory().unwrap();
    let known = Spindle { installed_on: Some(day("2025-06-01")), ..spindle("S-0117") };
    for action in [
        Action::Machine(Change::Add(Machine::named("R-04", "Router hall"))),
        Action::Machine(Change::Add(Machine { positions: 2, ..Machine::named("R-07", "Router hall") })),
        Action::Spindle(Change::Add(known)),
        Action::Spindle(Change::Add(spindle("S-0139"))),
        Action::Mounting(Change::Add(stay(1, place(1, 1), "2026-01-05", None))),
        Action::Mounting(Change::Add(stay(2, place(2, 2), "2026-01-05", Some("2026-02-10")))),
    ] {
        store.perform(action, &stamp()).unwrap();
    }
    store
}

#[track_caller]
fn done(store: &mut Store, action: Action, label: &str) {
    store.perform(action, &stamp()).unwrap();
    assert_eq!(store.undo_label().unwrap().as_deref(), Some(label));
}

#[track_caller]
fn refused(store: &mut Store, action: Action, said: &str) {
    let before = store.load_shop().unwrap();
    assert_eq!(store.perform(action, &stamp()).unwrap_err().to_string(), said);
    assert_eq!(store.load_shop().unwrap(), before);
}

/// The files know no spaces at an end of a hall, of machines as of windows.
#[test]
fn a_window_of_a_hall_has_a_hall_that_the_files_can_hold() {
    let store = &mut shop();
    let window = |hall: &str| {
        Action::Downtime(Change::Add(Downtime {
            start: Moment::day(day("2026-03-07")),
            end: Moment::day(day("2026-03-07")),
            scope: WindowScope::Hall(hall.to_owned()),
            what: String::new(),
            stop_factor: None,
            premium_per_hour: None,
            repeat: None,
        }))
    };
    let said =
        "'Router hall\n' cannot be the name of a hall: it holds spaces at an end, by which the files separate names";
    refused(store, window("Router hall\n"), said);
    refused(store, window(" "), "a hall needs a name");
    assert!(store.perform(window("Router hall"), &stamp()).is_ok());
}

#[test]
fn names_are_given_once() {
    let store = &mut shop();
    refused(
        store,
        Action::Machine(Change::Add(Machine::named("R-04", "Mill hall"))),
        "there is already a machine R-04",
    );
    refused(
        store,
        Action::Spindle(Change::Set(SpindleId::from_row(2), spindle("S-0117"))),
        "there is already a spindle S-0117",
    );
    let mut batch = ImportBatch { source: "spindles.csv".to_owned(), ..ImportBatch::default() };
    batch.spindles.added.push(Row { id: SpindleId::from_row(9), value: spindle("S-0139") });
    refused(store, Action::Import(Box::new(batch)), "there is already a spindle S-0139");
    done(
        store,
        Action::Machine(Change::Set(MachineId::from_row(1), Machine::named("R-14", "Mill hall"))),
        "Change machine R-14",
    );
    let limits = InterfaceLimits {
        interface: Some(hsk()),
        values: LimitValues { stop_limit: Percent::new(72.0), ..LimitValues::default() },
    };
    done(store, Action::InterfaceLimits(Change::Add(limits.clone())), "Add limits of HSK-A63");
    refused(store, Action::InterfaceLimits(Change::Add(limits)), "there is already a row of limits of HSK-A63");
}

#[test]
fn mountings_do_not_overlap() {
    let store = &mut shop();
    let add = |mounting| Action::Mounting(Change::Add(mounting));
    refused(
        store,
        add(stay(2, place(1, 1), "2026-02-20", None)),
        "position R-04 already holds spindle S-0117 from 2026-01-05",
    );
    refused(
        store,
        add(stay(1, place(2, 1), "2025-12-01", Some("2026-01-06"))),
        "spindle S-0117 already sits in R-04 from 2026-01-05",
    );
    refused(store, add(stay(2, place(2, 3), "2026-02-20", None)), "machine R-07 has no position 3");
    refused(
        store,
        add(stay(1, place(2, 1), "2025-05-31", Some("2025-06-02"))),
        "mounting of spindle S-0117 on 2025-05-31 lies before it was installed on 2025-06-01",
    );
    refused(
        store,
        add(stay(2, place(2, 1), "2026-02-20", Some("2026-02-20"))),
        "removed on 2026-02-20 is not after mounted on 2026-02-20",
    );
    refused(store, add(stay(9, place(2, 1), "2026-02-20", None)), "the spindle is not in the shop any more");
    // the day on which one goes out is free
    done(store, add(stay(2, place(2, 1), "2026-02-10", None)), "Add mounting of S-0139 in R-07/1");
    let earlier = Mounting { removed_on: Some(day("2026-02-01")), ..stay(2, place(2, 2), "2026-01-05", None) };
    done(store, Action::Mounting(Change::Set(MountingId::from_row(2), earlier)), "Change mounting of S-0139 in R-07/2");
    let mut batch = ImportBatch { source: "mountings.csv".to_owned(), ..ImportBatch::default() };
    batch.mountings.added.push(Row { id: MountingId::from_row(50), value: stay(1, place(2, 2), "2026-02-20", None) });
    refused(store, Action::Import(Box::new(batch)), "spindle S-0117 already sits in R-04 from 2026-01-05");
}

#[test]
fn spindles_are_exchanged_on_one_day() {
    let store = &mut shop();
    let exchange = |position, incoming: Option<i64>, on| Action::ExchangeSpindle {
        position,
        incoming: incoming.map(SpindleId::from_row),
        on: day(on),
    };
    refused(
        store,
        exchange(place(1, 1), Some(2), "2026-02-09"),
        "spindle S-0139 already sits in R-07/2 from 2026-01-05",
    );
    refused(store, exchange(place(1, 1), Some(1), "2026-02-20"), "spindle S-0117 already sits in R-04");
    refused(store, exchange(place(2, 1), None, "2026-02-20"), "R-07/1 is empty, and nothing comes in");
    refused(
        store,
        exchange(place(1, 1), Some(2), "2026-01-05"),
        "removed on 2026-01-05 is not after mounted on 2026-01-05",
    );
    done(store, exchange(place(1, 1), Some(2), "2026-02-10"), "Exchange S-0117 for S-0139 in R-04");
    let shop = store.load_shop().unwrap();
    assert_eq!(shop.position_on(SpindleId::from_row(1), day("2026-02-09")), Some(place(1, 1)));
    assert_eq!(shop.position_on(SpindleId::from_row(1), day("2026-02-10")), None);
    assert_eq!(shop.position_on(SpindleId::from_row(2), day("2026-02-10")), Some(place(1, 1)));
    done(store, exchange(place(2, 2), Some(1), "2026-02-12"), "Mount S-0117 in R-07/2");
    done(store, exchange(place(1, 1), None, "2026-02-14"), "Take S-0139 out of R-04");
    // what comes in before a later stay leaves when that begins
    store.perform(Action::Spindle(Change::Add(spindle("S-0200"))), &stamp()).unwrap();
    done(store, exchange(place(2, 2), Some(3), "2026-02-11"), "Mount S-0200 in R-07/2");
    let shop = store.load_shop().unwrap();
    let until = shop.mountings_of(SpindleId::from_row(3)).iter().find(|stay| stay.mounted_on == day("2026-02-11"));
    assert_eq!(until.and_then(|stay| stay.removed_on), Some(day("2026-02-12")));
}

#[test]
fn what_has_records_stays() {
    let store = &mut shop();
    store.perform(Action::Reading(Recording::Record(reading(1, "2026-02-02"))), &stamp()).unwrap();
    store.perform(Action::Reading(Recording::Record(reading(1, "2026-02-03"))), &stamp()).unwrap();
    refused(
        store,
        Action::Spindle(Change::Remove(SpindleId::from_row(1))),
        "spindle S-0117 cannot be removed: it has 1 mounting, 2 readings; \
         give it a day on which it goes out of service instead",
    );
    refused(
        store,
        Action::Machine(Change::Remove(MachineId::from_row(2))),
        "machine R-07 cannot be removed: it has 1 mounting; take its spindles out of it, and it has no more dates",
    );
    refused(
        store,
        Action::Machine(Change::Set(MachineId::from_row(2), Machine::named("R-07", "Router hall"))),
        "machine R-07 cannot have 1 spindle positions: position 2 has mountings",
    );
    let later = Spindle { installed_on: Some(day("2026-02-03")), ..spindle("S-0117") };
    refused(
        store,
        Action::Spindle(Change::Set(SpindleId::from_row(1), later)),
        "mounting of spindle S-0117 on 2026-01-05 lies before it was installed on 2026-02-03",
    );
    done(store, Action::Spindle(Change::Add(spindle("S-0200"))), "Add spindle S-0200");
    done(store, Action::Spindle(Change::Remove(SpindleId::from_row(3))), "Remove spindle S-0200");
}

#[test]
fn a_correction_is_a_row_of_its_own() {
    let store = &mut shop();
    done(store, Action::Reading(Recording::Record(reading(1, "2026-02-02"))), "Record reading of S-0117");
    let right = Reading { note: "read again".to_owned(), ..reading(1, "2026-02-02") };
    let first = ReadingId::from_row(1);
    refused(
        store,
        Action::Reading(Recording::Correct(first, right.clone(), day("2026-02-01"))),
        "a correction on 2026-02-01 lies before the reading of S-0117 was entered on 2026-02-02",
    );
    done(
        store,
        Action::Reading(Recording::Correct(first, right.clone(), day("2026-02-20"))),
        "Correct reading of S-0117",
    );
    let shop = store.load_shop().unwrap();
    let days: Vec<_> = shop.readings.iter().map(|row| (row.recorded_on, row.replaced_on)).collect();
    assert_eq!(days, [(None, Some(day("2026-02-20"))), (Some(day("2026-02-20")), None)]);
    let known = |on: &str| shop.known_on(day(on)).readings.iter().map(|row| row.id.row()).collect::<Vec<_>>();
    assert_eq!((known("2026-02-01"), known("2026-02-19"), known("2026-02-20")), (vec![], vec![1], vec![2]));
    refused(
        store,
        Action::Reading(Recording::Correct(first, right, day("2026-02-21"))),
        "this reading of S-0117 was already replaced on 2026-02-20",
    );
    // corrected on the day itself: entered that day, so nothing is said of it
    let same_day = reading(1, "2026-02-25");
    store.perform(Action::Reading(Recording::Record(same_day.clone())), &stamp()).unwrap();
    store
        .perform(Action::Reading(Recording::Correct(ReadingId::from_row(3), same_day, day("2026-02-25"))), &stamp())
        .unwrap();
    assert_eq!(store.load_shop().unwrap().readings.last().map(|row| row.recorded_on), Some(None));
    done(
        store,
        Action::Reading(Recording::Withdraw(ReadingId::from_row(2), day("2026-02-26"))),
        "Withdraw reading of S-0117",
    );
}

#[test]
fn a_correction_measures_what_the_reading_measured() {
    let store = &mut shop();
    store.perform(Action::Reading(Recording::Record(reading(1, "2026-02-02"))), &stamp()).unwrap();
    let of_length = |typed: &str, unit: Unit| {
        let strokes = vec![Stroke::parse(typed, unit).unwrap()];
        Reading { unit, strokes, ..reading(1, "2026-02-02") }
    };
    let correct = |row: i64, reading: Reading| {
        Action::Reading(Recording::Correct(ReadingId::from_row(row), reading, day("2026-02-20")))
    };
    refused(
        store,
        correct(1, of_length("10.52", Unit::Millimetre)),
        "the reading of S-0117 to correct is of the clamp force, not of the setting dimension: withdraw it and record \
         the setting dimension anew",
    );
    store.perform(Action::Reading(Recording::Record(of_length("10.52", Unit::Millimetre))), &stamp()).unwrap();
    refused(
        store,
        correct(2, reading(1, "2026-02-02")),
        "the reading of S-0117 to correct is of the setting dimension, not of the clamp force: withdraw it and record \
         the clamp force anew",
    );
    // another unit of the same quantity is a correction like any other
    done(store, correct(2, of_length("0.414", Unit::Inch)), "Correct reading of S-0117");
}

#[test]
fn records_belong_to_a_spindle_of_that_day() {
    let store = &mut shop();
    refused(
        store,
        Action::Reading(Recording::Record(reading(1, "2025-05-31"))),
        "reading of spindle S-0117 on 2025-05-31 lies before it was installed on 2025-06-01",
    );
    refused(
        store,
        Action::Reading(Recording::Record(reading(9, "2026-02-02"))),
        "the spindle is not in the shop any more",
    );
    let other = Reading { strokes: vec![Stroke { typed: "16.9".to_owned(), base: 16.8 }], ..reading(1, "2026-02-02") };
    refused(
        store,
        Action::Reading(Recording::Record(other)),
        "stroke 1 was typed as '16.9' kN, but its value is stored as 16.8",
    );
    let coded = Reading { note: "a\0b".to_owned(), ..reading(1, "2026-02-02") };
    refused(store, Action::Reading(Recording::Record(coded)), "reading refused: a text holds a character of code 0");
    done(
        store,
        Action::RecordService(service(1, "2026-02-02"), vec![reading(1, "2026-02-02")]),
        "Record minor service of S-0117",
    );
    refused(
        store,
        Action::RecordService(service(1, "2026-02-03"), vec![reading(2, "2026-02-03")]),
        "a reading at the service of S-0117 belongs to S-0139",
    );
    done(
        store,
        Action::Service(Recording::Withdraw(ServiceId::from_row(1), day("2026-02-04"))),
        "Withdraw minor service of S-0117",
    );
    let at_position = MeterOwner::Position(place(2, 2));
    done(store, Action::Meter(Recording::Record(meter(at_position, 812.5))), "Record meter reading of R-07/2");
    let nowhere = MeterOwner::Position(place(1, 2));
    refused(store, Action::Meter(Recording::Record(meter(nowhere, 1.0))), "machine R-04 has no position 2");
    let other =
        Action::Meter(Recording::Correct(MeterReadingId::from_row(1), meter(at_position, 815.2), day("2026-02-03")));
    done(store, other, "Correct meter reading of R-07/2");
}

#[test]
fn names_in_lists_follow_a_new_name() {
    let store = &mut shop();
    let berg = crate::crew::Technician {
        name: "A. Berg".to_owned(),
        skills: Kind::ALL.to_vec(),
        shifts: Vec::new(),
        hours_per_day: None,
        absent: Vec::new(),
    };
    store.perform(Action::Technician(Change::Add(berg.clone())), &stamp()).unwrap();
    done(store, Action::Order(Change::Add(order("26-001", 1))), "Add order 26-001");
    let closed = Order { state: OrderState::Done, closed_on: Some(day("2026-02-28")), ..order("26-002", 2) };
    store.perform(Action::Order(Change::Add(closed.clone())), &stamp()).unwrap();
    let renamed = crate::crew::Technician { name: "A. Berg-Lund".to_owned(), ..berg };
    done(store, Action::Technician(Change::Set(TechnicianId::from_row(1), renamed)), "Change technician A. Berg-Lund");
    let leads = |store: &Store| {
        let shop = store.load_shop().unwrap();
        shop.orders.iter().map(|row| row.technicians.join(";")).collect::<Vec<_>>()
    };
    assert_eq!(leads(store), ["A. Berg-Lund", "A. Berg"]);
    store.undo(&stamp()).unwrap();
    assert_eq!(leads(store), ["A. Berg", "A. Berg"]);
    let listed = Order { technicians: vec!["A;B".to_owned()], ..order("26-003", 1) };
    refused(
        store,
        Action::Order(Change::Add(listed)),
        "'A;B' cannot be the name of a technician: it holds a semicolon, by which the files separate names",
    );
    let backwards = Order { opened_on: Some(day("2026-03-01")), ..closed };
    refused(
        store,
        Action::Order(Change::Set(OrderId::from_row(2), backwards)),
        "order 26-002 ends on 2026-02-28, before it starts on 2026-03-01",
    );

    let grease = Part {
        name: "gripper grease".to_owned(),
        description: String::new(),
        on_hand: 3.0,
        unit: "tube".to_owned(),
        lead_time_days: None,
        price: None,
        reorder_point: None,
    };
    let line = KitLine { interface: hsk(), kind: Kind::Minor, part: grease.name.clone(), quantity: 1.0 };
    store.perform(Action::Part(Change::Add(grease.clone())), &stamp()).unwrap();
    store.perform(Action::KitLine(Change::Add(line.clone())), &stamp()).unwrap();
    refused(
        store,
        Action::KitLine(Change::Add(line)),
        "there is already gripper grease in the kit for a minor service of HSK-A63",
    );
    refused(
        store,
        Action::Part(Change::Remove(PartId::from_row(1))),
        "part gripper grease cannot be removed: it has kit lines: 1, deliveries: 0; remove those first",
    );
    let renamed = Part { name: "paste".to_owned(), ..grease };
    done(store, Action::Part(Change::Set(PartId::from_row(1), renamed)), "Change part paste");
    assert_eq!(store.load_shop().unwrap().kit_lines[0].part, "paste");
}

#[test]
fn several_changes_are_one_step_or_none() {
    let store = &mut shop();
    let closing = |kind: Option<Service>| {
        let mut actions = vec![Action::Order(Change::Add(order("26-001", 1)))];
        actions.extend(kind.map(|service| Action::Service(Recording::Record(service))));
        Action::Together("Close order 26-001".to_owned(), actions)
    };
    refused(store, closing(Some(service(9, "2026-02-02"))), "the spindle is not in the shop any more");
    let before = store.load_shop().unwrap();
    done(store, closing(Some(service(1, "2026-02-02"))), "Close order 26-001");
    store.undo(&stamp()).unwrap();
    assert_eq!(store.load_shop().unwrap(), before);

    let machine = Machine { positions: 2, ..Machine::named("R-09", "Mill hall") };
    let both = vec![(spindle("S-1"), 1, day("2026-02-01")), (spindle("S-2"), 2, day("2026-02-01"))];
    let clash = vec![(spindle("S-1"), 1, day("2026-02-01")), (spindle("S-2"), 1, day("2026-02-05"))];
    refused(
        store,
        Action::AddMachineWithSpindles(machine.clone(), clash),
        "position R-09/1 already holds spindle S-1 from 2026-02-01",
    );
    done(store, Action::AddMachineWithSpindles(machine, both), "Add machine R-09 with 2 spindles");
}

#[test]
fn nothing_new_is_no_step() {
    let store = &mut shop();
    done(
        store,
        Action::Settings(ShopSettings { name: "Werk".to_owned(), ..ShopSettings::default() }),
        "Change settings",
    );
    store.undo(&stamp()).unwrap();
    let same = Action::Machine(Change::Set(MachineId::from_row(1), Machine::named("R-04", "Router hall")));
    assert!(store.perform(same, &stamp()).unwrap().is_empty());
    assert_eq!(store.redo_label().unwrap().as_deref(), Some("Change settings"), "what was undone can still be redone");
    let risky = ShopSettings { accepted_risk: 0.9, ..ShopSettings::default() };
    refused(
        store,
        Action::Settings(risky),
        "'0.9' does not fit accepted_risk; expected a share from 0.001 to 0.5, such as 0.10",
    );
    let gauge =
        crate::gauge::Gauge { unit: Some(Unit::Inch), ..crate::gauge::Gauge::named("F-1", Quantity::ClampForce) };
    refused(store, Action::Gauge(Change::Add(gauge)), "gauge F-1 measures clamp force, which is not shown in in");
    refused(store, Action::Gauge(Change::Remove(GaugeId::from_row(1))), "the gauge is not in the shop any more");
}
