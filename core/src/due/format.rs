//! The due list as JSON and CSV for scripts and as a table for people.

use super::{DueList, DueRow, KitLate, NO_PLACE};
use crate::export::csv_text::CsvText;
use crate::forecast::next_reading::NextReading;
use crate::forecast::{Crossing, QUANTILES, ShopForecast};
use crate::shop::Shop;
use crate::units::{ClampCycles, RunHours};
use crate::words::{self, Align};
use chrono::NaiveDate;
use serde::Serialize;

/// Figures are written to a thousandth of a kN, a hundredth of a percent, a tenth of an hour: finer
/// ones would only look exact.
pub(crate) fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    let rounded = (value * scale).round() / scale;
    if rounded.is_finite() { rounded + 0.0 } else { value }
}

/// A day as the files write it.
#[derive(Clone, Copy)]
struct Iso(NaiveDate);

impl Serialize for Iso {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl std::fmt::Display for Iso {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

#[derive(Serialize)]
struct List<'a> {
    shop: &'a str,
    as_of: Iso,
    accepted_risk: f64,
    horizon_days: u32,
    spindles: Vec<Line<'a>>,
    worth_reading: Vec<Worth<'a>>,
}

/// A reading worth taking.
#[derive(Serialize)]
struct Worth<'a> {
    spindle: &'a str,
    quantity: &'static str,
    by: Iso,
    worth: f64,
    narrows_days: FromTo,
    reason: &'a str,
}

#[derive(Serialize)]
struct FromTo {
    from: u32,
    to: u32,
}

#[derive(Serialize, Clone, Copy)]
struct Mean {
    mean: f64,
    sd: f64,
}

#[derive(Serialize, Clone, Copy)]
struct Days {
    p05: Option<Iso>,
    p10: Option<Iso>,
    p25: Option<Iso>,
    p50: Option<Iso>,
    p75: Option<Iso>,
    p90: Option<Iso>,
    p95: Option<Iso>,
}

#[derive(Serialize)]
struct Line<'a> {
    spindle: &'a str,
    machine: Option<&'a str>,
    hall: Option<&'a str>,
    interface: &'a str,
    run_hours: Option<f64>,
    clamp_cycles: Option<i64>,
    hours_per_day: Option<f64>,
    cycles_per_day: Option<f64>,
    force_now_kn: Mean,
    force_now_pct: f64,
    service_limit_kn: f64,
    stop_limit_kn: f64,
    reserve_pct: f64,
    cross_service_limit: Option<Days>,
    cross_stop_limit: Option<Days>,
    cross_setting_dimension: Option<Days>,
    due_calendar: Option<Iso>,
    due_run_hours: Option<Iso>,
    due_clamp_cycles: Option<Iso>,
    service_by: Option<Iso>,
    governing_limit: Option<&'static str>,
    reason: &'a str,
    recoverable_loss_pct: Option<f64>,
    lasting_loss_pct: Option<f64>,
    major_service_by: Option<Iso>,
    state: &'static str,
    mark: &'static str,
    warnings: &'a [String],
    place: Option<&'a str>,
}

fn days(crossing: Crossing) -> Days {
    let [p05, p10, p25, p50, p75, p90, p95] = crossing.days.map(|day| day.map(Iso));
    Days { p05, p10, p25, p50, p75, p90, p95 }
}

fn line(row: &DueRow) -> Line<'_> {
    let forecast = &*row.forecast;
    let nominal = forecast.limits.nominal_force.value;
    let hours = |value: Option<RunHours>, decimals| value.map(|value| rounded(value.get(), decimals));
    let percent = |value: Option<crate::units::Percent>| value.map(|value| rounded(value.get(), 2));
    Line {
        spindle: &row.name,
        machine: row.machine.as_deref(),
        hall: row.hall.as_deref(),
        interface: &row.interface,
        run_hours: hours(forecast.run_hours, 1),
        clamp_cycles: forecast.clamp_cycles.map(|cycles| cycles.get().round() as i64),
        hours_per_day: hours(forecast.hours_per_day, 2),
        cycles_per_day: forecast.cycles_per_day.map(|cycles: ClampCycles| rounded(cycles.get(), 1)),
        force_now_kn: Mean {
            mean: rounded(forecast.force_now.mean.get(), 3),
            sd: rounded(forecast.force_now.sd.get(), 3),
        },
        force_now_pct: rounded(forecast.force_now.mean.percent_of(nominal).get(), 2),
        service_limit_kn: rounded(forecast.limits.service_limit_force().get(), 3),
        stop_limit_kn: rounded(forecast.limits.stop_limit_force().get(), 3),
        reserve_pct: rounded(forecast.reserve.get(), 2),
        cross_service_limit: forecast.cross_service_limit.map(days),
        cross_stop_limit: forecast.cross_stop_limit.map(days),
        cross_setting_dimension: forecast.cross_setting_dimension.map(days),
        due_calendar: forecast.due_calendar.map(Iso),
        due_run_hours: forecast.due_run_hours.map(Iso),
        due_clamp_cycles: forecast.due_clamp_cycles.map(Iso),
        service_by: forecast.service_by.map(Iso),
        governing_limit: forecast.governing.map(crate::forecast::GoverningLimit::label),
        reason: &forecast.reason,
        recoverable_loss_pct: percent(forecast.recoverable_loss),
        lasting_loss_pct: percent(forecast.lasting_loss),
        major_service_by: forecast.major_service_by.map(Iso),
        state: forecast.state.label(),
        mark: row.mark.label(),
        warnings: &forecast.warnings,
        place: row.position.as_deref(),
    }
}

fn worth<'a>(list: &'a DueList, reading: &'a NextReading) -> Worth<'a> {
    Worth {
        spindle: list.row(reading.spindle).map_or("", |row| &row.name),
        quantity: reading.quantity.key(),
        by: Iso(reading.by),
        worth: rounded(reading.worth.get(), 2),
        narrows_days: FromTo { from: reading.narrows.from, to: reading.narrows.to },
        reason: &reading.reason,
    }
}

/// The list as JSON, in the shape that the file formats describe.
///
/// # Errors
/// None that is known: all fields are plain figures and texts.
pub fn to_json(shop: &Shop, forecast: &ShopForecast, list: &DueList) -> Result<String, serde_json::Error> {
    let spindles = list.rows.iter().map(line).collect();
    let worth_reading = list.worth_reading.iter().map(|reading| worth(list, reading)).collect();
    let list = List {
        shop: &shop.settings.name,
        as_of: Iso(list.as_of),
        accepted_risk: forecast.config.accepted_risk,
        horizon_days: forecast.config.horizon_days,
        spindles,
        worth_reading,
    };
    let mut text = serde_json::to_string_pretty(&list)?;
    text.push('\n');
    Ok(text)
}

/// Columns of the CSV before the quantiles.
const BEFORE: [&str; 14] = [
    "spindle",
    "machine",
    "hall",
    "interface",
    "run_hours",
    "clamp_cycles",
    "hours_per_day",
    "cycles_per_day",
    "force_now_kn",
    "force_now_kn_sd",
    "force_now_pct",
    "service_limit_kn",
    "stop_limit_kn",
    "reserve_pct",
];

/// Columns of the CSV after the quantiles.
const AFTER: [&str; 13] = [
    "due_calendar",
    "due_run_hours",
    "due_clamp_cycles",
    "service_by",
    "governing_limit",
    "reason",
    "recoverable_loss_pct",
    "lasting_loss_pct",
    "major_service_by",
    "state",
    "mark",
    "warnings",
    "place",
];

/// The columns of the CSV, in their order.
#[must_use]
pub fn csv_columns() -> Vec<String> {
    let crossings = ["cross_service_limit", "cross_stop_limit", "cross_setting_dimension"]
        .into_iter()
        .flat_map(|limit| QUANTILES.into_iter().map(move |share| format!("{limit}_p{:02.0}", share * 100.0)));
    BEFORE.into_iter().map(ToOwned::to_owned).chain(crossings).chain(AFTER.into_iter().map(ToOwned::to_owned)).collect()
}

/// The list as CSV: the names of the JSON; nested ones are joined by `_`.
#[must_use]
pub fn to_csv(list: &DueList) -> String {
    let mut csv = CsvText::new();
    for name in csv_columns() {
        csv.plain(&name);
    }
    csv.end_row();
    for row in &list.rows {
        let line = line(row);
        csv.text(line.spindle).text(line.machine.unwrap_or_default()).text(line.hall.unwrap_or_default());
        csv.text(line.interface).optional(line.run_hours).optional(line.clamp_cycles);
        csv.optional(line.hours_per_day).optional(line.cycles_per_day);
        csv.number(line.force_now_kn.mean).number(line.force_now_kn.sd).number(line.force_now_pct);
        csv.number(line.service_limit_kn).number(line.stop_limit_kn).number(line.reserve_pct);
        for crossing in
            [row.forecast.cross_service_limit, row.forecast.cross_stop_limit, row.forecast.cross_setting_dimension]
        {
            for day in crossing.unwrap_or_default().days {
                csv.optional(day);
            }
        }
        csv.optional(line.due_calendar).optional(line.due_run_hours).optional(line.due_clamp_cycles);
        csv.optional(line.service_by).plain(line.governing_limit.unwrap_or_default()).text(line.reason);
        csv.optional(line.recoverable_loss_pct).optional(line.lasting_loss_pct).optional(line.major_service_by);
        csv.plain(line.state).plain(line.mark).text(&line.warnings.join("; "));
        csv.text(line.place.unwrap_or_default());
        csv.end_row();
    }
    csv.finish()
}

/// Column heads of the table.
const HEADS: [(&str, Align); 11] = [
    ("state", Align::Left),
    ("position", Align::Left),
    ("spindle", Align::Left),
    ("interface", Align::Left),
    ("force now", Align::Right),
    ("%", Align::Right),
    ("reserve", Align::Right),
    ("service by", Align::Left),
    ("days", Align::Right),
    ("because of", Align::Left),
    ("placed in", Align::Left),
];

/// The list as a table for people: the lead line, then one line per spindle.
#[must_use]
pub fn to_table(shop: &Shop, list: &DueList) -> String {
    let unit = shop.settings.force_unit;
    let rows: Vec<Vec<String>> = list
        .rows
        .iter()
        .map(|row| {
            let forecast = &*row.forecast;
            let nominal = forecast.limits.nominal_force.value;
            let (force, percent, reserve) = if forecast.force_measured {
                (
                    words::force_with_unit(forecast.force_now.mean, nominal, unit),
                    words::percent(forecast.force_now.mean.percent_of(nominal)),
                    words::reserve(forecast.reserve),
                )
            } else {
                (words::UNKNOWN.to_owned(), words::UNKNOWN.to_owned(), words::UNKNOWN.to_owned())
            };
            vec![
                row.mark.label().to_owned(),
                row.position.clone().unwrap_or_else(|| words::UNKNOWN.to_owned()),
                row.name.clone(),
                row.interface.clone(),
                force,
                percent,
                reserve,
                service_by(row, list.as_of),
                row.days
                    .filter(|_| row.service_by().is_some())
                    .map_or_else(|| words::UNKNOWN.to_owned(), |days| words::number(days as f64, 0)),
                row.governing().map(|limit| limit.label().to_owned()).unwrap_or_default(),
                placed_in(row, list.as_of),
            ]
        })
        .collect();
    let mut text = String::new();
    for sentence in [&list.lead.urgent, &list.lead.rest] {
        if !sentence.is_empty() {
            text.push_str(sentence);
            text.push('\n');
        }
    }
    if rows.is_empty() {
        return text;
    }
    text.push('\n');
    text.push_str(&words::table(&HEADS, rows));
    worth_reading(&mut text, shop, list);
    text
}

/// Heads of the readings worth taking.
const WORTH_HEADS: [(&str, Align); 7] = [
    ("position", Align::Left),
    ("spindle", Align::Left),
    ("quantity", Align::Left),
    ("read by", Align::Left),
    ("band, days", Align::Right),
    ("worth", Align::Right),
    ("why", Align::Left),
];

/// The readings worth taking, under the list.
fn worth_reading(text: &mut String, shop: &Shop, list: &DueList) {
    if list.worth_reading.is_empty() {
        return;
    }
    let rows = list
        .worth_reading
        .iter()
        .filter_map(|reading| {
            let row = list.row(reading.spindle)?;
            Some(vec![
                row.position.clone().unwrap_or_else(|| words::UNKNOWN.to_owned()),
                row.name.clone(),
                reading.quantity.label().to_owned(),
                words::date_short(reading.by, list.as_of),
                format!("{} to {}", words::number(f64::from(reading.narrows.from), 0), reading.narrows.to),
                reading.worth_in_words(&shop.settings.currency).unwrap_or_else(|| words::UNKNOWN.to_owned()),
                reading.reason.clone(),
            ])
        })
        .collect();
    text.push_str("\nReadings worth taking in the next round, most useful first:\n\n");
    text.push_str(&words::table(&WORTH_HEADS, rows));
}

/// `now`, a date, or nothing where no service is due.
fn service_by(row: &DueRow, as_of: NaiveDate) -> String {
    match row.service_by() {
        Some(day) if day <= as_of => "now".to_owned(),
        Some(day) => words::date_short(day, as_of),
        None => words::UNKNOWN.to_owned(),
    }
}

/// Day and name of the booking, else what blocks it, else the last window.
fn placed_in(row: &DueRow, as_of: NaiveDate) -> String {
    if let Some(booking) = &row.booking {
        let day = booking.day_in_words(as_of).unwrap_or_else(|| NO_PLACE.to_owned());
        return booking.technician.as_ref().map_or_else(|| day.clone(), |name| format!("{day} {name}"));
    }
    if !row.mark.needs_action() {
        return String::new();
    }
    match (row.kit_late, row.last_window, row.next_window) {
        (Some(KitLate::On(day)), ..) => format!("kit late, {}", words::date_short(day, as_of)),
        (Some(KitLate::Missing), ..) => "kit missing".to_owned(),
        (None, Some(day), _) => format!("by {}", words::date_short(day, as_of)),
        (None, None, Some(day)) => format!("next window {}", words::date_short(day, as_of)),
        (None, None, None) => "no window".to_owned(),
    }
}
