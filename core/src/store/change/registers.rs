//! Adding, changing and removing a row of any register.

use super::names::Names as _;
use super::rules::Checked;
use crate::actions::Change;
use crate::error::{Conflict, Error};
use crate::settings::ShopSettings;
use crate::store::StoreError;
use crate::store::steps::Writer;
use crate::store::tables::{self, TableId as _};

/// A noun that is kept in a register: how it is named, and which rules it must fulfil.
pub(crate) trait Register: Checked {
    /// In a label, such as `machine R-04`.
    fn label(&self, writer: &Writer<'_>) -> Result<String, StoreError>;

    /// The name that has to be unique, where there is one.
    fn unique_name(&self) -> Option<&str> {
        None
    }

    /// The rules that it must fulfil among what stands in the shop; `id` is its row if it has one.
    fn check_among(&self, _writer: &Writer<'_>, _id: Option<Self::Id>) -> Result<(), Error> {
        Ok(())
    }

    /// Whether it may go.
    fn check_removal(&self, _writer: &Writer<'_>, _id: Self::Id) -> Result<(), Error> {
        Ok(())
    }

    /// What else follows when it takes the place of another content.
    fn follow(&self, _writer: &Writer<'_>, _before: &Self) -> Result<(), Error> {
        Ok(())
    }
}

/// Adds, changes or removes a row; gives back the label of the step.
pub(crate) fn change<T: Register>(writer: &Writer<'_>, change: Change<T::Id, T>) -> Result<String, Error> {
    match change {
        Change::Add(value) => {
            add(writer, &value)?;
            Ok(format!("Add {}", value.label(writer)?))
        }
        Change::Set(id, value) => {
            set(writer, id, &value)?;
            Ok(format!("Change {}", value.label(writer)?))
        }
        Change::Remove(id) => {
            let value: T = tables::get(writer.connection, id)?;
            let label = value.label(writer)?;
            value.check_removal(writer, id)?;
            tables::delete::<T>(writer.connection, id)?;
            Ok(format!("Remove {label}"))
        }
    }
}

/// Adds a row.
pub(super) fn add<T: Register>(writer: &Writer<'_>, value: &T) -> Result<T::Id, Error> {
    value.check()?;
    check_name(writer, value, None)?;
    value.check_among(writer, None)?;
    Ok(tables::insert(writer.connection, value)?)
}

/// Gives a row another content.
pub(super) fn set<T: Register>(writer: &Writer<'_>, id: T::Id, value: &T) -> Result<(), Error> {
    value.check()?;
    let before: T = tables::get(writer.connection, id)?;
    check_name(writer, value, Some(id))?;
    value.check_among(writer, Some(id))?;
    tables::update(writer.connection, id, value)?;
    value.follow(writer, &before)
}

fn check_name<T: Register>(writer: &Writer<'_>, value: &T, id: Option<T::Id>) -> Result<(), Error> {
    let Some(name) = value.unique_name() else {
        return Ok(());
    };
    let taken = writer.id_named(T::TABLE, name)?;
    if taken.is_some() && taken != id.map(|id| id.to_row()) {
        return Err(Conflict::Double(format!("a {} {name}", T::TABLE.label())).into());
    }
    Ok(())
}

/// Puts settings in place; gives back the label of the step.
pub(crate) fn settings(writer: &Writer<'_>, settings: &ShopSettings) -> Result<String, Error> {
    check_settings(settings)?;
    crate::store::settings::save(writer.connection, settings)?;
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
