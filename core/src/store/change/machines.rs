//! Rules of machines.

use super::mountings;
use super::names::records_of;
use super::registers::{self, Register};
use super::rules::Checked;
use crate::error::{Conflict, Error};
use crate::ids::MachineId;
use crate::machine::{Machine, Position};
use crate::mounting::Mounting;
use crate::spindle::Spindle;
use crate::store::steps::Writer;
use crate::store::{ShopTable, StoreError};
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension as _, params};

impl Checked for Machine {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("machine {}", self.name))
    }

    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        Ok(())
    }
}

impl Register for Machine {
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_among(&self, connection: &Connection, id: Option<MachineId>) -> Result<(), Error> {
        let Some(id) = id else {
            return Ok(());
        };
        for table in [ShopTable::Mountings, ShopTable::Meters] {
            let sql = format!("SELECT position FROM {} WHERE machine_id = ?1 AND position > ?2 LIMIT 1", table.name());
            let used = connection
                .prepare_cached(&sql)
                .and_then(|mut statement| {
                    statement.query_row(params![id.row(), self.positions], |row| row.get(0)).optional()
                })
                .map_err(StoreError::from)?;
            if let Some(used) = used {
                let (machine, positions) = (self.name.clone(), self.positions);
                return Err(Conflict::PositionInUse { machine, positions, used, what: table.label() }.into());
            }
        }
        Ok(())
    }

    fn check_removal(&self, connection: &Connection, id: MachineId) -> Result<(), Error> {
        let tables = [ShopTable::Mountings, ShopTable::Meters, ShopTable::Downtimes];
        match records_of(connection, &tables, "machine_id", id.row())? {
            Some(records) => Err(Conflict::HasRecords {
                what: format!("machine {}", self.name),
                records,
                instead: "take its spindles out of it, and it has no more dates",
            }
            .into()),
            None => Ok(()),
        }
    }
}

/// A new machine with new spindles in its positions; gives back the label of the step.
pub(crate) fn add_with_spindles(
    writer: &Writer<'_>,
    machine: &Machine,
    spindles: &[(Spindle, u32, NaiveDate)],
) -> Result<String, Error> {
    let connection = writer.connection;
    let machine_id = registers::add(connection, machine)?;
    for (spindle, number, since) in spindles {
        let spindle = registers::add(connection, spindle)?;
        let position = Position { machine: machine_id, number: *number };
        mountings::add(connection, &Mounting { spindle, position, mounted_on: *since, removed_on: None })?;
    }
    Ok(match spindles.len() {
        0 => format!("Add machine {}", machine.name),
        1 => format!("Add machine {} with its spindle", machine.name),
        n => format!("Add machine {} with {n} spindles", machine.name),
    })
}
