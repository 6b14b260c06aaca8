//! One spindle: from meters and mountings to its own run hours and clamp cycles.

use super::meters::{Counted, Meter, Stay};
use super::usage::{self, BORROWED, Usage};
use super::usual::{Usages, UsualUsage};
use super::{ClockSource, MeterCurve, SpindleExposure, Track};
use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::shop::Shop;
use crate::words;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// What is at hand when a spindle's exposure is put together.
pub(super) struct Builder<'a> {
    pub(super) shop: &'a Shop,
    pub(super) as_of: NaiveDate,
    pub(super) calendar: &'a WorkingCalendar,
    pub(super) meters: &'a BTreeMap<MeterOwner, Meter>,
    pub(super) usages: &'a Usages,
    pub(super) usual: &'a UsualUsage,
}

impl Builder<'_> {
    pub(super) fn spindle(&self, id: SpindleId, interface: &Interface) -> SpindleExposure {
        let stays: Vec<Stay> = self.shop.mountings_of(id).iter().map(|row| Stay::of(row, self.as_of)).collect();
        let position = stays.iter().find(|stay| stay.covers(self.as_of)).map(|stay| stay.position);
        let mut warnings = Vec::new();
        let borrowed = self.usual.borrowed_hours(interface);
        let ratio = self.usual.cycles_per_hour();
        let of_cycles = self.usages.cycles.get(&id).copied();
        let hours_usage = self.usages.hours.get(&id).copied().unwrap_or_else(|| {
            of_cycles.map_or(borrowed, |usage| Usage {
                per_day: usage.per_day / ratio,
                relative_sd: usage.relative_sd.max(BORROWED / 2.0),
                basis: usage.basis,
            })
        });
        let cycles_usage =
            of_cycles.unwrap_or(Usage { per_day: hours_usage.per_day * ratio, relative_sd: BORROWED, ..hours_usage });
        let hours = self.track(id, &stays, Counted::Hours, hours_usage);
        let cycles = self.track(id, &stays, Counted::Cycles, cycles_usage);
        let (clock, clock_source) = match (&hours, &cycles) {
            (Some(track), _) => (track.clone(), ClockSource::Hours),
            (None, Some(track)) => (track.scaled(1.0 / ratio), ClockSource::Cycles),
            (None, None) => (self.by_working_days(id, &stays, borrowed), ClockSource::WorkingDays),
        };
        self.say_misread(id, &stays, &mut warnings);
        let telling = self.telling_meter(id, position);
        let meter_hours = telling.map(|meter| MeterCurve::of(&meter.hours)).unwrap_or_default();
        let meter_cycles = telling.map(|meter| MeterCurve::of(&meter.cycles)).unwrap_or_default();
        SpindleExposure {
            hours,
            cycles,
            meter_hours,
            meter_cycles,
            clock,
            clock_source,
            position,
            first_record: self.first_record(id),
            warnings,
        }
    }

    /// The meter by which the usage of a spindle is told: that of its position, else its own.
    fn telling_meter(&self, id: SpindleId, position: Option<Position>) -> Option<&Meter> {
        let at_position = position.and_then(|position| self.meters.get(&MeterOwner::Position(position)));
        at_position.or_else(|| self.meters.get(&MeterOwner::Spindle(id)))
    }

    fn first_record(&self, id: SpindleId) -> Option<NaiveDate> {
        let own = MeterOwner::Spindle(id);
        [
            self.shop.mountings_of(id).iter().map(|row| row.mounted_on).min(),
            self.shop.meters_of(own).iter().map(|row| row.at.date).min(),
            self.shop.readings_of(id).iter().map(|row| row.at.date).min(),
            self.shop.services_of(id).iter().map(|row| row.at.date).min(),
        ]
        .into_iter()
        .flatten()
        .min()
    }

    /// The sum over the mountings; `None` where no meter ever counted for this spindle.
    fn track(&self, id: SpindleId, stays: &[Stay], counted: Counted, usage: Usage) -> Option<Track> {
        let own = self.meters.get(&MeterOwner::Spindle(id)).filter(|meter| !meter.counter(counted).days.is_empty());
        if stays.is_empty() {
            let counter = own?.counter(counted);
            let knots = counter.days.iter().copied().zip(counter.sums.iter().copied()).collect();
            return Some(Track::new(knots, usage, false, counter.days.last().copied()));
        }
        let mut knots = Vec::with_capacity(4 * stays.len());
        let (mut sum, mut read_until, mut any) = (0.0, None, false);
        for (index, stay) in stays.iter().enumerate() {
            let at_position = self.meters.get(&MeterOwner::Position(stay.position));
            let meter = at_position.or(own).filter(|meter| !meter.counter(counted).days.is_empty());
            let end = stay.to.unwrap_or(self.as_of).max(stay.from);
            let Some(meter) = meter else {
                // unread: filled with the usage of today
                knots.push((stay.from, sum));
                sum += usage.per_day * self.calendar.between(stay.from, end);
                knots.push((end, sum));
                continue;
            };
            let counter = meter.counter(counted);
            let rate = usage::of_counter(counter).map_or(usage.per_day, |usage| usage.per_day);
            let at = |day| counter.at(day, meter.work(self.calendar, day), rate);
            let Some(start) = at(stay.from) else { continue };
            any = true;
            if index == 0 && at_position.is_none() {
                // its own meter shows its own hours
                sum = start;
            }
            knots.push((stay.from, sum));
            let inside = counter.days.partition_point(|day| *day <= stay.from);
            let beyond = counter.days.partition_point(|day| *day < end);
            // at its own days the counter shows its own sums
            let shown = counter.days.iter().zip(&counter.sums).take(beyond).skip(inside);
            knots.extend(shown.map(|(day, shown)| (*day, sum + (shown - start).max(0.0))));
            sum += (at(end).unwrap_or(start) - start).max(0.0);
            knots.push((end, sum));
            let last_read = counter.days.partition_point(|day| *day <= end);
            read_until = last_read.checked_sub(1).and_then(|at| counter.days.get(at)).map(|day| (*day).max(stay.from));
        }
        any.then(|| Track::new(knots, usage, stays.iter().any(|stay| stay.covers(self.as_of)), read_until))
    }

    /// Working days while mounted, in usual hours.
    fn by_working_days(&self, id: SpindleId, stays: &[Stay], usage: Usage) -> Track {
        let mut knots = Vec::new();
        let mut sum = 0.0;
        for stay in stays {
            let end = stay.to.unwrap_or(self.as_of).max(stay.from);
            knots.push((stay.from, sum));
            sum += usage.per_day * self.calendar.between(stay.from, end);
            knots.push((end, sum));
        }
        if knots.is_empty() {
            knots.push((self.first_record(id).unwrap_or(self.as_of), 0.0));
        }
        let runs = stays.iter().any(|stay| stay.covers(self.as_of));
        // counted in days, it does not depend on a usage: only the days themselves vary a little
        Track::new(knots, Usage { relative_sd: 0.1, ..usage }, runs, Some(self.as_of))
    }

    fn say_misread(&self, id: SpindleId, stays: &[Stay], warnings: &mut Vec<String>) {
        let mut said = BTreeSet::new();
        for stay in stays {
            let owner = MeterOwner::Position(stay.position);
            let owner = if self.meters.contains_key(&owner) { owner } else { MeterOwner::Spindle(id) };
            let Some(meter) = self.meters.get(&owner) else { continue };
            for (counter, what) in [(&meter.hours, "run hours"), (&meter.cycles, "clamp cycles")] {
                for misread in counter.misread.iter().filter(|misread| stay.covers(misread.day)) {
                    if said.insert((misread.day, what)) {
                        warnings.push(format!(
                            "{what} of {} on {} left out: they do not go with {} beside it",
                            words::number(misread.value, 0),
                            words::date_long(misread.day, self.as_of),
                            words::number(misread.against, 0),
                        ));
                    }
                }
            }
        }
    }
}
