//! The history of one spindle on its wear clock, cut into the stretches between services.

use crate::exposure::{ExposureBook, SpindleExposure};
use crate::ids::{ReadingId, Row, SpindleId};
use crate::limits::Limits;
use crate::reading::{Phase, Reading};
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::Quantity;
use chrono::NaiveDate;

/// Figures beyond this, in percent of nominal, say nothing more; it keeps absurd ones finite.
const MOST_PERCENT: f64 = 1000.0;
/// The same for a deviation from the setting dimension, in tolerances.
const MOST_TOLERANCES: f64 = 1000.0;

/// A reading on the wear clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) id: ReadingId,
    pub(super) day: NaiveDate,
    pub(super) phase: Phase,
    /// Wear clock, 1,000 run hours.
    pub(super) k: f64,
    /// Percent of nominal, or deviation in tolerances.
    pub(super) y: f64,
    /// A person or a check doubted it.
    pub(super) is_doubted: bool,
}

/// A stretch between services.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub(super) from: NaiveDate,
    pub(super) to: Option<NaiveDate>,
    /// What kind of service began it; `None`: installation or first record.
    pub(super) began_with: Option<Kind>,
    pub(super) force: Vec<Point>,
    pub(super) setting: Vec<Point>,
}

/// The history of one spindle, as known on the as-of day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct History {
    /// Oldest first; the last one still runs. Never empty.
    pub(super) stretches: Vec<Stretch>,
    /// Logged services by day, oldest first; two of one day are one, major if either is.
    pub(super) services: Vec<(NaiveDate, Kind)>,
}

impl History {
    pub(super) fn of(
        shop: &Shop,
        id: SpindleId,
        spindle: &Spindle,
        limits: &Limits,
        exposure: &SpindleExposure,
        book: &ExposureBook,
    ) -> Self {
        let services = services_by_day(shop, id);
        let mut stretches = cut(spindle, exposure, book, &services);
        for InOrder { id: reading_id, reading, mean } in in_order(shop, id) {
            let Some(y) = share_of(limits, reading.quantity(), mean) else { continue };
            let day = reading.at.date;
            let point = Point {
                id: reading_id,
                day,
                phase: reading.phase,
                k: exposure.clock.at(&book.calendar, day) / 1000.0,
                y,
                is_doubted: reading.doubt.is_some(),
            };
            let Some(stretch) = stretch_of(&mut stretches, &point) else { continue };
            match reading.quantity() {
                Quantity::ClampForce => stretch.force.push(point),
                Quantity::SettingDimension => stretch.setting.push(point),
            }
        }
        Self { stretches, services }
    }

    /// The stretch that still runs.
    pub(super) fn current(&self) -> &Stretch {
        // `cut` always makes one
        self.stretches.last().unwrap_or(&EMPTY)
    }

    /// Day of the first force reading.
    pub(super) fn first_force(&self) -> Option<NaiveDate> {
        self.stretches.iter().flat_map(|stretch| &stretch.force).map(|point| point.day).min()
    }

    /// How often the setting dimension was read.
    pub(super) fn settings(&self) -> usize {
        self.stretches.iter().map(|stretch| stretch.setting.len()).sum()
    }

    /// Day of the last logged service.
    pub(super) fn last_service(&self) -> Option<NaiveDate> {
        self.services.last().map(|(day, _)| *day)
    }
}

static EMPTY: Stretch =
    Stretch { from: NaiveDate::MIN, to: None, began_with: None, force: Vec::new(), setting: Vec::new() };

/// A reading in its place, with the mean of its strokes.
#[derive(Debug, Clone, Copy)]
pub(super) struct InOrder<'s> {
    pub(super) id: ReadingId,
    pub(super) reading: &'s Reading,
    /// [`Reading::mean_base`], worked out once.
    pub(super) mean: f64,
}

/// Readings oldest first. Same day: routine, as found, as left; equal ones by time, then the larger
/// first.
pub(super) fn in_order(shop: &Shop, id: SpindleId) -> Vec<InOrder<'_>> {
    rows_in_order(shop.readings_of(id))
}

/// The same of the rows of a spindle, oldest first as the shop has them: only those of one day may
/// have to change places.
pub(super) fn rows_in_order(rows: &[Row<ReadingId, Reading>]) -> Vec<InOrder<'_>> {
    let mut readings: Vec<InOrder<'_>> =
        rows.iter().map(|row| InOrder { id: row.id, reading: &row.value, mean: row.mean_base() }).collect();
    for same_day in readings.chunk_by_mut(|a, b| a.reading.at.date == b.reading.at.date) {
        if same_day.len() > 1 {
            same_day.sort_by(|a, b| {
                let place = |reading: &Reading| (reading.phase, reading.at.time);
                place(a.reading).cmp(&place(b.reading)).then_with(|| b.mean.total_cmp(&a.mean))
            });
        }
    }
    readings
}

fn services_by_day(shop: &Shop, id: SpindleId) -> Vec<(NaiveDate, Kind)> {
    let mut services: Vec<(NaiveDate, Kind)> = shop.services_of(id).iter().map(|row| (row.at.date, row.kind)).collect();
    services.sort_unstable();
    // major sorts last, so of one day the later entry counts
    services.reverse();
    services.dedup_by_key(|(day, _)| *day);
    services.reverse();
    services
}

/// The stretches by their first days: installation or first record, then logged services.
fn cut(
    spindle: &Spindle,
    exposure: &SpindleExposure,
    book: &ExposureBook,
    services: &[(NaiveDate, Kind)],
) -> Vec<Stretch> {
    let first =
        spindle.installed_on.into_iter().chain(exposure.first_record).min().unwrap_or(book.as_of).min(book.as_of);
    let mut starts: Vec<(NaiveDate, Option<Kind>)> = services.iter().map(|(day, kind)| (*day, Some(*kind))).collect();
    if starts.first().is_none_or(|(day, _)| first < *day) {
        starts.insert(0, (first, None));
    }
    let ends: Vec<Option<NaiveDate>> =
        starts.iter().skip(1).map(|(day, _)| Some(*day)).chain(std::iter::once(None)).collect();
    starts
        .into_iter()
        .zip(ends)
        .map(|((from, began_with), to)| Stretch { from, to, began_with, ..EMPTY.clone() })
        .collect()
}

/// The stretch of a reading: on the day of a start, only what was read as left belongs to the new one.
fn stretch_of<'s>(stretches: &'s mut [Stretch], point: &Point) -> Option<&'s mut Stretch> {
    let began = stretches.partition_point(|stretch| {
        let takes_all = stretch.began_with.is_none() || point.phase == Phase::AsLeft;
        stretch.from < point.day || (stretch.from == point.day && takes_all)
    });
    stretches.get_mut(began.saturating_sub(1))
}

/// Percent of nominal, or deviation from the setting dimension in tolerances; `None` where no
/// dimension is in force or it is not a number.
fn share_of(limits: &Limits, quantity: Quantity, base: f64) -> Option<f64> {
    let (share, most) = match quantity {
        Quantity::ClampForce => (base / limits.nominal_force.value.get() * 100.0, MOST_PERCENT),
        Quantity::SettingDimension => {
            let (aim, tolerance) = limits.setting()?;
            ((base - aim.get()) / tolerance.get(), MOST_TOLERANCES)
        }
    };
    share.is_finite().then(|| share.clamp(-most, most))
}
