//! Rules of records: what was measured and done is never overwritten.

use super::names::Names as _;
use super::rules::{Checked, listable, not_before_installed, position_exists};
use crate::actions::Recording;
use crate::error::{Conflict, Error};
use crate::ids::SpindleId;
use crate::meter::{MeterOwner, MeterReading};
use crate::reading::Reading;
use crate::service::Service;
use crate::store::StoreError;
use crate::store::steps::Writer;
use crate::store::tables;
use chrono::NaiveDate;

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
    /// The spindle or position that it belongs to, by name.
    fn owner(&self, writer: &Writer<'_>) -> Result<String, StoreError>;
    /// What it is in a label, such as `minor service`.
    fn what(&self) -> String {
        Self::TABLE.label().to_owned()
    }
    /// The rules that it must fulfil among what stands in the shop.
    fn check_among(&self, writer: &Writer<'_>) -> Result<(), Error>;
}

/// Records, corrects or withdraws; gives back the label of the step.
pub(crate) fn record<T: Record>(writer: &Writer<'_>, recording: Recording<T::Id, T>) -> Result<String, Error> {
    match recording {
        Recording::Record(value) => {
            add(writer, &value)?;
            Ok(format!("Record {} of {}", value.what(), value.owner(writer)?))
        }
        Recording::Correct(id, mut value, on) => {
            let what = withdraw::<T>(writer, id, on)?;
            let days = value.days();
            *days.recorded_on = (on != days.date).then_some(on);
            *days.replaced_on = None;
            add(writer, &value)?;
            Ok(format!("Correct {what}"))
        }
        Recording::Withdraw(id, on) => Ok(format!("Withdraw {}", withdraw::<T>(writer, id, on)?)),
    }
}

fn add<T: Record>(writer: &Writer<'_>, value: &T) -> Result<T::Id, Error> {
    value.check()?;
    value.check_among(writer)?;
    Ok(tables::insert(writer.connection, value)?)
}

/// From that day the record no longer counts; gives back what it was.
fn withdraw<T: Record>(writer: &Writer<'_>, id: T::Id, on: NaiveDate) -> Result<String, Error> {
    let mut old: T = tables::get(writer.connection, id)?;
    let owner = old.owner(writer)?;
    let what = T::TABLE.label();
    let days = old.days();
    let recorded = days.recorded_on.unwrap_or(days.date);
    if let Some(replaced) = *days.replaced_on {
        return Err(Conflict::AlreadyReplaced { what, spindle: owner, replaced }.into());
    }
    if on < recorded {
        return Err(Conflict::CorrectedBefore { what, correction: on, recorded }.into());
    }
    *days.replaced_on = Some(on);
    tables::update(writer.connection, id, &old)?;
    Ok(format!("{} of {owner}", old.what()))
}

/// A service with its readings; gives back the label of the step.
pub(crate) fn record_service(writer: &Writer<'_>, service: &Service, readings: &[Reading]) -> Result<String, Error> {
    add(writer, service)?;
    for reading in readings {
        if reading.spindle != service.spindle {
            let (service, reading) = (writer.spindle(service.spindle)?.name, writer.spindle(reading.spindle)?.name);
            return Err(Conflict::OtherSpindle { service, reading }.into());
        }
        add(writer, reading)?;
    }
    Ok(format!("Record {} of {}", service.what(), service.owner(writer)?))
}

fn spindle_name(writer: &Writer<'_>, spindle: SpindleId) -> Result<String, StoreError> {
    Ok(writer.spindle(spindle)?.name)
}

impl Checked for MeterReading {
    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        Ok(())
    }
}

impl Record for MeterReading {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn owner(&self, writer: &Writer<'_>) -> Result<String, StoreError> {
        writer.meter_owner(self.owner)
    }

    fn check_among(&self, writer: &Writer<'_>) -> Result<(), Error> {
        match self.owner {
            MeterOwner::Spindle(spindle) => not_before_installed(writer, spindle, "meter reading", self.at.date),
            MeterOwner::Position(position) => position_exists(writer, position),
        }
    }
}

impl Checked for Reading {
    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        Ok(())
    }
}

impl Record for Reading {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn owner(&self, writer: &Writer<'_>) -> Result<String, StoreError> {
        spindle_name(writer, self.spindle)
    }

    fn check_among(&self, writer: &Writer<'_>) -> Result<(), Error> {
        not_before_installed(writer, self.spindle, "reading", self.at.date)
    }
}

impl Checked for Service {
    fn check(&self) -> Result<(), Error> {
        self.clone().checked()?;
        self.parts.iter().try_for_each(|used| listable("part", &used.part))
    }
}

impl Record for Service {
    fn days(&mut self) -> RecordDays<'_> {
        RecordDays { date: self.at.date, recorded_on: &mut self.recorded_on, replaced_on: &mut self.replaced_on }
    }

    fn owner(&self, writer: &Writer<'_>) -> Result<String, StoreError> {
        spindle_name(writer, self.spindle)
    }

    fn what(&self) -> String {
        format!("{} service", self.kind.key())
    }

    fn check_among(&self, writer: &Writer<'_>) -> Result<(), Error> {
        not_before_installed(writer, self.spindle, "service", self.at.date)
    }
}
