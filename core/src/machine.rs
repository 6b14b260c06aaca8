//! Machines and their spindle positions.

use crate::ids::MachineId;
use crate::units::Money;
use std::fmt;

/// A machine tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Short name as it stands on the machine, unique in the shop.
    pub name: String,
    /// The hall it stands in.
    pub hall: String,
    /// What it is.
    pub description: String,
    /// Machines of one line stop together; `None`: a line of its own.
    pub line: Option<String>,
    /// What an hour of standstill costs.
    pub stop_cost_per_hour: Option<Money>,
    /// How many spindles it carries; positions are 1, 2, ...
    pub positions: u32,
    /// What a day below the service limit costs; `None`: follows from the accepted risk.
    pub day_below_cost: Option<Money>,
}

/// A place for one spindle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// The machine.
    pub machine: MachineId,
    /// Which of its spindles, from 1.
    pub number: u32,
}

/// Why a machine cannot be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidMachine {
    /// No name.
    #[error("a machine needs a name")]
    NoName,
    /// A name that no list of names can hold, because spaces around it get lost there.
    #[error("the {what} '{name}' begins or ends with a space; leave that out")]
    Spaces {
        /// Of what.
        what: &'static str,
        /// As given.
        name: String,
    },
    /// No hall.
    #[error("machine {0} needs a hall")]
    NoHall(String),
    /// Too few or far too many positions.
    #[error("machine {name} has {positions} spindle positions; expected 1 to 99")]
    Positions {
        /// The machine.
        name: String,
        /// What was given.
        positions: u32,
    },
    /// A cost below zero.
    #[error("machine {name} has a {what} of {value}; expected 0 or more")]
    NegativeCost {
        /// The machine.
        name: String,
        /// Which cost.
        what: &'static str,
        /// What was given.
        value: f64,
    },
}

impl Machine {
    /// A machine with one position, nothing else said.
    #[must_use]
    pub fn named(name: &str, hall: &str) -> Self {
        Self {
            name: name.to_owned(),
            hall: hall.to_owned(),
            description: String::new(),
            line: None,
            stop_cost_per_hour: None,
            positions: 1,
            day_below_cost: None,
        }
    }

    /// Checks what every machine must fulfil.
    ///
    /// # Errors
    /// The first rule that is broken.
    pub fn checked(self) -> Result<Self, InvalidMachine> {
        if self.name.trim().is_empty() {
            return Err(InvalidMachine::NoName);
        }
        if self.hall.trim().is_empty() {
            return Err(InvalidMachine::NoHall(self.name));
        }
        for (what, name) in [("name of a machine", &self.name), ("name of a hall", &self.hall)] {
            if name.trim() != name {
                return Err(InvalidMachine::Spaces { what, name: name.clone() });
            }
        }
        if !(1..=99).contains(&self.positions) {
            return Err(InvalidMachine::Positions { name: self.name, positions: self.positions });
        }
        for (what, cost) in [("stop cost", self.stop_cost_per_hour), ("day below cost", self.day_below_cost)] {
            if let Some(value) = cost.map(Money::get).filter(|value| *value < 0.0) {
                return Err(InvalidMachine::NegativeCost { name: self.name, what, value });
            }
        }
        Ok(self)
    }

    /// How a position of it is shown: `R-04`, or `R-07/2` where it has several.
    #[must_use]
    pub fn position_label(&self, number: u32) -> String {
        if self.positions > 1 { format!("{}/{number}", self.name) } else { self.name.clone() }
    }
}

impl fmt::Display for Machine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}
