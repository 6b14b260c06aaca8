//! Spindles: what is known of each, apart from where it sits.

use crate::interface::Interface;
use crate::limits::LimitValues;
use crate::units::{Kilonewtons, Percent};
use chrono::NaiveDate;

/// A spindle with its tool-clamping unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Spindle {
    /// Serial or shop number, unique in the shop.
    pub name: String,
    /// Tool interface.
    pub interface: Interface,
    /// Nominal clamp force by the spindle builder.
    pub nominal_force: Kilonewtons,
    /// Its own limits and intervals; `nominal_force` and `source` of it: the former stays empty.
    pub limits: LimitValues,
    /// New on that day; `None`: found mid-life.
    pub installed_on: Option<NaiveDate>,
    /// Taken out for good on that day.
    pub out_of_service_on: Option<NaiveDate>,
    /// Free text.
    pub notes: String,
    /// What the planner says of its next service.
    pub not_before: Option<NotBefore>,
}

/// The planner's word on the next service of a spindle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotBefore {
    /// The first day on which it may be done.
    pub day: NaiveDate,
    /// When that was said: a service on a later day makes it void. `None`: not on record.
    pub said_on: Option<NaiveDate>,
}

impl NotBefore {
    /// Of both days as they are stored; the second says nothing without the first.
    #[must_use]
    pub fn of(day: Option<NaiveDate>, said_on: Option<NaiveDate>) -> Option<Self> {
        day.map(|day| Self { day, said_on })
    }
}

/// Why a spindle (or a set of limits) cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidSpindle {
    /// No name.
    #[error("a spindle needs a name")]
    NoName,
    /// A name that no list of names can hold, because spaces around it get lost there.
    #[error("the name of a spindle '{0}' begins or ends with a space; leave that out")]
    Spaces(String),
    /// A force that clamps nothing.
    #[error("nominal force is {0} kN; expected above 0")]
    NominalForce(f64),
    /// A share out of range.
    #[error("{what} is {value} %; expected above 0 and at most 100")]
    Share {
        /// Which limit.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Stop limit not under the service limit.
    #[error("stop limit {stop} % is not below the service limit {service} %")]
    LimitOrder {
        /// The stop limit.
        stop: f64,
        /// The service limit.
        service: f64,
    },
    /// A length or interval that is not above zero.
    #[error("{what} is {value}; expected above 0")]
    NotAboveZero {
        /// Which.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Taken out before it came.
    #[error("out of service on {out} lies before installed on {installed}")]
    OutBeforeInstalled {
        /// Day it was taken out.
        out: NaiveDate,
        /// Day it was new.
        installed: NaiveDate,
    },
}

impl Spindle {
    /// A spindle of which only the least is known.
    #[must_use]
    pub fn named(name: &str, interface: Interface, nominal_force: Kilonewtons) -> Self {
        Self {
            name: name.to_owned(),
            interface,
            nominal_force,
            limits: LimitValues::default(),
            installed_on: None,
            out_of_service_on: None,
            notes: String::new(),
            not_before: None,
        }
    }

    /// Checks what every spindle must fulfil.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub fn checked(self) -> Result<Self, InvalidSpindle> {
        if self.name.trim().is_empty() {
            return Err(InvalidSpindle::NoName);
        }
        if self.name.trim() != self.name {
            return Err(InvalidSpindle::Spaces(self.name));
        }
        if self.nominal_force.get() <= 0.0 {
            return Err(InvalidSpindle::NominalForce(self.nominal_force.get()));
        }
        check_limits(&self.limits)?;
        if let (Some(out), Some(installed)) = (self.out_of_service_on, self.installed_on)
            && out < installed
        {
            return Err(InvalidSpindle::OutBeforeInstalled { out, installed });
        }
        Ok(self)
    }

    /// Whether it was taken out on or before that day.
    #[must_use]
    pub fn is_out_on(&self, day: NaiveDate) -> bool {
        self.out_of_service_on.is_some_and(|out| out <= day)
    }
}

/// Checks a set of limits on its own.
///
/// # Errors
/// The first rule that is broken.
pub fn check_limits(values: &LimitValues) -> Result<(), InvalidSpindle> {
    if let Some(force) = values.nominal_force.map(Kilonewtons::get).filter(|force| *force <= 0.0) {
        return Err(InvalidSpindle::NominalForce(force));
    }
    for (what, share) in [("service limit", values.service_limit), ("stop limit", values.stop_limit)] {
        if let Some(value) = share.map(Percent::get).filter(|value| !(*value > 0.0 && *value <= 100.0)) {
            return Err(InvalidSpindle::Share { what, value });
        }
    }
    if let (Some(stop), Some(service)) = (values.stop_limit, values.service_limit)
        && stop >= service
    {
        return Err(InvalidSpindle::LimitOrder { stop: stop.get(), service: service.get() });
    }
    let above_zero = [
        ("setting dimension", values.setting_dimension.map(|v| v.get())),
        ("setting tolerance", values.setting_tolerance.map(|v| v.get())),
        ("service interval in months", values.every_months.map(f64::from)),
        ("service interval in run hours", values.every_hours.map(|v| v.get())),
        ("service interval in clamp cycles", values.every_cycles.map(|v| v.get())),
    ];
    for (what, value) in above_zero {
        if let Some(value) = value.filter(|value| *value <= 0.0) {
            return Err(InvalidSpindle::NotAboveZero { what, value });
        }
    }
    Ok(())
}
