//! The foot of the page: totals of what is shown, the chosen line in one sentence, and the keys.

use super::line::Line;
use super::view::{OrdersView, SortBy};
use crate::pages::PageContext;
use crate::theme::{MARGIN, palette, sans, semibold, serif_semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::foot_menu::{entry, menu};
use crate::widgets::text;
use eframe::egui::{self, Rect, Response, RichText, Role, Sense, Stroke, WidgetInfo, pos2};

/// Height of the totals, the last line of the list.
pub(super) const TOTALS: f32 = 24.0;

/// What the user did there.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    pub(super) opens: bool,
    pub(super) finds: bool,
    pub(super) filters: bool,
    pub(super) marks: bool,
    pub(super) marks_all: bool,
    pub(super) turns_closed: bool,
    pub(super) exports: bool,
    pub(super) writes_calendar: bool,
    pub(super) shows_parts: bool,
    pub(super) stops: bool,
    pub(super) renews: bool,
}

/// What the keys are asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Keys<'a> {
    pub(super) context: &'a PageContext<'a>,
    /// A line is chosen.
    pub(super) has_choice: bool,
    /// The key S was pressed: its menu opens.
    pub(super) opens_sort: bool,
}

impl Keys<'_> {
    /// The keys, and at the right how far an update is.
    pub(super) fn show(&self, ui: &mut egui::Ui, view: &mut OrdersView) -> Did {
        let mut did = Did::default();
        ui.spacing_mut().item_spacing.x = 17.0;
        let key = |printed, does| FootKey { printed, does };
        let has_shop = !self.context.shop.spindles.is_empty();
        did.opens = foot_key(ui, key("Enter", "open"), self.has_choice).clicked();
        did.marks = foot_key(ui, key("Space", "mark"), self.has_choice).clicked();
        did.marks_all = foot_key(ui, key("A", "mark all shown"), self.has_choice).clicked();
        did.finds = foot_key(ui, key("/", "find"), true).clicked();
        did.filters = foot_key(ui, key("F", "filter"), true).clicked();
        let sort = foot_key(ui, key("S", "sort"), true);
        let closed = if view.closed { "open ones alone" } else { "closed ones too" };
        did.turns_closed = foot_key(ui, key("C", closed), has_shop).clicked();
        did.exports = foot_key(ui, key("E", "export list"), has_shop).clicked();
        did.writes_calendar = foot_key(ui, key("K", "calendar"), has_shop).clicked();
        did.shows_parts = foot_key(ui, key("W", "parts waiting"), has_shop).clicked();
        sort_menu(ui, &sort, self.opens_sort, view);
        let words = match self.context.doing {
            Some(doing) => doing.in_words(),
            None if !self.context.is_current && self.context.due.is_some() => {
                "figures from before the last change".to_owned()
            }
            None => return did,
        };
        ui.label(RichText::new(words).font(sans(size::LABEL)).color(palette(ui).ink));
        let update = match self.context.doing {
            Some(doing) => key("Esc", doing.stops()),
            None => key("R", "renew"),
        };
        let clicked = foot_key(ui, update, true).clicked();
        did.stops = clicked && self.context.doing.is_some();
        did.renews = clicked && self.context.doing.is_none();
        did
    }
}

fn sort_menu(ui: &egui::Ui, anchor: &Response, opens: bool, view: &mut OrdersView) {
    let current = view.sort;
    menu(ui, anchor, opens, 210.0, |ui, focus| {
        for column in SortBy::ALL {
            let is_current = column == current;
            let turned = if is_current { ", the other way round" } else { "" };
            let response = entry(ui, &format!("{}{turned}", column.head()), is_current, focus && is_current);
            if response.clicked() {
                view.sort_by(column);
                ui.close();
            }
        }
    });
}

/// What the lines shown come to: the last line of the list, under its ink rule.
pub(super) fn totals(ui: &egui::Ui, area: Rect, words: &str) {
    let colours = palette(ui);
    let (left, right) = (area.left() + MARGIN, area.right() - MARGIN);
    ui.painter().hline(left..=right, area.top() + 0.5, Stroke::new(1.0, colours.ink));
    let at = pos2(left, area.center().y);
    text::left_cut(ui.painter(), at, words, semibold(size::BODY), colours.ink, right - left);
    let response = ui.interact(area, ui.scope_id().with("orders totals"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
}

/// The chosen line in one sentence.
pub(super) fn reason(ui: &egui::Ui, area: Rect, context: &PageContext<'_>, line: Option<&Line>) {
    let Some(line) = line else { return };
    let colours = palette(ui);
    let y = area.top() + 12.0;
    let place = if line.of.place.is_empty() { "not mounted" } else { line.of.place.as_str() };
    let name = format!("{place}  {}", line.of.spindle);
    let at = pos2(area.left() + MARGIN, y - 0.5);
    let name = text::left(ui.painter(), at, &name, serif_semibold(size::BODY), colours.ink);
    let at = pos2(name.right() + 16.0, y);
    let ink = if context.is_current { colours.ink } else { colours.ink2 };
    let room = (area.right() - MARGIN - at.x).max(0.0);
    let words = if line.of.reason.is_empty() { line.sentence.as_str() } else { line.of.reason.as_str() };
    text::left_cut(ui.painter(), at, words, sans(size::BODY), ink, room);
    let rect = Rect::from_x_y_ranges(area.left() + MARGIN..=area.right() - MARGIN, y - 9.0..=y + 9.0);
    let response = ui.interact(rect, ui.scope_id().with("orders reason"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
}
