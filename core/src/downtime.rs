//! Downtime windows: times in which machines may be stopped.

use crate::ids::MachineId;
use crate::moment::Moment;
use crate::units::{Money, Percent};
use chrono::NaiveDateTime;

/// Which machines a window is for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum WindowScope {
    /// Every hall.
    AllHalls,
    /// One hall.
    Hall(String),
    /// One machine.
    Machine(MachineId),
}

/// A single or repeating downtime window as it was entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Downtime {
    /// Start of the first one.
    pub start: Moment,
    /// End of the first one.
    pub end: Moment,
    /// For which machines.
    pub scope: WindowScope,
    /// What it is.
    pub what: String,
    /// What a stop costs in it, in percent of the stop cost; `None`: 100 (a running shift).
    pub stop_factor: Option<Percent>,
    /// Extra pay per person and hour.
    pub premium_per_hour: Option<Money>,
    /// An RFC 5545 rule such as `FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231`; `None`: once.
    pub repeat: Option<String>,
}

impl Downtime {
    /// When the first window ends; an end without a time is the whole of that day.
    #[must_use]
    pub fn ends_at(&self) -> NaiveDateTime {
        match self.end.time {
            Some(_) => self.end.date_time(),
            None => self.end.date.succ_opt().unwrap_or(self.end.date).into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_end_without_a_time_is_the_whole_day() {
        let window = |end: &str| Downtime {
            start: Moment::parse("2026-04-03").unwrap(),
            end: Moment::parse(end).unwrap(),
            scope: WindowScope::AllHalls,
            what: String::new(),
            stop_factor: None,
            premium_per_hour: None,
            repeat: None,
        };
        assert_eq!(window("2026-04-05").ends_at().to_string(), "2026-04-06 00:00:00");
        assert_eq!(window("2026-04-05T13:00").ends_at().to_string(), "2026-04-05 13:00:00");
    }
}
