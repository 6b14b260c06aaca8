//! Answers to the questions of an import: take the likely figure, or keep what was typed.
//!
//! Records are never overwritten: where the likely figure is taken, the typed record stays as one
//! that was replaced on its own day, so that it counts on none, and another takes its place. So the
//! same file imported again still finds what it typed.

use super::ImportOutcome;
use super::report::{Fix, Question, Target};
use crate::ids::{MeterReadingId, ReadingId, Row, ServiceId};
use crate::meter::MeterReading;
use crate::moment::Moment;
use crate::plausibility::MeterCount;
use crate::reading::{Reading, Stroke};
use crate::service::Service;
use crate::units::{ClampCycles, RunHours};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// An answer to one question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answer {
    /// Which one of the report's questions.
    pub question: usize,
    /// Take the likely figure; else the typed one stays, doubted.
    pub take_likely: bool,
}

/// The questions of one record, each with whether its likely figure is taken.
type Answered<'a> = Vec<(&'a Question, bool)>;

/// The outcome with the likely figures put in where the user took them. Other doubts stay; the
/// report stays as it was, so that answers can be given again on the outcome before them.
///
/// An answer to a question without a likely figure, or to none, changes nothing.
#[must_use]
pub fn apply_answers(mut outcome: ImportOutcome, answers: &[Answer]) -> ImportOutcome {
    let mut taken = vec![false; outcome.report.questions.len()];
    for answer in answers {
        if let Some(taken) = taken.get_mut(answer.question) {
            *taken = answer.take_likely;
        }
    }
    let mut readings: BTreeMap<ReadingId, Answered<'_>> = BTreeMap::new();
    let mut meters: BTreeMap<MeterReadingId, Answered<'_>> = BTreeMap::new();
    let mut services: BTreeMap<ServiceId, Answered<'_>> = BTreeMap::new();
    for (question, taken) in outcome.report.questions.iter().zip(taken) {
        let (fix, answered) = match &question.target {
            Target::Reading(id, fix) => (fix, readings.entry(*id).or_default()),
            Target::Meter(id, fix) => (fix, meters.entry(*id).or_default()),
            Target::Service(id, fix) => (fix, services.entry(*id).or_default()),
        };
        answered.push((question, taken && fix.is_some()));
    }
    replace(&mut outcome.batch.readings.added, &readings, ReadingId::row, ReadingId::from_row, correct_reading);
    replace(&mut outcome.batch.meters.added, &meters, MeterReadingId::row, MeterReadingId::from_row, correct_meter);
    replace(&mut outcome.batch.services.added, &services, ServiceId::row, ServiceId::from_row, correct_service);
    outcome
}

/// Puts a corrected record beside each one whose likely figure is taken; `correct` marks the old
/// one as replaced and gives the new one.
fn replace<I: Ord + Copy, T>(
    rows: &mut Vec<Row<I, T>>,
    answered: &BTreeMap<I, Answered<'_>>,
    number: fn(I) -> i64,
    make: fn(i64) -> I,
    correct: fn(&mut T, &Answered<'_>) -> T,
) {
    let mut next = rows.iter().map(|row| number(row.id)).max().unwrap_or(0).saturating_add(1);
    let mut corrected = Vec::new();
    for row in rows.iter_mut() {
        let questions = answered.get(&row.id).filter(|questions| questions.iter().any(|(_, taken)| *taken));
        if let Some(questions) = questions {
            corrected.push(Row { id: make(next), value: correct(&mut row.value, questions) });
            next += 1;
        }
    }
    rows.extend(corrected);
}

/// The day from which a record counts, on which it is replaced so that it never does.
fn counts_from(at: Moment, recorded_on: Option<NaiveDate>) -> Option<NaiveDate> {
    Some(recorded_on.map_or(at.date, |recorded| recorded.max(at.date)))
}

/// What the taken answers change.
fn fixes<'a>(questions: &'a Answered<'_>) -> impl Iterator<Item = &'a Fix> {
    questions.iter().filter(|(_, taken)| *taken).filter_map(|(question, _)| match &question.target {
        Target::Reading(_, fix) | Target::Meter(_, fix) | Target::Service(_, fix) => fix.as_ref(),
    })
}

fn correct_reading(typed: &mut Reading, questions: &Answered<'_>) -> Reading {
    let mut reading = typed.clone();
    typed.replaced_on = counts_from(typed.at, typed.recorded_on);
    for fix in fixes(questions) {
        match fix {
            Fix::Strokes(fixes) => {
                for (index, text) in fixes {
                    let new = Stroke::parse(text, reading.unit);
                    if let (Some(stroke), Some(new)) = (reading.strokes.get_mut(*index), new) {
                        *stroke = new;
                    }
                }
            }
            Fix::Unit(unit) => {
                reading.unit = *unit;
                for stroke in &mut reading.strokes {
                    if let Some(new) = Stroke::parse(&stroke.typed, *unit) {
                        *stroke = new;
                    }
                }
            }
            Fix::Meter(count, value) => {
                set_meter(*count, *value, &mut reading.run_hours, &mut reading.clamp_cycles);
            }
            Fix::At(moment) => reading.at = *moment,
        }
    }
    let left: Vec<&str> =
        questions.iter().filter(|(_, taken)| !taken).map(|(question, _)| question.doubt.as_str()).collect();
    reading.doubt = (!left.is_empty()).then(|| left.join("; "));
    reading
}

fn correct_meter(typed: &mut MeterReading, questions: &Answered<'_>) -> MeterReading {
    let mut reading = typed.clone();
    typed.replaced_on = counts_from(typed.at, typed.recorded_on);
    for fix in fixes(questions) {
        match fix {
            Fix::Meter(count, value) => {
                set_meter(*count, *value, &mut reading.run_hours, &mut reading.clamp_cycles);
            }
            Fix::At(moment) => reading.at = *moment,
            Fix::Strokes(_) | Fix::Unit(_) => {}
        }
    }
    reading
}

fn correct_service(typed: &mut Service, questions: &Answered<'_>) -> Service {
    let mut service = typed.clone();
    typed.replaced_on = counts_from(typed.at, typed.recorded_on);
    for fix in fixes(questions) {
        if let Fix::At(moment) = fix {
            service.at = *moment;
        }
    }
    service
}

fn set_meter(count: MeterCount, value: f64, hours: &mut Option<RunHours>, cycles: &mut Option<ClampCycles>) {
    match count {
        MeterCount::RunHours => *hours = RunHours::new(value),
        MeterCount::ClampCycles => *cycles = ClampCycles::new(value),
    }
}
