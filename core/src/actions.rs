//! The one way to change anything: an action, one transaction, journalled and undoable.

use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::Downtime;
use crate::error::Error;
use crate::gauge::Gauge;
use crate::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, InterfaceLimitsId, KitLineId, MachineId, MeterReadingId, MountingId,
    OrderId, PartId, ReadingId, Row, ServiceId, ServiceKindId, SpindleId, TechnicianId,
};
use crate::limits::InterfaceLimits;
use crate::machine::{Machine, Position};
use crate::meter::MeterReading;
use crate::mounting::Mounting;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::reading::Reading;
use crate::service::Service;
use crate::settings::ShopSettings;
use crate::spindle::Spindle;
use crate::store::{self, Changes, StepStamp, Store, Writer};
use chrono::NaiveDate;

/// A change to one row of a register.
#[derive(Debug, Clone, PartialEq)]
pub enum Change<I, T> {
    /// A new row.
    Add(T),
    /// Another content of a row.
    Set(I, T),
    /// The row goes.
    Remove(I),
}

/// A change to a record. Records are never overwritten: a correction is a row of its own, and the
/// old one stays, marked with the day on which it was replaced.
#[derive(Debug, Clone, PartialEq)]
pub enum Recording<I, T> {
    /// A new record.
    Record(T),
    /// Another record takes its place from that day.
    Correct(I, T, NaiveDate),
    /// It no longer counts from that day, without another in its place.
    Withdraw(I, NaiveDate),
}

/// Everything that a user can do to a shop.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Settings as a whole.
    Settings(ShopSettings),
    /// A machine.
    Machine(Change<MachineId, Machine>),
    /// A spindle.
    Spindle(Change<SpindleId, Spindle>),
    /// The shop's limits for an interface or all.
    InterfaceLimits(Change<InterfaceLimitsId, InterfaceLimits>),
    /// A mounting.
    Mounting(Change<MountingId, Mounting>),
    /// The spindle in a position goes out and another comes in, on one day.
    ExchangeSpindle {
        /// Where.
        position: Position,
        /// Which comes in; `None`: the position stays empty.
        incoming: Option<SpindleId>,
        /// On which day.
        on: NaiveDate,
    },
    /// A new machine with its spindles and mountings in one step: spindle, position number, since when.
    AddMachineWithSpindles(Machine, Vec<(Spindle, u32, NaiveDate)>),
    /// A meter reading.
    Meter(Recording<MeterReadingId, MeterReading>),
    /// A force or setting-dimension reading.
    Reading(Recording<ReadingId, Reading>),
    /// A service, with the readings taken at it.
    RecordService(Service, Vec<Reading>),
    /// A service corrected or withdrawn.
    Service(Recording<ServiceId, Service>),
    /// A closure.
    Closure(Change<ClosureId, Closure>),
    /// A gauge.
    Gauge(Change<GaugeId, Gauge>),
    /// A technician.
    Technician(Change<TechnicianId, Technician>),
    /// A downtime window.
    Downtime(Change<DowntimeId, Downtime>),
    /// A part.
    Part(Change<PartId, Part>),
    /// A delivery.
    Delivery(Change<DeliveryId, Delivery>),
    /// A line of a kit.
    KitLine(Change<KitLineId, KitLine>),
    /// How long a service takes.
    ServiceKind(Change<ServiceKindId, ServiceKind>),
    /// A work order.
    Order(Change<OrderId, Order>),
    /// What an import found, as one step.
    Import(Box<ImportBatch>),
    /// Several changes in their order as one step: all or none. The text says what was done, for
    /// the journal and for undo, such as `Close order 26-014`.
    Together(String, Vec<Self>),
}

/// Does an action: one transaction, one step of the journal.
///
/// # Errors
/// The first rule that the action breaks, or why the file could not be written; nothing is changed
/// then.
pub fn perform(store: &mut Store, action: Action, stamp: &StepStamp) -> Result<Changes, Error> {
    store.transact(stamp, |writer| write(writer, action))
}

/// Writes an action inside a step; gives back the label of the step.
fn write(writer: &Writer<'_>, action: Action) -> Result<String, Error> {
    match action {
        Action::Settings(settings) => store::settings_row(writer, &settings),
        Action::Machine(change) => store::change(writer, change),
        Action::Spindle(change) => store::change(writer, change),
        Action::InterfaceLimits(change) => store::change(writer, change),
        Action::Mounting(change) => store::change(writer, change),
        Action::ExchangeSpindle { position, incoming, on } => store::exchange(writer, position, incoming, on),
        Action::AddMachineWithSpindles(machine, spindles) => store::add_with_spindles(writer, &machine, &spindles),
        Action::Meter(recording) => store::record(writer, recording),
        Action::Reading(recording) => store::record(writer, recording),
        Action::RecordService(service, readings) => store::record_service(writer, &service, &readings),
        Action::Service(recording) => store::record(writer, recording),
        Action::Closure(change) => store::change(writer, change),
        Action::Gauge(change) => store::change(writer, change),
        Action::Technician(change) => store::change(writer, change),
        Action::Downtime(change) => store::change(writer, change),
        Action::Part(change) => store::change(writer, change),
        Action::Delivery(change) => store::change(writer, change),
        Action::KitLine(change) => store::change(writer, change),
        Action::ServiceKind(change) => store::change(writer, change),
        Action::Order(change) => store::change(writer, change),
        Action::Import(batch) => store::import(writer, &batch),
        Action::Together(label, actions) => {
            actions.into_iter().try_for_each(|action| write(writer, action).map(drop))?;
            Ok(label)
        }
    }
}

/// Rows that an import brings, with the ids they get or have.
///
/// Ids of new rows are given out by the import from the next free one, so that rows of one batch
/// can refer to each other.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ImportBatch {
    /// Where the rows came from, for the journal.
    pub source: String,
    /// How many rows of the source are new or change something, for the journal; 0: as many as
    /// there are in the tables.
    pub rows: usize,
    /// Settings, where they change.
    pub settings: Option<ShopSettings>,
    /// Machines.
    pub machines: Table<MachineId, Machine>,
    /// Spindles.
    pub spindles: Table<SpindleId, Spindle>,
    /// Limits per interface.
    pub interface_limits: Table<InterfaceLimitsId, InterfaceLimits>,
    /// Mountings.
    pub mountings: Table<MountingId, Mounting>,
    /// Meter readings.
    pub meters: Table<MeterReadingId, MeterReading>,
    /// Readings.
    pub readings: Table<ReadingId, Reading>,
    /// Services.
    pub services: Table<ServiceId, Service>,
    /// Closures.
    pub closures: Table<ClosureId, Closure>,
    /// Gauges.
    pub gauges: Table<GaugeId, Gauge>,
    /// Technicians.
    pub technicians: Table<TechnicianId, Technician>,
    /// Downtime windows.
    pub downtimes: Table<DowntimeId, Downtime>,
    /// Parts.
    pub parts: Table<PartId, Part>,
    /// Deliveries.
    pub deliveries: Table<DeliveryId, Delivery>,
    /// Kit lines.
    pub kit_lines: Table<KitLineId, KitLine>,
    /// Service durations.
    pub service_kinds: Table<ServiceKindId, ServiceKind>,
    /// Work orders.
    pub orders: Table<OrderId, Order>,
}

/// Rows of one table that are new, and rows that get another content.
#[derive(Debug, Clone, PartialEq)]
pub struct Table<I, T> {
    /// New rows.
    pub added: Vec<Row<I, T>>,
    /// Rows that are already there and change.
    pub changed: Vec<Row<I, T>>,
}

impl<I, T> Default for Table<I, T> {
    fn default() -> Self {
        Self { added: Vec::new(), changed: Vec::new() }
    }
}
