//! Answers to the questions of an import: take the likely figure, or keep what was typed.

use super::ImportOutcome;
use super::report::{Fix, Question, Target};
use crate::ids::{ReadingId, Row};
use crate::plausibility::MeterCount;
use crate::reading::{Reading, Stroke};
use crate::units::{ClampCycles, RunHours};
use std::collections::BTreeMap;

/// An answer to one question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answer {
    /// Which one of the report's questions.
    pub question: usize,
    /// Take the likely figure; else the typed one stays, doubted.
    pub take_likely: bool,
}

/// The outcome with the likely figures put in where the user took them. Other doubts stay; the
/// questions stay too, so that answers can be given again on the outcome as it was.
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
    let mut readings: BTreeMap<ReadingId, Vec<(&Question, bool)>> = BTreeMap::new();
    for (question, taken) in outcome.report.questions.iter().zip(&taken) {
        match &question.target {
            Target::Reading(id, fix) => readings.entry(*id).or_default().push((question, *taken && fix.is_some())),
            Target::Meter(id, Some(fix)) if *taken => {
                for row in outcome.batch.meters.added.iter_mut().filter(|row| row.id == *id) {
                    match fix {
                        Fix::Meter(count, value) => {
                            set_meter(*count, *value, &mut row.value.run_hours, &mut row.value.clamp_cycles);
                        }
                        Fix::At(moment) => row.value.at = *moment,
                        Fix::Strokes(_) | Fix::Unit(_) => {}
                    }
                }
            }
            Target::Service(id, Some(Fix::At(moment))) if *taken => {
                for row in outcome.batch.services.added.iter_mut().filter(|row| row.id == *id) {
                    row.value.at = *moment;
                }
            }
            Target::Meter(..) | Target::Service(..) => {}
        }
    }
    for row in &mut outcome.batch.readings.added {
        if let Some(questions) = readings.get(&row.id).filter(|questions| questions.iter().any(|(_, taken)| *taken)) {
            answer_reading(row, questions);
        }
    }
    outcome
}

fn answer_reading(row: &mut Row<ReadingId, Reading>, questions: &[(&Question, bool)]) {
    let reading = &mut row.value;
    for (question, _) in questions.iter().filter(|(_, taken)| *taken) {
        match &question.target {
            Target::Reading(_, Some(Fix::Strokes(fixes))) => {
                for (index, typed) in fixes {
                    if let (Some(stroke), Some(new)) =
                        (reading.strokes.get_mut(*index), Stroke::parse(typed, reading.unit))
                    {
                        *stroke = new;
                    }
                }
            }
            Target::Reading(_, Some(Fix::Unit(unit))) => {
                reading.unit = *unit;
                for stroke in &mut reading.strokes {
                    if let Some(new) = Stroke::parse(&stroke.typed, *unit) {
                        *stroke = new;
                    }
                }
            }
            Target::Reading(_, Some(Fix::Meter(count, value))) => {
                set_meter(*count, *value, &mut reading.run_hours, &mut reading.clamp_cycles);
            }
            Target::Reading(_, Some(Fix::At(moment))) => reading.at = *moment,
            Target::Reading(_, None) | Target::Meter(..) | Target::Service(..) => {}
        }
    }
    let left: Vec<&str> =
        questions.iter().filter(|(_, taken)| !taken).map(|(question, _)| question.doubt.as_str()).collect();
    reading.doubt = (!left.is_empty()).then(|| left.join("; "));
}

fn set_meter(count: MeterCount, value: f64, hours: &mut Option<RunHours>, cycles: &mut Option<ClampCycles>) {
    match count {
        MeterCount::RunHours => *hours = RunHours::new(value),
        MeterCount::ClampCycles => *cycles = ClampCycles::new(value),
    }
}
