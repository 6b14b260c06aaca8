//! Readings and services of one spindle as rows, and each of them in words.

use super::view::View;
use crate::charts::clock::{Axis, Clock};
use crate::charts::dates::{day_number, moment_number};
use crate::charts::drift::uncertainty_of_mean;
use crate::forms::facts::calibration_words;
use crate::theme::{sans, semibold, size};
use crate::widgets::line::TextLine;
use almanac_core::ids::{ReadingId, Row, ServiceId, SpindleId};
use almanac_core::moment::Moment;
use almanac_core::reading::{Phase, Reading};
use almanac_core::service::{Kind, Service};
use almanac_core::shop::Shop;
use almanac_core::units::{Kilonewtons, Millimetres, Percent, Quantity};
use almanac_core::words;
use chrono::NaiveDate;

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum RecordKey {
    /// Readings of one occasion, by the first of them.
    Reading(ReadingId),
    /// A service.
    Service(ServiceId),
}

/// Whether a record counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    Counts,
    /// A correction took its place on that day.
    Superseded(NaiveDate),
    /// It was withdrawn on that day.
    Withdrawn(NaiveDate),
}

impl Standing {
    /// `superseded 3 Mar`; empty where it counts.
    pub(super) fn words(self, as_of: NaiveDate) -> String {
        let short = |day: NaiveDate| {
            use chrono::Datelike as _;
            if day.year() == as_of.year() { day.format("%-d %b").to_string() } else { words::date_short(day, as_of) }
        };
        match self {
            Self::Counts => String::new(),
            Self::Superseded(day) => format!("superseded {}", short(day)),
            Self::Withdrawn(day) => format!("withdrawn {}", short(day)),
        }
    }
}

/// One row: a force and a setting-dimension reading of one occasion, or a service.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Record {
    pub(super) key: RecordKey,
    pub(super) at: Moment,
    pub(super) standing: Standing,
    pub(super) what: What,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    Reading { phase: Phase, force: Option<Box<Row<ReadingId, Reading>>>, setting: Option<Box<Row<ReadingId, Reading>>> },
    Service(Box<Row<ServiceId, Service>>),
}

impl Record {
    /// The force reading in it.
    pub(super) fn force(&self) -> Option<&Row<ReadingId, Reading>> {
        match &self.what {
            What::Reading { force, .. } => force.as_deref(),
            What::Service(_) => None,
        }
    }

    /// The setting-dimension reading in it.
    pub(super) fn setting(&self) -> Option<&Row<ReadingId, Reading>> {
        match &self.what {
            What::Reading { setting, .. } => setting.as_deref(),
            What::Service(_) => None,
        }
    }

    /// Either reading, the force first.
    pub(super) fn reading(&self) -> Option<&Row<ReadingId, Reading>> {
        self.force().or_else(|| self.setting())
    }

    /// The reading of that quantity in it.
    pub(super) fn reading_of(&self, quantity: Quantity) -> Option<&Row<ReadingId, Reading>> {
        match quantity {
            Quantity::ClampForce => self.force(),
            Quantity::SettingDimension => self.setting(),
        }
    }

    /// What asks which of its two readings is corrected; `None` where there is one.
    pub(super) fn both_to_correct(&self, view: &View<'_>) -> Option<[(Quantity, String); 2]> {
        let (force, setting) = self.force().zip(self.setting())?;
        let (mean, length) = (Kilonewtons::new(force.mean_base())?, Millimetres::new(setting.mean_base())?);
        let force =
            format!("Correct the {}, {} {}", force.quantity().label(), view.mean_force(mean), view.force_unit());
        let unit = view.length_unit();
        let setting = format!("Correct the {}, {}", setting.quantity().label(), words::length_with_unit(length, unit));
        Some([(Quantity::ClampForce, force), (Quantity::SettingDimension, setting)])
    }

    /// Whether it stands for that reading.
    pub(super) fn holds(&self, reading: ReadingId) -> bool {
        [self.force(), self.setting()].into_iter().flatten().any(|row| row.id == reading)
    }

    /// Order within a day: routine, as found, service, as left.
    fn rank(&self) -> u8 {
        match &self.what {
            What::Reading { phase: Phase::Routine, .. } => 0,
            What::Reading { phase: Phase::AsFound, .. } => 1,
            What::Service(_) => 2,
            What::Reading { phase: Phase::AsLeft, .. } => 3,
        }
    }
}

/// All records of a spindle as known on a day, newest first, with those that no longer count.
pub(super) fn collect(whole: &Shop, spindle: SpindleId, as_of: NaiveDate) -> Vec<Record> {
    let is_known = |at: Moment, recorded: Option<NaiveDate>| at.date <= as_of && recorded.is_none_or(|r| r <= as_of);
    let readings = whole.readings_of(spindle);
    let services = whole.services_of(spindle);
    let mut records: Vec<Record> = Vec::with_capacity(readings.len() + services.len());
    for row in readings.iter().filter(|row| is_known(row.at, row.recorded_on)) {
        let standing = standing(row.replaced_on, as_of, |day| {
            readings.iter().any(|other| other.id != row.id && entered(other.at, other.recorded_on) == day)
        });
        let quantity = row.quantity();
        let joins = |record: &Record| match &record.what {
            What::Reading { phase, force, setting } => {
                *phase == row.phase
                    && record.at == row.at
                    && record.standing == standing
                    && if quantity == Quantity::ClampForce { force.is_none() } else { setting.is_none() }
            }
            What::Service(_) => false,
        };
        // readings are sorted by moment, so those of one occasion stand close together
        let mut latest = records.iter().enumerate().rev().take(6);
        let partner = latest.find(|(_, record)| joins(record)).map(|(index, _)| index);
        let boxed = Some(Box::new(row.clone()));
        match partner.and_then(|index| records.get_mut(index)).map(|record| &mut record.what) {
            Some(What::Reading { force, setting, .. }) => {
                *(if quantity == Quantity::ClampForce { force } else { setting }) = boxed;
            }
            _ => {
                let (force, setting) = if quantity == Quantity::ClampForce { (boxed, None) } else { (None, boxed) };
                let what = What::Reading { phase: row.phase, force, setting };
                records.push(Record { key: RecordKey::Reading(row.id), at: row.at, standing, what });
            }
        }
    }
    for row in services.iter().filter(|row| is_known(row.at, row.recorded_on)) {
        let standing = standing(row.replaced_on, as_of, |day| {
            services.iter().any(|other| other.id != row.id && entered(other.at, other.recorded_on) == day)
        });
        let what = What::Service(Box::new(row.clone()));
        records.push(Record { key: RecordKey::Service(row.id), at: row.at, standing, what });
    }
    records.sort_by_key(|record| std::cmp::Reverse((record.at.date, record.rank(), record.at, record.key)));
    records
}

/// The day a record was entered: said, or that of the record.
fn entered(at: Moment, recorded: Option<NaiveDate>) -> NaiveDate {
    recorded.unwrap_or(at.date)
}

fn standing(replaced: Option<NaiveDate>, as_of: NaiveDate, corrected: impl Fn(NaiveDate) -> bool) -> Standing {
    match replaced.filter(|day| *day <= as_of) {
        None => Standing::Counts,
        Some(day) if corrected(day) => Standing::Superseded(day),
        Some(day) => Standing::Withdrawn(day),
    }
}

/// Run hours since the last service before a record; as left counts from its own service.
fn hours_since_service(view: &View<'_>, clock: &Clock, record: &Record) -> Option<f64> {
    let is_as_left = matches!(record.what, What::Reading { phase: Phase::AsLeft, .. });
    let services = view.context.shop.services_of(view.id);
    let before = |service: &&Row<ServiceId, Service>| {
        service.at.date < record.at.date || is_as_left && service.at.date == record.at.date
    };
    let service = services.iter().rev().find(before)?;
    let now = clock.at(Axis::RunHours, moment_number(record.at))?;
    let then = clock.at(Axis::RunHours, day_number(service.at.date))?;
    Some((now - then).max(0.0))
}

/// The strokes as typed, with that between them.
pub(super) fn strokes_as_typed(reading: &Reading, between: &str) -> String {
    reading.strokes.iter().map(|stroke| stroke.typed.as_str()).collect::<Vec<_>>().join(between)
}

/// All about a record in one line: what the read-out shows and a screen reader says.
pub(super) fn read_out(view: &View<'_>, clock: &Clock, record: &Record) -> TextLine {
    let c = view.colours;
    let (plain, small, bold) = (sans(size::BODY), sans(size::LABEL), semibold(size::BODY));
    let mut line = TextLine::new();
    line.push(0.0, record.at.date.format("%a %-d %b %Y").to_string(), bold.clone(), c.ink);
    match &record.what {
        What::Reading { phase, force, setting } => {
            line.push(8.0, phase.label(), plain, c.ink2);
            if let Some(reading) = force {
                force_words(view, &mut line, reading);
            }
            if let Some(reading) = setting {
                let length = Millimetres::new(reading.mean_base()).unwrap_or_default();
                let text = words::length_with_unit(length, view.length_unit());
                line.push(8.0, "setting", small.clone(), c.ink2);
                line.push(4.0, text, bold, c.ink);
                doubt_words(view, &mut line, reading);
            }
            line.push(8.0, record.standing.words(view.as_of()), semibold(size::LABEL), c.ink2);
            notes(view, &mut line, [force.as_deref(), setting.as_deref()].into_iter().flatten().map(|r| &*r.note));
            if let Some(hours) = hours_since_service(view, clock, record) {
                line.push(8.0, format!("{} h since service", words::number(hours, 0)), small.clone(), c.ink2);
            }
            if let Some(reading) = record.reading() {
                reading_words(view, &mut line, reading, setting.as_deref().filter(|_| force.is_some()));
            }
        }
        What::Service(service) => {
            line.push(8.0, format!("{} service", service.kind.key()), bold, c.ink);
            line.push(8.0, record.standing.words(view.as_of()), semibold(size::LABEL), c.ink2);
            line.push(8.0, on_one_line(&service.findings), small.clone(), c.ink);
            notes(view, &mut line, std::iter::once(&*service.note));
            if let Some(hours) = service.stop_hours {
                line.push(8.0, format!("{} h stop", words::number(hours.get(), 1)), small.clone(), c.ink2);
            }
            if let Some(hours) = hours_since_service(view, clock, record) {
                let text = format!("{} h since the service before", words::number(hours, 0));
                line.push(8.0, text, small.clone(), c.ink2);
            }
            let parts = service.parts.iter().map(|part| format!("{} {}", words::number(part.quantity, 0), part.part));
            line.push(8.0, parts.collect::<Vec<_>>().join(", "), small.clone(), c.ink2);
            if let Some(order) = &service.order {
                line.push(8.0, format!("order {order}"), small.clone(), c.ink2);
            }
            line.push(8.0, service.technician.clone().unwrap_or_default(), small, c.ink2);
        }
    }
    line
}

fn force_words(view: &View<'_>, line: &mut TextLine, reading: &Row<ReadingId, Reading>) {
    let c = view.colours;
    let force = Kilonewtons::new(reading.mean_base()).unwrap_or_default();
    let strokes: Vec<f64> = reading.strokes.iter().map(|stroke| stroke.base).collect();
    // equal strokes only say that the gauge shows no more digits, not that the force is exact
    let spread = uncertainty_of_mean(&strokes).filter(|sd| *sd > 0.0).and_then(Kilonewtons::new);
    let figure = match spread {
        Some(sd) => format!("{} {} ± {}", view.mean_force(force), view.force_unit(), view.force_spread(sd)),
        None => format!("{} {}", view.mean_force(force), view.force_unit()),
    };
    line.push(8.0, figure, semibold(size::BODY), c.ink);
    let share = force.percent_of(view.spindle.nominal_force);
    line.push(8.0, format!("{} %", words::percent(share)), sans(size::LABEL), c.ink2);
    doubt_words(view, line, reading);
}

fn doubt_words(view: &View<'_>, line: &mut TextLine, reading: &Row<ReadingId, Reading>) {
    if let Some(words) = view.doubt(reading) {
        line.push(8.0, words, sans(size::LABEL), view.colours.act);
    }
}

fn notes<'t>(view: &View<'_>, line: &mut TextLine, notes: impl Iterator<Item = &'t str>) {
    for note in notes.filter(|note| !note.is_empty()) {
        line.push(8.0, on_one_line(note), sans(size::LABEL), view.colours.ink);
    }
}

/// A text that may have line breaks, on one line.
pub(super) fn on_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn reading_words(view: &View<'_>, line: &mut TextLine, reading: &Reading, also: Option<&Row<ReadingId, Reading>>) {
    let c = view.colours;
    let small = || sans(size::LABEL);
    line.push(8.0, "strokes", small(), c.ink2);
    let shown = if reading.quantity() == Quantity::ClampForce { view.force_unit() } else { view.length_unit() };
    let unit = if reading.unit == shown { String::new() } else { format!(" {}", reading.unit) };
    line.push(4.0, format!("{}{unit}", strokes_as_typed(reading, " ")), small(), c.ink2);
    for gauge in [reading.gauge.as_deref(), also.and_then(|row| row.gauge.as_deref())].into_iter().flatten() {
        let known = view.context.shop.gauge_named(gauge).filter(|known| known.calibration_due.is_some());
        let overdue = known.is_some_and(|known| known.is_overdue_on(reading.at.date));
        let text = match known {
            Some(_) => format!("gauge {gauge}, {}", calibration(view, gauge, reading.at.date)),
            None => format!("gauge {gauge}"),
        };
        line.push(8.0, text, small(), if overdue { c.act } else { c.ink2 });
    }
    if reading.zero_checked == Some(false) {
        line.push(8.0, "zero not checked", small(), c.ink2);
    }
    line.push(8.0, reading.technician.clone().unwrap_or_default(), small(), c.ink2);
}

fn calibration(view: &View<'_>, gauge: &str, day: NaiveDate) -> String {
    calibration_words(view.context.shop, gauge, day, view.as_of())
}

/// Since when a gauge of the row had been out of calibration when it was read; `None`: it was not.
/// A gauge that the row does not show is named.
pub(super) fn overdue_words(view: &View<'_>, record: &Record) -> Option<String> {
    let shown = record.reading()?.gauge.as_deref();
    let rows = [record.force(), record.setting()].into_iter().flatten();
    rows.filter_map(|row| Some((row.at.date, row.gauge.as_deref()?))).find_map(|(day, gauge)| {
        let is_overdue = view.context.shop.gauge_named(gauge)?.is_overdue_on(day);
        let words = calibration(view, gauge, day);
        is_overdue.then(|| if Some(gauge) == shown { words } else { format!("{gauge} {words}") })
    })
}

/// `30 Apr`, with the year where it is another one.
pub(super) fn due_words(day: NaiveDate, as_of: NaiveDate) -> String {
    use chrono::Datelike as _;
    if day.year() == as_of.year() { day.format("%-d %b").to_string() } else { words::date_short(day, as_of) }
}

/// The share of nominal of a force reading.
pub(super) fn share_of(view: &View<'_>, reading: &Reading) -> Percent {
    Kilonewtons::new(reading.mean_base()).unwrap_or_default().percent_of(view.spindle.nominal_force)
}

/// Minor or major, as a row says it.
pub(super) fn kind_words(kind: Kind) -> String {
    format!("{} service", kind.key())
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::reading::Stroke;
    use almanac_core::units::Unit;
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        almanac_core::moment::parse_iso_date(text).unwrap()
    }

    fn reading(id: i64, at: &str, phase: Phase, unit: Unit, typed: &str) -> Row<ReadingId, Reading> {
        let strokes = vec![Stroke::parse(typed, unit).unwrap()];
        let value = Reading::of(SpindleId::from_row(1), Moment::day(day(at)), phase, unit, strokes);
        Row { id: ReadingId::from_row(id), value }
    }

    fn shop(readings: Vec<Row<ReadingId, Reading>>) -> Shop {
        let service = Service::of(SpindleId::from_row(1), Moment::day(day("2025-04-12")), Kind::Minor);
        Shop {
            readings: Arc::new(readings),
            services: Arc::new(vec![Row { id: ServiceId::from_row(1), value: service }]),
            ..Shop::default()
        }
        .sorted()
    }

    #[test]
    fn a_day_of_service_reads_backwards_and_readings_of_one_occasion_share_a_row() {
        let shop = shop(vec![
            reading(1, "2025-04-12", Phase::AsFound, Unit::Kilonewton, "14.6"),
            reading(2, "2025-04-12", Phase::AsFound, Unit::Millimetre, "10.53"),
            reading(3, "2025-04-12", Phase::AsLeft, Unit::Kilonewton, "17.4"),
            reading(4, "2025-07-02", Phase::Routine, Unit::Kilonewton, "16.6"),
        ]);
        let records = collect(&shop, SpindleId::from_row(1), day("2026-03-02"));
        let keys: Vec<RecordKey> = records.iter().map(|record| record.key).collect();
        let of = |id| RecordKey::Reading(ReadingId::from_row(id));
        assert_eq!(keys, [of(4), of(3), RecordKey::Service(ServiceId::from_row(1)), of(1)]);
        assert!(records[3].force().is_some() && records[3].setting().is_some());
        assert!(records[3].holds(ReadingId::from_row(2)));
    }

    #[test]
    fn a_replaced_record_stays_and_says_since_when() {
        let mut wrong = reading(1, "2026-02-18", Phase::Routine, Unit::Kilonewton, "13.6");
        wrong.value.replaced_on = Some(day("2026-02-20"));
        let mut right = reading(2, "2026-02-18", Phase::Routine, Unit::Kilonewton, "14.7");
        right.value.recorded_on = Some(day("2026-02-20"));
        let mut gone = reading(3, "2026-02-01", Phase::Routine, Unit::Kilonewton, "9.9");
        gone.value.replaced_on = Some(day("2026-02-03"));
        let shop = shop(vec![wrong, right, gone]);
        let records = |on: &str| collect(&shop, SpindleId::from_row(1), day(on));
        let standings: Vec<String> =
            records("2026-03-02").iter().map(|record| record.standing.words(day("2026-03-02"))).collect();
        assert_eq!(standings, ["", "superseded 20 Feb", "withdrawn 3 Feb", ""]);
        // the day before nobody knew of the correction
        assert_eq!(records("2026-02-19").iter().filter(|record| record.standing == Standing::Counts).count(), 2);
    }
}
