//! Parts waiting, in place of the list: what to order by when, who waits for it, and the stock of the
//! chosen part week by week.

use super::lead;
use crate::command::Command;
use crate::pages::due::keys::{Step, escape, key, step, stepped};
use crate::pages::{PageContext, Request, Requests};
use crate::planner::Plan;
use crate::task::{Outcome, Task};
use crate::theme::{MARGIN, TABLE_ROW, palette, sans, semibold, serif, size};
use crate::widgets::foot::{FootKey, foot_key, frame};
use crate::widgets::text;
use almanac_core::due::LeadLine;
use almanac_core::planning::parts_waiting::{PartAhead, PartsWaiting, amount, parts_waiting};
use almanac_core::planning::proposal::Proposal;
use almanac_core::words;
use eframe::egui::{
    self, Align, Align2, Id, Key, Layout, Popup, Rect, RichText, Role, ScrollArea, Sense, Stroke, UiBuilder,
    WidgetInfo, pos2, vec2,
};
use std::sync::Arc;

/// Height of the chart.
const CHART: f32 = 150.0;

/// Height of the two lines over it.
const WORDS: f32 = 48.0;

/// The view, with what was worked out for it.
#[derive(Debug, Default)]
pub(super) struct PartsView {
    pub(super) is_open: bool,
    chosen: usize,
    /// The plan for which the parts are.
    of: Option<Arc<Proposal>>,
    task: Option<Task<PartsWaiting>>,
    parts: Option<Arc<PartsWaiting>>,
}

impl PartsView {
    /// Whether something is on its way.
    pub(super) const fn is_busy(&self) -> bool {
        self.task.is_some()
    }

    /// What was worked out last.
    pub(super) const fn parts(&self) -> Option<&Arc<PartsWaiting>> {
        self.parts.as_ref()
    }

    /// Starts working the parts of a plan out, and takes them in.
    fn refresh(&mut self, ui: &egui::Ui, plan: Option<&Plan>, requests: &mut Requests) {
        if let Some(task) = self.task.take() {
            match task.poll() {
                Outcome::Running => self.task = Some(task),
                Outcome::Done(parts) => self.parts = Some(Arc::new(parts)),
                Outcome::Lost => {
                    requests.push(Request::Trouble("a fault in the program while counting parts".to_owned()))
                }
            }
        }
        let Some(plan) = plan else { return };
        if self.of.as_ref().is_some_and(|of| Arc::ptr_eq(of, plan.current())) {
            return;
        }
        self.of = Some(Arc::clone(plan.current()));
        let (basis, current) = (Arc::clone(&plan.basis), Arc::clone(plan.current()));
        match Task::start(ui.ctx(), "parts", "counting parts".to_owned(), move |_| parts_waiting(&basis, &current)) {
            Ok(task) => self.task = Some(task),
            Err(sentence) => requests.push(Request::Trouble(sentence)),
        }
    }

    /// Draws the view.
    pub(super) fn ui(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        plan: Option<&Plan>,
        requests: &mut Requests,
    ) {
        self.refresh(ui, plan, requests);
        let has_parts = self.parts.as_ref().is_some_and(|parts| !parts.parts.is_empty());
        let (mut leaves, mut exports) = (false, false);
        frame(ui, |ui| {
            leaves = foot_key(ui, FootKey { printed: "W", does: "back to the orders" }, true).clicked();
            exports = foot_key(ui, FootKey { printed: "E", does: "export parts" }, has_parts).clicked();
        });
        let is_free = ui.is_enabled() && !Popup::is_any_open(ui.ctx()) && !ui.ctx().text_edit_focused();
        if is_free {
            leaves |= key(ui, Key::W) || escape(ui);
            exports |= has_parts && key(ui, Key::E);
            if let Some(step) = step(ui) {
                self.step(step);
            }
        }
        if exports {
            requests.push(Request::ExportParts);
        }
        self.is_open &= !leaves;
        self.page(ui, context, requests);
    }

    fn step(&mut self, step: Step) {
        let count = self.parts.as_ref().map_or(0, |parts| parts.parts.len());
        if let Some(to) = stepped(Some(self.chosen.min(count.saturating_sub(1))), step, count, 10) {
            self.chosen = to;
        }
    }

    fn page(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let page = ui.available_rect_before_wrap();
        let rest = match &self.parts {
            Some(parts) if parts.parts.is_empty() && context.shop.kit_lines.is_empty() => {
                "What a service takes is not listed, so no part can be counted.".to_owned()
            }
            Some(parts) => parts.lead(),
            None => "What parts the plan takes is being worked out.".to_owned(),
        };
        let sentence = LeadLine { urgent: String::new(), rest };
        let top = page.top() + lead::show(ui, page, context, &sentence, "") + 11.0;
        let Some(parts) = self.parts.clone() else { return };
        self.chosen = self.chosen.min(parts.parts.len().saturating_sub(1));
        let list = Rect::from_x_y_ranges(page.x_range(), top..=(page.bottom() - CHART - WORDS - 6.0).max(top + 60.0));
        self.list(ui, list, &parts);
        if parts.parts.is_empty() {
            empty(ui, list, context, requests);
        }
        let Some(part) = parts.parts.get(self.chosen) else { return };
        let words = Rect::from_x_y_ranges(page.x_range(), list.bottom()..=list.bottom() + WORDS);
        part_words(ui, words, part, &parts);
        let chart = Rect::from_min_max(
            pos2(page.left() + MARGIN, words.bottom()),
            pos2(page.right() - MARGIN, page.bottom() - 6.0),
        );
        chart_of(ui, chart, part, &parts);
    }

    fn list(&mut self, ui: &mut egui::Ui, area: Rect, parts: &PartsWaiting) {
        let colours = palette(ui);
        let (left, right) = (area.left() + MARGIN, area.right() - MARGIN);
        let places = Places::in_width(left, right);
        let y = area.top() + 9.0;
        let painter = ui.painter().clone();
        for (x, head, is_figure) in [
            (left, "part", false),
            (places.on_hand, "on hand", true),
            (places.reorder, "reorder at", true),
            (places.short, "short on", false),
            (places.by, "order by", false),
            (places.quantity, "order", true),
            (places.used, "used by", false),
        ] {
            let align = if is_figure { Align2::RIGHT_CENTER } else { Align2::LEFT_CENTER };
            painter.text(pos2(x, y), align, head, sans(size::LABEL), colours.ink2);
        }
        painter.hline(left..=right, area.top() + 20.5, Stroke::new(1.0, colours.ink));
        let rows = Rect::from_min_max(pos2(area.left(), area.top() + 22.0), area.max);
        ui.scope_builder(UiBuilder::new().max_rect(rows).id_salt("parts waiting"), |ui| {
            ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
            ScrollArea::vertical().auto_shrink(false).show_rows(ui, TABLE_ROW, parts.parts.len(), |ui, range| {
                let top = ui.max_rect().top();
                for (nth, index) in range.enumerate() {
                    let Some(part) = parts.parts.get(index) else { continue };
                    let y = top + nth as f32 * TABLE_ROW;
                    let rect = Rect::from_x_y_ranges(left - 8.0..=right + 8.0, y..=y + TABLE_ROW);
                    let id = Id::unique(("part waiting", index));
                    let response = ui.interact(rect, id, Sense::click());
                    let is_chosen = index == self.chosen;
                    let sentence = part_sentence(part, parts);
                    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_chosen, &sentence));
                    if response.clicked() || (response.has_focus() && !is_chosen && response.gained_focus()) {
                        self.chosen = index;
                    }
                    if is_chosen {
                        ui.painter().rect_filled(rect, 0.0, colours.tint);
                    }
                    paint_row(ui, &places, (left, rect.center().y), part, parts);
                }
            });
        });
    }
}

/// What stands in the list while it has no lines: one sentence, and the key that helps.
fn empty(ui: &mut egui::Ui, area: Rect, context: &PageContext<'_>, requests: &mut Requests) {
    let words = if context.shop.kit_lines.is_empty() {
        "No kit is listed yet. Say under kits which parts a service takes:"
    } else {
        "No part is needed by the plan, and none is short. Stock and kits stand in the registers:"
    };
    let rect = Rect::from_min_size(area.left_top() + vec2(MARGIN, 32.0), vec2(area.width() - 2.0 * MARGIN, 26.0));
    let builder = UiBuilder::new().max_rect(rect).layout(Layout::left_to_right(Align::Center)).id_salt("no parts");
    ui.scope_builder(builder, |ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        ui.label(RichText::new(words).font(serif(size::REASON)).color(palette(ui).ink));
        if foot_key(ui, FootKey { printed: "Ctrl 6", does: "to the registers" }, true).clicked() {
            requests.push(Request::Run(Command::GoShop));
        }
    });
}

/// Where the columns stand: right edges of figures, left edges of words.
#[derive(Debug, Clone, Copy)]
struct Places {
    on_hand: f32,
    reorder: f32,
    short: f32,
    by: f32,
    quantity: f32,
    used: f32,
    right: f32,
}

impl Places {
    fn in_width(left: f32, right: f32) -> Self {
        let name = ((right - left) * 0.26).clamp(150.0, 320.0);
        let on_hand = left + name + 70.0;
        let reorder = on_hand + 76.0;
        let short = reorder + 28.0;
        let by = short + 92.0;
        let quantity = by + 122.0;
        Self { on_hand, reorder, short, by, quantity, used: quantity + 24.0, right }
    }
}

fn figure(value: f64) -> String {
    words::number(value, usize::from((value - value.round()).abs() > 1e-6))
}

fn paint_row(ui: &egui::Ui, places: &Places, (left, y): (f32, f32), part: &PartAhead, parts: &PartsWaiting) {
    let colours = palette(ui);
    let painter = ui.painter();
    let body = || sans(size::BODY);
    text::left_cut(painter, pos2(left, y), &part.name, semibold(size::BODY), colours.ink, places.on_hand - left - 60.0);
    text::right(painter, pos2(places.on_hand, y), &amount(part.on_hand, &part.unit), body(), colours.ink);
    text::right(painter, pos2(places.reorder, y), &amount(part.reorder_point, &part.unit), body(), colours.ink2);
    let day = |day| words::date_short(day, parts.as_of);
    if let Some(short) = part.short_on {
        text::left(painter, pos2(places.short, y), &day(short), body(), colours.act);
    }
    if let Some(order) = part.order {
        let (by, ink) = if order.is_now { ("now".to_owned(), colours.act) } else { (day(order.by), colours.ink) };
        text::left(painter, pos2(places.by, y), &by, semibold(size::BODY), ink);
        let quantity = amount(order.quantity, &part.unit);
        text::right(painter, pos2(places.quantity, y), &quantity, body(), colours.ink);
    }
    let used: Vec<&str> = part.uses.iter().map(|one| one.position.as_str()).collect();
    let room = (places.right - places.used).max(0.0);
    text::left_cut(painter, pos2(places.used, y), &used.join(", "), body(), colours.ink2, room);
}

fn part_sentence(part: &PartAhead, parts: &PartsWaiting) -> String {
    let mut said = format!("{}, {} on hand", part.name, amount(part.on_hand, &part.unit));
    if let Some(short) = part.short_on {
        said.push_str(&format!(", short on {}", words::date_long(short, parts.as_of)));
    }
    if let Some(order) = part.order_words(parts.as_of) {
        said.push_str(&format!(", {order}"));
    }
    said
}

/// What to order and who waits, of the chosen part.
fn part_words(ui: &egui::Ui, area: Rect, part: &PartAhead, parts: &PartsWaiting) {
    let colours = palette(ui);
    let (left, right) = (area.left() + MARGIN, area.right() - MARGIN);
    ui.painter().hline(left..=right, area.top() + 0.5, Stroke::new(1.0, colours.ink));
    let order = part.order_words(parts.as_of).unwrap_or_else(|| format!("{}: nothing to order", part.name));
    let waiting = part.waiting_words(parts.as_of).join("; ");
    for (nth, words) in [words::capital(&order), words::capital(&waiting)].iter().enumerate() {
        let at = pos2(left, area.top() + 12.0 + 18.0 * nth as f32);
        text::left_cut(ui.painter(), at, words, sans(size::BODY), colours.ink, right - left);
    }
}

/// The projected stock at the end of each week, with the point below which to order.
fn chart_of(ui: &egui::Ui, area: Rect, part: &PartAhead, parts: &PartsWaiting) {
    let colours = palette(ui);
    let painter = ui.painter();
    let stocks = part.weeks.iter().map(|week| week.stock);
    let most = stocks.clone().fold(part.reorder_point.max(1.0), f64::max);
    let least = stocks.fold(0.0, f64::min);
    let plot =
        Rect::from_min_max(pos2(area.left() + 64.0, area.top() + 22.0), pos2(area.right(), area.bottom() - 18.0));
    let y_of = |value: f64| plot.bottom() - ((value - least) / (most - least)) as f32 * plot.height();
    let label = |at, align, words: &str| painter.text(at, align, words, sans(size::LABEL), colours.ink2);
    for (value, words) in [(0.0, figure(0.0)), (most, amount(most, &part.unit))] {
        label(pos2(plot.left() - 8.0, y_of(value)), Align2::RIGHT_CENTER, &words);
        painter.hline(plot.x_range(), y_of(value), Stroke::new(1.0, colours.rule));
    }
    label(pos2(area.left(), area.top() + 4.0), Align2::LEFT_CENTER, "stock at the end of each week");
    let step = plot.width() / part.weeks.len().max(1) as f32;
    for (nth, week) in part.weeks.iter().enumerate() {
        let x = plot.left() + nth as f32 * step;
        let bar = Rect::from_two_pos(pos2(x + 2.0, y_of(0.0)), pos2(x + step - 2.0, y_of(week.stock)));
        let ink = if week.stock < 0.0 { colours.act } else { colours.deep };
        painter.rect_filled(bar, 0.0, ink);
        if week.arrives > 0.0 {
            let words = format!("+{}", figure(week.arrives));
            label(pos2(x + step / 2.0, bar.top() - 7.0), Align2::CENTER_CENTER, &words);
        }
        if nth % 4 == 0 {
            let day = words::day_month(week.monday, parts.as_of);
            label(pos2(x + 2.0, plot.bottom() + 9.0), Align2::LEFT_CENTER, &day);
        }
    }
    if part.reorder_point > 0.0 {
        let y = y_of(part.reorder_point);
        let dashes = egui::Shape::dashed_line(
            &[pos2(plot.left(), y), pos2(plot.right(), y)],
            Stroke::new(1.0, colours.ink),
            5.0,
            4.0,
        );
        painter.extend(dashes);
        label(pos2(plot.right(), y - 7.0), Align2::RIGHT_CENTER, "order below this");
    }
    let lowest = part.weeks.iter().min_by(|a, b| a.stock.total_cmp(&b.stock));
    let sentence = match lowest {
        Some(week) => format!(
            "stock of {} by week: {} now, least {} in the week of {}",
            part.name,
            figure(part.on_hand),
            figure(week.stock),
            words::date_long(week.monday, parts.as_of)
        ),
        None => format!("stock of {}", part.name),
    };
    let response = ui.interact(area, ui.scope_id().with("stock chart"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &sentence));
}
