//! Shops made by chance, with texts as nasty as people and programs make them, for tests of files.

#![expect(clippy::unwrap_used, reason = "only tests use it; a panic tells them")]

use crate::fleet::Dice;
use almanac_core::closure::Closure;
use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::gauge::Gauge;
use almanac_core::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, InterfaceLimitsId, KitLineId, MachineId, MeterReadingId, MountingId,
    OrderId, PartId, ReadingId, Row, ServiceId, ServiceKindId, SpindleId, TechnicianId,
};
use almanac_core::interface::Interface;
use almanac_core::limits::{InterfaceLimits, LimitValues};
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::{DayRange, Moment};
use almanac_core::mounting::Mounting;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{Delivery, KitLine, Part, ServiceKind};
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, PartQuantity, Service};
use almanac_core::settings::ShopSettings;
use almanac_core::shop::Shop;
use almanac_core::spindle::{NotBefore, Spindle};
use almanac_core::units::{ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, Quantity, RunHours, Unit};
use chrono::{Days, NaiveDate, NaiveTime};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Pieces of which texts are made.
const PIECES: [&str; 26] = [
    "=1+1", "+49 30 1", "-", "@SUM(A1)", "\t", "'", "''=", "\"", ",", ";", "\r\n", "\n", "\r", " ", "ü", "ß", "–",
    "日本", "𝄞", "#", "a", "Spindel", "0", "1e5", "\u{1f}", "\u{feff}",
];
const INTERFACES: [&str; 7] =
    ["HSK-A63", "7/24 40", "PSC 63", "TS 40", "ISO 7388 AD 40", "=own taper", "Ein \"altes\" Maß"];

/// A shop made by chance from a seed; all tables have rows.
#[must_use]
pub fn random_shop(seed: u64) -> Shop {
    let mut shop = Maker { dice: Dice::new(seed), names: BTreeSet::new() }.shop();
    // by dice of their own, so that all else stays as it was
    let mut maker = Maker { dice: Dice::new(seed ^ 0x00B4), names: BTreeSet::new() };
    for spindle in Arc::make_mut(&mut shop.spindles).values_mut() {
        let day = maker.maybe(Maker::date);
        let said_on = maker.maybe(Maker::date);
        spindle.not_before = NotBefore::of(day, said_on);
    }
    shop
}

struct Maker {
    dice: Dice,
    names: BTreeSet<String>,
}

impl Maker {
    fn below(&mut self, count: usize) -> usize {
        ((self.dice.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    fn pick<T: Clone>(&mut self, items: &[T]) -> T {
        let index = self.below(items.len());
        items[index].clone()
    }

    fn maybe<T>(&mut self, make: impl FnOnce(&mut Self) -> T) -> Option<T> {
        if self.dice.unit() < 0.5 { Some(make(self)) } else { None }
    }

    fn some<T>(&mut self, least: usize, most: usize, mut make: impl FnMut(&mut Self) -> T) -> Vec<T> {
        let count = least + self.below(most - least + 1);
        (0..count).map(|_| make(self)).collect()
    }

    fn text(&mut self) -> String {
        self.some(0, 4, |this| this.pick(&PIECES)).concat()
    }

    /// A name that no other row has; names that files list never hold a semicolon.
    fn name(&mut self) -> String {
        loop {
            let name = format!("{}{}", self.text(), self.below(1000)).replace(';', "").trim().to_owned();
            if self.names.insert(name.clone()) {
                return name;
            }
        }
    }

    fn number(&mut self, low: f64, high: f64) -> f64 {
        let value = self.dice.between(low, high);
        match self.below(4) {
            0 => value,
            1 => (value * 10.0).round() / 10.0,
            2 => (value * 1000.0).round() / 1000.0,
            _ => value.ceil(),
        }
    }

    fn date(&mut self) -> NaiveDate {
        let first = NaiveDate::from_ymd_opt(2020, 1, 1).unwrap();
        first.checked_add_days(Days::new(self.below(2500) as u64)).unwrap()
    }

    fn moment(&mut self) -> Moment {
        let date = self.date();
        let time = self.maybe(|this| {
            let seconds = this.pick(&[0, 0, 59]);
            NaiveTime::from_hms_opt(this.below(24) as u32, this.below(60) as u32, seconds).unwrap()
        });
        Moment { date, time }
    }

    fn days(&mut self) -> DayRange {
        let first = self.date();
        DayRange { first, last: first.checked_add_days(Days::new(self.below(20) as u64)).unwrap() }
    }

    fn hours(&mut self) -> RunHours {
        RunHours::new(self.number(0.0, 90_000.0)).unwrap()
    }

    fn cycles(&mut self) -> ClampCycles {
        ClampCycles::new(self.number(0.0, 1e7)).unwrap()
    }

    fn money(&mut self) -> Money {
        Money::new(self.number(0.0, 500.0)).unwrap()
    }

    fn interface(&mut self) -> Interface {
        Interface::parse(self.pick(&INTERFACES)).unwrap()
    }

    fn kind(&mut self) -> Kind {
        self.pick(&Kind::ALL)
    }

    fn limits(&mut self) -> LimitValues {
        LimitValues {
            nominal_force: None,
            service_limit: self.maybe(|this| Percent::new(this.number(75.0, 99.0)).unwrap()),
            stop_limit: self.maybe(|this| Percent::new(this.number(10.0, 70.0)).unwrap()),
            setting_dimension: self.maybe(|this| Millimetres::new(this.number(1.0, 90.0)).unwrap()),
            setting_tolerance: self.maybe(|this| Millimetres::new(this.dice.between(0.01, 1.0)).unwrap()),
            every_months: self.maybe(|this| 1 + this.below(60) as u32),
            every_hours: self.maybe(|this| RunHours::new(this.number(1.0, 9000.0)).unwrap()),
            every_cycles: self.maybe(|this| ClampCycles::new(this.number(1.0, 1e6)).unwrap()),
            source: self.maybe(Self::name),
        }
    }

    fn settings(&mut self) -> ShopSettings {
        ShopSettings {
            name: self.name(),
            as_of: self.maybe(Self::date),
            accepted_risk: self.dice.between(0.001, 0.5),
            length_unit: self.pick(&[Unit::Millimetre, Unit::Inch]),
            force_unit: self.pick(&[Unit::Kilonewton, Unit::PoundForce]),
            currency: self.name(),
            booking_horizon_days: 1 + self.below(1000) as u32,
            weekday_weights: std::array::from_fn(|day| if day == 0 { 1.0 } else { self.dice.unit() }),
            day_begins: NaiveTime::from_hms_opt(self.below(24) as u32, self.below(60) as u32, 0).unwrap(),
            order_pattern: format!("{}N", self.name()),
            labour_per_hour: self.money(),
            lockout: Minutes::new(self.number(0.0, 100.0)).unwrap(),
            visit_cost: self.money(),
            move_cost_per_week: self.money(),
            left_cost: self.money(),
        }
    }

    fn machine(&mut self, halls: &[String]) -> Machine {
        Machine {
            name: self.name(),
            hall: self.pick(halls),
            description: self.text(),
            line: self.maybe(Self::name),
            stop_cost_per_hour: self.maybe(Self::money),
            positions: 1 + self.below(3) as u32,
            day_below_cost: self.maybe(Self::money),
        }
    }

    fn spindle(&mut self) -> Spindle {
        let new_on = NaiveDate::from_ymd_opt(2019, 12, 31);
        Spindle {
            name: self.name(),
            interface: self.interface(),
            nominal_force: Kilonewtons::new(self.number(1.0, 80.0)).unwrap(),
            limits: self.limits(),
            installed_on: self.maybe(|_| new_on.unwrap()),
            out_of_service_on: self.maybe(Self::date),
            notes: self.text(),
            not_before: None,
        }
    }

    fn strokes(&mut self, unit: Unit) -> Vec<Stroke> {
        self.some(1, 5, |this| {
            let decimals = this.below(4);
            let high = this.pick(&[1.0, 20.0, 5000.0]);
            let typed = format!("{:.*}", decimals, this.dice.between(0.6, high + 1.0));
            Stroke::parse(&typed, unit).unwrap()
        })
    }

    fn reading(&mut self, spindle: SpindleId) -> Reading {
        let unit = self.pick(&Unit::ALL);
        Reading {
            run_hours: self.maybe(Self::hours),
            clamp_cycles: self.maybe(Self::cycles),
            gauge: self.maybe(Self::name),
            zero_checked: self.pick(&[None, Some(true), Some(false)]),
            technician: self.maybe(Self::name),
            note: self.text(),
            recorded_on: self.maybe(Self::date),
            replaced_on: self.maybe(Self::date),
            doubt: self.maybe(Self::text).filter(|doubt| !doubt.is_empty()),
            ..Reading::of(spindle, self.moment(), self.pick(&Phase::ALL), unit, self.strokes(unit))
        }
    }

    fn service(&mut self, spindle: SpindleId) -> Service {
        Service {
            order: self.maybe(Self::name),
            technician: self.maybe(Self::name),
            stop_hours: self.maybe(Self::hours),
            findings: self.text(),
            parts: self.some(0, 3, |this| PartQuantity { part: this.name(), quantity: this.number(0.1, 9.0) }),
            note: self.text(),
            recorded_on: self.maybe(Self::date),
            replaced_on: self.maybe(Self::date),
            ..Service::of(spindle, self.moment(), self.kind())
        }
    }

    fn meter(&mut self, owner: MeterOwner) -> MeterReading {
        let run_hours = self.maybe(Self::hours);
        let clamp_cycles = if run_hours.is_some() { self.maybe(Self::cycles) } else { Some(self.cycles()) };
        MeterReading {
            owner,
            at: self.moment(),
            run_hours,
            clamp_cycles,
            meter_replaced: self.dice.unit() < 0.1,
            recorded_on: self.maybe(Self::date),
            replaced_on: self.maybe(Self::date),
        }
    }

    fn mountings(&mut self, spindles: &[SpindleId], positions: &[Position]) -> Vec<Mounting> {
        let mut mountings: Vec<Mounting> = Vec::new();
        for spindle in spindles {
            for _ in 0..3 {
                let mounted_on = self.date();
                let removed_on =
                    self.maybe(|this| mounted_on.checked_add_days(Days::new(1 + this.below(900) as u64)).unwrap());
                let stay = Mounting { spindle: *spindle, position: self.pick(positions), mounted_on, removed_on };
                let clash = |other: &Mounting| {
                    (other.spindle == stay.spindle || other.position == stay.position) && other.overlaps(&stay)
                };
                if !mountings.iter().any(clash) {
                    mountings.push(stay);
                }
            }
        }
        mountings
    }

    fn gauge(&mut self) -> Gauge {
        let unit = self.pick(&Unit::ALL);
        let (calibrated_on, due) = (self.maybe(Self::date), self.maybe(Self::date));
        Gauge {
            range_max: self.maybe(|this| this.number(1.0, 100.0)),
            unit: self.maybe(|_| unit),
            resolution: self.maybe(|this| this.dice.between(0.001, 1.0)),
            calibrated_on,
            calibration_due: due.filter(|due| calibrated_on.is_none_or(|done| done <= *due)),
            certificate: self.text(),
            services_per_day: self.maybe(|this| this.below(9) as u32),
            out: self.some(0, 3, Self::days),
            ..Gauge::named(&self.name(), unit.quantity())
        }
    }

    fn technician(&mut self) -> Technician {
        let shifts = self.pick(&["", "Mon-Fri 06:00-14:00; Sat 07:00-12:00", "Sun-Tue 22:00-06:00"]);
        Technician {
            name: self.name(),
            skills: self.pick(&[vec![], vec![Kind::Minor], vec![Kind::Minor, Kind::Major]]),
            shifts: parse_shifts(shifts).unwrap(),
            hours_per_day: self.maybe(|this| RunHours::new(this.number(0.0, 23.0)).unwrap()),
            absent: self.some(0, 2, Self::days),
        }
    }

    fn downtime(&mut self, machines: &[MachineId], halls: &[String]) -> Downtime {
        let start = self.moment();
        let scope = match self.below(3) {
            0 => WindowScope::AllHalls,
            1 => WindowScope::Hall(self.pick(halls)),
            _ => WindowScope::Machine(self.pick(machines)),
        };
        Downtime {
            start,
            end: Moment { date: start.date.succ_opt().unwrap(), time: start.time },
            scope,
            what: self.text(),
            stop_factor: self.maybe(|this| Percent::new(this.number(0.0, 100.0)).unwrap()),
            premium_per_hour: self.maybe(Self::money),
            repeat: self.maybe(|this| {
                this.pick(&["FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231", "freq=monthly;byday=-1FR;count=4"]).to_owned()
            }),
        }
    }

    fn part(&mut self) -> Part {
        Part {
            name: self.name(),
            description: self.text(),
            on_hand: self.number(0.0, 30.0),
            unit: self.text(),
            lead_time_days: self.maybe(|this| this.below(100) as u32),
            price: self.maybe(Self::money),
            reorder_point: self.maybe(|this| this.number(0.0, 9.0)),
        }
    }

    fn order(&mut self, spindle: SpindleId) -> Order {
        let opened_on = self.maybe(Self::date);
        Order {
            name: self.name(),
            spindle,
            kind: self.kind(),
            state: self.pick(&OrderState::ALL),
            opened_on,
            service_by: self.maybe(Self::date),
            start: self.maybe(Self::moment),
            duration: self.maybe(|this| RunHours::new(this.number(0.5, 9.0)).unwrap()),
            technicians: self.some(0, 2, Self::name),
            held: self.dice.unit() < 0.5,
            closed_on: opened_on.and_then(|opened| self.maybe(|_| opened)),
            note: self.text(),
        }
    }

    fn shop(mut self) -> Shop {
        let halls: Vec<String> = (0..3).map(|_| self.name()).collect();
        let machines: BTreeMap<MachineId, Machine> =
            (1..=5).map(|row| (MachineId::from_row(row), self.machine(&halls))).collect();
        let spindles: BTreeMap<SpindleId, Spindle> =
            (1..=7).map(|row| (SpindleId::from_row(row), self.spindle())).collect();
        let machine_ids: Vec<MachineId> = machines.keys().copied().collect();
        let spindle_ids: Vec<SpindleId> = spindles.keys().copied().collect();
        let standing: Vec<String> = machines.values().map(|machine| machine.hall.clone()).collect();
        let positions: Vec<Position> = machines
            .iter()
            .flat_map(|(id, machine)| (1..=machine.positions).map(|number| Position { machine: *id, number }))
            .collect();
        let mountings = self.mountings(&spindle_ids, &positions);
        let owners: Vec<MeterOwner> = spindle_ids
            .iter()
            .map(|id| MeterOwner::Spindle(*id))
            .chain(positions.iter().map(|position| MeterOwner::Position(*position)))
            .collect();
        let interfaces: Vec<Interface> = INTERFACES.iter().map(|text| Interface::parse(text).unwrap()).collect();
        let mut limits = vec![InterfaceLimits { interface: None, values: self.limits() }];
        let (mut kit_lines, mut service_kinds) = (Vec::new(), Vec::new());
        for interface in interfaces {
            let force = self.maybe(|this| Kilonewtons::new(this.number(1.0, 80.0)).unwrap());
            let values = LimitValues { nominal_force: force, ..self.limits() };
            limits.push(InterfaceLimits { interface: Some(interface.clone()), values });
            for kind in Kind::ALL {
                service_kinds.push(ServiceKind {
                    interface: interface.clone(),
                    kind,
                    minutes: Minutes::new(self.number(1.0, 600.0)).unwrap(),
                    crew: 1 + self.below(2) as u32,
                    gauge_quantity: self.maybe(|this| this.pick(&Quantity::ALL)),
                });
                kit_lines.extend(self.some(0, 2, |this| KitLine {
                    interface: interface.clone(),
                    kind,
                    part: this.name(),
                    quantity: this.number(0.1, 5.0),
                }));
            }
        }
        Shop {
            settings: Arc::new(self.settings()),
            interface_limits: table(limits, InterfaceLimitsId::from_row),
            mountings: table(mountings, MountingId::from_row),
            meters: table(
                self.some(1, 20, |this| {
                    let one = this.pick(&owners);
                    this.meter(one)
                }),
                MeterReadingId::from_row,
            ),
            readings: table(
                self.some(1, 30, |this| {
                    let one = this.pick(&spindle_ids);
                    this.reading(one)
                }),
                ReadingId::from_row,
            ),
            services: table(
                self.some(1, 10, |this| {
                    let one = this.pick(&spindle_ids);
                    this.service(one)
                }),
                ServiceId::from_row,
            ),
            closures: table(
                self.some(1, 4, |this| Closure { days: this.days(), what: this.text() }),
                ClosureId::from_row,
            ),
            gauges: table(self.some(1, 4, Self::gauge), GaugeId::from_row),
            technicians: table(self.some(1, 4, Self::technician), TechnicianId::from_row),
            downtimes: table(self.some(1, 6, |this| this.downtime(&machine_ids, &standing)), DowntimeId::from_row),
            parts: table(self.some(1, 5, Self::part), PartId::from_row),
            deliveries: table(
                self.some(1, 4, |this| Delivery {
                    part: this.name(),
                    expected_on: this.date(),
                    quantity: this.number(0.5, 20.0),
                    note: this.text(),
                }),
                DeliveryId::from_row,
            ),
            kit_lines: table(kit_lines, KitLineId::from_row),
            service_kinds: table(service_kinds, ServiceKindId::from_row),
            orders: table(
                self.some(1, 6, |this| {
                    let one = this.pick(&spindle_ids);
                    this.order(one)
                }),
                OrderId::from_row,
            ),
            machines: Arc::new(machines),
            spindles: Arc::new(spindles),
        }
        .sorted()
    }
}

fn table<I, T>(rows: Vec<T>, id: fn(i64) -> I) -> Arc<Vec<Row<I, T>>> {
    Arc::new(rows.into_iter().zip(1..).map(|(value, row)| Row { id: id(row), value }).collect())
}
