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
            let own = |purpose: u64| dice(seed, &[row, fleet, 1 + spindle as u64, purpose]);
            let hours = daily_hours(&truth, &mut own(1));
            Life::new(&truth, &hours, own(2), own(3)).finish(calendar)
        })
        .collect();
    let counted = simulated.iter().map(|s| {
        let last = |curve: &Curve| curve.sums.last().copied().unwrap_or(0.0);
        (last(&s.observed.exposure.hours), last(&s.observed.exposure.cycles))
    });
    let cycles_per_hour = cycles_per_hour(counted);
    Fleet { truth, spindles: simulated, cycles_per_hour }
}

/// A force reading that is not as-left, when this share of services has one; and the as-left one.
const AS_FOUND: f64 = 0.85;
const AS_LEFT: f64 = 0.85;
/// Days between routine readings (every two to four months), and between meter rounds.
const ROUTINE_DAYS: (f64, f64) = (60.0, 120.0);
const METER_DAYS: (f64, f64) = (42.0, 72.0);
/// A service is planned by run hours: middle and log spread.
const PLANNED_HOURS: (f64, f64) = (3_300.0, 0.25);
/// A routine reading below this has a service follow within weeks.
const SERVICE_BELOW: f64 = 82.0;
/// One spindle in five was found mid-life when records began.
const FOUND_MID_LIFE: f64 = 0.2;

/// One spindle's life as it unfolds.
struct Life<'a> {
    truth: &'a Truth,
    hours: &'a [f64],
    wear: Wear<'a>,
    /// Dice of wear and readings, and of dates and meters.
    chance: Dice,
    dates: Dice,
    installed: usize,
    recorded_from: usize,
    cycles_per_hour: f64,
    meter: Vec<(i64, f64, f64)>,
    happenings: Vec<(i64, Happening)>,
    noted: Vec<Noted>,
    interval: usize,
}

impl<'a> Life<'a> {
    fn new(truth: &'a Truth, hours: &'a [f64], mut chance: Dice, mut dates: Dice) -> Self {
        let age = if truth.is_young { dates.between(40.0, 450.0) } else { dates.between(1_500.0, 3_600.0) };
        let installed = AS_OF - age as usize;
        let mid_life = !truth.is_young && happens(&mut dates, FOUND_MID_LIFE);
        let recorded_from = if mid_life { installed + dates.between(200.0, 900.0) as usize } else { installed };
        let cycles_per_hour = truth.cycles_per_hour * (0.3 * normal(&mut dates)).exp();
        Self {
            truth,
            hours,
            wear: Wear::new(truth, &mut chance),
            chance,
            dates,
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
                        service_on = now + self.dates.between(5.0, 40.0);
                    }
                    read_meter |= happens(&mut self.dates, 0.5);
                    next_reading = now + self.routine_gap();
                }
                if self.wear.since_service >= planned || now >= service_on {
                    self.serve(day);
                    read_meter |= happens(&mut self.dates, 0.5);
                    planned = self.plan();
                    service_on = f64::INFINITY;
                    next_reading = now + self.routine_gap();
                }
            }
            if read_meter && day >= self.recorded_from {
                self.meter.push((day as i64, counters.0, counters.1));
                // a round is forgotten now and then
                let rounds = if happens(&mut self.dates, 0.05) { 2.0 } else { 1.0 };
                next_meter = now + rounds * self.dates.between(METER_DAYS.0, METER_DAYS.1);
            }
            // the as-of morning comes before its day's work
            if day < AS_OF {
                self.wear.run(*hours, &mut self.chance);
                let per_hour = self.cycles_per_hour * (1.0 + 0.15 * normal(&mut self.dates));
                counters = (counters.0 + hours, counters.1 + hours * per_hour.max(0.0));
            }
        }
        for shown in &mut self.meter {
            *shown = (shown.0, shown.1.floor(), shown.2.floor());
        }
    }

    fn routine_gap(&mut self) -> f64 {
        self.dates.between(ROUTINE_DAYS.0, ROUTINE_DAYS.1)
    }

    /// Exposure after which the next service is planned.
    fn plan(&mut self) -> f64 {
        PLANNED_HOURS.0 / 2000.0 * (PLANNED_HOURS.1 * normal(&mut self.dates)).exp()
    }

    /// The days of the readings of a young spindle: none to two, the first of two often on the day
    /// of installation.
    fn few_readings(&mut self) -> Vec<usize> {
        let count = (3.0 * self.dates.unit()) as usize;
        let age = (AS_OF - self.installed) as f64;
        let mut days: Vec<usize> =
            (0..count).map(|_| self.installed + (age * self.dates.between(0.1, 1.0)) as usize).collect();
        days.sort_unstable();
        if let Some(first) = days.first_mut()
            && happens(&mut self.dates, 0.5)
        {
            *first = self.installed;
        }
        days
    }

    /// A reading, put on record once records have begun; its mean.
    fn read(&mut self, day: usize, occasion: Occasion) -> f64 {
        let strokes = self.wear.strokes(&mut self.chance);
        let percent = strokes.iter().sum::<f64>() / strokes.len() as f64;
        if day >= self.recorded_from {
            let is_as_left = occasion == Occasion::AsLeft;
            self.noted.push(Noted { day: day as i64, percent, interval: self.interval, is_as_left });
            self.happenings.push((day as i64, Happening::Force(occasion, strokes)));
        }
        percent
    }

    /// A service with the readings before and after it.
    fn serve(&mut self, day: usize) {
        if happens(&mut self.dates, AS_FOUND) {
            self.read(day, Occasion::AsFound);
        }
        let is_major = self.wear.service(&mut self.chance);
        if day >= self.recorded_from {
            let kind = if is_major { ServiceKind::Major } else { ServiceKind::Minor };
            self.happenings.push((day as i64, Happening::Service(kind)));
        }
        self.interval += 1;
        if happens(&mut self.dates, AS_LEFT) {
            self.read(day, Occasion::AsLeft);
        }
    }

    /// Runs the truth on without another service.
    fn crossing(&mut self) -> Option<f64> {
        if self.wear.force < LIMIT {
            return Some(0.0);
        }
        for (ahead, hours) in self.hours.iter().skip(AS_OF).take(HORIZON).enumerate() {
            self.wear.run(*hours, &mut self.chance);
            if self.wear.force < LIMIT {
                // in the course of that day
                return Some(ahead as f64 + 0.5);
            }
        }
        None
    }
}
