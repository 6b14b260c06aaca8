//! What a shop decides for itself.

use crate::moment::{Moment, parse_iso_date};
use crate::units::{Minutes, Money, Unit};
use chrono::{NaiveDate, NaiveDateTime, NaiveTime};

/// The settings of `shop.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopSettings {
    /// Name of the shop.
    pub name: String,
    /// Stands for today; a real shop has none.
    pub as_of: Option<NaiveDate>,
    /// Accepted chance of having crossed a limit by the service-by date.
    pub accepted_risk: f64,
    /// Unit in which lengths are shown.
    pub length_unit: Unit,
    /// Unit in which forces are shown.
    pub force_unit: Unit,
    /// Currency code or symbol.
    pub currency: String,
    /// How far ahead a service must be placed.
    pub booking_horizon_days: u32,
    /// Share of an ordinary working day, Monday first.
    pub weekday_weights: [f64; 7],
    /// When the working day begins.
    pub day_begins: NaiveTime,
    /// Pattern of order numbers: `YY` year, `NNN` counter.
    pub order_pattern: String,
    /// What an hour of a technician costs.
    pub labour_per_hour: Money,
    /// Lockout before a stop.
    pub lockout: Minutes,
    /// One visit to a hall on a day.
    pub visit_cost: Money,
    /// A booked service moved, per week of notice missing.
    pub move_cost_per_week: Money,
    /// A due service left without a place.
    pub left_cost: Money,
}

impl ShopSettings {
    /// The day of the shop in which a moment lies: before the hour at which days begin it is the one
    /// before.
    #[must_use]
    pub fn day_of(&self, moment: NaiveDateTime) -> NaiveDate {
        let since_midnight = self.day_begins.signed_duration_since(NaiveTime::MIN);
        moment.checked_sub_signed(since_midnight).unwrap_or(moment).date()
    }

    /// The same of a start of which perhaps only the day is known: then that day.
    #[must_use]
    pub fn day_of_start(&self, start: Moment) -> NaiveDate {
        if start.time.is_some() { self.day_of(start.date_time()) } else { start.date }
    }
}

impl Default for ShopSettings {
    /// The starting values of the file formats; weekday weights: common practice, no source.
    fn default() -> Self {
        let money = |amount| Money::new(amount).unwrap_or_default();
        Self {
            name: String::new(),
            as_of: None,
            accepted_risk: 0.10,
            length_unit: Unit::Millimetre,
            force_unit: Unit::Kilonewton,
            currency: String::new(),
            booking_horizon_days: 60,
            weekday_weights: [1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0],
            day_begins: NaiveTime::MIN,
            order_pattern: "YY-NNN".to_owned(),
            labour_per_hour: money(50.0),
            lockout: Minutes::new(30.0).unwrap_or_default(),
            visit_cost: money(40.0),
            move_cost_per_week: money(40.0),
            left_cost: money(2000.0),
        }
    }
}

/// Why a setting was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InvalidSetting {
    /// No such key.
    #[error("'{0}' is not a setting of a shop")]
    UnknownKey(String),
    /// The value does not fit.
    #[error("'{value}' does not fit {key}; expected {expected}")]
    Value {
        /// The setting.
        key: String,
        /// What was given.
        value: String,
        /// What would fit.
        expected: &'static str,
    },
}

impl ShopSettings {
    /// All keys in the order of the file.
    pub const KEYS: [&'static str; 15] = [
        "name",
        "as_of",
        "accepted_risk",
        "length_unit",
        "force_unit",
        "currency",
        "booking_horizon_days",
        "weekday_weights",
        "day_begins",
        "order_pattern",
        "labour_per_hour",
        "lockout_min",
        "visit_cost",
        "move_cost_per_week",
        "left_cost",
    ];

    /// The value of a key as the file writes it; empty where nothing is set or the key is unknown.
    #[must_use]
    pub fn text_of(&self, key: &str) -> String {
        match key {
            "name" => self.name.clone(),
            "as_of" => self.as_of.map(|day| day.to_string()).unwrap_or_default(),
            "accepted_risk" => self.accepted_risk.to_string(),
            "length_unit" => self.length_unit.symbol().to_owned(),
            "force_unit" => self.force_unit.symbol().to_owned(),
            "currency" => self.currency.clone(),
            "booking_horizon_days" => self.booking_horizon_days.to_string(),
            "weekday_weights" => self.weekday_weights.map(|weight| weight.to_string()).join(";"),
            "day_begins" => self.day_begins.format("%H:%M").to_string(),
            "order_pattern" => self.order_pattern.clone(),
            "labour_per_hour" => self.labour_per_hour.get().to_string(),
            "lockout_min" => self.lockout.get().to_string(),
            "visit_cost" => self.visit_cost.get().to_string(),
            "move_cost_per_week" => self.move_cost_per_week.get().to_string(),
            "left_cost" => self.left_cost.get().to_string(),
            _ => String::new(),
        }
    }

    /// Sets one key from its text; an empty text sets the starting value.
    ///
    /// # Errors
    /// An unknown key, or a value that does not fit it; nothing is changed then.
    pub fn set(&mut self, key: &str, text: &str) -> Result<(), InvalidSetting> {
        let text = text.trim();
        if !Self::KEYS.contains(&key) {
            return Err(InvalidSetting::UnknownKey(key.to_owned()));
        }
        let default = Self::default();
        let text_or_default = if text.is_empty() { default.text_of(key) } else { text.to_owned() };
        let text = text_or_default.as_str();
        let wrong = |expected| InvalidSetting::Value { key: key.to_owned(), value: text.to_owned(), expected };
        let number = |low: f64, high: f64| text.parse::<f64>().ok().filter(|value| (low..=high).contains(value));
        let cost = || number(0.0, 1e9).and_then(Money::new).ok_or_else(|| wrong("an amount of 0 or more"));
        match key {
            "name" => text.clone_into(&mut self.name),
            "as_of" => {
                self.as_of = if text.is_empty() {
                    None
                } else {
                    Some(parse_iso_date(text).ok_or_else(|| wrong("a date such as 2026-03-02"))?)
                };
            }
            "accepted_risk" => {
                self.accepted_risk =
                    number(0.001, 0.5).ok_or_else(|| wrong("a share from 0.001 to 0.5, such as 0.10"))?;
            }
            "length_unit" => {
                self.length_unit = Unit::from_symbol(text)
                    .filter(|unit| matches!(unit, Unit::Millimetre | Unit::Inch))
                    .ok_or_else(|| wrong("mm or in"))?;
            }
            "force_unit" => {
                self.force_unit = Unit::from_symbol(text)
                    .filter(|unit| matches!(unit, Unit::Kilonewton | Unit::PoundForce))
                    .ok_or_else(|| wrong("kN or lbf"))?;
            }
            "currency" => text.clone_into(&mut self.currency),
            "booking_horizon_days" => {
                self.booking_horizon_days = text
                    .parse()
                    .ok()
                    .filter(|days| (1..=1825).contains(days))
                    .ok_or_else(|| wrong("whole days from 1 to 1825"))?;
            }
            "weekday_weights" => self.weekday_weights = parse_weights(text).ok_or_else(|| wrong(WEIGHTS_EXPECTED))?,
            "day_begins" => {
                self.day_begins =
                    NaiveTime::parse_from_str(text, "%H:%M").map_err(|_ignored| wrong("a time such as 06:00"))?;
            }
            "order_pattern" => {
                if !text.contains('N') {
                    return Err(wrong("a pattern with a counter, such as YY-NNN"));
                }
                text.clone_into(&mut self.order_pattern);
            }
            "labour_per_hour" => self.labour_per_hour = cost()?,
            "lockout_min" => {
                self.lockout =
                    number(0.0, 1440.0).and_then(Minutes::new).ok_or_else(|| wrong("minutes from 0 to 1440"))?;
            }
            "visit_cost" => self.visit_cost = cost()?,
            "move_cost_per_week" => self.move_cost_per_week = cost()?,
            "left_cost" => self.left_cost = cost()?,
            _ => return Err(InvalidSetting::UnknownKey(key.to_owned())),
        }
        Ok(())
    }
}

const WEIGHTS_EXPECTED: &str = "seven shares from 0 to 1, Monday first, not all 0, such as 1;1;1;1;1;0;0";

fn parse_weights(text: &str) -> Option<[f64; 7]> {
    let weights: Vec<f64> = text
        .split(';')
        .map(|item| item.trim().parse::<f64>().ok().filter(|weight| (0.0..=1.0).contains(weight)))
        .collect::<Option<_>>()?;
    let weights: [f64; 7] = weights.try_into().ok()?;
    weights.iter().any(|weight| *weight > 0.0).then_some(weights)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn before_the_hour_at_which_days_begin_it_is_the_day_before() {
        let at = |text: &str| NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").unwrap();
        let day = |text: &str| parse_iso_date(text).unwrap();
        let midnight = ShopSettings::default();
        assert_eq!(midnight.day_of(at("2026-03-07 02:00")), day("2026-03-07"));
        let six = ShopSettings { day_begins: NaiveTime::from_hms_opt(6, 0, 0).unwrap(), ..midnight };
        assert_eq!(six.day_of(at("2026-03-07 02:00")), day("2026-03-06"));
        assert_eq!(six.day_of(at("2026-03-07 06:00")), day("2026-03-07"));
    }

    #[test]
    fn every_key_reads_back_what_it_writes() {
        let settings =
            ShopSettings { name: "Werk".to_owned(), as_of: parse_iso_date("2026-03-02"), ..Default::default() };
        let mut copy = ShopSettings::default();
        for key in ShopSettings::KEYS {
            copy.set(key, &settings.text_of(key)).unwrap();
        }
        assert_eq!(copy, settings);
        assert!(copy.set("accepted_risk", "7").is_err());
        assert!(copy.set("colour", "red").is_err());
    }
}
