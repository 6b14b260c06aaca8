//! Why a reading is worth taking, in a planner's words.

use super::super::SpindleForecast;
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::units::Quantity;
use crate::words::{count_words, date_long};
use chrono::NaiveDate;

/// A hypothesis is open while its weight lies between these.
const OPEN: (f64, f64) = (0.1, 0.9);
/// A reading is old after so many days (common practice, no source).
const OLD_DAYS: i64 = 90;
/// Mean length of a month, in days.
const DAYS_PER_MONTH: f64 = 30.436_875;

/// What is known of the readings of a spindle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Story {
    pub(super) as_of: NaiveDate,
    /// The last force reading: its day, and the weights of ordinary, gross error, step drop,
    /// service not logged.
    pub(super) last: Option<(NaiveDate, [f64; 4])>,
    /// Day of the last reading of the setting dimension.
    pub(super) last_setting: Option<NaiveDate>,
    /// Day of the last service.
    pub(super) service: Option<NaiveDate>,
    /// Days after it on which the force and the setting dimension were read.
    pub(super) since_service: (usize, usize),
    /// Its usage changed in the last months.
    pub(super) usage_changed: bool,
    pub(super) interface: String,
    /// The force is near its limit.
    pub(super) near: bool,
}

impl Story {
    /// The clause.
    pub(super) fn reason(&self, quantity: Quantity) -> String {
        match quantity {
            Quantity::ClampForce => self.of_force(),
            Quantity::SettingDimension => self.of_setting(),
        }
    }

    fn of_force(&self) -> String {
        let Some((last, weights)) = self.last else {
            return format!(
                "it was never measured; a reading would take the place of the figures of other {} spindles",
                self.interface
            );
        };
        let day = date_long(last, self.as_of);
        let is_open = |weight: f64| (OPEN.0..OPEN.1).contains(&weight);
        let [_, gross, step, unlogged] = weights;
        if is_open(step) && gross <= step {
            return format!("a reading would settle whether the drop of {day} was a step");
        }
        if is_open(gross) {
            return format!("a reading would settle whether the one of {day} was wrong");
        }
        if is_open(unlogged) {
            return format!("a reading would settle whether it was serviced before {day}");
        }
        if OPEN.1 <= gross {
            return format!("the reading of {day} is not believed; one more takes its place");
        }
        if OPEN.1 <= step {
            return format!("the force had dropped at once by {day}; a reading would show how it goes on");
        }
        self.general("the force", self.since_service.0, last)
    }

    fn of_setting(&self) -> String {
        let last = self.last_setting.unwrap_or(self.as_of);
        self.general("the setting dimension", self.since_service.1, last)
    }

    fn general(&self, what: &str, since_service: usize, last: NaiveDate) -> String {
        let age = (self.as_of - last).num_days();
        let service = self.service.map(|day| date_long(day, self.as_of));
        match (since_service, service) {
            (0, Some(service)) => return format!("{what} was not read since the service of {service}"),
            (1, Some(service)) => {
                return format!("{what} was read only once since the service of {service}, which tells no rate yet");
            }
            _ => {}
        }
        if self.usage_changed && last < self.as_of {
            return format!("its usage changed lately; a reading would show where {what} stands");
        }
        if OLD_DAYS <= age {
            let months = (age as f64 / DAYS_PER_MONTH).round() as usize;
            return format!(
                "the last reading is {} months old; another one would show where {what} stands",
                count_words(months)
            );
        }
        let day = date_long(last, self.as_of);
        if self.near {
            return format!("{what} comes near its limit and was last read on {day}");
        }
        format!("its service comes near and {what} was last read on {day}")
    }
}

/// Days after the last service on which force and setting dimension were read.
pub(super) fn read_since(shop: &Shop, forecast: &SpindleForecast) -> (usize, usize) {
    let of = |quantity: Quantity| {
        let mut days: Vec<NaiveDate> = shop
            .readings_of(forecast.spindle)
            .iter()
            .filter(|row| row.quantity() == quantity)
            .map(|row| row.at.date)
            .filter(|day| forecast.last_service.is_none_or(|service| service < *day))
            .collect();
        days.sort_unstable();
        days.dedup();
        days.len()
    };
    (of(Quantity::ClampForce), of(Quantity::SettingDimension))
}

/// Day of the last reading of the setting dimension.
pub(super) fn last_setting(shop: &Shop, spindle: SpindleId) -> Option<NaiveDate> {
    let readings = shop.readings_of(spindle).iter().filter(|row| row.quantity() == Quantity::SettingDimension);
    readings.map(|row| row.at.date).max()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn story(weights: [f64; 4]) -> Story {
        Story {
            as_of: day("2026-03-02"),
            last: Some((day("2026-01-14"), weights)),
            last_setting: Some(day("2025-08-01")),
            service: Some(day("2025-02-03")),
            since_service: (3, 2),
            usage_changed: false,
            interface: "HSK-A63".to_owned(),
            near: false,
        }
    }

    #[test]
    fn what_is_open_is_said_first() {
        let says = |weights| story(weights).reason(Quantity::ClampForce);
        assert_eq!(says([0.5, 0.0, 0.5, 0.0]), "a reading would settle whether the drop of 14 January was a step");
        assert_eq!(says([0.2, 0.7, 0.1, 0.0]), "a reading would settle whether the one of 14 January was wrong");
        assert_eq!(says([0.4, 0.0, 0.0, 0.6]), "a reading would settle whether it was serviced before 14 January");
        assert_eq!(says([0.0, 0.99, 0.01, 0.0]), "the reading of 14 January is not believed; one more takes its place");
        assert_eq!(says([1.0, 0.0, 0.0, 0.0]), "its service comes near and the force was last read on 14 January");
    }

    #[test]
    fn then_what_is_missing_and_what_is_old() {
        let plain = story([1.0, 0.0, 0.0, 0.0]);
        let never = Story { last: None, ..plain.clone() };
        assert!(never.reason(Quantity::ClampForce).starts_with("it was never measured"));
        let none = Story { since_service: (0, 0), ..plain.clone() };
        assert_eq!(none.reason(Quantity::ClampForce), "the force was not read since the service of 3 February 2025");
        let changed = Story { usage_changed: true, ..plain.clone() };
        assert!(changed.reason(Quantity::ClampForce).starts_with("its usage changed lately"));
        assert_eq!(
            plain.reason(Quantity::SettingDimension),
            "the last reading is seven months old; another one would show where the setting dimension stands"
        );
    }
}
