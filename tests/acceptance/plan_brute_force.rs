//! Plans of tiny shops against trying everything, and random larger shops against the rules.

use almanac_core::planning::broken::Broken;
use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::instance::read;
use almanac_core::planning::problem::{Plan, Problem};
use almanac_core::planning::search::{Found, NoPlanProgress, SearchConfig, search_among};
use almanac_tests::planning::brute_force::cheapest;
use almanac_tests::planning::instances::{ShopSize, instance_text};
use almanac_tests::planning::tiny::tiny_shop;
use proptest::prelude::*;

fn found(problem: &Problem, config: SearchConfig) -> Found {
    search_among(problem, &Candidates::of_problem(problem), config, &NoPlanProgress).unwrap()
}

/// Rules that the search may not break: all but those that held services break among themselves.
fn broken_by_the_search(problem: &Problem, plan: &Plan) -> Vec<String> {
    let held = Plan { places: problem.services.iter().map(|job| job.held.clone()).collect() };
    let before: Vec<Broken> = check(problem, &held).broken.iter().map(Broken::without_times).collect();
    check(problem, plan)
        .broken
        .into_iter()
        .filter(|rule| !before.contains(&rule.without_times()) && !before.iter().any(|held| is_no_longer(rule, held)))
        .map(|rule| format!("{rule:?}"))
        .collect()
}

/// Whether somebody was at held services for too long as it was, and is not for longer now: another
/// service may have taken over their lockout.
fn is_no_longer(rule: &Broken, held: &Broken) -> bool {
    match (rule, held) {
        (
            Broken::TooLong { technician, day, minutes, .. },
            Broken::TooLong { technician: who, day: on, minutes: before, .. },
        ) => (technician, day) == (who, on) && minutes <= before,
        _ => false,
    }
}

/// Found by chance once each.
#[test]
fn what_is_held_against_the_rules_is_no_fault_of_the_search() {
    for (seed, story) in [
        (11_614_202_867_711_353_924, "held outside its window, whether or not it does the lockout"),
        (480_801_763_190_059_892, "held for too long for its technician, and another service takes over the lockout"),
        (1_811_498_256_356_694_679, "held for longer than a day of theirs allows: the others have no less time for it"),
    ] {
        let problem = tiny_shop(seed);
        let found = found(&problem, SearchConfig::settled(problem.services.len()));
        assert_eq!(broken_by_the_search(&problem, &found.plan), Vec::<String>::new(), "{story}");
        assert_eq!(found.cost, cheapest(&problem).1, "{story}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_plan_of_a_tiny_shop_costs_what_the_cheapest_of_all_costs(seed in any::<u64>()) {
        let problem = tiny_shop(seed);
        let found = found(&problem, SearchConfig::settled(problem.services.len()));
        prop_assert_eq!(broken_by_the_search(&problem, &found.plan), Vec::<String>::new());
        prop_assert_eq!(found.cost, check(&problem, &found.plan).parts.total());
        prop_assert_eq!(found.cost, cheapest(&problem).1);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_rule_holds_in_any_shop(
        seed in any::<u64>(),
        services in 1_u32..70,
        weeks in 4_u32..16,
        technicians in 1_u32..7,
        shifts_percent in 20_u32..140,
        hours in proptest::option::of(2_i64..7),
    ) {
        let size = ShopSize { services, weeks, halls: 1 + services / 30, technicians, shifts_percent, seed };
        let (mut problem, _) = read(&instance_text(size), "drawn").unwrap();
        for person in &mut problem.technicians {
            person.minutes_per_day = hours.map(|hours| hours * 60);
        }
        let first = found(&problem, SearchConfig::first(problem.services.len()));
        prop_assert_eq!(broken_by_the_search(&problem, &first.plan), Vec::<String>::new());
        prop_assert_eq!(first.cost, check(&problem, &first.plan).parts.total());

        // what was planned is held now, every third of it; the stock shrinks under the rest
        for (nth, job) in problem.services.iter_mut().enumerate() {
            job.held = first.plan.places[nth].clone().filter(|_| nth % 3 == 0);
        }
        for part in &mut problem.parts {
            part.on_hand /= 2;
        }
        let second = found(&problem, SearchConfig::first(problem.services.len()));
        prop_assert_eq!(broken_by_the_search(&problem, &second.plan), Vec::<String>::new());
        prop_assert_eq!(second.plan.places.len(), problem.services.len());
        for (job, place) in problem.services.iter().zip(&second.plan.places) {
            prop_assert!(job.held.is_none() || job.held == *place);
        }
    }
}
