//! Plans of the stored instances: good, valid, the same twice, told of and stopped on the way.

use almanac_core::forecast::Cancelled;
use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::instance::{plan_json, read};
use almanac_core::planning::names::Names;
use almanac_core::planning::problem::{Booked, Plan, Problem};
use almanac_core::planning::search::{Found, NoPlanProgress, PlanProgress, SearchConfig, search_among};
use almanac_tests::planning::instances::{ShopSize, crowded_text, instance_text};
use std::cell::{Cell, RefCell};

/// Instances and their best known plans are generated: the plans come from many runs of a prototype,
/// recombined by an exact solver; that of the smallest is proven the cheapest.
const STORED: [(&str, &str); 3] = [
    (
        include_str!("../fixtures/planning/instance-20x8.json"),
        include_str!("../fixtures/planning/instance-20x8.best.json"),
    ),
    (
        include_str!("../fixtures/planning/instance-60x16.json"),
        include_str!("../fixtures/planning/instance-60x16.best.json"),
    ),
    (
        include_str!("../fixtures/planning/instance-100x26.json"),
        include_str!("../fixtures/planning/instance-100x26.best.json"),
    ),
];

fn found(problem: &Problem, config: SearchConfig) -> Found {
    search_among(problem, &Candidates::of_problem(problem), config, &NoPlanProgress).unwrap()
}

fn stored(nth: usize) -> (Problem, Names, i64) {
    let (problem, names) = read(STORED[nth].0, "stored").unwrap();
    let best: serde_json::Value = serde_json::from_str(STORED[nth].1).unwrap();
    (problem, names, best["cost"].as_i64().unwrap())
}

#[test]
fn a_settled_plan_is_at_most_one_percent_dearer_than_the_best_known() {
    for nth in 0..STORED.len() {
        let (problem, _, best) = stored(nth);
        let found = found(&problem, SearchConfig::settled(problem.services.len()));
        let checked = check(&problem, &found.plan);
        assert!(checked.broken.is_empty(), "{:?}", checked.broken);
        assert_eq!(checked.parts.total(), found.cost);
        assert!(found.cost * 100 <= best * 101, "{} beside {best}", found.cost);
        assert!(nth > 0 || found.cost == best, "{} beside the proven {best}", found.cost);
    }
}

#[test]
fn the_first_proposal_is_between_the_start_and_the_settled_plan() {
    let (problem, _, best) = stored(2);
    let start = found(&problem, SearchConfig::start());
    let first = found(&problem, SearchConfig::first(problem.services.len()));
    assert!(check(&problem, &start.plan).broken.is_empty());
    assert!(check(&problem, &first.plan).broken.is_empty());
    assert!(first.cost < start.cost, "{} beside {}", first.cost, start.cost);
    assert!(first.cost * 100 <= best * 106, "{} beside {best}", first.cost);
}

#[test]
fn the_same_problem_gets_the_same_plan_to_the_byte() {
    let text = |nth: usize| {
        let (problem, names, _) = stored(nth);
        let candidates = Candidates::of_problem(&problem);
        let config = SearchConfig { runs: 3, moves_per_service: 60, ..SearchConfig::start() };
        let found = search_among(&problem, &candidates, config, &NoPlanProgress).unwrap();
        let reasons: Vec<_> = candidates.reasons.iter().copied().map(Some).collect();
        plan_json(&names, &found.plan, &reasons, &check(&problem, &found.plan).parts, None).to_string()
    };
    assert_eq!(text(1), text(1));
    assert_eq!(text(2), text(2));
}

#[test]
fn more_runs_are_never_dearer() {
    let (problem, _) = read(&instance_text(ShopSize::TIGHT), "drawn").unwrap();
    let costs = [1, 2, 4]
        .map(|runs| found(&problem, SearchConfig { runs, moves_per_service: 40, ..SearchConfig::start() }).cost);
    assert!(costs[1] <= costs[0] && costs[2] <= costs[1], "{costs:?}");
    let start = found(&problem, SearchConfig::start()).cost;
    assert!(costs.iter().all(|cost| *cost <= start), "{costs:?} {start}");
}

#[test]
fn days_of_many_services_keep_every_rule() {
    let (problem, _) = read(&crowded_text(150, 6, 12), "drawn").unwrap();
    let mut costs = Vec::new();
    for moves_per_service in [0, 4] {
        let found = found(&problem, SearchConfig { moves_per_service, ..SearchConfig::start() });
        let checked = check(&problem, &found.plan);
        assert!(checked.broken.is_empty(), "{:?}", checked.broken);
        assert_eq!(checked.parts.total(), found.cost);
        let mut on_day = vec![0; problem.days];
        for place in found.plan.places.iter().flatten() {
            on_day[problem.windows[place.window].day] += 1;
        }
        assert!(on_day.iter().any(|services| *services > 12), "{on_day:?}");
        costs.push(found.cost);
    }
    assert!(costs[1] < costs[0], "{costs:?}");
}

/// Stops after some reports; keeps what it was told.
struct StopsAfter {
    reports: Cell<u32>,
    last_done: Cell<u64>,
    best: RefCell<Option<(Plan, i64)>>,
}

impl PlanProgress for StopsAfter {
    fn step(&self, done: u64, total: u64) -> bool {
        assert!(done <= total && done >= self.last_done.get());
        self.last_done.set(done);
        self.reports.set(self.reports.get().saturating_sub(1));
        self.reports.get() > 0
    }

    fn better(&self, plan: &Plan, cost: i64) {
        assert!(self.best.borrow().as_ref().is_none_or(|(_, before)| cost < *before));
        *self.best.borrow_mut() = Some((plan.clone(), cost));
    }
}

#[test]
fn a_search_that_is_stopped_has_told_its_best_plan() {
    let (problem, _, _) = stored(1);
    let candidates = Candidates::of_problem(&problem);
    let watch = |reports| StopsAfter { reports: Cell::new(reports), last_done: Cell::new(0), best: RefCell::new(None) };
    let config = SearchConfig { runs: 4, moves_per_service: 50, ..SearchConfig::start() };
    for reports in [1, 2, 30] {
        let stops = watch(reports);
        assert_eq!(search_among(&problem, &candidates, config, &stops), Err(Cancelled));
        let (plan, cost) = stops.best.into_inner().unwrap();
        let checked = check(&problem, &plan);
        assert!(checked.broken.is_empty(), "{:?}", checked.broken);
        assert_eq!(checked.parts.total(), cost);
    }
    let never = watch(u32::MAX);
    let found = search_among(&problem, &candidates, config, &never).unwrap();
    assert_eq!(never.last_done.get(), 4 * 50 * candidates.of.iter().filter(|list| !list.is_empty()).count() as u64);
    assert!(never.best.into_inner().unwrap().1 >= found.cost);
}

/// Books what a plan says; another window costs `move_cost`.
fn book(problem: &mut Problem, plan: &Plan, move_cost: i64) {
    for (job, place) in problem.services.iter_mut().zip(&plan.places) {
        job.booked = place.as_ref().map(|place| Booked { window: Some(place.window), move_cost });
    }
}

fn moved(problem: &Problem, plan: &Plan) -> usize {
    let is_moved = |(nth, place): (usize, &Option<_>)| {
        let booked = problem.services[nth].booked.and_then(|booked| booked.window);
        let window = place.as_ref().map(|place: &almanac_core::planning::problem::Place| place.window);
        booked.is_some() && booked != window
    };
    plan.places.iter().enumerate().filter(|row| is_moved(*row)).count()
}

#[test]
fn after_one_lost_window_few_services_move() {
    for text in [STORED[2].0, &instance_text(ShopSize::TIGHT)] {
        let (mut problem, _) = read(text, "instance").unwrap();
        let settled = found(&problem, SearchConfig { runs: 3, moves_per_service: 150, ..SearchConfig::start() });
        book(&mut problem, &settled.plan, 0);
        let same = found(&problem, SearchConfig::replan());
        assert!(moved(&problem, &same.plan) <= 2, "nothing changed, {} moved", moved(&problem, &same.plan));

        let lost = settled.plan.places.iter().flatten().next().unwrap().window;
        let uses = settled.plan.places.iter().flatten().filter(|place| place.window == lost).count();
        problem.windows[lost].span.to = problem.windows[lost].span.from;
        let after = found(&problem, SearchConfig::replan());
        let checked = check(&problem, &after.plan);
        assert!(checked.broken.is_empty(), "{:?}", checked.broken);
        assert_eq!(checked.parts.total(), after.cost);
        assert!(moved(&problem, &after.plan) <= uses + 5, "{} moved", moved(&problem, &after.plan));
        assert!(after.plan.places.iter().flatten().all(|place| place.window != lost));
    }
}
