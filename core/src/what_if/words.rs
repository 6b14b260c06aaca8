//! What is pretended and what follows from it, in words.
//!
//! No sentence of these says that a spindle under a stop limit in force may run.

use super::compare::{Basis, Compared, ComparedRow, beyond_a_day};
use super::{Pretended, WhatIf};
use crate::due::Mark;
use crate::forecast::{PlannedUsage, SpindleForecast, SpindleState};
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::units::Unit;
use crate::words::{self, count_words, date_long, month_year, number, percent_short};
use chrono::{Datelike as _, Days, Months, NaiveDate};
use std::collections::BTreeMap;

/// A figure as short as it can be.
fn plain(value: f64) -> String {
    let text = number(value, 3);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// What is pretended, such as `usage × 2, accepted risk 5 %`.
pub(super) fn condition(what_if: &WhatIf, shop: &Shop, as_of: NaiveDate) -> String {
    let mut parts = Vec::new();
    match what_if.usage {
        PlannedUsage::Share(share) => parts.push(format!("usage × {}", plain(share.get() / 100.0))),
        PlannedUsage::HoursPerDay(hours) => parts.push(format!("{} h a working day", plain(hours.get()))),
        PlannedUsage::AsMeasured => {}
    }
    let share = |what: &str, value| format!("{what} {} %", percent_short(value));
    parts.extend(what_if.accepted_risk.map(|value| share("accepted risk", value)));
    parts.extend(what_if.service_limit.map(|value| share("service limit", value)));
    parts.extend(what_if.stop_limit.map(|value| share("stop limit", value)));
    let length = shop.settings.length_unit;
    parts.extend(
        what_if
            .setting_tolerance
            .map(|value| format!("setting tolerance ± {}", words::length_with_unit(value, length))),
    );
    parts.extend(what_if.every_months.map(|months| match months {
        1 => "a service every month".to_owned(),
        many => format!("a service every {many} months"),
    }));
    parts.extend(what_if.every_hours.map(|hours| format!("a service every {} h", words::hours(hours))));
    parts.extend(what_if.every_cycles.map(|cycles| format!("a service every {} cycles", words::cycles(cycles))));
    parts.extend(what_if.reading.as_ref().map(|reading| {
        let strokes: Vec<&str> = reading.strokes.iter().map(|stroke| stroke.typed.as_str()).collect();
        let unit = if reading.unit == Unit::Inch { "in" } else { reading.unit.symbol() };
        let day = date_long(reading.day, as_of);
        format!("{} reading of {} {unit} on {day}", with_article(reading.phase.label()), strokes.join(" "))
    }));
    parts.extend(
        what_if.service.map(|service| format!("a {} service on {}", service.kind.key(), date_long(service.day, as_of))),
    );
    parts.join(", ")
}

fn with_article(phase: &str) -> String {
    let article = if phase.starts_with('a') { "an" } else { "a" };
    format!("{article} {}", phase.replace(' ', "-"))
}

/// A date of service in a sentence: `now`, `by 12 March`, `not before March 2031`.
fn by(service_by: Option<NaiveDate>, as_of: NaiveDate, last: NaiveDate) -> String {
    match service_by {
        Some(day) if day <= as_of => "now".to_owned(),
        Some(day) => format!("by {}", date_long(day, as_of)),
        None => format!("not before {}", month_year(last)),
    }
}

/// Spindles that would run more hours than a day has.
pub(super) fn usage_remark(
    pretended: &Pretended,
    compared: &BTreeMap<SpindleId, Compared>,
    shop: &Shop,
    as_of: NaiveDate,
) -> Option<String> {
    let held = beyond_a_day(pretended, compared, shop, as_of);
    match held.as_slice() {
        [] => None,
        [place] => Some(format!("{place} would run more than a day has: reckoned with 24 h a working day.")),
        many => Some(format!(
            "{} spindles would run more than a day has: reckoned with 24 h a working day.",
            words::capital(&count_words(many.len()))
        )),
    }
}

/// What follows, in one sentence made from the dates.
pub(super) fn lead(
    what_if: &WhatIf,
    basis: Basis<'_>,
    rows: &[ComparedRow],
    compared: &BTreeMap<SpindleId, Compared>,
) -> String {
    let as_of = basis.forecast.as_of;
    if what_if.is_empty() {
        return "Nothing is pretended yet: type a figure, and the dates follow at once.".to_owned();
    }
    let with = format!("With {}", condition(what_if, basis.shop, as_of));
    let horizon = u64::from(basis.forecast.config.horizon_days);
    let last = as_of.checked_add_days(Days::new(horizon)).unwrap_or(NaiveDate::MAX);
    match rows {
        [] => "No spindle is shown of which anything could be pretended.".to_owned(),
        [row] => {
            let before = compared.get(&row.spindle).map(|both| &*both.before);
            of_one(&with, row, as_of, last, before)
        }
        many => of_many(&with, many, basis.due.booking_horizon_days, as_of, last),
    }
}

fn of_one(
    with: &str,
    row: &ComparedRow,
    as_of: NaiveDate,
    last: NaiveDate,
    before: Option<&SpindleForecast>,
) -> String {
    let place = &row.place;
    if row.before.mark == Mark::DoNotRun {
        let reason = before.map_or("", |before| before.reason.as_str());
        let ends = if reason.ends_with('.') { "" } else { "." };
        return format!("{place} must not run, whatever is pretended. {reason}{ends}");
    }
    if row.after.mark == Mark::DoNotRun {
        return format!("{with}, {place} must not run: it would be under its stop limit.");
    }
    if row.after.mark == Mark::OutOfService {
        let is_mounted = before.is_some_and(|before| before.state != SpindleState::NotMounted);
        let state = if is_mounted { "out of service" } else { "not mounted" };
        return format!("{place} is {state}, so no date follows from it.");
    }
    let (before, after) = (by(row.before.service_by, as_of, last), by(row.after.service_by, as_of, last));
    if before == after {
        return format!("{with}, {place} needs service {after}, as it stands.");
    }
    let governs = match (row.before.governing, row.after.governing) {
        (before, Some(after)) if before != Some(after) => format!("; {} governs then", after.label()),
        _ => String::new(),
    };
    format!("{with}, {place} needs service {after} instead of {before}{governs}.")
}

fn of_many(with: &str, rows: &[ComparedRow], booking_days: u32, as_of: NaiveDate, last: NaiveDate) -> String {
    let until = month_after(as_of, booking_days);
    let is_due = |day: Option<NaiveDate>| day.is_some_and(|day| day < until);
    let before = rows.iter().filter(|row| is_due(row.before.service_by)).count();
    let after = rows.iter().filter(|row| is_due(row.after.service_by)).count();
    let month = if until.year() == as_of.year() { until.format("%B").to_string() } else { month_year(until) };
    let noun = |count: usize| if count == 1 { ("spindle", "needs") } else { ("spindles", "need") };
    let counted = if before == after {
        let (spindles, need) = noun(after);
        format!("{} {spindles} {need} service before {month}, as many as it stands", count_words(after))
    } else {
        let more = before.abs_diff(after);
        let (spindles, need) = noun(more);
        let which = if after > before { "more" } else { "fewer" };
        format!("{} {which} {spindles} {need} service before {month}, {after} instead of {before}", count_words(more))
    };
    let mut changed = rows.iter().filter(|row| row.before.service_by != row.after.service_by);
    // what must not run has no date to be told
    let first = changed.find(|row| ![row.before.mark, row.after.mark].contains(&Mark::DoNotRun));
    let first = first.map_or_else(
        || "; no date changes".to_owned(),
        |row| {
            let (before, after) = (by(row.before.service_by, as_of, last), by(row.after.service_by, as_of, last));
            format!("; the first to change is {}, {after} instead of {before}", row.place)
        },
    );
    format!("{with}, {counted}{first}.")
}

/// The first day of the month after the one in which the booking horizon ends.
fn month_after(as_of: NaiveDate, booking_days: u32) -> NaiveDate {
    let horizon = as_of.checked_add_days(Days::new(booking_days.into())).unwrap_or(NaiveDate::MAX);
    let next = horizon.checked_add_months(Months::new(1)).unwrap_or(NaiveDate::MAX);
    next.with_day(1).unwrap_or(next)
}
