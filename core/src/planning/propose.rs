//! A proposal: the search, its bound, and what a planner sees of them.

use super::basis::PlanBasis;
use super::bound::{BoundEffort, lower_bound};
use super::candidates::Candidates;
use super::check::check;
use super::describe::describe;
use super::problem::Plan;
use super::proposal::{PlanningConfig, Proposal};
pub use super::search::{NoPlanProgress, PlanProgress};
use super::search::{SearchConfig, search_among};
use crate::forecast::Cancelled;

/// A plan that is booked is left as it is where another one would cost less by less than this, in
/// percent: a search that began elsewhere ends a little elsewhere, and people have arranged
/// themselves with what is booked (common practice, no source).
const NOT_WORTH_A_CHANGE_PCT: i64 = 1;

/// What is booked, as a plan: nothing is placed or moved; what has no place is left.
#[must_use]
pub fn booked(basis: &PlanBasis) -> Proposal {
    let mut plan = describe(basis, &Candidates::of_problem(&basis.problem), &basis.booked, None);
    // what no plan could hold as it stands is booked all the same
    for loose in &basis.loose {
        plan.left.retain(|left| (left.spindle, left.order) != (loose.spindle, loose.order));
        plan.changes.retain(|change| (change.spindle, change.order) != (loose.spindle, loose.order));
        plan.placed.push(loose.clone());
    }
    plan.placed.sort_by_key(|service| (service.place.start, service.spindle, service.order));
    plan
}

/// A proposal from before some of its orders were opened or closed, with the orders of a newer basis:
/// the same services are known again.
#[must_use]
pub fn with_orders_of(basis: &PlanBasis, proposal: &Proposal) -> Proposal {
    let order_of = |spindle, order| basis.find(spindle, order).map_or(order, |of| basis.services[of].order);
    let mut renewed = proposal.clone();
    for placed in &mut renewed.placed {
        placed.order = order_of(placed.spindle, placed.order);
    }
    for left in &mut renewed.left {
        left.order = order_of(left.spindle, left.order);
    }
    for change in &mut renewed.changes {
        change.order = order_of(change.spindle, change.order);
    }
    renewed
}

/// Proposes a place for everything that is due: held ones stay, booked ones move where that pays.
/// The same shop and configuration give the same proposal.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn propose(basis: &PlanBasis, config: &PlanningConfig, progress: &dyn PlanProgress) -> Result<Proposal, Cancelled> {
    let candidates = Candidates::of_problem(&basis.problem);
    let search = search_config(config, basis.services.len());
    // a first look has no bound: that takes longer than the search
    let with_bound = 1 < config.runs;
    let part = if with_bound { &Part { whole: progress, share: 2 } as &dyn PlanProgress } else { progress };
    let found = search_among(&basis.problem, &candidates, search, part)?;
    let (plan, cost) = if keeps_booked(basis, &found.plan, found.cost) {
        (&basis.booked, check(&basis.problem, &basis.booked).parts.total())
    } else {
        (&found.plan, found.cost)
    };
    let bound = if with_bound { Some(bound(basis, cost, progress)?) } else { None };
    Ok(describe(basis, &candidates, plan, bound))
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

/// A move costs more with more services on a day; beyond so many the moves of each are cut down.
const FULL_SEARCH_SERVICES: u64 = 500;

/// What is asked for, but no more than a search of so many services can do in reasonable time.
fn search_config(config: &PlanningConfig, services: usize) -> SearchConfig {
    let settled = SearchConfig::settled(services);
    let asked = SearchConfig { runs: config.runs, moves_per_service: config.moves_per_service, ..settled };
    let moves = |search: &SearchConfig| u64::from(search.runs) * u64::from(search.moves_per_service);
    let search = if moves(&settled) < moves(&asked) { settled } else { asked };
    let (full, all) = (FULL_SEARCH_SERVICES.pow(2), (services as u64).pow(2));
    if all <= full {
        return search;
    }
    let fewer = u64::from(search.moves_per_service) * full / all;
    SearchConfig { moves_per_service: u32::try_from(fewer).unwrap_or(search.moves_per_service), ..search }
}

/// Whether what is booked is as good: it keeps every rule that held ones let it keep, leaves nothing
/// without a place that the plan found gives one and that is due, and costs hardly more.
fn keeps_booked(basis: &PlanBasis, found: &Plan, cost: i64) -> bool {
    let booked = check(&basis.problem, &basis.booked);
    if check(&basis.problem, found).broken.len() < booked.broken.len() {
        return false;
    }
    let is_due = |service: usize| basis.services[service].service_by.is_some_and(|by| by <= basis.last());
    let is_left = |plan: &Plan, service: usize| plan.places.get(service).is_none_or(Option::is_none);
    if (0..basis.services.len()).any(|of| is_due(of) && is_left(&basis.booked, of) && !is_left(found, of)) {
        return false;
    }
    let more = i128::from(booked.parts.total()) - i128::from(cost);
    more * 100 <= i128::from(cost) * i128::from(NOT_WORTH_A_CHANGE_PCT)
}
