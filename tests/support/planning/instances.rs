//! Planning instances, all invented: halls, windows, shifts, parts and services are drawn from a
//! seed, in the spirit of the stored instances under `fixtures/planning`, so that there is no end
//! of them, larger ones and tighter ones. No plan of them is known but what a search finds.

use serde_json::{Value, json};

/// What kind of shop is drawn.
#[derive(Debug, Clone, Copy)]
pub struct ShopSize {
    /// Services that are due.
    pub services: u32,
    /// Horizon.
    pub weeks: u32,
    /// Halls.
    pub halls: u32,
    /// Technicians.
    pub technicians: u32,
    /// Shifts for every hundred that a shop with room to spare has; 60 is tight.
    pub shifts_percent: u32,
    /// Another seed, another shop.
    pub seed: u64,
}

impl ShopSize {
    /// 100 services in 26 weeks with too few people.
    pub const TIGHT: Self = Self { services: 100, weeks: 26, halls: 3, technicians: 5, shifts_percent: 62, seed: 41 };
    /// 500 services in 26 weeks.
    pub const LARGE: Self = Self { services: 500, weeks: 26, halls: 4, technicians: 10, shifts_percent: 100, seed: 42 };
}

/// splitmix64.
struct Draw(u64);

impl Draw {
    fn below(&mut self, below: u32) -> u32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (((z >> 32) * u64::from(below)) >> 32) as u32
    }

    fn percent(&mut self, chance: u32) -> bool {
        self.below(100) < chance
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len() as u32) as usize]
    }

    /// From `from` on in steps of `step`, `count` values.
    fn step(&mut self, from: u32, step: u32, count: u32) -> u32 {
        from + step * self.below(count)
    }
}

fn name(letter: char, number: u32) -> String {
    format!("{letter}{number}")
}

/// Draws an instance, as the text of an instance file.
#[must_use]
pub fn instance_text(size: ShopSize) -> String {
    instance(size).to_string()
}

/// Draws an instance whose services all crowd into the Saturdays: single machines, sixty to a hall,
/// everybody there for seven hours from Monday to Saturday, a third of the services due today.
#[must_use]
pub fn crowded_text(services: u32, weeks: u32, technicians: u32) -> String {
    let draw = &mut Draw(u64::from(services));
    let hall_of = |machine: u32| name('H', machine / 60);
    let mut windows: Vec<Value> = Vec::new();
    for hall in 0..services.div_ceil(60) {
        for week in 0..weeks {
            let (saturday, changeover) = (week * 7 + 5, week * 7 + 1 + hall % 3);
            let mut add = |day: u32, from: u32, to: u32, factor: u32, premium: u32| {
                let window = name('W', windows.len() as u32);
                windows.push(json!({"window": window, "hall": name('H', hall), "day": day, "from": from, "to": to, "stop_factor": factor, "premium_per_hour": premium}));
            };
            add(saturday, 360, 840, 15, 1400);
            if week % 2 == 0 {
                add(changeover, 720, 840, 40, 0);
            }
        }
    }
    let mut services_due: Vec<Value> = Vec::new();
    for service in 0..services {
        let (kind, minutes, crew) = match draw.below(10) {
            0 => ("major", draw.of(&[240, 300, 330]), 2),
            1..=3 => ("major", draw.of(&[240, 270, 300, 330, 390]), 1),
            _ => ("minor", draw.of(&[60, 75, 90, 105, 120]), 1),
        };
        let unused = 80 + draw.below(220);
        let half = if draw.percent(36) { -8 } else { i64::from(draw.below(weeks)) };
        let steep = 1 + i64::from(draw.below(4));
        let crossed: Vec<i64> = (0..=i64::from(weeks)).map(|week| chance(week - half, steep)).collect();
        let below: i64 = (0..weeks as usize).map(|week| (crossed[week] + crossed[week + 1]) * 7 / 2).sum();
        let leave = below * i64::from(unused * 9) / 10_000 + 200_000;
        services_due.push(json!({
            "service": format!("S{service:04}"), "machine": name('M', service), "kind": kind, "minutes": minutes,
            "crew": crew, "parts": [], "gauge": "A", "ready_day": 0, "crossed": crossed, "tail_days": 0,
            "day_below_cost": unused * 9, "unused_day_value": unused, "leave_cost": leave,
        }));
    }
    let shifts: Vec<Value> = (0..weeks * 7).filter(|day| day % 7 != 6).map(|day| json!([day, 360, 780])).collect();
    let gauges =
        (0..services / 40 + 1).map(|gauge| json!({"gauge": name('G', gauge), "group": "A", "per_day": 9, "out": []}));
    let lines = (0..services).map(|line| json!({"line": name('L', line), "hall": hall_of(line), "stop_cost_per_hour": 8000 + 100 * draw.below(140)}));
    let lines: Vec<Value> = lines.collect();
    json!({
        "name": format!("crowded-{services}x{weeks}"), "days": weeks * 7, "lockout_min": 30, "visit_cost": 4000,
        "lines": lines, "windows": windows, "parts": [], "gauges": gauges.collect::<Vec<_>>(),
        "machines": (0..services).map(|machine| json!({"machine": name('M', machine), "line": name('L', machine)})).collect::<Vec<_>>(),
        "technicians": (0..technicians).map(|who| json!({"technician": name('T', who), "skills": ["minor", "major"], "shifts": shifts})).collect::<Vec<_>>(),
        "services": services_due,
    })
    .to_string()
}

/// Draws an instance.
fn instance(size: ShopSize) -> Value {
    let mut draw = Draw(size.seed);
    let (lines, machines) = lines_and_machines(&mut draw, size);
    let windows = windows(&mut draw, size, &machines);
    let parts: Vec<Value> = (1..=8).map(|part| stock(&mut draw, size, part)).collect();
    let gauges: Vec<Value> = (0..4)
        .map(|gauge| {
            let out = draw.below(size.weeks * 7 - 10);
            json!({"gauge": name('G', gauge), "group": if gauge < 2 {"A"} else {"B"}, "per_day": 3, "out": [[out, out + 7]]})
        })
        .collect();
    let technicians: Vec<Value> = (1..=size.technicians).map(|who| technician(&mut draw, size, who)).collect();
    let services: Vec<Value> =
        (1..=size.services).map(|service| due_service(&mut draw, size, service, &machines, &windows)).collect();
    json!({
        "name": format!("invented-{}x{}", size.services, size.weeks),
        "days": size.weeks * 7, "lockout_min": 30, "visit_cost": 4000,
        "lines": lines, "windows": windows, "parts": parts, "gauges": gauges, "technicians": technicians,
        "machines": machines.iter().map(|(machine, line, _)| json!({"machine": machine, "line": line})).collect::<Vec<_>>(),
        "services": services,
    })
}

/// Name, line and hall of a machine.
type Machine = (String, String, String);

/// Most lines are one machine, some two or three.
fn lines_and_machines(draw: &mut Draw, size: ShopSize) -> (Vec<Value>, Vec<Machine>) {
    let (mut lines, mut machines) = (Vec::new(), Vec::new());
    let wanted = (size.services * 7 / 10).max(1) as usize;
    while machines.len() < wanted {
        let (line, hall) = (name('L', lines.len() as u32), name('H', draw.below(size.halls)));
        let cost = draw.of(&[6000, 9000, 12_000, 18_000, 26_000]);
        for _ in 0..draw.of(&[1, 1, 1, 1, 1, 1, 1, 2, 2, 3]) {
            machines.push((name('M', machines.len() as u32), line.clone(), hall.clone()));
        }
        lines.push(json!({"line": line, "hall": hall, "stop_cost_per_hour": cost}));
    }
    (lines, machines)
}

/// Running shifts on most working days, Saturday mornings, a shutdown, gaps between changeovers.
fn windows(draw: &mut Draw, size: ShopSize, machines: &[Machine]) -> Vec<Value> {
    let mut windows = Vec::new();
    let shutdown = size.weeks * 2 / 3;
    for day in 0..size.weeks * 7 {
        for hall in 0..size.halls {
            let hall = name('H', hall);
            let (from, to, factor, premium) = match (day % 7, day / 7) {
                (6, _) => continue,
                (5, _) => (360, 840, 15, 2500),
                (0..=3, week) if week == shutdown => (360, 1320, 5, 0),
                _ if draw.percent(80) => (360, 1320, 100, 0),
                _ if draw.percent(40) => {
                    let from = draw.step(360, 30, 24);
                    (from, from + draw.step(180, 60, 3), 35, 0)
                }
                _ => continue,
            };
            let window = name('W', windows.len() as u32);
            windows.push(json!({"window": window, "hall": hall, "day": day, "from": from, "to": to, "stop_factor": factor, "premium_per_hour": premium}));
        }
    }
    for (machine, _, _) in machines {
        for _ in 0..size.weeks / 6 {
            let (day, from) = (draw.below(size.weeks) * 7 + draw.below(5), draw.step(360, 30, 22));
            let window = name('W', windows.len() as u32);
            windows.push(json!({"window": window, "machine": machine, "day": day, "from": from, "to": from + draw.of(&[120, 180, 240]), "stop_factor": 40, "premium_per_hour": 0}));
        }
    }
    windows
}

fn stock(draw: &mut Draw, size: ShopSize, part: u32) -> Value {
    let share = size.services / 12;
    let later = share * 2;
    json!({"part": name('P', part), "on_hand": share / 3 + draw.below(3),
        "arrivals": [[draw.step(7, 1, 30), share / 4 + 1], [draw.step(21, 7, 6), later]]})
}

/// Everybody may lead the small ones, three in four the large ones too; there on some days only.
fn technician(draw: &mut Draw, size: ShopSize, who: u32) -> Value {
    let skills = if who % 4 == 3 { json!(["minor"]) } else { json!(["minor", "major"]) };
    // so that people have about 1.3 times the minutes of all services
    let minutes = size.services * 290 * size.shifts_percent / 100 / size.technicians;
    let (mut shifts, mut given, mut days): (Vec<Value>, u32, Vec<u32>) = (Vec::new(), 0, Vec::new());
    while given < minutes && days.len() < (size.weeks * 5) as usize {
        let day = draw.below(size.weeks) * 7 + draw.below(6);
        if days.contains(&day) {
            continue;
        }
        days.push(day);
        let (from, long) = match draw.below(4) {
            _ if day % 7 == 5 => (360, 480),
            0 => (draw.step(360, 30, 24), 240),
            1 => (840, 480),
            _ => (360, 480),
        };
        given += long;
        shifts.push(json!([day, from, from + long]));
    }
    json!({"technician": name('T', who), "skills": skills, "shifts": shifts})
}

fn due_service(draw: &mut Draw, size: ShopSize, service: u32, machines: &[Machine], windows: &[Value]) -> Value {
    let (machine, _, hall) = &machines[draw.below(machines.len() as u32) as usize];
    let is_major = draw.percent(22);
    let (kind, minutes, crew) = if is_major {
        ("major", draw.step(270, 15, 9), 1 + draw.below(100) / 62)
    } else {
        ("minor", draw.step(60, 15, 5), 1)
    };
    let mut needed: Vec<u32> = (0..draw.of(&[0, 0, 1, 1, 2])).map(|_| 1 + draw.below(8)).collect();
    needed.dedup();
    let unused = 50 + draw.below(350);
    let below = unused * draw.of(&[9, 18, 36]);
    // half of the way to 1 in which week, and how steep
    let (half, steep) = (i64::from(draw.below(size.weeks * 13 / 10)), i64::from(draw.step(1, 1, 6)));
    let crossed: Vec<i64> = (0..=i64::from(size.weeks)).map(|week| chance(week - half, steep)).collect();
    let days_below: i64 = (0..size.weeks as usize).map(|week| (crossed[week] + crossed[week + 1]) * 7 / 2).sum();
    let is_due = crossed.last().is_some_and(|last| *last > 1000);
    let leave = days_below * i64::from(below) / 10_000 + if is_due { 200_000 } else { 0 };
    let tail = if crossed.last().is_some_and(|last| *last > 9000) { 0 } else { draw.below(40) };
    let mut row = json!({
        "service": format!("S{service:04}"), "machine": machine, "kind": kind, "minutes": minutes, "crew": crew,
        "parts": needed.iter().map(|part| json!([name('P', *part), 1])).collect::<Vec<_>>(),
        "gauge": if draw.percent(50) {"A"} else {"B"},
        "ready_day": if draw.percent(90) {0} else {draw.below(40)},
        "crossed": crossed, "tail_days": tail, "day_below_cost": below, "unused_day_value": unused, "leave_cost": leave,
    });
    let ours: Vec<&Value> = windows.iter().filter(|window| window["hall"] == **hall).take(40).collect();
    if draw.percent(8) && !ours.is_empty() {
        row["booked"] = ours[draw.below(ours.len() as u32) as usize]["window"].clone();
        row["move_cost"] = json!(4000 * draw.below(4));
    }
    row
}

/// A rising curve in 1/10000: half at 0, a tenth or nine tenths some weeks before and after.
fn chance(weeks: i64, steep: i64) -> i64 {
    // x / sqrt(1 + x * x) by whole numbers, so that every machine draws the same
    let x = weeks * 1000 / (steep * 2);
    let root = (1_000_000 + x * x).isqrt();
    5000 + 5000 * x / root
}
