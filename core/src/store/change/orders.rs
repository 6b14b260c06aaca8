//! Rules of the smaller registers and of work orders.

use super::names::Names as _;
use super::registers::Register;
use super::rules::{Checked, figure, listable, name};
use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::{Downtime, WindowScope};
use crate::error::{Conflict, Error, InvalidRegister};
use crate::gauge::Gauge;
use crate::ids::{KitLineId, PartId, Row, ServiceKindId};
use crate::moment::DayRange;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::store::steps::Writer;
use crate::store::{StoreError, tables};
use crate::units::{Minutes, Money, Percent, RunHours};

/// The smallest amount above zero.
const ABOVE_ZERO: f64 = f64::MIN_POSITIVE;

impl Checked for Closure {
    fn check(&self) -> Result<(), Error> {
        days_in_order("closure", &self.days)
    }
}

impl Register for Closure {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("closure {}", self.days))
    }
}

fn days_in_order(what: &str, days: &DayRange) -> Result<(), Error> {
    if days.first <= days.last {
        return Ok(());
    }
    let (start, end) = (days.first.to_string(), days.last.to_string());
    Err(InvalidRegister::EndBeforeStart { what: what.to_owned(), start, end }.into())
}

impl Checked for Gauge {
    fn check(&self) -> Result<(), Error> {
        name("gauge", &self.name)?;
        let what = || format!("gauge {}", self.name);
        figure(what, "range", self.range_max, ABOVE_ZERO..=f64::MAX, "above 0")?;
        figure(what, "resolution", self.resolution, ABOVE_ZERO..=f64::MAX, "above 0")?;
        if let Some(unit) = self.unit.filter(|unit| unit.quantity() != self.quantity) {
            let (gauge, quantity) = (self.name.clone(), self.quantity.label());
            return Err(InvalidRegister::UnitOfOtherQuantity { gauge, quantity, unit: unit.symbol() }.into());
        }
        self.out.iter().try_for_each(|days| days_in_order(&format!("an absence of gauge {}", self.name), days))
    }
}

impl Register for Gauge {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("gauge {}", self.name))
    }

    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }
}

impl Checked for Technician {
    fn check(&self) -> Result<(), Error> {
        name("technician", &self.name)?;
        let what = || format!("technician {}", self.name);
        figure(what, "hours per day", self.hours_per_day.map(RunHours::get), 0.0..=24.0, "0 to 24")?;
        self.absent.iter().try_for_each(|days| days_in_order(&format!("an absence of {}", self.name), days))
    }
}

impl Register for Technician {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("technician {}", self.name))
    }

    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    /// Open orders name who does them; what was done keeps the name it was done under.
    fn follow(&self, writer: &Writer<'_>, before: &Self) -> Result<(), Error> {
        if self.name == before.name {
            return Ok(());
        }
        for Row { id, value: mut order } in tables::load_all::<Order>(writer.connection)? {
            if order.state.is_open() && order.technicians.contains(&before.name) {
                for technician in order.technicians.iter_mut().filter(|technician| **technician == before.name) {
                    technician.clone_from(&self.name);
                }
                tables::update(writer.connection, id, &order)?;
            }
        }
        Ok(())
    }
}

impl Checked for Downtime {
    fn check(&self) -> Result<(), Error> {
        // an end without a time is the whole of that day
        if self.end.date < self.start.date || (self.end.time.is_some() && self.end <= self.start) {
            let (start, end) = (self.start.to_string(), self.end.to_string());
            return Err(InvalidRegister::EndBeforeStart { what: "a downtime window".to_owned(), start, end }.into());
        }
        let what = || "a downtime window".to_owned();
        figure(what, "stop factor", self.stop_factor.map(Percent::get), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "premium", self.premium_per_hour.map(Money::get), 0.0..=f64::MAX, "0 or more")
    }
}

impl Register for Downtime {
    fn label(&self, writer: &Writer<'_>) -> Result<String, StoreError> {
        let scope = match &self.scope {
            WindowScope::AllHalls => "all halls".to_owned(),
            WindowScope::Hall(hall) => hall.clone(),
            WindowScope::Machine(machine) => writer.machine(*machine)?.name,
        };
        Ok(format!("downtime window of {scope} from {}", self.start))
    }

    fn check_among(&self, writer: &Writer<'_>, _id: Option<Self::Id>) -> Result<(), Error> {
        if let WindowScope::Machine(machine) = self.scope {
            writer.machine(machine)?;
        }
        Ok(())
    }
}

impl Checked for Part {
    fn check(&self) -> Result<(), Error> {
        name("part", &self.name)?;
        let what = || format!("part {}", self.name);
        figure(what, "stock", Some(self.on_hand), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "price", self.price.map(Money::get), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "reorder point", self.reorder_point, 0.0..=f64::MAX, "0 or more")
    }
}

impl Register for Part {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("part {}", self.name))
    }

    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_removal(&self, writer: &Writer<'_>, _id: PartId) -> Result<(), Error> {
        let kits: Vec<Row<_, KitLine>> = tables::select(writer.connection, "WHERE part = ?1", [&self.name])?;
        let deliveries: Vec<Row<_, Delivery>> = tables::select(writer.connection, "WHERE part = ?1", [&self.name])?;
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
    fn follow(&self, writer: &Writer<'_>, before: &Self) -> Result<(), Error> {
        if self.name != before.name {
            for table in [crate::store::ShopTable::KitLines, crate::store::ShopTable::Deliveries] {
                writer
                    .connection
                    .execute(
                        &format!("UPDATE {} SET part = ?1 WHERE part = ?2", table.name()),
                        [&self.name, &before.name],
                    )
                    .map_err(|error| StoreError::of_write(error, table))?;
            }
        }
        Ok(())
    }
}

impl Checked for Delivery {
    fn check(&self) -> Result<(), Error> {
        name("part", &self.part)?;
        let what = || format!("a delivery of {}", self.part);
        figure(what, "quantity", Some(self.quantity), ABOVE_ZERO..=f64::MAX, "above 0")
    }
}

impl Register for Delivery {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("delivery of {}", self.part))
    }
}

impl Checked for KitLine {
    fn check(&self) -> Result<(), Error> {
        name("part", &self.part)?;
        let what = || format!("a kit with {}", self.part);
        figure(what, "quantity", Some(self.quantity), ABOVE_ZERO..=f64::MAX, "above 0")
    }
}

impl Register for KitLine {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("{} in the kit for a {} service of {}", self.part, self.kind.key(), self.interface))
    }

    fn check_among(&self, writer: &Writer<'_>, id: Option<KitLineId>) -> Result<(), Error> {
        let key = |line: &Self| (line.interface.clone(), line.kind, line.part.clone());
        let others = tables::load_all::<Self>(writer.connection)?;
        if others.iter().any(|other| Some(other.id) != id && key(other) == key(self)) {
            return Err(Conflict::Double(self.label(writer)?).into());
        }
        Ok(())
    }
}

impl Checked for ServiceKind {
    fn check(&self) -> Result<(), Error> {
        let what = || format!("a {} service of {}", self.kind.key(), self.interface);
        figure(what, "duration", Some(Minutes::get(self.minutes)), ABOVE_ZERO..=f64::MAX, "above 0 min")?;
        figure(what, "crew", Some(f64::from(self.crew)), 1.0..=2.0, "1 or 2 people")
    }
}

impl Register for ServiceKind {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("duration of a {} service of {}", self.kind.key(), self.interface))
    }

    fn check_among(&self, writer: &Writer<'_>, id: Option<ServiceKindId>) -> Result<(), Error> {
        let others = tables::load_all::<Self>(writer.connection)?;
        let same = |other: &Self| other.interface == self.interface && other.kind == self.kind;
        if others.iter().any(|other| Some(other.id) != id && same(&other.value)) {
            return Err(Conflict::Double(format!("a {}", self.label(writer)?)).into());
        }
        Ok(())
    }
}

impl Checked for Order {
    fn check(&self) -> Result<(), Error> {
        name("order", &self.name)?;
        self.technicians.iter().try_for_each(|technician| listable("technician", technician))?;
        let what = || format!("order {}", self.name);
        figure(what, "duration", self.duration.map(RunHours::get), ABOVE_ZERO..=f64::MAX, "above 0 h")?;
        if let (Some(opened), Some(closed)) = (self.opened_on, self.closed_on)
            && closed < opened
        {
            let (start, end) = (opened.to_string(), closed.to_string());
            return Err(InvalidRegister::EndBeforeStart { what: what(), start, end }.into());
        }
        Ok(())
    }
}

impl Register for Order {
    fn label(&self, _writer: &Writer<'_>) -> Result<String, StoreError> {
        Ok(format!("order {}", self.name))
    }

    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_among(&self, writer: &Writer<'_>, _id: Option<Self::Id>) -> Result<(), Error> {
        writer.spindle(self.spindle)?;
        Ok(())
    }
}
