//! Rules of parts, deliveries, kits and durations.

use super::registers::Register;
use super::rules::{ABOVE_ZERO, Checked, figure, name};
use crate::error::{Conflict, Error};
use crate::ids::{KitLineId, PartId, Row, ServiceKindId};
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::store::{ShopTable, StoreError, tables};
use crate::units::{Minutes, Money};
use rusqlite::Connection;

impl Checked for Part {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("part {}", self.name))
    }

    fn check(&self) -> Result<(), Error> {
        name("part", &self.name)?;
        let what = || format!("part {}", self.name);
        figure(what, "stock", Some(self.on_hand), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "price", self.price.map(Money::get), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "reorder point", self.reorder_point, 0.0..=f64::MAX, "0 or more")
    }
}

impl Register for Part {
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_removal(&self, connection: &Connection, _id: PartId) -> Result<(), Error> {
        let kits: Vec<Row<_, KitLine>> = tables::select(connection, "WHERE part = ?1", [&self.name])?;
        let deliveries: Vec<Row<_, Delivery>> = tables::select(connection, "WHERE part = ?1", [&self.name])?;
        if kits.is_empty() && deliveries.is_empty() {
            return Ok(());
        }
        Err(Conflict::HasRecords {
            what: format!("part {}", self.name),
            records: format!("kit lines: {}, deliveries: {}", kits.len(), deliveries.len()),
            instead: "remove those first",
        }
        .into())
    }

    /// Kits and deliveries name the part.
    fn follow(&self, connection: &Connection, before: &Self) -> Result<(), Error> {
        if self.name != before.name {
            for table in [ShopTable::KitLines, ShopTable::Deliveries] {
                connection
                    .execute(
                        &format!("UPDATE {} SET part = ?1 WHERE part = ?2", table.name()),
                        [&self.name, &before.name],
                    )
                    .map_err(|error| StoreError::of_write(error, table, &[]))?;
            }
        }
        Ok(())
    }
}

impl Checked for Delivery {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("delivery of {}", self.part))
    }

    fn check(&self) -> Result<(), Error> {
        name("part", &self.part)?;
        let what = || format!("a delivery of {}", self.part);
        figure(what, "quantity", Some(self.quantity), ABOVE_ZERO..=f64::MAX, "above 0")
    }
}

impl Register for Delivery {}

impl Checked for KitLine {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("{} in the kit for a {} service of {}", self.part, self.kind.key(), self.interface))
    }

    fn check(&self) -> Result<(), Error> {
        name("part", &self.part)?;
        let what = || format!("a kit with {}", self.part);
        figure(what, "quantity", Some(self.quantity), ABOVE_ZERO..=f64::MAX, "above 0")
    }
}

impl Register for KitLine {
    fn check_among(&self, connection: &Connection, id: Option<KitLineId>) -> Result<(), Error> {
        let key = |line: &Self| (line.interface.clone(), line.kind, line.part.clone());
        let others = tables::load_all::<Self>(connection)?;
        if others.iter().any(|other| Some(other.id) != id && key(other) == key(self)) {
            return Err(Conflict::Double(self.label(connection)?).into());
        }
        Ok(())
    }
}

impl Checked for ServiceKind {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("duration of a {} service of {}", self.kind.key(), self.interface))
    }

    fn check(&self) -> Result<(), Error> {
        let what = || format!("a {} service of {}", self.kind.key(), self.interface);
        figure(what, "duration", Some(Minutes::get(self.minutes)), ABOVE_ZERO..=f64::MAX, "above 0 min")?;
        figure(what, "crew", Some(f64::from(self.crew)), 1.0..=2.0, "1 or 2 people")
    }
}

impl Register for ServiceKind {
    fn check_among(&self, connection: &Connection, id: Option<ServiceKindId>) -> Result<(), Error> {
        let others = tables::load_all::<Self>(connection)?;
        let same = |other: &Self| other.interface == self.interface && other.kind == self.kind;
        if others.iter().any(|other| Some(other.id) != id && same(&other.value)) {
            return Err(Conflict::Double(format!("a {}", self.label(connection)?)).into());
        }
        Ok(())
    }
}
