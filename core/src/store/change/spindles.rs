//! Rules of spindles and of limits.

use super::names::records_of;
use super::registers::Register;
use super::rules::{self, Checked};
use crate::error::{Conflict, Error};
use crate::ids::{InterfaceLimitsId, SpindleId};
use crate::limits::InterfaceLimits;
use crate::spindle::{Spindle, check_limits};
use crate::store::{ShopTable, StoreError, tables};
use rusqlite::Connection;

impl Checked for Spindle {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("spindle {}", self.name))
    }

    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        Ok(())
    }
}

impl Register for Spindle {
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_among(&self, connection: &Connection, id: Option<SpindleId>) -> Result<(), Error> {
        match (id, self.installed_on) {
            (Some(id), Some(installed)) => rules::nothing_before(connection, id, &self.name, installed),
            _ => Ok(()),
        }
    }

    fn check_removal(&self, connection: &Connection, id: SpindleId) -> Result<(), Error> {
        let tables =
            [ShopTable::Mountings, ShopTable::Meters, ShopTable::Readings, ShopTable::Services, ShopTable::Orders];
        match records_of(connection, &tables, "spindle_id", id.row())? {
            Some(records) => Err(Conflict::HasRecords {
                what: format!("spindle {}", self.name),
                records,
                instead: "give it a day on which it goes out of service instead",
            }
            .into()),
            None => Ok(()),
        }
    }
}

impl Checked for InterfaceLimits {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(match &self.interface {
            Some(interface) => format!("limits of {interface}"),
            None => "limits of all interfaces".to_owned(),
        })
    }

    fn check(&self) -> Result<(), Error> {
        check_limits(&self.values)?;
        Ok(())
    }
}

impl Register for InterfaceLimits {
    fn check_among(&self, connection: &Connection, id: Option<InterfaceLimitsId>) -> Result<(), Error> {
        let others = tables::load_all::<Self>(connection)?;
        if others.iter().any(|other| Some(other.id) != id && other.interface == self.interface) {
            return Err(Conflict::Double(format!("a row of {}", self.label(connection)?)).into());
        }
        Ok(())
    }
}
