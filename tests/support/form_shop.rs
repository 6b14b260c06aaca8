//! A small shop, made by hand, for tests of forms: two mounted spindles, a spare, gauges, an order.

use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::forecast::{
    CrossedBy, Estimate, FanDay, ForecastConfig, PathPoint, ShopForecast, SpindleForecast, SpindleState,
};
use almanac_core::gauge::Gauge;
use almanac_core::ids::{
    GaugeId, KitLineId, MachineId, MeterReadingId, MountingId, OrderId, PartId, ReadingId, Row, ServiceId, SpindleId,
    TechnicianId,
};
use almanac_core::interface::Interface;
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::{Moment, parse_iso_date};
use almanac_core::mounting::Mounting;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{KitLine, Part};
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service};
use almanac_core::settings::ShopSettings;
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::units::{ClampCycles, Kilonewtons, Millimetres, Percent, Quantity, RunHours, Unit};
use chrono::{Days, NaiveDate};
use std::sync::Arc;

/// The spindle in R-05: HSK-F63, nominal 11 kN, expected near 10.1 kN.
pub const S_0104: SpindleId = SpindleId::from_row(1);
/// The spindle in R-04: HSK-A63, nominal 18 kN, with an open order.
pub const S_0117: SpindleId = SpindleId::from_row(2);
/// A spare on the shelf: HSK-A63.
pub const S_0139: SpindleId = SpindleId::from_row(3);
/// The day that stands for now.
pub const PRESENT: &str = "2026-03-02";

/// A day by its text; the epoch where it is none.
#[must_use]
pub fn day(text: &str) -> NaiveDate {
    parse_iso_date(text).unwrap_or_default()
}

fn kn(value: f64) -> Kilonewtons {
    Kilonewtons::new(value).unwrap_or_default()
}

fn spindle(name: &str, interface: &str, nominal: f64) -> Option<Spindle> {
    Some(Spindle::named(name, Interface::parse(interface)?, kn(nominal)))
}

fn reading(id: i64, spindle: SpindleId, on: &str, phase: Phase, strokes: &[&str]) -> Row<ReadingId, Reading> {
    let strokes = strokes.iter().filter_map(|typed| Stroke::parse(typed, Unit::Kilonewton)).collect();
    let value = Reading {
        gauge: Some("G-02".to_owned()),
        technician: Some("Thorne".to_owned()),
        ..Reading::of(spindle, Moment::day(day(on)), phase, Unit::Kilonewton, strokes)
    };
    Row { id: ReadingId::from_row(id), value }
}

fn meter(id: i64, spindle: SpindleId, on: &str, hours: f64, cycles: f64) -> Row<MeterReadingId, MeterReading> {
    let value = MeterReading {
        owner: MeterOwner::Spindle(spindle),
        at: Moment::day(day(on)),
        run_hours: RunHours::new(hours),
        clamp_cycles: ClampCycles::new(cycles),
        meter_replaced: false,
        recorded_on: None,
        replaced_on: None,
    };
    Row { id: MeterReadingId::from_row(id), value }
}

fn mounting(id: i64, spindle: SpindleId, machine: i64, on: &str) -> Row<MountingId, Mounting> {
    let position = Position { machine: MachineId::from_row(machine), number: 1 };
    Row { id: MountingId::from_row(id), value: Mounting { spindle, position, mounted_on: day(on), removed_on: None } }
}

fn gauge(id: i64, name: &str, quantity: Quantity, unit: Unit, due: &str) -> Row<GaugeId, Gauge> {
    let value = Gauge {
        unit: Some(unit),
        range_max: Some(if quantity == Quantity::ClampForce { 60.0 } else { 25.0 }),
        calibration_due: Some(day(due)),
        ..Gauge::named(name, quantity)
    };
    Row { id: GaugeId::from_row(id), value }
}

fn part(id: i64, name: &str, on_hand: f64, unit: &str) -> Row<PartId, Part> {
    let value = Part {
        name: name.to_owned(),
        description: String::new(),
        on_hand,
        unit: unit.to_owned(),
        lead_time_days: Some(21),
        price: None,
        reorder_point: None,
    };
    Row { id: PartId::from_row(id), value }
}

fn technician(id: i64, name: &str) -> Row<TechnicianId, Technician> {
    let value = Technician {
        name: name.to_owned(),
        skills: vec![Kind::Minor],
        shifts: parse_shifts("Mon-Fri 06:00-14:00").unwrap_or_default(),
        hours_per_day: None,
        absent: Vec::new(),
    };
    Row { id: TechnicianId::from_row(id), value }
}

/// The shop.
#[must_use]
pub fn shop() -> Shop {
    let spindles = [
        (S_0104, spindle("S-0104", "HSK-F63", 11.0)),
        (S_0117, spindle("S-0117", "HSK-A63", 18.0)),
        (S_0139, spindle("S-0139", "HSK-A63", 18.0)),
    ];
    let order = Order {
        name: "26-014".to_owned(),
        spindle: S_0117,
        kind: Kind::Minor,
        state: OrderState::Issued,
        opened_on: Some(day("2026-02-10")),
        service_by: Some(day("2026-03-20")),
        start: Some(Moment::day(day("2026-03-02"))),
        duration: RunHours::new(1.5),
        technicians: vec!["Thorne".to_owned()],
        held: false,
        closed_on: None,
        note: String::new(),
    };
    let service = Service {
        technician: Some("Ibarra".to_owned()),
        ..Service::of(S_0104, Moment::day(day("2025-06-12")), Kind::Minor)
    };
    let grease = Interface::parse("HSK-A63").map(|interface| KitLine {
        interface,
        kind: Kind::Minor,
        part: "gripper grease".to_owned(),
        quantity: 1.0,
    });
    Shop {
        settings: Arc::new(ShopSettings {
            name: "Ottermere Pattern & Joinery".to_owned(),
            as_of: Some(day(PRESENT)),
            ..ShopSettings::default()
        }),
        machines: Arc::new(
            [
                (MachineId::from_row(1), Machine::named("R-05", "Router hall")),
                (MachineId::from_row(2), Machine::named("R-04", "Router hall")),
            ]
            .into(),
        ),
        spindles: Arc::new(spindles.into_iter().filter_map(|(id, value)| Some((id, value?))).collect()),
        mountings: Arc::new(vec![mounting(1, S_0104, 1, "2024-05-02"), mounting(2, S_0117, 2, "2023-01-09")]),
        meters: Arc::new(vec![
            meter(1, S_0104, "2026-01-21", 11_604.0, 148_000.0),
            meter(2, S_0117, "2026-02-16", 15_012.0, 240_116.0),
        ]),
        readings: Arc::new(vec![
            reading(1, S_0104, "2025-06-12", Phase::AsLeft, &["10.9", "10.9"]),
            reading(2, S_0104, "2026-01-21", Phase::Routine, &["10.1", "10.2"]),
            reading(3, S_0117, "2025-05-20", Phase::AsLeft, &["17.6", "17.5"]),
            reading(4, S_0117, "2026-02-16", Phase::Routine, &["14.6", "14.7", "14.6"]),
        ]),
        services: Arc::new(vec![Row { id: ServiceId::from_row(1), value: service }]),
        gauges: Arc::new(vec![
            gauge(1, "G-01", Quantity::ClampForce, Unit::PoundForce, "2026-02-14"),
            gauge(2, "G-02", Quantity::ClampForce, Unit::Kilonewton, "2026-04-30"),
            gauge(3, "D-01", Quantity::SettingDimension, Unit::Millimetre, "2026-09-30"),
        ]),
        technicians: Arc::new(vec![technician(1, "Ibarra"), technician(2, "Thorne")]),
        parts: Arc::new(vec![part(1, "gripper grease", 3.0, "tube"), part(2, "gripper set", 0.0, "set")]),
        kit_lines: Arc::new(grease.map(|value| Row { id: KitLineId::from_row(1), value }).into_iter().collect()),
        orders: Arc::new(vec![Row { id: OrderId::from_row(1), value: order }]),
        ..Shop::default()
    }
    .sorted()
}

/// A projection of the shop with figures set by hand: straight lines, so that a test can say what
/// a form must show.
#[must_use]
pub fn forecast(shop: &Shop) -> ShopForecast {
    let as_of = day(PRESENT);
    let spindles = shop
        .spindles
        .iter()
        .map(|(id, spindle)| {
            let (now, sd, restored) = match *id {
                S_0104 => (10.1, 0.15, 10.9),
                S_0117 => (14.55, 0.2, 17.55),
                _ => (spindle.nominal_force.get(), 0.6, spindle.nominal_force.get()),
            };
            (*id, Arc::new(by_hand(*id, shop, spindle, now, sd, restored)))
        })
        .collect();
    ShopForecast { as_of, config: ForecastConfig::of(shop), spindles }
}

fn by_hand(id: SpindleId, shop: &Shop, spindle: &Spindle, now: f64, sd: f64, restored: f64) -> SpindleForecast {
    let as_of = day(PRESENT);
    let fan = (0..104_u64).filter_map(|week| {
        let middle = now - 0.02 * week as f64;
        let force = [-1.645, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.645].map(|z| kn(middle + z * sd));
        Some(FanDay {
            day: as_of.checked_add_days(Days::new(7 * week))?,
            run_hours: None,
            clamp_cycles: None,
            force,
            at_risk: force[1],
        })
    });
    let (run_hours, clamp_cycles) = (None, None);
    let point = |on: &str, force: f64| PathPoint { day: day(on), run_hours, clamp_cycles, force: kn(force) };
    let limits = shop.limits_of(spindle);
    SpindleForecast {
        spindle: id,
        state: if shop.position_on(id, as_of).is_some() { SpindleState::InService } else { SpindleState::NotMounted },
        run_hours: RunHours::new(15_012.0),
        clamp_cycles: ClampCycles::new(240_116.0),
        hours_per_day: RunHours::new(6.0),
        cycles_per_day: ClampCycles::new(70.0),
        hours_since_service: RunHours::new(1_200.0),
        cycles_since_service: ClampCycles::new(14_000.0),
        last_service: Some(day("2025-06-12")),
        force_now: Estimate { mean: kn(now), sd: kn(sd) },
        force_measured: true,
        under_stop_limit: None,
        setting_now: Millimetres::new(10.52).zip(Millimetres::new(0.02)).map(|(mean, sd)| Estimate { mean, sd }),
        setting_drift_per_1000_h: None,
        setting_out_of_tolerance: false,
        limits,
        reserve: Percent::new(8.0).unwrap_or_default(),
        cross_service_limit: None,
        cross_stop_limit: None,
        cross_setting_dimension: None,
        crossed: CrossedBy::default(),
        due_calendar: None,
        due_run_hours: None,
        due_clamp_cycles: None,
        service_by: Some(day("2026-06-01")),
        is_passed: false,
        passed_since: None,
        governing: None,
        reason: String::new(),
        recoverable_loss: None,
        lasting_loss: None,
        major_service_by: None,
        major_service_between: [None; 2],
        loss_per_1000_h: None,
        interface_loss_per_1000_h: None,
        interface_spindles: 1,
        steps: Vec::new(),
        unlogged: Vec::new(),
        warnings: Vec::new(),
        left_out: Vec::new(),
        readings: Vec::new(),
        intervals: Vec::new(),
        restored: vec![point("2025-06-12", restored)],
        fan: fan.collect(),
        past: Vec::new(),
        after_booked: Vec::new(),
    }
}
