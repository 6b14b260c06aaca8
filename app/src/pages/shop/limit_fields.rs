//! The fields of limits and intervals, for a spindle as for an interface.

use super::register::{Field, figure_text, length, typed};
use crate::forms::draft::{Draft, Key, Reader, plain_number};
use almanac_core::limits::LimitValues;
use almanac_core::shop::Shop;
use almanac_core::spindle::{InvalidSpindle, check_limits};
use almanac_core::units::{ClampCycles, Millimetres, Percent, RunHours};

/// Labels of the fields.
pub const SERVICE_LIMIT: Key = "service limit";
const STOP_LIMIT: Key = "stop limit";
const SETTING: Key = "setting dimension";
const TOLERANCE: Key = "setting tolerance";
const MONTHS: Key = "every months";
const HOURS: Key = "every run hours";
const CYCLES: Key = "every clamp cycles";
const SOURCE: Key = "source of limits";

/// The fields; empty ones leave the limit to the step before.
#[must_use]
pub fn fields(shop: &Shop) -> Vec<Field> {
    let length = shop.settings.length_unit.symbol();
    vec![
        Field::figure(SERVICE_LIMIT, "80", "% of nominal"),
        Field::figure(STOP_LIMIT, "70", "% of nominal"),
        Field::figure(SETTING, "", length),
        Field::figure(TOLERANCE, "", &format!("{length} either way")),
        Field::figure(MONTHS, "", "months"),
        Field::figure(HOURS, "", "h"),
        Field::figure(CYCLES, "", "cycles"),
        Field::text(SOURCE, "who or what says so"),
    ]
}

/// The values of the fields. A length that stands as it was keeps its digits.
pub fn read(reader: &mut Reader<'_>, shop: &Shop, old: Option<&LimitValues>) -> LimitValues {
    let kept = |text: &str, value: Option<Millimetres>| {
        value.filter(|value| typed(value.get(), shop.settings.length_unit) == text)
    };
    let read_length = |text: &str, old: Option<Millimetres>| kept(text, old).or_else(|| length(text, shop));
    let old_setting = old.and_then(|old| old.setting_dimension);
    let old_tolerance = old.and_then(|old| old.setting_tolerance);
    let share = "a share in % such as 80";
    let length_expected = "a length such as 10.5";
    let whole = |text: &str| text.parse::<u32>().ok().filter(|months| *months > 0);
    let above_zero = |text: &str| plain_number(text).filter(|figure| *figure > 0.0);
    let values = LimitValues {
        nominal_force: None,
        service_limit: reader.optional(SERVICE_LIMIT, share, plain_number).and_then(Percent::new),
        stop_limit: reader.optional(STOP_LIMIT, share, plain_number).and_then(Percent::new),
        setting_dimension: reader.optional(SETTING, length_expected, |text| read_length(text, old_setting)),
        setting_tolerance: reader.optional(TOLERANCE, length_expected, |text| read_length(text, old_tolerance)),
        every_months: reader.optional(MONTHS, "whole months such as 12", whole),
        every_hours: reader.optional(HOURS, "hours above 0 such as 2,000", above_zero).and_then(RunHours::new),
        every_cycles: reader.optional(CYCLES, "cycles above 0 such as 150,000", above_zero).and_then(ClampCycles::new),
        source: reader.optional_text(SOURCE),
    };
    if let Err(error) = check_limits(&values) {
        let key = field_of(&error);
        reader.wrong(key, error);
    }
    values
}

/// The field to which a broken rule belongs.
#[must_use]
pub fn field_of(error: &InvalidSpindle) -> Key {
    match error {
        InvalidSpindle::Share { what: "stop limit", .. } | InvalidSpindle::LimitOrder { .. } => STOP_LIMIT,
        InvalidSpindle::NotAboveZero { what: "setting dimension", .. } => SETTING,
        InvalidSpindle::NotAboveZero { what: "setting tolerance", .. } => TOLERANCE,
        _ => SERVICE_LIMIT,
    }
}

/// Puts limits into their fields.
pub fn put(draft: &mut Draft, values: &LimitValues, shop: &Shop) {
    let length = |value: Option<f64>| value.map(|value| typed(value, shop.settings.length_unit)).unwrap_or_default();
    draft.set(SERVICE_LIMIT, figure_text(values.service_limit.map(Percent::get)));
    draft.set(STOP_LIMIT, figure_text(values.stop_limit.map(Percent::get)));
    draft.set(SETTING, length(values.setting_dimension.map(|value| value.get())));
    draft.set(TOLERANCE, length(values.setting_tolerance.map(|value| value.get())));
    draft.set(MONTHS, values.every_months.map(|months| months.to_string()).unwrap_or_default());
    draft.set(HOURS, figure_text(values.every_hours.map(RunHours::get)));
    draft.set(CYCLES, figure_text(values.every_cycles.map(ClampCycles::get)));
    draft.set(SOURCE, values.source.clone().unwrap_or_default());
}
