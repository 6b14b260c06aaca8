//! How long the machines ran and what their meters showed: run hours and clamp cycles, day by day.

use super::calendar::{closed, works};
use super::csv::Table;
use super::day::{AS_OF, Day, START, day};
use super::fleet::{MACHINES, Machine, Spindle};
use super::random::Random;

/// The position meter of this machine was replaced on that day.
const REPLACED: (&str, Day) = ("M-07", day(2024, 11, 13));

/// Run hours of one machine, summed up to each morning of the records.
pub(super) struct Clock {
    machine: &'static Machine,
    sum: Vec<f64>,
}

impl Clock {
    /// Runs a machine through the records.
    fn new(machine: &'static Machine) -> Self {
        let mut chance = Random::new(&format!("usage {}", machine.name));
        let mut sum = vec![0.0];
        let mut total = 0.0;
        let mut month = 0.0;
        for on in (START.0..AS_OF.0).map(Day) {
            if on.date().2 == 1 {
                month = 0.65 * month + 0.05 * chance.bell();
            }
            let idle = chance.chance(0.02);
            let noise = 1.0 + 0.16 * chance.bell();
            if works(on) && on >= machine.since && !idle {
                let level = machine.earlier.iter().find(|(until, _)| on < *until).map_or(1.0, |(_, factor)| *factor);
                total += (machine.hours * level * (1.0 + month) * season(on) * noise).clamp(0.5, 22.0);
            }
            sum.push(total);
        }
        Self { machine, sum }
    }

    /// Hours run since the records began, on the morning of that day.
    pub(super) fn hours(&self, on: Day) -> f64 {
        let last = self.sum.len() - 1;
        self.sum[((on.0 - START.0).max(0) as usize).min(last)]
    }

    /// What the meters of a position show that morning: run hours and clamp cycles, whole as on the display.
    pub(super) fn shown(&self, position: usize, on: Day) -> (u64, u64) {
        let per_hour = self.machine.cycles[position - 1];
        let (name, replaced) = REPLACED;
        let hours = if name == self.machine.name {
            if on < replaced { 17_480.0 + self.hours(on) } else { self.hours(on) - self.hours(replaced) }
        } else {
            self.machine.meter - self.hours(AS_OF) + self.hours(on)
        };
        // Counters of cycles were fitted together with the machines, so they show the cycles of all hours.
        (hours.max(0.0) as u64, (hours.max(0.0) * per_hour) as u64)
    }
}

/// A quieter July and December, a busy spring and autumn.
fn season(on: Day) -> f64 {
    const BY_MONTH: [f64; 12] = [0.98, 1.0, 1.02, 1.03, 1.01, 1.0, 0.96, 0.98, 1.02, 1.03, 1.02, 0.95];
    BY_MONTH[(on.month() - 1) as usize]
}

/// The clocks of all machines.
pub(super) struct Usage(Vec<Clock>);

impl Usage {
    /// Runs the whole shop.
    pub(super) fn new() -> Self {
        Self(MACHINES.iter().map(Clock::new).collect())
    }

    /// The clock of a machine.
    pub(super) fn of(&self, machine: &str) -> &Clock {
        let at = MACHINES.iter().position(|known| known.name == machine).unwrap_or(0);
        &self.0[at]
    }

    /// Hours a spindle ran up to the morning of that day, summed over its stays.
    pub(super) fn exposure(&self, spindle: &Spindle, on: Day) -> f64 {
        let mut hours = 0.0;
        for (machine, _, from, to) in spindle.stays {
            let until = to.map_or(on, |to| to.min(on));
            if until > *from {
                hours += self.of(machine).hours(until) - self.of(machine).hours(*from);
            }
        }
        hours
    }

    /// `meters.csv`: about once a month per hall, now and then forgotten.
    pub(super) fn meters(&self) -> String {
        let mut rows = Vec::new();
        for hall in ["Router hall", "Mould hall", "Turning hall"] {
            let mut chance = Random::new(&format!("meter days {hall}"));
            let mut on = START;
            let mut days = vec![START];
            while on < AS_OF.plus(-20) {
                on = on.plus(chance.whole(26, 36));
                while on.weekday() > 4 || closed(on) {
                    on = on.plus(1);
                }
                days.push(on.min(AS_OF.plus(-3)));
            }
            days.dedup();
            for machine in MACHINES.iter().filter(|machine| machine.hall == hall) {
                self.meter_rows(machine, &days, &mut rows);
            }
        }
        rows.sort();
        let mut table = Table::new("machine,position,spindle,date,run_hours,clamp_cycles,meter_replaced,recorded_on");
        for row in rows {
            table.row(&row.1);
        }
        table.finish()
    }

    /// The rows of one machine, sorted by day, machine and position.
    fn meter_rows(&self, machine: &Machine, days: &[Day], rows: &mut Vec<(String, [String; 8])>) {
        let clock = self.of(machine.name);
        if machine.name == "R-10" {
            // No meter at the machine: the new spindle counts for itself.
            for on in [machine.since, day(2026, 2, 9), day(2026, 2, 27)] {
                let (hours, cycles) = clock.shown(1, on);
                let row = ["", "", "S-0144", &on.to_string(), &hours.to_string(), &cycles.to_string(), "", ""];
                rows.push((format!("{on} R-10"), row.map(str::to_owned)));
            }
            return;
        }
        for position in 1..=machine.positions {
            let mut chance = Random::new(&format!("meters {} {position}", machine.name));
            let mut own = days.to_vec();
            own.retain(|on| *on > machine.since);
            let last = own.last().copied();
            own.retain(|on| Some(*on) == last || !chance.chance(0.07));
            own.push(machine.since);
            let replaced = machine.name == REPLACED.0;
            if replaced {
                own.push(REPLACED.1.plus(-1));
                own.push(REPLACED.1);
            }
            own.sort();
            own.dedup();
            for on in own {
                let (hours, cycles) = clock.shown(position, on);
                let flag = if replaced && on == REPLACED.1 { "yes" } else { "" };
                let late =
                    if chance.chance(0.01) && on < AS_OF.plus(-9) { on.plus(5).to_string() } else { String::new() };
                let row = [
                    machine.name,
                    &position.to_string(),
                    "",
                    &on.to_string(),
                    &hours.to_string(),
                    &cycles.to_string(),
                    flag,
                    &late,
                ];
                rows.push((format!("{on} {} {position}", machine.name), row.map(str::to_owned)));
            }
        }
    }
}
