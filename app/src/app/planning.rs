//! The week plan and its thread: plans of the latest figures, and what the page asks for.

use super::App;
use crate::document::Document;
use crate::pages::Page;
use crate::planner::{Ask, Ground};
use almanac_core::actions::Action;
use almanac_core::planning::accept::{ByHand, Lines, accept, hold, overtaken, place_by_hand, take_off};
use almanac_core::planning::proposal::{Placement, ServiceKey};
use almanac_core::planning::since::no_longer;
use almanac_core::planning::week_view::issue;
use eframe::egui;
use std::sync::Arc;

impl App {
    /// Takes in what was planned.
    pub(super) fn take_plans(&mut self) {
        let now = (self.outside.clock)();
        for sentence in self.planner.poll(now) {
            self.notices.trouble(&sentence);
        }
    }

    /// What a plan of the latest figures is made of; `None` while they are being worked out.
    fn ground(&self) -> Option<Ground> {
        let snapshot = self.document.as_ref().map(Document::snapshot)?;
        let figures = self.results.figures().filter(|_| self.results.is_current(snapshot.revision))?;
        let (known, revision) = (Arc::clone(&snapshot.known), snapshot.revision);
        Some(Ground { known, figures: figures.clone(), as_of: snapshot.as_of, revision })
    }

    /// Asks for the plan of new figures, once the week plan was looked at.
    pub(super) fn request_plan(&mut self, ctx: &egui::Context) {
        let shows_parts = self.view.page() == Page::Orders && self.orders.shows_parts();
        let is_looked_at = self.view.page() == Page::WeekPlan || shows_parts;
        if !is_looked_at && self.planner.plan().is_none() {
            return;
        }
        let Some(ground) = self.ground().filter(|ground| !self.planner.is_of(&ground.figures)) else { return };
        if let Err(sentence) = self.planner.renew(ctx, ground, is_looked_at) {
            self.notices.trouble(&sentence);
        }
    }

    /// Does what the week plan asks for.
    pub(super) fn plan_ask(&mut self, ctx: &egui::Context, ask: Ask) {
        let done = match ask {
            Ask::Propose => match self.ground() {
                Some(ground) => self.planner.propose(ctx, ground),
                None => Err("the figures are being worked out: propose once they are there".to_owned()),
            },
            Ask::Weigh(service, tray) => self.planner.weigh(ctx, service, tray),
            Ask::Stop => {
                self.planner.stop();
                Ok(())
            }
            Ask::Drop => {
                if let Some(document) = &self.document {
                    self.planner.drop_proposal(&document.snapshot().known);
                }
                Ok(())
            }
            Ask::Place(service, tray, note) => self.place(service, tray, note.as_deref()),
            Ask::Hold(service) => self.hold(service, true),
            Ask::Release(service) => self.hold(service, false),
            Ask::TakeOff(service) => self.take_off(service),
            Ask::Accept(services) => self.accept(Some(&services)),
            Ask::AcceptAll => self.accept(None),
            Ask::Issue(orders) => {
                let action = self.document.as_ref().and_then(|document| issue(&document.snapshot().whole, &orders));
                let keeps = self.may_take("issue").is_ok();
                self.plan_action(action, keeps, "no planned order was chosen to be issued")
            }
        };
        if let Err(sentence) = done {
            self.notices.trouble(&sentence);
        }
    }

    /// Whether places of the plan can be booked: they were found for the shop as it stands.
    fn may_take(&self, does: &str) -> Result<(), String> {
        let Some(document) = &self.document else { return Ok(()) };
        if document.is_busy() {
            return Err(format!("the shop file is still being written: {does} after that"));
        }
        if !self.planner.knows(document.snapshot().revision) {
            return Err(format!("the shop was changed since this plan: {does} once it is worked out anew"));
        }
        Ok(())
    }

    /// Performs a step of the plan, where there is one; with `keeps` the proposal stays, since what
    /// changes is what was taken from it.
    fn plan_action(&mut self, action: Option<Action>, keeps: bool, else_say: &str) -> Result<(), String> {
        let action = action.ok_or_else(|| else_say.to_owned())?;
        if keeps && self.entry_closed().is_none() {
            self.planner.takes();
        }
        self.perform(Box::new(action));
        Ok(())
    }

    fn place(&mut self, service: ServiceKey, tray: usize, note: Option<&str>) -> Result<(), String> {
        let place = self.planner.weighed(service, tray).map(|weighed| weighed.place.clone());
        let place = place.ok_or("that place is no longer weighed: aim at it again")?;
        self.may_take("place it")?;
        let action = self.by_hand(service, &place, note);
        self.plan_action(action, false, "the plan no longer knows that service")
    }

    fn by_hand(&self, service: ServiceKey, place: &Placement, note: Option<&str>) -> Option<Action> {
        let (document, plan) = (self.document.as_ref()?, self.planner.plan()?);
        place_by_hand(&document.snapshot().whole, plan.current(), &ByHand { service, place, note })
    }

    /// What is only proposed is booked where it stands, and held there.
    fn hold(&mut self, service: ServiceKey, held: bool) -> Result<(), String> {
        let (Some(document), Some(plan)) = (&self.document, self.planner.plan()) else { return Ok(()) };
        let block = plan.view.blocks.iter().find(|block| block.key() == service && !block.standing.is_left_behind());
        let Some(block) = block else { return Err("it has no place to be held in".to_owned()) };
        let action = match block.order.as_ref().filter(|_| !block.standing.is_open()) {
            Some(order) => hold(&document.snapshot().whole, order.id, held),
            None => {
                self.may_take("hold it")?;
                self.by_hand(service, &block.service.place, Some("held where it was proposed"))
            }
        };
        self.plan_action(action, false, "it has no order yet: accept its line first")
    }

    fn take_off(&mut self, service: ServiceKey) -> Result<(), String> {
        let Some(document) = &self.document else { return Ok(()) };
        let action = service.order.and_then(|order| take_off(&document.snapshot().whole, order));
        self.plan_action(action, false, "it is not booked, or its work has begun: there is nothing to take off")
    }

    fn accept(&mut self, services: Option<&[ServiceKey]>) -> Result<(), String> {
        let (Some(document), Some(plan)) = (&self.document, self.planner.plan()) else { return Ok(()) };
        let Some(proposal) = &plan.proposed else {
            return Err("there is no proposal to accept: P makes one".to_owned());
        };
        self.may_take("accept")?;
        // lines accepted before are no longer among those that are open
        let open: Vec<usize> = proposal
            .changes
            .iter()
            .enumerate()
            .filter(|(_, change)| plan.view.changes.contains(change))
            .filter(|(_, change)| services.is_none_or(|wanted| wanted.contains(&change.key())))
            .map(|(index, _)| index)
            .collect();
        let whole = &document.snapshot().whole;
        let action = accept(whole, proposal, Lines::Some(&open));
        let mut stays = no_longer(whole, proposal, Lines::Some(&open));
        let orders = overtaken(whole, proposal, Lines::Some(&open));
        if !orders.is_empty() {
            let (noun, names) = (if orders.len() == 1 { "order" } else { "orders" }, orders.join(", "));
            stays.push(format!("{noun} {names} was held, issued or closed since the proposal and stays"));
        }
        if stays.is_empty() {
            return self.plan_action(action, true, "nothing is left to accept");
        }
        let stays = format!("{}: P proposes anew", stays.join("; "));
        if action.is_some() {
            self.plan_action(action, true, &stays)?;
        }
        Err(stays)
    }
}
