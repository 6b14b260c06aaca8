//! What acting too early, too late, and taking a reading cost in a shop.

use super::super::SpindleForecast;
use super::super::model::next_reading::ActingCost;
use crate::part::ServiceKind;
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use chrono::NaiveDate;

/// Days between services where the shop says nothing (common practice, no source).
const USUAL_INTERVAL_DAYS: f64 = 365.0;
/// Mean length of a month of the Gregorian calendar.
const DAYS_PER_MONTH: f64 = 30.436_875;
/// Minutes that a technician takes for one reading on a round (common practice, no source).
const READING_MINUTES: f64 = 5.0;
/// Run hours per working day where nothing is known (common practice, no source).
const USUAL_HOURS: f64 = 8.0;

/// A day of service life given away is worth what a service costs by the usual interval. A day
/// below a limit costs what the machine says, else so much that the cheapest day is that on which
/// the accepted risk is reached (the newsvendor's share: Arrow, Harris and Marschak 1951). A day
/// below the stop limit costs the machine's standstill over its run hours.
pub(super) fn acting(
    shop: &Shop,
    spindle: &Spindle,
    forecast: &SpindleForecast,
    accepted_risk: f64,
    as_of: NaiveDate,
) -> ActingCost {
    let kind = match (forecast.major_service_by, forecast.service_by) {
        (Some(major), Some(by)) if major <= by => Kind::Major,
        _ => Kind::Minor,
    };
    let early = service_cost(shop, spindle, kind) / interval_days(shop, spindle, forecast);
    let machine = shop.position_on(forecast.spindle, as_of).and_then(|position| shop.machines.get(&position.machine));
    let below = machine.and_then(|machine| machine.day_below_cost).map(crate::units::Money::get);
    let hours = forecast.hours_per_day.map_or(USUAL_HOURS, crate::units::RunHours::get);
    let working = shop.settings.weekday_weights.iter().sum::<f64>() / 7.0;
    let stop = machine.and_then(|machine| machine.stop_cost_per_hour).map_or(0.0, crate::units::Money::get);
    ActingCost {
        early,
        below: below.unwrap_or(early * (1.0 - accepted_risk) / accepted_risk),
        stopped: stop * hours * working,
    }
}

/// Kit and labour of one service.
fn service_cost(shop: &Shop, spindle: &Spindle, kind: Kind) -> f64 {
    let lines = shop.kit_lines.iter().filter(|line| line.kind == kind && line.interface == spindle.interface);
    let kit: f64 = lines
        .filter_map(|line| {
            let part = shop.parts.iter().find(|part| part.name == line.value.part)?;
            Some(line.quantity.max(0.0) * part.price?.get())
        })
        .sum();
    let said = shop.service_kinds.iter().find(|row| row.kind == kind && row.interface == spindle.interface);
    let minutes = said.map_or_else(|| ServiceKind::usual_minutes(kind), |row| row.minutes);
    let crew = said.map_or(1, |row| row.crew);
    kit + shop.settings.labour_per_hour.get() * f64::from(crew) * minutes.get() / 60.0
}

/// The calendar interval, else the middle between the services of the interface, else a year.
fn interval_days(shop: &Shop, spindle: &Spindle, forecast: &SpindleForecast) -> f64 {
    if let Some(months) = &forecast.limits.every_months
        && 0 < months.value
    {
        return f64::from(months.value) * DAYS_PER_MONTH;
    }
    let mut between: Vec<f64> = shop
        .spindles
        .iter()
        .filter(|(_, other)| other.interface == spindle.interface)
        .flat_map(|(id, _)| shop.services_of(*id).windows(2))
        .filter_map(|pair| match pair {
            [a, b] => Some((b.at.date - a.at.date).num_days() as f64),
            _ => None,
        })
        .filter(|days| 0.0 < *days)
        .collect();
    crate::exposure::usage::median(&mut between).unwrap_or(USUAL_INTERVAL_DAYS)
}

/// What one reading more on a round costs: a technician's minutes. The round is walked anyway, so its
/// visit is paid, and the machine is taken to stand between two jobs.
pub(super) fn taking(shop: &Shop) -> f64 {
    shop.settings.labour_per_hour.get() * READING_MINUTES / 60.0
}
