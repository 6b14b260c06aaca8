//! The stored best plans, to the cent, and each rule broken on purpose.
//!
//! Instances and plans are generated ones (`tests/fixtures/planning`): the plans come from many runs
//! of another program and were gone through by a third, so their costs are figures from outside.

use super::broken::Broken;
use super::check::{Checked, check};
use super::instance;
use super::names::Names;
use super::problem::{CostParts, Place, Plan, Problem, Scope, Span};
use serde_json::Value;

macro_rules! stored {
    ($name:literal) => {
        (
            include_str!(concat!("../../../tests/fixtures/planning/", $name, ".json")),
            include_str!(concat!("../../../tests/fixtures/planning/", $name, ".best.json")),
        )
    };
}

const STORED: [(&str, &str); 3] = [stored!("instance-20x8"), stored!("instance-60x16"), stored!("instance-100x26")];

/// An instance with its stored plan.
fn load((instance, best): (&str, &str)) -> (Problem, Names, Plan, Value) {
    let (problem, names) = instance::read(instance, "instance").unwrap();
    let best: Value = serde_json::from_str(best).unwrap();
    let index = |names: &[String], name: &Value| names.iter().position(|other| name == other.as_str()).unwrap();
    let place = |place: &Value| Place {
        window: index(&names.windows, &place["window"]),
        start: place["start"].as_i64().unwrap(),
        technicians: place["technicians"]
            .as_array()
            .unwrap()
            .iter()
            .map(|who| index(&names.technicians, who))
            .collect(),
    };
    let places = names.services.iter().map(|service| best["plan"].get(service).map(place)).collect();
    (problem, names, Plan { places }, best)
}

fn medium() -> (Problem, Plan) {
    let (problem, _, plan, _) = load(STORED[1]);
    (problem, plan)
}

#[test]
fn stored_plans_cost_what_is_stored_and_break_nothing() {
    for stored in STORED {
        let (problem, names, plan, best) = load(stored);
        let Checked { parts, broken } = check(&problem, &plan);
        let words: Vec<String> = broken.iter().map(|broken| broken.words(&names)).collect();
        assert_eq!(words, Vec::<String>::new());
        let part = |key: &str| best["parts"][key].as_i64().unwrap();
        let wanted = CostParts {
            stop: part("stop"),
            premium: part("premium"),
            risk: part("risk"),
            early: part("early"),
            moved: part("move"),
            lockout: part("lockout"),
            visit: part("visit"),
            left: part("left"),
        };
        assert_eq!(parts, wanted);
        assert_eq!(parts.total(), best["cost"].as_i64().unwrap());
    }
}

#[test]
fn what_a_place_costs_is_what_the_check_adds_up() {
    for stored in STORED {
        let (problem, _, plan, _) = load(stored);
        let book = super::costs::CostBook::new(&problem);
        let Checked { parts, .. } = check(&problem, &plan);
        let mut sum = CostParts::default();
        let mut stops = std::collections::BTreeSet::new();
        for (service, place) in plan.places.iter().enumerate() {
            let Some(place) = place else { continue };
            let own = book.own(service, place.window);
            sum.stop += own.stop;
            sum.premium += own.premium;
            sum.risk += own.risk;
            sum.early += own.early;
            sum.moved += own.moved;
            stops.insert((problem.machines[problem.services[service].machine], place.window));
        }
        sum.lockout = stops.iter().map(|(line, window)| book.lockout(*line, *window)).sum();
        assert_eq!(CostParts { visit: parts.visit, left: parts.left, ..sum }, parts);
    }
}

/// Changes the plan and says what the check finds that it did not find before.
#[track_caller]
fn after(change: impl FnOnce(&mut Problem, &mut Plan)) -> Vec<Broken> {
    let (mut problem, mut plan) = medium();
    change(&mut problem, &mut plan);
    check(&problem, &plan).broken
}

/// The first service with a place for which something holds.
#[track_caller]
fn which(plan: &Plan, holds: impl Fn(usize, &Place) -> bool) -> usize {
    let placed = plan.places.iter().enumerate();
    placed
        .filter_map(|(s, place)| place.as_ref().map(|place| (s, place)))
        .find(|(s, place)| holds(*s, place))
        .unwrap()
        .0
}

fn place(plan: &mut Plan, service: usize) -> &mut Place {
    plan.places[service].as_mut().unwrap()
}

#[track_caller]
fn assert_found(broken: &[Broken], is: impl Fn(&Broken) -> bool) {
    assert!(broken.iter().any(is), "{broken:?}");
}

#[test]
fn a_held_service_that_moved_or_lost_its_place() {
    let hold = |problem: &mut Problem, plan: &Plan| problem.services[0].held.clone_from(&plan.places[0]);
    assert_eq!(after(|problem, plan| hold(problem, plan)), []);
    let broken = after(|problem, plan| {
        hold(problem, plan);
        place(plan, 0).start += 5;
    });
    assert_found(&broken, |b| *b == Broken::HeldChanged { service: 0 });
    let broken = after(|problem, plan| {
        hold(problem, plan);
        plan.places[0] = None;
    });
    assert_eq!(broken, [Broken::HeldLeft { service: 0 }]);
}

#[test]
fn a_window_of_another_hall_or_machine_or_none() {
    let broken = after(|problem, plan| {
        let machine = problem.services[0].machine;
        let other = problem.windows.iter().position(|w| matches!(w.scope, Scope::Machine(m) if m != machine)).unwrap();
        place(plan, 0).window = other;
    });
    assert_found(&broken, |b| matches!(b, Broken::WrongWindow { service: 0, .. }));
    let broken = after(|_, plan| place(plan, 0).window = 100_000);
    assert_eq!(broken, [Broken::WrongWindow { service: 0, window: 100_000 }]);
}

#[test]
fn before_its_ready_day() {
    let broken = after(|problem, plan| {
        let day = problem.windows[place(plan, 0).window].day;
        problem.services[0].ready_day = day;
    });
    assert_eq!(broken, []);
    let broken = after(|problem, plan| {
        let day = problem.windows[place(plan, 0).window].day;
        problem.services[0].ready_day = day + 1;
    });
    assert!(matches!(broken[..], [Broken::NotReady { service: 0, .. }]));
}

#[test]
fn one_minute_outside_its_window_or_its_shift() {
    let broken = after(|problem, plan| {
        let start = place(plan, 0).start;
        problem.windows[place(plan, 0).window].span.from = start + 1;
    });
    assert_found(&broken, |b| matches!(b, Broken::OutsideWindow { service: 0, .. }));
    let broken = after(|problem, plan| {
        let (who, start) = (place(plan, 0).technicians[0], place(plan, 0).start);
        let day = problem.windows[place(plan, 0).window].day;
        for shift in problem.technicians[who].shifts.iter_mut().filter(|shift| shift.day == day) {
            shift.span.from = shift.span.from.max(start + 1);
        }
    });
    assert_found(&broken, |b| matches!(b, Broken::NotThere { service: 0, .. }));
}

#[test]
fn before_the_lockout_of_its_stop_is_done() {
    let broken = after(|problem, plan| {
        let line = |s: usize| problem.machines[problem.services[s].machine];
        let places = plan.clone().places;
        let shares = |s: usize, at: &Place| {
            let other = |t: usize, other: &Place| {
                t != s && line(t) == line(s) && other.window == at.window && other.start > at.start
            };
            places.iter().enumerate().any(|(t, place)| place.as_ref().is_some_and(|place| other(t, place)))
        };
        let first = which(plan, shares);
        let (start, window) = (place(plan, first).start, place(plan, first).window);
        let second = which(plan, |s, at| s != first && line(s) == line(first) && at.window == window);
        place(plan, second).start = start + problem.lockout_min - 1;
    });
    assert_found(&broken, |b| matches!(b, Broken::BeforeLockout { .. }));
}

#[test]
fn too_few_people_one_twice_or_a_stranger() {
    let two = |problem: &Problem, plan: &Plan| which(plan, |s, _| problem.services[s].crew == 2);
    for change in [
        |people: &mut Vec<usize>| people.truncate(1),
        |people: &mut Vec<usize>| people[1] = people[0],
        |people: &mut Vec<usize>| people[1] = 99,
    ] {
        let broken = after(|problem, plan| {
            let service = two(problem, plan);
            change(&mut place(plan, service).technicians);
        });
        assert_found(&broken, |b| matches!(b, Broken::Crew { wanted: 2, .. }));
    }
}

#[test]
fn a_lead_without_the_skill() {
    let broken = after(|problem, plan| {
        let who = place(plan, 0).technicians[0];
        problem.technicians[who].skills = vec![false, false];
    });
    assert_found(&broken, |b| matches!(b, Broken::NoSkill { service: 0, .. }));
}

#[test]
fn one_person_twice_at_a_time_or_too_long_on_a_day() {
    let broken = after(|problem, plan| {
        let start = |plan: &Plan, s: usize| plan.places[s].as_ref().map(|place| place.start);
        let same = |s: usize, at: &Place| {
            s != 0 && problem.windows[at.window].day == problem.windows[plan.places[0].as_ref().unwrap().window].day
        };
        let other = which(plan, same);
        let (there, who) = (start(plan, 0).unwrap(), place(plan, 0).technicians.clone());
        place(plan, other).start = there;
        place(plan, other).technicians = who;
    });
    assert_found(&broken, |b| matches!(b, Broken::PersonTwice { .. }));
    let allow = |minutes: i64| {
        after(|problem, plan| {
            let (who, service) = (place(plan, 0).technicians[0], 0);
            let day = problem.windows[place(plan, service).window].day;
            problem.technicians[who].shifts.retain(|shift| shift.day == day);
            for (s, at) in plan.places.iter_mut().enumerate() {
                if s != service {
                    *at = None;
                }
            }
            problem.technicians[who].minutes_per_day = Some(problem.services[0].minutes + 30 + minutes);
        })
    };
    assert_eq!(allow(0), []);
    assert!(matches!(allow(-1)[..], [Broken::TooLong { .. }]));
}

#[test]
fn two_services_of_one_machine_at_a_time() {
    let broken = after(|problem, plan| {
        let machine = |s: usize| problem.services[s].machine;
        let twin = |s: usize, at: &Place| {
            let others = plan.places.iter().enumerate();
            others.filter_map(|(t, place)| place.as_ref().map(|place| (t, place))).any(|(t, other)| {
                t != s && machine(t) == machine(s) && other.window == at.window && other.start > at.start
            })
        };
        let first = which(plan, twin);
        let (start, window) = (place(plan, first).start, place(plan, first).window);
        let second = which(plan, |s, at| s != first && machine(s) == machine(first) && at.window == window);
        place(plan, second).start = start + 40;
    });
    assert_found(&broken, |b| matches!(b, Broken::MachineTwice { .. }));
}

#[test]
fn gauges_and_parts_have_an_end() {
    let broken = after(|problem, plan| {
        let day = problem.windows[place(plan, 0).window].day;
        let group = problem.services[0].gauge.unwrap();
        problem.gauges[group][day] = 0;
    });
    assert!(matches!(broken[..], [Broken::GaugesTaken { room: 0, .. }]));
    let broken = after(|problem, plan| {
        let service = which(plan, |s, _| !problem.services[s].parts.is_empty());
        let (part, _) = problem.services[service].parts[0];
        problem.parts[part].on_hand = 0;
        problem.parts[part].arrivals.clear();
    });
    assert_found(&broken, |b| matches!(b, Broken::PartShort { there: 0, .. }));
}

#[test]
fn a_fault_names_who_and_where() {
    let names = Names {
        services: vec!["S1".to_owned(), "S2".to_owned()],
        technicians: vec!["T1".to_owned()],
        ..Names::default()
    };
    let twice = Broken::PersonTwice { technician: 0, day: 3, one: 0, other: 1 };
    assert_eq!(twice.words(&names), "T1 is at S1 and S2 at the same time on day 3");
    let outside = Broken::OutsideWindow { service: 7, span: Span { from: 425, to: 605 } };
    assert_eq!(outside.words(&names), "no. 7 from 7:05 to 10:05 does not lie inside its window");
}
