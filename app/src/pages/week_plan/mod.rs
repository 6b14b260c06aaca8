//! The week plan: where does each service go, and what does that cost?
//!
//! Weeks stand across, halls or technicians down; a downtime window is a tray as tall as its hours,
//! filled from the floor. What is put where is laid out once per change (`layout`), placed once per
//! frame (`place`), and only what is in view is painted (`grid`, `paint`).

mod changes;
mod earlier;
mod empty;
mod grid;
mod issue;
mod keys;
mod layout;
mod lead;
mod left;
mod lines;
mod nav;
mod need;
mod opened;
mod paint;
mod panel;
mod place;
mod ready;
mod steps;
mod view;

pub use view::{WEEK_STEPS, WeekPlanView};

use super::{PageContext, Requests};
use crate::planner::{Proposing, Weighings};
use crate::theme::{MARGIN, palette};
use crate::widgets::foot;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_core::planning::week_view::{PlanBlock, WeekView, block_sentence};
use chrono::NaiveDateTime;
use eframe::egui::{self, Popup, Rect, ScrollArea, Stroke, UiBuilder, pos2};
use grid::{Aimed, GridUi};
use keys::{Gesture, Stand};
use layout::{Grid, RowOf};
use place::{NAMES, Places};

/// Width of the panel at the right.
const PANEL: f32 = 230.0;
/// The same where there is much room.
const WIDE_PANEL: f32 = 300.0;
/// From the grid to the panel.
const BESIDE: f32 = 26.0;
/// So few without a place stand before what a proposal changes; more of them would push that out of sight.
const FEW: usize = 4;
/// The least width of a week.
const LEAST_WEEK: f32 = 62.0;
/// Height of the read-out line over the foot.
const READ_OUT: f32 = 22.0;

/// What the page is shown of the plan.
#[derive(Debug, Clone, Copy)]
pub struct PlanShown<'a> {
    /// The plan; `None`: not worked out yet.
    pub view: Option<&'a WeekView>,
    /// Changes with every plan.
    pub revision: u64,
    /// How far a proposal is; `None`: none is being searched.
    pub proposing: Option<&'a Proposing>,
    /// When the proposal was made.
    pub proposed_at: Option<NaiveDateTime>,
    /// Places tried by hand, as far as they are weighed.
    pub weighed: &'a Weighings,
}

/// A note being typed.
#[derive(Debug, Clone, Default)]
struct Note {
    text: String,
    error: Option<String>,
    had_focus: bool,
    is_entered: bool,
    is_left: bool,
}

/// A service that is being moved.
#[derive(Debug, Clone)]
struct Moving {
    service: ServiceKey,
    /// Where it is to go.
    tray: Option<usize>,
    /// It is to be placed as soon as it is weighed.
    wants_place: bool,
    /// The note with which a rule is overridden.
    note: Option<Note>,
}

/// What the layout depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
struct MadeFor {
    plan: u64,
    view: WeekPlanView,
    aimed_at: Option<usize>,
}

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct WeekPlanPage {
    /// Weeks, rows and which part of them is shown.
    pub view: WeekPlanView,
    chosen: Option<ServiceKey>,
    moving: Option<Moving>,
    /// A first day for the chosen service is being typed.
    ready: Option<ready::Entry>,
    /// A tray whose services are listed in the panel.
    opened: Option<usize>,
    /// The chosen block comes into view.
    scrolls: bool,
    /// The key O was pressed: its menu opens.
    opens_issue: bool,
    made_for: Option<MadeFor>,
    grid: Grid,
    rows: Vec<RowOf>,
}

impl WeekPlanPage {
    /// The chosen service.
    #[must_use]
    pub const fn chosen(&self) -> Option<ServiceKey> {
        self.chosen
    }

    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, shown: &PlanShown<'_>, requests: &mut Requests) {
        let width = ui.available_width();
        let panel = if width < 1500.0 { PANEL } else { WIDE_PANEL };
        let grid_width = (width - 2.0 * MARGIN - BESIDE - panel).max(NAMES + LEAST_WEEK);
        self.refresh(context, shown, grid_width);
        let stand = self.stand(ui, context, shown);
        let mut gestures = self.take_keys(ui, stand);
        let clicked = foot::frame(ui, |ui| keys::foot_ui(ui, stand, context.entry_closed));
        gestures.extend(&clicked.gestures);
        for gesture in gestures {
            self.obey(ui, gesture, context, shown, requests);
        }
        self.go_on_placing(context, shown, requests);
        self.refresh(context, shown, grid_width);
        if let Some(anchor) = &clicked.issue {
            let opens = std::mem::take(&mut self.opens_issue);
            issue::menu(ui, anchor, opens, self.chosen_block(shown), self.shown_blocks(shown), requests);
        }

        let page = ui.available_rect_before_wrap();
        let lead = lead::ui(ui, page, context, shown);
        let left = page.left() + MARGIN;
        let head_top = page.top() + lead;
        let read_out =
            Rect::from_min_max(pos2(left, page.bottom() - READ_OUT), pos2(page.right() - MARGIN, page.bottom() - 3.0));
        let panel_left = left + grid_width + BESIDE;
        let x = left..=left + grid_width;
        let head = Rect::from_x_y_ranges(x.clone(), head_top..=head_top + grid::HEAD);
        let need = Rect::from_x_y_ranges(x.clone(), read_out.top() - need::NEED..=read_out.top());
        let crew = Rect::from_x_y_ranges(x.clone(), need.top() - need::CREW..=need.top());
        let rows = Rect::from_x_y_ranges(x, head.bottom()..=crew.top());
        let panel_rect = Rect::from_min_max(pos2(panel_left, head_top), pos2(panel_left + panel, need.bottom()));

        let mut pointed = None;
        if let Some(view) = shown.view {
            let places = Places::of(&self.grid, grid_width, rows.height());
            pointed = self.grid_ui(ui, context, shown, view, (head, rows, &places));
            empty::ui(ui, rows, context, view, requests);
            need::crew(ui, crew, view, &self.grid, &places, context.as_of);
            let did = need::need(ui, need, view, &self.grid, context.as_of);
            if let Some(week) = did.week {
                self.view.first = week;
                ui.ctx().request_repaint();
            }
            pointed = pointed.or(did.read_out);
        }
        let rule = panel_left - BESIDE / 2.0 - 2.5;
        ui.painter().vline(rule, head_top + 4.0..=crew.top(), Stroke::new(1.0, palette(ui).rule));
        self.panel_ui(ui, panel_rect, context, shown, requests);
        let chosen =
            shown.view.and_then(|view| earlier::of(view, self.chosen)).map(|order| order.sentence(context.as_of));
        let chosen = chosen.or_else(|| self.chosen_block(shown).map(|block| block_sentence(block, context.as_of)));
        panel::read_out(ui, read_out, pointed.or(chosen).as_deref(), context);
    }

    /// Lays out anew where plan, view or aim changed.
    fn refresh(&mut self, context: &PageContext<'_>, shown: &PlanShown<'_>, grid_width: f32) {
        let Some(view) = shown.view else { return };
        if self
            .made_for
            .is_none_or(|made| made.plan != shown.revision || made.view.by_technician != self.view.by_technician)
        {
            self.rows = layout::rows_of(context.shop, view, self.view.by_technician);
            self.keep_choice(view);
        }
        let fits = ((grid_width - NAMES) / LEAST_WEEK).floor().max(1.0) as usize;
        let weeks = self.view.weeks.min(fits).min(view.weeks.len().max(1));
        let mut effective = WeekPlanView { weeks, ..self.view };
        effective.keep_inside(view.weeks.len(), self.rows.len());
        (self.view.first, self.view.row) = (effective.first, effective.row);
        let aimed_at = self.moving.as_ref().and_then(|moving| moving.tray);
        let made_for = MadeFor { plan: shown.revision, view: effective, aimed_at };
        if self.made_for != Some(made_for) {
            self.grid = layout::grid(context.shop, view, effective, aimed_at);
            self.made_for = Some(made_for);
        }
    }

    /// The chosen service stays as long as it is there; else the first one of the plan is chosen.
    fn keep_choice(&mut self, view: &WeekView) {
        self.chosen = self.chosen.and_then(|service| nav::known_as(view, service)).or_else(|| {
            // but none from before the plan: keys that close an order act on what somebody chose
            let may_be_first = |block: &&PlanBlock| {
                nav::can_be_chosen(block)
                    && nav::is_drawn(view, block)
                    && earlier::of(view, Some(block.key())).is_none()
            };
            view.blocks.iter().find(may_be_first).map(PlanBlock::key)
        });
        self.moving = self.moving.take().and_then(|moving| {
            let service = nav::known_as(view, moving.service)?;
            Some(Moving { service, ..moving })
        });
        self.ready = self.ready.take().filter(|entry| Some(entry.service) == self.chosen);
        self.opened = self.opened.filter(|tray| *tray < view.trays.len());
    }

    fn chosen_block<'p>(&self, shown: &PlanShown<'p>) -> Option<&'p PlanBlock> {
        let view = shown.view?;
        view.blocks.get(nav::block_of(view, self.chosen?)?)
    }

    /// The blocks of the weeks and rows shown.
    fn shown_blocks<'p>(&self, shown: &PlanShown<'p>) -> Vec<&'p PlanBlock> {
        let Some(view) = shown.view else { return Vec::new() };
        let cells = self.grid.rows.iter().flat_map(|row| &row.cells);
        let mut indices: Vec<usize> =
            cells.flat_map(|cell| &cell.trays).flat_map(|tray| &tray.blocks).map(|one| one.block).collect();
        indices.sort_unstable();
        indices.dedup();
        indices.into_iter().filter_map(|index| view.blocks.get(index)).collect()
    }

    fn stand(&self, ui: &egui::Ui, context: &PageContext<'_>, shown: &PlanShown<'_>) -> Stand {
        let focused = ui.memory(egui::Memory::focused);
        let ids: [fn(ServiceKey) -> egui::Id; 4] = [grid::block_id, left::line_id, changes::line_id, earlier::line_id];
        let on_ours = self.chosen.is_some_and(|service| ids.iter().any(|id| focused == Some(id(service))));
        let chosen = self.chosen_block(shown);
        let blocks = self.shown_blocks(shown);
        Stand {
            is_moving: self.moving.is_some(),
            has_keys: focused.is_none() || on_ours,
            has_choice: self.chosen.is_some(),
            has_changes: shown.view.is_some_and(|view| !view.changes.is_empty()),
            is_change: shown
                .view
                .is_some_and(|view| view.changes.iter().any(|change| Some(change.key()) == self.chosen)),
            is_proposal: shown.view.is_some_and(|view| view.is_proposal),
            is_proposing: shown.proposing.is_some(),
            is_opened: self.opened.is_some(),
            is_saying_day: self.is_saying_day(),
            can_wait: shown.view.is_some_and(|view| self.can_wait(view).is_some()),
            has_earlier: shown.view.is_some_and(|view| !view.earlier.is_empty()),
            is_earlier: shown.view.is_some_and(|view| earlier::known(view, self.chosen).is_some()),
            has_plan: shown.view.is_some(),
            by_technician: self.view.by_technician,
            one_of_many: self.grid.is_one_of_many(),
            is_entry_open: context.entry_closed.is_none(),
            can_undo: context.entry_closed.is_none(),
            can_issue: !almanac_core::planning::week_view::issuable(blocks).is_empty(),
            is_stale: !context.is_current && context.doing.is_none(),
            is_held: chosen.is_some_and(PlanBlock::is_held),
        }
    }

    fn take_keys(&self, ui: &egui::Ui, stand: Stand) -> Vec<Gesture> {
        if !ui.is_enabled() || Popup::is_any_open(ui.ctx()) {
            return Vec::new();
        }
        keys::take(ui, stand)
    }

    /// The grid; answers with what lies under the pointer, in words.
    fn grid_ui(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        view: &WeekView,
        (head, rows, places): (Rect, Rect, &Places),
    ) -> Option<String> {
        let weighed = self.moving.as_ref().and_then(|moving| shown.weighed.get(&(moving.service, moving.tray?)));
        let aimed = self.moving.as_ref().map(|moving| Aimed {
            service: moving.service,
            tray: moving.tray,
            place: weighed.and_then(|weighed| weighed.as_ref().ok()).map(|weighed| &weighed.place),
            is_broken: weighed.is_some_and(|weighed| !weighed.as_ref().is_ok_and(|weighed| weighed.broken.is_empty())),
        });
        let grid_ui = GridUi {
            shop: context.shop,
            plan: view,
            grid: &self.grid,
            as_of: context.as_of,
            is_current: context.is_current,
            chosen: self.chosen,
            aimed,
            scrolls: std::mem::take(&mut self.scrolls),
            can_move: context.entry_closed.is_none(),
        };
        grid_ui.head(ui, head, places);
        let did = grid_ui.rows(ui, rows, places);
        if let Some(service) = did.chose.filter(|_| self.moving.is_none()) {
            self.chosen = Some(service);
        }
        if did.double_clicked && self.moving.is_none() && context.entry_closed.is_none() {
            self.begin_moving(view);
        }
        if let Some(service) = did.dragged {
            self.chosen = Some(service);
            if self.moving.as_ref().is_none_or(|moving| moving.service != service) {
                self.begin_moving(view);
            }
        }
        if let (Some(moving), Some(tray)) = (&mut self.moving, did.aimed_at) {
            moving.aim(Some(tray));
        }
        if did.dropped {
            self.drop_dragged(view);
        }
        if did.opened.is_some() {
            (self.opened, self.ready) = (did.opened, None);
        }
        did.read_out
    }

    fn panel_ui(
        &mut self,
        ui: &mut egui::Ui,
        area: Rect,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        requests: &mut Requests,
    ) {
        let Some(view) = shown.view else { return };
        // room for the bar of the scroll beside the words, and for the ground of a chosen line
        let outer = Rect::from_min_max(area.min - egui::vec2(6.0, 0.0), area.max + egui::vec2(14.0, 0.0));
        ui.scope_builder(UiBuilder::new().max_rect(outer).id_salt("plan panel"), |ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            ui.spacing_mut().scroll.fade.strength = 0.0;
            ScrollArea::vertical().id_salt("plan panel").auto_shrink(false).show(ui, |ui| {
                let inner = Rect::from_min_size(
                    ui.cursor().min + egui::vec2(6.0, 0.0),
                    egui::vec2(area.width(), f32::INFINITY),
                );
                ui.scope_builder(UiBuilder::new().max_rect(inner), |ui| {
                    ui.set_width(area.width());
                    self.panel_content(ui, context, shown, view, requests);
                });
            });
        });
    }

    fn panel_content(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        shown: &PlanShown<'_>,
        view: &WeekView,
        requests: &mut Requests,
    ) {
        let mut needs_divider = false;
        let mut asked = None;
        if let Some(moving) = &mut self.moving {
            let weighed = moving.tray.and_then(|tray| shown.weighed.get(&(moving.service, tray)));
            asked = panel::moving(ui, context, shown, moving, weighed);
            needs_divider = true;
        } else if let Some(tray) = self.opened {
            if let Some(service) = opened::ui(ui, view, tray, self.chosen, context.as_of) {
                self.choose(service);
            }
            needs_divider = true;
        } else if let Some(order) = earlier::of(view, self.chosen) {
            let left = view.left.iter().find(|left| left.key() == order.service);
            let asked = earlier::chosen(ui, context, order, left);
            self.obey_earlier(asked, context, shown, requests);
            needs_divider = true;
        } else if let Some(block) = self.chosen_block(shown) {
            panel::chosen(ui, context, block);
            if let Some(order) = earlier::known(view, self.chosen) {
                let asked = earlier::placed_anew(ui, context, order);
                self.obey_earlier(asked, context, shown, requests);
            }
            if let Some(service) = self.can_wait(view) {
                self.ready_ui(ui, context, service, block.is_too_early(), requests);
            }
            needs_divider = true;
        } else if let Some(service) = self.can_wait(view) {
            panel::left_head(ui, context, view, service);
            self.ready_ui(ui, context, service, false, requests);
            needs_divider = true;
        }
        match asked {
            Some(panel::Asked::Place) => self.wish_to_place(),
            Some(panel::Asked::Leave) => self.moving = None,
            None => {}
        }
        if !view.earlier.is_empty() {
            if std::mem::replace(&mut needs_divider, true) {
                panel::divider(ui);
            }
            if let Some(service) = earlier::ui(ui, context, &view.earlier, self.chosen) {
                self.chosen = Some(service);
            }
        }
        let left = left::of(view);
        let left_first = left.len() <= FEW;
        if left_first {
            self.left_ui(ui, context, &left, &mut needs_divider);
        }
        if view.is_proposal {
            if std::mem::replace(&mut needs_divider, true) {
                panel::divider(ui);
            }
            let did = changes::ui(ui, context, view, self.chosen);
            if let Some(service) = did.chose {
                self.choose(service);
            }
            self.obey_changes(did, shown, requests);
        }
        if !left_first {
            self.left_ui(ui, context, &left, &mut needs_divider);
        }
        if !view.clashes.is_empty() {
            if needs_divider {
                panel::divider(ui);
            }
            panel::section(ui, "Held, but in conflict");
            for clash in &view.clashes {
                panel::paragraph(ui, clash, crate::theme::sans(crate::theme::size::BODY), palette(ui).act);
            }
        }
    }

    /// Due, but without a place.
    fn left_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, left: &[&LeftService], divides: &mut bool) {
        if left.is_empty() {
            return;
        }
        if std::mem::replace(divides, true) {
            panel::divider(ui);
        }
        if let Some(service) = left::ui(ui, context, left, self.chosen) {
            self.chosen = Some(service);
        }
    }
}
