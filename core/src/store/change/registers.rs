//! Adding, changing and removing a row of any register.

use super::names::Names as _;
use super::rules::Checked;
use crate::actions::Change;
use crate::error::{Conflict, Error};
use crate::settings::ShopSettings;
use crate::store::steps::Writer;
use crate::store::tables::{self, TableId as _};
use rusqlite::Connection;

/// A noun that is kept in a register: how it is named, and which rules it must fulfil.
pub(crate) trait Register: Checked {
    /// The name that has to be unique, where there is one.
    fn unique_name(&self) -> Option<&str> {
        None
    }

    /// The rules that it must fulfil among what stands in the shop; `id` is its row if it has one.
    fn check_among(&self, _connection: &Connection, _id: Option<Self::Id>) -> Result<(), Error> {
        Ok(())
    }

    /// Whether it may go.
    fn check_removal(&self, _connection: &Connection, _id: Self::Id) -> Result<(), Error> {
        Ok(())
    }

    /// What else follows when it takes the place of another content.
    fn follow(&self, _connection: &Connection, _before: &Self) -> Result<(), Error> {
        Ok(())
    }
}

/// Adds, changes or removes a row; gives back the label of the step.
pub(crate) fn change<T: Register>(writer: &Writer<'_>, change: Change<T::Id, T>) -> Result<String, Error> {
    let connection = writer.connection;
    match change {
        Change::Add(value) => {
            add(connection, &value)?;
            Ok(format!("Add {}", value.label(connection)?))
        }
        Change::Set(id, value) => {
            set(connection, id, &value)?;
            Ok(format!("Change {}", value.label(connection)?))
        }
        Change::Remove(id) => {
            let value: T = tables::get(connection, id)?;
            let label = value.label(connection)?;
            value.check_removal(connection, id)?;
            tables::delete::<T>(connection, id)?;
            Ok(format!("Remove {label}"))
        }
    }
}

/// Adds a row.
pub(super) fn add<T: Register>(connection: &Connection, value: &T) -> Result<T::Id, Error> {
    value.check()?;
    check_name(connection, value, None)?;
    value.check_among(connection, None)?;
    Ok(tables::insert(connection, value)?)
}

/// Gives a row another content.
pub(super) fn set<T: Register>(connection: &Connection, id: T::Id, value: &T) -> Result<(), Error> {
    value.check()?;
    let before: T = tables::get(connection, id)?;
    check_name(connection, value, Some(id))?;
    value.check_among(connection, Some(id))?;
    tables::update(connection, id, value)?;
    value.follow(connection, &before)
}

fn check_name<T: Register>(connection: &Connection, value: &T, id: Option<T::Id>) -> Result<(), Error> {
    let Some(name) = value.unique_name() else {
        return Ok(());
    };
    let taken = connection.id_named(T::TABLE, name)?;
    if taken.is_some() && taken != id.map(|id| id.to_row()) {
        return Err(Conflict::Double(format!("a {} {name}", T::TABLE.label())).into());
    }
    Ok(())
}

/// Puts settings in place; gives back the label of the step.
pub(crate) fn settings(writer: &Writer<'_>, settings: &ShopSettings) -> Result<String, Error> {
    let connection = writer.connection;
    check_settings(settings)?;
    crate::store::settings::save(connection, settings)?;
    Ok("Change settings".to_owned())
}

/// Each setting must be one that its text would be taken for.
pub(super) fn check_settings(settings: &ShopSettings) -> Result<(), Error> {
    let mut probe = ShopSettings::default();
    for key in ShopSettings::KEYS {
        probe.set(key, &settings.text_of(key))?;
    }
    Ok(())
}
