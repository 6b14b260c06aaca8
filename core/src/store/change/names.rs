//! Names of rows for labels and messages, and what refers to a row.

use crate::ids::{MachineId, SpindleId};
use crate::machine::{Machine, Position};
use crate::meter::MeterOwner;
use crate::spindle::Spindle;
use crate::store::StoreError;
use crate::store::tables::{self, ShopTable};
use rusqlite::{Connection, OptionalExtension as _};

/// Looking up names inside a step.
pub(super) trait Names {
    /// The row of that name.
    fn id_named(&self, table: ShopTable, name: &str) -> Result<Option<i64>, StoreError>;
    /// A spindle that has to be there.
    fn spindle(&self, id: SpindleId) -> Result<Spindle, StoreError>;
    /// A machine that has to be there.
    fn machine(&self, id: MachineId) -> Result<Machine, StoreError>;
    /// A position as it is shown.
    fn position(&self, position: Position) -> Result<String, StoreError>;
    /// Whose meter, as it is shown.
    fn meter_owner(&self, owner: MeterOwner) -> Result<String, StoreError>;
    /// How many rows of a table refer to a row by that column.
    fn count(&self, table: ShopTable, column: &str, row: i64) -> Result<i64, StoreError>;
}

impl Names for Connection {
    fn id_named(&self, table: ShopTable, name: &str) -> Result<Option<i64>, StoreError> {
        let sql = format!("SELECT id FROM {} WHERE name = ?1", table.name());
        Ok(self.prepare_cached(&sql)?.query_row([name], |row| row.get(0)).optional()?)
    }

    fn spindle(&self, id: SpindleId) -> Result<Spindle, StoreError> {
        tables::get(self, id)
    }

    fn machine(&self, id: MachineId) -> Result<Machine, StoreError> {
        tables::get(self, id)
    }

    fn position(&self, position: Position) -> Result<String, StoreError> {
        Ok(self.machine(position.machine)?.position_label(position.number))
    }

    fn meter_owner(&self, owner: MeterOwner) -> Result<String, StoreError> {
        match owner {
            MeterOwner::Spindle(spindle) => Ok(self.spindle(spindle)?.name),
            MeterOwner::Position(position) => self.position(position),
        }
    }

    fn count(&self, table: ShopTable, column: &str, row: i64) -> Result<i64, StoreError> {
        let sql = format!("SELECT count(*) FROM {} WHERE {column} = ?1", table.name());
        Ok(self.prepare_cached(&sql)?.query_row([row], |row| row.get(0))?)
    }
}

/// `12 readings, 1 service` of the tables that refer to a row; `None` if none does.
pub(super) fn records_of(
    connection: &Connection,
    tables: &[ShopTable],
    column: &str,
    row: i64,
) -> Result<Option<String>, StoreError> {
    let mut found = Vec::new();
    for table in tables {
        match connection.count(*table, column, row)? {
            0 => {}
            1 => found.push(format!("1 {}", table.label())),
            n => found.push(format!("{n} {}s", table.label())),
        }
    }
    Ok((!found.is_empty()).then(|| found.join(", ")))
}
