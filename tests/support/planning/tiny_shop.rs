//! Random planning problems of up to five services and six windows, the same for the same seed.

use super::brute_force::GRID_MIN;
use almanac_core::planning::check::check;
use almanac_core::planning::problem::{
    Booked, Curve, DayShift, Job, Line, Person, Place, Plan, PlanWindow, Problem, Scope, Span, Stock,
};

/// Whole numbers from a seed: a 64-bit linear congruential generator (Knuth, MMIX), high bits.
struct Draw(u64);

impl Draw {
    /// From 0 to `below` - 1.
    fn below(&mut self, below: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as i64) % below
    }

    fn index(&mut self, below: usize) -> usize {
        self.below(below as i64) as usize
    }

    fn one_in(&mut self, many: i64) -> bool {
        self.below(many) == 0
    }

    /// A span on the grid of at least so many steps, within the first twelve steps of a day.
    fn span(&mut self, least: i64) -> Span {
        let steps = least + self.below(12 - least + 1);
        let from = self.below(12 - steps + 1) * GRID_MIN;
        Span { from, to: from + steps * GRID_MIN }
    }
}

/// A tiny problem. One in three has a held service, which breaks no rule by itself.
#[must_use]
pub fn tiny_shop(seed: u64) -> Problem {
    let mut draw = Draw(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5EED);
    for _ in 0..4 {
        draw.below(2);
    }
    let days = 3 + draw.index(4);
    let halls = 1 + usize::from(draw.one_in(3));
    let lines: Vec<Line> = (0..1 + draw.index(3))
        .map(|_| Line { hall: draw.index(halls), stop_cost_per_hour: draw.below(20) * 1000 })
        .collect();
    let machines: Vec<usize> = (0..1 + draw.index(4)).map(|_| draw.index(lines.len())).collect();
    let windows = windows(&mut draw, days, halls, machines.len());
    let technicians = (0..1 + draw.index(3)).map(|_| person(&mut draw, days)).collect();
    let parts = vec![Stock { on_hand: draw.below(3), arrivals: vec![(draw.index(days + 1), 1 + draw.below(2))] }];
    let gauges = vec![(0..days).map(|_| draw.below(4)).collect(), vec![2; days]];
    let services = (0..1 + draw.index(5)).map(|_| job(&mut draw, days, machines.len(), windows.len())).collect();
    let mut problem = Problem {
        days,
        lockout_min: if draw.one_in(5) { 0 } else { GRID_MIN },
        visit_cost: draw.below(3) * 4000,
        halls,
        lines,
        machines,
        windows,
        technicians,
        parts,
        gauges,
        services,
    };
    if draw.one_in(3) {
        hold_one(&mut draw, &mut problem);
    }
    problem
}

fn windows(draw: &mut Draw, days: usize, halls: usize, machines: usize) -> Vec<PlanWindow> {
    (0..3 + draw.index(4))
        .map(|_| PlanWindow {
            scope: if draw.one_in(3) { Scope::Machine(draw.index(machines)) } else { Scope::Hall(draw.index(halls)) },
            // few days, so that windows overlap and services meet
            day: draw.index(days.min(3)),
            span: draw.span(4),
            stop_factor: [100, 40, 15, 5][draw.index(4)],
            premium_per_hour: draw.below(2) * 2500,
        })
        .collect()
}

fn person(draw: &mut Draw, days: usize) -> Person {
    let shifts = (0..days).filter(|_| !draw.one_in(4)).collect::<Vec<_>>();
    Person {
        skills: vec![!draw.one_in(4), draw.one_in(2)],
        shifts: shifts.into_iter().map(|day| DayShift { day, span: draw.span(5) }).collect(),
        minutes_per_day: draw.one_in(4).then(|| (4 + draw.below(6)) * GRID_MIN),
    }
}

fn job(draw: &mut Draw, days: usize, machines: usize, windows: usize) -> Job {
    let mut chance = 0;
    let crossed = (0..days.div_ceil(7) + 1).map(|_| {
        chance = (chance + draw.below(6000)).min(10_000);
        chance
    });
    let crossed = Curve(crossed.collect());
    let is_major = draw.one_in(3);
    Job {
        machine: draw.index(machines),
        kind: usize::from(is_major),
        minutes: (if is_major { 3 } else { 1 } + draw.below(4)) * GRID_MIN,
        crew: if draw.one_in(4) { 2 } else { 1 },
        parts: if draw.one_in(2) { vec![(0, 1)] } else { Vec::new() },
        gauge: [None, Some(0), Some(1)][draw.index(3)],
        ready_day: if draw.one_in(3) { draw.index(days) } else { 0 },
        crossed,
        hard_day: draw.one_in(6).then(|| draw.index(days)),
        tail_days: draw.below(10),
        day_below_cost: draw.below(20) * 300,
        unused_day_value: draw.below(10) * 100,
        standing: draw.one_in(6).then(|| (Curve(vec![0, 4000]), 20_000)),
        leave_cost: 30_000 + draw.below(40) * 5000,
        booked: draw.one_in(4).then(|| Booked { window: Some(draw.index(windows)), move_cost: 4000 }),
        held: None,
    }
}

/// Holds the first service where some place of it breaks no rule.
fn hold_one(draw: &mut Draw, problem: &mut Problem) {
    let lead = draw.index(problem.technicians.len());
    for window in 0..problem.windows.len() {
        let second = (0..problem.technicians.len()).find(|who| *who != lead);
        let mut technicians = vec![lead];
        if problem.services[0].crew == 2 {
            let Some(second) = second else { return };
            technicians.push(second);
        }
        for step in 0..12 {
            let place = Place { window, start: step * GRID_MIN, technicians: technicians.clone() };
            let plan = Plan { places: vec![Some(place.clone())] };
            if check(problem, &plan).broken.is_empty() {
                problem.services[0].held = Some(place);
                return;
            }
        }
    }
}
