//! Rules of records: what was measured and done is never overwritten.

use super::names::Names as _;
use super::rules::{Checked, listable, not_before_installed, position_exists};
use crate::actions::Recording;
use crate::error::{Conflict, Error};
use crate::meter::{MeterOwner, MeterReading};
use crate::reading::{InvalidReading, Reading, Stroke};
use crate::service::Service;
use crate::store::StoreError;
use crate::store::steps::Writer;
use crate::store::tables;
use chrono::NaiveDate;
use rusqlite::Connection;

/// The days of a record.
pub(crate) struct RecordDays<'r> {
    /// When it happened.
    date: NaiveDate,
    /// When it was entered, where that is another day.
    recorded_on: &'r mut Option<NaiveDate>,
    /// When a correction took its place.
    replaced_on: &'r mut Option<NaiveDate>,
}

/// A noun that is recorded.
pub(crate) trait Record: Checked {
    /// Its days.
    fn days(&mut self) -> RecordDays<'_>;
    /// The rules that it must fulfil among what stands in the shop.
    fn check_among(&self, connection: &Connection) -> Result<(), Error>;
    /// Whether it can come in the place of an older one, which is called `what`.
    fn check_replaces(&self, old: &Self, what: &str) -> Result<(), Error> {
        let _ = (old, what);
        Ok(())
    }
}

/// Records, corrects or withdraws; gives back the label of the step.
pub(crate) fn record<T: Record>(writer: &Writer<'_>, recording: Recording<T::Id, T>) -> Result<String, Error> {
    let connection = writer.connection;
    match recording {
        Recording::Record(value) => {
            add(connection, &value)?;
            Ok(format!("Record {}", value.label(connection)?))
        }
        Recording::Correct(id, mut value, on) => {
            let (what, old) = withdraw::<T>(connection, id, on)?;
            value.check_replaces(&old, &what)?;
            let days = value.days();
            *days.recorded_on = (on != days.date).then_some(on);
            *days.replaced_on = None;
            add(connection, &value)?;
            Ok(format!("Correct {what}"))
        }
        Recording::Withdraw(id, on) => Ok(format!("Withdraw {}", withdraw::<T>(connection, id, on)?.0)),
    }
}

fn add<T: Record>(connection: &Connection, value: &T) -> Result<T::Id, Error> {
    value.check()?;
    value.check_among(connection)?;
    Ok(tables::insert(connection, value)?)
}

/// From that day the record no longer counts; gives back its name and what it was.
fn withdraw<T: Record>(connection: &Connection, id: T::Id, on: NaiveDate) -> Result<(String, T), Error> {
    let mut old: T = tables::get(connection, id)?;
    let what = old.label(connection)?;
    let days = old.days();
    let recorded = days.recorded_on.unwrap_or(days.date);
    if let Some(replaced) = *days.replaced_on {
        return Err(Conflict::AlreadyReplaced { what, replaced }.into());
    }
    if on < recorded {
        return Err(Conflict::CorrectedBefore { what, correction: on, recorded }.into());
    }
    *days.replaced_on = Some(on);
    tables::update(connection, id, &old)?;
    Ok((what, old))
}

/// A service with its readings; gives back the label of the step.
pub(crate) fn record_service(writer: &Writer<'_>, service: &Service, readings: &[Reading]) -> Result<String, Error> {
    let connection = writer.connection;
    add(connection, service)?;
    for reading in readings {
        if reading.spindle != service.spindle {
            let (service, reading) =
                (connection.spindle(service.spindle)?.name, connection.spindle(reading.spindle)?.name);
            return Err(Conflict::OtherSpindle { service, reading }.into());
        }
        add(connection, reading)?;
    }
    Ok(format!("Record {}", service.label(connection)?))
}

impl Checked for MeterReading {
    fn label(&self, connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("meter reading of {}", connection.meter_owner(self.owner)?))
    }

    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        Ok(())
    }
}

impl Record for MeterReading {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn check_among(&self, connection: &Connection) -> Result<(), Error> {
        match self.owner {
            MeterOwner::Spindle(spindle) => not_before_installed(connection, spindle, "meter reading", self.at.date),
            MeterOwner::Position(position) => position_exists(connection, position),
        }
    }
}

/// Strokes are stored as typed and in kN or mm; the two must say the same.
fn check_strokes(reading: &Reading) -> Result<(), InvalidReading> {
    for (index, stroke) in reading.strokes.iter().enumerate() {
        let typed = Stroke::parse(&stroke.typed, reading.unit);
        // a later version may convert with another rounding, hence not equal to the last bit
        if !typed.is_some_and(|typed| (typed.base - stroke.base).abs() <= 1e-9 * typed.base.abs()) {
            return Err(InvalidReading::TypedDiffers {
                number: index + 1,
                typed: stroke.typed.clone(),
                unit: reading.unit,
                base: stroke.base,
            });
        }
    }
    Ok(())
}

impl Checked for Reading {
    fn label(&self, connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("reading of {}", connection.spindle(self.spindle)?.name))
    }

    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        check_strokes(self)?;
        Ok(())
    }
}

impl Record for Reading {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn check_among(&self, connection: &Connection) -> Result<(), Error> {
        not_before_installed(connection, self.spindle, "reading", self.at.date)
    }

    /// A force that became a setting dimension would be missing, and nobody would see it.
    fn check_replaces(&self, old: &Self, what: &str) -> Result<(), Error> {
        let (was, is) = (old.quantity(), self.quantity());
        if was == is {
            return Ok(());
        }
        Err(Conflict::OtherQuantity { what: what.to_owned(), was: was.label(), is: is.label() }.into())
    }
}

impl Checked for Service {
    fn label(&self, connection: &Connection) -> Result<String, StoreError> {
        Ok(format!("{} service of {}", self.kind.key(), connection.spindle(self.spindle)?.name))
    }

    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        self.parts.iter().try_for_each(|used| listable("part", &used.part))
    }
}

impl Record for Service {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn check_among(&self, connection: &Connection) -> Result<(), Error> {
        not_before_installed(connection, self.spindle, "service", self.at.date)
    }
}
