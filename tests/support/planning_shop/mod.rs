//! Shops made by chance for plans: something is due in every week, and everything a plan must heed
//! is scarce, cut by midnight, closed, absent or out.

#![expect(clippy::unwrap_used, reason = "only tests use it; a panic tells them")]

pub mod planned;

use crate::fleet::Dice;
use crate::random_shop::random_shop;
use almanac_core::actions::{Action, Change};
use almanac_core::closure::Closure;
use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::gauge::Gauge;
use almanac_core::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, KitLineId, MachineId, MountingId, OrderId, PartId, Row, SpindleId,
    TechnicianId,
};
use almanac_core::machine::{Machine, Position};
use almanac_core::moment::{DayRange, Moment};
use almanac_core::mounting::Mounting;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{Delivery, KitLine, Part};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{Minutes, Money, Percent, Quantity, RunHours};
use chrono::{Days, NaiveDate, NaiveTime};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The present of every planning shop: a Monday, four weeks before clocks change.
#[must_use]
pub fn present() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap()
}

fn after(days: u64) -> NaiveDate {
    present().checked_add_days(Days::new(days)).unwrap()
}

/// A shop made by chance from a seed, ready for a plan from [`present`].
#[must_use]
pub fn planning_shop(seed: u64) -> Shop {
    let mut shop = random_shop(seed);
    let mut dice = Dice::new(seed ^ 0xA5A5);
    let mut below = |count: u64| ((dice.unit() * count as f64) as u64).min(count - 1);
    let settings = Arc::make_mut(&mut shop.settings);
    settings.as_of = Some(present());
    settings.accepted_risk = 0.10;
    settings.day_begins = NaiveTime::from_hms_opt([0, 0, 6][below(3) as usize], 0, 0).unwrap();
    settings.lockout = Minutes::new([0.0, 30.0, 45.0][below(3) as usize]).unwrap();
    settings.order_pattern = "YY-NNN".to_owned();

    let halls = ["North", "South"];
    let machines: BTreeMap<MachineId, Machine> = (1..=7_i64)
        .map(|row| {
            let mut machine = Machine::named(&format!("M-{row}"), halls[below(2) as usize]);
            machine.positions = 1 + below(2) as u32;
            machine.line = (below(3) == 0).then(|| "cell".to_owned());
            machine.stop_cost_per_hour = Money::new(below(200) as f64);
            (MachineId::from_row(row), machine)
        })
        .collect();
    let positions: Vec<Position> = machines
        .iter()
        .flat_map(|(id, machine)| (1..=machine.positions).map(|number| Position { machine: *id, number }))
        .collect();
    let spindles = Arc::make_mut(&mut shop.spindles);
    for (nth, spindle) in spindles.values_mut().enumerate() {
        // a calendar interval of one to eight months counts from the installation
        spindle.installed_on = Some(present().checked_sub_days(Days::new(20 + below(60))).unwrap());
        spindle.limits.every_months = Some(1 + below(8) as u32);
        spindle.out_of_service_on = (nth == 6).then(present);
        spindle.not_before = None;
    }
    let mountings = spindles.keys().zip(&positions).map(|(spindle, position)| Mounting {
        spindle: *spindle,
        position: *position,
        mounted_on: spindle_day(),
        removed_on: None,
    });
    shop.mountings = table(mountings.collect(), MountingId::from_row);
    shop.machines = Arc::new(machines);
    shop.readings = Arc::default();
    shop.meters = Arc::default();
    shop.services = Arc::default();

    let ids: Vec<MachineId> = shop.machines.keys().copied().collect();
    let mut downtimes = Vec::new();
    for _ in 0..5 {
        let start = after(below(20)).and_hms_opt([6, 7, 14, 21, 22][below(5) as usize], [0, 30][below(2) as usize], 0);
        let start = start.unwrap();
        let end = start + chrono::TimeDelta::minutes(90 + 30 * below(16) as i64);
        let moment = |at: chrono::NaiveDateTime| Moment { date: at.date(), time: Some(at.time()) };
        downtimes.push(Downtime {
            start: moment(start),
            end: moment(end),
            scope: match below(4) {
                0 => WindowScope::AllHalls,
                1 => WindowScope::Machine(ids[below(7) as usize]),
                _ => WindowScope::Hall(halls[below(2) as usize].to_owned()),
            },
            what: "downtime".to_owned(),
            stop_factor: Percent::new([5.0, 15.0, 40.0, 100.0][below(4) as usize]),
            premium_per_hour: Money::new(below(20) as f64),
            repeat: (below(3) > 0).then(|| "FREQ=WEEKLY".to_owned()),
        });
    }
    shop.downtimes = table(downtimes, DowntimeId::from_row);
    let closure = |from: u64, length: u64| Closure {
        days: DayRange { first: after(from), last: after(from + length) },
        what: "closed".to_owned(),
    };
    shop.closures = table(vec![closure(30 + below(10), 3), closure(80, 1 + below(12))], ClosureId::from_row);

    let shifts =
        ["Mon-Fri 06:00-14:00; Sat 07:00-13:00", "Mon-Sun 14:00-22:00", "Sun-Thu 21:00-05:00; Sat 06:00-18:00"];
    let mut crew = Vec::new();
    for (name, skills) in [("Brook", 2), ("Thorne", 1), ("Marlow", 2)] {
        crew.push(Technician {
            name: name.to_owned(),
            skills: Kind::ALL.into_iter().take(skills).collect(),
            shifts: parse_shifts(shifts[below(3) as usize]).unwrap(),
            hours_per_day: (below(2) == 0).then(|| RunHours::new(3.0 + below(5) as f64).unwrap()),
            absent: vec![DayRange { first: after(below(60)), last: after(60 + below(9)) }; below(2) as usize],
        });
    }
    shop.technicians = table(crew, TechnicianId::from_row);

    let gauge = |name: &str, per_day: Option<u32>, due: Option<NaiveDate>, out: Vec<DayRange>| Gauge {
        services_per_day: per_day,
        calibration_due: due,
        out,
        ..Gauge::named(name, Quantity::ClampForce)
    };
    let away = DayRange { first: after(20), last: after(40 + below(30)) };
    shop.gauges = table(
        vec![
            gauge("G-1", Some(1 + below(2) as u32), Some(after(60 + below(90))), vec![away]),
            gauge(
                "G-2",
                [None, Some(1)][below(2) as usize],
                None,
                vec![DayRange { first: after(0), last: after(below(50)) }],
            ),
        ],
        GaugeId::from_row,
    );
    let kinds = Arc::make_mut(&mut shop.service_kinds);
    for kind in kinds.iter_mut() {
        kind.value.minutes = Minutes::new(45.0 + 15.0 * below(12) as f64).unwrap();
        kind.value.gauge_quantity = [None, Some(Quantity::SettingDimension)][usize::from(below(4) == 0)];
    }
    let interfaces: Vec<_> = shop.spindles.values().map(|spindle| spindle.interface.clone()).collect();
    let mut kits = Vec::new();
    for interface in &interfaces {
        for kind in Kind::ALL {
            kits.push(KitLine { interface: interface.clone(), kind, part: "seal".to_owned(), quantity: 1.0 });
            kits.push(KitLine { interface: interface.clone(), kind, part: "grease".to_owned(), quantity: 0.25 });
        }
    }
    kits.sort_by(|a, b| (&a.interface, a.kind, &a.part).cmp(&(&b.interface, b.kind, &b.part)));
    kits.dedup_by(|a, b| (&a.interface, a.kind, &a.part) == (&b.interface, b.kind, &b.part));
    shop.kit_lines = table(kits, KitLineId::from_row);
    let part = |name: &str, on_hand: f64, lead: Option<u32>| Part {
        name: name.to_owned(),
        description: String::new(),
        on_hand,
        unit: String::new(),
        lead_time_days: lead,
        price: Money::new(50.0),
        reorder_point: Some(1.0),
    };
    let lead = [None, Some(20), Some(90)][below(3) as usize];
    shop.parts = table(vec![part("seal", below(4) as f64, lead), part("grease", 0.5, Some(30))], PartId::from_row);
    let delivery = |quantity: f64, on: NaiveDate| Delivery {
        part: "seal".to_owned(),
        expected_on: on,
        quantity,
        note: String::new(),
    };
    shop.deliveries = table(vec![delivery(2.0, after(15 + below(60))), delivery(1.0, after(2))], DeliveryId::from_row);

    let mut orders = Vec::new();
    for (nth, spindle) in shop.spindles.keys().enumerate().take(3) {
        let start = after(1 + below(40)).and_time(NaiveTime::from_hms_opt(7 + below(8) as u32, 0, 0).unwrap());
        orders.push(Order {
            name: format!("26-00{}", nth + 1),
            spindle: *spindle,
            kind: Kind::Minor,
            state: [OrderState::Planned, OrderState::Planned, OrderState::Issued][below(3) as usize],
            opened_on: Some(present()),
            service_by: None,
            start: (below(5) > 0).then(|| Moment { date: start.date(), time: Some(start.time()) }),
            duration: RunHours::new(1.5),
            technicians: vec![["Brook", "Marlow", "somebody"][below(3) as usize].to_owned()],
            held: below(3) == 0,
            closed_on: None,
            note: String::new(),
        });
    }
    shop.orders = table(orders, OrderId::from_row);
    shop.sorted()
}

fn spindle_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2025, 12, 1).unwrap()
}

fn table<I, T>(rows: Vec<T>, id: fn(i64) -> I) -> Arc<Vec<Row<I, T>>> {
    Arc::new(rows.into_iter().zip(1..).map(|(value, row)| Row { id: id(row), value }).collect())
}

/// The shop after its orders were changed by an action, without a file.
///
/// # Panics
/// Where the action changes anything but orders.
#[must_use]
pub fn after_orders(shop: &Shop, action: &Action) -> Shop {
    let mut shop = shop.clone();
    let Action::Together(_, steps) = action else { panic!("not one step: {action:?}") };
    let orders = Arc::make_mut(&mut shop.orders);
    for step in steps {
        match step {
            Action::Order(Change::Add(order)) => {
                let id = OrderId::from_row(1 + orders.iter().map(|row| row.id.row()).max().unwrap_or(0));
                orders.push(Row { id, value: order.clone() });
            }
            Action::Order(Change::Set(id, order)) => {
                orders.iter_mut().find(|row| row.id == *id).unwrap().value = order.clone();
            }
            other => panic!("changes more than orders: {other:?}"),
        }
    }
    shop
}

/// The position of a spindle of a planning shop.
#[must_use]
pub fn machine_of(shop: &Shop, spindle: SpindleId) -> MachineId {
    shop.position_on(spindle, present()).unwrap().machine
}
