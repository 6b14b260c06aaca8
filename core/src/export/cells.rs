//! Rows of the shop folder as raw texts, one per column, in the order of the columns.
//!
//! Writing uses them, and importing tells by them whether a record is already here.

use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::{Downtime, WindowScope};
use crate::gauge::Gauge;
use crate::ids::MachineId;
use crate::limits::{InterfaceLimits, LimitValues};
use crate::machine::Machine;
use crate::meter::MeterReading;
use crate::moment::DayRange;
use crate::mounting::Mounting;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::reading::{MAX_STROKES, Reading};
use crate::service::{Kind, Service, format_parts};
use crate::spindle::Spindle;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, RunHours};
use std::fmt::Display;

/// The texts of one row.
pub type Cells = Vec<String>;

fn shown(value: Option<impl Display>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// A name; spaces around it do not count, as the import has it.
fn name(value: Option<&String>) -> String {
    value.map(|value| value.trim().to_owned()).unwrap_or_default()
}

fn yes_if(set: bool) -> String {
    if set { "yes".to_owned() } else { String::new() }
}

fn yes_no(said: Option<bool>) -> String {
    said.map(|yes| if yes { "yes" } else { "no" }.to_owned()).unwrap_or_default()
}

fn joined<T: Display>(items: &[T], between: &str) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(between)
}

fn days(ranges: &[DayRange]) -> String {
    joined(ranges, ";")
}

/// A row of `machines.csv`.
#[must_use]
pub fn machine(machine: &Machine) -> Cells {
    vec![
        machine.name.clone(),
        machine.hall.clone(),
        machine.description.clone(),
        name(machine.line.as_ref()),
        shown(machine.stop_cost_per_hour.map(Money::get)),
        machine.positions.to_string(),
        shown(machine.day_below_cost.map(Money::get)),
    ]
}

fn limit_cells(values: &LimitValues) -> [String; 4] {
    [
        shown(values.service_limit.map(Percent::get)),
        shown(values.stop_limit.map(Percent::get)),
        shown(values.setting_dimension.map(Millimetres::get)),
        shown(values.setting_tolerance.map(Millimetres::get)),
    ]
}

fn interval_cells(values: &LimitValues) -> [String; 3] {
    [
        shown(values.every_months),
        shown(values.every_hours.map(RunHours::get)),
        shown(values.every_cycles.map(ClampCycles::get)),
    ]
}

/// A row of `spindles.csv`.
#[must_use]
pub fn spindle(spindle: &Spindle) -> Cells {
    let mut cells = vec![spindle.name.clone(), spindle.interface.to_string(), spindle.nominal_force.get().to_string()];
    cells.extend(limit_cells(&spindle.limits));
    cells.push(shown(spindle.installed_on));
    cells.extend(interval_cells(&spindle.limits));
    cells.extend([shown(spindle.out_of_service_on), name(spindle.limits.source.as_ref()), spindle.notes.clone()]);
    let said_on = spindle.not_before.and_then(|not_before| not_before.said_on);
    cells.extend([shown(spindle.not_before.map(|not_before| not_before.day)), shown(said_on)]);
    cells
}

/// A row of `limits.csv`.
#[must_use]
pub fn interface_limits(limits: &InterfaceLimits) -> Cells {
    let interface = limits.interface.as_ref().map_or_else(|| "*".to_owned(), ToString::to_string);
    let mut cells = vec![interface, shown(limits.values.nominal_force.map(Kilonewtons::get))];
    cells.extend(limit_cells(&limits.values));
    cells.extend(interval_cells(&limits.values));
    cells.push(name(limits.values.source.as_ref()));
    cells
}

/// A row of `mountings.csv`, with the names of its spindle and machine.
#[must_use]
pub fn mounting(mounting: &Mounting, spindle: &str, machine: &str) -> Cells {
    vec![
        spindle.to_owned(),
        machine.to_owned(),
        mounting.position.number.to_string(),
        mounting.mounted_on.to_string(),
        shown(mounting.removed_on),
    ]
}

/// Whose meter a row is of, by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OwnerName<'a> {
    /// The meter of a spindle.
    Spindle(&'a str),
    /// The meter of a position.
    Position(&'a str, u32),
}

/// A row of `meters.csv`.
#[must_use]
pub fn meter(reading: &MeterReading, owner: OwnerName<'_>) -> Cells {
    let [spindle, machine, position] = match owner {
        OwnerName::Spindle(spindle) => [spindle.to_owned(), String::new(), String::new()],
        OwnerName::Position(machine, number) => [String::new(), machine.to_owned(), number.to_string()],
    };
    vec![
        spindle,
        machine,
        position,
        reading.at.to_string(),
        shown(reading.run_hours.map(RunHours::get)),
        shown(reading.clamp_cycles.map(ClampCycles::get)),
        yes_if(reading.meter_replaced),
        shown(reading.recorded_on),
        shown(reading.replaced_on),
    ]
}

/// A row of `readings.csv`.
#[must_use]
pub fn reading(reading: &Reading, spindle: &str) -> Cells {
    let mut cells = vec![
        spindle.to_owned(),
        reading.at.to_string(),
        reading.phase.key().to_owned(),
        reading.quantity().key().to_owned(),
        reading.unit.symbol().to_owned(),
    ];
    let typed = |index: usize| reading.strokes.get(index).map(|stroke| &stroke.typed);
    cells.extend((0..MAX_STROKES).map(|index| shown(typed(index))));
    cells.extend([
        shown(reading.run_hours.map(RunHours::get)),
        shown(reading.clamp_cycles.map(ClampCycles::get)),
        name(reading.gauge.as_ref()),
        yes_no(reading.zero_checked),
        name(reading.technician.as_ref()),
        reading.note.clone(),
        shown(reading.recorded_on),
        shown(reading.replaced_on),
        shown(reading.doubt.as_ref()),
        yes_if(reading.doubt.as_deref().is_none_or(str::is_empty)),
    ]);
    cells
}

/// What makes a reading the same as another: all its cells but those of doubt, strokes as numbers.
#[must_use]
pub fn reading_identity(row: &Reading, spindle: &str) -> Cells {
    let mut cells = reading(row, spindle);
    cells.truncate(cells.len().saturating_sub(CELLS_OF_DOUBT));
    for (cell, stroke) in cells.iter_mut().skip(STROKE_1).zip(&row.strokes) {
        *cell = stroke.typed_value().to_string();
    }
    cells
}

/// Where the strokes begin in a row of readings.
const STROKE_1: usize = 5;
/// `doubt` and `doubt_settled`, the last ones of a row of readings.
const CELLS_OF_DOUBT: usize = 2;

/// A row of `services.csv`.
#[must_use]
pub fn service(service: &Service, spindle: &str) -> Cells {
    vec![
        spindle.to_owned(),
        service.at.to_string(),
        service.kind.key().to_owned(),
        name(service.order.as_ref()),
        name(service.technician.as_ref()),
        shown(service.stop_hours.map(RunHours::get)),
        service.findings.clone(),
        format_parts(&service.parts),
        service.note.clone(),
        shown(service.recorded_on),
        shown(service.replaced_on),
    ]
}

/// A row of `closures.csv`.
#[must_use]
pub fn closure(closure: &Closure) -> Cells {
    vec![closure.days.first.to_string(), closure.days.last.to_string(), closure.what.clone()]
}

/// A row of `gauges.csv`.
#[must_use]
pub fn gauge(gauge: &Gauge) -> Cells {
    vec![
        gauge.name.clone(),
        gauge.quantity.key().to_owned(),
        shown(gauge.range_max),
        shown(gauge.unit),
        shown(gauge.resolution),
        shown(gauge.calibrated_on),
        shown(gauge.calibration_due),
        gauge.certificate.clone(),
        shown(gauge.services_per_day),
        days(&gauge.out),
    ]
}

/// A row of `crew.csv`.
#[must_use]
pub fn technician(technician: &Technician) -> Cells {
    let skills: Vec<&str> = technician.skills.iter().copied().map(Kind::key).collect();
    vec![
        technician.name.clone(),
        skills.join(";"),
        joined(&technician.shifts, "; "),
        shown(technician.hours_per_day.map(RunHours::get)),
        days(&technician.absent),
    ]
}

/// A row of `downtime.csv`; the name of a machine is asked for where one is named.
#[must_use]
pub fn downtime(window: &Downtime, machine_name: impl Fn(MachineId) -> String) -> Cells {
    let [hall, machine] = match &window.scope {
        WindowScope::AllHalls => [String::new(), String::new()],
        WindowScope::Hall(hall) => [hall.clone(), String::new()],
        WindowScope::Machine(machine) => [String::new(), machine_name(*machine)],
    };
    vec![
        window.start.to_string(),
        window.end.to_string(),
        hall,
        machine,
        window.what.clone(),
        shown(window.stop_factor.map(Percent::get)),
        shown(window.premium_per_hour.map(Money::get)),
        shown(window.repeat.as_ref()),
    ]
}

/// A row of `parts.csv`.
#[must_use]
pub fn part(part: &Part) -> Cells {
    vec![
        part.name.clone(),
        part.description.clone(),
        part.on_hand.to_string(),
        part.unit.clone(),
        shown(part.lead_time_days),
        shown(part.price.map(Money::get)),
        shown(part.reorder_point),
    ]
}

/// A row of `deliveries.csv`.
#[must_use]
pub fn delivery(delivery: &Delivery) -> Cells {
    vec![delivery.part.clone(), delivery.expected_on.to_string(), delivery.quantity.to_string(), delivery.note.clone()]
}

/// A row of `kits.csv`.
#[must_use]
pub fn kit_line(line: &KitLine) -> Cells {
    vec![line.interface.to_string(), line.kind.key().to_owned(), line.part.clone(), line.quantity.to_string()]
}

/// A row of `service_kinds.csv`.
#[must_use]
pub fn service_kind(kind: &ServiceKind) -> Cells {
    vec![
        kind.interface.to_string(),
        kind.kind.key().to_owned(),
        Minutes::get(kind.minutes).to_string(),
        kind.crew.to_string(),
        shown(kind.gauge_quantity.map(|quantity| quantity.key())),
    ]
}

/// A row of `orders.csv`.
#[must_use]
pub fn order(order: &Order, spindle: &str) -> Cells {
    vec![
        order.name.clone(),
        spindle.to_owned(),
        order.kind.key().to_owned(),
        order.state.key().to_owned(),
        shown(order.opened_on),
        shown(order.service_by),
        shown(order.start),
        shown(order.duration.map(RunHours::get)),
        order.technicians.join(";"),
        yes_if(order.held),
        shown(order.closed_on),
        order.note.clone(),
    ]
}
