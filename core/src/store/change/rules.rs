//! Rules that several nouns share.

use super::names::Names as _;
use crate::error::{Conflict, Error, InvalidRegister};
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::moment::parse_iso_date;
use crate::mounting::InvalidMounting;
use crate::store::tables::Stored;
use crate::store::{ShopTable, StoreError};
use chrono::NaiveDate;
use rusqlite::{Connection, OptionalExtension as _, params};

/// A noun with rules that it must fulfil on its own.
pub(crate) trait Checked: Stored {
    /// What it is, such as `machine R-04` or `reading of S-0117`.
    fn label(&self, connection: &Connection) -> Result<String, StoreError>;
    /// The first rule that is broken.
    fn check(&self) -> Result<(), Error>;
}

/// The smallest amount above zero.
pub(super) const ABOVE_ZERO: f64 = f64::MIN_POSITIVE;

/// The tables whose rows belong to a spindle on a day, and the column of that day.
pub(crate) const DATED: [(ShopTable, &str); 4] = [
    (ShopTable::Mountings, "mounted_on"),
    (ShopTable::Meters, "read_at"),
    (ShopTable::Readings, "taken_at"),
    (ShopTable::Services, "done_at"),
];

/// The machine has that position.
pub(super) fn position_exists(connection: &Connection, position: Position) -> Result<(), Error> {
    let machine = connection.machine(position.machine)?;
    if (1..=machine.positions).contains(&position.number) {
        return Ok(());
    }
    Err(InvalidMounting::NoSuchPosition { machine: machine.name, number: position.number }.into())
}

/// The spindle was there on that day.
pub(super) fn not_before_installed(
    connection: &Connection,
    spindle: SpindleId,
    what: &'static str,
    date: NaiveDate,
) -> Result<(), Error> {
    let spindle = connection.spindle(spindle)?;
    match spindle.installed_on {
        Some(installed) if date < installed => {
            Err(Conflict::BeforeInstalled { what, spindle: spindle.name, date, installed }.into())
        }
        _ => Ok(()),
    }
}

/// Nothing of a spindle is older than the day on which it was installed.
pub(super) fn nothing_before(
    connection: &Connection,
    id: SpindleId,
    name: &str,
    installed: NaiveDate,
) -> Result<(), Error> {
    for (table, column) in DATED {
        let sql = format!(
            "SELECT substr({column}, 1, 10) FROM {} WHERE spindle_id = ?1 AND {column} < ?2 ORDER BY {column} LIMIT 1",
            table.name()
        );
        let day: Option<String> = connection
            .prepare_cached(&sql)
            .and_then(|mut statement| {
                statement.query_row(params![id.row(), installed.to_string()], |row| row.get(0)).optional()
            })
            .map_err(StoreError::from)?;
        if let Some(date) = day.as_deref().and_then(parse_iso_date) {
            let spindle = name.to_owned();
            return Err(Conflict::BeforeInstalled { what: table.label(), spindle, date, installed }.into());
        }
    }
    Ok(())
}

/// A name that is there and that lists of names can hold.
pub(super) fn name(what: &'static str, name: &str) -> Result<(), Error> {
    if name.trim().is_empty() {
        return Err(InvalidRegister::NoName(what).into());
    }
    listable(what, name)
}

/// A name that lists of names, separated by `;`, can hold.
pub(super) fn listable(what: &'static str, name: &str) -> Result<(), Error> {
    let held = if name.contains(';') {
        "a semicolon"
    } else if name.trim() != name {
        "spaces at an end"
    } else if name.is_empty() {
        return Err(InvalidRegister::NoName(what).into());
    } else {
        return Ok(());
    };
    Err(InvalidRegister::Separator { what, name: name.to_owned(), held }.into())
}

/// A figure inside its range; not a number is outside of any.
pub(super) fn figure(
    what: impl FnOnce() -> String,
    field: &'static str,
    value: Option<f64>,
    range: std::ops::RangeInclusive<f64>,
    expected: &'static str,
) -> Result<(), Error> {
    match value {
        Some(value) if !range.contains(&value) => {
            Err(InvalidRegister::Figure { what: what(), field, value, expected }.into())
        }
        _ => Ok(()),
    }
}
