//! A planning problem without anything in the way, for tests to change: one hall, one technician
//! who can do everything and is there all day, and services that cost nothing anywhere.

use almanac_core::planning::problem::{Curve, DayShift, Job, Line, Person, PlanWindow, Problem, Scope, Span};

/// A stretch of minutes.
#[must_use]
pub const fn span(from: i64, to: i64) -> Span {
    Span { from, to }
}

/// A service of a machine that costs nothing anywhere but to leave it.
#[must_use]
pub fn job(machine: usize, minutes: i64, leave_cost: i64) -> Job {
    Job {
        machine,
        kind: 0,
        minutes,
        crew: 1,
        parts: Vec::new(),
        gauge: None,
        ready_day: 0,
        crossed: Curve(vec![0]),
        hard_day: None,
        tail_days: 0,
        day_below_cost: 0,
        unused_day_value: 0,
        standing: None,
        leave_cost,
        booked: None,
        held: None,
    }
}

/// A window of the hall.
#[must_use]
pub const fn window(day: usize, from: i64, to: i64) -> PlanWindow {
    PlanWindow { scope: Scope::Hall(0), day, span: span(from, to), stop_factor: 100, premium_per_hour: 0 }
}

/// A technician with both skills, there on each of the days from minute 0 to `to`.
#[must_use]
pub fn person(days: usize, to: i64) -> Person {
    let shifts = (0..days).map(|day| DayShift { day, span: span(0, to) }).collect();
    Person { skills: vec![true, true], shifts, minutes_per_day: None }
}

/// So many machines, each a line of its own and free to stop; no lockout, no visit.
#[must_use]
pub fn problem(days: usize, machines: usize, minutes_of_day: i64) -> Problem {
    Problem {
        days,
        halls: 1,
        lines: vec![Line { hall: 0, stop_cost_per_hour: 0 }; machines],
        machines: (0..machines).collect(),
        windows: (0..days).map(|day| window(day, 0, minutes_of_day)).collect(),
        technicians: vec![person(days, minutes_of_day)],
        ..Problem::default()
    }
}
