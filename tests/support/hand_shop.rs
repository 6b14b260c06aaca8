//! Small shops put together by hand, row by row, for cases that are worked out on paper.

use almanac_core::closure::Closure;
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::ids::{
    ClosureId, DeliveryId, DowntimeId, KitLineId, MachineId, MeterReadingId, MountingId, OrderId, PartId, ReadingId,
    Row, ServiceId, SpindleId,
};
use almanac_core::interface::Interface;
use almanac_core::limits::LimitValues;
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::{DayRange, Moment, parse_iso_date};
use almanac_core::mounting::Mounting;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{Delivery, KitLine, Part};
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service};
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::units::{ClampCycles, Kilonewtons, RunHours, Unit};
use chrono::{Days, NaiveDate};
use std::sync::Arc;

/// The day with which every hand-made history begins: Wednesday 1 January 2025.
pub const FIRST_DAY: &str = "2025-01-01";

/// So many days after [`FIRST_DAY`].
#[must_use]
pub fn day(number: u64) -> NaiveDate {
    let first = parse_iso_date(FIRST_DAY).unwrap_or_default();
    first.checked_add_days(Days::new(number)).unwrap_or(first)
}

/// A shop in the making. Every weekday counts as a whole working day unless said otherwise.
#[derive(Debug, Clone, Default)]
pub struct HandShop {
    shop: Shop,
    rows: i64,
}

impl HandShop {
    /// No machines, no spindles; seven whole working days a week.
    #[must_use]
    pub fn new() -> Self {
        let mut made = Self::default();
        Arc::make_mut(&mut made.shop.settings).weekday_weights = [1.0; 7];
        made
    }

    /// What was made, its tables in their order.
    #[must_use]
    pub fn shop(&self) -> Shop {
        self.shop.clone().sorted()
    }

    /// The raw tables, for what has no method here.
    pub const fn tables(&mut self) -> &mut Shop {
        &mut self.shop
    }

    fn next(&mut self) -> i64 {
        self.rows += 1;
        self.rows
    }

    /// A machine with one position in hall `North`.
    pub fn machine(&mut self, name: &str) -> MachineId {
        let id = MachineId::from_row(self.next());
        Arc::make_mut(&mut self.shop.machines).insert(id, Machine::named(name, "North"));
        id
    }

    /// An HSK-A63 spindle of that nominal force in kN, new on a day or found mid-life.
    pub fn spindle(&mut self, name: &str, nominal: f64, installed_on: Option<NaiveDate>) -> SpindleId {
        self.spindle_of("HSK-A63", name, nominal, installed_on)
    }

    /// The same with another tool interface.
    pub fn spindle_of(
        &mut self,
        interface: &str,
        name: &str,
        nominal: f64,
        installed_on: Option<NaiveDate>,
    ) -> SpindleId {
        let id = SpindleId::from_row(self.next());
        if let (Some(interface), Some(nominal)) = (Interface::parse(interface), Kilonewtons::new(nominal)) {
            let spindle = Spindle { installed_on, ..Spindle::named(name, interface, nominal) };
            Arc::make_mut(&mut self.shop.spindles).insert(id, spindle);
        }
        id
    }

    /// Changes the limits of a spindle.
    pub fn limits(&mut self, spindle: SpindleId, change: impl FnOnce(&mut LimitValues)) {
        if let Some(spindle) = Arc::make_mut(&mut self.shop.spindles).get_mut(&spindle) {
            change(&mut spindle.limits);
        }
    }

    /// Changes a spindle.
    pub fn change_spindle(&mut self, spindle: SpindleId, change: impl FnOnce(&mut Spindle)) {
        if let Some(spindle) = Arc::make_mut(&mut self.shop.spindles).get_mut(&spindle) {
            change(spindle);
        }
    }

    /// A spindle in the only position of a machine.
    pub fn mount(&mut self, spindle: SpindleId, machine: MachineId, from: NaiveDate, to: Option<NaiveDate>) {
        let id = MountingId::from_row(self.next());
        let position = Position { machine, number: 1 };
        let value = Mounting { spindle, position, mounted_on: from, removed_on: to };
        Arc::make_mut(&mut self.shop.mountings).push(Row { id, value });
    }

    /// A spindle `S-` and the name of its machine, of 20 kN and new on the first day, alone on that new
    /// machine, which ran ten hours a day until day 190.
    pub fn mounted(&mut self, machine: &str) -> SpindleId {
        let (name, machine) = (format!("S-{machine}"), self.machine(machine));
        let spindle = self.spindle(&name, 20.0, Some(day(0)));
        self.mount(spindle, machine, day(0), None);
        self.hours_at(machine, day(0), 0.0);
        self.hours_at(machine, day(190), 1900.0);
        spindle
    }

    /// A meter reading.
    pub fn meter(&mut self, owner: MeterOwner, on: NaiveDate, hours: Option<f64>, cycles: Option<f64>) {
        let id = MeterReadingId::from_row(self.next());
        let value = MeterReading {
            owner,
            at: Moment::day(on),
            run_hours: hours.and_then(RunHours::new),
            clamp_cycles: cycles.and_then(ClampCycles::new),
            meter_replaced: false,
            recorded_on: None,
            replaced_on: None,
        };
        Arc::make_mut(&mut self.shop.meters).push(Row { id, value });
    }

    /// Run hours of the only position of a machine.
    pub fn hours_at(&mut self, machine: MachineId, on: NaiveDate, hours: f64) {
        self.meter(MeterOwner::Position(Position { machine, number: 1 }), on, Some(hours), None);
    }

    /// A reading as typed.
    pub fn reading(&mut self, spindle: SpindleId, on: NaiveDate, phase: Phase, unit: Unit, strokes: &[&str]) {
        let strokes = strokes.iter().filter_map(|typed| Stroke::parse(typed, unit)).collect();
        let id = ReadingId::from_row(self.next());
        let value = Reading::of(spindle, Moment::day(on), phase, unit, strokes);
        Arc::make_mut(&mut self.shop.readings).push(Row { id, value });
    }

    /// A routine clamp-force reading of one stroke in kN.
    pub fn force(&mut self, spindle: SpindleId, on: NaiveDate, force: f64) {
        self.reading(spindle, on, Phase::Routine, Unit::Kilonewton, &[&force.to_string()]);
    }

    /// Changes the reading that was made last.
    pub fn last_reading(&mut self, change: impl FnOnce(&mut Reading)) {
        if let Some(row) = Arc::make_mut(&mut self.shop.readings).last_mut() {
            change(&mut row.value);
        }
    }

    /// A service.
    pub fn service(&mut self, spindle: SpindleId, on: NaiveDate, kind: Kind) {
        let id = ServiceId::from_row(self.next());
        Arc::make_mut(&mut self.shop.services).push(Row { id, value: Service::of(spindle, Moment::day(on), kind) });
    }

    /// A closure, both days included.
    pub fn closure(&mut self, first: NaiveDate, last: NaiveDate) {
        let id = ClosureId::from_row(self.next());
        let value = Closure { days: DayRange { first, last }, what: "closed".to_owned() };
        Arc::make_mut(&mut self.shop.closures).push(Row { id, value });
    }

    /// A minor service ordered, in a state, perhaps with a start.
    pub fn order(&mut self, name: &str, spindle: SpindleId, state: OrderState, start: Option<&str>) -> OrderId {
        let id = OrderId::from_row(self.next());
        let value = Order {
            name: name.to_owned(),
            spindle,
            kind: Kind::Minor,
            state,
            opened_on: None,
            service_by: None,
            start: start.and_then(Moment::parse),
            duration: RunHours::new(1.5),
            technicians: vec!["Brook".to_owned()],
            held: false,
            closed_on: None,
            note: String::new(),
        };
        Arc::make_mut(&mut self.shop.orders).push(Row { id, value });
        id
    }

    /// A downtime window for all halls.
    pub fn window(&mut self, start: &str, end: &str, repeat: Option<&str>) {
        let id = DowntimeId::from_row(self.next());
        let (Some(start), Some(end)) = (Moment::parse(start), Moment::parse(end)) else { return };
        let value = Downtime {
            start,
            end,
            scope: WindowScope::AllHalls,
            what: "window".to_owned(),
            stop_factor: None,
            premium_per_hour: None,
            repeat: repeat.map(ToOwned::to_owned),
        };
        Arc::make_mut(&mut self.shop.downtimes).push(Row { id, value });
    }

    /// One service set per minor service of HSK-A63, so many on the shelf.
    pub fn kit(&mut self, on_hand: f64) {
        let part = Part {
            name: "service set".to_owned(),
            description: String::new(),
            on_hand,
            unit: "set".to_owned(),
            lead_time_days: None,
            price: None,
            reorder_point: None,
        };
        let id = PartId::from_row(self.next());
        Arc::make_mut(&mut self.shop.parts).push(Row { id, value: part });
        if let Some(interface) = Interface::parse("HSK-A63") {
            let id = KitLineId::from_row(self.next());
            let value = KitLine { interface, kind: Kind::Minor, part: "service set".to_owned(), quantity: 1.0 };
            Arc::make_mut(&mut self.shop.kit_lines).push(Row { id, value });
        }
    }

    /// Service sets on order.
    pub fn delivery(&mut self, on: NaiveDate, quantity: f64) {
        let id = DeliveryId::from_row(self.next());
        let value = Delivery { part: "service set".to_owned(), expected_on: on, quantity, note: String::new() };
        Arc::make_mut(&mut self.shop.deliveries).push(Row { id, value });
    }
}
