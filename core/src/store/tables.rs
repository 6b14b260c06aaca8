//! The tables of a shop file and the statements that all of them share.

use super::StoreError;
use super::columns::Fields;
use crate::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, InterfaceLimitsId, KitLineId, MachineId, MeterReadingId, MountingId,
    OrderId, PartId, ReadingId, Row, ServiceId, ServiceKindId, SpindleId, TechnicianId,
};
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use std::collections::BTreeSet;

/// A table of a shop, in an order in which each row only refers to earlier tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ShopTable {
    /// What the shop decides for itself.
    Settings,
    /// Machines.
    Machines,
    /// Spindles.
    Spindles,
    /// Limits per interface.
    InterfaceLimits,
    /// Mountings.
    Mountings,
    /// Meter readings.
    Meters,
    /// Force and setting-dimension readings.
    Readings,
    /// Services.
    Services,
    /// Closures.
    Closures,
    /// Gauges.
    Gauges,
    /// Technicians.
    Technicians,
    /// Downtime windows.
    Downtimes,
    /// Parts.
    Parts,
    /// Deliveries.
    Deliveries,
    /// Kit lines.
    KitLines,
    /// Durations of services.
    ServiceKinds,
    /// Work orders.
    Orders,
}

impl ShopTable {
    /// All tables; earlier ones never refer to later ones.
    pub const ALL: [Self; 17] = [
        Self::Settings,
        Self::Machines,
        Self::Spindles,
        Self::InterfaceLimits,
        Self::Mountings,
        Self::Meters,
        Self::Readings,
        Self::Services,
        Self::Closures,
        Self::Gauges,
        Self::Technicians,
        Self::Downtimes,
        Self::Parts,
        Self::Deliveries,
        Self::KitLines,
        Self::ServiceKinds,
        Self::Orders,
    ];

    /// Its name in the file.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Settings => "shop_settings",
            Self::Machines => "machine",
            Self::Spindles => "spindle",
            Self::InterfaceLimits => "interface_limits",
            Self::Mountings => "mounting",
            Self::Meters => "meter_reading",
            Self::Readings => "reading",
            Self::Services => "service",
            Self::Closures => "closure",
            Self::Gauges => "gauge",
            Self::Technicians => "technician",
            Self::Downtimes => "downtime",
            Self::Parts => "part",
            Self::Deliveries => "delivery",
            Self::KitLines => "kit_line",
            Self::ServiceKinds => "service_kind",
            Self::Orders => "work_order",
        }
    }

    /// One row of it in plain words, such as `meter reading`.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Settings => "settings",
            Self::Machines => "machine",
            Self::Spindles => "spindle",
            Self::InterfaceLimits => "limits",
            Self::Mountings => "mounting",
            Self::Meters => "meter reading",
            Self::Readings => "reading",
            Self::Services => "service",
            Self::Closures => "closure",
            Self::Gauges => "gauge",
            Self::Technicians => "technician",
            Self::Downtimes => "downtime window",
            Self::Parts => "part",
            Self::Deliveries => "delivery",
            Self::KitLines => "kit line",
            Self::ServiceKinds => "service duration",
            Self::Orders => "work order",
        }
    }

    /// The table of that name in the file.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|table| table.name() == name)
    }
}

/// What an action, an undo or a redo has touched.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// The tables in which rows came, went or changed; empty: all was already so.
    pub tables: BTreeSet<ShopTable>,
}

impl Changes {
    /// Whether nothing changed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.tables.is_empty()
    }

    /// Whether a table was touched.
    #[must_use]
    pub fn touch(&self, table: ShopTable) -> bool {
        self.tables.contains(&table)
    }
}

/// An id of one table.
pub(crate) trait TableId: Copy {
    fn of_row(row: i64) -> Self;
    fn to_row(self) -> i64;
}

macro_rules! table_ids {
    ($($name:ident),*) => {$(
        impl TableId for $name {
            fn of_row(row: i64) -> Self {
                Self::from_row(row)
            }
            fn to_row(self) -> i64 {
                self.row()
            }
        }
    )*};
}
table_ids!(
    ClosureId,
    DeliveryId,
    DowntimeId,
    GaugeId,
    InterfaceLimitsId,
    KitLineId,
    MachineId,
    MeterReadingId,
    MountingId,
    OrderId,
    PartId,
    ReadingId,
    ServiceId,
    ServiceKindId,
    SpindleId,
    TechnicianId
);

/// A noun that is stored as one row of one table.
pub(crate) trait Stored: Sized {
    /// Its id.
    type Id: TableId;
    /// Its table.
    const TABLE: ShopTable;
    /// Its columns after `id`, in the order of `values` and `read`.
    const COLUMNS: &'static [&'static str];
    /// What is stored.
    fn values(&self) -> Vec<Value>;
    /// The noun of what is stored.
    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError>;
}

/// Declares a noun whose fields are its columns.
macro_rules! stored {
    ($noun:ident: $id:ident in $table:ident { $($field:ident: $column:literal),* $(,)? }) => {
        impl $crate::store::tables::Stored for $noun {
            type Id = $crate::ids::$id;
            const TABLE: $crate::store::ShopTable = $crate::store::ShopTable::$table;
            const COLUMNS: &'static [&'static str] = &[$($column),*];
            fn values(&self) -> Vec<rusqlite::types::Value> {
                use $crate::store::columns::Column as _;
                vec![$(self.$field.to_value()),*]
            }
            fn read(fields: &mut $crate::store::columns::Fields<'_>) -> Result<Self, $crate::store::StoreError> {
                Ok(Self { $($field: fields.take()?),* })
            }
        }
    };
}
pub(super) use stored;

/// What is to be stored, unless the log could not hold it: SQL literals end at a character of code 0.
pub(super) fn storable(table: ShopTable, values: &[Value]) -> Result<(), StoreError> {
    let broken = |value: &Value| matches!(value, Value::Text(text) if text.contains('\0'));
    if values.iter().any(broken) {
        let rule = "a text holds a character of code 0".to_owned();
        return Err(StoreError::Refused { what: table.label(), rule });
    }
    Ok(())
}

fn insert_sql<T: Stored>() -> String {
    let marks = vec!["?"; T::COLUMNS.len() + 1].join(",");
    format!("INSERT INTO {} (id, {}) VALUES ({marks})", T::TABLE.name(), T::COLUMNS.join(", "))
}

/// Adds a row with the next free id, which it gives back.
pub(super) fn insert<T: Stored>(connection: &Connection, value: &T) -> Result<T::Id, StoreError> {
    let values = value.values();
    storable(T::TABLE, &values)?;
    connection
        .prepare_cached(&insert_sql::<T>())?
        .execute(params_from_iter(std::iter::once(&Value::Null).chain(&values)))
        .map_err(|error| StoreError::of_write(error, T::TABLE, &values))?;
    Ok(T::Id::of_row(connection.last_insert_rowid()))
}

/// Adds rows with the ids that they have.
pub(super) fn insert_all<T: Stored>(connection: &Connection, rows: &[Row<T::Id, T>]) -> Result<(), StoreError> {
    if rows.is_empty() {
        return Ok(());
    }
    let mut statement = connection.prepare_cached(&insert_sql::<T>())?;
    for row in rows {
        let id = Value::Integer(row.id.to_row());
        let values = row.value.values();
        storable(T::TABLE, &values)?;
        statement
            .execute(params_from_iter(std::iter::once(&id).chain(&values)))
            .map_err(|error| StoreError::of_write(error, T::TABLE, &values))?;
    }
    Ok(())
}

/// Gives a row another content.
pub(super) fn update<T: Stored>(connection: &Connection, id: T::Id, value: &T) -> Result<(), StoreError> {
    let assignments = T::COLUMNS.iter().map(|column| format!("{column} = ?")).collect::<Vec<_>>().join(", ");
    let sql = format!("UPDATE {} SET {assignments} WHERE id = ?", T::TABLE.name());
    let mut values = value.values();
    storable(T::TABLE, &values)?;
    values.push(Value::Integer(id.to_row()));
    let changed = connection
        .prepare_cached(&sql)?
        .execute(params_from_iter(&values))
        .map_err(|error| StoreError::of_write(error, T::TABLE, &values))?;
    if changed == 0 { Err(StoreError::Gone { what: T::TABLE.label() }) } else { Ok(()) }
}

/// Takes a row away.
pub(super) fn delete<T: Stored>(connection: &Connection, id: T::Id) -> Result<(), StoreError> {
    let sql = format!("DELETE FROM {} WHERE id = ?", T::TABLE.name());
    let changed = connection
        .prepare_cached(&sql)?
        .execute([id.to_row()])
        .map_err(|error| StoreError::of_write(error, T::TABLE, &[]))?;
    if changed == 0 { Err(StoreError::Gone { what: T::TABLE.label() }) } else { Ok(()) }
}

/// One row.
pub(super) fn get<T: Stored>(connection: &Connection, id: T::Id) -> Result<T, StoreError> {
    select(connection, "WHERE id = ?", [id.to_row()])?
        .pop()
        .map(|row: Row<T::Id, T>| row.value)
        .ok_or(StoreError::Gone { what: T::TABLE.label() })
}

/// All rows in the order of their ids.
pub(super) fn load_all<T: Stored>(connection: &Connection) -> Result<Vec<Row<T::Id, T>>, StoreError> {
    select(connection, "ORDER BY id", [])
}

/// The rows that a condition (and order) picks.
pub(super) fn select<T: Stored>(
    connection: &Connection,
    condition: &str,
    parameters: impl rusqlite::Params,
) -> Result<Vec<Row<T::Id, T>>, StoreError> {
    let sql = format!("SELECT id, {} FROM {} {condition}", T::COLUMNS.join(", "), T::TABLE.name());
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query(parameters)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let id = T::Id::of_row(row.get(0)?);
        let value = T::read(&mut Fields::of(row, T::TABLE.name(), T::COLUMNS))?;
        found.push(Row { id, value });
    }
    Ok(found)
}
