//! A reading as typed, and what it becomes.

use super::draft::{Draft, FieldErrors, Key, Reader, plain_number, with_decimal_point};
use almanac_core::actions::{Action, Recording};
use almanac_core::expected::{MeterRecord, MeterRoom, meter_room};
use almanac_core::ids::{ReadingId, SpindleId};
use almanac_core::reading::{MAX_STROKES, Phase, Reading, Stroke};
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, Quantity, RunHours, Unit};
use almanac_core::words;
use chrono::NaiveDate;

/// The stroke fields.
pub const STROKES: [Key; MAX_STROKES] = ["stroke 1", "stroke 2", "stroke 3", "stroke 4", "stroke 5"];

/// Of which spindle the reading is, and which reading it corrects.
#[derive(Debug, Clone, Copy)]
pub struct ReadingTarget<'a> {
    /// The shop as it stands.
    pub shop: &'a Shop,
    /// The spindle.
    pub spindle: SpindleId,
    /// The reading in whose place this one comes.
    pub correcting: Option<ReadingId>,
    /// The day that stands for now.
    pub today: NaiveDate,
}

/// The reading of a draft; `doubt` says why a figure is doubted.
///
/// # Errors
/// What is missing or wrong, field by field.
pub fn parse(draft: &Draft, target: &ReadingTarget<'_>, doubt: Option<String>) -> Result<Reading, FieldErrors> {
    let mut reader = Reader::new(draft, target.today);
    let unit = reader.required("unit", "kN, lbf, N, mm or in", Unit::from_symbol);
    let strokes = unit.map(|unit| strokes(draft, &mut reader, &STROKES, unit)).unwrap_or_default();
    if strokes.is_empty() && STROKES.iter().all(|key| draft.trimmed(key).is_empty()) {
        reader.missing(STROKES[0]);
    }
    let at = reader.past_moment("date");
    let phase = reader.required("phase", "routine, as found or as left", Phase::from_key);
    if let Some(at) = at {
        check_installed(&mut reader, target, at.date);
    }
    let leave_out = target.correcting.map(MeterRecord::Reading);
    let room = at.map(|at| meter_room(target.shop, target.spindle, at.date, leave_out));
    let (run_hours, clamp_cycles) = counts(&mut reader, room.as_ref());
    let gauge = gauge(&mut reader, target.shop, unit.map(Unit::quantity));
    let technician = technician(&mut reader, target.shop);
    let zero_checked = match draft.trimmed("zero checked") {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let note = reader.text("note");
    let reading = at.zip(phase).zip(unit).map(|((at, phase), unit)| Reading {
        run_hours,
        clamp_cycles,
        gauge,
        zero_checked,
        technician,
        note,
        doubt,
        recorded_on: (at.date != target.today).then_some(target.today),
        ..Reading::of(target.spindle, at, phase, unit, strokes)
    });
    let reading = if reader.is_clean() { reading.and_then(|reading| checked(&mut reader, reading)) } else { None };
    reader.finish(reading)
}

fn checked(reader: &mut Reader<'_>, reading: Reading) -> Option<Reading> {
    use almanac_core::reading::InvalidReading;
    match reading.checked() {
        Ok(reading) => Some(reading),
        Err(error) => {
            let key = match &error {
                InvalidReading::ForceNotAboveZero { number, .. } | InvalidReading::TypedDiffers { number, .. } => {
                    number.checked_sub(1).and_then(|index| STROKES.get(index)).copied().unwrap_or(STROKES[0])
                }
                InvalidReading::StrokeCount(_) => STROKES[0],
                InvalidReading::Meter(_) => "run hours",
            };
            reader.wrong(key, error);
            None
        }
    }
}

/// The action that records the reading or puts it in the place of another.
#[must_use]
pub fn action(reading: Reading, target: &ReadingTarget<'_>) -> Action {
    match target.correcting {
        Some(old) => Action::Reading(Recording::Correct(old, reading, target.today)),
        None => Action::Reading(Recording::Record(reading)),
    }
}

/// The strokes of some fields in their order; empty fields between them are left out.
pub fn strokes(draft: &Draft, reader: &mut Reader<'_>, keys: &[Key], unit: Unit) -> Vec<Stroke> {
    let mut strokes = Vec::new();
    for key in keys {
        let text = draft.trimmed(key);
        if text.is_empty() {
            continue;
        }
        match stroke(text, unit) {
            Some(stroke) if unit.quantity() == Quantity::ClampForce && stroke.base <= 0.0 => {
                reader.wrong(key, format!("a clamp force is above 0, not {text} {unit}"));
            }
            Some(stroke) => strokes.push(stroke),
            None => reader.wrong(key, format!("'{text}' is not a figure; expected one such as {}", example(unit))),
        }
    }
    strokes
}

/// One stroke as typed, with a comma taken for a decimal point.
#[must_use]
pub fn stroke(text: &str, unit: Unit) -> Option<Stroke> {
    let thousands = matches!(unit, Unit::PoundForce | Unit::Newton);
    Stroke::parse(&with_decimal_point(text, thousands)?, unit)
}

const fn example(unit: Unit) -> &'static str {
    match unit {
        Unit::Kilonewton => "9.1",
        Unit::PoundForce => "2050",
        Unit::Newton => "9100",
        Unit::Millimetre => "10.51",
        Unit::Inch => "0.414",
    }
}

fn check_installed(reader: &mut Reader<'_>, target: &ReadingTarget<'_>, day: NaiveDate) {
    let Some(spindle) = target.shop.spindles.get(&target.spindle) else { return };
    if let Some(installed) = spindle.installed_on.filter(|installed| day < *installed) {
        reader.wrong("date", format!("{day} lies before {} was installed on {installed}", spindle.name));
    }
}

/// Meter figures, checked against what the meter showed before and after.
pub fn counts(reader: &mut Reader<'_>, room: Option<&MeterRoom>) -> (Option<RunHours>, Option<ClampCycles>) {
    let hours = reader.optional("run hours", "hours such as 14,206", plain_number).and_then(RunHours::new);
    let cycles = reader.optional("clamp cycles", "cycles such as 188,412", plain_number).and_then(ClampCycles::new);
    let bounds = |before: Option<(f64, NaiveDate)>, after: Option<(f64, NaiveDate)>| (before, after);
    let hours_bounds = bounds(
        room.and_then(|room| room.hours_before).map(|shown| (shown.figure.get(), shown.on)),
        room.and_then(|room| room.hours_after).map(|shown| (shown.figure.get(), shown.on)),
    );
    let cycles_bounds = bounds(
        room.and_then(|room| room.cycles_before).map(|shown| (shown.figure.get(), shown.on)),
        room.and_then(|room| room.cycles_after).map(|shown| (shown.figure.get(), shown.on)),
    );
    check_count(reader, "run hours", hours.map(RunHours::get), hours_bounds);
    check_count(reader, "clamp cycles", cycles.map(ClampCycles::get), cycles_bounds);
    (hours, cycles)
}

type Bounds = (Option<(f64, NaiveDate)>, Option<(f64, NaiveDate)>);

fn check_count(reader: &mut Reader<'_>, key: Key, value: Option<f64>, (before, after): Bounds) {
    let Some(value) = value else { return };
    let today = reader.today();
    let shown =
        |figure: f64, on: NaiveDate| format!("{}, shown on {}", words::number(figure, 0), words::date_long(on, today));
    if value < 0.0 {
        reader.wrong(key, "a meter shows 0 or more");
    } else if let Some((figure, on)) = before.filter(|(figure, _)| value < *figure) {
        let typed = words::number(value, 0);
        reader
            .wrong(key, format!("{typed} must exceed {}; a new meter starts with a meter reading", shown(figure, on)));
    } else if let Some((figure, on)) = after.filter(|(figure, _)| value > *figure) {
        reader.wrong(key, format!("{} must not exceed {}", words::number(value, 0), shown(figure, on)));
    }
}

/// The gauge named: one of the shop's, of the right quantity, or any name where the shop lists none.
pub fn gauge(reader: &mut Reader<'_>, shop: &Shop, quantity: Option<Quantity>) -> Option<String> {
    let name = reader.optional_text("gauge")?;
    match shop.gauge_named(&name) {
        Some(gauge) if quantity.is_some_and(|quantity| quantity != gauge.quantity) => {
            reader.wrong("gauge", format!("{name} measures {}", gauge.quantity.label()));
        }
        None if !shop.gauges.is_empty() => {
            reader.wrong("gauge", format!("'{name}' is not a gauge of this shop; take one of the list"));
        }
        _ => {}
    }
    Some(name)
}

/// The technician named: one of the crew, or any name where the shop lists none.
pub fn technician(reader: &mut Reader<'_>, shop: &Shop) -> Option<String> {
    let name = reader.optional_text("technician")?;
    if !shop.technicians.is_empty() && !shop.technicians.iter().any(|technician| technician.name == name) {
        reader.wrong("technician", format!("'{name}' is not in the crew; take one of the list"));
    }
    Some(name)
}

/// A reading back in its fields, to be corrected.
#[must_use]
pub fn draft_of(reading: &Reading) -> Draft {
    // with all its digits, else a correction of something else would round it
    let count = |figure: Option<f64>| figure.map(|figure| figure.to_string()).unwrap_or_default();
    let mut draft = Draft::default()
        .with("quantity", reading.quantity().label())
        .with("unit", reading.unit.symbol())
        .with("date", reading.at.to_string())
        .with("phase", reading.phase.label())
        .with("run hours", count(reading.run_hours.map(RunHours::get)))
        .with("clamp cycles", count(reading.clamp_cycles.map(ClampCycles::get)))
        .with("gauge", reading.gauge.clone().unwrap_or_default())
        .with("technician", reading.technician.clone().unwrap_or_default())
        .with("note", reading.note.clone());
    draft.set(
        "zero checked",
        match reading.zero_checked {
            Some(true) => "yes",
            Some(false) => "no",
            None => "not said",
        },
    );
    for (key, stroke) in STROKES.into_iter().zip(&reading.strokes) {
        draft.set(key, stroke.typed.clone());
    }
    draft
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::gauge::Gauge;
    use almanac_core::ids::{GaugeId, MeterReadingId, Row};
    use almanac_core::interface::Interface;
    use almanac_core::meter::{MeterOwner, MeterReading};
    use almanac_core::moment::{Moment, parse_iso_date};
    use almanac_core::spindle::Spindle;
    use almanac_core::units::Kilonewtons;
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        parse_iso_date(text).unwrap()
    }

    fn shop() -> Shop {
        let spindle = Spindle {
            installed_on: Some(day("2024-01-10")),
            ..Spindle::named("S-0104", Interface::parse("HSK-F63").unwrap(), Kilonewtons::new(11.0).unwrap())
        };
        let meter = MeterReading {
            owner: MeterOwner::Spindle(SpindleId::from_row(1)),
            at: Moment::day(day("2026-01-21")),
            run_hours: RunHours::new(11_604.0),
            clamp_cycles: ClampCycles::new(148_000.0),
            meter_replaced: false,
            recorded_on: None,
            replaced_on: None,
        };
        let gauge = Gauge::named("G-02", Quantity::ClampForce);
        Shop {
            spindles: Arc::new([(SpindleId::from_row(1), spindle)].into()),
            meters: Arc::new(vec![Row { id: MeterReadingId::from_row(1), value: meter }]),
            gauges: Arc::new(vec![Row { id: GaugeId::from_row(1), value: gauge }]),
            ..Shop::default()
        }
    }

    fn filled() -> Draft {
        Draft::default().with("unit", "kN").with("stroke 1", "10.1").with("date", "2026-03-02").with("phase", "routine")
    }

    #[track_caller]
    fn check_wrong(draft: &Draft, key: Key, expected: &str) {
        let shop = shop();
        let errors = parse_in(&shop, draft).unwrap_err();
        assert_eq!(errors.of(key), Some(expected), "{errors:?}");
    }

    fn parse_in(shop: &Shop, draft: &Draft) -> Result<Reading, FieldErrors> {
        let spindle = SpindleId::from_row(1);
        parse(draft, &ReadingTarget { shop, spindle, correcting: None, today: day("2026-03-02") }, None)
    }

    #[test]
    fn a_filled_draft_is_a_reading() {
        let draft = filled()
            .with("stroke 3", "10,2")
            .with("run hours", "11,958")
            .with("clamp cycles", "150431")
            .with("gauge", "G-02")
            .with("zero checked", "yes");
        let reading = parse_in(&shop(), &draft).unwrap();
        let typed: Vec<&str> = reading.strokes.iter().map(|stroke| stroke.typed.as_str()).collect();
        assert_eq!(typed, ["10.1", "10.2"]);
        assert_eq!(reading.run_hours, RunHours::new(11_958.0));
        assert_eq!(reading.zero_checked, Some(true));
        assert_eq!(reading.recorded_on, None);
    }

    #[test]
    fn a_reading_of_another_day_says_when_it_was_entered() {
        let reading = parse_in(&shop(), &filled().with("date", "2026-02-27")).unwrap();
        assert_eq!(reading.recorded_on, Some(day("2026-03-02")));
    }

    #[test]
    fn what_is_missing_is_listed() {
        let errors = parse_in(&shop(), &Draft::default().with("unit", "kN")).unwrap_err();
        assert_eq!(errors.missing, ["stroke 1", "date", "phase"]);
        assert!(errors.wrong.is_empty());
    }

    #[test]
    fn wrong_fields_say_what_would_fit() {
        check_wrong(&filled().with("stroke 2", "1o.1"), "stroke 2", "'1o.1' is not a figure; expected one such as 9.1");
        check_wrong(&filled().with("stroke 1", "-3"), "stroke 1", "a clamp force is above 0, not -3 kN");
        check_wrong(
            &filled().with("date", "2026-02-30"),
            "date",
            "'2026-02-30' is no day; expected such as 2026-03-17, 17.3., +14, \u{2212}7 or fri",
        );
        check_wrong(
            &filled().with("date", "2023-05-01"),
            "date",
            "2023-05-01 lies before S-0104 was installed on 2024-01-10",
        );
        check_wrong(
            &filled().with("run hours", "11,500"),
            "run hours",
            "11,500 must exceed 11,604, shown on 21 January; a new meter starts with a meter reading",
        );
        check_wrong(
            &filled().with("gauge", "G-09"),
            "gauge",
            "'G-09' is not a gauge of this shop; take one of the list",
        );
        let setting = filled().with("unit", "mm").with("stroke 1", "10.5").with("gauge", "G-02");
        check_wrong(&setting, "gauge", "G-02 measures clamp force");
    }

    #[test]
    fn a_reading_comes_back_from_its_fields_unchanged() {
        let draft = filled()
            .with("stroke 2", "10.3")
            .with("zero checked", "no")
            .with("note", "slow unclamp")
            .with("run hours", "11,958.4")
            .with("clamp cycles", "1,150,431.5");
        let reading = parse_in(&shop(), &draft).unwrap();
        assert_eq!(reading.run_hours, RunHours::new(11_958.4));
        assert_eq!(parse_in(&shop(), &draft_of(&reading)).unwrap(), reading);
    }
}
