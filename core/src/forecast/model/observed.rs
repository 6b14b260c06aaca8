//! What is known of one spindle, in the terms of the model.

use super::filter::{Event, Occasion, ServiceKind};
use super::humps::Hump;
use super::meter::Curve;
use super::stroke_list::Strokes;
use super::strokes::summarise;
use super::usage::{UsageParameters, usage_level};
use super::usage_ahead::{LogNormal, usage_ahead};
use super::working_days::WorkingDays;
use serde::{Deserialize, Serialize};

/// What exposure is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Clock {
    /// Run hours.
    Hours,
    /// Clamp cycles.
    Cycles,
}

/// Something of each clock.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct PerClock<T> {
    /// In run hours.
    pub hours: T,
    /// In clamp cycles.
    pub cycles: T,
}

impl<T> PerClock<T> {
    /// That of one clock.
    #[must_use]
    pub const fn of(&self, clock: Clock) -> &T {
        match clock {
            Clock::Hours => &self.hours,
            Clock::Cycles => &self.cycles,
        }
    }
}

/// What happened on a day.
#[derive(Debug, Clone, PartialEq)]
pub enum Happening {
    /// A service.
    Service(ServiceKind),
    /// Strokes of force, percent of nominal.
    Force(Occasion, Strokes),
    /// A setting dimension, as deviation in tolerances.
    Setting(Occasion, f64),
}

impl Happening {
    /// Its place on its day: routine, as found, service, as left.
    pub(in crate::forecast) const fn order(&self) -> u8 {
        match self {
            Self::Force(Occasion::Routine, _) | Self::Setting(Occasion::Routine, _) => 0,
            Self::Force(Occasion::AsFound, _) | Self::Setting(Occasion::AsFound, _) => 1,
            Self::Service(_) => 2,
            Self::Force(Occasion::AsLeft, _) | Self::Setting(Occasion::AsLeft, _) => 3,
        }
    }
}

/// The records of one spindle up to the as-of day.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Observed {
    /// Day number of its installation, or of its first record.
    pub start: f64,
    /// Whether it was new then.
    pub known_start: bool,
    /// What happened, in order ([`Observed::sorted`]).
    pub happenings: Vec<(i64, Happening)>,
    /// Its own exposure.
    pub exposure: PerClock<Curve>,
    /// The meter by which its usage is told: that of the position it sits in.
    pub meter: PerClock<Curve>,
    /// The last day on which a meter confirmed its exposure.
    pub read_until: PerClock<Option<f64>>,
    /// Whether it makes exposure at all: it is mounted.
    pub runs: bool,
}

impl Observed {
    /// The same with its happenings in order. The sort keeps the order of equal ones.
    #[must_use]
    pub fn sorted(mut self) -> Self {
        let place = |(day, happening): &(i64, Happening)| (*day, happening.order());
        if !self.happenings.is_sorted_by_key(place) {
            self.happenings.sort_by_key(place);
        }
        self
    }

    /// All strokes of force, reading by reading.
    pub fn strokes(&self) -> impl Iterator<Item = &[f64]> {
        self.happenings.iter().filter_map(|(_, happening)| match happening {
            Happening::Force(_, strokes) if !strokes.is_empty() => Some(&**strokes),
            _ => None,
        })
    }
}

/// How exposure is counted in a group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Counting {
    /// In what.
    pub clock: Clock,
    /// One reference interval, in hours or cycles.
    pub reference: f64,
    /// Prior usage per working day.
    pub prior_level: f64,
}

/// A spindle's records as events, with its usage.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// For the force.
    pub events: Vec<Event>,
    /// The day of each of them.
    pub days: Vec<i64>,
    /// For the setting dimension.
    pub dimension_events: Vec<Event>,
    /// Reference intervals per working day.
    pub usage: f64,
    /// Variance of its logarithm at as-of.
    pub usage_variance: f64,
    /// Growth of that variance per year.
    pub usage_growth: f64,
    /// The law of usage as a mixture; `None` in the plain model.
    pub usage_law: Option<UsageLaw>,
    /// Exposure since the last service.
    pub since_service: f64,
    /// The part of it that no meter has confirmed yet.
    pub unread: f64,
}

/// The present usage with its humps, in the units of the meter.
#[derive(Debug, Clone, PartialEq)]
pub struct UsageLaw {
    /// The humps.
    pub humps: Vec<Hump>,
    /// What the spindle usually runs.
    pub middle: f64,
    /// The mean level.
    pub level: f64,
    /// How usage behaves.
    pub parameters: UsageParameters,
}

impl UsageLaw {
    /// The mean usage over so many years, relative to the mean level, as an error of the drift clock
    /// that is `bend` times as large on the logarithmic scale.
    #[must_use]
    pub fn ahead(&self, years: f64, bend: f64) -> Vec<LogNormal> {
        let mut laws = usage_ahead(&self.humps, self.middle, self.level, years, &self.parameters);
        for law in &mut laws {
            law.mean *= bend;
            law.variance *= bend * bend;
        }
        laws
    }
}

/// Turns records into events.
#[must_use]
pub fn build(
    observed: &Observed,
    calendar: &WorkingDays,
    counting: &Counting,
    as_of: i64,
    ss: f64,
    usage_parameters: &UsageParameters,
) -> Built {
    let curve = observed.exposure.of(counting.clock);
    let meter = observed.meter.of(counting.clock);
    let usage = usage_level(meter, as_of as f64, counting.prior_level, usage_parameters);
    let rate = if observed.runs { usage.level } else { 0.0 };
    let mut near = 0;
    let mut exposure = |day: f64| curve.at_near(calendar, day, rate, &mut near) / counting.reference;

    let mut built = Built {
        events: Vec::with_capacity(observed.happenings.len() * 2 + 1),
        days: Vec::with_capacity(observed.happenings.len() * 2 + 1),
        dimension_events: Vec::with_capacity(observed.happenings.len() * 2 + 1),
        usage: usage.level / counting.reference,
        usage_variance: usage.log_variance,
        usage_growth: usage_parameters.growth_per_year(),
        usage_law: usage_parameters.improvements.usage_mixture.then(|| UsageLaw {
            humps: usage.humps.clone(),
            middle: usage.middle,
            level: usage.level,
            parameters: *usage_parameters,
        }),
        since_service: 0.0,
        unread: 0.0,
    };
    let mut at_service = exposure(observed.start);
    let mut last = at_service;
    let mut last_day = None;
    for (day, happening) in &observed.happenings {
        // what happens on one day happens at one exposure
        let x = if last_day == Some(*day) { last } else { exposure(*day as f64).max(last) };
        last_day = Some(*day);
        built.expose(last - at_service, x - at_service, *day);
        last = x;
        match happening {
            Happening::Service(kind) => {
                built.happen(Event::Service(*kind), *day);
                built.dimension_events.push(Event::Service(*kind));
                at_service = x;
            }
            Happening::Force(occasion, strokes) => {
                if let Some(mean) = summarise(strokes, 100.0, ss) {
                    let read = Event::Read { y: mean.percent, strokes: mean.count, occasion: *occasion };
                    built.happen(read, *day);
                }
            }
            Happening::Setting(occasion, y) => {
                built.dimension_events.push(Event::Read { y: *y, strokes: 1.0, occasion: *occasion });
            }
        }
    }
    let x = exposure(as_of as f64).max(last);
    built.expose(last - at_service, x - at_service, as_of);
    built.since_service = x - at_service;
    let unread = match observed.read_until.of(counting.clock) {
        Some(day) => (x - exposure(*day)).max(0.0),
        None => x,
    };
    built.unread = unread.min(built.since_service);
    built
}

impl Built {
    fn happen(&mut self, event: Event, day: i64) {
        self.events.push(event);
        self.days.push(day);
    }

    fn expose(&mut self, from: f64, to: f64, day: i64) {
        if to > from {
            let step = Event::Move { from, to };
            self.happen(step, day);
            self.dimension_events.push(step);
        }
    }
}
