//! The due page: what needs service before when, why, and what must be booked today?
//!
//! Rows are put into words once per forecast (`line`), filtered, sorted and grouped once per
//! change of the view (`arrange`), and only those in view are laid out (`table`).

pub(in crate::pages) mod arrange;
mod axis;
mod cells;
mod columns;
mod empty;
pub(in crate::pages) mod filter_line;
pub(in crate::pages) mod foot;
pub(in crate::pages) mod keys;
mod lead;
mod line;
mod next;
pub(in crate::pages) mod strip;
pub(in crate::pages) mod table;
mod view;

pub use view::{DueView, Filter, GroupBy, SortBy, WEEK_STEPS};

use super::{Page, PageContext, Request, Requests};
use crate::command::Command;
use crate::theme::TABLE_ROW;
use crate::what_if::Of;
use almanac_core::ids::SpindleId;
use arrange::{Arranged, Item};
use chrono::NaiveDate;
use columns::{Columns, Widths};
use eframe::egui::{self, Popup, Rect};
use keys::{Focus, Pressed};
use line::Line;
use std::collections::BTreeSet;
use std::sync::Arc;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct DuePage {
    /// Filter, order, groups and axis; kept in the preferences.
    pub view: DueView,
    /// The chosen row.
    chosen: Option<SpindleId>,
    /// The user chose it; else it is the first one, whatever that is by now by the figures in force.
    has_chosen: bool,
    /// The filter line is open though nothing is filtered yet.
    is_filter_open: bool,
    /// The caret was in the search field in the last frame.
    was_finding: bool,
    /// How far the list was scrolled in the last frame.
    offset: f32,
    /// Height of the rows in the last frame.
    rows_height: f32,
    /// Where the list is to be scrolled to.
    scroll_to: Option<f32>,
    cache: Cache,
}

/// What the lines and the widths of the columns depend on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct MadeFor {
    /// Revision of the figures.
    figures: u64,
    /// Revision of the shop.
    registers: u64,
    /// Whether spindles that are not mounted count for the widths.
    unmounted: bool,
}

/// What follows from the figures and the view alone.
#[derive(Debug, Default)]
struct Cache {
    made_for: Option<MadeFor>,
    lines: Vec<Line>,
    /// How many spindles and halls.
    counts: String,
    choices: filter_line::Choices,
    widths: Option<Widths>,
    /// The view for which they were arranged.
    arranged_for: Option<DueView>,
    arranged: Arranged,
    /// Service-by dates of the rows shown, sorted.
    service_by: Vec<NaiveDate>,
    /// The lines show pretended figures.
    pretends: bool,
    /// The rows shown.
    shown: Arc<BTreeSet<SpindleId>>,
}

impl DuePage {
    /// The page as the user left it.
    #[must_use]
    pub fn new(view: DueView) -> Self {
        Self { view, ..Self::default() }
    }

    /// The chosen row.
    #[must_use]
    pub fn chosen(&self) -> Option<SpindleId> {
        self.chosen
    }

    /// The rows that the filter leaves.
    #[must_use]
    pub const fn shown(&self) -> &Arc<BTreeSet<SpindleId>> {
        &self.cache.shown
    }

    /// Chooses a row, as when one comes back from its page.
    pub fn choose(&mut self, spindle: SpindleId) {
        self.chosen = Some(spindle);
        self.has_chosen = true;
    }

    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        self.refresh(ui, context);
        let pressed = self.keys(ui, context, requests);
        let foot = foot::Foot {
            context,
            has_choice: self.chosen.is_some(),
            opens_sort: pressed.sort,
            opens_group: pressed.group,
            opens_next: pressed.next,
        };
        let did = crate::widgets::foot::frame_open(ui, |ui| foot.keys(ui, &mut self.view));
        self.obey_foot(did, pressed, context, requests);

        let page = ui.available_rect_before_wrap();
        let lead = lead::show(ui, page, context, &self.cache.counts);
        let mut top = page.top() + lead + 11.0;
        if self.shows_filter_line() {
            let area = Rect::from_x_y_ranges(page.x_range(), top - 7.0..=top - 7.0 + filter_line::HEIGHT);
            self.filter_line(ui, area, pressed, did, requests);
            top += filter_line::HEIGHT - 4.0;
        }
        self.arrange();
        self.table(ui, context, page, top, requests);
        let reason = Rect::from_x_y_ranges(page.x_range(), page.bottom() - foot::REASON..=page.bottom());
        foot.reason(ui, reason, self.chosen_line());
    }

    /// Puts the rows into words anew where the figures changed.
    fn refresh(&mut self, ui: &egui::Ui, context: &PageContext<'_>) {
        let unmounted = self.view.filter.with_not_mounted;
        let made_for = MadeFor { figures: context.figures_revision, registers: context.revision, unmounted };
        if self.cache.made_for != Some(made_for) {
            let lines = line::lines(context);
            let unit = context.shop.settings.force_unit.symbol();
            let widths = columns::measure(ui.painter(), &lines, unit, unmounted);
            self.cache.widths = Some(if context.what_if.is_some() { widths.beside_dates() } else { widths });
            self.cache.counts = lead::counts(context);
            self.cache.choices = filter_line::Choices::of(&lines);
            self.cache.lines = lines;
            self.cache.pretends = context.what_if.is_some();
            self.cache.made_for = Some(made_for);
            self.cache.arranged_for = None;
        }
        self.arrange();
    }

    /// Filters, sorts and groups anew where the view changed.
    fn arrange(&mut self) {
        if self.cache.arranged_for.as_ref() == Some(&self.view) {
            return;
        }
        let cache = &mut self.cache;
        cache.arranged = arrange::arrange(&cache.lines, &self.view);
        let rows = cache.arranged.items.iter().filter_map(|item| match item {
            Item::Row(index) => cache.lines.get(*index),
            Item::Group { .. } => None,
        });
        let shown: Vec<&Line> = rows.collect();
        cache.service_by = shown.iter().filter_map(|line| line.keys.service_by).collect();
        cache.service_by.sort_unstable();
        cache.shown = Arc::new(shown.iter().map(|line| line.spindle).collect());
        let is_there = shown.iter().any(|line| Some(line.spindle) == self.chosen);
        // what is pretended was typed for this row: it stays the one wherever its new date puts it
        let stays = is_there && (self.has_chosen || cache.pretends);
        if !stays {
            self.chosen = shown.first().map(|line| line.spindle);
            self.has_chosen = false;
        }
        // the axis moves nothing up or down
        let same_order = |before: &DueView| DueView { weeks: self.view.weeks, ..before.clone() } == self.view;
        if cache.arranged_for.as_ref().is_some_and(|before| !same_order(before)) {
            self.scroll_to = Some(0.0);
        }
        cache.arranged_for = Some(self.view.clone());
    }

    fn chosen_line(&self) -> Option<&Line> {
        self.cache.lines.iter().find(|line| Some(line.spindle) == self.chosen)
    }

    fn shows_filter_line(&self) -> bool {
        self.is_filter_open || self.view.filter.is_set()
    }

    /// Takes the keys of the page and does what needs no widget.
    fn keys(&mut self, ui: &egui::Ui, context: &PageContext<'_>, requests: &mut Requests) -> Pressed {
        if !ui.is_enabled() || Popup::is_any_open(ui.ctx()) {
            return Pressed::default();
        }
        let focused = ui.memory(egui::Memory::focused);
        let on_row = focused.is_some() && focused == self.chosen.map(table::row_id);
        let is_typing = ui.ctx().text_edit_focused();
        let has_readings = context.due.is_some_and(|due| !due.worth_reading.is_empty());
        let pressed = keys::take(ui, Focus { is_typing, is_on_rows: focused.is_none() || on_row, has_readings });
        if pressed.more_weeks {
            self.view.more_weeks();
        }
        if pressed.fewer_weeks {
            self.view.fewer_weeks();
        }
        if let Some(step) = pressed.step {
            self.step(ui, step);
        }
        // Esc leaves the search first, then stops an update, then shows all again
        let clears = self.shows_filter_line() && (self.was_finding || context.doing.is_none());
        if clears && keys::escape(ui) {
            self.show_all();
        } else if context.doing.is_some() && keys::escape(ui) {
            requests.push(Request::Run(Command::StopUpdating));
        }
        pressed
    }

    fn show_all(&mut self) {
        self.view.filter = Filter::default();
        self.is_filter_open = false;
        self.was_finding = false;
    }

    /// Places of the rows among the items, without the heads of groups.
    fn rows(&self) -> Vec<(usize, SpindleId)> {
        let items = self.cache.arranged.items.iter().enumerate();
        items
            .filter_map(|(place, item)| match item {
                Item::Row(index) => self.cache.lines.get(*index).map(|line| (place, line.spindle)),
                Item::Group { .. } => None,
            })
            .collect()
    }

    fn step(&mut self, ui: &egui::Ui, step: keys::Step) {
        let rows = self.rows();
        let from = rows.iter().position(|(_, spindle)| Some(*spindle) == self.chosen);
        let page = (self.rows_height / TABLE_ROW) as usize;
        let to = keys::stepped(from, step, rows.len(), page.saturating_sub(1));
        if let Some((place, spindle)) = to.and_then(|to| rows.get(to)) {
            self.chosen = Some(*spindle);
            self.has_chosen = true;
            // the head of its group comes into view with the first row
            let place = if *place == 1 { 0 } else { *place };
            self.bring_into_view(place);
            ui.memory_mut(|memory| memory.request_focus(table::row_id(*spindle)));
        }
    }

    fn bring_into_view(&mut self, place: usize) {
        let top = place as f32 * TABLE_ROW;
        let bottom = top + TABLE_ROW;
        if top < self.offset {
            self.scroll_to = Some(top);
        } else if bottom > self.offset + self.rows_height {
            self.scroll_to = Some(bottom - self.rows_height);
        }
    }

    fn obey_foot(&mut self, did: foot::Did, pressed: Pressed, context: &PageContext<'_>, requests: &mut Requests) {
        if did.opens || pressed.open {
            self.open(requests);
        }
        if let Some(spindle) = did.goes_to {
            self.choose(spindle);
            requests.push(Request::Go(Page::Spindle(spindle)));
        }
        if did.exports || pressed.export {
            requests.push(Request::ExportList);
        }
        if did.pretends || pressed.what_if {
            requests.push(Request::WhatIf(Of::AllShown));
        }
        let is_stale = !context.is_current && context.doing.is_none();
        if did.renews || (pressed.renew && is_stale) {
            requests.push(Request::Run(Command::Renew));
        }
        if did.stops {
            requests.push(Request::Run(Command::StopUpdating));
        }
        self.is_filter_open |= did.finds || did.filters || pressed.find || pressed.filter;
    }

    fn open(&self, requests: &mut Requests) {
        if let Some(spindle) = self.chosen {
            requests.push(Request::Go(Page::Spindle(spindle)));
        }
    }

    fn filter_line(
        &mut self,
        ui: &mut egui::Ui,
        area: Rect,
        pressed: Pressed,
        from_foot: foot::Did,
        requests: &mut Requests,
    ) {
        let asked = filter_line::Asked {
            focus_find: pressed.find || from_foot.finds,
            focus_choice: pressed.filter || from_foot.filters,
        };
        let Cache { choices, arranged, .. } = &self.cache;
        let did = filter_line::show(ui, area, &mut self.view.filter, choices, arranged, asked);
        self.was_finding = did.is_finding;
        if did.shows_all {
            self.show_all();
        }
        self.arrange();
        if did.found && self.cache.arranged.shown == 1 {
            // a scanned order number goes straight to its spindle
            self.open(requests);
        }
        if (did.found || did.to_rows)
            && let Some(spindle) = self.chosen
        {
            ui.memory_mut(|memory| memory.request_focus(table::row_id(spindle)));
        }
    }

    fn table(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, page: Rect, top: f32, requests: &mut Requests) {
        let Some(widths) = self.cache.widths else { return };
        let columns = Columns::lay(page, &widths);
        let head = Rect::from_x_y_ranges(page.x_range(), top..=top + table::HEAD);
        let area = Rect::from_x_y_ranges(page.x_range(), head.bottom()..=page.bottom() - foot::REASON);
        let table = table::Table {
            context,
            lines: &self.cache.lines,
            arranged: &self.cache.arranged,
            view: &self.view,
            columns: &columns,
            service_by: &self.cache.service_by,
            chosen: self.chosen,
            scroll_to: self.scroll_to.take(),
        };
        table.ground(ui, head, area);
        let sort = table.head(ui, head);
        let did = table.rows(ui, page, area);
        self.offset = did.offset;
        self.rows_height = area.height();
        if did.scroll_to.is_some() {
            self.scroll_to = did.scroll_to;
            ui.ctx().request_repaint();
        }
        if let Some(column) = sort {
            self.view.sort_by(column);
            ui.ctx().request_repaint();
        }
        if let Some(spindle) = did.chose {
            self.choose(spindle);
        }
        if did.opens {
            self.open(requests);
        }
        if context.shop.spindles.is_empty() {
            empty::no_spindles(ui, area, context, requests);
        } else if self.cache.arranged.shown == 0 && empty::nothing_fits(ui, area, self.cache.arranged.of) {
            if self.cache.arranged.of == 0 {
                self.view.filter.with_not_mounted = true;
            } else {
                self.show_all();
            }
        }
    }
}
