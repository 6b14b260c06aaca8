//! Exposure: how many run hours and clamp cycles each spindle has made by which day.
//!
//! A spindle's own hours are the sum over its mountings: what the meter of the position went on
//! while it sat there, or what its own meter went on where the position has none. Between two
//! figures exposure runs with the working days, after the last with the usage per working day.
//! Not mounted, a spindle makes none.

mod clean;
mod counter;
mod curve;
mod meters;
mod records;
mod spindle;
mod stretches;
mod track;
pub(crate) mod usage;
mod usual;

use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::shop::Shop;
use chrono::{Days, NaiveDate};
pub use curve::{Curve, Knot};
use meters::Meters;
use records::Records;
use spindle::Builder;
use std::collections::BTreeMap;
use track::Knots;
pub use track::{Pace, Track};
pub(crate) use usage::CYCLES_PER_HOUR;
pub use usage::{Usage, UsageBasis};
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
    /// What the meter that tells its usage counted, made whole over replacements, in run hours, with
    /// the working days of the meter; empty without one. Days are counted from the first day of the
    /// calendar.
    pub meter_hours: Curve,
    /// The same in clamp cycles.
    pub meter_cycles: Curve,
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
        let (records, earliest) = Records::of_all(shop);
        let calendar = calendar_of(shop, earliest, as_of, horizon_days);
        let meters = Meters::of(&records, as_of, &calendar);
        let usual = UsualUsage::of(shop, &meters, calendar.number_of(as_of), earliest);
        let builder = Builder { as_of, calendar: &calendar, meters: &meters, usual: &usual };
        let mut knots = Knots::new(&calendar);
        let rows = meters.sitters.iter().zip(&records.spindles);
        let spindles = shop.spindles.iter().zip(rows).map(|((id, spindle), (sitter, rows))| {
            (*id, builder.spindle(sitter, rows, &spindle.interface, &mut knots))
        });
        let spindles = spindles.collect();
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
        let records = Records::of_one(shop, spindle);
        // what is new since that book is a record of this spindle or of a meter that counts for it
        let earliest = match usual.earliest {
            Some(earliest) => records.earliest_of(spindle, shop).into_iter().chain([earliest]).min(),
            None => Records::of_all(shop).1,
        };
        let calendar = calendar_of(shop, earliest, as_of, horizon_days);
        let meters = Meters::of(&records, as_of, &calendar);
        let builder = Builder { as_of, calendar: &calendar, meters: &meters, usual };
        let mut knots = Knots::new(&calendar);
        let rows = meters.sitters.iter().zip(&records.spindles);
        let one = rows.filter(|(sitter, _)| sitter.spindle == spindle).filter_map(|(sitter, rows)| {
            let known = shop.spindles.get(&spindle)?;
            Some((spindle, builder.spindle(sitter, rows, &known.interface, &mut knots)))
        });
        let spindles = one.collect();
        Self { as_of, calendar, usual: usual.clone(), spindles }
    }
}

fn calendar_of(shop: &Shop, earliest: Option<NaiveDate>, as_of: NaiveDate, horizon_days: u32) -> WorkingCalendar {
    let oldest = as_of.checked_sub_days(Days::new(OLDEST_YEARS * 366)).unwrap_or(as_of);
    let first = earliest.unwrap_or(as_of).clamp(oldest, as_of);
    // at least two years ahead for the fan, and a little more so that its end can be asked
    let ahead = u64::from(horizon_days.clamp(800, 20_000)) + 31;
    let last = as_of.checked_add_days(Days::new(ahead)).unwrap_or(as_of);
    shop.working_calendar(first, last)
}
