//! The list: its head, and the lines in view.

use super::arrange::Arranged;
use super::cells;
use super::columns::Columns;
use super::line::{Line, LineKey};
use super::view::{OrdersView, SortBy};
use crate::pages::due::strip::{self, InView};
use crate::pages::due::table::sort_mark;
use crate::theme::{MARGIN, TABLE_ROW, palette, sans, semibold, size};
use eframe::egui::{self, Align2, Id, Key, Rect, Role, Sense, Stroke, UiBuilder, WidgetInfo, pos2, vec2};
use std::collections::BTreeSet;

/// Height of the head.
pub(super) const HEAD: f32 = 24.0;
/// How far the chosen line reaches over the margins of the page.
const OVERHANG: f32 = 8.0;

/// What the list shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Table<'a> {
    pub(super) lines: &'a [Line],
    pub(super) arranged: &'a Arranged,
    pub(super) view: &'a OrdersView,
    pub(super) columns: &'a Columns,
    pub(super) marked: &'a BTreeSet<LineKey>,
    pub(super) chosen: Option<LineKey>,
    pub(super) is_current: bool,
    /// Where to scroll to, if that is to change.
    pub(super) scroll_to: Option<f32>,
}

/// What the user did.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    /// A line was clicked or got the focus.
    pub(super) chose: Option<LineKey>,
    /// Its mark is to be turned.
    pub(super) turned: Option<LineKey>,
    /// It is to be opened.
    pub(super) opens: bool,
    /// The strip asks for another part.
    pub(super) scroll_to: Option<f32>,
    /// How far the list is scrolled.
    pub(super) offset: f32,
}

/// The id of a line: the same wherever it stands.
pub(super) fn row_id(key: LineKey) -> Id {
    Id::unique(("order line", key.order.map(almanac_core::ids::OrderId::row), key.spindle.row()))
}

impl Table<'_> {
    /// The head; answers by which column the user wants to sort.
    pub(super) fn head(&self, ui: &mut egui::Ui, area: Rect) -> Option<SortBy> {
        let colours = palette(ui);
        let y = area.top() + 11.0;
        let mut wanted = None;
        for place in &self.columns.places {
            let column = place.column;
            let is_sorted = self.view.sort == column;
            let rect = Rect::from_x_y_ranges(place.x, y - 9.0..=y + 9.0);
            let response = ui.interact(rect, ui.scope_id().with(("orders head", column)), Sense::click());
            let order = match (is_sorted, self.view.descending) {
                (true, true) => ", sorted, largest first",
                (true, false) => ", sorted",
                _ => "",
            };
            let name = format!("sort by {}{order}", column.head());
            response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, ui.is_enabled(), &name));
            let font = if is_sorted { semibold(size::LABEL) } else { sans(size::LABEL) };
            let ink = if is_sorted || response.hovered() { colours.ink } else { colours.ink2 };
            let (x, align) = if column.is_figure() {
                (place.x.max, Align2::RIGHT_CENTER)
            } else {
                (place.x.min, Align2::LEFT_CENTER)
            };
            let words = ui.painter().text(pos2(x, y), align, column.head(), font, ink);
            if is_sorted {
                sort_mark(ui.painter(), pos2(words.left() - 7.0, y - 0.5), self.view.descending, ink);
            }
            if response.clicked() {
                wanted = Some(column);
            }
        }
        if let Some(reason) = self.columns.reason {
            let at = pos2(reason.min, y);
            ui.painter().text(at, Align2::LEFT_CENTER, "why", sans(size::LABEL), colours.ink2);
        }
        let rule = area.top() + HEAD - 2.5;
        ui.painter().hline(area.left() + MARGIN..=self.columns.right, rule, Stroke::new(1.0, colours.ink));
        wanted
    }

    /// The lines in view.
    pub(super) fn rows(&self, ui: &mut egui::Ui, page: Rect, area: Rect) -> Did {
        let mut did = Did::default();
        let count = self.arranged.rows.len();
        let mut view = InView { offset: 0.0, height: area.height(), whole: count as f32 * TABLE_ROW };
        ui.scope_builder(UiBuilder::new().max_rect(area).id_salt("orders list"), |ui| {
            ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
            ui.spacing_mut().scroll.fade.strength = 0.0;
            let shown = strip::list_area("order lines", self.scroll_to).show_rows(ui, TABLE_ROW, count, |ui, range| {
                self.name_list(ui);
                let top = ui.max_rect().top();
                for (nth, place) in range.enumerate() {
                    let y = top + nth as f32 * TABLE_ROW;
                    let (left, right) = (page.left() + MARGIN - OVERHANG, page.right() - MARGIN + OVERHANG);
                    let rect = Rect::from_x_y_ranges(left..=right, y..=y + TABLE_ROW);
                    let line = self.arranged.rows.get(place).and_then(|index| self.lines.get(*index));
                    if let Some(line) = line {
                        self.row(ui, rect, place, line, &mut did);
                    }
                }
            });
            view.offset = shown.state.clamped_offset().y;
        });
        if view.whole > area.height() + 0.5 {
            let x = page.right() - strip::WIDTH..=page.right();
            let rect = Rect::from_x_y_ranges(x, area.y_range());
            did.scroll_to = strip::show(ui, rect, count, &self.arranged.accents, view);
        }
        did.offset = view.offset;
        did
    }

    /// Tells a screen reader that the lines are one list.
    fn name_list(&self, ui: &egui::Ui) {
        ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
            node.set_role(egui::accesskit::Role::ListBox);
            node.set_label("work orders and spindles to book");
            node.set_size_of_set(self.arranged.rows.len());
        });
    }

    fn row(&self, ui: &mut egui::Ui, rect: Rect, place: usize, line: &Line, did: &mut Did) {
        let is_chosen = self.chosen == Some(line.key);
        let is_marked = self.marked.contains(&line.key);
        let id = row_id(line.key);
        // Tab stops at the chosen line only; arrows walk the others
        let tabs = ui.input(|input| input.key_pressed(Key::Tab));
        let sense = if tabs && !is_chosen { Sense::CLICK } else { Sense::click() };
        let response = ui.interact(rect, id, sense);
        let name = if is_marked { format!("{}, marked", line.sentence) } else { line.sentence.clone() };
        response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, ui.is_enabled(), is_chosen, &name));
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_selected(is_chosen);
            node.set_position_in_set(place + 1);
        });
        if response.clicked() || (response.has_focus() && !is_chosen) {
            did.chose = Some(line.key);
            response.request_focus();
        }
        let on_tick = response.interact_pointer_pos().is_some_and(|at| at.x < self.columns.mark - 9.0);
        if response.clicked() && (on_tick || ui.input(|input| input.modifiers.command)) {
            did.turned = Some(line.key);
        }
        did.opens |= response.double_clicked() && !on_tick;

        let colours = palette(ui);
        if is_chosen {
            ui.painter().rect_filled(rect, 0.0, colours.tint);
        } else if response.hovered() {
            ui.painter().rect_filled(rect, 0.0, colours.tint.gamma_multiply(0.6));
        }
        let y = rect.center().y - 0.5;
        cells::paint(ui, ui.painter(), self.columns, line, (y, is_marked), (colours, self.is_current));
        let rule = Stroke::new(1.0, colours.rule.gamma_multiply(0.5));
        ui.painter().hline(rect.left() + OVERHANG..=self.columns.right, rect.bottom() - 0.5, rule);
    }
}
