//! What the model took each reading for, with its weights, and the words for it.

use super::history::{InOrder, in_order};
use super::model::filter::{STEP_MEAN, STEP_SD, Verdict as ModelVerdict, Weighed};
use super::model::stroke_list::Strokes;
use super::model::strokes::summarise;
use super::{StepDrop, UnloggedService};
use crate::ids::{ReadingId, SpindleId};
use crate::limits::Limits;
use crate::moment::Moment;
use crate::reading::{Phase, Reading};
use crate::shop::Shop;
use crate::units::{Percent, Quantity};
use crate::words;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// What a reading was taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// An ordinary reading.
    Ok,
    /// It fits nothing.
    Doubtful,
    /// The force dropped at once before it.
    StepDrop,
    /// Somebody serviced the spindle before it and did not say so.
    UnloggedService,
}

impl Verdict {
    /// The words of the screens.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Doubtful => "doubtful",
            Self::StepDrop => "step drop",
            Self::UnloggedService => "service not logged?",
        }
    }
}

/// How sure each verdict is, as shares that sum to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VerdictWeights {
    /// An ordinary reading.
    pub ok: f64,
    /// It fits nothing.
    pub doubtful: f64,
    /// A step drop before it.
    pub step_drop: f64,
    /// A service before it that nobody logged.
    pub unlogged_service: f64,
}

/// A force reading as the model weighed it. Forces are in percent of nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeighedReading {
    /// The reading.
    pub reading: ReadingId,
    /// Its day.
    pub day: NaiveDate,
    /// What was read: mean of the strokes that count.
    pub read: Percent,
    /// What was expected before it was read.
    pub expected: Percent,
    /// How far off it was, in standard deviations of what was expected (a reading's own scatter
    /// included).
    pub z: f64,
    /// How sure each verdict is.
    pub weights: VerdictWeights,
    /// The heaviest.
    pub verdict: Verdict,
}

impl WeighedReading {
    pub(super) fn of(reading: ReadingId, day: NaiveDate, weighed: &Weighed) -> Self {
        let [ok, doubtful, step_drop, unlogged_service] = weighed.weights;
        let percent = |value: f64| Percent::new(value).unwrap_or_default();
        Self {
            reading,
            day,
            read: percent(weighed.y),
            expected: percent(weighed.expected),
            z: if weighed.z.is_finite() { weighed.z } else { 0.0 },
            weights: VerdictWeights { ok, doubtful, step_drop, unlogged_service },
            verdict: match weighed.verdict {
                ModelVerdict::Ok => Verdict::Ok,
                ModelVerdict::Doubtful => Verdict::Doubtful,
                ModelVerdict::Step => Verdict::StepDrop,
                ModelVerdict::UnloggedService => Verdict::UnloggedService,
            },
        }
    }

    /// The share with which it counts: all but what says that it fits nothing.
    #[must_use]
    pub fn weight(&self) -> Percent {
        Percent::new(100.0 * (1.0 - self.weights.doubtful)).unwrap_or_default()
    }

    /// The expected size of a step drop before it, percent of nominal: N(9, 4²) updated by what was
    /// read; the variance of what was expected comes from the standardised innovation.
    fn step_size(&self) -> f64 {
        let innovation = self.read.get() - self.expected.get();
        let variance = if self.z.abs() > 1e-12 { (innovation / self.z).powi(2) } else { 0.0 };
        let step = STEP_SD * STEP_SD;
        STEP_MEAN + step / (step + variance) * (-innovation - STEP_MEAN)
    }
}

/// What the readings of a spindle show besides wear, and what is to be said of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Findings {
    pub(super) steps: Vec<StepDrop>,
    pub(super) unlogged: Vec<UnloggedService>,
    pub(super) left_out: Vec<(ReadingId, String)>,
    pub(super) warnings: Vec<String>,
    /// A force was read that is not merely doubted.
    pub(super) force_measured: bool,
}

/// What there is to say of weighed readings, oldest first.
pub(super) fn findings(
    shop: &Shop,
    spindle: SpindleId,
    limits: &Limits,
    ss: f64,
    (weighed, set_aside): (&[WeighedReading], &[ReadingId]),
    as_of: NaiveDate,
) -> Findings {
    let mut found = Findings::default();
    let rows: BTreeMap<ReadingId, &crate::reading::Reading> =
        shop.readings_of(spindle).iter().map(|row| (row.id, &row.value)).collect();
    for (index, reading) in weighed.iter().enumerate() {
        let Some(row) = rows.get(&reading.reading) else { continue };
        let day = words::date_long(reading.day, as_of);
        let before = index.checked_sub(1).and_then(|index| weighed.get(index)).map(|before| before.day);
        let read_again = if index + 1 == weighed.len() { "; read it again" } else { "" };
        found.force_measured |= row.doubt.is_none() || reading.verdict != Verdict::Doubtful;
        if let Some(doubt) = &row.doubt {
            let counted = of_its_strokes(row, limits, ss);
            found.warnings.push(format!(
                "clamp force of {day} doubted ({doubt}): it counts {counted}with {} weight",
                words::chance(reading.weight())
            ));
        }
        match reading.verdict {
            Verdict::Ok => {}
            Verdict::Doubtful => {
                let (read, expected) = (words::percent(reading.read), words::percent(reading.expected));
                let off = format!("{read} % read, {expected} % expected");
                if row.doubt.is_none() {
                    found.warnings.push(format!(
                        "clamp force of {day} doubtful ({off}): it counts with {} weight{read_again}",
                        words::chance(reading.weight())
                    ));
                }
                let why = format!("{off}; it counts with {} weight", words::chance(reading.weight()));
                found.left_out.push((reading.reading, row.doubt.clone().unwrap_or(why)));
            }
            Verdict::StepDrop => {
                let size = Percent::new(reading.step_size().max(0.0)).unwrap_or_default();
                let after = before.unwrap_or(reading.day);
                let weight = Percent::new(100.0 * reading.weights.step_drop).unwrap_or_default();
                found.warnings.push(format!(
                    "the force fell by about {} % at once between {} and {day}: a step drop with {} weight{read_again}",
                    words::percent(size),
                    words::date_long(after, as_of),
                    words::chance(weight)
                ));
                found.steps.push(StepDrop { after, by: reading.day, size, weight });
            }
            Verdict::UnloggedService => {
                let weight = Percent::new(100.0 * reading.weights.unlogged_service).unwrap_or_default();
                let higher = words::number(reading.read.get() - reading.expected.get(), 1);
                found.warnings.push(format!(
                    "the force of {day} is {higher} % higher than expected: a service that was not logged? Taken as one for the wear with {} weight, not for the intervals",
                    words::chance(weight)
                ));
                found.unlogged.push(UnloggedService { after: before, by: reading.day, weight });
            }
        }
    }
    for row in rows.values().filter(|row| row.quantity() == Quantity::SettingDimension) {
        if let Some(doubt) = &row.doubt {
            let day = words::date_long(row.at.date, as_of);
            found.warnings.push(format!("setting dimension of {day} doubted ({doubt}): weighed with the others"));
        }
    }
    for id in set_aside {
        let Some(row) = rows.get(id) else { continue };
        let day = words::date_long(row.at.date, as_of);
        let why = "far from what was expected: set aside".to_owned();
        if row.doubt.is_none() {
            found.warnings.push(format!("setting dimension of {day} {why}"));
        }
        found.left_out.push((*id, row.doubt.clone().unwrap_or(why)));
    }
    found.left_out.sort();
    found
}

/// `with 2 of its 3 strokes, `, where some were dropped.
fn of_its_strokes(reading: &crate::reading::Reading, limits: &Limits, ss: f64) -> String {
    let strokes: Vec<f64> = reading.strokes.iter().map(|stroke| stroke.base).collect();
    match summarise(&strokes, limits.nominal_force.value.get(), ss) {
        Some(mean) if mean.dropped > 0 => {
            format!("with {} of its {} strokes, ", strokes.len().saturating_sub(mean.dropped), strokes.len())
        }
        _ => String::new(),
    }
}

/// A reading under the stop limit that still stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct LowReading {
    pub(super) at: Moment,
    pub(super) phase: Phase,
}

impl LowReading {
    /// Whether a later reading is known to be later: by its day, on one day by its time, without
    /// times by its occasion.
    fn is_before(&self, reading: &Reading) -> bool {
        match (self.at.time, reading.at.time) {
            _ if self.at.date != reading.at.date => self.at.date < reading.at.date,
            (Some(then), Some(time)) => then < time,
            _ => self.phase < reading.phase,
        }
    }

    /// Whether a service of this day came after it.
    pub(super) fn is_before_service(&self, day: NaiveDate) -> bool {
        self.at.date < day || (self.at.date == day && self.phase != Phase::AsLeft)
    }
}

/// The last reading under the stop limit. It stands until a reading that nobody doubts, nor the model,
/// is within limits again: not under the service limit either. What is not known to be later does not
/// clear it. Of a reading counts what is lower, the mean of its strokes or what the model makes of them
/// (`ss` is the repeatability of a stroke, percent of the reading).
pub(super) fn under_stop_limit(
    shop: &Shop,
    spindle: SpindleId,
    limits: &Limits,
    ss: f64,
    weighed: &[WeighedReading],
) -> Option<LowReading> {
    let nominal = limits.nominal_force.value.get();
    let (service, stop) = (limits.service_limit.value.get(), limits.stop_limit.value.get());
    let doubtful: Vec<ReadingId> =
        weighed.iter().filter(|reading| reading.verdict == Verdict::Doubtful).map(|reading| reading.reading).collect();
    let (mut low, mut within): (Vec<LowReading>, Vec<&Reading>) = (Vec::new(), Vec::new());
    for InOrder { id, reading, mean } in in_order(shop, spindle) {
        if reading.quantity() != Quantity::ClampForce || reading.doubt.is_some() {
            continue;
        }
        let strokes: Strokes = reading.strokes.iter().map(|stroke| stroke.base).collect();
        let of_mean = 100.0 * mean / nominal;
        let percent = summarise(&strokes, nominal, ss).map_or(of_mean, |counted| counted.percent.min(of_mean));
        if percent < stop {
            low.push(LowReading { at: reading.at, phase: reading.phase });
        } else if percent >= service && !doubtful.contains(&id) {
            within.push(reading);
        }
    }
    low.into_iter().rev().find(|low| !within.iter().any(|reading| low.is_before(reading)))
}

/// The level that each service left: mean of the as-left readings of its day that count.
pub(super) fn as_left(shop: &Shop, spindle: SpindleId, weighed: &[WeighedReading]) -> Vec<(NaiveDate, f64)> {
    let phases: BTreeMap<ReadingId, Phase> =
        shop.readings_of(spindle).iter().map(|row| (row.id, row.value.phase)).collect();
    let mut levels: Vec<(NaiveDate, f64, f64)> = Vec::new();
    for reading in weighed {
        let is_as_left = phases.get(&reading.reading) == Some(&Phase::AsLeft);
        if !is_as_left || reading.verdict == Verdict::Doubtful {
            continue;
        }
        match levels.last_mut() {
            Some((day, sum, count)) if *day == reading.day => {
                *sum += reading.read.get();
                *count += 1.0;
            }
            _ => levels.push((reading.day, reading.read.get(), 1.0)),
        }
    }
    levels.into_iter().map(|(day, sum, count)| (day, sum / count)).collect()
}
