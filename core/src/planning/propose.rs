//! A proposal: the search, its bound, and what a planner sees of them.

use super::basis::{PlanBasis, money};
use super::bound::{BoundEffort, lower_bound};
use super::candidates::Candidates;
use super::check::check;
use super::describe::describe;
use super::problem::Plan;
use super::proposal::{PlanningConfig, Proposal, ServiceKey};
use super::search::{Begin, Found, SearchConfig, search_among};
pub use super::search::{NoPlanProgress, PlanProgress};
use crate::forecast::Cancelled;
use crate::units::Money;

/// A plan that is booked is left as it is, or mended, where another one would cost less by less than
/// this, in percent: a search that began elsewhere ends a little elsewhere, and people have arranged
/// themselves with what is booked (common practice, no source).
const NOT_WORTH_A_CHANGE_PCT: i64 = 1;

/// What is booked, as a plan: nothing is placed or moved; what has no place is left.
#[must_use]
pub fn booked(basis: &PlanBasis) -> Proposal {
    let mut plan = describe(basis, &Candidates::of_problem(&basis.problem), &basis.booked, None);
    // what no plan could hold as it stands is booked all the same
    for loose in &basis.loose {
        plan.left.retain(|left| left.key() != loose.key());
        plan.changes.retain(|change| change.key() != loose.key());
        plan.placed.push(loose.clone());
        // it is not left, so its cost is not that of one that is
        if let Some(service) = basis.find(loose.key()) {
            let left = plan.costs.left.get() - money(basis.problem.services[service].leave_cost).get();
            plan.costs.left = Money::new((left * 100.0).round() / 100.0).unwrap_or_default();
        }
    }
    plan.placed.sort_by_key(|service| (service.place.start, service.spindle, service.order));
    plan
}

/// A proposal from before some of its orders were opened or closed, with the orders of a newer basis:
/// the same services are known again.
#[must_use]
pub fn with_orders_of(basis: &PlanBasis, proposal: &Proposal) -> Proposal {
    let order_of = |key: ServiceKey| basis.find(key).map_or(key.order, |of| basis.services[of].order);
    let mut renewed = proposal.clone();
    for placed in &mut renewed.placed {
        placed.order = order_of(placed.key());
    }
    for left in &mut renewed.left {
        left.order = order_of(left.key());
    }
    for change in &mut renewed.changes {
        change.order = order_of(change.key());
    }
    renewed
}

/// Proposes a place for everything that is due: held ones stay, booked ones move where that pays.
/// The same shop and configuration give the same proposal.
///
/// Where something is booked, what is booked and the same mended where it no longer holds are
/// weighed first: the plan of a longer search, which may move much, has to be worth it.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn propose(basis: &PlanBasis, config: &PlanningConfig, progress: &dyn PlanProgress) -> Result<Proposal, Cancelled> {
    let problem = &basis.problem;
    let candidates = Candidates::of_problem(problem);
    let search = search_config(config, basis.services.len());
    // a first look has no bound: that takes longer than the search
    let with_bound = 1 < config.runs;
    let part = if with_bound { &Part { whole: progress, share: 2 } as &dyn PlanProgress } else { progress };
    // at once, so it comes first
    let mended = match search.begin {
        Begin::Freely if has_booked(basis) => {
            Some(search_among(problem, &candidates, SearchConfig::replan(), &Quiet(progress))?)
        }
        _ => None,
    };
    let found = search_among(problem, &candidates, search, part)?;
    let chosen = if is_as_good(basis, &basis.booked, &found) {
        Found { plan: basis.booked.clone(), cost: check(problem, &basis.booked).parts.total() }
    } else {
        let Found { plan, cost } = mended.filter(|mended| is_as_good(basis, &mended.plan, &found)).unwrap_or(found);
        Found { plan: keeping_sheets(basis, plan), cost }
    };
    let bound = if with_bound { Some(bound(basis, chosen.cost, progress)?) } else { None };
    Ok(describe(basis, &candidates, &chosen.plan, bound))
}

/// Whether a booked service stands in a window of the plan.
#[must_use]
pub fn has_booked(basis: &PlanBasis) -> bool {
    basis.problem.services.iter().any(|job| job.held.is_none() && job.booked.is_some_and(|at| at.window.is_some()))
}

/// The plan with starts and people as booked on the days that carry exactly what is booked on them.
fn keeping_sheets(basis: &PlanBasis, plan: Plan) -> Plan {
    let problem = &basis.problem;
    let window = |plan: &Plan, service: usize| plan.places.get(service).and_then(Option::as_ref).map(|at| at.window);
    let mut differs = vec![false; problem.days];
    for service in 0..problem.services.len() {
        let (now, then) = (window(&plan, service), window(&basis.booked, service));
        for at in [now, then].into_iter().flatten().filter(|_| now != then) {
            if let Some(day) = differs.get_mut(problem.windows[at].day) {
                *day = true;
            }
        }
    }
    let mut kept = plan.clone();
    for (place, booked) in kept.places.iter_mut().zip(&basis.booked.places) {
        let same = place.as_ref().and_then(|at| differs.get(problem.windows[at.window].day)) == Some(&false);
        if same && booked.is_some() {
            place.clone_from(booked);
        }
    }
    // what is booked may break a rule by now
    if check(problem, &plan).broken.len() < check(problem, &kept).broken.len() { plan } else { kept }
}

/// What no plan can undercut: the second half of the way.
fn bound(basis: &PlanBasis, cost: i64, progress: &dyn PlanProgress) -> Result<i64, Cancelled> {
    let effort = BoundEffort::for_services(basis.services.len());
    let mut goes_on = true;
    let proven = lower_bound(&basis.problem, cost, effort, &mut |done, all| {
        goes_on = goes_on && progress.step(u64::from(all) + u64::from(done), 2 * u64::from(all).max(1));
        goes_on
    });
    if goes_on { Ok(proven) } else { Err(Cancelled) }
}

/// Progress of a first part of the work.
struct Part<'a> {
    whole: &'a dyn PlanProgress,
    /// How many such parts there are.
    share: u64,
}

impl PlanProgress for Part<'_> {
    fn step(&self, done: u64, total: u64) -> bool {
        self.whole.step(done, total.saturating_mul(self.share))
    }

    fn better(&self, plan: &Plan, cost: i64) {
        self.whole.better(plan, cost);
    }
}

/// Work on the side: it can be stopped, and tells nothing else.
struct Quiet<'a>(&'a dyn PlanProgress);

impl PlanProgress for Quiet<'_> {
    fn step(&self, _done: u64, _total: u64) -> bool {
        self.0.step(0, 0)
    }
}

/// A move costs more with more services on a day; beyond so many the moves of each are cut down.
const FULL_SEARCH_SERVICES: u64 = 500;

/// What is asked for, but no more than a search of so many services can do in reasonable time.
fn search_config(config: &PlanningConfig, services: usize) -> SearchConfig {
    let PlanningConfig { runs, moves_per_service, begin, .. } = *config;
    let settled = SearchConfig::settled(services);
    let asked = SearchConfig { runs, moves_per_service, begin, ..settled };
    if begin == Begin::Steadily {
        return asked;
    }
    let moves = |search: &SearchConfig| u64::from(search.runs) * u64::from(search.moves_per_service);
    let search = if moves(&settled) < moves(&asked) { settled } else { asked };
    let (full, all) = (FULL_SEARCH_SERVICES.pow(2), (services as u64).pow(2));
    if all <= full {
        return search;
    }
    let fewer = u64::from(search.moves_per_service) * full / all;
    SearchConfig { moves_per_service: u32::try_from(fewer).unwrap_or(search.moves_per_service), ..search }
}

/// Whether a plan in which less moves is as good as the one found: it breaks no more rules, leaves
/// nothing without a place that the other gives one and that is due, and costs hardly more.
fn is_as_good(basis: &PlanBasis, plan: &Plan, found: &Found) -> bool {
    let checked = check(&basis.problem, plan);
    if check(&basis.problem, &found.plan).broken.len() < checked.broken.len() {
        return false;
    }
    let is_due = |service: usize| basis.services[service].service_by.is_some_and(|by| by <= basis.last());
    let is_left = |plan: &Plan, service: usize| plan.places.get(service).is_none_or(Option::is_none);
    if (0..basis.services.len()).any(|of| is_due(of) && is_left(plan, of) && !is_left(&found.plan, of)) {
        return false;
    }
    let more = i128::from(checked.parts.total()) - i128::from(found.cost);
    more * 100 <= i128::from(found.cost) * i128::from(NOT_WORTH_A_CHANGE_PCT)
}
