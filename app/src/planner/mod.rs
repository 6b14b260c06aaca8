//! Plans in the background: the plan as it is booked with each new set of figures, and proposals
//! when they are asked for. The latest request wins; what is out of date is dropped.

mod thread;
mod weighing;

pub use weighing::Weighings;

use crate::pages::week_plan::PlanShown;
use crate::results::Figures;
use almanac_core::ids::OrderId;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::proposal::{Proposal, ServiceKey, Weighed};
use almanac_core::planning::week_view::WeekView;
use almanac_core::shop::Shop;
use almanac_core::units::Money;
use almanac_core::words;
use chrono::{NaiveDate, NaiveDateTime};
use eframe::egui;
use std::sync::Arc;
use thread::{Job, Link, News};
use weighing::Weigher;

/// What a page asks about the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// Propose places for everything that is due.
    Propose,
    /// Stop proposing; what was found so far stays.
    Stop,
    /// Leave the proposal: what is booked stands.
    Drop,
    /// What a service would cost in a tray.
    Weigh(ServiceKey, usize),
    /// Put a service into a tray as it was weighed there, with a note where a rule is overridden.
    Place(ServiceKey, usize, Option<String>),
    /// Fix where it stands.
    Hold(ServiceKey),
    /// No longer fix it.
    Release(ServiceKey),
    /// Take its order off the plan.
    TakeOff(ServiceKey),
    /// Accept the lines of the proposal about these services.
    Accept(Vec<ServiceKey>),
    /// Accept all lines.
    AcceptAll,
    /// Hand out planned orders.
    Issue(Vec<OrderId>),
}

/// How far a proposal is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proposing {
    /// How much of the work is done.
    pub done: u64,
    /// Of how many; 0: not known yet.
    pub total: u64,
    /// What the best plan so far costs.
    pub best: Option<Money>,
}

/// Whether two proposals put the same services in the same places: one whose lines were accepted
/// knows its orders by then, and is no other for it.
fn is_same_plan(a: &Proposal, b: &Proposal) -> bool {
    let places = |plan: &Proposal| plan.placed.iter().map(|one| (one.spindle, one.place.clone())).collect::<Vec<_>>();
    std::ptr::eq(a, b) || (a.placed.len() == b.placed.len() && places(a) == places(b))
}

impl Proposing {
    /// `proposing, 21 %; best so far €4,310`: a share, since moves and rounds of the bound count apart.
    #[must_use]
    pub fn in_words(&self, currency: &str) -> String {
        let mut text = "proposing".to_owned();
        if 0 < self.total {
            let share = 100.0 * self.done.min(self.total) as f64 / self.total as f64;
            text.push_str(&format!(", {} %", words::number(share.floor(), 0)));
        }
        if let Some(best) = self.best {
            text.push_str(&format!("; best so far {}", words::money_in(best, currency)));
        }
        text
    }
}

/// A plan of the shop as it stands.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The shop as a planning problem.
    pub basis: Arc<PlanBasis>,
    /// What is booked.
    pub booked: Arc<Proposal>,
    /// What is proposed over it.
    pub proposed: Option<Arc<Proposal>>,
    /// As the week plan shows it.
    pub view: Arc<WeekView>,
    /// Of which revision of the shop it is.
    pub of_revision: u64,
}

impl Plan {
    /// The proposal, or what is booked.
    #[must_use]
    pub fn current(&self) -> &Arc<Proposal> {
        self.proposed.as_ref().unwrap_or(&self.booked)
    }
}

/// The window's end of it.
#[derive(Debug, Default)]
pub struct Planner {
    link: Option<Link>,
    weigher: Weigher,
    plan: Option<Plan>,
    /// The plan as it is booked by now, while the proposal before it still shows.
    waiting: Option<Plan>,
    /// Counts plans, as a key for caches.
    revision: u64,
    /// The figures for which a plan was asked for last.
    asked_for: Option<Figures>,
    taken: Taken,
    proposing: Option<Proposing>,
    proposed_at: Option<NaiveDateTime>,
}

/// What was accepted or issued since the figures of a plan, and nothing else.
#[derive(Debug, Clone, Copy, Default)]
struct Taken {
    /// The revision of the shop after it.
    upto: Option<u64>,
    /// The shop has not answered yet.
    is_on_its_way: bool,
}

/// What a plan is made of.
#[derive(Debug, Clone)]
pub struct Ground {
    /// The shop as known on the day.
    pub known: Arc<Shop>,
    /// Its figures.
    pub figures: Figures,
    /// The day.
    pub as_of: NaiveDate,
    /// The revision of the shop.
    pub revision: u64,
}

impl Planner {
    /// The plan of the latest figures that were asked for.
    #[must_use]
    pub const fn plan(&self) -> Option<&Plan> {
        self.plan.as_ref()
    }

    /// What the week plan shows.
    #[must_use]
    pub fn shown(&self) -> PlanShown<'_> {
        PlanShown {
            view: self.plan.as_ref().map(|plan| &*plan.view),
            revision: self.revision,
            proposing: self.proposing.as_ref(),
            proposed_at: self.proposed_at,
            weighed: self.weigher.done(),
        }
    }

    /// Whether something is on its way.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.link.as_ref().is_some_and(Link::is_busy) || self.weigher.is_busy()
    }

    /// Whether the plan is that of a revision of the shop, or of one from which that differs only by
    /// what was taken from the plan: only then places of it can be booked.
    #[must_use]
    pub fn knows(&self, revision: u64) -> bool {
        self.plan.as_ref().is_some_and(|plan| plan.of_revision == revision) || self.taken.upto == Some(revision)
    }

    /// What the shop does next is only what is taken from its plan: the proposal stays.
    pub const fn takes(&mut self) {
        self.taken.is_on_its_way = true;
    }

    /// The shop answered: with another revision by a step that was performed, or otherwise.
    pub const fn shop_answered(&mut self, performed: Option<u64>) {
        if std::mem::replace(&mut self.taken.is_on_its_way, false) && performed.is_some() {
            self.taken.upto = performed;
        }
    }

    /// Whether a plan of these figures was asked for already.
    #[must_use]
    pub fn is_of(&self, figures: &Figures) -> bool {
        self.asked_for.as_ref().is_some_and(|asked| Arc::ptr_eq(&asked.forecast, &figures.forecast))
    }

    /// Asks for the plan of new figures.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn renew(&mut self, ctx: &egui::Context, ground: Ground, is_looked_at: bool) -> Result<(), String> {
        let proposed = self.plan.as_ref().and_then(|plan| plan.proposed.clone());
        let was_wanted = proposed.is_some() || self.proposing.is_some();
        let is_new = self.plan.as_ref().is_none_or(|plan| plan.of_revision != ground.revision);
        let (keep, proposes) = if is_new && self.taken.upto == Some(ground.revision) {
            (proposed, self.proposing.is_some())
        } else {
            // what changed under the eyes of the planner is taken into account at once
            (None, was_wanted && is_looked_at)
        };
        self.request(ctx, ground, keep, proposes)
    }

    /// Asks for a proposal.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn propose(&mut self, ctx: &egui::Context, ground: Ground) -> Result<(), String> {
        self.request(ctx, ground, None, true)
    }

    fn request(
        &mut self,
        ctx: &egui::Context,
        ground: Ground,
        keep: Option<Arc<Proposal>>,
        proposes: bool,
    ) -> Result<(), String> {
        let link = match &mut self.link {
            Some(link) => link,
            none => none.insert(Link::start(ctx)?),
        };
        self.asked_for = Some(ground.figures.clone());
        self.proposing = proposes.then_some(Proposing { done: 0, total: 0, best: None });
        link.request(Job { ground, keep, proposes })
    }

    /// Stops proposing; the best plan so far stays.
    pub fn stop(&mut self) {
        if self.proposing.take().is_some()
            && let Some(link) = &mut self.link
        {
            link.stop();
        }
        self.show_waiting();
    }

    /// No proposal came: what is booked by now shows.
    fn show_waiting(&mut self) {
        if let Some(plan) = self.waiting.take() {
            self.plan = Some(plan);
            self.changed();
        }
    }

    /// Leaves the proposal.
    pub fn drop_proposal(&mut self, shop: &Shop) {
        self.stop();
        self.proposed_at = None;
        let Some(asked) = &self.asked_for else { return };
        if let Some(plan) = self.plan.take() {
            let view = WeekView::of(shop, (&asked.forecast, &asked.due), plan.basis.trays(), &plan.booked, None);
            self.plan = Some(Plan { proposed: None, view: Arc::new(view), ..plan });
            self.changed();
        }
    }

    /// Another shop: everything goes.
    pub fn give_up(&mut self) {
        if let Some(link) = &mut self.link {
            link.give_up();
        }
        let (link, revision) = (self.link.take(), self.revision + 1);
        *self = Self { link, revision, ..Self::default() };
    }

    fn changed(&mut self) {
        self.revision += 1;
        self.weigher.clear();
    }

    /// Weighs a service in a tray.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn weigh(&mut self, ctx: &egui::Context, service: ServiceKey, tray: usize) -> Result<(), String> {
        match &self.plan {
            Some(plan) => self.weigher.request(ctx, plan, service, tray),
            None => Ok(()),
        }
    }

    /// What a service would cost in a tray, where that was weighed.
    #[must_use]
    pub fn weighed(&self, service: ServiceKey, tray: usize) -> Option<&Weighed> {
        self.weigher.done().get(&(service, tray))?.as_ref().ok()
    }

    /// Takes in what came; answers with sentences about what could not be done.
    pub fn poll(&mut self, now: NaiveDateTime) -> Vec<String> {
        let mut troubles = Vec::new();
        self.weigher.poll();
        let Some(link) = &mut self.link else { return troubles };
        let came = link.poll();
        if let Some(proposing) = self.proposing.as_mut().filter(|_| link.is_busy()) {
            *proposing = link.progress();
        }
        let is_done = !link.is_busy();
        for news in came {
            match news {
                News::Plan(plan) => {
                    let is_new = match (&plan.proposed, self.plan.as_ref().and_then(|plan| plan.proposed.as_ref())) {
                        (Some(new), Some(old)) => !is_same_plan(new, old),
                        (new, _) => new.is_some(),
                    };
                    if is_new {
                        self.proposed_at = Some(now);
                    }
                    // while a proposal is made anew the one before stays until the first is there
                    let waits = self.proposing.is_some()
                        && plan.proposed.is_none()
                        && self.plan.as_ref().is_some_and(|plan| plan.proposed.is_some());
                    if waits {
                        self.waiting = Some(*plan);
                    } else {
                        self.waiting = None;
                        self.plan = Some(*plan);
                        self.changed();
                    }
                }
                News::Trouble(sentence) => troubles.push(sentence),
            }
        }
        if is_done {
            self.proposing = None;
            self.show_waiting();
        }
        troubles
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_knows_the_shop_after_what_was_taken_from_it_and_after_nothing_else() {
        let mut planner = Planner::default();
        planner.takes();
        planner.shop_answered(Some(7));
        assert!(planner.knows(7));
        // a step from elsewhere
        planner.shop_answered(Some(8));
        assert!(!planner.knows(8));
        // what failed makes the next step none that was taken from the plan
        planner.takes();
        planner.shop_answered(None);
        planner.shop_answered(Some(9));
        assert!(!planner.knows(9));
    }
}
