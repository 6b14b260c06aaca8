//! The names behind the indices of a problem.

/// What everything in a [`super::problem::Problem`] is called, by index.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Names {
    /// Of the problem itself, for messages.
    pub problem: String,
    /// Halls.
    pub halls: Vec<String>,
    /// Lines.
    pub lines: Vec<String>,
    /// Machines.
    pub machines: Vec<String>,
    /// Windows.
    pub windows: Vec<String>,
    /// Technicians.
    pub technicians: Vec<String>,
    /// Parts.
    pub parts: Vec<String>,
    /// Gauge groups.
    pub gauges: Vec<String>,
    /// Services.
    pub services: Vec<String>,
}

/// The name at an index; `no. 7` counted from 0 where there is none.
#[must_use]
pub fn name(names: &[String], index: usize) -> String {
    names.get(index).cloned().unwrap_or_else(|| format!("no. {index}"))
}
