//! One row of the table in words: made once per forecast, not per frame.

use crate::pages::PageContext;
use crate::what_if::Shown;
use almanac_core::due::{DueList, DueRow, KitLate, Mark, NO_PLACE, accessible_sentence, row_sentence};
use almanac_core::forecast::{GoverningLimit, SpindleState};
use almanac_core::ids::SpindleId;
use almanac_core::shop::Shop;
use almanac_core::units::{Kilonewtons, Percent, Unit};
use almanac_core::words;
use chrono::{Days, NaiveDate};

/// What stands in *placed in*.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) enum Placed {
    /// Nothing to place yet.
    #[default]
    Open,
    /// It has a day, and maybe somebody.
    On {
        /// The day.
        day: String,
        /// Who leads; empty where nobody is named.
        who: String,
        /// After service-by, or over without the work begun: a person must act.
        acts: bool,
    },
    /// Somebody must place it; why, or until when.
    ToDo(String),
    /// Ordered without a day, and not yet pressing.
    Ordered(String),
}

/// A row as the table prints it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) spindle: SpindleId,
    pub(super) name: String,
    /// A dash where it is not mounted.
    pub(super) position: String,
    pub(super) interface: String,
    pub(super) hall: Option<String>,
    pub(super) technician: Option<String>,
    /// `None`: not computed yet.
    pub(super) mark: Option<Mark>,
    /// The state without what is pretended: a what-if never changes which rows a filter leaves, since
    /// those are the rows of which something is pretended.
    pub(super) mark_in_force: Option<Mark>,
    pub(super) is_mounted: bool,
    pub(super) force: String,
    pub(super) percent: String,
    pub(super) reserve: String,
    pub(super) service_by: String,
    pub(super) days: String,
    pub(super) because: &'static str,
    pub(super) placed: Placed,
    pub(super) reason: String,
    /// What a screen reader says of the row.
    pub(super) sentence: String,
    /// Due inside the booking horizon.
    pub(super) is_near: bool,
    pub(super) keys: Keys,
    /// Lower-case text that a search looks through.
    pub(super) searched: String,
    /// Where its projection stands in the due list.
    pub(super) row: Option<usize>,
}

impl Line {
    /// Whether something in it is in accent: a person must act.
    pub(super) fn needs_action(&self) -> bool {
        self.mark.is_some_and(Mark::needs_action) || matches!(self.placed, Placed::On { acts: true, .. })
    }
}

/// Values that the table sorts, groups and counts by.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Keys {
    pub(super) force: Option<f64>,
    pub(super) percent: Option<f64>,
    pub(super) reserve: Option<f64>,
    pub(super) service_by: Option<NaiveDate>,
    pub(super) governing: Option<GoverningLimit>,
    pub(super) placed_on: Option<NaiveDate>,
    /// Service is due now: a limit is passed, or the risk of it is no longer accepted.
    pub(super) is_now: bool,
}

/// All rows: of the due list, else of the shop's registers without figures.
pub(super) fn lines(context: &PageContext<'_>) -> Vec<Line> {
    let unit = context.shop.settings.force_unit;
    match context.due {
        Some(due) => {
            let lines = due.rows.iter().enumerate().map(|(index, row)| line_of(row, index, due, unit));
            match context.what_if {
                Some(what_if) => lines.map(|line| beside(line, what_if, due.as_of)).collect(),
                None => lines.collect(),
            }
        }
        None => bare_lines(context.shop, context.as_of),
    }
}

/// Names and places alone, by position.
fn bare_lines(shop: &Shop, as_of: NaiveDate) -> Vec<Line> {
    let dash = || words::UNKNOWN.to_owned();
    let mut lines: Vec<Line> = shop
        .spindles
        .iter()
        .map(|(id, spindle)| {
            let position = shop.position_on(*id, as_of);
            let hall = position.and_then(|at| shop.machines.get(&at.machine)).map(|machine| machine.hall.clone());
            let label = position.map(|at| shop.position_label(at));
            let interface = spindle.interface.as_str().to_owned();
            let searched = searched([label.as_deref(), Some(&spindle.name), Some(&interface), hall.as_deref(), None]);
            let shown = label.clone().unwrap_or_else(|| spindle.name.clone());
            Line {
                spindle: *id,
                sentence: format!("{shown}, spindle {}, {interface}, not computed yet", spindle.name),
                name: spindle.name.clone(),
                is_mounted: label.is_some(),
                position: label.unwrap_or_else(dash),
                interface,
                hall,
                technician: None,
                mark: None,
                mark_in_force: None,
                force: dash(),
                percent: dash(),
                reserve: dash(),
                service_by: dash(),
                days: dash(),
                because: "",
                placed: Placed::Open,
                reason: String::new(),
                is_near: false,
                keys: Keys::default(),
                searched,
                row: None,
            }
        })
        .collect();
    lines.sort_by_cached_key(|line| (!line.is_mounted, super::arrange::natural(&line.position), line.name.clone()));
    lines
}

fn line_of(row: &DueRow, index: usize, due: &DueList, unit: Unit) -> Line {
    let forecast = &row.forecast;
    let nominal = forecast.limits.nominal_force.value;
    let measured = forecast.force_measured;
    let is_mounted = row.position.is_some();
    let is_out = row.mark == Mark::OutOfService;
    let percent = forecast.force_now.mean.percent_of(nominal);
    let known = |text: String| if measured { text } else { words::UNKNOWN.to_owned() };
    let placed = placed_of(row, due.as_of);
    let order = row.booking.as_ref().map(|booking| booking.name.as_str());
    let searched =
        searched([row.position.as_deref(), Some(&row.name), Some(&row.interface), row.hall.as_deref(), order]);
    Line {
        spindle: row.spindle,
        name: row.name.clone(),
        position: row.position.clone().unwrap_or_else(|| words::UNKNOWN.to_owned()),
        interface: row.interface.clone(),
        hall: row.hall.clone(),
        technician: row.booking.as_ref().and_then(|booking| booking.technician.clone()),
        mark: Some(row.mark),
        mark_in_force: Some(row.mark),
        is_mounted,
        force: known(words::force_in(forecast.force_now.mean, nominal, unit)),
        percent: known(words::percent(percent)),
        reserve: known(words::reserve(forecast.reserve)),
        service_by: service_by_words(row, due.as_of),
        days: match row.days {
            Some(_) if is_out => words::UNKNOWN.to_owned(),
            Some(days) => words::number(days as f64, 0),
            None if is_mounted && !is_out => String::new(), // "after ..." says it
            None => words::UNKNOWN.to_owned(),
        },
        because: row.governing().map_or("", GoverningLimit::label),
        reason: row_sentence(row, due.as_of),
        sentence: accessible_sentence(row, due.as_of, unit),
        is_near: is_near(row, due),
        keys: Keys {
            force: measured.then_some(forecast.force_now.mean).map(Kilonewtons::get),
            percent: measured.then_some(percent).map(Percent::get),
            reserve: measured.then_some(forecast.reserve).map(Percent::get),
            service_by: row.service_by(),
            governing: row.governing(),
            placed_on: row.booking.as_ref().and_then(|booking| booking.day),
            is_now: is_now(row, due.as_of),
        },
        searched,
        placed,
        row: Some(index),
    }
}

/// The date in force beside the pretended one.
fn beside(mut line: Line, what_if: &Shown, as_of: NaiveDate) -> Line {
    line.mark_in_force = what_if.before_due.row(line.spindle).map(|row| row.mark);
    match what_if.row_before(line.spindle) {
        Some(row) => {
            line.days = service_by_words(row, as_of);
            line.sentence = match row.mark {
                Mark::OutOfService => format!("What if: {}", line.sentence),
                _ => format!("What if: {} In force: service {}.", line.sentence, line.days),
            };
        }
        None => line.days = "as it is".to_owned(),
    }
    line
}

fn searched(parts: [Option<&str>; 5]) -> String {
    let parts: Vec<&str> = parts.into_iter().flatten().collect();
    parts.join("\n").to_lowercase()
}

/// Whether its service must be placed by now: due inside the booking horizon.
pub(super) fn is_near(row: &DueRow, due: &DueList) -> bool {
    let horizon = due.as_of.checked_add_days(Days::new(due.booking_horizon_days.into())).unwrap_or(NaiveDate::MAX);
    counts_as_passed(row) || row.service_by().is_some_and(|by| by <= horizon)
}

/// Whether its service-by is today or a limit is passed already.
fn is_now(row: &DueRow, as_of: NaiveDate) -> bool {
    counts_as_passed(row) || row.service_by().is_some_and(|by| by <= as_of)
}

/// Whether it is past a limit; of a spindle out of service that is no work.
fn counts_as_passed(row: &DueRow) -> bool {
    row.forecast.is_passed && row.mark != Mark::OutOfService
}

fn service_by_words(row: &DueRow, as_of: NaiveDate) -> String {
    let forecast = &row.forecast;
    let is_still = row.position.is_none() || row.mark == Mark::OutOfService;
    match row.service_by() {
        None if is_still || forecast.state == SpindleState::NotMounted => words::UNKNOWN.to_owned(),
        _ if is_now(row, as_of) => "now".to_owned(),
        Some(by) => words::date_short(by, as_of),
        None => beyond(as_of),
    }
}

/// How a date after the horizon is told, such as `after March 2031`.
fn beyond(as_of: NaiveDate) -> String {
    let horizon = Days::new(almanac_core::forecast::HORIZON_DAYS.into());
    as_of
        .checked_add_days(horizon)
        .map_or_else(|| words::UNKNOWN.to_owned(), |last| format!("after {}", words::month_year(last)))
}

fn placed_of(row: &DueRow, as_of: NaiveDate) -> Placed {
    if let Some(booking) = &row.booking {
        let who = booking.technician.clone().unwrap_or_default();
        return match booking.day {
            Some(day) => {
                let is_late = row.forecast.service_by.is_some_and(|by| by < day) && !row.forecast.is_passed;
                let acts = row.mark != Mark::OutOfService && (is_late || booking.is_overdue(as_of));
                Placed::On { day: booking.day_in_words(as_of).unwrap_or_default(), who, acts }
            }
            None if row.mark.needs_action() => Placed::ToDo(format!("{}, {NO_PLACE}", booking.name)),
            None => Placed::Ordered(format!("{}, {NO_PLACE}", booking.name)),
        };
    }
    if !row.mark.needs_action() {
        return Placed::Open;
    }
    match (row.kit_late, row.last_window) {
        (Some(KitLate::On(day)), _) => Placed::ToDo(format!("kit late, {}", words::day_month(day, as_of))),
        (Some(KitLate::Missing), _) => Placed::ToDo("kit missing".to_owned()),
        (None, Some(window)) => Placed::ToDo(format!("by {}", words::date_short(window, as_of))),
        (None, None) => Placed::ToDo(match row.next_window {
            Some(next) => format!("next {}", words::date_short(next, as_of)),
            None => "no window".to_owned(),
        }),
    }
}
