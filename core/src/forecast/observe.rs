//! From the records of a shop to what the model takes.

use super::history::{InOrder, rows_in_order};
use super::model::filter::{Occasion, ServiceKind};
use super::model::meter::Curve;
use super::model::observed::{Happening, Observed, PerClock};
use super::model::working_days::WorkingDays;
use crate::exposure::{ExposureBook, Track};
use crate::ids::{ReadingId, Row, ServiceId, SpindleId};
use crate::reading::{Phase, Reading};
use crate::service::{Kind, Service};
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{Kilonewtons, Millimetres, Quantity};
use chrono::{Datelike as _, Days, NaiveDate};

/// Days as whole numbers, counted from the first day of the calendar of a shop.
#[derive(Debug, Clone)]
pub(super) struct DayNumbers {
    first: NaiveDate,
    /// The first day as chrono numbers it.
    origin: i32,
    /// Working days over the calendar.
    pub(super) working: WorkingDays,
}

impl DayNumbers {
    pub(super) fn of(book: &ExposureBook) -> Self {
        let first = book.calendar.first();
        Self { first, origin: first.num_days_from_ce(), working: WorkingDays::of_sums(book.calendar.sums()) }
    }

    pub(super) fn of_day(&self, day: NaiveDate) -> i64 {
        i64::from(day.num_days_from_ce() - self.origin)
    }

    /// The day in which a moment lies.
    pub(super) fn day_of(&self, moment: f64) -> Option<NaiveDate> {
        let whole = moment.floor();
        (whole >= 0.0).then(|| self.first.checked_add_days(Days::new(whole as u64))).flatten()
    }
}

/// Figures beyond this, in percent of nominal, say nothing more; it keeps absurd ones finite.
const MOST_PERCENT: f64 = 1000.0;
/// The same for deviations from the setting dimension, in tolerances.
const MOST_TOLERANCES: f64 = 1000.0;

/// Steps of a figure, in percent of nominal or in tolerances: far finer than any gauge tells, and coarser
/// than what the conversion of a unit leaves behind. A search that begins from other last digits may end
/// elsewhere; a reading is the same whatever unit it was typed in.
const GRID: f64 = 1e-4;

fn on_grid(figure: f64) -> f64 {
    (figure / GRID).round() * GRID
}

/// One spindle as known on the as-of day ([`Shop::known_on`]).
///
/// A clock without a meter of its own is filled from the other one at `cycles_per_hour`.
pub(super) fn observe(
    shop: &Shop,
    book: &ExposureBook,
    days: &DayNumbers,
    id: SpindleId,
    cycles_per_hour: f64,
) -> Option<Observed> {
    Some(observe_with_ids(shop, book, days, id, cycles_per_hour)?.0)
}

/// The same with the readings behind it.
pub(super) fn observe_with_ids(
    shop: &Shop,
    book: &ExposureBook,
    days: &DayNumbers,
    id: SpindleId,
    cycles_per_hour: f64,
) -> Option<(Observed, ReadingIds)> {
    let spindle = shop.spindles.get(&id)?;
    let exposure = book.spindles.get(&id)?;
    let scale = Scale { nominal: spindle.nominal_force, setting: shop.setting_of(spindle) };
    let first = spindle.installed_on.into_iter().chain(exposure.first_record).min().unwrap_or(book.as_of);
    let (services, readings) = (shop.services_of(id), shop.readings_of(id));
    let known_start = is_known_start(spindle, services, readings);
    let mut happenings: Vec<(i64, Happening)> = Vec::with_capacity(services.len() + readings.len());
    let mut ids =
        ReadingIds { forces: Vec::with_capacity(readings.len()), settings: Vec::with_capacity(readings.len()) };
    // services among the readings, so that next to nothing is left to sort
    let mut services =
        services.iter().map(|row| (days.of_day(row.at.date), Happening::Service(service_kind(row.kind)))).peekable();
    for InOrder { id: reading_id, reading, mean } in rows_in_order(readings) {
        let Some(what) = happening(reading, mean, scale) else { continue };
        let day = days.of_day(reading.at.date);
        while let Some(service) = services.next_if(|(on, service)| (*on, service.order()) < (day, what.order())) {
            happenings.push(service);
        }
        match &what {
            // a reading without a figure above zero makes no event
            Happening::Force(_, strokes) if strokes.iter().any(|stroke| *stroke > 0.0) => ids.forces.push(reading_id),
            Happening::Setting(..) => ids.settings.push(reading_id),
            _ => {}
        }
        happenings.push((day, what));
    }
    happenings.extend(services);
    let told = |track: Option<&Track>| track.map(|track| track.told().clone()).unwrap_or_default();
    let mut own = PerClock { hours: told(exposure.hours.as_ref()), cycles: told(exposure.cycles.as_ref()) };
    let mut meter = PerClock { hours: exposure.meter_hours.clone(), cycles: exposure.meter_cycles.clone() };
    let read = |track: Option<&Track>| Some(days.of_day(track?.read_until()?) as f64);
    let mut read_until = PerClock { hours: read(exposure.hours.as_ref()), cycles: read(exposure.cycles.as_ref()) };
    for pair in [&mut own, &mut meter] {
        fill(pair, cycles_per_hour);
    }
    read_until.hours = read_until.hours.or(read_until.cycles);
    read_until.cycles = read_until.cycles.or(read_until.hours);
    let observed = Observed {
        start: days.of_day(first.min(book.as_of)) as f64,
        known_start,
        happenings,
        exposure: own,
        meter,
        read_until,
        runs: exposure.position.is_some(),
    };
    Some((observed.sorted(), ids))
}

/// New when its records begin: installed on a known day, and nothing stands before it.
fn is_known_start(
    spindle: &Spindle,
    services: &[Row<ServiceId, Service>],
    readings: &[Row<ReadingId, Reading>],
) -> bool {
    spindle.installed_on.is_some_and(|installed| {
        readings.first().is_none_or(|row| installed <= row.at.date)
            && services.first().is_none_or(|row| installed <= row.at.date)
    })
}

/// Where one clock has no meter, the other one stands in.
fn fill(pair: &mut PerClock<Curve>, cycles_per_hour: f64) {
    if pair.hours.is_empty() {
        pair.hours = pair.cycles.scaled(1.0 / cycles_per_hour);
    } else if pair.cycles.is_empty() {
        pair.cycles = pair.hours.scaled(cycles_per_hour);
    }
}

fn service_kind(kind: Kind) -> ServiceKind {
    match kind {
        Kind::Minor => ServiceKind::Minor,
        Kind::Major => ServiceKind::Major,
    }
}

/// The readings behind the events of the model, in the order of the events.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct ReadingIds {
    /// Of force.
    pub(super) forces: Vec<ReadingId>,
    /// Of the setting dimension.
    pub(super) settings: Vec<ReadingId>,
}

/// What readings of a spindle are measured by.
#[derive(Debug, Clone, Copy)]
struct Scale {
    nominal: Kilonewtons,
    /// The setting dimension and its tolerance, where they are in force.
    setting: Option<(Millimetres, Millimetres)>,
}

fn happening(reading: &Reading, mean: f64, scale: Scale) -> Option<Happening> {
    let occasion = match reading.phase {
        Phase::Routine => Occasion::Routine,
        Phase::AsFound => Occasion::AsFound,
        Phase::AsLeft => Occasion::AsLeft,
    };
    match reading.quantity() {
        Quantity::ClampForce => {
            let nominal = scale.nominal.get();
            let percent = reading
                .strokes
                .iter()
                .map(|stroke| on_grid((100.0 * stroke.base / nominal).min(MOST_PERCENT)))
                .filter(|percent| percent.is_finite())
                .collect();
            Some(Happening::Force(occasion, percent))
        }
        Quantity::SettingDimension => {
            let (aim, tolerance) = scale.setting?;
            let y = (mean - aim.get()) / tolerance.get();
            y.is_finite().then(|| Happening::Setting(occasion, on_grid(y.clamp(-MOST_TOLERANCES, MOST_TOLERANCES))))
        }
    }
}
