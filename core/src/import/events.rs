//! Rows of the records: meters, readings, services, closures, downtime windows, deliveries.

use super::names::nearest;
use super::register::{ContentKey, Landing, content_key};
use super::registers::{check_unit, kind, not_before, quantity, unit};
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use crate::closure::Closure;
use crate::downtime::{Downtime, WindowScope};
use crate::export::cells::{self, OwnerName};
use crate::ids::{MachineId, Row, SpindleId};
use crate::machine::Position;
use crate::meter::{MeterOwner, MeterReading};
use crate::moment::{DayRange, Moment};
use crate::part::Delivery;
use crate::reading::{Phase, Reading, Stroke};
use crate::recurrence::Recurrence;
use crate::service::{Service, parse_parts};
use crate::shop::Shop;
use crate::units::{ClampCycles, Money, Percent, Quantity, RunHours, Unit};
use chrono::NaiveDate;
use std::collections::{BTreeSet, HashSet};

const STROKES: [&str; 5] = ["stroke_1", "stroke_2", "stroke_3", "stroke_4", "stroke_5"];

fn hours(row: &RowReader<'_>) -> Result<Option<RunHours>, Fault> {
    row.at("run_hours").quantity(RunHours::new, Range::FromZero)
}

fn cycles(row: &RowReader<'_>) -> Result<Option<ClampCycles>, Fault> {
    row.at("clamp_cycles").quantity(ClampCycles::new, Range::FromZero)
}

fn needed_moment(field: Field<'_>) -> Result<Moment, Fault> {
    let moment = field.moment()?;
    field.needed(moment)
}

/// Contents of the records that the shop has.
fn known<T>(rows: &[T], content: impl Fn(&T) -> cells::Cells) -> HashSet<ContentKey> {
    rows.iter().map(|row| content_key(&content(row))).collect()
}

/// The same for records that can be replaced: one that was replaced since is still the one that an
/// older file holds, and must not come back.
fn known_records<I, T: Clone>(
    rows: &[Row<I, T>],
    replaced_on: fn(&mut T) -> &mut Option<NaiveDate>,
    content: impl Fn(&T) -> cells::Cells,
) -> HashSet<ContentKey> {
    let mut known = HashSet::new();
    for row in rows {
        known.insert(content_key(&content(&row.value)));
        let mut before = row.value.clone();
        if replaced_on(&mut before).take().is_some() {
            known.insert(content_key(&content(&before)));
        }
    }
    known
}

fn spindle_name(shop: &Shop, id: SpindleId) -> &str {
    shop.spindles.get(&id).map(|spindle| spindle.name.as_str()).unwrap_or_default()
}

fn machine_name(shop: &Shop, id: MachineId) -> &str {
    shop.machines.get(&id).map(|machine| machine.name.as_str()).unwrap_or_default()
}

fn owner_name(shop: &Shop, owner: MeterOwner) -> OwnerName<'_> {
    match owner {
        MeterOwner::Spindle(id) => OwnerName::Spindle(spindle_name(shop, id)),
        MeterOwner::Position(at) => OwnerName::Position(machine_name(shop, at.machine), at.number),
    }
}

impl Importer<'_> {
    /// A position that the machine has, with the machine's name.
    pub(super) fn position(&self, row: &RowReader<'_>) -> Result<(Position, String), Fault> {
        let machine = self.machine_named(row.at("machine"))?;
        let field = row.at("position");
        let number = field.needed(field.whole(1)?)?;
        if number > machine.value.positions {
            let (name, positions) = (&machine.value.name, machine.value.positions);
            return Err(field.fault(
                format!("is not a position of {name}, which has {positions}"),
                format!("write 1 to {positions}, or raise spindle_positions in machines.csv"),
            ));
        }
        Ok((Position { machine: machine.id, number }, machine.value.name.clone()))
    }

    pub(super) fn meter(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let of_spindle = row.at("spindle");
        let at = needed_moment(row.at("date"))?;
        let is_set = |column| !row.at(column).text.trim().is_empty();
        let (owner, spindle, machine) = if is_set("spindle") {
            if is_set("machine") || is_set("position") {
                return Err(of_spindle.fault(
                    "stands beside a machine or position",
                    "leave one out: a meter is that of a spindle or that of a position",
                ));
            }
            let (id, installed) = self.spindle_named(of_spindle)?;
            not_before(row.at("date"), at.date, installed)?;
            (MeterOwner::Spindle(id), of_spindle.text.trim().to_owned(), String::new())
        } else if is_set("machine") {
            let (position, machine) = self.position(row)?;
            (MeterOwner::Position(position), String::new(), machine)
        } else {
            return Err(of_spindle.fault("is empty, and so is machine", "fill in the spindle, or machine and position"));
        };
        let reading = MeterReading {
            owner,
            at,
            run_hours: hours(row)?,
            clamp_cycles: cycles(row)?,
            meter_replaced: row.at("meter_replaced").yes_no()?.unwrap_or(false),
            recorded_on: row.at("recorded_on").date()?,
            replaced_on: row.at("replaced_on").date()?,
        };
        let reading = reading
            .checked()
            .map_err(|wrong| row.at("run_hours").fault(wrong.to_string(), "fill in run_hours or clamp_cycles"))?;
        let named = match owner {
            MeterOwner::Spindle(_) => OwnerName::Spindle(&spindle),
            MeterOwner::Position(position) => OwnerName::Position(&machine, position.number),
        };
        let content = cells::meter(&reading, named);
        let shop = self.shop;
        Ok(self.meters.put(&content, reading, row.place, || {
            known_records(
                &shop.meters,
                |row| &mut row.replaced_on,
                |row| cells::meter(row, owner_name(shop, row.owner)),
            )
        }))
    }

    pub(super) fn reading(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (spindle, installed) = self.spindle_named(row.at("spindle"))?;
        let at = needed_moment(row.at("date"))?;
        not_before(row.at("date"), at.date, installed)?;
        let phase_field = row.at("phase");
        let phase = phase_field.word(Phase::from_key, "a phase", &["routine", "as_found", "as_left"])?;
        let phase = phase_field.needed(phase)?;
        let measured = row.at("quantity").needed(quantity(row.at("quantity"))?)?;
        let unit = row.at("unit").needed(unit(row.at("unit"))?)?;
        check_unit(row.at("unit"), unit, measured)?;
        let reading = Reading {
            run_hours: hours(row)?,
            clamp_cycles: cycles(row)?,
            gauge: row.at("gauge").name()?,
            zero_checked: row.at("zero_checked").yes_no()?,
            technician: row.at("technician").name()?,
            note: row.at("note").free_text()?,
            recorded_on: row.at("recorded_on").date()?,
            replaced_on: row.at("replaced_on").date()?,
            doubt: row.at("doubt").optional_text()?,
            ..Reading::of(spindle, at, phase, unit, strokes(row, unit)?)
        };
        let reading =
            reading.checked().map_err(|wrong| row.at("stroke_1").fault(wrong.to_string(), "correct the strokes"))?;
        let settled = row.at("doubt_settled").yes_no()? == Some(true);
        let content = cells::reading_identity(&reading, row.at("spindle").text.trim());
        let shop = self.shop;
        let landing = self.readings.put(&content, reading, row.place, || {
            known_records(
                &shop.readings,
                |row| &mut row.replaced_on,
                |row| cells::reading_identity(row, spindle_name(shop, row.spindle)),
            )
        });
        if landing == Landing::New && settled {
            self.settled.extend(self.readings.added.last().map(|row| row.id));
        }
        Ok(landing)
    }

    pub(super) fn service(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (spindle, installed) = self.spindle_named(row.at("spindle"))?;
        let at = needed_moment(row.at("date"))?;
        not_before(row.at("date"), at.date, installed)?;
        let parts = row.at("parts");
        let used = parse_parts(parts.text).ok_or_else(|| {
            parts.fault(
                "is not a list of parts",
                "write name=quantity, separated by semicolons: gripper grease=1;seal ring=2",
            )
        })?;
        let service = Service {
            order: row.at("order").name()?,
            technician: row.at("technician").name()?,
            stop_hours: row.at("stop_hours").quantity(RunHours::new, Range::FromZero)?,
            findings: row.at("findings").free_text()?,
            parts: used,
            note: row.at("note").free_text()?,
            recorded_on: row.at("recorded_on").date()?,
            replaced_on: row.at("replaced_on").date()?,
            ..Service::of(spindle, at, kind(row.at("kind"))?)
        };
        let content = cells::service(&service, row.at("spindle").text.trim());
        let shop = self.shop;
        Ok(self.services.put(&content, service, row.place, || {
            known_records(
                &shop.services,
                |row| &mut row.replaced_on,
                |row| cells::service(row, spindle_name(shop, row.spindle)),
            )
        }))
    }

    pub(super) fn closure(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (start, end) = (row.at("start"), row.at("end"));
        let days = DayRange { first: start.needed(start.date()?)?, last: end.needed(end.date()?)? };
        if days.last < days.first {
            return Err(end.fault(format!("lies before the start, {}", days.first), "exchange or correct the two days"));
        }
        let closure = Closure { days, what: row.at("what").free_text()? };
        let content = cells::closure(&closure);
        let shop = self.shop;
        Ok(self.closures.put(&content, closure, row.place, || known(&shop.closures, |row| cells::closure(row))))
    }

    pub(super) fn downtime(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (start, end) = (needed_moment(row.at("start"))?, needed_moment(row.at("end"))?);
        // an end without a time is the whole of that day
        if end.date < start.date || (end.time.is_some() && end <= start) {
            return Err(row
                .at("end")
                .fault(format!("does not lie after the start, {start}"), "exchange or correct the two"));
        }
        let repeat = row.at("repeat").name()?;
        if let Some(Err(wrong)) = repeat.as_deref().map(Recurrence::parse) {
            let mend =
                "write FREQ=DAILY, WEEKLY or MONTHLY with INTERVAL, BYDAY and COUNT or UNTIL, or one row per window";
            return Err(row.at("repeat").fault(wrong.to_string(), mend));
        }
        let scope = self.scope(row)?;
        let window = Downtime {
            start,
            end,
            scope,
            what: row.at("what").free_text()?,
            stop_factor: row.at("stop_factor").quantity(Percent::new, Range::FromZero)?,
            premium_per_hour: row.at("premium_per_hour").quantity(Money::new, Range::FromZero)?,
            repeat,
        };
        let machine = match window.scope {
            WindowScope::Machine(_) => row.at("machine").text.trim().to_owned(),
            _ => String::new(),
        };
        let content = cells::downtime(&window, |_| machine.clone());
        let shop = self.shop;
        Ok(self.downtimes.put(&content, window, row.place, || {
            known(&shop.downtimes, |row| cells::downtime(row, |id| machine_name(shop, id).to_owned()))
        }))
    }

    fn scope(&mut self, row: &RowReader<'_>) -> Result<WindowScope, Fault> {
        let (hall_field, machine_field) = (row.at("hall"), row.at("machine"));
        let hall = hall_field.name()?;
        if machine_field.name()?.is_some() {
            let machine = self.machine_named(machine_field)?;
            return match hall {
                Some(hall) if hall != machine.value.hall => Err(hall_field.fault(
                    format!("is not the hall of {}, which stands in {}", machine.value.name, machine.value.hall),
                    "leave the hall empty, or correct one of the two",
                )),
                _ => Ok(WindowScope::Machine(machine.id)),
            };
        }
        let Some(hall) = hall else { return Ok(WindowScope::AllHalls) };
        let halls: BTreeSet<&str> = self.machines.iter().map(|(_, entry)| entry.value.hall.as_str()).collect();
        if !halls.contains(hall.as_str()) {
            // not refused: the last machine of a hall may have gone, and the window stays in the records
            let hint = nearest(&hall, halls.into_iter()).map(|near| format!("; is {near} meant?")).unwrap_or_default();
            let file = self.report.files.get(row.place.file).map(|file| file.file.clone()).unwrap_or_default();
            self.report.note(&file, format!("no machine stands in hall '{hall}' of row {}{hint}", row.place.row));
        }
        Ok(WindowScope::Hall(hall))
    }

    pub(super) fn delivery(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (day, amount) = (row.at("expected_on"), row.at("quantity"));
        let delivery = Delivery {
            part: row.at("part").needed_listed_name()?,
            expected_on: day.needed(day.date()?)?,
            quantity: amount.needed(amount.number(Range::AboveZero)?)?,
            note: row.at("note").free_text()?,
        };
        let content = cells::delivery(&delivery);
        let shop = self.shop;
        Ok(self.deliveries.put(&content, delivery, row.place, || known(&shop.deliveries, |row| cells::delivery(row))))
    }
}

/// The strokes of a reading; empty fields between them are passed over.
fn strokes(row: &RowReader<'_>, unit: Unit) -> Result<Vec<Stroke>, Fault> {
    let first = row.at("stroke_1");
    first.needed(first.number_text()?)?;
    let mut strokes = Vec::new();
    for column in STROKES {
        let field = row.at(column);
        let Some(typed) = field.number_text()? else { continue };
        let stroke =
            Stroke::parse(&typed, unit).ok_or_else(|| field.fault("is not a number", "write digits such as 16.9"))?;
        if unit.quantity() == Quantity::ClampForce && stroke.base <= 0.0 {
            return Err(
                field.fault("is a clamp force that is not above 0", "write what the gauge showed, or leave it empty")
            );
        }
        strokes.push(stroke);
    }
    Ok(strokes)
}

/// Columns of strokes by their number from 0.
pub(super) fn stroke_column(index: usize) -> &'static str {
    STROKES.get(index).copied().unwrap_or("stroke_1")
}

/// Positions that have a meter of their own, in the shop or in this run.
pub(super) fn metered_positions(importer: &Importer<'_>) -> BTreeSet<Position> {
    let of_shop = importer.shop.meters.iter().map(|row| row.owner);
    let added = importer.meters.added.iter().map(|row| row.value.owner);
    of_shop
        .chain(added)
        .filter_map(|owner| match owner {
            MeterOwner::Position(position) => Some(position),
            MeterOwner::Spindle(_) => None,
        })
        .collect()
}
