//! The edges of planning: nothing there, too much there, and things in each other's way.

use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::problem::{LeftReason, Line, Place, Plan, PlanWindow, Problem, Scope, Stock};
use almanac_core::planning::search::{NoPlanProgress, SearchConfig, search_among};
use almanac_tests::planning::plain::{job, person, problem, span, window};

/// The plan, its cost, and why each service that is left is left.
fn planned(shop: &Problem) -> (Plan, i64, Vec<Option<LeftReason>>) {
    let candidates = Candidates::of_problem(shop);
    let config = SearchConfig::first(shop.services.len());
    let found = search_among(shop, &candidates, config, &NoPlanProgress).unwrap();
    let reasons = found.plan.places.iter().zip(&candidates.reasons);
    let reasons = reasons.map(|(place, reason)| place.is_none().then_some(*reason)).collect();
    (found.plan, found.cost, reasons)
}

/// The same of a plan that keeps every rule.
fn kept(shop: &Problem) -> (Plan, i64, Vec<Option<LeftReason>>) {
    let (plan, cost, reasons) = planned(shop);
    let checked = check(shop, &plan);
    assert!(checked.broken.is_empty(), "{:?}", checked.broken);
    assert_eq!(checked.parts.total(), cost);
    (plan, cost, reasons)
}

#[test]
fn without_windows_or_people_everything_is_left_with_its_reason() {
    let mut shop = problem(3, 2, 480);
    shop.services = vec![job(0, 60, 500), job(1, 90, 700)];
    let no_people = Problem { technicians: Vec::new(), ..shop.clone() };
    assert_eq!(kept(&no_people).2, vec![Some(LeftReason::Crew); 2]);
    shop.windows.clear();
    let (_, cost, reasons) = kept(&shop);
    assert_eq!((cost, reasons), (1200, vec![Some(LeftReason::Date); 2]));
}

#[test]
fn each_rule_that_rules_out_every_window_is_named() {
    let mut shop = problem(3, 1, 120);
    shop.lockout_min = 30;
    shop.gauges = vec![vec![0, 0, 0]];
    shop.parts = vec![Stock { on_hand: 0, arrivals: vec![(5, 1)] }];
    let mut late = job(0, 60, 100);
    late.ready_day = 3;
    let too_long = job(0, 91, 100);
    let mut for_two = job(0, 60, 100);
    for_two.crew = 2;
    let mut without_gauge = job(0, 60, 100);
    without_gauge.gauge = Some(0);
    let mut without_kit = job(0, 60, 100);
    without_kit.parts = vec![(0, 1)];
    let dear = job(0, 60, -1);
    shop.services = vec![late, too_long, for_two, without_gauge, without_kit, dear];
    use LeftReason::{Crew, Date, Dearer, Gauge, Parts, Window};
    let (_, _, reasons) = kept(&shop);
    assert_eq!(reasons, [Date, Window, Crew, Gauge, Parts, Dearer].map(Some));
}

#[test]
fn one_technician_and_a_two_person_job_lacks_crew_until_a_second_comes() {
    let mut shop = problem(1, 1, 480);
    let mut for_two = job(0, 120, 900);
    for_two.crew = 2;
    shop.services = vec![for_two];
    assert_eq!(kept(&shop).2, vec![Some(LeftReason::Crew)]);
    let mut second = person(1, 480);
    second.skills = vec![false, false];
    shop.technicians.push(second);
    let (plan, _, _) = kept(&shop);
    assert_eq!(plan.places[0].as_ref().unwrap().technicians, vec![0, 1], "the one with the skill leads");
}

#[test]
fn two_held_ones_that_clash_both_stay_and_the_rest_is_planned_around_them() {
    let mut shop = problem(1, 3, 480);
    shop.services = vec![job(0, 120, 900), job(1, 120, 900), job(2, 300, 900)];
    let at = |start| Some(Place { window: 0, start, technicians: vec![0] });
    shop.services[0].held = at(60);
    shop.services[1].held = at(120);
    let (plan, cost, _) = planned(&shop);
    assert_eq!(plan.places[0], at(60));
    assert_eq!(plan.places[1], at(120));
    assert!(plan.places[2].is_none(), "240 minutes are left after them");
    assert_eq!(cost, 900);
    assert_eq!(check(&shop, &plan).broken.len(), 1, "the clash, and nothing else");
    shop.services[2].minutes = 240;
    assert_eq!(planned(&shop).0.places[2].as_ref().unwrap().start, 240);
}

#[test]
fn held_ones_may_take_more_than_there_is_but_nothing_is_added_to_it() {
    let mut shop = problem(2, 3, 480);
    shop.gauges = vec![vec![1, 1]];
    shop.parts = vec![Stock { on_hand: 1, arrivals: vec![(1, 2)] }];
    for machine in 0..3 {
        let mut next = job(machine, 60, 900);
        next.gauge = Some(0);
        next.parts = vec![(0, 1)];
        shop.services.push(next);
    }
    shop.services[0].held = Some(Place { window: 0, start: 0, technicians: vec![0] });
    shop.services[1].held = Some(Place { window: 0, start: 60, technicians: vec![0] });
    let (plan, _, _) = planned(&shop);
    assert_eq!(plan.places[2].as_ref().unwrap().window, 1);
    assert_eq!(check(&shop, &plan).broken.len(), 2, "gauge and part of day 0, as held");
}

#[test]
fn a_machine_with_two_spindles_stops_once_where_both_fit() {
    let mut shop = problem(2, 1, 240);
    shop.lines = vec![Line { hall: 0, stop_cost_per_hour: 6000 }];
    shop.lockout_min = 30;
    shop.services = vec![job(0, 60, 90_000), job(0, 90, 90_000)];
    let (plan, cost, _) = kept(&shop);
    let windows: Vec<usize> = plan.places.iter().flatten().map(|place| place.window).collect();
    assert_eq!(windows.first(), windows.last(), "one stop");
    assert_eq!(cost, 6000 + 9000 + 3000, "60 and 90 minutes and one lockout at 60.00 an hour");
    // 150 minutes and the lockout no longer fit into one
    shop.windows[0].span.to = 179;
    shop.windows[1].span.to = 179;
    assert_eq!(kept(&shop).1, 6000 + 9000 + 2 * 3000);
}

#[test]
fn a_window_of_the_hall_and_one_of_the_machine_that_overlap_are_two_stops() {
    let mut shop = problem(1, 1, 200);
    shop.lines = vec![Line { hall: 0, stop_cost_per_hour: 6000 }];
    shop.lockout_min = 30;
    shop.windows = vec![window(0, 0, 150), PlanWindow { scope: Scope::Machine(0), ..window(0, 60, 200) }];
    shop.services = vec![job(0, 60, 90_000), job(0, 60, 90_000)];
    let (plan, cost, _) = kept(&shop);
    // 30 + 60 + 60 fit the first one
    assert_eq!(cost, 6000 + 6000 + 3000);
    assert!(plan.places.iter().flatten().all(|place| place.window == 0));
    shop.windows[0].span.to = 149;
    shop.windows[1].span.from = 70;
    let (_, cost, _) = kept(&shop);
    assert_eq!(cost, 6000 + 6000 + 2 * 3000, "one in each, and two lockouts");
}

#[test]
fn a_service_that_is_too_long_with_a_lockout_of_its_own_may_share_one() {
    let mut shop = problem(1, 2, 240);
    shop.lines = vec![Line { hall: 0, stop_cost_per_hour: 600 }];
    shop.machines = vec![0, 0];
    shop.lockout_min = 30;
    shop.technicians = vec![person(1, 240), person(1, 240)];
    // somebody who is only there once the lockout is over
    shop.technicians[1].shifts[0].span = span(30, 240);
    shop.technicians[0].skills = vec![true, false];
    shop.technicians[1].skills = vec![false, true];
    let mut long = job(1, 200, 90_000);
    long.kind = 1;
    shop.services = vec![job(0, 60, 90_000), long];
    let (plan, _, _) = kept(&shop);
    assert_eq!(plan.places[1].as_ref().unwrap().start, 30);
    shop.services.remove(0);
    assert_eq!(kept(&shop).2, vec![Some(LeftReason::Crew)], "alone it would need 230 minutes of 210");
}

#[test]
fn at_no_stop_cost_the_cheapest_day_is_the_one_that_risk_and_early_choose() {
    let mut shop = problem(28, 1, 480);
    let mut due = job(0, 60, 1_000_000);
    // crossed with even chance over 4 weeks; a day below costs nine times a day of service life
    due.crossed = almanac_core::planning::problem::Curve(vec![0, 2500, 5000, 7500, 10_000]);
    (due.day_below_cost, due.unused_day_value) = (9000, 1000);
    shop.services = vec![due];
    let (plan, _, _) = kept(&shop);
    let day = shop.windows[plan.places[0].as_ref().unwrap().window].day;
    // F = g / (g + b) = 10 %, on day 2.8
    assert_eq!(day, 3);
}

#[test]
fn a_thousand_services_due_today_are_all_placed_or_left() {
    let mut shop = problem(10, 1000, 480);
    shop.technicians.push(person(10, 480));
    shop.services = (0..1000).map(|machine| job(machine, 60, 1000 + machine as i64)).collect();
    let (plan, _, reasons) = kept(&shop);
    let placed = plan.places.iter().flatten().count();
    assert_eq!(placed, 10 * 2 * 8, "every hour of both is used");
    assert!(reasons.iter().flatten().all(|reason| *reason == LeftReason::Dearer));
    // the dearest to leave are placed
    let cheapest_placed = (0..1000).find(|service| plan.places[*service].is_some()).unwrap();
    assert!(cheapest_placed >= 830, "{cheapest_placed}");
}

#[test]
fn absurd_prices_cost_more_than_any_other_and_never_wrap_round() {
    let mut shop = problem(30, 1, 480);
    let mut dear = job(0, 60, i64::MAX);
    dear.day_below_cost = i64::MAX / 2;
    dear.unused_day_value = i64::MAX / 2;
    dear.tail_days = 1_000_000;
    shop.services = vec![dear.clone(), dear, job(0, 60, 500)];
    let nowhere = check(&shop, &Plan { places: vec![None; 3] });
    assert_eq!(nowhere.parts.total(), i64::MAX, "the end of the range");
    let somewhere = Place { window: 0, start: 0, technicians: vec![0] };
    let placed = check(&shop, &Plan { places: vec![Some(somewhere), None, None] });
    assert_eq!((placed.parts.early, placed.parts.total()), (i64::MAX, i64::MAX));
}

#[test]
fn nothing_due_is_an_empty_plan() {
    let (plan, cost, _) = kept(&problem(5, 3, 480));
    assert!(plan.places.is_empty());
    assert_eq!(cost, 0);
}
