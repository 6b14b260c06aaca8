//! The shop as one immutable snapshot: what every screen, projection and export reads.

use crate::calendar::WorkingCalendar;
use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::Downtime;
use crate::gauge::Gauge;
use crate::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, InterfaceLimitsId, KitLineId, MachineId, MeterReadingId, MountingId,
    OrderId, PartId, ReadingId, Row, ServiceId, ServiceKindId, SpindleId, TechnicianId,
};
use crate::interface::Interface;
use crate::limits::{InterfaceLimits, LimitValues, Limits, built_in, setting_in_force};
use crate::machine::{Machine, Position};
use crate::meter::{MeterOwner, MeterReading};
use crate::mounting::Mounting;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::reading::Reading;
use crate::service::Service;
use crate::settings::ShopSettings;
use crate::spindle::Spindle;
use crate::units::Millimetres;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Everything that stands in a shop file but journal, drafts and fits. Cheap to clone.
///
/// Tables are sorted: mountings by spindle and day, meters by owner and moment, readings and
/// services by spindle, moment and id; [`Shop::sorted`] sees to it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shop {
    /// Settings.
    pub settings: Arc<ShopSettings>,
    /// Machines by id.
    pub machines: Arc<BTreeMap<MachineId, Machine>>,
    /// Spindles by id.
    pub spindles: Arc<BTreeMap<SpindleId, Spindle>>,
    /// The shop's own limits per interface.
    pub interface_limits: Arc<Vec<Row<InterfaceLimitsId, InterfaceLimits>>>,
    /// Mountings.
    pub mountings: Arc<Vec<Row<MountingId, Mounting>>>,
    /// Meter readings.
    pub meters: Arc<Vec<Row<MeterReadingId, MeterReading>>>,
    /// Force and setting-dimension readings.
    pub readings: Arc<Vec<Row<ReadingId, Reading>>>,
    /// Services.
    pub services: Arc<Vec<Row<ServiceId, Service>>>,
    /// Closures.
    pub closures: Arc<Vec<Row<ClosureId, Closure>>>,
    /// Gauges.
    pub gauges: Arc<Vec<Row<GaugeId, Gauge>>>,
    /// Technicians.
    pub technicians: Arc<Vec<Row<TechnicianId, Technician>>>,
    /// Downtime windows.
    pub downtimes: Arc<Vec<Row<DowntimeId, Downtime>>>,
    /// Parts.
    pub parts: Arc<Vec<Row<PartId, Part>>>,
    /// Deliveries.
    pub deliveries: Arc<Vec<Row<DeliveryId, Delivery>>>,
    /// Kits.
    pub kit_lines: Arc<Vec<Row<KitLineId, KitLine>>>,
    /// Durations of services.
    pub service_kinds: Arc<Vec<Row<ServiceKindId, ServiceKind>>>,
    /// Work orders.
    pub orders: Arc<Vec<Row<OrderId, Order>>>,
}

impl Shop {
    /// The same shop with its tables in their order.
    #[must_use]
    pub fn sorted(mut self) -> Self {
        Arc::make_mut(&mut self.mountings).sort_by_key(|m| (m.spindle, m.mounted_on, m.id));
        Arc::make_mut(&mut self.meters).sort_by_key(|m| (m.owner, m.at, m.id));
        Arc::make_mut(&mut self.readings).sort_by_key(|r| (r.spindle, r.at, r.id));
        Arc::make_mut(&mut self.services).sort_by_key(|s| (s.spindle, s.at, s.id));
        self
    }

    /// The day that stands for now: the shop's own `as_of`, else today.
    #[must_use]
    pub fn present(&self, today: NaiveDate) -> NaiveDate {
        self.settings.as_of.unwrap_or(today)
    }

    /// Readings of one spindle, oldest first.
    #[must_use]
    pub fn readings_of(&self, spindle: SpindleId) -> &[Row<ReadingId, Reading>] {
        slice_of(&self.readings, |row| row.spindle, spindle)
    }

    /// Services of one spindle, oldest first.
    #[must_use]
    pub fn services_of(&self, spindle: SpindleId) -> &[Row<ServiceId, Service>] {
        slice_of(&self.services, |row| row.spindle, spindle)
    }

    /// Stays of one spindle, oldest first.
    #[must_use]
    pub fn mountings_of(&self, spindle: SpindleId) -> &[Row<MountingId, Mounting>] {
        slice_of(&self.mountings, |row| row.spindle, spindle)
    }

    /// What one meter showed, oldest first.
    #[must_use]
    pub fn meters_of(&self, owner: MeterOwner) -> &[Row<MeterReadingId, MeterReading>] {
        slice_of(&self.meters, |row| row.owner, owner)
    }

    /// Where a spindle sits on a day.
    #[must_use]
    pub fn position_on(&self, spindle: SpindleId, day: NaiveDate) -> Option<Position> {
        self.mountings_of(spindle).iter().find(|mounting| mounting.covers(day)).map(|mounting| mounting.position)
    }

    /// Which spindle sits in a position on a day.
    #[must_use]
    pub fn spindle_in(&self, position: Position, day: NaiveDate) -> Option<SpindleId> {
        self.mountings.iter().find(|m| m.position == position && m.covers(day)).map(|m| m.spindle)
    }

    /// How a position is shown, such as `R-07/2`.
    #[must_use]
    pub fn position_label(&self, position: Position) -> String {
        self.machines.get(&position.machine).map(|m| m.position_label(position.number)).unwrap_or_default()
    }

    /// The halls in alphabetical order.
    #[must_use]
    pub fn halls(&self) -> Vec<&str> {
        let halls: BTreeSet<&str> = self.machines.values().map(|machine| machine.hall.as_str()).collect();
        halls.into_iter().collect()
    }

    /// The spindle of that name.
    #[must_use]
    pub fn spindle_named(&self, name: &str) -> Option<SpindleId> {
        self.spindles.iter().find(|(_, spindle)| spindle.name == name).map(|(id, _)| *id)
    }

    /// The machine of that name.
    #[must_use]
    pub fn machine_named(&self, name: &str) -> Option<MachineId> {
        self.machines.iter().find(|(_, machine)| machine.name == name).map(|(id, _)| *id)
    }

    /// The gauge of that name.
    #[must_use]
    pub fn gauge_named(&self, name: &str) -> Option<&Row<GaugeId, Gauge>> {
        self.gauges.iter().find(|gauge| gauge.name == name)
    }

    /// The limits in force for a spindle, with where each comes from.
    #[must_use]
    pub fn limits_of(&self, spindle: &Spindle) -> Limits {
        Limits::resolve(
            &spindle.limits,
            spindle.nominal_force,
            self.values_of(Some(&spindle.interface)),
            self.values_of(None),
            &built_in(&spindle.interface),
        )
    }

    /// Setting dimension and tolerance of a spindle, where both are in force: those of its
    /// [`Shop::limits_of`].
    #[must_use]
    pub fn setting_of(&self, spindle: &Spindle) -> Option<(Millimetres, Millimetres)> {
        setting_in_force(
            &spindle.limits,
            self.values_of(Some(&spindle.interface)),
            self.values_of(None),
            &built_in(&spindle.interface),
        )
    }

    /// The shop's own limits of an interface; those of all without one.
    fn values_of(&self, interface: Option<&Interface>) -> Option<&LimitValues> {
        let mut rows = self.interface_limits.iter();
        rows.find(|row| row.interface.as_ref() == interface).map(|row| &row.value.values)
    }

    /// The working calendar over a span of days.
    #[must_use]
    pub fn working_calendar(&self, first: NaiveDate, last: NaiveDate) -> WorkingCalendar {
        let closures: Vec<Closure> = self.closures.iter().map(|row| row.value.clone()).collect();
        WorkingCalendar::new(first, last, &self.settings.weekday_weights, &closures)
    }

    /// The open order of each spindle on a day; of several the one that starts first.
    #[must_use]
    pub fn open_orders_on(&self, day: NaiveDate) -> BTreeMap<SpindleId, &Row<OrderId, Order>> {
        let mut open: Vec<_> = self.orders.iter().filter(|order| order.is_open_on(day)).collect();
        open.sort_by(|a, b| {
            let placed = |order: &Order| (order.start.is_none(), order.start);
            placed(b).cmp(&placed(a)).then_with(|| b.name.cmp(&a.name))
        });
        open.into_iter().map(|order| (order.spindle, order)).collect()
    }

    /// The shop as it was known on a day: nothing dated or recorded later, corrections only from
    /// the day on which they were made. Registers and limits have no history.
    #[must_use]
    pub fn known_on(&self, day: NaiveDate) -> Self {
        self.clone().kept(day)
    }

    /// The same with no other spindle's records than those that tell what this one's meters counted:
    /// of whoever sat where it sits or sat. What one spindle projected anew asks for.
    #[must_use]
    pub fn known_of(&self, spindle: SpindleId, day: NaiveDate) -> Self {
        let places: BTreeSet<Position> = self.mountings_of(spindle).iter().map(|row| row.position).collect();
        let there = self.mountings.iter().filter(|row| places.contains(&row.position)).map(|row| row.spindle);
        let sitters: BTreeSet<SpindleId> = there.chain([spindle]).collect();
        let owners: BTreeSet<MeterOwner> = places
            .into_iter()
            .map(MeterOwner::Position)
            .chain(sitters.iter().copied().map(MeterOwner::Spindle))
            .collect();
        let spindles = sitters.iter().filter_map(|id| Some((*id, self.spindles.get(id)?.clone())));
        Self {
            spindles: Arc::new(spindles.collect()),
            mountings: gathered(&sitters, |id| self.mountings_of(*id)),
            meters: gathered(&owners, |owner| self.meters_of(*owner)),
            readings: gathered(&sitters, |id| self.readings_of(*id)),
            services: gathered(&sitters, |id| self.services_of(*id)),
            orders: Arc::new(self.orders.iter().filter(|order| sitters.contains(&order.spindle)).cloned().collect()),
            ..self.clone()
        }
        .kept(day)
    }

    fn kept(mut self, day: NaiveDate) -> Self {
        let counts = |date: NaiveDate, recorded: Option<NaiveDate>, replaced: Option<NaiveDate>| {
            date <= day && recorded.is_none_or(|r| r <= day) && replaced.is_none_or(|r| day < r)
        };
        let known = &mut self;
        keep(&mut known.meters, |m| counts(m.at.date, m.recorded_on, m.replaced_on));
        keep(&mut known.readings, |r| counts(r.at.date, r.recorded_on, r.replaced_on));
        keep(&mut known.services, |s| counts(s.at.date, s.recorded_on, s.replaced_on));
        keep(&mut known.mountings, |m| m.mounted_on <= day);
        keep(&mut known.orders, |o| o.opened_on.is_none_or(|opened| opened <= day));
        self
    }
}

/// Keeps rows in place; a table from which nothing goes stays shared.
fn keep<T: Clone>(table: &mut Arc<Vec<T>>, mut wanted: impl FnMut(&T) -> bool) {
    if !table.iter().all(&mut wanted) {
        *table = Arc::new(table.iter().filter(|row| wanted(row)).cloned().collect());
    }
}

/// The rows of all keys, which come in the order of the table.
fn gathered<'s, T: Clone + 's, K>(keys: &BTreeSet<K>, rows: impl Fn(&K) -> &'s [T]) -> Arc<Vec<T>> {
    Arc::new(keys.iter().flat_map(|key| rows(key).iter().cloned()).collect())
}

fn slice_of<T, K: Ord>(sorted: &[T], key: impl Fn(&T) -> K, wanted: K) -> &[T] {
    let from = sorted.partition_point(|row| key(row) < wanted);
    let rest = sorted.get(from..).unwrap_or_default();
    // rows of one key are few among all, and mostly they are gone through next
    let to = rest.iter().position(|row| key(row) > wanted).unwrap_or(rest.len());
    rest.get(..to).unwrap_or_default()
}
