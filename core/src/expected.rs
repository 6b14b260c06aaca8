//! What a reading taken now is expected to show, and what a meter must at least show: what an
//! entry form prints beside its fields. Taken from a projection and from the records; nothing is
//! fitted here.

use crate::forecast::{FanDay, SpindleForecast};
use crate::ids::SpindleId;
use crate::meter::MeterOwner;
use crate::reading::{Phase, Reading};
use crate::shop::Shop;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Quantity, RunHours};
use chrono::NaiveDate;

/// Where a figure is expected: the middle 80 %, the middle 50 %, and its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected<T> {
    /// A tenth lies below.
    pub low: T,
    /// A quarter lies below.
    pub inner_low: T,
    /// The middle.
    pub middle: T,
    /// A quarter lies above.
    pub inner_high: T,
    /// A tenth lies above.
    pub high: T,
}

/// Standard normal distance that leaves a tenth outside (two decimals more than any figure shown).
const TENTH: f64 = 1.2816;
/// The same for a quarter.
const QUARTER: f64 = 0.6745;
/// Places of 10, 25, 50, 75 and 90 % in [`crate::forecast::QUANTILES`].
const BAND: [usize; 5] = [1, 2, 3, 4, 5];

/// The clamp force expected on a day at an occasion; `None` where nothing can be said.
///
/// Before a service: the projection; on days before it was made its path of the last weeks with
/// today's uncertainty. As left: what the last three services of the spindle restored.
#[must_use]
pub fn force(
    forecast: &SpindleForecast,
    as_of: NaiveDate,
    day: NaiveDate,
    phase: Phase,
) -> Option<Expected<Kilonewtons>> {
    if phase == Phase::AsLeft {
        return force_as_left(forecast);
    }
    let sd = forecast.force_now.sd.get();
    if day == as_of {
        return normal(forecast.force_now.mean.get(), sd, Kilonewtons::new);
    }
    if day < as_of {
        let points: Vec<(NaiveDate, f64)> = forecast.past.iter().map(|p| (p.day, p.force.get())).collect();
        return normal(between(&points, day)?, sd, Kilonewtons::new);
    }
    fan(&forecast.fan, day)
}

fn force_as_left(forecast: &SpindleForecast) -> Option<Expected<Kilonewtons>> {
    let last: Vec<f64> = forecast.restored.iter().rev().take(3).map(|point| point.force.get()).collect();
    let middle = last.first().copied()?;
    let low = last.iter().copied().fold(f64::INFINITY, f64::min);
    let high = last.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // at least the spread of two strokes of one gauge: common practice, no source
    let room = forecast.force_now.sd.get().max(middle * 0.01);
    let sd = ((high - low) / 2.0).max(room);
    normal(middle, sd, Kilonewtons::new)
}

fn fan(fan: &[FanDay], day: NaiveDate) -> Option<Expected<Kilonewtons>> {
    let at = |index: usize| {
        let points: Vec<(NaiveDate, f64)> =
            fan.iter().filter_map(|f| Some((f.day, f.force.get(index)?.get()))).collect();
        Kilonewtons::new(between(&points, day)?)
    };
    let [low, inner_low, middle, inner_high, high] = BAND.map(at);
    Some(Expected { low: low?, inner_low: inner_low?, middle: middle?, inner_high: inner_high?, high: high? })
}

/// The setting dimension expected; the dimension aimed at within its tolerance as left.
#[must_use]
pub fn setting(forecast: &SpindleForecast, phase: Phase) -> Option<Expected<Millimetres>> {
    match (phase, forecast.setting_now, forecast.limits.setting()) {
        (Phase::AsLeft, _, Some((aimed, tolerance))) => {
            // half the tolerance is what a fresh setting keeps: common practice, no source
            normal(aimed.get(), tolerance.get() / 2.0 / TENTH, Millimetres::new)
        }
        (Phase::AsLeft, _, None) => None,
        (_, now, _) => {
            let now = now?;
            normal(now.mean.get(), now.sd.get(), Millimetres::new)
        }
    }
}

/// Beyond this share of the nominal force from the middle a reading is far from what was expected,
/// in percent: where a projection takes a change between two readings for a slip, a service or a
/// step drop too.
const FAR_PCT: f64 = 5.0;

/// Between which forces nobody needs to be asked about a reading: the middle 80 % at least, and as
/// far from the middle as a projection takes for ordinary.
#[must_use]
pub fn unasked_force(expected: &Expected<Kilonewtons>, nominal: Kilonewtons) -> (Kilonewtons, Kilonewtons) {
    let (middle, far) = (expected.middle.get(), nominal.get() * FAR_PCT / 100.0);
    let low = Kilonewtons::new((middle - far).max(0.0)).filter(|low| *low < expected.low).unwrap_or(expected.low);
    let high = Kilonewtons::new(middle + far).filter(|high| *high > expected.high).unwrap_or(expected.high);
    (low, high)
}

/// The same for a setting dimension: within the tolerance of the middle, or the middle 80 %.
#[must_use]
pub fn unasked_setting(expected: &Expected<Millimetres>, tolerance: Millimetres) -> (Millimetres, Millimetres) {
    let (low, high) = (expected.middle - tolerance, expected.middle + tolerance);
    let low = if low < expected.low { low } else { expected.low };
    let high = if high > expected.high { high } else { expected.high };
    (low, high)
}

fn normal<T>(mean: f64, sd: f64, make: impl Fn(f64) -> Option<T>) -> Option<Expected<T>> {
    Some(Expected {
        low: make(mean - TENTH * sd)?,
        inner_low: make(mean - QUARTER * sd)?,
        middle: make(mean)?,
        inner_high: make(mean + QUARTER * sd)?,
        high: make(mean + TENTH * sd)?,
    })
}

/// The value on a day by a straight line between the points around it; the last one beyond them.
fn between(points: &[(NaiveDate, f64)], day: NaiveDate) -> Option<f64> {
    let after = points.partition_point(|(at, _)| *at < day);
    let next = points.get(after);
    let before = after.checked_sub(1).and_then(|index| points.get(index));
    match (before, next) {
        (Some((from, low)), Some((to, high))) => {
            let share = (day - *from).num_days() as f64 / ((*to - *from).num_days().max(1)) as f64;
            Some(low + (high - low) * share)
        }
        (Some((_, value)), None) => Some(*value),
        (None, Some((to, value))) => (*to == day).then_some(*value),
        (None, None) => None,
    }
}

/// The last reading of a quantity of a spindle up to a day that counts and is not doubted.
#[must_use]
pub fn last_reading(shop: &Shop, spindle: SpindleId, quantity: Quantity, day: NaiveDate) -> Option<&Reading> {
    shop.readings_of(spindle)
        .iter()
        .map(|row| &row.value)
        .rfind(|r| r.quantity() == quantity && r.at.date <= day && r.replaced_on.is_none() && r.doubt.is_none())
}

/// A figure that a meter showed, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown<T> {
    /// What it showed.
    pub figure: T,
    /// On which day.
    pub on: NaiveDate,
}

/// What the meter of a spindle showed before and after a day: what an entry must lie between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterRoom {
    /// Whose meter it is: that of its position where that has one, else the spindle's own.
    pub owner: MeterOwner,
    /// Run hours last shown on or before the day.
    pub hours_before: Option<Shown<RunHours>>,
    /// Run hours first shown after the day by the same meter.
    pub hours_after: Option<Shown<RunHours>>,
    /// Clamp cycles last shown on or before the day.
    pub cycles_before: Option<Shown<ClampCycles>>,
    /// Clamp cycles first shown after the day by the same meter.
    pub cycles_after: Option<Shown<ClampCycles>>,
}

/// One thing a meter showed.
#[derive(Debug, Clone, Copy)]
struct Entry {
    on: NaiveDate,
    hours: Option<RunHours>,
    cycles: Option<ClampCycles>,
    is_new_meter: bool,
}

/// Between which figures a meter entry of a spindle on a day must lie. `leave_out` hides the
/// record that is being corrected.
#[must_use]
pub fn meter_room(shop: &Shop, spindle: SpindleId, day: NaiveDate, leave_out: Option<MeterRecord>) -> MeterRoom {
    let owner = meter_owner(shop, spindle, day);
    let entries = entries(shop, spindle, owner, leave_out);
    let after = entries.partition_point(|entry| entry.on <= day);
    let (before, later) = entries.split_at(after);
    // an exchanged meter begins anew: figures on its other side say nothing
    let from = before.iter().rposition(|entry| entry.is_new_meter).unwrap_or(0);
    let before = before.get(from..).unwrap_or_default();
    let until = later.iter().position(|entry| entry.is_new_meter).unwrap_or(later.len());
    let later = later.get(..until).unwrap_or_default();
    MeterRoom {
        owner,
        hours_before: before.iter().rev().find_map(|e| Some(Shown { figure: e.hours?, on: e.on })),
        hours_after: later.iter().find_map(|e| Some(Shown { figure: e.hours?, on: e.on })),
        cycles_before: before.iter().rev().find_map(|e| Some(Shown { figure: e.cycles?, on: e.on })),
        cycles_after: later.iter().find_map(|e| Some(Shown { figure: e.cycles?, on: e.on })),
    }
}

/// A record that carries meter figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeterRecord {
    /// A meter reading.
    Meter(crate::ids::MeterReadingId),
    /// A force or setting-dimension reading.
    Reading(crate::ids::ReadingId),
}

/// Whose meter a spindle shows on a day: that of its position where `meters` has rows for the
/// position, else its own.
#[must_use]
pub fn meter_owner(shop: &Shop, spindle: SpindleId, day: NaiveDate) -> MeterOwner {
    match shop.position_on(spindle, day).map(MeterOwner::Position) {
        Some(owner) if !shop.meters_of(owner).is_empty() => owner,
        _ => MeterOwner::Spindle(spindle),
    }
}

fn entries(shop: &Shop, spindle: SpindleId, owner: MeterOwner, leave_out: Option<MeterRecord>) -> Vec<Entry> {
    let meters =
        shop.meters_of(owner).iter().filter(|m| m.replaced_on.is_none() && leave_out != Some(MeterRecord::Meter(m.id)));
    let mut entries: Vec<Entry> = meters
        .map(|m| Entry { on: m.at.date, hours: m.run_hours, cycles: m.clamp_cycles, is_new_meter: m.meter_replaced })
        .collect();
    let spindles: Vec<SpindleId> = match owner {
        MeterOwner::Spindle(_) => vec![spindle],
        MeterOwner::Position(position) => {
            let mut all: Vec<_> = shop.mountings.iter().filter(|m| m.position == position).map(|m| m.spindle).collect();
            all.sort_unstable();
            all.dedup();
            all
        }
    };
    for spindle in spindles {
        for reading in shop.readings_of(spindle) {
            let hidden = leave_out == Some(MeterRecord::Reading(reading.id)) || reading.replaced_on.is_some();
            let carries = reading.run_hours.is_some() || reading.clamp_cycles.is_some();
            if carries && !hidden && meter_owner(shop, spindle, reading.at.date) == owner {
                let (hours, cycles) = (reading.run_hours, reading.clamp_cycles);
                entries.push(Entry { on: reading.at.date, hours, cycles, is_new_meter: false });
            }
        }
    }
    entries.sort_by_key(|entry| entry.on);
    entries
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{MeterReadingId, Row};
    use crate::meter::MeterReading;
    use crate::moment::{Moment, parse_iso_date};
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        parse_iso_date(text).unwrap()
    }

    fn meter(id: i64, on: &str, hours: f64, is_new: bool) -> Row<MeterReadingId, MeterReading> {
        let value = MeterReading {
            owner: MeterOwner::Spindle(SpindleId::from_row(1)),
            at: Moment::day(day(on)),
            run_hours: RunHours::new(hours),
            clamp_cycles: None,
            meter_replaced: is_new,
            recorded_on: None,
            replaced_on: None,
        };
        Row { id: MeterReadingId::from_row(id), value }
    }

    #[test]
    fn an_entry_lies_between_what_the_same_meter_showed() {
        let shop = Shop {
            meters: Arc::new(vec![
                meter(1, "2025-01-10", 900.0, false),
                meter(2, "2025-06-10", 12.0, true),
                meter(3, "2025-09-10", 400.0, false),
            ]),
            ..Shop::default()
        };
        let room = |on: &str, out: Option<MeterRecord>| meter_room(&shop, SpindleId::from_row(1), day(on), out);
        let between = room("2025-07-01", None);
        assert_eq!(between.hours_before.unwrap().figure.get(), 12.0);
        assert_eq!(between.hours_after.unwrap().figure.get(), 400.0);
        let old_meter = room("2025-02-01", None);
        assert_eq!(old_meter.hours_before.unwrap().figure.get(), 900.0);
        assert!(old_meter.hours_after.is_none(), "the new meter says nothing about the old one");
        let corrected = room("2025-09-10", Some(MeterRecord::Meter(MeterReadingId::from_row(3))));
        assert_eq!(corrected.hours_before.unwrap().figure.get(), 12.0);
    }

    #[test]
    fn a_straight_line_lies_between_two_points() {
        let points = [(day("2026-03-02"), 10.0), (day("2026-03-09"), 9.3)];
        let value = between(&points, day("2026-03-04")).unwrap();
        assert!((value - 9.8).abs() < 1e-9);
        assert_eq!(between(&points, day("2026-04-01")), Some(9.3));
        assert_eq!(between(&points, day("2026-03-01")), None);
        assert_eq!(between(&[], day("2026-03-01")), None);
    }

    #[test]
    fn nobody_is_asked_within_5_percent_of_nominal_or_the_band() {
        let nominal = Kilonewtons::new(18.0).unwrap();
        let narrow = normal(14.7, 0.1, Kilonewtons::new).unwrap();
        let (low, high) = unasked_force(&narrow, nominal);
        assert!((low.get() - 13.8).abs() < 1e-9 && (high.get() - 15.6).abs() < 1e-9);
        let wide = normal(14.7, 2.0, Kilonewtons::new).unwrap();
        assert_eq!(unasked_force(&wide, nominal), (wide.low, wide.high));
    }

    #[test]
    fn the_middle_80_percent_of_a_normal_figure() {
        // 1.2816 standard deviations hold the middle 80 %: any table of the normal distribution
        let expected = normal(10.0, 0.1, Kilonewtons::new).unwrap();
        assert!((expected.low.get() - 9.87184).abs() < 1e-9);
        assert!((expected.high.get() - 10.12816).abs() < 1e-9);
    }
}
