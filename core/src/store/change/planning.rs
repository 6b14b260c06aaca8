//! Rules of what a plan rests on: closures, windows, gauges, people, work orders.

use super::names::Names as _;
use super::registers::Register;
use super::rules::{ABOVE_ZERO, Checked, figure, listable, name};
use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::{Downtime, WindowScope};
use crate::error::{Error, InvalidRegister};
use crate::gauge::Gauge;
use crate::ids::Row;
use crate::moment::DayRange;
use crate::order::Order;
use crate::recurrence::Recurrence;
use crate::store::{StoreError, tables};
use crate::units::{Money, Percent, RunHours};
use rusqlite::Connection;

impl Checked for Closure {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("closure {}", self.days))
    }

    fn check(&self) -> Result<(), Error> {
        days_in_order("closure", &self.days)
    }
}

impl Register for Closure {}

fn days_in_order(what: &str, days: &DayRange) -> Result<(), Error> {
    if days.first <= days.last {
        return Ok(());
    }
    let (start, end) = (days.first.to_string(), days.last.to_string());
    Err(InvalidRegister::EndBeforeStart { what: what.to_owned(), start, end }.into())
}

impl Checked for Gauge {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("gauge {}", self.name))
    }

    fn check(&self) -> Result<(), Error> {
        name("gauge", &self.name)?;
        let what = || format!("gauge {}", self.name);
        figure(what, "range", self.range_max, ABOVE_ZERO..=f64::MAX, "above 0")?;
        figure(what, "resolution", self.resolution, ABOVE_ZERO..=f64::MAX, "above 0")?;
        if let Some(unit) = self.unit.filter(|unit| unit.quantity() != self.quantity) {
            let (gauge, quantity) = (self.name.clone(), self.quantity.label());
            return Err(InvalidRegister::UnitOfOtherQuantity { gauge, quantity, unit: unit.symbol() }.into());
        }
        if let (Some(first), Some(last)) = (self.calibrated_on, self.calibration_due) {
            days_in_order(&format!("the calibration of gauge {}", self.name), &DayRange { first, last })?;
        }
        self.out.iter().try_for_each(|days| days_in_order(&format!("an absence of gauge {}", self.name), days))
    }
}

impl Register for Gauge {
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }
}

impl Checked for Technician {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("technician {}", self.name))
    }

    fn check(&self) -> Result<(), Error> {
        name("technician", &self.name)?;
        let what = || format!("technician {}", self.name);
        figure(what, "hours per day", self.hours_per_day.map(RunHours::get), 0.0..=24.0, "0 to 24")?;
        self.absent.iter().try_for_each(|days| days_in_order(&format!("an absence of {}", self.name), days))
    }
}

impl Register for Technician {
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    /// Open orders name who does them; what was done keeps the name it was done under.
    fn follow(&self, connection: &Connection, before: &Self) -> Result<(), Error> {
        if self.name == before.name {
            return Ok(());
        }
        for Row { id, value: mut order } in tables::load_all::<Order>(connection)? {
            if order.state.is_open() && order.technicians.contains(&before.name) {
                for technician in order.technicians.iter_mut().filter(|technician| **technician == before.name) {
                    technician.clone_from(&self.name);
                }
                tables::update(connection, id, &order)?;
            }
        }
        Ok(())
    }
}

impl Checked for Downtime {
    fn label(&self, connection: &Connection) -> Result<String, StoreError> {
        let scope = match &self.scope {
            WindowScope::AllHalls => "all halls".to_owned(),
            WindowScope::Hall(hall) => hall.clone(),
            WindowScope::Machine(machine) => connection.machine(*machine)?.name,
        };
        Ok(format!("downtime window of {scope} from {}", self.start))
    }

    fn check(&self) -> Result<(), Error> {
        // an end without a time is the whole of that day
        if self.end.date < self.start.date || (self.end.time.is_some() && self.end <= self.start) {
            let (start, end) = (self.start.to_string(), self.end.to_string());
            return Err(InvalidRegister::EndBeforeStart { what: "a downtime window".to_owned(), start, end }.into());
        }
        if let WindowScope::Hall(hall) = &self.scope {
            // as of machines: the files know no spaces at an end
            let what = "hall";
            if hall.trim().is_empty() {
                return Err(InvalidRegister::NoName(what).into());
            }
            if hall.trim() != hall {
                return Err(InvalidRegister::Separator { what, name: hall.clone(), held: "spaces at an end" }.into());
            }
        }
        if let Some(rule) = &self.repeat {
            Recurrence::parse(rule)?;
        }
        let what = || "a downtime window".to_owned();
        figure(what, "stop factor", self.stop_factor.map(Percent::get), 0.0..=f64::MAX, "0 or more")?;
        figure(what, "premium", self.premium_per_hour.map(Money::get), 0.0..=f64::MAX, "0 or more")
    }
}

impl Register for Downtime {
    fn check_among(&self, connection: &Connection, _id: Option<Self::Id>) -> Result<(), Error> {
        if let WindowScope::Machine(machine) = self.scope {
            connection.machine(machine)?;
        }
        Ok(())
    }
}

impl Checked for Order {
    fn label(&self, _connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("order {}", self.name))
    }

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
    fn unique_name(&self) -> Option<&str> {
        Some(&self.name)
    }

    fn check_among(&self, connection: &Connection, _id: Option<Self::Id>) -> Result<(), Error> {
        connection.spindle(self.spindle)?;
        Ok(())
    }
}
