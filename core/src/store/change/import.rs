//! What an import found, as one step: all of it or nothing.

use super::mountings;
use super::names::Names as _;
use super::registers::{Register, check_settings};
use super::rules::{Checked, DATED, position_exists};
use crate::actions::{ImportBatch, Table};
use crate::error::{Conflict, Error};
use crate::ids::{MountingId, Row, SpindleId};
use crate::interface::Interface;
use crate::limits::InterfaceLimits;
use crate::machine::Position;
use crate::moment::parse_iso_date;
use crate::mounting::Mounting;
use crate::part::{KitLine, ServiceKind};
use crate::store::journal::rows_text;
use crate::store::steps::Writer;
use crate::store::tables::{self, TableId as _};
use crate::store::{ShopTable, StoreError, log};
use rusqlite::Connection;
use std::collections::BTreeSet;

/// Above so many new rows a step is written down as ranges of rows.
const ROW_BY_ROW: usize = 100_000;

/// Something to do with each table of a batch.
trait TableVisitor {
    fn visit<T: Checked>(&mut self, table: &Table<T::Id, T>) -> Result<(), Error>;
}

/// Visits the tables in an order in which rows only refer to earlier ones.
fn visit_all(batch: &ImportBatch, visitor: &mut impl TableVisitor) -> Result<(), Error> {
    visitor.visit(&batch.machines)?;
    visitor.visit(&batch.spindles)?;
    visitor.visit(&batch.interface_limits)?;
    visitor.visit(&batch.mountings)?;
    visitor.visit(&batch.meters)?;
    visitor.visit(&batch.readings)?;
    visitor.visit(&batch.services)?;
    visitor.visit(&batch.closures)?;
    visitor.visit(&batch.gauges)?;
    visitor.visit(&batch.technicians)?;
    visitor.visit(&batch.downtimes)?;
    visitor.visit(&batch.parts)?;
    visitor.visit(&batch.deliveries)?;
    visitor.visit(&batch.kit_lines)?;
    visitor.visit(&batch.service_kinds)?;
    visitor.visit(&batch.orders)
}

/// Takes a batch in; gives back the label of the step.
pub(crate) fn import(writer: &Writer<'_>, batch: &ImportBatch) -> Result<String, Error> {
    let mut count = Count { n_added: 0, n_changed: usize::from(batch.settings.is_some()) };
    visit_all(batch, &mut count)?;
    // ranges stand before all other changes of a step, so they cannot follow any
    let row_by_row = count.n_added <= ROW_BY_ROW || !log::touched(writer.connection, writer.step)?.is_empty();
    writer.log_rows(row_by_row)?;
    visit_all(batch, &mut AddAll { writer, row_by_row })?;
    writer.log_rows(true)?;
    visit_all(batch, &mut ChangeAll { writer })?;
    if let Some(settings) = &batch.settings {
        check_settings(settings)?;
        crate::store::settings::save(writer.connection, settings)?;
    }
    check_whole(writer.connection, batch)?;
    // a corrected row goes in twice, and several settings are one change: the user counts rows
    let rows = if batch.rows > 0 { batch.rows } else { count.n_added + count.n_changed };
    Ok(format!("Import {}: {}", batch.source, rows_text(rows as u64)))
}

/// Counts rows.
struct Count {
    n_added: usize,
    n_changed: usize,
}

impl TableVisitor for Count {
    fn visit<T: Checked>(&mut self, table: &Table<T::Id, T>) -> Result<(), Error> {
        self.n_added += table.added.len();
        self.n_changed += table.changed.len();
        Ok(())
    }
}

/// Puts the new rows in.
struct AddAll<'w, 'c> {
    writer: &'w Writer<'c>,
    row_by_row: bool,
}

impl TableVisitor for AddAll<'_, '_> {
    fn visit<T: Checked>(&mut self, table: &Table<T::Id, T>) -> Result<(), Error> {
        table.added.iter().try_for_each(|row| row.value.check())?;
        tables::insert_all(self.writer.connection, &table.added)?;
        if !self.row_by_row {
            let ids = table.added.iter().map(|row| row.id.to_row()).collect();
            log::note_added(self.writer.connection, self.writer.step, T::TABLE, ids)?;
        }
        Ok(())
    }
}

/// Gives rows that are there their new content.
struct ChangeAll<'w, 'c> {
    writer: &'w Writer<'c>,
}

impl TableVisitor for ChangeAll<'_, '_> {
    fn visit<T: Checked>(&mut self, table: &Table<T::Id, T>) -> Result<(), Error> {
        for row in &table.changed {
            row.value.check()?;
            tables::update(self.writer.connection, row.id, &row.value)?;
        }
        Ok(())
    }
}

/// The rules between rows, once all of them are in.
fn check_whole(connection: &Connection, batch: &ImportBatch) -> Result<(), Error> {
    check_positions(connection, ShopTable::Mountings)?;
    check_positions(connection, ShopTable::Meters)?;
    check_installed(connection)?;
    if touches(&batch.mountings)
        && let Some((wanted, there)) = first_overlap(&tables::load_all(connection)?)
    {
        return Err(mountings::overlap(connection, &wanted, &there)?.into());
    }
    check_doubles(connection, batch)
}

fn touches<I, T>(table: &Table<I, T>) -> bool {
    !table.added.is_empty() || !table.changed.is_empty()
}

/// Two stays that are in each other's way: the later one, the earlier one.
pub(crate) fn first_overlap(rows: &[Row<MountingId, Mounting>]) -> Option<(Mounting, Mounting)> {
    let mut stays: Vec<Mounting> = rows.iter().map(|row| row.value).collect();
    let clash = |stays: &[Mounting], same: fn(&Mounting, &Mounting) -> bool| {
        stays.windows(2).find_map(|pair| match pair {
            [earlier, later] if same(earlier, later) && earlier.overlaps(later) => Some((*later, *earlier)),
            _ => None,
        })
    };
    stays.sort_by_key(|stay| (stay.spindle, stay.mounted_on));
    let elsewhere = clash(&stays, |a, b| a.spindle == b.spindle);
    stays.sort_by_key(|stay| (stay.position, stay.mounted_on));
    elsewhere.or_else(|| clash(&stays, |a, b| a.position == b.position))
}

fn check_positions(connection: &Connection, table: ShopTable) -> Result<(), Error> {
    let sql = format!(
        "SELECT machine_id, position FROM {} AS used JOIN machine ON machine.id = machine_id
         WHERE position > positions LIMIT 1",
        table.name()
    );
    let mut statement = connection.prepare_cached(&sql).map_err(StoreError::from)?;
    let mut rows = statement.query([]).map_err(StoreError::from)?;
    match rows.next().map_err(StoreError::from)? {
        Some(row) => {
            let (machine, number) = (row.get(0), row.get(1));
            let machine = crate::ids::MachineId::from_row(machine.map_err(StoreError::from)?);
            position_exists(connection, Position { machine, number: number.map_err(StoreError::from)? })
        }
        None => Ok(()),
    }
}

fn check_installed(connection: &Connection) -> Result<(), Error> {
    for (table, column) in DATED {
        if let Some((spindle, day)) = first_before_installed(connection, table, column)? {
            let spindle = connection.spindle(spindle)?;
            if let (Some(installed), Some(date)) = (spindle.installed_on, parse_iso_date(&day)) {
                let spindle = spindle.name;
                return Err(Conflict::BeforeInstalled { what: table.label(), spindle, date, installed }.into());
            }
        }
    }
    Ok(())
}

fn first_before_installed(
    connection: &Connection,
    table: ShopTable,
    column: &str,
) -> Result<Option<(SpindleId, String)>, StoreError> {
    let sql = format!(
        "SELECT spindle_id, substr({column}, 1, 10) FROM {} JOIN spindle ON spindle.id = spindle_id
         WHERE {column} < installed_on LIMIT 1",
        table.name()
    );
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([])?;
    match rows.next()? {
        Some(row) => Ok(Some((SpindleId::from_row(row.get(0)?), row.get(1)?))),
        None => Ok(None),
    }
}

/// Rows that are known by more than a name must not be there twice.
fn check_doubles(connection: &Connection, batch: &ImportBatch) -> Result<(), Error> {
    if touches(&batch.interface_limits) {
        no_doubles(connection, |limits: &InterfaceLimits| limits.interface.clone())?;
    }
    if touches(&batch.kit_lines) {
        no_doubles(connection, |line: &KitLine| (line.interface.clone(), line.kind, line.part.clone()))?;
    }
    if touches(&batch.service_kinds) {
        no_doubles(connection, |kind: &ServiceKind| -> (Interface, _) { (kind.interface.clone(), kind.kind) })?;
    }
    Ok(())
}

fn no_doubles<T: Register, K: Ord>(connection: &Connection, key: impl Fn(&T) -> K) -> Result<(), Error> {
    let mut seen = BTreeSet::new();
    for row in tables::load_all::<T>(connection)? {
        if !seen.insert(key(&row.value)) {
            return Err(Conflict::Double(format!("a row for {}", row.value.label(connection)?)).into());
        }
    }
    Ok(())
}
