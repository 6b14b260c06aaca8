//! Exposure: how many run hours and clamp cycles each spindle has made by which day.
//!
//! A spindle's own hours are the sum over its mountings: what the meter of the position went on
//! while it sat there, or what its own meter went on where the position has none. Between two
//! figures exposure runs with the working days, after the last with the usage per working day.
//! Not mounted, a spindle makes none.

mod counter;
mod track;
pub(crate) mod usage;

use crate::calendar::WorkingCalendar;
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::mounting::Mounting;
use crate::shop::Shop;
use crate::words;
use chrono::{Days, NaiveDate};
use counter::{Counter, Shown};
use std::collections::{BTreeMap, BTreeSet};
pub use track::Track;
use usage::{BORROWED, USUAL_CYCLES_PER_HOUR, USUAL_HOURS_PER_DAY, median};
pub use usage::{Usage, UsageBasis};

/// More run hours than this in a day cannot be.
const MOST_HOURS_PER_DAY: f64 = 24.0;
/// More clamp cycles than this in a day cannot be: one every four seconds, from memory, to be confirmed.
const MOST_CYCLES_PER_DAY: f64 = 21_600.0;
/// The calendar reaches back at most so far.
const OLDEST_YEARS: u64 = 150;

/// The exposure of one spindle.
#[derive(Debug, Clone, PartialEq)]
pub struct SpindleExposure {
    /// Own run hours; `None` without any meter of them.
    pub hours: Option<Track>,
    /// Own clamp cycles; `None` without any meter of them.
    pub cycles: Option<Track>,
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

/// The middle of the shop's usages, to borrow from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UsualUsage {
    /// Run hours per working day by interface.
    interface_hours: BTreeMap<Interface, f64>,
    /// The same of all spindles.
    shop_hours: Option<f64>,
    /// Clamp cycles in a run hour.
    cycles_per_hour: Option<f64>,
}

/// The two things a meter may count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counted {
    Hours,
    Cycles,
}

/// Both counters of one meter.
#[derive(Debug, Clone, Default)]
struct Meter {
    stays: Vec<Stay>,
    hours: Counter,
    cycles: Counter,
}

/// A mounting as known on the as-of day: what ends later has no end yet.
#[derive(Debug, Clone, Copy)]
struct Stay {
    position: Position,
    from: NaiveDate,
    to: Option<NaiveDate>,
}

impl Stay {
    fn of(mounting: &Mounting, as_of: NaiveDate) -> Self {
        Self {
            position: mounting.position,
            from: mounting.mounted_on,
            to: mounting.removed_on.filter(|removed| *removed <= as_of),
        }
    }

    fn covers(self, day: NaiveDate) -> bool {
        self.from <= day && self.to.is_none_or(|to| day < to)
    }

    /// Its working days up to a day.
    fn work(self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        let until = self.to.map_or(day, |to| to.min(day));
        calendar.between(self.from, until).max(0.0)
    }
}

impl Meter {
    fn counter(&self, counted: Counted) -> &Counter {
        match counted {
            Counted::Hours => &self.hours,
            Counted::Cycles => &self.cycles,
        }
    }

    /// Working days of its stays up to a day.
    fn work(&self, calendar: &WorkingCalendar, day: NaiveDate) -> f64 {
        self.stays.iter().map(|stay| stay.work(calendar, day)).sum()
    }
}

impl ExposureBook {
    /// The exposure of all spindles of a shop as known on that day ([`Shop::known_on`]), ready to be
    /// asked up to `horizon_days` ahead.
    #[must_use]
    pub fn of(shop: &Shop, as_of: NaiveDate, horizon_days: u32) -> Self {
        let calendar = calendar_of(shop, as_of, horizon_days);
        let meters = meters_of(shop, as_of, &calendar, None);
        let usages = Usages::of(shop, shop.spindles.keys().copied(), as_of, &meters);
        let usual = usages.usual(shop);
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
    /// earlier book of the shop.
    #[must_use]
    pub fn of_spindle(
        shop: &Shop,
        as_of: NaiveDate,
        horizon_days: u32,
        spindle: SpindleId,
        usual: &UsualUsage,
    ) -> Self {
        let calendar = calendar_of(shop, as_of, horizon_days);
        let meters = meters_of(shop, as_of, &calendar, Some(spindle));
        let usages = Usages::of(shop, std::iter::once(spindle), as_of, &meters);
        let builder = Builder { shop, as_of, calendar: &calendar, meters: &meters, usages: &usages, usual };
        let one = shop.spindles.get(&spindle).map(|known| (spindle, builder.spindle(spindle, &known.interface)));
        let spindles = one.into_iter().collect();
        Self { as_of, calendar, usual: usual.clone(), spindles }
    }
}

fn calendar_of(shop: &Shop, as_of: NaiveDate, horizon_days: u32) -> WorkingCalendar {
    let earliest = [
        shop.mountings.iter().map(|row| row.mounted_on).min(),
        shop.meters.iter().map(|row| row.at.date).min(),
        shop.readings.iter().map(|row| row.at.date).min(),
        shop.services.iter().map(|row| row.at.date).min(),
        shop.spindles.values().filter_map(|spindle| spindle.installed_on).min(),
    ];
    let oldest = as_of.checked_sub_days(Days::new(OLDEST_YEARS * 366)).unwrap_or(as_of);
    let first = earliest.into_iter().flatten().min().unwrap_or(as_of).clamp(oldest, as_of);
    // at least two years ahead for the fan, and a little more so that its end can be asked
    let ahead = u64::from(horizon_days.clamp(800, 20_000)) + 31;
    let last = as_of.checked_add_days(Days::new(ahead)).unwrap_or(as_of);
    shop.working_calendar(first, last)
}

/// Every meter with what it counted, by its owner; with `only` those that count for one spindle.
fn meters_of(
    shop: &Shop,
    as_of: NaiveDate,
    calendar: &WorkingCalendar,
    only: Option<SpindleId>,
) -> BTreeMap<MeterOwner, Meter> {
    let places: Option<BTreeSet<MeterOwner>> = only.map(|id| {
        let positions = shop.mountings_of(id).iter().map(|row| MeterOwner::Position(row.position));
        positions.chain([MeterOwner::Spindle(id)]).collect()
    });
    let wanted = |owner: MeterOwner| places.as_ref().is_none_or(|places| places.contains(&owner));
    let mut shown: BTreeMap<MeterOwner, [Vec<Shown>; 2]> = BTreeMap::new();
    let mut push = |owner, day: NaiveDate, hours: Option<f64>, cycles: Option<f64>, replaced| {
        let entry = shown.entry(owner).or_default();
        for (list, value) in entry.iter_mut().zip([hours, cycles]) {
            list.extend(value.map(|value| Shown { day, value, replaced }));
        }
    };
    for row in shop.meters.iter().filter(|row| wanted(row.owner)) {
        push(
            row.owner,
            row.at.date,
            row.run_hours.map(|v| v.get()),
            row.clamp_cycles.map(|v| v.get()),
            row.meter_replaced,
        );
    }
    let metered: BTreeSet<Position> = shop
        .meters
        .iter()
        .filter_map(|row| match row.owner {
            MeterOwner::Position(position) => Some(position),
            MeterOwner::Spindle(_) => None,
        })
        .collect();
    let stays: BTreeMap<SpindleId, Vec<Stay>> = shop
        .spindles
        .keys()
        .map(|id| (*id, shop.mountings_of(*id).iter().map(|row| Stay::of(row, as_of)).collect()))
        .collect();
    for row in shop.readings.iter().filter(|row| row.run_hours.is_some() || row.clamp_cycles.is_some()) {
        let of_spindle = stays.get(&row.spindle).map(Vec::as_slice).unwrap_or_default();
        let sits = of_spindle.iter().find(|stay| stay.covers(row.at.date)).map(|stay| stay.position);
        let owner = match sits {
            Some(position) if metered.contains(&position) => MeterOwner::Position(position),
            // on the bench nothing says whose meter was read where others have counted for it
            None if of_spindle.iter().any(|stay| metered.contains(&stay.position)) => continue,
            _ => MeterOwner::Spindle(row.spindle),
        };
        if !wanted(owner) {
            continue;
        }
        push(owner, row.at.date, row.run_hours.map(|v| v.get()), row.clamp_cycles.map(|v| v.get()), false);
    }
    let mut by_position: BTreeMap<Position, Vec<Stay>> = BTreeMap::new();
    for stay in stays.values().flatten() {
        by_position.entry(stay.position).or_default().push(*stay);
    }
    shown
        .into_iter()
        .map(|(owner, [hours, cycles])| {
            let stays: Vec<Stay> = match owner {
                MeterOwner::Position(position) => by_position.get(&position).cloned().unwrap_or_default(),
                MeterOwner::Spindle(id) => {
                    let all = stays.get(&id).map(Vec::as_slice).unwrap_or_default();
                    all.iter().filter(|stay| !metered.contains(&stay.position)).copied().collect()
                }
            };
            let mut meter = Meter { stays, ..Meter::default() };
            meter.hours = Counter::of(hours, |day| meter.work(calendar, day), MOST_HOURS_PER_DAY);
            meter.cycles = Counter::of(cycles, |day| meter.work(calendar, day), MOST_CYCLES_PER_DAY);
            (owner, meter)
        })
        .collect()
}

/// Usage of every spindle of which a meter shows it.
struct Usages {
    hours: BTreeMap<SpindleId, Usage>,
    cycles: BTreeMap<SpindleId, Usage>,
}

impl Usages {
    fn of(
        shop: &Shop,
        spindles: impl Iterator<Item = SpindleId>,
        as_of: NaiveDate,
        meters: &BTreeMap<MeterOwner, Meter>,
    ) -> Self {
        let (mut hours, mut cycles) = (BTreeMap::new(), BTreeMap::new());
        for id in spindles {
            let sits = shop.mountings_of(id).iter().map(|row| Stay::of(row, as_of)).find(|stay| stay.covers(as_of));
            let own = meters.get(&MeterOwner::Spindle(id));
            let Some(meter) = sits.and_then(|stay| meters.get(&MeterOwner::Position(stay.position))).or(own) else {
                continue;
            };
            hours.extend(usage::of_counter(&meter.hours).map(|usage| (id, usage)));
            cycles.extend(usage::of_counter(&meter.cycles).map(|usage| (id, usage)));
        }
        Self { hours, cycles }
    }

    fn usual(&self, shop: &Shop) -> UsualUsage {
        let Self { hours, cycles } = self;
        let mut by_interface: BTreeMap<Interface, Vec<f64>> = BTreeMap::new();
        for (id, usage) in hours {
            if let Some(spindle) = shop.spindles.get(id).filter(|_| usage.per_day > 0.0) {
                by_interface.entry(spindle.interface.clone()).or_default().push(usage.per_day);
            }
        }
        let mut all: Vec<f64> = by_interface.values().flatten().copied().collect();
        let interface_hours = by_interface
            .into_iter()
            .filter_map(|(interface, mut rates)| median(&mut rates).map(|rate| (interface, rate)))
            .collect();
        let mut ratios: Vec<f64> = hours
            .iter()
            .filter_map(|(id, usage)| Some(cycles.get(id)?.per_day / usage.per_day))
            .filter(|ratio| ratio.is_finite() && *ratio > 0.0)
            .collect();
        UsualUsage { interface_hours, shop_hours: median(&mut all), cycles_per_hour: median(&mut ratios) }
    }
}

impl UsualUsage {
    /// Clamp cycles in a run hour, middle of the shop's spindles.
    #[must_use]
    pub fn cycles_per_hour(&self) -> f64 {
        self.cycles_per_hour.unwrap_or(USUAL_CYCLES_PER_HOUR)
    }

    /// What a spindle without a usage of its own is taken to run.
    fn borrowed_hours(&self, interface: &Interface) -> Usage {
        let (per_day, basis) = match (self.interface_hours.get(interface), self.shop_hours) {
            (Some(rate), _) => (*rate, UsageBasis::Interface),
            (None, Some(rate)) => (rate, UsageBasis::Shop),
            (None, None) => (USUAL_HOURS_PER_DAY, UsageBasis::Usual),
        };
        Usage { per_day, relative_sd: BORROWED, basis }
    }
}

struct Builder<'a> {
    shop: &'a Shop,
    as_of: NaiveDate,
    calendar: &'a WorkingCalendar,
    meters: &'a BTreeMap<MeterOwner, Meter>,
    usages: &'a Usages,
    usual: &'a UsualUsage,
}

impl Builder<'_> {
    fn spindle(&self, id: SpindleId, interface: &Interface) -> SpindleExposure {
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
        if position.is_some() {
            self.say_usage(&clock, clock_source, interface, &mut warnings);
        }
        self.say_misread(id, &stays, &mut warnings);
        SpindleExposure { hours, cycles, clock, clock_source, position, first_record: self.first_record(id), warnings }
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
        let mut knots = Vec::new();
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
            for day in counter.days.get(inside..beyond).unwrap_or_default() {
                knots.push((*day, sum + (at(*day).unwrap_or(start) - start).max(0.0)));
            }
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

    fn say_usage(&self, clock: &Track, source: ClockSource, interface: &Interface, warnings: &mut Vec<String>) {
        let per_day = format!("{} h a working day", words::number(clock.usage().per_day, 1));
        if source == ClockSource::WorkingDays {
            warnings.push(format!("no meter reading: reckoned by working days, {per_day}"));
            return;
        }
        match clock.usage().basis {
            UsageBasis::Meter => {}
            UsageBasis::Idle => warnings.push(format!("hardly ran of late: reckoned with {per_day}")),
            UsageBasis::Interface => warnings.push(format!(
                "too few meter readings to tell its usage: {per_day}, the middle of the {interface} spindles"
            )),
            UsageBasis::Shop => {
                warnings.push(format!("too few meter readings to tell its usage: {per_day}, the middle of the shop"))
            }
            UsageBasis::Usual => warnings.push(format!(
                "too few meter readings to tell its usage: {per_day} taken (common practice, no source)"
            )),
        }
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
