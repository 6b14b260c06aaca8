//! The search against published problems and against two rules that are known to be best.

use almanac_core::planning::candidates::{Candidate, Candidates};
use almanac_core::planning::problem::{DayShift, LeftReason, Person, PlanWindow, Scope};
use almanac_core::planning::search::{NoPlanProgress, SearchConfig, search, search_among};
use almanac_tests::planning::assignment::read;
use almanac_tests::planning::plain::{job, problem, span, window};
use proptest::prelude::*;

/// Optima of OR-Library gap1 to gap4: J. E. Beasley, OR-Library, generalised assignment problem,
/// file gapopt of the same collection.
const PUBLISHED: [(&str, [i64; 5]); 4] = [
    (include_str!("../fixtures/planning/gap1.txt"), [336, 327, 339, 341, 326]),
    (include_str!("../fixtures/planning/gap2.txt"), [434, 436, 420, 419, 428]),
    (include_str!("../fixtures/planning/gap3.txt"), [580, 564, 573, 570, 564]),
    (include_str!("../fixtures/planning/gap4.txt"), [656, 644, 673, 647, 664]),
];

#[test]
fn assignments_of_the_or_library_are_within_one_percent_and_most_exact() {
    let mut exact = 0;
    for (text, optima) in PUBLISHED {
        let problems = read(text);
        assert_eq!(problems.len(), optima.len());
        for (assignment, optimum) in problems.iter().zip(optima) {
            let (problem, candidates) = assignment.as_plan();
            let config = SearchConfig::settled(problem.services.len());
            let found = search_among(&problem, &candidates, config, &NoPlanProgress).unwrap();
            let earned = assignment.earned(&found.plan).expect("every job has an agent with room for it");
            assert!(earned <= optimum, "{earned} is more than the published optimum {optimum}");
            assert!(earned * 100 >= optimum * 99, "{earned} of {optimum}");
            exact += usize::from(earned == optimum);
        }
    }
    assert!(exact > 10, "{exact} of 20 exact");
}

/// How many jobs are late at least on one machine, by the rule of J. M. Moore, "An n job, one machine
/// sequencing algorithm for minimizing the number of late jobs", Management Science 15 (1968) 102-109:
/// in order of due dates, drop the longest so far whenever one would be late.
fn late_by_moore_hodgson(jobs: &[(i64, i64)]) -> i64 {
    let mut by_due = jobs.to_vec();
    by_due.sort_by_key(|(_, due)| *due);
    let (mut kept, mut late): (Vec<i64>, i64) = (Vec::new(), 0);
    for (minutes, due) in by_due {
        kept.push(minutes);
        if kept.iter().sum::<i64>() > due {
            kept.sort_unstable();
            kept.pop();
            late += 1;
        }
    }
    late
}

/// Least weighted sum of completion times on one machine, by the rule of W. E. Smith, "Various
/// optimizers for single-stage production", Naval Research Logistics Quarterly 3 (1956) 59-66: in
/// order of time over weight.
fn weighted_completion_by_smith(jobs: &[(i64, i64)]) -> i64 {
    let mut by_ratio = jobs.to_vec();
    by_ratio.sort_by(|a, b| (a.0 * b.1).cmp(&(b.0 * a.1)));
    let mut now = 0;
    let completion = |(time, weight): (i64, i64)| {
        now += time;
        weight * now
    };
    by_ratio.into_iter().map(completion).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    /// One technician, one day; a service is on time when it lies in its window, which ends when it is due.
    #[test]
    fn as_few_jobs_are_late_as_moore_and_hodgson_say(jobs in proptest::collection::vec((1_i64..9, 1_i64..40), 1..11)) {
        let mut shop = problem(1, jobs.len(), 600);
        shop.windows = jobs.iter().enumerate()
            .map(|(machine, (_, due))| PlanWindow { scope: Scope::Machine(machine), ..window(0, 0, *due) })
            .collect();
        shop.services = jobs.iter().enumerate().map(|(machine, (minutes, _))| job(machine, *minutes, 1)).collect();
        let plan = search(&shop, SearchConfig::settled(jobs.len()), &NoPlanProgress).unwrap();
        let late = plan.places.iter().filter(|place| place.is_none()).count();
        prop_assert_eq!(late as i64, late_by_moore_hodgson(&jobs));
    }

    /// One technician, one day; a window for every start, so that a service's place is its start.
    #[test]
    fn completion_costs_what_smiths_order_costs(jobs in proptest::collection::vec((1_i64..5, 1_i64..9), 1..6)) {
        let end: i64 = jobs.iter().map(|(time, _)| time).sum();
        let mut shop = problem(1, jobs.len(), end);
        shop.windows.clear();
        shop.technicians = vec![Person {
            skills: vec![true],
            shifts: vec![DayShift { day: 0, span: span(0, end) }],
            minutes_per_day: None,
        }];
        let mut of = Vec::new();
        for (machine, (time, weight)) in jobs.iter().enumerate() {
            shop.services.push(job(machine, *time, 1_000_000));
            let mut list = Vec::new();
            for start in 0..=end - time {
                list.push(Candidate { window: shop.windows.len(), minutes: *time, own: weight * (start + time), alone: true });
                shop.windows.push(PlanWindow { scope: Scope::Machine(machine), ..window(0, start, start + time) });
            }
            of.push(list);
        }
        let candidates = Candidates { of, reasons: vec![LeftReason::Dearer; jobs.len()] };
        let config = SearchConfig::settled(jobs.len());
        let found = search_among(&shop, &candidates, config, &NoPlanProgress).unwrap();
        prop_assert_eq!(found.cost, weighted_completion_by_smith(&jobs));
    }
}
