//! Rules of mountings: one spindle in one place, one place for one spindle.

use super::names::Names as _;
use super::registers::{self, Register};
use super::rules::{self, Checked};
use crate::error::{Conflict, Error};
use crate::ids::{MountingId, Row, SpindleId};
use crate::machine::Position;
use crate::mounting::{InvalidMounting, Mounting};
use crate::store::steps::Writer;
use crate::store::{StoreError, tables};
use chrono::NaiveDate;
use rusqlite::{Connection, params};

impl Checked for Mounting {
    fn label(&self, connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("mounting of {} in {}", connection.spindle(self.spindle)?.name, connection.position(self.position)?))
    }

    fn check(&self) -> Result<(), Error> {
        match self.removed_on {
            Some(removed) if removed <= self.mounted_on => {
                Err(InvalidMounting::EndBeforeStart { mounted: self.mounted_on, removed }.into())
            }
            _ => Ok(()),
        }
    }
}

impl Register for Mounting {
    fn check_among(&self, connection: &Connection, id: Option<MountingId>) -> Result<(), Error> {
        rules::position_exists(connection, self.position)?;
        rules::not_before_installed(connection, self.spindle, "mounting", self.mounted_on)?;
        let near: Vec<Row<MountingId, Self>> = tables::select(
            connection,
            "WHERE spindle_id = ?1 OR (machine_id = ?2 AND position = ?3) ORDER BY mounted_on, id",
            params![self.spindle.row(), self.position.machine.row(), self.position.number],
        )?;
        match near.iter().find(|other| Some(other.id) != id && other.overlaps(self)) {
            Some(other) => Err(overlap(connection, self, &other.value)?.into()),
            None => Ok(()),
        }
    }
}

/// How two stays are in each other's way.
pub(crate) fn overlap(
    connection: &Connection,
    wanted: &Mounting,
    there: &Mounting,
) -> Result<InvalidMounting, StoreError> {
    let spindle = connection.spindle(there.spindle)?.name;
    let position = connection.position(there.position)?;
    let from = there.mounted_on;
    Ok(if wanted.spindle == there.spindle {
        InvalidMounting::SpindleElsewhere { spindle, position, from }
    } else {
        InvalidMounting::PositionTaken { position, spindle, from }
    })
}

/// Adds a mounting.
pub(super) fn add(connection: &Connection, mounting: &Mounting) -> Result<MountingId, Error> {
    registers::add(connection, mounting)
}

/// The spindle in a position goes out and another comes in; gives back the label of the step.
pub(crate) fn exchange(
    writer: &Writer<'_>,
    position: Position,
    incoming: Option<SpindleId>,
    on: NaiveDate,
) -> Result<String, Error> {
    let connection = writer.connection;
    rules::position_exists(connection, position)?;
    let shown = connection.position(position)?;
    let stays: Vec<Row<MountingId, Mounting>> = tables::select(
        connection,
        "WHERE machine_id = ?1 AND position = ?2 ORDER BY mounted_on, id",
        params![position.machine.row(), position.number],
    )?;
    let outgoing = stays.iter().find(|stay| stay.covers(on));
    let outgoing_name = outgoing.map(|stay| connection.spindle(stay.spindle)).transpose()?.map(|spindle| spindle.name);
    if let (Some(stay), Some(name)) = (outgoing, &outgoing_name) {
        if incoming == Some(stay.spindle) {
            return Err(Conflict::SameSpindle { spindle: name.clone(), position: shown }.into());
        }
        let ended = Mounting { removed_on: Some(on), ..stay.value };
        registers::set(connection, stay.id, &ended)?;
    }
    let incoming_name = incoming.map(|id| connection.spindle(id)).transpose()?.map(|spindle| spindle.name);
    if let Some(spindle) = incoming {
        // up to the next stay, if one is already written down for later
        let next = stays.iter().map(|stay| stay.mounted_on).find(|day| *day > on);
        add(connection, &Mounting { spindle, position, mounted_on: on, removed_on: next })?;
    }
    match (outgoing_name, incoming_name) {
        (Some(out), Some(into)) => Ok(format!("Exchange {out} for {into} in {shown}")),
        (Some(out), None) => Ok(format!("Take {out} out of {shown}")),
        (None, Some(into)) => Ok(format!("Mount {into} in {shown}")),
        (None, None) => Err(Conflict::NothingToExchange(shown).into()),
    }
}
