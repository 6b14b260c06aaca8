//! The integrity of a shop file and of what stands in it, each fault in one sentence.

use super::change::{Checked, DATED, first_overlap, mounting_overlap};
use super::columns::Fields;
use super::tables::{ShopTable, TableId as _};
use super::{Store, StoreError, file, log};
use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::Downtime;
use crate::gauge::Gauge;
use crate::ids::Row;
use crate::limits::InterfaceLimits;
use crate::machine::Machine;
use crate::meter::MeterReading;
use crate::mounting::Mounting;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::reading::Reading;
use crate::service::Service;
use crate::spindle::Spindle;
use rusqlite::Connection;
use std::path::Path;

/// Checks a shop file without changing it; an empty list means that no fault was found.
///
/// # Errors
/// There is no such file, it is no shop, or it cannot be read at all.
pub fn check_file(path: &Path) -> Result<Vec<String>, StoreError> {
    file::version_of(path)?;
    match Store::open(path, super::Access::ReadOnly) {
        Ok(store) => store.check(),
        Err(StoreError::DamagedFile { why: said, .. }) => {
            match file::connect_unchecked(path).and_then(|file| structure(&file)) {
                Ok(faults) if !faults.is_empty() => Ok(faults),
                // too damaged for the long check
                _ => Ok(vec![format!("the file is damaged: {said}")]),
            }
        }
        Err(other) => Err(other),
    }
}

impl Store {
    /// Checks the open shop; an empty list means that no fault was found.
    ///
    /// # Errors
    /// The file cannot be read at all.
    pub fn check(&self) -> Result<Vec<String>, StoreError> {
        let connection = &self.connection;
        let mut faults = structure(connection)?;
        if let Err(fault) = super::settings::load(connection) {
            faults.push(fault.to_string());
        }
        rows_of::<Machine>(connection, &mut faults)?;
        rows_of::<Spindle>(connection, &mut faults)?;
        rows_of::<InterfaceLimits>(connection, &mut faults)?;
        let mountings = rows_of::<Mounting>(connection, &mut faults)?;
        rows_of::<MeterReading>(connection, &mut faults)?;
        rows_of::<Reading>(connection, &mut faults)?;
        rows_of::<Service>(connection, &mut faults)?;
        rows_of::<Closure>(connection, &mut faults)?;
        rows_of::<Gauge>(connection, &mut faults)?;
        rows_of::<Technician>(connection, &mut faults)?;
        rows_of::<Downtime>(connection, &mut faults)?;
        rows_of::<Part>(connection, &mut faults)?;
        rows_of::<Delivery>(connection, &mut faults)?;
        rows_of::<KitLine>(connection, &mut faults)?;
        rows_of::<ServiceKind>(connection, &mut faults)?;
        rows_of::<Order>(connection, &mut faults)?;
        if let Some((later, earlier)) = first_overlap(&mountings) {
            faults.push(mounting_overlap(connection, &later, &earlier)?.to_string());
        }
        positions(connection, &mut faults)?;
        days(connection, &mut faults)?;
        log::faults(connection, &mut faults)?;
        Ok(faults)
    }
}

/// SQLite's own checks.
fn structure(connection: &Connection) -> Result<Vec<String>, StoreError> {
    let mut faults = Vec::new();
    let mut statement = connection.prepare("PRAGMA integrity_check(100)")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let said: String = row.get(0)?;
        if said != "ok" {
            faults.push(format!("the file is damaged: {}", said.replace('\n', ", ")));
        }
    }
    if !faults.is_empty() {
        // what a damaged file refers to is anybody's guess
        return Ok(faults);
    }
    let mut statement = connection.prepare("PRAGMA foreign_key_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, id, parent): (String, Option<i64>, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let label =
            |name: &str| ShopTable::from_name(name).map_or_else(|| name.to_owned(), |table| table.label().to_owned());
        let (what, parent) = (label(&table), label(&parent));
        faults.push(format!("{what} in row {} refers to a {parent} that is not there", id.unwrap_or_default()));
    }
    Ok(faults)
}

/// Reads each row of a table and applies its rules; gives back those that can be read.
fn rows_of<T: Checked>(connection: &Connection, faults: &mut Vec<String>) -> Result<Vec<Row<T::Id, T>>, StoreError> {
    let sql = format!("SELECT id, {} FROM {} ORDER BY id", T::COLUMNS.join(", "), T::TABLE.name());
    let mut statement = connection.prepare(&sql)?;
    let mut rows = statement.query([])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        match T::read(&mut Fields::of(row, T::TABLE.name(), T::COLUMNS)) {
            Err(fault) => faults.push(fault.to_string()),
            Ok(value) => {
                if let Err(fault) = value.check() {
                    let label = value.label(connection).unwrap_or_else(|_gone| T::TABLE.label().to_owned());
                    faults.push(format!("{label} in row {id}: {fault}"));
                }
                found.push(Row { id: T::Id::of_row(id), value });
            }
        }
    }
    Ok(found)
}

/// Positions that their machine does not have.
fn positions(connection: &Connection, faults: &mut Vec<String>) -> Result<(), StoreError> {
    for table in [ShopTable::Mountings, ShopTable::Meters] {
        let mut statement = connection.prepare(&format!(
            "SELECT used.id, name, position FROM {} AS used JOIN machine ON machine.id = machine_id
             WHERE position > positions ORDER BY used.id",
            table.name()
        ))?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, machine, position): (i64, String, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
            faults.push(format!("{} in row {id}: machine {machine} has no position {position}", table.label()));
        }
    }
    Ok(())
}

/// Rows older than their spindle.
fn days(connection: &Connection, faults: &mut Vec<String>) -> Result<(), StoreError> {
    for (table, column) in DATED {
        let (name, label) = (table.name(), table.label());
        let mut statement = connection.prepare(&format!(
            "SELECT dated.id, name, substr({column}, 1, 10), installed_on
             FROM {name} AS dated JOIN spindle ON spindle.id = spindle_id
             WHERE {column} < installed_on ORDER BY dated.id"
        ))?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, spindle, day, installed): (i64, String, String, String) =
                (row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?);
            faults
                .push(format!("{label} in row {id}: {day} lies before spindle {spindle} was installed on {installed}"));
        }
    }
    Ok(())
}
