//! Columns of what was measured and done.

use super::StoreError;
use super::columns::{Column as _, Fields};
use super::tables::{ShopTable, Stored, stored};
use crate::ids::{MachineId, MeterReadingId, ReadingId, SpindleId};
use crate::machine::Position;
use crate::meter::{MeterOwner, MeterReading};
use crate::reading::{MAX_STROKES, Reading, Stroke};
use crate::service::Service;
use rusqlite::types::Value;

stored!(Service: ServiceId in Services {
    spindle: "spindle_id",
    at: "done_at",
    kind: "kind",
    order: "order_name",
    technician: "technician",
    stop_hours: "stop_hours",
    findings: "findings",
    parts: "parts",
    note: "note",
    recorded_on: "recorded_on",
    replaced_on: "replaced_on",
});

impl Stored for MeterReading {
    type Id = MeterReadingId;
    const TABLE: ShopTable = ShopTable::Meters;
    const COLUMNS: &'static [&'static str] = &[
        "spindle_id",
        "machine_id",
        "position",
        "read_at",
        "run_hours",
        "clamp_cycles",
        "meter_replaced",
        "recorded_on",
        "replaced_on",
    ];

    fn values(&self) -> Vec<Value> {
        let (spindle, position) = match self.owner {
            MeterOwner::Spindle(spindle) => (Some(spindle), None),
            MeterOwner::Position(position) => (None, Some(position)),
        };
        vec![
            spindle.to_value(),
            position.map(|position| position.machine).to_value(),
            position.map(|position| position.number).to_value(),
            self.at.to_value(),
            self.run_hours.to_value(),
            self.clamp_cycles.to_value(),
            self.meter_replaced.to_value(),
            self.recorded_on.to_value(),
            self.replaced_on.to_value(),
        ]
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        let spindle: Option<SpindleId> = fields.take()?;
        let machine: Option<MachineId> = fields.take()?;
        let owner = match (spindle, machine) {
            (None, Some(machine)) => MeterOwner::Position(Position { machine, number: fields.take()? }),
            (Some(spindle), _) => {
                let _no_position: Option<u32> = fields.take()?;
                MeterOwner::Spindle(spindle)
            }
            (None, None) => return Err(StoreError::Damaged("a meter reading without an owner".to_owned())),
        };
        Ok(Self {
            owner,
            at: fields.take()?,
            run_hours: fields.take()?,
            clamp_cycles: fields.take()?,
            meter_replaced: fields.take()?,
            recorded_on: fields.take()?,
            replaced_on: fields.take()?,
        })
    }
}

impl Stored for Reading {
    type Id = ReadingId;
    const TABLE: ShopTable = ShopTable::Readings;
    const COLUMNS: &'static [&'static str] = &[
        "spindle_id",
        "taken_at",
        "phase",
        "unit",
        "typed_1",
        "value_1",
        "typed_2",
        "value_2",
        "typed_3",
        "value_3",
        "typed_4",
        "value_4",
        "typed_5",
        "value_5",
        "run_hours",
        "clamp_cycles",
        "gauge",
        "zero_checked",
        "technician",
        "note",
        "recorded_on",
        "replaced_on",
        "doubt",
    ];

    fn values(&self) -> Vec<Value> {
        let mut values = vec![self.spindle.to_value(), self.at.to_value(), self.phase.to_value(), self.unit.to_value()];
        for index in 0..MAX_STROKES {
            let stroke = self.strokes.get(index);
            values.push(stroke.map_or(Value::Null, |stroke| stroke.typed.to_value()));
            values.push(stroke.map_or(Value::Null, |stroke| stroke.base.to_value()));
        }
        values.extend([
            self.run_hours.to_value(),
            self.clamp_cycles.to_value(),
            self.gauge.to_value(),
            self.zero_checked.to_value(),
            self.technician.to_value(),
            self.note.to_value(),
            self.recorded_on.to_value(),
            self.replaced_on.to_value(),
            self.doubt.to_value(),
        ]);
        values
    }

    fn read(fields: &mut Fields<'_>) -> Result<Self, StoreError> {
        let (spindle, at, phase, unit) = (fields.take()?, fields.take()?, fields.take()?, fields.take()?);
        let mut places: [Option<Stroke>; MAX_STROKES] = Default::default();
        for place in &mut places {
            let (typed, base): (Option<String>, Option<f64>) = (fields.take()?, fields.take()?);
            *place = typed.zip(base).map(|(typed, base)| Stroke { typed, base });
        }
        // exactly as long as needed: there are many readings
        let mut strokes = Vec::with_capacity(places.iter().flatten().count());
        strokes.extend(places.into_iter().flatten());
        Ok(Self {
            spindle,
            at,
            phase,
            unit,
            strokes,
            run_hours: fields.take()?,
            clamp_cycles: fields.take()?,
            gauge: fields.take()?,
            zero_checked: fields.take()?,
            technician: fields.take()?,
            note: fields.take()?,
            recorded_on: fields.take()?,
            replaced_on: fields.take()?,
            doubt: fields.take()?,
        })
    }
}
