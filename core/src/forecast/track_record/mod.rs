//! The track record: the forecast scored on the shop's own past.
//!
//! **Readings.** Every as-found or routine reading of clamp force, not doubted, at least
//! [`LEAST_DAYS_BETWEEN`] days after the force reading before it of the same spindle, is forecast
//! from what was known the day before: records dated or entered later do not count, corrections
//! made later have not been made yet. What a service did in between is thus known if it was on
//! record by then, and no part of the forecast. The forecast is the normal law of the reading: force
//! by the model on that day, the unread exposure included, with the scatter of the gauge (occasion
//! and strokes). Steps that the model allows for are no part of the band.
//!
//! **Crossings.** In every stretch between two services the first reading, not doubted, under the
//! service limit after one that was not. The day of the crossing is taken between the two readings
//! where the limit lies on the straight line over exposure (over days where there was none). It was
//! caught if the day by which the accepted risk was used up, as forecast [`LEAD_DAYS`] days before
//! it, was no later. That day is the service-by date as far as the service limit gives it: fixed
//! intervals and the setting dimension would catch a crossing of the force without forecasting it.
//! Where the stretch had not begun by then nothing could be forecast, and the crossing is only
//! counted as too soon. Most spindles are serviced before they cross, so the crossings that happened
//! are the early ones, and fewer than one less the accepted risk may be caught by an honest forecast.
//!
//! **Fits.** One per quarter, made on its first day from what was known then; of fits that were kept,
//! one made since then counts instead, but never one later than the day. Figures borrowed from other
//! spindles (usage without a meter, the slope of the naive line where the spindle's own readings tell
//! none) also stand as of that first day.

mod format;
mod origin;
mod quarters;
mod score;
mod targets;

use super::fits::ShopFits;
use super::{Cancelled, ForecastConfig, Progress};
use crate::ids::{ReadingId, SpindleId};
use crate::reading::Phase;
use crate::shop::Shop;
use crate::units::Percent;
use chrono::{Days, NaiveDate};
pub use format::{nothing_to_score, sentence, to_csv, to_json, to_table};
use origin::Origin;
use quarters::Quarters;
pub use score::{BANDS, Band, Summary};
use std::sync::Arc;
use targets::{CrossingTarget, ReadingTarget, Targets};

/// A reading is scored if the one before it is at least so many days older.
pub const LEAST_DAYS_BETWEEN: i64 = 30;
/// How long before a crossing the service-by date is taken.
pub const LEAD_DAYS: u64 = 60;
/// From fewer no percentage is made.
pub const LEAST_FOR_PERCENT: usize = 20;

/// A reading beside what was forecast for it the day before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoredReading {
    /// Whose.
    pub spindle: SpindleId,
    /// Which.
    pub reading: ReadingId,
    /// Its day.
    pub day: NaiveDate,
    /// The day from which it was forecast.
    pub from: NaiveDate,
    /// Routine or as found.
    pub phase: Phase,
    /// What was read: mean of the strokes as the model takes them, in percent of nominal.
    pub read: Percent,
    /// What was forecast, in percent of nominal.
    pub forecast: Percent,
    /// Standard deviation of the reading about it, gauge included, in percent of nominal.
    pub sd: Percent,
    /// What the naive line gave; `None` where it had no reading to start from.
    pub naive: Option<Percent>,
}

/// A past crossing of the service limit beside what was forecast for it [`LEAD_DAYS`] days before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScoredCrossing {
    /// Whose.
    pub spindle: SpindleId,
    /// The last reading that was not under the limit.
    pub after: NaiveDate,
    /// The first one under it.
    pub by: NaiveDate,
    /// The day of the crossing, taken between the two.
    pub day: NaiveDate,
    /// The day from which it was forecast.
    pub from: NaiveDate,
    /// The day by which the accepted risk of having crossed was used up; `None`: beyond the horizon.
    pub service_by: Option<NaiveDate>,
    /// The day on which the naive line crossed; `None`: never, or nothing to draw it from.
    pub naive: Option<NaiveDate>,
}

impl ScoredCrossing {
    /// The service-by date was no later than the crossing.
    #[must_use]
    pub fn is_caught(&self) -> bool {
        self.service_by.is_some_and(|day| day <= self.day)
    }

    /// The naive line crossed no later.
    #[must_use]
    pub fn is_caught_by_naive(&self) -> bool {
        self.naive.is_some_and(|day| day <= self.day)
    }
}

/// The forecast scored on the shop's own past.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackRecord {
    /// Nothing later than this day was scored.
    pub as_of: NaiveDate,
    /// By day, then spindle.
    pub readings: Vec<ScoredReading>,
    /// By day, then spindle.
    pub crossings: Vec<ScoredCrossing>,
    /// Readings that would have been scored but are doubted.
    pub doubted: usize,
    /// Crossings less than [`LEAD_DAYS`] days after the service or the first record before them.
    pub too_soon: usize,
}

/// One spindle with what there is to forecast of it.
struct Job<'a> {
    shop: &'a Shop,
    spindle: SpindleId,
    targets: Targets,
}

/// Scores the forecast on the past of a shop up to a day. The shop must hold everything that was
/// ever recorded, replaced records too (not only [`Shop::known_on`] a day); `kept` are fits that were
/// kept over time, in any order.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn track_record(
    shop: &Shop,
    as_of: NaiveDate,
    config: &ForecastConfig,
    kept: &[Arc<ShopFits>],
    progress: &dyn Progress,
) -> Result<TrackRecord, Cancelled> {
    let config = within_reason(config);
    let count = shop.spindles.len();
    let mut jobs = Vec::new();
    let usual = quarters::usual_usage(&shop.known_on(as_of), as_of);
    for (done, id) in shop.spindles.keys().enumerate() {
        if !progress.step(done, 3 * count) {
            return Err(Cancelled);
        }
        let targets = Targets::of(&shop.known_of(*id, as_of), *id, as_of, &usual);
        jobs.push(Job { shop, spindle: *id, targets });
    }
    let days = jobs.iter().flat_map(|job| job.targets.origins());
    let quarters = Quarters::of(shop, days, kept, &Share { progress, from: count, to: 2 * count, of: 3 * count })?;
    let mut record = TrackRecord { as_of, readings: Vec::new(), crossings: Vec::new(), doubted: 0, too_soon: 0 };
    for (done, job) in jobs.iter().enumerate() {
        if !progress.step(2 * count + done, 3 * count) {
            return Err(Cancelled);
        }
        record.doubted += job.targets.doubted;
        record.too_soon += job.targets.too_soon;
        let readings = job.targets.readings.iter();
        record.readings.extend(readings.filter_map(|target| score_reading(job, target, &quarters)));
        let crossings = job.targets.crossings.iter();
        record.crossings.extend(crossings.filter_map(|target| score_crossing(job, target, &quarters, &config)));
    }
    if !progress.step(3 * count, 3 * count) {
        return Err(Cancelled);
    }
    record.readings.sort_by_key(|scored| (scored.day, scored.spindle, scored.reading));
    record.crossings.sort_by_key(|scored| (scored.day, scored.spindle));
    Ok(record)
}

fn score_reading(job: &Job<'_>, target: &ReadingTarget, quarters: &Quarters) -> Option<ScoredReading> {
    let origin = Origin::of(job.shop, job.spindle, target.from, quarters.on(target.from)?, 1);
    let forecast = origin.reading(target.day, &target.strokes)?;
    Some(ScoredReading {
        spindle: job.spindle,
        reading: target.id,
        day: target.day,
        from: target.from,
        phase: target.phase,
        read: Percent::new(forecast.read)?,
        forecast: Percent::new(forecast.mean)?,
        sd: Percent::new(forecast.sd)?,
        naive: origin.naive(target.day),
    })
}

fn score_crossing(
    job: &Job<'_>,
    target: &CrossingTarget,
    quarters: &Quarters,
    config: &ForecastConfig,
) -> Option<ScoredCrossing> {
    let origin = Origin::of(job.shop, job.spindle, target.from, quarters.on(target.from)?, config.horizon_days);
    Some(ScoredCrossing {
        spindle: job.spindle,
        after: target.after,
        by: target.by,
        day: target.day,
        from: target.from,
        service_by: origin.service_by(config),
        naive: origin.naive_crossing(),
    })
}

/// A part of the work, told as such.
struct Share<'a> {
    progress: &'a dyn Progress,
    from: usize,
    to: usize,
    of: usize,
}

impl Progress for Share<'_> {
    fn step(&self, done: usize, total: usize) -> bool {
        let along = (self.to - self.from) * done.min(total) / total.max(1);
        self.progress.step(self.from + along, self.of)
    }
}

/// The same request within what can be computed.
fn within_reason(config: &ForecastConfig) -> ForecastConfig {
    let risk = if config.accepted_risk.is_finite() { config.accepted_risk.clamp(1e-4, 0.9999) } else { 0.1 };
    ForecastConfig { accepted_risk: risk, ..*config }
}

/// So many days earlier; the first day that there is, if there are fewer.
fn days_before(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_sub_days(Days::new(days)).unwrap_or(NaiveDate::MIN)
}
