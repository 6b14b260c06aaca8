//! What wear does to each spindle: services, the force between them and the wandering of the setting dimension.

use super::calendar::works;
use super::day::{Day, START};
use super::fleet::{Setting, Spindle, end_of, setting};
use super::random::Random;
use super::usage::Usage;

/// One service of the story.
pub(super) struct Service {
    pub(super) on: Day,
    pub(super) major: bool,
    /// Force before and after, percent of nominal.
    pub(super) found: f64,
    pub(super) left: f64,
    /// Deviation of the setting dimension before and after, mm.
    pub(super) set_found: f64,
    pub(super) set_left: f64,
}

/// A stretch of wear without a service: first exposure, level and deviation there, and their slopes per hour.
struct Stretch {
    from: f64,
    level: f64,
    rate: f64,
    deviation: f64,
    drift: f64,
}

/// The life of one spindle in the records.
pub(super) struct Life {
    pub(super) spindle: &'static Spindle,
    pub(super) services: Vec<Service>,
    stretches: Vec<Stretch>,
}

impl Life {
    /// Makes the life from the spindle's figures and the hours its machines ran.
    pub(super) fn new(spindle: &'static Spindle, usage: &Usage) -> Self {
        let mut chance = Random::new(&format!("wear {}", spindle.name));
        let mean = spindle.rate / 1_000.0;
        let days = service_days(spindle, usage, &mut chance);
        let hours: Vec<f64> = days.iter().map(|(on, _)| usage.exposure(spindle, *on)).collect();
        let drift_mean =
            setting(spindle).and_then(|s: Setting| s.drift).unwrap_or_else(|| 0.004 + 0.006 * chance.unit()) / 1_000.0;
        let mut restores = 97.8 + 0.4 * chance.bell();
        let mut since_major = 0.0;
        let mut level = restores;
        let mut deviation = 0.008 * chance.bell();
        if spindle.new_on.is_none() {
            // Found mid-life: part of the first interval is over already.
            let first = hours.first().copied().unwrap_or(0.0);
            level = (80.8 + 2.5 * chance.unit() + mean * first).min(97.0);
            deviation += 0.01 * chance.unit();
        }
        let mut life = Self { spindle, services: Vec::new(), stretches: Vec::new() };
        let mut from = 0.0;
        for (at, ((on, major), until)) in days.iter().zip(&hours).enumerate() {
            let last = at + 1 == days.len();
            let stretch = until - from;
            let usual = mean * stretch * (1.0 + 0.11 * chance.bell());
            let began = at.checked_sub(1).and_then(|before| days.get(before));
            let lost = match (spindle.fast, began) {
                (Some((since, rate)), Some((began, _))) if since == *began => rate / 1_000.0 * stretch,
                _ => usual,
            };
            let found = (level - lost).clamp(77.6 + 2.6 * chance.unit(), level);
            // A wandering that the story wants belongs to the present; it was slower before.
            let earlier = if spindle.drift.is_some() { 0.7 } else { 1.0 };
            let drift = drift_mean * earlier * (1.0 + 0.25 * chance.bell());
            let rate = if stretch > 1.0 { (level - found) / stretch } else { mean };
            life.stretches.push(Stretch { from, level, rate, deviation, drift });
            let set_found = deviation + drift * stretch;
            if *major {
                restores = 98.0 + 0.4 * chance.bell();
                since_major = *until;
            }
            let target = restores - spindle.lasting * (until - since_major) / 1_000.0 + 0.45 * chance.bell();
            let left = match spindle.last {
                Some((_, wanted)) if last => wanted,
                _ => target,
            };
            let set_left = 0.007 * chance.bell();
            life.services.push(Service { on: *on, major: *major, found, left, set_found, set_left });
            (from, level, deviation) = (*until, left, set_left);
        }
        let rest = usage.exposure(spindle, end_of(spindle)) - from;
        let dropped = spindle.step.map_or(0.0, |(_, drop)| drop);
        let rate = if rest > 1.0 { (level - dropped - spindle.now) / rest } else { mean };
        life.stretches.push(Stretch { from, level, rate, deviation, drift: drift_mean });
        life
    }

    /// Force in percent of nominal on a day without service (with one: after it).
    pub(super) fn force(&self, usage: &Usage, on: Day) -> f64 {
        let dropped = self.spindle.step.filter(|(since, _)| on >= *since).map_or(0.0, |(_, drop)| drop);
        let (stretch, hours) = self.at(usage, on);
        stretch.level - stretch.rate * hours - dropped
    }

    /// Deviation of the setting dimension, mm.
    pub(super) fn deviation(&self, usage: &Usage, on: Day) -> f64 {
        let (stretch, hours) = self.at(usage, on);
        stretch.deviation + stretch.drift * hours
    }

    /// The stretch in force on that day and the hours run in it.
    fn at(&self, usage: &Usage, on: Day) -> (&Stretch, f64) {
        let number = self.services.iter().filter(|service| service.on <= on).count();
        let stretch = &self.stretches[number.min(self.stretches.len() - 1)];
        (stretch, usage.exposure(self.spindle, on) - stretch.from)
    }
}

/// The days of all services, each with whether it was a major one.
fn service_days(spindle: &Spindle, usage: &Usage, chance: &mut Random) -> Vec<(Day, bool)> {
    let Some((last, _)) = spindle.last else { return Vec::new() };
    let mut days = spindle.services.to_vec();
    if days.is_empty() {
        let total = usage.exposure(spindle, last);
        let usual = spindle.usual_loss / (spindle.rate / 1_000.0);
        let first = usual * if spindle.new_on.is_some() { 1.0 } else { chance.between(0.25, 0.9) };
        let count = ((total - first) / usual + 0.5).max(0.0) as i32;
        // Stretch or squeeze the intervals so that they fill the time.
        let squeeze = total / (first + usual * f64::from(count));
        for number in 0..count {
            let wanted = squeeze * (first + usual * (f64::from(number) + 0.12 * chance.bell()));
            days.push(serviced_on(spindle, usage, wanted, chance));
        }
        days.sort();
        days.dedup();
        days.retain(|on| *on > START.plus(10) && *on < last.plus(-60));
    }
    days.push(last);
    let all = days.len();
    days.into_iter().enumerate().map(|(at, on)| (on, spindle.major.contains(&(all - at)))).collect()
}

/// The Saturday (now and then another day) on which so many hours were run.
fn serviced_on(spindle: &Spindle, usage: &Usage, hours: f64, chance: &mut Random) -> Day {
    let mut on = START;
    while usage.exposure(spindle, on) < hours && on < end_of(spindle) {
        on = on.plus(1);
    }
    if chance.chance(0.78) {
        on = on.next(5);
    }
    // Nobody works between Christmas and New Year; a weekday service needs a running shop.
    while (on.month() == 12 && on.date().2 >= 23)
        || (on.month() == 1 && on.date().2 <= 3)
        || (on.weekday() != 5 && !works(on))
    {
        on = on.plus(1);
    }
    on
}
