//! The questions of an import: figures that cannot be right, looked at when all rows are there.

use super::events::{metered_positions, stroke_column};
use super::register::Place;
use super::report::{Fix, Question, Target};
use super::run::Importer;
use crate::forecast::Cancelled;
use crate::ids::{ReadingId, Row, SpindleId};
use crate::meter::MeterOwner;
use crate::moment::Moment;
use crate::plausibility::{
    Expected, LEVEL_READINGS, MeterCount, Slip, SlipKind, expected_at_level, median, question_day, question_meter,
    question_stroke, rounded, slip_in_words,
};
use crate::reading::{Reading, Stroke};
use crate::shop::Shop;
use crate::units::Quantity;
use chrono::NaiveDate;
use std::cell::Cell;
use std::collections::{BTreeMap, VecDeque};

/// A question before it has the name of its file.
struct Raised {
    place: Place,
    column: &'static str,
    value: String,
    why: String,
    likely: Option<String>,
    kind: SlipKind,
    alike: String,
    target: Target,
}

/// Looks at all new records of a run; doubted readings get their doubt. `shop` has the registers
/// of this run in it already.
///
/// # Errors
/// `go_on`, asked now and then, says no.
pub(super) fn question(
    importer: &mut Importer<'_>,
    shop: &Shop,
    present: NaiveDate,
    go_on: &dyn Fn() -> bool,
) -> Result<(), Cancelled> {
    let pace = Pace { done: Cell::new(0), go_on };
    let mut raised = question_readings(importer, shop, &pace)?;
    raised.extend(question_meters(importer, shop, &pace)?);
    raised.extend(question_days(importer, present, &pace)?);
    raised.sort_by_key(|question| (question.place, question.column));
    importer.report.question_count = raised.len();
    let mut doubts: BTreeMap<ReadingId, Vec<String>> = BTreeMap::new();
    for question in raised {
        if let Target::Reading(id, _) = question.target {
            doubts.entry(id).or_default().push(question.why.clone());
        }
        if importer.report.questions.len() < importer.listed() {
            let file = importer.report.files.get(question.place.file).map(|file| file.file.clone()).unwrap_or_default();
            importer.report.questions.push(Question {
                file,
                row: question.place.row,
                column: question.column,
                value: question.value,
                doubt: question.why.clone(),
                why: question.why,
                likely: question.likely,
                kind: question.kind,
                alike: question.alike,
                target: question.target,
            });
        }
    }
    for row in &mut importer.readings.added {
        if let Some(doubts) = doubts.remove(&row.id) {
            row.value.doubt = Some(doubts.join("; "));
        }
    }
    Ok(())
}

/// Asks now and then whether to go on.
struct Pace<'a> {
    done: Cell<usize>,
    go_on: &'a dyn Fn() -> bool,
}

impl Pace<'_> {
    /// One more record is looked at.
    fn step(&self) -> Result<(), Cancelled> {
        const RECORDS_PER_STEP: usize = 1_024;
        let done = self.done.get();
        self.done.set(done + 1);
        if done.is_multiple_of(RECORDS_PER_STEP) && !(self.go_on)() { Err(Cancelled) } else { Ok(()) }
    }
}

/// A reading that was replaced or is doubted already is not asked about again.
fn is_open(reading: &Reading) -> bool {
    reading.replaced_on.is_none() && reading.doubt.is_none()
}

/// Strokes against the level of the readings before them.
fn question_readings(importer: &Importer<'_>, shop: &Shop, pace: &Pace<'_>) -> Result<Vec<Raised>, Cancelled> {
    let added = importer.readings.added.iter().zip(&importer.readings.places);
    let mut all: Vec<(&Row<ReadingId, Reading>, Option<Place>)> =
        importer.shop.readings.iter().map(|row| (row, None)).collect();
    let mut touched: Vec<SpindleId> = Vec::new();
    for (row, place) in added {
        all.push((row, Some(*place)));
        touched.push(row.spindle);
    }
    touched.sort();
    touched.dedup();
    all.retain(|(row, _)| touched.binary_search(&row.spindle).is_ok() && is_open(row));
    all.sort_by_key(|(row, _)| (row.spindle, row.at, row.id));
    let mut raised = Vec::new();
    let mut levels: BTreeMap<(SpindleId, Quantity), VecDeque<f64>> = BTreeMap::new();
    for (row, place) in all {
        pace.step()?;
        let quantity = row.quantity();
        let level = levels.entry((row.spindle, quantity)).or_default();
        let recent = median(&mut level.iter().copied().collect::<Vec<_>>());
        let question = place.filter(|_| !importer.settled.contains(&row.id)).and_then(|place| {
            let expected = expected_at_level(shop, row.spindle, quantity, recent)?;
            question_strokes(row, place, &expected)
        });
        match question {
            Some(question) => raised.push(question),
            None => {
                level.push_back(row.mean_base());
                if level.len() > LEVEL_READINGS {
                    level.pop_front();
                }
            }
        }
    }
    Ok(raised)
}

/// One question for a reading, however many of its strokes slipped.
fn question_strokes(row: &Row<ReadingId, Reading>, place: Place, expected: &Expected) -> Option<Raised> {
    let unit = row.unit;
    let slips: Vec<(usize, Slip)> = row
        .strokes
        .iter()
        .enumerate()
        .filter_map(|(index, stroke)| Some((index, question_stroke(stroke.typed_value(), unit, expected)?)))
        .collect();
    let (first, slip) = slips.first()?;
    let all_alike = slips.len() == row.strokes.len() && slips.iter().all(|(_, other)| other.kind == slip.kind);
    let alike_in = |(index, slip): &(usize, Slip)| {
        let typed = row.strokes.get(*index).map(Stroke::typed_value);
        slip_in_words(unit.symbol(), slip.kind, slip.likely.zip(typed).map(|(likely, typed)| likely.value / typed))
    };
    let first_alike = slips.first().map(alike_in).unwrap_or_default();
    let alike = if slips.iter().all(|slip| alike_in(slip) == first_alike) {
        first_alike
    } else {
        format!("{unit}: strokes that slipped in several ways")
    };
    let raise = |column, value: String, likely, fix| Raised {
        place,
        column,
        value,
        why: slip.sentence.clone(),
        likely,
        kind: slip.kind,
        alike: alike.clone(),
        target: Target::Reading(row.id, fix),
    };
    if let (SlipKind::Unit { likely, .. }, true) = (slip.kind, all_alike) {
        let fix = Some(Fix::Unit(likely));
        return Some(raise("unit", unit.symbol().to_owned(), Some(likely.symbol().to_owned()), fix));
    }
    let typed = |index: usize| row.strokes.get(index).map(|stroke| stroke.typed.clone()).unwrap_or_default();
    let value = slips.iter().map(|(index, _)| typed(*index)).collect::<Vec<_>>().join("; ");
    let mut fixes = Vec::new();
    for (index, slip) in &slips {
        let Some(likely) = slip.likely else { return Some(raise(stroke_column(*first), value, None, None)) };
        // what fits in another unit is written in the unit of the reading, which its other strokes share
        let in_unit = if likely.unit == unit {
            likely.value
        } else {
            rounded(unit.from_base(likely.unit.to_base(likely.value)), 5)
        };
        fixes.push((*index, in_unit.to_string()));
    }
    let likely = fixes.iter().map(|(_, text)| text.as_str()).collect::<Vec<_>>().join("; ");
    Some(raise(stroke_column(*first), value, Some(likely), Some(Fix::Strokes(fixes))))
}

/// One figure of a meter, from its own row or from a reading.
struct Shown {
    day: NaiveDate,
    value: f64,
    replaced: bool,
    /// The place and record, where this run brought it.
    new: Option<(Place, Target)>,
}

fn question_meters(importer: &Importer<'_>, shop: &Shop, pace: &Pace<'_>) -> Result<Vec<Raised>, Cancelled> {
    let mut raised = Vec::new();
    for count in [MeterCount::RunHours, MeterCount::ClampCycles] {
        for (_, mut shown) in figures(importer, shop, count, pace)? {
            if shown.iter().any(|figure| figure.new.is_some()) {
                raised.extend(question_counter(&mut shown, count, pace)?);
            }
        }
    }
    Ok(raised)
}

/// All figures of each meter. A reading's figures are those of the position's meter where it has
/// one, else of the spindle's own.
fn figures(
    importer: &Importer<'_>,
    shop: &Shop,
    count: MeterCount,
    pace: &Pace<'_>,
) -> Result<BTreeMap<MeterOwner, Vec<Shown>>, Cancelled> {
    let metered = metered_positions(importer);
    let mut figures: BTreeMap<MeterOwner, Vec<Shown>> = BTreeMap::new();
    let meters = importer.shop.meters.iter().map(|row| (row, None));
    let added = importer.meters.added.iter().zip(&importer.meters.places);
    let added = added.map(|(row, place)| (row, Some((*place, Target::Meter(row.id, None)))));
    for (row, new) in meters.chain(added).filter(|(row, _)| row.replaced_on.is_none()) {
        pace.step()?;
        let value = match count {
            MeterCount::RunHours => row.run_hours.map(|hours| hours.get()),
            MeterCount::ClampCycles => row.clamp_cycles.map(|cycles| cycles.get()),
        };
        if let Some(value) = value {
            let shown = Shown { day: row.at.date, value, replaced: row.meter_replaced, new };
            figures.entry(row.owner).or_default().push(shown);
        }
    }
    let readings = importer.shop.readings.iter().map(|row| (row, None));
    let added = importer.readings.added.iter().zip(&importer.readings.places);
    let added = added.map(|(row, place)| {
        let asked = !importer.settled.contains(&row.id);
        (row, asked.then_some((*place, Target::Reading(row.id, None))))
    });
    for (row, new) in readings.chain(added).filter(|(row, _)| is_open(row)) {
        pace.step()?;
        let value = match count {
            MeterCount::RunHours => row.run_hours.map(|hours| hours.get()),
            MeterCount::ClampCycles => row.clamp_cycles.map(|cycles| cycles.get()),
        };
        if let Some(value) = value {
            let position = shop.position_on(row.spindle, row.at.date).filter(|position| metered.contains(position));
            let owner = position.map_or(MeterOwner::Spindle(row.spindle), MeterOwner::Position);
            figures.entry(owner).or_default().push(Shown { day: row.at.date, value, replaced: false, new });
        }
    }
    Ok(figures)
}

/// Walks one meter. The order within a day is not known, so that figures of one day are taken by
/// their size; on the day of a new meter nothing is asked, and it counts from the new figure.
fn question_counter(shown: &mut [Shown], count: MeterCount, pace: &Pace<'_>) -> Result<Vec<Raised>, Cancelled> {
    shown.sort_by(|a, b| a.day.cmp(&b.day).then(a.value.total_cmp(&b.value)));
    let mut raised = Vec::new();
    let mut before: Option<(NaiveDate, f64)> = None;
    for of_day in shown.chunk_by(|a, b| a.day == b.day) {
        if let Some(new_meter) = of_day.iter().find(|figure| figure.replaced) {
            before = Some((new_meter.day, new_meter.value));
            continue;
        }
        for figure in of_day {
            pace.step()?;
            let slip = before.and_then(|(day, value)| question_meter(count, figure.value, figure.day, value, day));
            match (slip, &figure.new) {
                (None, _) => before = Some((figure.day, figure.value)),
                // what the shop holds was asked about when it came in
                (Some(_), None) => {}
                (Some(slip), Some((place, target))) => {
                    let fix = slip.likely.map(|value| Fix::Meter(count, value));
                    let times = slip.likely.map(|likely| likely / figure.value);
                    raised.push(Raised {
                        place: *place,
                        column: count.column(),
                        value: figure.value.to_string(),
                        why: slip.sentence,
                        likely: slip.likely.map(|value| value.to_string()),
                        kind: slip.kind,
                        alike: slip_in_words(count.label(), slip.kind, times),
                        target: match target {
                            Target::Meter(id, _) => Target::Meter(*id, fix),
                            Target::Reading(id, _) => Target::Reading(*id, fix),
                            Target::Service(id, _) => Target::Service(*id, fix),
                        },
                    });
                }
            }
        }
    }
    Ok(raised)
}

/// Records dated, or entered, after the present.
fn question_days(importer: &Importer<'_>, present: NaiveDate, pace: &Pace<'_>) -> Result<Vec<Raised>, Cancelled> {
    let mut raised = Vec::new();
    let mut ask = |at: Moment, entered: Option<NaiveDate>, place: Place, target: &dyn Fn(Option<Fix>) -> Target| {
        let mut raise = |column, value: String, why, likely: Option<Moment>| {
            let (text, target) = (likely.map(|moment| moment.to_string()), target(likely.map(Fix::At)));
            let kind = SlipKind::AfterPresent;
            let alike = slip_in_words(column, kind, None);
            raised.push(Raised { place, column, value, why, likely: text, kind, alike, target });
        };
        if let Some((likely, why)) = question_day(at.date, present) {
            let likely = likely.map(|date| Moment { date, time: at.time });
            raise("date", at.to_string(), why, likely);
        } else if let Some((entered, (_, why))) = entered.and_then(|day| Some((day, question_day(day, present)?))) {
            raise("recorded_on", entered.to_string(), why, None);
        }
    };
    for (row, place) in importer.readings.added.iter().zip(&importer.readings.places) {
        pace.step()?;
        if is_open(row) && !importer.settled.contains(&row.id) {
            ask(row.at, row.recorded_on, *place, &|fix| Target::Reading(row.id, fix));
        }
    }
    for (row, place) in importer.meters.added.iter().zip(&importer.meters.places) {
        pace.step()?;
        if row.replaced_on.is_none() {
            ask(row.at, row.recorded_on, *place, &|fix| Target::Meter(row.id, fix));
        }
    }
    for (row, place) in importer.services.added.iter().zip(&importer.services.places) {
        pace.step()?;
        if row.replaced_on.is_none() {
            ask(row.at, row.recorded_on, *place, &|fix| Target::Service(row.id, fix));
        }
    }
    Ok(raised)
}
