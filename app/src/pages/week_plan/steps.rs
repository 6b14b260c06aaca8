//! What the gestures of the page do.

use super::keys::Gesture;
use super::nav::{self, Arrow};
use super::{Moving, Note, PlanShown, WeekPlanPage, changes, earlier, grid, layout, left, lines};
use crate::command::Command;
use crate::pages::{Page, PageContext, Request, Requests, orders};
use crate::planner::Ask;
use almanac_core::orders_list::step_on_orders;
use almanac_core::planning::proposal::{PlanChange, ServiceKey};
use almanac_core::planning::week_view::{EarlierOrder, PlanBlock, WeekView, monday_of};
use eframe::egui;

impl Moving {
    /// Another tray: what was typed about the one before goes.
    pub(super) fn aim(&mut self, tray: Option<usize>) {
        if self.tray != tray {
            (self.tray, self.note, self.wants_place) = (tray, None, false);
        }
    }
}

/// Whether a service is booked there already.
fn is_booked_in(block: &PlanBlock, tray: usize) -> bool {
    !block.standing.is_open() && block.service.place.tray == Some(tray)
}

impl WeekPlanPage {
    pub(super) fn obey(
        &mut self,
        ui: &egui::Ui,
        gesture: Gesture,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        requests: &mut Requests,
    ) {
        let is_entry = matches!(
            gesture,
            Gesture::Move
                | Gesture::Enter
                | Gesture::Place
                | Gesture::Hold
                | Gesture::TakeOff
                | Gesture::Accept
                | Gesture::AcceptAll
                | Gesture::Issue
                | Gesture::Say(_)
                | Gesture::NotBefore
        );
        if let Some(closed) = context.entry_closed.filter(|_| is_entry) {
            requests.push(Request::Trouble(closed.to_owned()));
            return;
        }
        match gesture {
            Gesture::Step(arrow) if self.moving.is_some() => self.step_moving(arrow, context, shown),
            Gesture::Step(arrow) => self.step(ui, arrow, shown),
            Gesture::Move => self.move_or_open(shown, requests),
            Gesture::Open => {
                if let Some(service) = self.chosen {
                    requests.push(Request::Go(Page::Spindle(service.spindle)));
                }
            }
            Gesture::Place => self.wish_to_place(),
            Gesture::Enter if self.moving.is_some() => self.wish_to_place(),
            Gesture::Enter => self.move_or_open(shown, requests),
            Gesture::Leave => self.leave(shown, requests),
            Gesture::NotBefore => self.begin_ready(shown.view),
            Gesture::Earlier => self.next_earlier(ui, shown),
            Gesture::Say(say) => self.say(say, context, shown, requests),
            Gesture::Propose => requests.push(Request::Plan(Ask::Propose)),
            Gesture::Hold => self.hold(shown, requests),
            Gesture::TakeOff => self.take_off(shown, requests),
            Gesture::Issue => self.opens_issue = true,
            Gesture::Turn => {
                self.view.by_technician = !self.view.by_technician;
                self.view.row = 0;
                // the row of the chosen one is looked for among the new ones
                if let Some(view) = shown.view {
                    self.rows = layout::rows_of(context.shop, view, self.view.by_technician);
                }
                self.follow_choice(shown);
            }
            Gesture::More => self.view.more_weeks(),
            Gesture::Fewer => self.view.fewer_weeks(),
            Gesture::Renew => requests.push(Request::Run(Command::Renew)),
            Gesture::Undo => requests.push(Request::Run(Command::Undo)),
            Gesture::Accept => self.accept(shown, requests),
            Gesture::AcceptAll => requests.push(Request::Plan(Ask::AcceptAll)),
            Gesture::RowBefore => self.view.row = self.view.row.saturating_sub(1),
            Gesture::RowAfter => self.view.row += 1,
            Gesture::WeeksBack => self.view.first = self.view.first.saturating_sub(1),
            Gesture::WeeksOn => self.view.first += 1,
            Gesture::Start => self.view.first = 0,
            Gesture::End => self.view.first = usize::MAX / 2,
        }
    }

    pub(super) fn obey_changes(&mut self, did: changes::Did, shown: &PlanShown<'_>, requests: &mut Requests) {
        if did.accept {
            self.accept(shown, requests);
        }
        if did.accept_all {
            requests.push(Request::Plan(Ask::AcceptAll));
        }
        if did.drop {
            requests.push(Request::Plan(Ask::Drop));
        }
    }

    /// Chooses a service and brings it into view.
    pub(super) fn choose(&mut self, service: ServiceKey) {
        self.chosen = Some(service);
        self.scrolls = true;
    }

    /// Brings weeks and row of the chosen block into what is shown.
    fn follow_choice(&mut self, shown: &PlanShown<'_>) {
        let Some(block) = self.chosen_block(shown) else { return };
        self.show_day(shown, block.service.place.start.date());
        if let Some(row) = self.rows.iter().position(|row| row.holds(block)) {
            self.view.row = row;
        }
        self.scrolls = true;
    }

    fn show_day(&mut self, shown: &PlanShown<'_>, day: chrono::NaiveDate) {
        let monday = monday_of(day);
        let week = shown.view.and_then(|view| view.weeks.iter().position(|week| week.monday == monday));
        if let Some(week) = week {
            // as many as are really shown, which a narrow window makes fewer
            let weeks = self.grid.mondays.len().max(1);
            let mut view = super::WeekPlanView { weeks, ..self.view };
            view.show_week(week);
            self.view.first = view.first;
        }
    }

    fn step(&mut self, ui: &egui::Ui, arrow: Arrow, shown: &PlanShown<'_>) {
        let Some(view) = shown.view else { return };
        let focused = ui.memory(egui::Memory::focused);
        let is_on = |id: fn(ServiceKey) -> egui::Id| self.chosen.is_some_and(|service| focused == Some(id(service)));
        let vertical = match arrow {
            Arrow::Up => Some(false),
            Arrow::Down => Some(true),
            _ => None,
        };
        if let Some(down) = vertical.filter(|_| is_on(left::line_id)) {
            let list: Vec<ServiceKey> = lines::listed(&left::of(view)).iter().map(|left| left.key()).collect();
            self.step_in(ui, &list, down, left::line_id);
            return;
        }
        if let Some(down) = vertical.filter(|_| is_on(earlier::line_id)) {
            let list: Vec<ServiceKey> = earlier::lines(view).iter().map(|order| order.service).collect();
            self.step_in(ui, &list, down, earlier::line_id);
            return;
        }
        if let Some(down) = vertical.filter(|_| is_on(changes::line_id)) {
            let list: Vec<ServiceKey> = lines::listed(&view.changes).iter().map(PlanChange::key).collect();
            self.step_in(ui, &list, down, changes::line_id);
            return;
        }
        let Some(block) = nav::step(view, &self.rows, self.chosen, arrow).and_then(|index| view.blocks.get(index))
        else {
            return;
        };
        self.chosen = Some(block.key());
        if self.opened.is_some() && self.opened != block.service.place.tray {
            self.opened = None;
        }
        self.follow_choice(shown);
        ui.memory_mut(|memory| memory.request_focus(grid::block_id(block.key())));
    }

    /// Up or down in a list of the panel.
    fn step_in(&mut self, ui: &egui::Ui, list: &[ServiceKey], down: bool, id: fn(ServiceKey) -> egui::Id) {
        let here = list.iter().position(|service| Some(*service) == self.chosen).unwrap_or(0);
        let to = if down { here + 1 } else { here.saturating_sub(1) };
        if let Some(service) = list.get(to) {
            self.chosen = Some(*service);
            ui.memory_mut(|memory| memory.request_focus(id(*service)));
        }
    }

    /// To the first open order from before the plan, or from one to the next and round again.
    fn next_earlier(&mut self, ui: &egui::Ui, shown: &PlanShown<'_>) {
        let Some(view) = shown.view else { return };
        let listed = earlier::lines(view);
        let here = listed.iter().position(|order| Some(order.service) == self.chosen);
        let next = here.map_or(0, |here| (here + 1) % listed.len().max(1));
        if let Some(order) = listed.get(next) {
            self.opened = None;
            self.chosen = Some(order.service);
            ui.memory_mut(|memory| memory.request_focus(earlier::line_id(order.service)));
        }
    }

    /// What came of the chosen order, whose day is over.
    pub(super) fn say(
        &self,
        say: earlier::Say,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        requests: &mut Requests,
    ) {
        let Some(order) = shown.view.and_then(|view| earlier::known(view, self.chosen)) else { return };
        let bulk = step_on_orders(context.whole, &[order.order], &say.step(), context.present);
        orders::ask(bulk, requests);
    }

    /// What was asked for beside a chosen order from before the plan.
    pub(super) fn obey_earlier(
        &mut self,
        asked: Option<earlier::Asked>,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        requests: &mut Requests,
    ) {
        match asked {
            Some(earlier::Asked::Step(say)) => self.say(say, context, shown, requests),
            Some(earlier::Asked::Move) => self.move_or_open(shown, requests),
            None => {}
        }
    }

    /// A service in a tray of many opens the tray first.
    pub(super) fn move_or_open(&mut self, shown: &PlanShown<'_>, requests: &mut Requests) {
        let Some(view) = shown.view else { return };
        if let Some(stays) = earlier::of(view, self.chosen).and_then(EarlierOrder::stays_because) {
            requests.push(Request::Trouble(stays));
            return;
        }
        let tray = self.chosen_block(shown).and_then(|block| block.service.place.tray);
        let is_counted = self
            .grid
            .rows
            .iter()
            .flat_map(|row| &row.cells)
            .flat_map(|cell| &cell.trays)
            .any(|one| one.is_counted && one.tray == tray);
        if is_counted && self.opened != tray {
            (self.opened, self.ready) = (tray, None);
        } else {
            self.begin_moving(view);
        }
    }

    pub(super) fn begin_moving(&mut self, view: &WeekView) {
        let Some(service) = self.chosen else { return };
        let tray = nav::block_of(view, service)
            .and_then(|index| view.blocks.get(index))
            .and_then(|block| block.service.place.tray);
        self.moving = Some(Moving { service, tray, wants_place: false, note: None });
    }

    fn step_moving(&mut self, arrow: Arrow, context: &PageContext<'_>, shown: &PlanShown<'_>) {
        let (Some(view), Some(moving)) = (shown.view, &mut self.moving) else { return };
        let trays = nav::trays_of(view, context.shop, moving.service.spindle, context.as_of);
        let stands = nav::block_of(view, moving.service)
            .and_then(|index| view.blocks.get(index))
            .map_or(context.as_of, |block| block.service.place.start.date());
        let next = nav::next_tray(view, &trays, moving.tray, stands, arrow);
        moving.aim(next.or(moving.tray));
        let day = next.and_then(|tray| view.trays.get(tray)).map(|tray| tray.start.date());
        if let Some(day) = day {
            self.show_day(shown, day);
        }
    }

    pub(super) fn wish_to_place(&mut self) {
        if let Some(moving) = &mut self.moving {
            match &mut moving.note {
                Some(note) => note.is_entered = true,
                None => moving.wants_place = true,
            }
        }
    }

    /// A dragged service was let go: over its own tray it stays where it is.
    pub(super) fn drop_dragged(&mut self, view: &WeekView) {
        let Some(moving) = &mut self.moving else { return };
        let stands = nav::block_of(view, moving.service).and_then(|index| view.blocks.get(index));
        if moving.tray.is_none() || moving.tray == stands.and_then(|block| block.service.place.tray) {
            self.moving = None;
        } else {
            moving.wants_place = true;
        }
    }

    /// Weighs where a service is being moved to, and places it once that is done.
    pub(super) fn go_on_placing(&mut self, context: &PageContext<'_>, shown: &PlanShown<'_>, requests: &mut Requests) {
        let Some(moving) = &mut self.moving else { return };
        let Some(tray) = moving.tray else {
            moving.wants_place = false;
            return;
        };
        let service = moving.service;
        let stands = shown.view.and_then(|view| view.blocks.get(nav::block_of(view, service)?));
        if moving.wants_place && stands.is_some_and(|block| is_booked_in(block, tray)) {
            self.moving = None;
            return;
        }
        let Some(weighed) = shown.weighed.get(&(service, tray)) else {
            requests.push(Request::Plan(Ask::Weigh(service, tray)));
            return;
        };
        if let Some(note) = &mut moving.note {
            if std::mem::take(&mut note.is_left) {
                moving.note = None;
            } else if std::mem::take(&mut note.is_entered) {
                let text = note.text.trim().to_owned();
                if text.is_empty() {
                    note.error = Some("Say why: the note goes with the order.".to_owned());
                    note.had_focus = false;
                } else {
                    requests.push(Request::Plan(Ask::Place(service, tray, Some(text))));
                    self.moving = None;
                }
            }
            return;
        }
        if !std::mem::take(&mut moving.wants_place) {
            return;
        }
        let position = context
            .shop
            .position_on(service.spindle, context.as_of)
            .map(|position| context.shop.position_label(position))
            .unwrap_or_default();
        match weighed {
            Err(sentence) => requests.push(Request::Trouble(sentence.clone())),
            Ok(weighed) => match weighed.broken.iter().find(|rule| !rule.with_note) {
                Some(rule) => {
                    requests.push(Request::Trouble(format!("{position} cannot stand there: {}", rule.words)));
                }
                None if weighed.broken.is_empty() => {
                    requests.push(Request::Plan(Ask::Place(service, tray, None)));
                    self.moving = None;
                }
                None => moving.note = Some(Note::default()),
            },
        }
    }

    /// Esc: the move first, then the day being typed, the search, the opened tray, the proposal.
    fn leave(&mut self, shown: &PlanShown<'_>, requests: &mut Requests) {
        // the field has lost the focus by then, so that the key is not its own
        let was_saying_day = self.is_saying_day();
        if self.moving.take().is_some() {
            return;
        }
        if was_saying_day {
            self.ready = None;
            return;
        }
        if shown.proposing.is_some() {
            requests.push(Request::Plan(Ask::Stop));
        } else if self.opened.take().is_none() {
            requests.push(Request::Plan(Ask::Drop));
        }
    }

    fn hold(&self, shown: &PlanShown<'_>, requests: &mut Requests) {
        let Some(block) = self.chosen_block(shown) else { return };
        if block.is_issued() {
            let order = block.order.as_ref().map(|order| order.name.as_str()).unwrap_or_default();
            let sentence =
                format!("order {order} is issued, so it stays where it is: hold and release are for planned ones");
            requests.push(Request::Trouble(sentence));
            return;
        }
        requests.push(Request::Plan(if block.is_held() { Ask::Release(block.key()) } else { Ask::Hold(block.key()) }));
    }

    fn take_off(&self, shown: &PlanShown<'_>, requests: &mut Requests) {
        let earlier = shown.view.and_then(|view| earlier::of(view, self.chosen)).map(|order| order.service);
        if let Some(service) = self.chosen_block(shown).map(PlanBlock::key).or(earlier) {
            requests.push(Request::Plan(Ask::TakeOff(service)));
        }
    }

    /// Accepts the line of the chosen service, and goes on to the next line.
    fn accept(&mut self, shown: &PlanShown<'_>, requests: &mut Requests) {
        let (Some(view), Some(service)) = (shown.view, self.chosen) else { return };
        let Some(at) = view.changes.iter().position(|change| change.key() == service) else {
            requests.push(Request::Trouble("the proposal changes nothing there: choose one of its lines".to_owned()));
            return;
        };
        requests.push(Request::Plan(Ask::Accept(vec![service])));
        if let Some(next) = view.changes.get(at + 1).or_else(|| at.checked_sub(1).and_then(|at| view.changes.get(at))) {
            self.choose(next.key());
        }
    }
}
