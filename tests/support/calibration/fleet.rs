//! Simulated fleets: the records that a shop would have, and the date that only the simulator knows.

use super::chance::{dice, happens, normal};
use super::truth::{Scenario, Truth};
use super::usage::daily_hours;
use super::wear::Wear;
use crate::fleet::Dice;
use almanac_core::forecast::model::filter::{Occasion, ServiceKind};
use almanac_core::forecast::model::meter::{Curve, Shown};
use almanac_core::forecast::model::observed::{Happening, Observed, PerClock};
use almanac_core::forecast::model::shop_fit::cycles_per_hour;
use almanac_core::forecast::model::working_days::WorkingDays;

/// The day from which forecasts look; ten years after the first.
pub const AS_OF: usize = 3650;
/// How far they look, in days.
pub const HORIZON: usize = 1825;
/// Days of the calendar, with a rest behind the horizon.
pub const DAYS: usize = AS_OF + HORIZON + 30;
/// The limit: percent of nominal force.
pub const LIMIT: f64 = 80.0;

/// Weight of a day: Monday to Friday 1, Saturday 0.3, Sunday 0; closed for two weeks in summer and
/// around New Year. Day 0 is a Monday, 1 January.
#[must_use]
pub const fn day_weight(day: usize) -> f64 {
    let of_year = day % 365;
    if of_year < 3 || of_year >= 357 || (of_year >= 210 && of_year < 224) {
        return 0.0;
    }
    match day % 7 {
        6 => 0.0,
        5 => 0.3,
        _ => 1.0,
    }
}

/// The calendar of every simulated shop.
#[must_use]
pub fn calendar() -> WorkingDays {
    WorkingDays::new((0..DAYS).map(day_weight))
}

/// One reading on record, for the naive line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noted {
    /// Day number.
    pub day: i64,
    /// Mean of the strokes, percent of nominal.
    pub percent: f64,
    /// Which interval between services it belongs to, counted from 0; as found: that which ends.
    pub interval: usize,
    /// After a service.
    pub is_as_left: bool,
}

/// A spindle: what is on record, and the truth.
#[derive(Debug, Clone)]
pub struct Simulated {
    /// For the model.
    pub observed: Observed,
    /// The readings once more, by interval.
    pub noted: Vec<Noted>,
    /// The interval in which it is now.
    pub interval: usize,
    /// Days from as-of until the true force first lies below the limit without another service:
    /// zero where it does already, `None` beyond the horizon.
    pub crossing: Option<f64>,
}

/// A fleet.
#[derive(Debug, Clone)]
pub struct Fleet {
    /// Its law.
    pub truth: Truth,
    /// Its spindles.
    pub spindles: Vec<Simulated>,
    /// Clamp cycles in a run hour, as a shop would work it out from its meters.
    pub cycles_per_hour: f64,
}

/// Makes a fleet: the same seed, scenario and number give the same fleet.
#[must_use]
pub fn simulate(seed: u64, scenario: Scenario, number: usize, spindles: usize, calendar: &WorkingDays) -> Fleet {
    let [row, fleet] = scenario.path(number);
    let truth = Truth::of(scenario, &mut dice(seed, &[row, fleet, 0]));
    let simulated: Vec<Simulated> = (0..spindles)
        .map(|spindle| {
            let own = OwnDice { seed, path: [row, fleet, 1 + spindle as u64] };
            let hours = daily_hours(&truth, &mut own.of(Purpose::Usage, 0), &mut own.of(Purpose::UsageOfLate, 0));
            Life::new(&truth, &hours, own).finish(calendar)
        })
        .collect();
    let counted = simulated.iter().map(|s| {
        let last = |curve: &Curve| curve.knots().last().map_or(0.0, |knot| knot.sum);
        (last(&s.observed.exposure.hours), last(&s.observed.exposure.cycles))
    });
    let cycles_per_hour = cycles_per_hour(counted);
    Fleet { truth, spindles: simulated, cycles_per_hour }
}

/// A force reading that is not as-left, when this share of services has one; and the as-left one.
const AS_FOUND: f64 = 0.85;
const AS_LEFT: f64 = 0.85;
/// One spindle in five was found mid-life when records began.
const FOUND_MID_LIFE: f64 = 0.2;
/// Days between routine readings: rounds go by the calendar, whether or not a service came between.
const ROUTINE_DAYS: (f64, f64) = (110.0, 200.0);
/// Days between meter rounds.
const METER_DAYS: (f64, f64) = (50.0, 88.0);
/// A service is planned by run hours: middle and log spread.
const PLANNED_HOURS: (f64, f64) = (3_300.0, 0.25);
/// A routine reading below this has a service follow within weeks.
const SERVICE_BELOW: f64 = 82.0;
/// Days since installation.
const AGE_DAYS: (f64, f64) = (1_500.0, 3_600.0);
const YOUNG_DAYS: (f64, f64) = (40.0, 450.0);

/// What the dice of a spindle are for: each purpose has its own, and so has each day, reading and
/// interval, so that what a scenario adds leaves all other chance as it was.
#[derive(Debug, Clone, Copy)]
enum Purpose {
    Usage,
    UsageOfLate,
    Start,
    Rounds,
    Meters,
    Cycles,
    Service,
    Wear,
    Springs,
    Reading,
    Gross,
}

/// The dice of one spindle.
#[derive(Debug, Clone, Copy)]
struct OwnDice {
    seed: u64,
    path: [u64; 3],
}

impl OwnDice {
    fn of(&self, purpose: Purpose, number: usize) -> Dice {
        let [row, fleet, spindle] = self.path;
        dice(self.seed, &[row, fleet, spindle, purpose as u64, number as u64])
    }
}

/// One spindle's life as it unfolds.
struct Life<'a> {
    truth: &'a Truth,
    hours: &'a [f64],
    wear: Wear<'a>,
    own: OwnDice,
    rounds: Dice,
    meters: Dice,
    installed: usize,
    recorded_from: usize,
    cycles_per_hour: f64,
    meter: Vec<(i64, f64, f64)>,
    happenings: Vec<(i64, Happening)>,
    noted: Vec<Noted>,
    interval: usize,
}

impl<'a> Life<'a> {
    fn new(truth: &'a Truth, hours: &'a [f64], own: OwnDice) -> Self {
        let mut start = own.of(Purpose::Start, 0);
        let (youngest, oldest) = if truth.is_young { YOUNG_DAYS } else { AGE_DAYS };
        let installed = AS_OF - start.between(youngest, oldest) as usize;
        let mid_life = !truth.is_young && happens(&mut start, FOUND_MID_LIFE);
        let recorded_from = if mid_life { installed + start.between(200.0, 900.0) as usize } else { installed };
        let cycles_per_hour = truth.cycles_per_hour * (0.3 * normal(&mut start)).exp();
        Self {
            truth,
            hours,
            wear: Wear::new(truth, &mut own.of(Purpose::Service, 0)),
            own,
            rounds: own.of(Purpose::Rounds, 0),
            meters: own.of(Purpose::Meters, 0),
            installed,
            recorded_from,
            cycles_per_hour,
            meter: Vec::new(),
            happenings: Vec::new(),
            noted: Vec::new(),
            interval: 0,
        }
    }

    /// Lives it up to as-of, then runs the truth on.
    fn finish(mut self, calendar: &WorkingDays) -> Simulated {
        self.live();
        let crossing = self.crossing();
        let curve = |of: fn(&(i64, f64, f64)) -> f64| {
            Curve::new(
                self.meter.iter().map(|shown| Shown { day: shown.0, value: of(shown), is_new_meter: false }),
                calendar,
            )
        };
        let curves = PerClock { hours: curve(|shown| shown.1), cycles: curve(|shown| shown.2) };
        let read_until = self.meter.iter().map(|shown| shown.0 as f64).next_back();
        let observed = Observed {
            start: self.recorded_from as f64,
            known_start: self.recorded_from == self.installed,
            happenings: self.happenings,
            exposure: curves.clone(),
            meter: curves,
            read_until: PerClock { hours: read_until, cycles: read_until },
            runs: true,
        };
        Simulated { observed: observed.sorted(), noted: self.noted, interval: self.interval, crossing }
    }

    /// From installation to the as-of day.
    fn live(&mut self) {
        let few = if self.truth.is_young { self.few_readings() } else { Vec::new() };
        let mut counters = (0.0, 0.0);
        let mut cycles = self.own.of(Purpose::Cycles, 0);
        let mut next_meter = self.recorded_from as f64;
        let mut next_reading = self.installed as f64 + self.routine_gap();
        let mut planned = self.plan();
        let mut service_on = f64::INFINITY;
        for (day, hours) in self.hours.iter().enumerate().take(AS_OF + 1).skip(self.installed) {
            let now = day as f64;
            let mut read_meter = now >= next_meter || day == self.recorded_from;
            if self.truth.is_young {
                for _ in few.iter().filter(|on| **on == day) {
                    let occasion = if day == self.installed { Occasion::AsLeft } else { Occasion::Routine };
                    self.read(day, occasion);
                    read_meter = true;
                }
            } else {
                if now >= next_reading {
                    let percent = self.read(day, Occasion::Routine);
                    if percent < SERVICE_BELOW && service_on.is_infinite() {
                        service_on = now + self.rounds.between(5.0, 40.0);
                    }
                    read_meter |= happens(&mut self.rounds, 0.5);
                    next_reading = now + self.routine_gap();
                }
                if self.wear.since_service >= planned || now >= service_on {
                    read_meter |= self.serve(day);
                    planned = self.plan();
                    service_on = f64::INFINITY;
                }
            }
            if read_meter && day >= self.recorded_from {
                self.meter.push((day as i64, counters.0, counters.1));
                // a round is forgotten now and then
                let rounds = if happens(&mut self.meters, 0.05) { 2.0 } else { 1.0 };
                next_meter = now + rounds * self.meters.between(METER_DAYS.0, METER_DAYS.1);
            }
            // the as-of morning comes before its day's work
            if day < AS_OF {
                self.run(day, *hours);
                let per_hour = self.cycles_per_hour * (1.0 + 0.15 * normal(&mut cycles));
                counters = (counters.0 + hours, counters.1 + hours * per_hour.max(0.0));
            }
        }
        for shown in &mut self.meter {
            *shown = (shown.0, shown.1.floor(), shown.2.floor());
        }
    }

    fn run(&mut self, day: usize, hours: f64) {
        self.wear.run(hours, &mut self.own.of(Purpose::Wear, day), &mut self.own.of(Purpose::Springs, day));
    }

    fn routine_gap(&mut self) -> f64 {
        self.rounds.between(ROUTINE_DAYS.0, ROUTINE_DAYS.1)
    }

    /// Exposure after which the next service is planned.
    fn plan(&self) -> f64 {
        let mut dice = self.own.of(Purpose::Service, 2 * self.interval + 1);
        PLANNED_HOURS.0 / 2000.0 * (PLANNED_HOURS.1 * normal(&mut dice)).exp()
    }

    /// The days of the readings of a young spindle: none to two, on any day.
    fn few_readings(&mut self) -> Vec<usize> {
        let count = (3.0 * self.rounds.unit()) as usize;
        let age = (AS_OF - self.installed) as f64;
        (0..count).map(|_| self.installed + (age * self.rounds.unit()) as usize).collect()
    }

    /// A reading, put on record once records have begun; its mean.
    fn read(&mut self, day: usize, occasion: Occasion) -> f64 {
        let number = 4 * day + occasion as usize;
        let strokes =
            self.wear.strokes(&mut self.own.of(Purpose::Reading, number), &mut self.own.of(Purpose::Gross, number));
        let percent = strokes.iter().sum::<f64>() / strokes.len() as f64;
        if day >= self.recorded_from {
            let is_as_left = occasion == Occasion::AsLeft;
            self.noted.push(Noted { day: day as i64, percent, interval: self.interval, is_as_left });
            self.happenings.push((day as i64, Happening::Force(occasion, strokes.into())));
        }
        percent
    }

    /// A service with the readings before and after it; whether the meter was read.
    fn serve(&mut self, day: usize) -> bool {
        let mut dice = self.own.of(Purpose::Service, 2 * self.interval + 2);
        let [as_found, as_left, read_meter] = [AS_FOUND, AS_LEFT, 0.5].map(|chance| happens(&mut dice, chance));
        if as_found {
            self.read(day, Occasion::AsFound);
        }
        let is_major = self.wear.service(&mut dice);
        if day >= self.recorded_from {
            let kind = if is_major { ServiceKind::Major } else { ServiceKind::Minor };
            self.happenings.push((day as i64, Happening::Service(kind)));
        }
        self.interval += 1;
        if as_left {
            self.read(day, Occasion::AsLeft);
        }
        read_meter
    }

    /// Runs the truth on without another service.
    fn crossing(&mut self) -> Option<f64> {
        if self.wear.force < LIMIT {
            return Some(0.0);
        }
        let hours = self.hours;
        for (day, hours) in hours.iter().enumerate().skip(AS_OF).take(HORIZON) {
            self.run(day, *hours);
            if self.wear.force < LIMIT {
                // in the course of that day
                return Some((day - AS_OF) as f64 + 0.5);
            }
        }
        None
    }
}
