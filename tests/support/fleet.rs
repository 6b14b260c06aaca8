//! Generated shops of any size with ten years of history, for benches and for screens with much
//! in them. Everything in them is invented.

use almanac_core::actions::{ImportBatch, Table};
use almanac_core::ids::{MachineId, MeterReadingId, MountingId, ReadingId, Row, ServiceId, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::Moment;
use almanac_core::mounting::Mounting;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service};
use almanac_core::settings::ShopSettings;
use almanac_core::spindle::Spindle;
use almanac_core::units::{ClampCycles, Kilonewtons, Millimetres, RunHours, Unit};
use chrono::{Days, NaiveDate};

/// Chance with a seed: xorshift64*, good enough for invented wear.
#[derive(Debug)]
pub struct Dice(u64);

impl Dice {
    /// The dice of a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// Evenly from 0 to 1.
    pub fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two figures.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Roughly normal: twelve even ones.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * ((0..12).map(|_| self.unit()).sum::<f64>() - 6.0)
    }
}

/// The last day of every generated shop.
#[must_use]
pub fn last_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap_or_default()
}

const INTERFACES: [(&str, f64); 5] =
    [("HSK-A63", 18.0), ("HSK-F63", 11.0), ("HSK-A100", 45.0), ("7/24 50", 25.0), ("PSC 63", 45.0)];
const DAYS_OF_HISTORY: u64 = 3650;
const DAYS_BETWEEN_METERS: u64 = 69;

/// What a generated fleet records.
#[derive(Debug, Clone, Copy)]
pub struct Rounds {
    /// How far rounds of force readings lie apart.
    pub days_between_readings: u64,
    /// Whether the setting dimension is read with every force.
    pub reads_settings: bool,
}

impl Default for Rounds {
    fn default() -> Self {
        Self { days_between_readings: 110, reads_settings: false }
    }
}

/// One spindle's rows as they grow.
struct Life {
    spindle: SpindleId,
    position: Position,
    nominal: f64,
    hours_per_day: f64,
    cycles_per_hour: f64,
    loss_per_hour: f64,
    hours: f64,
    hours_at_service: f64,
    restored: f64,
    setting_per_hour: f64,
}

/// What the setting dimension should be, and how far it may be off, in mm.
const SETTING_MM: (f64, f64) = (10.5, 0.1);

impl Life {
    fn percent(&self) -> f64 {
        self.restored - self.loss_per_hour * (self.hours - self.hours_at_service)
    }

    fn reading(&self, day: NaiveDate, phase: Phase, dice: &mut Dice) -> Reading {
        let occasion = dice.normal(self.percent(), 0.6);
        let strokes = (0..3)
            .filter_map(|_| {
                let force = (self.nominal * dice.normal(occasion, 0.9) / 100.0).max(0.5);
                Stroke::parse(&format!("{force:.2}"), Unit::Kilonewton)
            })
            .collect();
        Reading::of(self.spindle, Moment::day(day), phase, Unit::Kilonewton, strokes)
    }

    fn setting(&self, day: NaiveDate, phase: Phase, dice: &mut Dice) -> Reading {
        let drifted = self.setting_per_hour * (self.hours - self.hours_at_service);
        let typed = format!("{:.3}", dice.normal(SETTING_MM.0 + drifted, 0.012));
        let stroke = Stroke::parse(&typed, Unit::Millimetre).into_iter().collect();
        Reading::of(self.spindle, Moment::day(day), phase, Unit::Millimetre, stroke)
    }
}

/// Rows of a shop with so many spindles, each in a machine of its own, with about 33 readings and
/// 53 meter readings over ten years.
#[must_use]
pub fn fleet(spindles: usize, seed: u64) -> ImportBatch {
    fleet_read(spindles, seed, Rounds::default())
}

/// The same with rounds of readings as asked for.
#[must_use]
pub fn fleet_read(spindles: usize, seed: u64, rounds: Rounds) -> ImportBatch {
    let mut dice = Dice::new(seed);
    let mut batch = ImportBatch {
        source: format!("generated fleet of {spindles}"),
        settings: Some(ShopSettings {
            name: format!("Invented works of {spindles} spindles"),
            as_of: Some(last_day()),
            currency: "EUR".to_owned(),
            ..ShopSettings::default()
        }),
        ..ImportBatch::default()
    };
    for number in 0..spindles {
        add_spindle(&mut batch, number, rounds, &mut dice);
    }
    batch
}

fn add_spindle(batch: &mut ImportBatch, number: usize, rounds: Rounds, dice: &mut Dice) {
    let row = number as i64 + 1;
    let (interface, nominal) = INTERFACES.get(number % INTERFACES.len()).copied().unwrap_or(("HSK-A63", 18.0));
    let hall = format!("Hall {}", number / 60 + 1);
    let machine_id = MachineId::from_row(row);
    let spindle_id = SpindleId::from_row(row);
    let first = last_day() - Days::new(DAYS_OF_HISTORY);
    let (Some(interface), Some(force)) = (Interface::parse(interface), Kilonewtons::new(nominal)) else { return };
    add(&mut batch.machines, machine_id, Machine::named(&format!("K-{row:04}"), &hall));
    let mut spindle = Spindle::named(&format!("S{row:05}"), interface, force);
    spindle.installed_on = Some(first);
    if rounds.reads_settings {
        spindle.limits.setting_dimension = Millimetres::new(SETTING_MM.0);
        spindle.limits.setting_tolerance = Millimetres::new(SETTING_MM.1);
    }
    add(&mut batch.spindles, spindle_id, spindle);
    let position = Position { machine: machine_id, number: 1 };
    add(
        &mut batch.mountings,
        MountingId::from_row(row),
        Mounting { spindle: spindle_id, position, mounted_on: first, removed_on: None },
    );
    let life = Life {
        spindle: spindle_id,
        position,
        nominal,
        hours_per_day: dice.between(4.0, 12.0),
        cycles_per_hour: dice.between(8.0, 20.0),
        loss_per_hour: dice.between(0.0035, 0.008),
        hours: 0.0,
        hours_at_service: 0.0,
        restored: dice.normal(97.0, 1.0),
        setting_per_hour: if rounds.reads_settings { dice.normal(0.0, 1.5e-5) } else { 0.0 },
    };
    live(batch, life, (first, rounds), dice);
}

/// Day by day over ten years: meters, readings, and a service whenever the force is nearly used up.
fn live(batch: &mut ImportBatch, mut life: Life, (first, rounds): (NaiveDate, Rounds), dice: &mut Dice) {
    let read = |batch: &mut ImportBatch, life: &Life, day: NaiveDate, phase: Phase, dice: &mut Dice| {
        add_reading(batch, life.reading(day, phase, dice));
        if rounds.reads_settings {
            add_reading(batch, life.setting(day, phase, dice));
        }
    };
    for day_number in 1..=DAYS_OF_HISTORY {
        let day = first + Days::new(day_number);
        if day_number % 7 < 5 {
            life.hours += life.hours_per_day * dice.between(0.7, 1.3);
        }
        if day_number % DAYS_BETWEEN_METERS == 0 {
            let meter = MeterReading {
                owner: MeterOwner::Position(life.position),
                at: Moment::day(day),
                run_hours: RunHours::new(life.hours.round()),
                clamp_cycles: ClampCycles::new((life.hours * life.cycles_per_hour).round()),
                meter_replaced: false,
                recorded_on: None,
                replaced_on: None,
            };
            let id = MeterReadingId::from_row(batch.meters.added.len() as i64 + 1);
            add(&mut batch.meters, id, meter);
        }
        if day_number % rounds.days_between_readings == 0 {
            let due = life.percent() < 82.0;
            let phase = if due { Phase::AsFound } else { Phase::Routine };
            read(batch, &life, day, phase, dice);
            if due {
                let service = Service::of(life.spindle, Moment::day(day), Kind::Minor);
                let id = ServiceId::from_row(batch.services.added.len() as i64 + 1);
                add(&mut batch.services, id, service);
                life.hours_at_service = life.hours;
                life.restored = dice.normal(96.5, 1.0);
                read(batch, &life, day, Phase::AsLeft, dice);
            }
        }
    }
}

fn add_reading(batch: &mut ImportBatch, reading: Reading) {
    let id = ReadingId::from_row(batch.readings.added.len() as i64 + 1);
    add(&mut batch.readings, id, reading);
}

fn add<I, T>(table: &mut Table<I, T>, id: I, value: T) {
    table.added.push(Row { id, value });
}
