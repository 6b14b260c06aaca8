//! Columns of the registers whose fields hold several values.

use super::StoreError;
use super::columns::{Column as _, Fields};
use super::tables::{ShopTable, Stored};
use crate::closure::Closure;
use crate::downtime::{Downtime, WindowScope};
use crate::ids::{ClosureId, DowntimeId, InterfaceLimitsId, MachineId, MountingId, SpindleId};
use crate::limits::{InterfaceLimits, LimitValues};
use crate::machine::Position;
use crate::moment::DayRange;
use crate::mounting::Mounting;
use crate::spindle::{NotBefore, Spindle};
use rusqlite::types::Value;

impl Stored for Spindle {
    type Id = SpindleId;
    const TABLE: ShopTable = ShopTable::Spindles;
    const COLUMNS: &'static [&'static str] = &[
        "name",
        "interface",
        "nominal_force_kn",
        "service_limit_pct",
        "stop_limit_pct",
        "setting_dimension_mm",
        "setting_tolerance_mm",
        "service_every_months",
        "service_every_hours",
        "service_every_cycles",
        "limit_source",
        "installed_on",
        "out_of_service_on",
        "notes",
        "service_not_before",
        "not_before_said_on",
    ];

    fn values(&self) -> Vec<Value> {
        let mut values = vec![self.name.to_value(), self.interface.to_value(), self.nominal_force.to_value()];
        values.extend(limit_values(&self.limits));
        values.extend([self.installed_on.to_value(), self.out_of_service_on.to_value(), self.notes.to_value()]);
        let said_on = self.not_before.and_then(|not_before| not_before.said_on);
        values.extend([self.not_before.map(|not_before| not_before.day).to_value(), said_on.to_value()]);
        values
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        Ok(Self {
            name: fields.take()?,
            interface: fields.take()?,
            nominal_force: fields.take()?,
            limits: read_limits(fields)?,
            installed_on: fields.take()?,
            out_of_service_on: fields.take()?,
            notes: fields.take()?,
            not_before: NotBefore::of(fields.take()?, fields.take()?),
        })
    }
}

impl Stored for InterfaceLimits {
    type Id = InterfaceLimitsId;
    const TABLE: ShopTable = ShopTable::InterfaceLimits;
    const COLUMNS: &'static [&'static str] = &[
        "interface",
        "nominal_force_kn",
        "service_limit_pct",
        "stop_limit_pct",
        "setting_dimension_mm",
        "setting_tolerance_mm",
        "service_every_months",
        "service_every_hours",
        "service_every_cycles",
        "limit_source",
    ];

    fn values(&self) -> Vec<Value> {
        let mut values = vec![self.interface.to_value(), self.values.nominal_force.to_value()];
        values.extend(limit_values(&self.values));
        values
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        let interface = fields.take()?;
        let nominal_force = fields.take()?;
        Ok(Self { interface, values: LimitValues { nominal_force, ..read_limits(fields)? } })
    }
}

/// The limit columns that spindles and interfaces share; a nominal force stands elsewhere.
fn limit_values(limits: &LimitValues) -> [Value; 8] {
    [
        limits.service_limit.to_value(),
        limits.stop_limit.to_value(),
        limits.setting_dimension.to_value(),
        limits.setting_tolerance.to_value(),
        limits.every_months.to_value(),
        limits.every_hours.to_value(),
        limits.every_cycles.to_value(),
        limits.source.to_value(),
    ]
}

fn read_limits(fields: &mut Fields<'_>) -> Result<LimitValues, StoreError> {
    Ok(LimitValues {
        nominal_force: None,
        service_limit: fields.take()?,
        stop_limit: fields.take()?,
        setting_dimension: fields.take()?,
        setting_tolerance: fields.take()?,
        every_months: fields.take()?,
        every_hours: fields.take()?,
        every_cycles: fields.take()?,
        source: fields.take()?,
    })
}

impl Stored for Mounting {
    type Id = MountingId;
    const TABLE: ShopTable = ShopTable::Mountings;
    const COLUMNS: &'static [&'static str] = &["spindle_id", "machine_id", "position", "mounted_on", "removed_on"];

    fn values(&self) -> Vec<Value> {
        vec![
            self.spindle.to_value(),
            self.position.machine.to_value(),
            self.position.number.to_value(),
            self.mounted_on.to_value(),
            self.removed_on.to_value(),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        Ok(Self {
            spindle: fields.take()?,
            position: Position { machine: fields.take()?, number: fields.take()? },
            mounted_on: fields.take()?,
            removed_on: fields.take()?,
        })
    }
}

impl Stored for Closure {
    type Id = ClosureId;
    const TABLE: ShopTable = ShopTable::Closures;
    const COLUMNS: &'static [&'static str] = &["first_day", "last_day", "what"];

    fn values(&self) -> Vec<Value> {
        vec![self.days.first.to_value(), self.days.last.to_value(), self.what.to_value()]
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        Ok(Self { days: DayRange { first: fields.take()?, last: fields.take()? }, what: fields.take()? })
    }
}

impl Stored for Downtime {
    type Id = DowntimeId;
    const TABLE: ShopTable = ShopTable::Downtimes;
    const COLUMNS: &'static [&'static str] =
        &["starts_at", "ends_at", "hall", "machine_id", "what", "stop_factor_pct", "premium_per_hour", "repeat_rule"];

    fn values(&self) -> Vec<Value> {
        let (hall, machine) = match &self.scope {
            WindowScope::AllHalls => (None, None),
            WindowScope::Hall(hall) => (Some(hall.clone()), None),
            WindowScope::Machine(machine) => (None, Some(*machine)),
        };
        vec![
            self.start.to_value(),
            self.end.to_value(),
            hall.to_value(),
            machine.to_value(),
            self.what.to_value(),
            self.stop_factor.to_value(),
            self.premium_per_hour.to_value(),
            self.repeat.to_value(),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        let (start, end) = (fields.take()?, fields.take()?);
        let (hall, machine): (Option<String>, Option<MachineId>) = (fields.take()?, fields.take()?);
        let scope = match (machine, hall) {
            (Some(machine), _) => WindowScope::Machine(machine),
            (None, Some(hall)) => WindowScope::Hall(hall),
            (None, None) => WindowScope::AllHalls,
        };
        Ok(Self {
            start,
            end,
            scope,
            what: fields.take()?,
            stop_factor: fields.take()?,
            premium_per_hour: fields.take()?,
            repeat: fields.take()?,
        })
    }
}
