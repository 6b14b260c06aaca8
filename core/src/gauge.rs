//! Gauges with their calibration.

use crate::moment::DayRange;
use crate::units::{Quantity, Unit};
use chrono::NaiveDate;

/// A force gauge or a setting gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// Name on the gauge, unique in the shop.
    pub name: String,
    /// What it measures.
    pub quantity: Quantity,
    /// End of its range, in `unit`.
    pub range_max: Option<f64>,
    /// What it shows.
    pub unit: Option<Unit>,
    /// Its last digit, in `unit`.
    pub resolution: Option<f64>,
    /// Last calibration.
    pub calibrated_on: Option<NaiveDate>,
    /// Next calibration.
    pub calibration_due: Option<NaiveDate>,
    /// Number of the certificate.
    pub certificate: String,
    /// How many services a day it can serve; `None`: any number.
    pub services_per_day: Option<u32>,
    /// Days on which it is away.
    pub out: Vec<DayRange>,
}

impl Gauge {
    /// A gauge of which only the least is known.
    #[must_use]
    pub fn named(name: &str, quantity: Quantity) -> Self {
        Self {
            name: name.to_owned(),
            quantity,
            range_max: None,
            unit: None,
            resolution: None,
            calibrated_on: None,
            calibration_due: None,
            certificate: String::new(),
            services_per_day: None,
            out: Vec::new(),
        }
    }

    /// Whether its calibration had run out on that day.
    #[must_use]
    pub fn is_overdue_on(&self, day: NaiveDate) -> bool {
        self.calibration_due.is_some_and(|due| due < day)
    }
}
