//! Tiny shops, invented and drawn from a seed: up to 5 services, 6 windows and 3 people, with lines,
//! parts, gauges, skills, working hours and something held. All times are multiples of 30 minutes.

use super::plain::{job, span};
use almanac_core::planning::problem::{
    Booked, Curve, DayShift, Line, Person, Place, PlanWindow, Problem, Scope, Stock,
};

/// splitmix64.
struct Draw(u64);

impl Draw {
    fn below(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (((z >> 32) * below as u64) >> 32) as usize
    }

    fn percent(&mut self, chance: usize) -> bool {
        self.below(100) < chance
    }

    /// From `from` half hours on, `count` of them.
    fn half_hours(&mut self, from: usize, count: usize) -> i64 {
        30 * (from + self.below(count)) as i64
    }
}

/// Draws a shop.
#[must_use]
pub fn tiny_shop(seed: u64) -> Problem {
    let mut draw = Draw(seed);
    let days = 1 + draw.below(3);
    let (halls, lines) = (1 + draw.below(2), 1 + draw.below(3));
    let machines = lines + draw.below(3);
    let mut problem = Problem {
        days,
        lockout_min: if draw.percent(20) { 0 } else { 30 },
        visit_cost: 100 * draw.below(60) as i64,
        halls,
        lines: (0..lines)
            .map(|_| Line { hall: draw.below(halls), stop_cost_per_hour: 1000 * draw.below(20) as i64 })
            .collect(),
        // every line has a machine
        machines: (0..machines).map(|machine| if machine < lines { machine } else { draw.below(lines) }).collect(),
        parts: (0..2)
            .map(|_| Stock { on_hand: draw.below(3) as i64, arrivals: vec![(draw.below(4), draw.below(3) as i64)] })
            .collect(),
        gauges: vec![(0..days).map(|_| draw.below(5) as i64).collect()],
        ..Problem::default()
    };
    for _ in 0..2 + draw.below(5) {
        let scope =
            if draw.percent(65) { Scope::Hall(draw.below(halls)) } else { Scope::Machine(draw.below(machines)) };
        let from = draw.half_hours(0, 6);
        problem.windows.push(PlanWindow {
            scope,
            day: draw.below(days),
            span: span(from, from + draw.half_hours(3, 8)),
            stop_factor: [5, 15, 40, 100][draw.below(4)],
            premium_per_hour: 500 * draw.below(4) as i64,
        });
    }
    for _ in 0..1 + draw.below(3) {
        let mut shifts = Vec::new();
        for day in 0..days {
            if draw.percent(85) {
                let from = draw.half_hours(0, 5);
                let to = from + draw.half_hours(4, 8);
                shifts.push(DayShift { day, span: span(from, to) });
                if draw.percent(15) {
                    shifts.push(DayShift { day, span: span(to + 60, to + 180) });
                }
            }
        }
        let minutes_per_day = draw.percent(25).then(|| draw.half_hours(3, 8));
        problem.technicians.push(Person { skills: vec![draw.percent(90), draw.percent(60)], shifts, minutes_per_day });
    }
    for _ in 0..1 + draw.below(5) {
        let mut next = job(draw.below(machines), draw.half_hours(1, 6), 100 * draw.below(600) as i64);
        next.kind = draw.below(2);
        next.crew = if draw.percent(30) { 2 } else { 1 };
        next.gauge = draw.percent(50).then_some(0);
        next.ready_day = if draw.percent(20) { draw.below(days) } else { 0 };
        next.crossed = Curve(vec![100 * draw.below(40) as i64, 10_000]);
        next.day_below_cost = 100 * draw.below(90) as i64;
        next.unused_day_value = 100 * draw.below(20) as i64;
        if draw.percent(35) {
            next.parts.push((draw.below(2), 1));
        }
        if draw.percent(20) {
            let window = draw.percent(70).then(|| draw.below(problem.windows.len()));
            next.booked = Some(Booked { window, move_cost: 100 * draw.below(80) as i64 });
        }
        problem.services.push(next);
    }
    if draw.percent(35) {
        hold_first(&mut problem, &mut draw);
    }
    problem
}

/// Holds the first service somewhere in a window of its machine, whoever does it.
fn hold_first(problem: &mut Problem, draw: &mut Draw) {
    let machine = problem.services[0].machine;
    let hall = problem.lines[problem.machines[machine]].hall;
    let window =
        problem.windows.iter().position(|w| w.scope == Scope::Hall(hall) || w.scope == Scope::Machine(machine));
    let crew = problem.services[0].crew.min(problem.technicians.len());
    if let Some(window) = window {
        let start = problem.windows[window].span.from + draw.half_hours(0, 4);
        problem.services[0].held = Some(Place { window, start, technicians: (0..crew).collect() });
    }
}
