//! No plan costs less than the bound says: against every plan of tiny shops, and against the best
//! plans known of the stored instances (generated; their plans and least bounds come from other
//! programs, as their files say).

use almanac_core::due::due_list;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::bound::{BoundEffort, lower_bound};
use almanac_core::planning::check::check;
use almanac_core::planning::instance;
use almanac_core::planning::problem::Problem;
use almanac_core::planning::proposal::PlanningConfig;
use almanac_core::planning::propose::propose;
use almanac_core::planning::search::{NoPlanProgress, SearchConfig, search};
use almanac_tests::planning::brute_force::cheapest;
use almanac_tests::planning::tiny_shop::tiny_shop;
use almanac_tests::planning_shop::{planning_shop, present};
use proptest::prelude::*;
use serde_json::Value;
use std::path::Path;

const TINY_SHOPS: u64 = 60;

fn bound(problem: &Problem, cost: i64, effort: BoundEffort) -> i64 {
    lower_bound(problem, cost, effort, &mut |_, _| true)
}

#[test]
fn no_plan_of_a_tiny_shop_undercuts_its_bound() {
    let efforts = [
        BoundEffort { minute_rounds: 60, day_rounds: 60, day_steps: 1000 },
        BoundEffort { minute_rounds: 40, day_rounds: 0, day_steps: 0 },
        // so little that every limit is reached
        BoundEffort { minute_rounds: 3, day_rounds: 3, day_steps: 4 },
        BoundEffort { minute_rounds: 0, day_rounds: 20, day_steps: 50 },
    ];
    let (mut exact, mut placed) = (0, 0);
    for seed in 0..TINY_SHOPS {
        let problem = tiny_shop(seed);
        let (plan, cost) = cheapest(&problem);
        let checked = check(&problem, &plan);
        assert_eq!((checked.parts.total(), checked.broken), (cost, Vec::new()), "seed {seed}");
        placed += plan.places.iter().flatten().count();
        for effort in efforts {
            let found = bound(&problem, cost, effort);
            assert!(found <= cost, "seed {seed}: bound {found}, but a plan costs {cost} ({effort:?})");
        }
        exact += u64::from(bound(&problem, cost, efforts[0]) == cost);
    }
    // the shops say something, and the bound is worth having: most of the time it is the optimum
    assert!(placed as u64 > TINY_SHOPS, "{placed} services were placed in {TINY_SHOPS} shops");
    assert!(exact * 10 >= TINY_SHOPS * 9, "{exact} of {TINY_SHOPS} bounds are the optimum");
}

/// A stored instance, what its best plan costs, and the least bound that is asked for.
fn stored(name: &str) -> (Problem, i64, i64) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/planning");
    let text = std::fs::read_to_string(folder.join(format!("{name}.json"))).unwrap();
    let best = std::fs::read_to_string(folder.join(format!("{name}.best.json"))).unwrap();
    let best: Value = serde_json::from_str(&best).unwrap();
    let (problem, _) = instance::read(&text, name).unwrap();
    (problem, best["cost"].as_i64().unwrap(), best["least_bound"].as_i64().unwrap())
}

/// The bound of a stored instance is honest, over the least that is asked for, and close.
#[track_caller]
fn check_stored(name: &str, most_percent: f64) {
    let (problem, cost, least) = stored(name);
    let found = bound(&problem, cost, BoundEffort::for_services(problem.services.len()));
    assert!(found <= cost, "{name}: bound {found}, but a plan costs {cost}");
    assert!(found >= least, "{name}: bound {found}, at least {least} is asked for");
    let over = 100.0 * (cost - found) as f64 / found as f64;
    assert!(over <= most_percent, "{name}: the best plan is {over:.2} % above the bound");
}

#[test]
fn twenty_services_within_a_tenth_of_a_percent() {
    check_stored("instance-20x8", 0.1);
}

#[test]
fn sixty_services_within_two_percent() {
    check_stored("instance-60x16", 2.0);
}

#[test]
fn a_hundred_services_within_five_percent() {
    check_stored("instance-100x26", 5.0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// Through the shop's own words: what is printed as the cheapest possible is neither above the plan
    /// printed with it nor above any plan that a longer search finds.
    #[test]
    fn what_a_shop_is_told_to_be_the_cheapest_possible_is(seed in any::<u64>()) {
        let shop = planning_shop(seed);
        let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
        let due = due_list(&shop, &forecast);
        let short = PlanningConfig { moves_per_service: 10, runs: 2, ..PlanningConfig::settled(26) };
        let basis = PlanBasis::of(&shop, &forecast, &due, present(), &short);
        let proposal = propose(&basis, &short, &NoPlanProgress).unwrap();
        if let Some(cheapest) = proposal.cheapest_possible {
            let cheapest = (cheapest.get() * 100.0).round() as i64;
            let cost = (proposal.costs.total().get() * 100.0).round() as i64;
            prop_assert!(cheapest <= cost, "{cheapest} is said to be possible, the plan costs {cost}");
            let longer = SearchConfig { runs: 12, moves_per_service: 300, seed: 77, ..SearchConfig::start() };
            let found = search(basis.problem(), longer, &NoPlanProgress).unwrap();
            let checked = check(basis.problem(), &found);
            prop_assert!(cheapest <= checked.parts.total(), "{cheapest} is said, {} was found", checked.parts.total());
        }
    }
}

/// Most random shops are told a bound: the property above says something.
#[test]
fn most_shops_are_told_what_is_the_cheapest_possible() {
    let told = (0..20_u64).filter(|seed| {
        let shop = planning_shop(*seed);
        let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
        let basis = PlanBasis::of(&shop, &forecast, &due_list(&shop, &forecast), present(), &PlanningConfig::default());
        propose(&basis, &PlanningConfig::default(), &NoPlanProgress).unwrap().cheapest_possible.is_some()
    });
    let told = told.count();
    assert!(told >= 12, "{told} of 20 shops");
}

#[test]
fn the_same_twice_and_a_worse_plan_gives_no_dishonest_bound() {
    let (problem, cost, _) = stored("instance-20x8");
    let effort = BoundEffort::for_services(problem.services.len());
    assert_eq!(bound(&problem, cost, effort), bound(&problem, cost, effort));
    for known in [cost / 2, cost * 3] {
        assert!(bound(&problem, known, effort) <= cost, "what is known of a plan only sets the steps");
    }
}

#[test]
fn stopping_keeps_what_is_proven_by_then() {
    let (problem, cost, _) = stored("instance-20x8");
    let effort = BoundEffort::for_services(problem.services.len());
    let mut told = Vec::new();
    let early = lower_bound(&problem, cost, effort, &mut |done, all| {
        told.push((done, all));
        done < 5
    });
    assert!(early <= bound(&problem, cost, effort));
    let all = effort.minute_rounds + effort.day_rounds;
    assert_eq!(told[..5], [(1, all), (2, all), (3, all), (4, all), (5, all)]);
    assert!(told.len() <= 6, "told {} times", told.len());
}
