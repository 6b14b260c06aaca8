//! What stands in the fields of the what-if, and what it means.

use super::Of;
use crate::forms::draft::{Draft, FieldErrors, Key, Reader, plain_number, with_decimal_point};

use almanac_core::forecast::PlannedUsage;
use almanac_core::reading::{Phase, Stroke};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;
use almanac_core::units::{ClampCycles, Millimetres, Percent, RunHours, Unit};
use almanac_core::what_if::{InvalidWhatIf, PretendedReading, PretendedService, WhatIf};
use chrono::NaiveDate;

/// How much it runs.
pub const USAGE: Key = "usage";
/// Accepted risk.
pub const RISK: Key = "accepted risk";
/// Service limit.
pub const SERVICE_LIMIT: Key = "service limit";
/// Stop limit.
pub const STOP_LIMIT: Key = "stop limit";
/// Tolerance of the setting dimension.
pub const TOLERANCE: Key = "setting tolerance";
/// Calendar interval.
pub const MONTHS: Key = "every, months";
/// Interval in run hours.
pub const HOURS: Key = "every, run hours";
/// Interval in clamp cycles.
pub const CYCLES: Key = "every, cycles";
/// Strokes of the pretended reading.
pub const STROKES: Key = "reading";
/// Its occasion.
pub const PHASE: Key = "phase";
/// Its day.
pub const READ_ON: Key = "read on";
/// Kind of the pretended service.
pub const SERVICE: Key = "service";
/// Its day.
pub const SERVICED_ON: Key = "service on";
/// The choice of no service.
pub const NO_SERVICE: &str = "none";

/// Empties the fields that are of one spindle.
pub fn forget_records(draft: &mut Draft) {
    for key in [STROKES, PHASE, READ_ON, SERVICE, SERVICED_ON] {
        draft.set(key, "");
    }
}

/// What is pretended, or what is wrong with the fields.
///
/// # Errors
/// Field by field in words.
pub fn what_if(draft: &Draft, shop: &Shop, as_of: NaiveDate, of: Of) -> Result<WhatIf, FieldErrors> {
    let mut read = Reader::new(draft, as_of);
    let share = |text: &str| plain_number(text.trim_end_matches('%')).and_then(Percent::new);
    let length = shop.settings.length_unit;
    let mut pretended = WhatIf {
        usage: read.optional(USAGE, "such as × 2 for a second shift, or 16 h a working day", usage).unwrap_or_default(),
        accepted_risk: read.optional(RISK, "a figure in percent, such as 5", share),
        service_limit: read.optional(SERVICE_LIMIT, "percent of nominal, such as 80", share),
        stop_limit: read.optional(STOP_LIMIT, "percent of nominal, such as 70", share),
        setting_tolerance: read.optional(TOLERANCE, "a length, such as 0.1", |text| {
            let text = with_decimal_point(text.trim_start_matches('±'), false)?;
            text.parse().ok().map(|value| length.to_base(value)).and_then(Millimetres::new)
        }),
        every_months: read.optional(MONTHS, "whole months, such as 6", |text| text.parse().ok()),
        every_hours: read
            .optional(HOURS, "run hours, such as 2,000", |text| plain_number(text).and_then(RunHours::new)),
        every_cycles: read
            .optional(CYCLES, "clamp cycles, such as 20,000", |text| plain_number(text).and_then(ClampCycles::new)),
        reading: None,
        service: None,
    };
    if of == Of::ThisSpindle {
        pretended.reading = reading(&mut read, shop, as_of);
        pretended.service = service(&mut read, as_of);
    }
    if read.is_clean() {
        match pretended.checked(as_of) {
            Ok(checked) => return Ok(checked),
            Err(error) => read.wrong(field_of(&error), error),
        }
    }
    read.finish(None)
}

/// `× 2`, `x2`, `2`; with `h` the run hours of a working day.
fn usage(text: &str) -> Option<PlannedUsage> {
    let text = text.trim().to_lowercase();
    if let Some(hours) = text.strip_suffix('h') {
        return plain_number(hours).and_then(RunHours::new).map(PlannedUsage::HoursPerDay);
    }
    let times = plain_number(text.trim_start_matches(['×', 'x', '*']))?;
    Percent::new(times * 100.0).map(PlannedUsage::Share)
}

/// Strokes with a unit after them, or none for the force unit of the shop.
fn reading(read: &mut Reader<'_>, shop: &Shop, as_of: NaiveDate) -> Option<PretendedReading> {
    let expected = "one to five strokes such as 14.2 14.4, in mm with that behind them";
    let (unit, strokes) = read.optional(STROKES, expected, |text| strokes(text, shop.settings.force_unit))?;
    let phase = Phase::ALL.into_iter().find(|phase| phase.label() == read.text(PHASE)).unwrap_or(Phase::Routine);
    let day = read.day(READ_ON, Lean::Back).unwrap_or(as_of);
    Some(PretendedReading { unit, strokes, phase, day })
}

fn strokes(text: &str, force_unit: Unit) -> Option<(Unit, Vec<Stroke>)> {
    let mut words: Vec<&str> = text.split([' ', ';']).filter(|word| !word.is_empty()).collect();
    let unit = words.last().and_then(|word| Unit::from_symbol(word));
    if unit.is_some() {
        words.pop();
    }
    let unit = unit.unwrap_or(force_unit);
    let parse = |word: &&str| Stroke::parse(&with_decimal_point(word, false)?, unit);
    let strokes: Vec<Stroke> = words.iter().map(parse).collect::<Option<_>>()?;
    (!strokes.is_empty()).then_some((unit, strokes))
}

fn service(read: &mut Reader<'_>, as_of: NaiveDate) -> Option<PretendedService> {
    let kind = Kind::from_key(&read.text(SERVICE))?;
    Some(PretendedService { kind, day: read.day(SERVICED_ON, Lean::Back).unwrap_or(as_of) })
}

/// The field at which an error stands.
const fn field_of(error: &InvalidWhatIf) -> Key {
    match error {
        InvalidWhatIf::Times(_) | InvalidWhatIf::HoursPerDay(_) => USAGE,
        InvalidWhatIf::Risk(_) => RISK,
        InvalidWhatIf::Share { what, .. } | InvalidWhatIf::NotAboveZero { what, .. } => match what.as_bytes() {
            b"service limit" => SERVICE_LIMIT,
            b"stop limit" => STOP_LIMIT,
            b"setting tolerance" => TOLERANCE,
            b"interval in run hours" => HOURS,
            _ => CYCLES,
        },
        InvalidWhatIf::LimitOrder { .. } => STOP_LIMIT,
        InvalidWhatIf::Months(_) => MONTHS,
        InvalidWhatIf::Reading(_) | InvalidWhatIf::NoSettingDimension(_) | InvalidWhatIf::SeveralSpindles(_) => STROKES,
        InvalidWhatIf::ReadingLater { .. } => READ_ON,
        InvalidWhatIf::ServiceLater { .. } => SERVICED_ON,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day() -> NaiveDate {
        almanac_core::moment::parse_iso_date("2026-03-02").unwrap()
    }

    fn parsed(draft: &Draft) -> Result<WhatIf, FieldErrors> {
        what_if(draft, &Shop::default(), day(), Of::ThisSpindle)
    }

    #[test]
    fn usage_is_a_factor_or_hours() {
        let of = |text: &str| parsed(&Draft::default().with(USAGE, text)).map(|what_if| what_if.usage);
        let share = |percent| PlannedUsage::Share(Percent::new(percent).unwrap());
        assert_eq!(of("2"), Ok(share(200.0)));
        assert_eq!(of("× 1.5"), Ok(share(150.0)));
        assert_eq!(of("x0,5"), Ok(share(50.0)));
        assert_eq!(of("16 h"), Ok(PlannedUsage::HoursPerDay(RunHours::new(16.0).unwrap())));
        assert_eq!(of(""), Ok(PlannedUsage::AsMeasured));
        let wrong = of("twice").unwrap_err();
        assert_eq!(
            wrong.of(USAGE),
            Some("'twice' does not fit; expected such as × 2 for a second shift, or 16 h a working day")
        );
        let too_much = of("40").unwrap_err();
        assert!(too_much.of(USAGE).unwrap().starts_with("usage × 40 does not fit"), "{too_much:?}");
    }

    #[test]
    fn a_reading_takes_its_unit_from_what_was_typed() {
        let draft = Draft::default().with(STROKES, "14.2 14,4").with(PHASE, "as found");
        let reading = parsed(&draft).unwrap().reading.unwrap();
        assert_eq!((reading.unit, reading.phase, reading.day), (Unit::Kilonewton, Phase::AsFound, day()));
        assert_eq!(reading.strokes.iter().map(|s| s.base).collect::<Vec<_>>(), [14.2, 14.4]);
        let draft = Draft::default().with(STROKES, "10.55 mm").with(READ_ON, "27.2.");
        let reading = parsed(&draft).unwrap().reading.unwrap();
        assert_eq!((reading.unit, reading.day.to_string().as_str()), (Unit::Millimetre, "2026-02-27"));
        let later = Draft::default().with(SERVICE, "minor").with(SERVICED_ON, "2026-04-01");
        let errors = parsed(&later).unwrap_err();
        assert!(errors.of(SERVICED_ON).unwrap().contains("belongs to the plan"), "{errors:?}");
    }
}
