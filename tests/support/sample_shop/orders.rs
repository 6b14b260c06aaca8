//! Services done and the work orders around them: closed ones of the past, open ones booked into the coming windows.

use super::csv::Table;
use super::day::{Day, day};
use super::notes::of_service;
use super::random::Random;
use super::readings::{led_by, standing};
use super::wear::Life;

/// One row of `orders.csv`.
struct Order {
    number: String,
    spindle: &'static str,
    kind: &'static str,
    state: &'static str,
    opened_on: Day,
    service_by: Day,
    start: String,
    hours: f64,
    technician: String,
    held: &'static str,
    closed_on: Option<Day>,
}

/// One row of `services.csv`.
struct Done {
    on: Day,
    spindle: &'static str,
    fields: [String; 10],
}

/// Makes `services.csv` and `orders.csv` together, since the one names the other.
pub(super) fn services_and_orders(lives: &[Life]) -> (String, String) {
    let mut done = Vec::new();
    let mut orders = Vec::new();
    for life in lives {
        for (at, service) in life.services.iter().enumerate() {
            let spindle = life.spindle;
            let mut chance = Random::new(&format!("order {} {}", spindle.name, service.on));
            let kind = if service.major { "major" } else { "minor" };
            let planned = minutes(spindle.interface, service.major) / 60.0;
            let in_machine = standing(spindle, service.on).is_some();
            let stop = planned * chance.between(0.85, 1.2);
            let technician = led_by(spindle, service.on, service.major);
            let mut findings = of_service(&mut chance, service.major);
            if spindle.name == "S-0117" && service.on == day(2025, 4, 12) {
                findings = "gripper dry";
            }
            let mark = format!("{} {}", spindle.name, service.on);
            let (number, who) = if in_machine { (mark.clone(), technician) } else { (String::new(), "") };
            done.push(Done {
                on: service.on,
                spindle: spindle.name,
                fields: [
                    spindle.name.to_owned(),
                    service.on.to_string(),
                    kind.to_owned(),
                    number,
                    who.to_owned(),
                    if in_machine { format!("{stop:.1}") } else { String::new() },
                    findings.to_owned(),
                    parts_used(spindle.interface, service.major, &mut chance),
                    note(life, at, in_machine).to_owned(),
                    String::new(),
                ],
            });
            if in_machine {
                orders.push(closed(life, at, mark, planned, &mut chance));
            }
        }
    }
    specials(lives, &mut orders);
    number(&mut orders, &mut done);
    orders.extend(open());
    done.sort_by(|a, b| (a.on, a.spindle).cmp(&(b.on, b.spindle)));
    let mut services =
        Table::new("spindle,date,kind,order,technician,stop_hours,findings,parts,note,recorded_on,replaced_on");
    for row in &done {
        services.row(&row.fields);
    }
    (services.finish(), orders_table(&orders))
}

/// Minutes a service is planned with.
fn minutes(interface: &str, major: bool) -> f64 {
    match (interface, major) {
        ("HSK-E40", false) => 75.0,
        ("HSK-A63" | "HSK-F63", false) => 90.0,
        (_, false) => 120.0,
        ("HSK-A100" | "PSC 63" | "7/24 50", true) => 330.0,
        (_, true) => 270.0,
    }
}

/// Planned minutes of a minor and a major service, as typed.
pub(super) fn minutes_of(interface: &str) -> (String, String) {
    (minutes(interface, false).to_string(), minutes(interface, true).to_string())
}

/// What a service took from the store.
fn parts_used(interface: &str, major: bool, chance: &mut Random) -> String {
    let grease = chance.whole(10, 18);
    if major {
        format!("gripper {interface}=1;spring pack {interface}=1;service set {interface}=1;gripper grease={grease}")
    } else if chance.chance(0.85) {
        format!("service set {interface}=1;gripper grease={grease}")
    } else {
        format!("gripper grease={grease}")
    }
}

/// A remark on a service, where the story has one.
fn note(life: &Life, at: usize, in_machine: bool) -> &'static str {
    let from_last = life.services.len() - at;
    match (life.spindle.name, from_last) {
        _ if !in_machine => "done by the rebuilder, test sheet in the folder",
        ("S-0121", 1) => "as left lower again; next time gripper and spring pack",
        ("S-0121", 2) => "does not come back to 95 %, although cleaned twice",
        ("S-0112", 1) => "lock nut secured with a new tab washer; watch the setting dimension",
        ("S-0101", 1) => "taper fretted, as left only just acceptable",
        ("S-0132", 3) => "second part of the job begun a week before",
        _ => "",
    }
}

/// The order of a service that was done.
fn closed(life: &Life, at: usize, mark: String, planned: f64, chance: &mut Random) -> Order {
    let service = &life.services[at];
    let saturday = service.on.weekday() == 5;
    let second = if planned > 5.0 && chance.chance(0.3) { ";Brook" } else { "" };
    let lead = led_by(life.spindle, service.on, service.major);
    let technician = if lead == "Brook" { lead.to_owned() } else { format!("{lead}{second}") };
    Order {
        number: mark,
        spindle: life.spindle.name,
        kind: if service.major { "major" } else { "minor" },
        state: "done",
        opened_on: service.on.plus(-chance.whole(9, 33)).max(super::day::START.plus(1)),
        service_by: service.on.plus(chance.whole(-4, 21)),
        start: format!("{}T{}", service.on, if saturday { "07:00" } else { "12:00" }),
        hours: planned,
        technician,
        held: if chance.chance(0.1) { "yes" } else { "no" },
        closed_on: Some(if chance.chance(0.7) { service.on } else { service.on.plus(2) }),
    }
}

/// One order only partly done and one not done at all, both followed by the one that was.
fn specials(lives: &[Life], orders: &mut Vec<Order>) {
    for (name, from_last, before, state) in [("S-0132", 3, 7, "partly done"), ("S-0103", 2, 14, "not done")] {
        let Some(life) = lives.iter().find(|life| life.spindle.name == name) else { continue };
        let Some(service) = life.services.len().checked_sub(from_last).map(|at| &life.services[at]) else { continue };
        let on = service.on.plus(-before);
        orders.push(Order {
            number: format!("{name} {on} {state}"),
            spindle: life.spindle.name,
            kind: "minor",
            state,
            opened_on: on.plus(-20),
            service_by: service.on.plus(3),
            start: format!("{on}T07:00"),
            hours: minutes(life.spindle.interface, false) / 60.0,
            technician: "Aldous".to_owned(),
            held: "no",
            closed_on: Some(on),
        });
    }
}

/// Gives numbers in the order of opening. Other repairs share the numbers, hence the gaps.
fn number(orders: &mut [Order], done: &mut [Done]) {
    orders.sort_by(|a, b| (a.opened_on, &a.number).cmp(&(b.opened_on, &b.number)));
    let mut chance = Random::new("order numbers");
    let (mut year, mut count) = (0, 0);
    for order in orders {
        if order.opened_on.year() != year {
            (year, count) = (order.opened_on.year(), 0);
        }
        count += chance.whole(1, 6);
        let number = format!("{:02}-{count:03}", year % 100);
        for row in done.iter_mut().filter(|row| row.fields[3] == order.number) {
            row.fields[3].clone_from(&number);
        }
        order.number = number;
    }
}

/// The open orders, as they stand on the last day.
fn open() -> Vec<Order> {
    let row = |number: &str, spindle, state, opened_on, service_by, start: &str, hours, technician: &str, held| Order {
        number: number.to_owned(),
        spindle,
        kind: if spindle == "S-0126" { "major" } else { "minor" },
        state,
        opened_on,
        service_by,
        start: start.to_owned(),
        hours,
        technician: technician.to_owned(),
        held,
        closed_on: None,
    };
    let feb = |on| day(2026, 2, on);
    vec![
        row("26-036", "S-0126", "issued", feb(12), day(2026, 3, 2), "2026-03-02T08:00", 5.5, "Brook", "yes"),
        row("26-038", "S-0109", "issued", feb(19), day(2026, 2, 24), "2026-03-07T07:00", 1.5, "Thorne", "no"),
        row("26-041", "S-0117", "planned", feb(20), day(2026, 3, 17), "2026-03-14T07:00", 1.5, "Thorne", "yes"),
        row("26-043", "S-0119", "planned", feb(23), day(2026, 4, 2), "2026-03-28T07:00", 1.5, "Aldous", "no"),
        row("26-044", "S-0108", "planned", feb(25), day(2026, 4, 14), "2026-04-11T07:00", 1.5, "Thorne", "no"),
        row("26-046", "S-0130", "planned", feb(27), day(2026, 4, 27), "2026-04-25T07:00", 2.0, "Marlow", "no"),
    ]
}

/// `orders.csv`.
fn orders_table(orders: &[Order]) -> String {
    let mut table =
        Table::new("order,spindle,kind,state,opened_on,service_by,start,duration_h,technician,held,closed_on");
    for order in orders {
        table.row(&[
            order.number.clone(),
            order.spindle.to_owned(),
            order.kind.to_owned(),
            order.state.to_owned(),
            order.opened_on.to_string(),
            order.service_by.to_string(),
            order.start.clone(),
            order.hours.to_string(),
            order.technician.clone(),
            order.held.to_owned(),
            order.closed_on.map_or_else(String::new, |on| on.to_string()),
        ]);
    }
    table.finish()
}
