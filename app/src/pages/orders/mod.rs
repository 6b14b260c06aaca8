//! The orders page: what is ordered and what is to book, where, when, by whom, with which kit.
//!
//! Lines are put into words once per change of shop or figures (`line`), filtered and sorted once
//! per change of the view (`arrange`), and only those in view are laid out (`table`). What a step
//! does to an order, and whether it may, is decided by the logic (`almanac_core::orders_list`).

mod arrange;
mod cells;
mod columns;
mod empty;
mod filter_line;
mod foot;
mod keys;
mod lead;
mod line;
mod parts;
mod steps;
mod table;
mod view;

pub use view::{Filter, OrdersView, SortBy};

use super::due::foot::REASON;
use super::due::keys::{Step, escape, stepped};
use super::{Form, Page, PageContext, Request, Requests};
use crate::command::Command;
use crate::planner::Plan;
use crate::theme::TABLE_ROW;
use almanac_core::due::LeadLine;
use almanac_core::export::ics::CalendarOf;
use almanac_core::orders_list::{Bulk, OrderLine, OrderStep, book_lines, orders_lead, step_on_lines, totals};
use almanac_core::planning::parts_waiting::PartsWaiting;
use almanac_core::words;
use arrange::{Arranged, arrange};
use columns::{Columns, Widths};
use eframe::egui::{self, Popup, Rect};
use keys::Pressed;
use line::{Line, LineKey};
use std::collections::BTreeSet;
use std::sync::Arc;
use steps::StepKey;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct OrdersPage {
    /// Filter, order, closed ones; kept in the preferences but for the filter.
    pub view: OrdersView,
    chosen: Option<LineKey>,
    marked: BTreeSet<LineKey>,
    /// The filter line is open though nothing is filtered yet.
    is_filter_open: bool,
    /// The caret was in the search field in the last frame.
    was_finding: bool,
    /// How far the list was scrolled, and how high it was, in the last frame.
    offset: f32,
    rows_height: f32,
    scroll_to: Option<f32>,
    cache: Cache,
    parts: parts::PartsView,
}

/// What follows from shop, figures and view alone.
#[derive(Debug, Default)]
struct Cache {
    /// Revisions of shop and figures, and whether closed orders are among the lines.
    made_for: Option<(u64, u64, bool)>,
    lines: Vec<Line>,
    lead: LeadLine,
    counts: String,
    choices: filter_line::Choices,
    widths: Option<Widths>,
    technicians: Vec<String>,
    arranged_for: Option<OrdersView>,
    arranged: Arranged,
    totals: String,
}

impl OrdersPage {
    /// The page as the user left it.
    #[must_use]
    pub fn new(view: OrdersView) -> Self {
        Self { view, ..Self::default() }
    }

    /// Whether the parts of the plan are looked at.
    #[must_use]
    pub const fn shows_parts(&self) -> bool {
        self.parts.is_open
    }

    /// Whether something is on its way.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.parts.is_busy()
    }

    /// The parts of the plan as they were worked out last.
    #[must_use]
    pub const fn parts(&self) -> Option<&Arc<PartsWaiting>> {
        self.parts.parts()
    }

    /// Draws the page; the parts in it are those of the plan.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, plan: Option<&Plan>, requests: &mut Requests) {
        if self.parts.is_open {
            self.parts.ui(ui, context, plan, requests);
            return;
        }
        self.refresh(ui, context);
        let pressed = self.keys(ui, context, requests);
        let foot = foot::Keys { context, has_choice: self.chosen.is_some(), opens_sort: pressed.sort };
        let did = crate::widgets::foot::frame_open(ui, |ui| foot.show(ui, &mut self.view));
        let did_turn_closed = did.turns_closed;
        self.obey_foot(did, pressed, context, requests);
        self.refresh(ui, context);

        let page = ui.available_rect_before_wrap();
        let lead = lead::show(ui, page, context, &self.cache.lead, &self.cache.counts);
        let mut top = page.top() + lead + 11.0;
        if self.is_filter_open || self.view.filter.is_set() {
            let area = Rect::from_x_y_ranges(page.x_range(), top - 7.0..=top - 7.0 + filter_line::HEIGHT);
            self.filter_line(ui, area, (pressed.find || did.finds, pressed.filter || did.filters));
            top += filter_line::HEIGHT - 4.0;
        }
        self.arrange(context);
        if pressed.closed || did_turn_closed {
            // closed lines come in between: what was chosen is to stay in sight
            let place = self.shown().position(|line| Some(line.key) == self.chosen);
            if let Some(place) = place {
                self.bring_into_view(place);
            }
        }
        let bottom = page.bottom() - REASON - steps::HEIGHT;
        self.table(ui, context, page, (top, bottom - foot::TOTALS), requests);
        let strip = |from: f32, to: f32| Rect::from_x_y_ranges(page.x_range(), from..=to);
        foot::totals(ui, strip(bottom - foot::TOTALS, bottom), &self.cache.totals);
        let reason = strip(bottom, bottom + REASON);
        foot::reason(ui, reason, context, self.chosen_line());
        self.steps(ui, strip(bottom + REASON, page.bottom()), pressed.step_key, context, requests);
    }

    /// Puts the lines into words anew where shop or figures changed.
    fn refresh(&mut self, ui: &egui::Ui, context: &PageContext<'_>) {
        let made_for = (context.revision, context.figures_revision, self.view.closed);
        if self.cache.made_for != Some(made_for) {
            let lines = line::lines(context, self.view.closed);
            let of: Vec<OrderLine> = lines.iter().map(|line| line.of.clone()).collect();
            self.cache.lead = lead_of(context, &of);
            let open = of.iter().filter(|line| line.id.is_some() && line.is_open).count();
            let to_book = of.iter().filter(|line| line.id.is_none()).count();
            let count = |count: usize| words::number(count as f64, 0);
            self.cache.counts = format!("{} open   {} to book", count(open), count(to_book));
            self.cache.widths = Some(columns::measure(ui.painter(), &lines));
            self.cache.choices = filter_line::Choices::of(&lines);
            self.cache.technicians = context.shop.technicians.iter().map(|row| row.name.clone()).collect();
            self.marked.retain(|key| lines.iter().any(|line| line.key == *key));
            self.cache.lines = lines;
            self.cache.made_for = Some(made_for);
            self.cache.arranged_for = None;
        }
        self.arrange(context);
    }

    /// Filters and sorts anew where the view changed.
    fn arrange(&mut self, context: &PageContext<'_>) {
        if self.cache.arranged_for.as_ref() == Some(&self.view) {
            return;
        }
        let cache = &mut self.cache;
        cache.arranged = arrange(&cache.lines, &self.view);
        let shown = || cache.arranged.rows.iter().filter_map(|index| cache.lines.get(*index));
        let as_of = context.due.map_or(context.as_of, |due| due.as_of);
        cache.totals = totals(shown().map(|line| &line.of), as_of).in_words(&context.shop.settings.currency);
        if !shown().any(|line| Some(line.key) == self.chosen) {
            // a spindle that was to book is chosen still once it has its order
            let same = self.chosen.and_then(|chosen| shown().find(|line| line.key.spindle == chosen.spindle));
            self.chosen = same.or_else(|| shown().next()).map(|line| line.key);
        }
        if cache.arranged_for.is_some() {
            self.scroll_to = Some(0.0);
        }
        cache.arranged_for = Some(self.view.clone());
    }

    /// The lines shown, from top to bottom.
    fn shown(&self) -> impl Iterator<Item = &Line> {
        self.cache.arranged.rows.iter().filter_map(|index| self.cache.lines.get(*index))
    }

    fn chosen_line(&self) -> Option<&Line> {
        self.cache.lines.iter().find(|line| Some(line.key) == self.chosen)
    }

    /// The lines that a step is about: those marked among the shown ones, else the chosen one.
    fn meant(&self) -> Vec<&Line> {
        let marked: Vec<&Line> = self.shown().filter(|line| self.marked.contains(&line.key)).collect();
        if marked.is_empty() { self.chosen_line().into_iter().collect() } else { marked }
    }

    /// Takes the keys of the page and does what needs no widget.
    fn keys(&mut self, ui: &egui::Ui, context: &PageContext<'_>, requests: &mut Requests) -> Pressed {
        if !ui.is_enabled() || Popup::is_any_open(ui.ctx()) {
            return Pressed::default();
        }
        let focused = ui.memory(egui::Memory::focused);
        let on_row = focused.is_some() && focused == self.chosen.map(table::row_id);
        let pressed = keys::take(ui, focused.is_none() || on_row);
        if let Some(step) = pressed.step {
            self.step(ui, step);
        }
        // Esc leaves the search first, then the marks, then stops an update
        let is_filtering = self.is_filter_open || self.view.filter.is_set();
        let has_own = is_filtering || !self.marked.is_empty();
        if has_own && (self.was_finding || context.doing.is_none()) && escape(ui) {
            if is_filtering { self.show_all() } else { self.marked.clear() }
        } else if context.doing.is_some() && escape(ui) {
            requests.push(Request::Run(Command::StopUpdating));
        }
        pressed
    }

    fn show_all(&mut self) {
        self.view.filter = Filter::default();
        self.is_filter_open = false;
        self.was_finding = false;
    }

    fn step(&mut self, ui: &egui::Ui, step: Step) {
        let keys: Vec<LineKey> = self.shown().map(|line| line.key).collect();
        let from = keys.iter().position(|key| Some(*key) == self.chosen);
        let page = (self.rows_height / TABLE_ROW) as usize;
        let to = stepped(from, step, keys.len(), page.saturating_sub(1));
        if let Some((place, key)) = to.and_then(|to| Some((to, *keys.get(to)?))) {
            self.chosen = Some(key);
            self.bring_into_view(place);
            ui.memory_mut(|memory| memory.request_focus(table::row_id(key)));
        }
    }

    /// Scrolls no further than it takes to see that row.
    fn bring_into_view(&mut self, place: usize) {
        let top = place as f32 * TABLE_ROW;
        if top < self.offset {
            self.scroll_to = Some(top);
        } else if top + TABLE_ROW > self.offset + self.rows_height {
            self.scroll_to = Some(top + TABLE_ROW - self.rows_height);
        }
    }

    fn obey_foot(&mut self, did: foot::Did, pressed: Pressed, context: &PageContext<'_>, requests: &mut Requests) {
        if did.opens || pressed.open {
            self.open(requests);
        }
        if did.marks || pressed.mark {
            self.turn_mark(self.chosen);
        }
        if did.marks_all || pressed.mark_all {
            let shown: Vec<LineKey> = self.shown().map(|line| line.key).collect();
            let all_marked = shown.iter().all(|key| self.marked.contains(key));
            self.marked.clear();
            if !all_marked {
                self.marked.extend(shown);
            }
        }
        self.view.closed ^= did.turns_closed || pressed.closed;
        self.parts.is_open |= did.shows_parts || (pressed.parts && !context.shop.spindles.is_empty());
        if did.exports || pressed.export {
            requests.push(Request::ExportList);
        }
        if did.writes_calendar || pressed.calendar {
            requests.push(Request::Run(Command::ExportCalendar));
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

    /// Whose services a calendar holds that is written from here: those of the people and halls of
    /// the filter.
    #[must_use]
    pub fn calendar_of(&self) -> CalendarOf {
        let filter = &self.view.filter;
        CalendarOf { technicians: filter.technicians.clone(), halls: filter.halls.clone() }
    }

    fn turn_mark(&mut self, key: Option<LineKey>) {
        if let Some(key) = key
            && !self.marked.remove(&key)
        {
            self.marked.insert(key);
        }
    }

    fn open(&self, requests: &mut Requests) {
        if let Some(chosen) = self.chosen {
            requests.push(Request::Go(Page::Spindle(chosen.spindle)));
        }
    }

    fn filter_line(&mut self, ui: &mut egui::Ui, area: Rect, asked: (bool, bool)) {
        let Cache { choices, arranged, lines, .. } = &self.cache;
        let shown = format!("{} of {} shown", arranged.rows.len(), lines.len());
        let did = filter_line::show(ui, area, &mut self.view.filter, choices, &shown, asked);
        self.was_finding = did.is_finding;
        if did.shows_all {
            self.show_all();
        }
        if did.to_rows
            && let Some(chosen) = self.chosen
        {
            ui.memory_mut(|memory| memory.request_focus(table::row_id(chosen)));
        }
    }

    fn table(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        page: Rect,
        (top, bottom): (f32, f32),
        requests: &mut Requests,
    ) {
        let Some(widths) = self.cache.widths else { return };
        let columns = Columns::lay(page, &widths);
        let head = Rect::from_x_y_ranges(page.x_range(), top..=top + table::HEAD);
        let area = Rect::from_x_y_ranges(page.x_range(), head.bottom()..=bottom.max(head.bottom()));
        let table = table::Table {
            lines: &self.cache.lines,
            arranged: &self.cache.arranged,
            view: &self.view,
            columns: &columns,
            marked: &self.marked,
            chosen: self.chosen,
            is_current: context.is_current,
            scroll_to: self.scroll_to.take(),
        };
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
        if did.chose.is_some() {
            self.chosen = did.chose;
        }
        self.turn_mark(did.turned);
        if did.opens {
            self.open(requests);
        }
        if self.cache.arranged.rows.is_empty() {
            match empty::show(ui, area, context, (self.cache.lines.len(), self.view.closed)) {
                Some(empty::Mend::ShowAll) => self.show_all(),
                Some(empty::Mend::ShowClosed) => self.view.closed = true,
                Some(empty::Mend::GoDue) => requests.push(Request::Go(Page::Due)),
                None => {}
            }
        }
    }

    /// The line of steps, and what was asked for in it or by key.
    fn steps(
        &mut self,
        ui: &mut egui::Ui,
        area: Rect,
        pressed: Option<StepKey>,
        context: &PageContext<'_>,
        requests: &mut Requests,
    ) {
        let meant = self.meant();
        let name = match meant[..] {
            [] => String::new(),
            [one] if !self.marked.contains(&one.key) => {
                if one.key.order.is_some() {
                    one.of.order.clone()
                } else {
                    one.of.spindle.clone()
                }
            }
            _ => format!("{} marked", meant.len()),
        };
        let line = steps::Steps {
            of: &name,
            has_to_book: meant.iter().any(|line| line.key.order.is_none()),
            has_open: meant.iter().any(|line| line.key.order.is_some() && line.of.is_open),
            closed: context.entry_closed,
            technicians: &self.cache.technicians,
            opens_technicians: pressed == Some(StepKey::Assign),
        };
        let did = line.show(ui, area);
        if context.entry_closed.is_some() {
            if let (Some(closed), true) = (context.entry_closed, pressed.is_some()) {
                requests.push(Request::Trouble(closed.to_owned()));
            }
            return;
        }
        let lines: Vec<&OrderLine> = meant.iter().map(|line| &line.of).collect();
        let all_held = lines.iter().filter(|line| line.id.is_some()).all(|line| line.held);
        let bulk = match (did.assigned, did.pressed.or(pressed)) {
            (Some(who), _) => step_on_lines(context.whole, &lines, &OrderStep::Assign(who), context.present),
            (None, Some(StepKey::Book)) => book_lines(context.whole, &lines, context.present),
            (None, Some(key)) => match key.step(all_held) {
                Some(step) => step_on_lines(context.whole, &lines, &step, context.present),
                None => return,
            },
            (None, None) => return,
        };
        ask(bulk, requests);
    }
}

/// Asks for what a step comes to, and says what was left out.
pub(in crate::pages) fn ask(bulk: Bulk, requests: &mut Requests) {
    let sentence = bulk.sentence();
    let is_refused = !bulk.refused.is_empty();
    let needs_service = bulk.needs_service;
    let was_asked = bulk.action.is_some();
    if let Some(action) = bulk.action {
        requests.perform(action);
    }
    // a form that opens takes away what was said before
    if let Some(spindle) = needs_service {
        requests.push(Request::OpenForm(Form::Service(spindle)));
    }
    if was_asked && is_refused {
        requests.push(Request::Trouble(format!("{sentence}; Ctrl Z takes back what was done")));
    } else if was_asked {
        requests.push(Request::Notice(format!("{sentence}; Ctrl Z takes it back")));
    } else if needs_service.is_some() {
        requests.push(Request::Notice(format!("{sentence}: record it here, which closes the order")));
    } else if is_refused {
        requests.push(Request::Trouble(sentence));
    }
}

/// The lead line, also where there are no figures yet.
fn lead_of(context: &PageContext<'_>, lines: &[OrderLine]) -> LeadLine {
    let rest = if context.shop.spindles.is_empty() {
        "There are no orders in a shop without spindles."
    } else {
        match context.due {
            Some(due) => return orders_lead(lines, due.as_of),
            None => "What is to book is being worked out.",
        }
    };
    LeadLine { urgent: String::new(), rest: rest.to_owned() }
}
