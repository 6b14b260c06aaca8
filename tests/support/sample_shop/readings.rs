//! The readings: rounds through the halls, as found and as left at every service, and the days on which something went wrong.

use super::calendar::closed;
use super::csv::Table;
use super::day::{AS_OF, Day, START, day};
use super::fleet::{MACHINES, Setting, Spindle, nominal, setting};
use super::notes::{TECHNICIANS, of_reading};
use super::random::Random;
use super::usage::Usage;
use super::wear::Life;

/// One row of `readings.csv`.
#[derive(Clone)]
pub(super) struct Reading {
    pub(super) spindle: &'static str,
    pub(super) on: Day,
    /// 0 routine, 1 as found, 2 as left: the order within a day.
    pub(super) phase: usize,
    pub(super) force: bool,
    pub(super) unit: &'static str,
    pub(super) strokes: Vec<String>,
    pub(super) meter: Option<(u64, u64)>,
    pub(super) gauge: &'static str,
    pub(super) zero: &'static str,
    pub(super) technician: &'static str,
    pub(super) note: String,
    pub(super) recorded_on: Option<Day>,
    pub(super) replaced_on: Option<Day>,
}

/// How a visit measures: with what, by whom, which way.
struct Visit {
    on: Day,
    phase: usize,
    technician: &'static str,
    gauge: &'static str,
    setting_gauge: &'static str,
}

/// The rounds of a hall: about every six to eleven weeks, none in August or over Christmas.
fn rounds(hall: &str) -> Vec<Day> {
    let latest: &[Day] = match hall {
        "Router hall" => &[day(2025, 7, 2), day(2025, 9, 17), day(2025, 11, 26), day(2026, 1, 14), day(2026, 2, 18)],
        "Mould hall" => &[day(2025, 6, 24), day(2025, 9, 9), day(2025, 11, 4), day(2025, 12, 16), day(2026, 2, 10)],
        _ => &[day(2025, 7, 8), day(2025, 9, 23), day(2025, 11, 12), day(2026, 1, 13), day(2026, 2, 24)],
    };
    let mut chance = Random::new(&format!("rounds {hall}"));
    let mut days = Vec::new();
    let mut on = START.plus(chance.whole(4, 20));
    while on < latest[0].plus(-36) {
        while on.weekday() > 4 || on.month() == 8 || closed(on) {
            on = on.plus(1);
        }
        days.push(on);
        // Every eighth round falls out altogether.
        let weeks = if chance.chance(0.12) { 14 } else { chance.whole(6, 10) };
        on = on.plus(7 * weeks + chance.whole(-2, 4));
    }
    days.retain(|on| *on < latest[0].plus(-36));
    days.extend(latest);
    days
}

/// Which force gauge lay on the cart that day.
fn force_gauge(hall: &str, on: Day, chance: &mut Random) -> &'static str {
    if on >= day(2025, 12, 1) {
        // G-03 shows lbf and lives in Turning hall; Mould hall still takes G-01, whose calibration ran out.
        return match hall {
            "Router hall" => "G-02",
            "Mould hall" => "G-01",
            _ => "G-03",
        };
    }
    let roll = chance.unit();
    match hall {
        "Router hall" => {
            if roll < 0.8 {
                "G-02"
            } else {
                "G-01"
            }
        }
        "Mould hall" => {
            if roll < 0.75 {
                "G-01"
            } else {
                "G-02"
            }
        }
        _ => {
            if on >= day(2023, 4, 1) && roll < 0.55 {
                "G-03"
            } else {
                "G-01"
            }
        }
    }
}

/// Measures the force: 2 to 5 strokes as the gauge shows them.
fn force_reading(life: &Life, percent: f64, visit: &Visit, chance: &mut Random) -> Reading {
    let spindle = life.spindle;
    let occasion = 1.0 + 0.0068 * chance.bell();
    let roll = chance.unit();
    let count = if roll < 0.2 {
        2
    } else if roll < 0.84 {
        3
    } else if roll < 0.97 {
        4
    } else {
        5
    };
    let pounds = visit.gauge == "G-03";
    let small = nominal(spindle.interface) < 12.0;
    let strokes = (0..count)
        .map(|_| {
            let kn = nominal(spindle.interface) * percent / 100.0 * occasion * (1.0 + 0.0088 * chance.bell());
            if pounds {
                format!("{:.0}", 10.0 * (kn * 22.480_894_31 + 0.5).floor())
            } else if small {
                format!("{:.2}", (kn * 20.0 + 0.5).floor() / 20.0)
            } else {
                format!("{:.1}", (kn * 10.0 + 0.5).floor() / 10.0)
            }
        })
        .collect();
    let roll = chance.unit();
    let zero = if roll < 0.82 {
        "yes"
    } else if roll < 0.9 {
        "no"
    } else {
        ""
    };
    Reading {
        spindle: spindle.name,
        on: visit.on,
        phase: visit.phase,
        force: true,
        unit: if pounds { "lbf" } else { "kN" },
        strokes,
        meter: None,
        gauge: visit.gauge,
        zero,
        technician: visit.technician,
        note: of_reading(chance).to_owned(),
        recorded_on: None,
        replaced_on: None,
    }
}

/// Measures the setting dimension, usually twice.
fn setting_reading(spindle: &Spindle, set: &Setting, deviation: f64, visit: &Visit, chance: &mut Random) -> Reading {
    let inches = visit.setting_gauge == "D-02";
    let count = if chance.chance(0.75) { 2 } else { 1 };
    let occasion = 0.004 * chance.bell();
    let strokes = (0..count)
        .map(|_| {
            let mm = set.wanted + deviation + occasion + 0.003 * chance.bell();
            if inches {
                // Reads to half a thousandth.
                format!("{:.4}", (mm / 25.4 * 2_000.0 + 0.5).floor() / 2_000.0)
            } else {
                format!("{:.2}", (mm * 100.0 + 0.5).floor() / 100.0)
            }
        })
        .collect();
    Reading {
        spindle: spindle.name,
        on: visit.on,
        phase: visit.phase,
        force: false,
        unit: if inches { "in" } else { "mm" },
        strokes,
        meter: None,
        gauge: visit.setting_gauge,
        zero: "yes",
        technician: visit.technician,
        note: String::new(),
        recorded_on: None,
        replaced_on: None,
    }
}

/// The position meter of the spindle on that day, where it stands in a machine that has one.
fn meter(spindle: &Spindle, usage: &Usage, on: Day) -> Option<(u64, u64)> {
    let (machine, position, _, _) =
        spindle.stays.iter().find(|(_, _, from, to)| *from <= on && to.is_none_or(|to| on < to))?;
    (*machine != "R-10").then(|| usage.of(machine).shown(*position, on))
}

/// The readings of all rounds.
fn routine(lives: &[Life], usage: &Usage, rows: &mut Vec<Reading>) {
    for hall in ["Router hall", "Mould hall", "Turning hall"] {
        let mut day_chance = Random::new(&format!("round visits {hall}"));
        for on in rounds(hall) {
            let technician = match (on == day(2026, 2, 18) || on == day(2026, 1, 14), hall) {
                (true, "Router hall") => "Thorne",
                _ => day_chance.pick(&TECHNICIANS),
            };
            let gauge = force_gauge(hall, on, &mut day_chance);
            // Aldous likes the inch dial.
            let setting_gauge = if technician == "Aldous" && day_chance.chance(0.5) { "D-02" } else { "D-01" };
            for life in lives {
                let Some((machine, ..)) = standing(life.spindle, on) else { continue };
                if MACHINES.iter().all(|known| known.name != machine || known.hall != hall) || machine == "R-10" {
                    continue;
                }
                let visit = Visit { on, phase: 0, technician, gauge, setting_gauge };
                round_visit(life, usage, &visit, rows);
            }
        }
    }
}

/// The machine and position where a spindle stands that day.
pub(super) fn standing(spindle: &Spindle, on: Day) -> Option<(&'static str, usize)> {
    spindle
        .stays
        .iter()
        .find(|(_, _, from, to)| *from <= on && to.is_none_or(|to| on < to))
        .map(|(machine, position, ..)| (*machine, *position))
}

/// Spindles that stood under a workpiece all day.
const PASSED_BY: [(&str, Day); 2] = [("S-0125", day(2022, 1, 17)), ("S-0125", day(2022, 3, 21))];

/// One spindle on one round: force nearly always, setting dimension now and then.
fn round_visit(life: &Life, usage: &Usage, visit: &Visit, rows: &mut Vec<Reading>) {
    let spindle = life.spindle;
    let mut chance = Random::new(&format!("round {} {}", spindle.name, visit.on));
    // Just serviced, or passed by: machine busy, nobody there with the key.
    let fresh = life.services.iter().any(|service| (visit.on.0 - service.on.0).abs() < 5);
    if fresh || PASSED_BY.contains(&(spindle.name, visit.on)) || (visit.on < day(2025, 9, 1) && chance.chance(0.11)) {
        return;
    }
    let mut force = force_reading(life, life.force(usage, visit.on), visit, &mut chance);
    if chance.chance(0.6) {
        force.meter = meter(spindle, usage, visit.on);
    }
    rows.push(force);
    if let Some(set) = setting(spindle) {
        let often = if spindle.drift.is_some() { 0.85 } else { 0.3 };
        if chance.chance(often) {
            rows.push(setting_reading(spindle, &set, life.deviation(usage, visit.on), visit, &mut chance));
        }
    }
}

/// The readings before and after every service.
fn at_services(lives: &[Life], usage: &Usage, rows: &mut Vec<Reading>) {
    for life in lives {
        for service in &life.services {
            let spindle = life.spindle;
            let mut chance = Random::new(&format!("service {} {}", spindle.name, service.on));
            let technician = led_by(spindle, service.on, service.major);
            let hall = standing(spindle, service.on).map_or("", |(machine, _)| hall_of(machine));
            let gauge = force_gauge(hall, service.on, &mut chance);
            let mut visit = Visit { on: service.on, phase: 1, technician, gauge, setting_gauge: "D-01" };
            let mounted = !hall.is_empty();
            if mounted {
                let mut found = force_reading(life, service.found, &visit, &mut chance);
                found.meter = meter(spindle, usage, service.on);
                rows.push(found);
            }
            visit.phase = 2;
            rows.push(force_reading(life, service.left, &visit, &mut chance));
            let Some(set) = setting(spindle) else { continue };
            if chance.chance(0.6) && mounted {
                visit.phase = 1;
                rows.push(setting_reading(spindle, &set, service.set_found, &visit, &mut chance));
            }
            if chance.chance(0.9) {
                visit.phase = 2;
                rows.push(setting_reading(spindle, &set, service.set_left, &visit, &mut chance));
            }
        }
    }
}

/// The hall of a machine.
pub(super) fn hall_of(machine: &str) -> &'static str {
    MACHINES.iter().find(|known| known.name == machine).map_or("", |known| known.hall)
}

/// Who did the service of a spindle on that day.
pub(super) fn led_by(spindle: &Spindle, on: Day, major: bool) -> &'static str {
    if spindle.name == "S-0117" && on >= day(2022, 1, 1) {
        return "Thorne";
    }
    // Aldous has not learned the major service.
    let able = if major { &TECHNICIANS[..3] } else { &TECHNICIANS[..] };
    Random::new(&format!("who {} {on}", spindle.name)).pick(able)
}

/// All readings, by day, spindle and phase, with the slips and specials of the story.
pub(super) fn readings(lives: &[Life], usage: &Usage) -> Vec<Reading> {
    let mut rows = Vec::new();
    routine(lives, usage, &mut rows);
    at_services(lives, usage, &mut rows);
    super::slips::apply(lives, usage, &mut rows);
    rows.sort_by(|a, b| (a.on, a.spindle, a.phase, !a.force).cmp(&(b.on, b.spindle, b.phase, !b.force)));
    rows
}

/// A routine force reading outside the rounds.
pub(super) fn extra(life: &Life, usage: &Usage, on: Day, technician: &'static str, gauge: &'static str) -> Reading {
    let mut chance = Random::new(&format!("extra {} {on}", life.spindle.name));
    let visit = Visit { on, phase: 0, technician, gauge, setting_gauge: "D-01" };
    let mut reading = force_reading(life, life.force(usage, on), &visit, &mut chance);
    reading.meter = meter(life.spindle, usage, on);
    reading.note = String::new();
    reading
}

/// `readings.csv`.
pub(super) fn table(rows: &[Reading]) -> String {
    let mut table = Table::new(
        "spindle,date,phase,quantity,unit,stroke_1,stroke_2,stroke_3,stroke_4,stroke_5,run_hours,clamp_cycles,\
         gauge,zero_checked,technician,note,recorded_on,replaced_on,doubt",
    );
    for row in rows {
        let date = |on: Option<Day>| on.map_or_else(String::new, |on| on.to_string());
        let mut fields = vec![
            row.spindle.to_owned(),
            row.on.min(AS_OF).to_string(),
            ["routine", "as_found", "as_left"][row.phase].to_owned(),
            if row.force { "clamp_force" } else { "setting_dimension" }.to_owned(),
            row.unit.to_owned(),
        ];
        fields.extend((0..5).map(|at| row.strokes.get(at).cloned().unwrap_or_default()));
        let (hours, cycles) = row.meter.map_or_else(Default::default, |(h, c)| (h.to_string(), c.to_string()));
        fields.extend([hours, cycles]);
        fields.extend([row.gauge, row.zero, row.technician, &row.note].map(str::to_owned));
        fields.extend([date(row.recorded_on), date(row.replaced_on)]);
        table.row(&fields);
    }
    table.finish()
}
