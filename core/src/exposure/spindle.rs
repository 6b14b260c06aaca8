//! One spindle: from meters and mountings to its own run hours and clamp cycles.

use super::meters::{Counted, Meter, Meters, Sitter, Stay};
use super::records::OwnRows;
use super::track::Knots;
use super::usage::{BORROWED, Usage};
use super::usual::{OwnUsage, UsualUsage};
use super::{ClockSource, SpindleExposure, Track};
use crate::calendar::WorkingCalendar;
use crate::interface::Interface;
use crate::words;
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// What is at hand when a spindle's exposure is put together.
pub(super) struct Builder<'a> {
    pub(super) as_of: NaiveDate,
    pub(super) calendar: &'a WorkingCalendar,
    pub(super) meters: &'a Meters,
    pub(super) usual: &'a UsualUsage,
}

impl Builder<'_> {
    /// The exposure of a spindle with these rows.
    pub(super) fn spindle(
        &self,
        sitter: &Sitter,
        rows: &OwnRows<'_>,
        interface: &Interface,
        knots: &mut Knots<'_>,
    ) -> SpindleExposure {
        let as_of = self.calendar.number_of(self.as_of);
        let telling = self.meters.telling(sitter, as_of);
        let own = OwnUsage::of(telling);
        let ratio = self.usual.cycles_per_hour();
        let hours_usage = own.hours.unwrap_or_else(|| match own.cycles {
            Some(usage) => Usage {
                per_day: usage.per_day / ratio,
                relative_sd: usage.relative_sd.max(BORROWED / 2.0),
                basis: usage.basis,
            },
            None => self.usual.borrowed_hours(interface),
        });
        let cycles_usage =
            own.cycles.unwrap_or(Usage { per_day: hours_usage.per_day * ratio, relative_sd: BORROWED, ..hours_usage });
        let hours = self.track(sitter, Counted::Hours, hours_usage, knots);
        let cycles = self.track(sitter, Counted::Cycles, cycles_usage, knots);
        let first_record = rows.first_record;
        let (clock, clock_source) = match (&hours, &cycles) {
            (Some(track), _) => (track.clone(), ClockSource::Hours),
            (None, Some(track)) => (track.scaled(1.0 / ratio), ClockSource::Cycles),
            (None, None) => {
                let usage = self.usual.borrowed_hours(interface);
                (self.by_working_days(&sitter.stays, first_record, usage, knots), ClockSource::WorkingDays)
            }
        };
        let curve = |counted| telling.map(|meter| meter.counter(counted).curve.clone()).unwrap_or_default();
        SpindleExposure {
            hours,
            cycles,
            meter_hours: curve(Counted::Hours),
            meter_cycles: curve(Counted::Cycles),
            clock,
            clock_source,
            position: sitter.sits(as_of).map(|stay| stay.position),
            first_record,
            warnings: self.misread(sitter),
        }
    }

    /// The meter that counted for a spindle in a stay.
    fn meter_in<'m>(&'m self, sitter: &'m Sitter, stay: &Stay) -> Option<&'m Meter> {
        self.meters.positions.get(&stay.position).or(sitter.own.as_ref())
    }

    /// The sum over the mountings; `None` where no meter ever counted for this spindle.
    fn track(&self, sitter: &Sitter, counted: Counted, usage: Usage, knots: &mut Knots<'_>) -> Option<Track> {
        knots.begin();
        let as_of = self.calendar.number_of(self.as_of);
        let Sitter { stays, own, .. } = sitter;
        if stays.is_empty() {
            return self.track_unmounted(own.as_ref()?, counted, usage, knots);
        }
        let own = own.as_ref().filter(|meter| !meter.counter(counted).is_empty());
        let (mut sum, mut read_until, mut any) = (0.0, None, false);
        for (index, stay) in stays.iter().enumerate() {
            let at_position = self.meters.positions.get(&stay.position);
            let meter = at_position.or(own).filter(|meter| !meter.counter(counted).is_empty());
            let end = stay.to.unwrap_or(as_of).max(stay.from);
            let Some(meter) = meter else {
                // unread: filled with the usage of today
                knots.push(stay.from, sum);
                sum += usage.per_day * self.work_between(stay.from, end);
                knots.push(end, sum);
                continue;
            };
            let counter = meter.counter(counted);
            let rate = counter.usage.map_or(usage.per_day, |usage| usage.per_day);
            let at = |day| counter.at(day, meter.work(self.calendar, day), rate);
            let Some(start) = at(stay.from) else { continue };
            any = true;
            if index == 0 && at_position.is_none() {
                // its own meter shows its own hours
                sum = start;
            }
            knots.push(stay.from, sum);
            let curve = &counter.curve;
            let (inside, beyond) = (curve.up_to(stay.from), curve.before(end));
            // at its own days the counter shows its own sums
            for shown in curve.knots().get(inside..beyond).unwrap_or_default() {
                knots.push(shown.day as i32, sum + (shown.sum - start).max(0.0));
            }
            sum += (at(end).unwrap_or(start) - start).max(0.0);
            knots.push(end, sum);
            let last_read = curve.up_to(end).checked_sub(1).and_then(|at| curve.knots().get(at));
            read_until = last_read.map(|last| (last.day as i32).max(stay.from));
        }
        let read_until = read_until.and_then(|day| self.date(day));
        any.then(|| knots.track(usage, sitter.sits(as_of).is_some(), read_until))
    }

    /// Of a spindle that was never mounted: what its own meter showed.
    fn track_unmounted(&self, own: &Meter, counted: Counted, usage: Usage, knots: &mut Knots<'_>) -> Option<Track> {
        let shown = own.counter(counted).curve.knots();
        let last = shown.last()?.day as i32;
        for knot in shown {
            knots.push(knot.day as i32, knot.sum);
        }
        Some(knots.track(usage, false, self.date(last)))
    }

    /// Working days while mounted, in usual hours.
    fn by_working_days(
        &self,
        stays: &[Stay],
        first_record: Option<NaiveDate>,
        usage: Usage,
        knots: &mut Knots<'_>,
    ) -> Track {
        let as_of = self.calendar.number_of(self.as_of);
        knots.begin();
        let mut sum = 0.0;
        for stay in stays {
            let end = stay.to.unwrap_or(as_of).max(stay.from);
            knots.push(stay.from, sum);
            sum += usage.per_day * self.work_between(stay.from, end);
            knots.push(end, sum);
        }
        if knots.is_empty() {
            knots.push(self.calendar.number_of(first_record.unwrap_or(self.as_of)), 0.0);
        }
        let runs = stays.iter().any(|stay| stay.covers(as_of));
        // counted in days, it does not depend on a usage: only the days themselves vary a little
        knots.track(Usage { relative_sd: 0.1, ..usage }, runs, Some(self.as_of))
    }

    fn work_between(&self, from: i32, to: i32) -> f64 {
        self.calendar.until_number(to) - self.calendar.until_number(from)
    }

    fn date(&self, day: i32) -> Option<NaiveDate> {
        self.calendar.date_of(day)
    }

    /// The figures of its meters that were left out, one sentence each.
    fn misread(&self, sitter: &Sitter) -> Vec<String> {
        let mut warnings = Vec::new();
        let mut said = BTreeSet::new();
        for stay in sitter.stays.iter() {
            let Some(meter) = self.meter_in(sitter, stay) else { continue };
            for (counter, what) in [(&meter.hours, "run hours"), (&meter.cycles, "clamp cycles")] {
                for misread in counter.misread.iter().filter(|misread| stay.covers(misread.day)) {
                    if let Some(day) = self.date(misread.day).filter(|day| said.insert((*day, what))) {
                        warnings.push(format!(
                            "{what} of {} on {} left out: they do not go with {} beside it",
                            words::number(misread.value, 0),
                            words::date_long(day, self.as_of),
                            words::number(misread.against, 0),
                        ));
                    }
                }
            }
        }
        warnings
    }
}
