//! How long a simulated spindle really ran, day by day.

use super::chance::{exponential, gamma, happens, normal};
use super::fleet::{AS_OF, DAYS, day_weight};
use super::truth::{LATELY_DAYS, Truth};
use crate::fleet::Dice;

/// Lasting changes of usage per year.
const CHANGES_PER_YEAR: f64 = 0.4;
/// Log spread of first levels between spindles, and of the factor of a lasting change.
const LEVELS: (f64, f64) = (0.30, 0.40);
/// Of changes of late, so many are short time.
const SHORT_TIME: f64 = 0.75;
/// Stoppages per year (repair, no orders), and their mean length in days.
const STOPPAGES: (f64, f64) = (0.4, 15.0);
/// Scatter of months: how much of it stays to the next one, and what comes new.
const MONTHS: (f64, f64) = (0.5, 0.12);
/// Shape of the gamma law of one day: a relative scatter of 0.35.
const DAY_SHAPE: f64 = 8.0;

/// Run hours of each day of the calendar.
///
/// A level that changes for good at random moments, the fleet's season, months that scatter,
/// stoppages, and days by the gamma law. Saturdays are worked by chance, as often as the calendar says.
/// A change of late has dice of its own, so that all else is the same with and without one.
#[must_use]
pub fn daily_hours(truth: &Truth, dice: &mut Dice, of_late: &mut Dice) -> Vec<f64> {
    let usual = 8.0 * (LEVELS.0 * normal(dice)).exp();
    // within reason over the years: no spindle runs for minutes a day or round the clock
    let within = |level: f64| level.clamp((usual / 2.5).max(1.5), (usual * 2.5).min(20.0));
    let days_to = |dice: &mut Dice, per_year: f64| 365.0 * exponential(dice) / per_year;
    let mut level = usual;
    let mut change = days_to(dice, CHANGES_PER_YEAR);
    let mut stop = days_to(dice, STOPPAGES.0);
    let mut runs_again = 0.0;
    let mut month = 0.0;
    let lately =
        happens(of_late, truth.changed_lately).then(|| AS_OF as f64 - of_late.between(LATELY_DAYS.0, LATELY_DAYS.1));
    // short time for most, a second shift for others
    let factor = if happens(of_late, SHORT_TIME) { of_late.between(0.45, 0.75) } else { of_late.between(1.4, 2.0) };
    let mut is_changed = false;
    let mut hours = Vec::with_capacity(DAYS);
    for number in 0..DAYS {
        let day = number as f64;
        if number % 30 == 0 {
            month = MONTHS.0 * month + MONTHS.1 * (1.0 - MONTHS.0 * MONTHS.0).sqrt() * normal(dice);
        }
        if day >= change {
            level = within(level * (LEVELS.1 * normal(dice)).exp());
            change += days_to(dice, CHANGES_PER_YEAR);
        }
        if !is_changed && lately.is_some_and(|from| day >= from) {
            level = within(level * factor);
            is_changed = true;
        }
        if day >= stop {
            runs_again = stop + STOPPAGES.1 * exponential(dice);
            stop = runs_again + days_to(dice, STOPPAGES.0);
        }
        let weight = day_weight(number);
        let works = weight > 0.0 && (weight >= 1.0 || happens(dice, weight));
        if !works || day < runs_again {
            hours.push(0.0);
            continue;
        }
        let season = 1.0 + truth.season.0 * (std::f64::consts::TAU * (day - truth.season.1) / 365.0).cos();
        let scatter = gamma(dice, DAY_SHAPE) / DAY_SHAPE;
        hours.push((level * season * (1.0 + month) * scatter).clamp(0.0, 24.0));
    }
    hours
}
