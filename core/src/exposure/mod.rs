//! Exposure: how many run hours and clamp cycles each spindle has made by which day.
//!
//! A spindle's own hours are the sum over its mountings: what the meter of the position went on
//! while it sat there, or what its own meter went on where the position has none. Between two
//! figures exposure runs with the working days, after the last with the usage per working day.
//! Not mounted, a spindle makes none.

mod counter;
mod meters;
mod spindle;
mod track;
pub(crate) mod usage;
mod usual;

use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::shop::Shop;
use chrono::{Days, NaiveDate};
use counter::Counter;
use meters::meters_of;
use spindle::Builder;
use std::collections::BTreeMap;
pub use track::Track;
pub use usage::{Usage, UsageBasis};
use usual::Usages;
pub use usual::UsualUsage;

/// The calendar reaches back at most so far.
const OLDEST_YEARS: u64 = 150;

/// The exposure of one spindle.
#[derive(Debug, Clone, PartialEq)]
pub struct SpindleExposure {
    /// Own run hours; `None` without any meter of them.
    pub hours: Option<Track>,
    /// Own clamp cycles; `None` without any meter of them.
    pub cycles: Option<Track>,
    /// What the meter that tells its usage counted, in run hours; empty without one.
    pub meter_hours: MeterCurve,
    /// The same in clamp cycles.
    pub meter_cycles: MeterCurve,
    /// What wear is reckoned by, in run hours: the hours, else the cycles in hours, else working
    /// days in usual hours.
    pub clock: Track,
    /// Where the clock comes from.
    pub clock_source: ClockSource,
    /// Where it sits on the as-of day.
    pub position: Option<Position>,
    /// First day in the history: mounting, meter, reading or service.
    pub first_record: Option<NaiveDate>,
    /// What weakens it, one sentence each.
    pub warnings: Vec<String>,
}

/// What one counter of a meter showed, made whole over replacements.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MeterCurve {
    /// Days on which it was read, ascending.
    pub days: Vec<NaiveDate>,
    /// Working days that it ran through by then.
    pub work: Vec<f64>,
    /// What it had counted by then, in run hours or clamp cycles.
    pub sums: Vec<f64>,
}

impl MeterCurve {
    fn of(counter: &Counter) -> Self {
        Self { days: counter.days.clone(), work: counter.work.clone(), sums: counter.sums.clone() }
    }
}

/// What the wear clock of a spindle is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockSource {
    /// Run hours.
    Hours,
    /// Clamp cycles, converted.
    Cycles,
    /// Working days, converted.
    WorkingDays,
}

/// The exposure of every spindle of a shop, as known on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct ExposureBook {
    /// The as-of day.
    pub as_of: NaiveDate,
    /// The working calendar over all records and the horizon.
    pub calendar: WorkingCalendar,
    /// What the shop's spindles usually do, for those of which nothing is known.
    pub usual: UsualUsage,
    /// By spindle.
    pub spindles: BTreeMap<SpindleId, SpindleExposure>,
}

impl ExposureBook {
    /// The exposure of all spindles of a shop as known on that day ([`Shop::known_on`]), ready to be
    /// asked up to `horizon_days` ahead.
    #[must_use]
    pub fn of(shop: &Shop, as_of: NaiveDate, horizon_days: u32) -> Self {
        let earliest = earliest_of(shop);
        let calendar = calendar_of(shop, earliest, as_of, horizon_days);
        let meters = meters_of(shop, as_of, &calendar, None);
        let usages = Usages::of(shop, shop.spindles.keys().copied(), as_of, &meters);
        let usual = usages.usual(shop, earliest);
        let spindles = shop
            .spindles
            .iter()
            .map(|(id, spindle)| {
                let builder =
                    Builder { shop, as_of, calendar: &calendar, meters: &meters, usages: &usages, usual: &usual };
                (*id, builder.spindle(*id, &spindle.interface))
            })
            .collect();
        Self { as_of, calendar, usual, spindles }
    }

    /// The exposure of one spindle alone, as the whole book would hold it; `usual` comes from an
    /// earlier book of the shop. [`Shop::known_of`] holds all that it asks for.
    #[must_use]
    pub fn of_spindle(
        shop: &Shop,
        as_of: NaiveDate,
        horizon_days: u32,
        spindle: SpindleId,
        usual: &UsualUsage,
    ) -> Self {
        let own = || {
            let positions = shop.mountings_of(spindle).iter().map(|row| MeterOwner::Position(row.position));
            let meters = positions.chain([MeterOwner::Spindle(spindle)]).flat_map(|owner| shop.meters_of(owner));
            let records = [
                meters.map(|row| row.at.date).min(),
                shop.readings_of(spindle).iter().map(|row| row.at.date).min(),
                shop.services_of(spindle).iter().map(|row| row.at.date).min(),
                shop.mountings_of(spindle).iter().map(|row| row.mounted_on).min(),
                shop.spindles.get(&spindle).and_then(|spindle| spindle.installed_on),
            ];
            records.into_iter().flatten().min()
        };
        // what is new since that book is a record of this spindle or of a meter that counts for it
        let earliest = match usual.earliest {
            Some(earliest) => own().into_iter().chain([earliest]).min(),
            None => earliest_of(shop),
        };
        let calendar = calendar_of(shop, earliest, as_of, horizon_days);
        let meters = meters_of(shop, as_of, &calendar, Some(spindle));
        let usages = Usages::of(shop, std::iter::once(spindle), as_of, &meters);
        let builder = Builder { shop, as_of, calendar: &calendar, meters: &meters, usages: &usages, usual };
        let one = shop.spindles.get(&spindle).map(|known| (spindle, builder.spindle(spindle, &known.interface)));
        let spindles = one.into_iter().collect();
        Self { as_of, calendar, usual: usual.clone(), spindles }
    }
}

/// The first day of all that is on record.
fn earliest_of(shop: &Shop) -> Option<NaiveDate> {
    let earliest = [
        shop.mountings.iter().map(|row| row.mounted_on).min(),
        shop.meters.iter().map(|row| row.at.date).min(),
        shop.readings.iter().map(|row| row.at.date).min(),
        shop.services.iter().map(|row| row.at.date).min(),
        shop.spindles.values().filter_map(|spindle| spindle.installed_on).min(),
    ];
    earliest.into_iter().flatten().min()
}

fn calendar_of(shop: &Shop, earliest: Option<NaiveDate>, as_of: NaiveDate, horizon_days: u32) -> WorkingCalendar {
    let oldest = as_of.checked_sub_days(Days::new(OLDEST_YEARS * 366)).unwrap_or(as_of);
    let first = earliest.unwrap_or(as_of).clamp(oldest, as_of);
    // at least two years ahead for the fan, and a little more so that its end can be asked
    let ahead = u64::from(horizon_days.clamp(800, 20_000)) + 31;
    let last = as_of.checked_add_days(Days::new(ahead)).unwrap_or(as_of);
    shop.working_calendar(first, last)
}
