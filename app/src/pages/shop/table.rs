//! The table of a register: its head stands, only the rows in sight are laid out.

use super::register::{Column, RegisterRow};
use crate::theme::{TABLE_ROW, palette, sans, semibold, size};
use crate::widgets::text;
use eframe::egui::{self, Key, Modifiers, Rect, Role, ScrollArea, Sense, Stroke, WidgetInfo, pos2, vec2};

const GAP: f32 = 10.0;

/// Draws the table; answers the row that was chosen now.
pub(super) fn table(ui: &mut egui::Ui, columns: &[Column], rows: &[RegisterRow], chosen: Option<i64>) -> Option<i64> {
    let colours = palette(ui);
    let total: f32 = columns.iter().map(|column| column.share).sum::<f32>().max(0.1);
    let width = ui.available_width() - 14.0;
    let widths: Vec<f32> = columns.iter().map(|column| column.share / total * width).collect();
    head(ui, columns, &widths);
    let base = base();
    let at = chosen.and_then(|chosen| rows.iter().position(|row| row.id == chosen));
    let moved = moved_by_keys(ui, base, at, rows);
    let mut taken = moved.and_then(|index| rows.get(index)).map(|row| row.id);
    let scroll_to = moved;
    let mut area = ScrollArea::vertical().auto_shrink([false, false]).id_salt("register table");
    if let Some(index) = scroll_to {
        let seen = ui.data(|data| data.get_temp::<(f32, f32)>(base)).unwrap_or((0.0, 1.0));
        let top = index as f32 * TABLE_ROW;
        if top < seen.0 {
            area = area.vertical_scroll_offset(top);
        } else if top + TABLE_ROW > seen.0 + seen.1 {
            area = area.vertical_scroll_offset(top + TABLE_ROW - seen.1);
        }
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let shown = area.show_rows(ui, TABLE_ROW, rows.len(), |ui, range| {
        for index in range {
            let Some(row) = rows.get(index) else { continue };
            let rect = Rect::from_min_size(ui.cursor().min, vec2(width, TABLE_ROW));
            let response = ui.interact(rect, base.with(index), Sense::click());
            ui.allocate_rect(rect, Sense::hover());
            let is_chosen = chosen == Some(row.id);
            let sentence = sentence(columns, row);
            response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_chosen, &sentence));
            if scroll_to == Some(index) {
                response.request_focus();
            }
            if response.has_focus() {
                ui.data_mut(|data| data.insert_temp(base.with("focus"), response.id));
            }
            if response.clicked() || (response.has_focus() && !is_chosen && moved.is_none()) {
                response.request_focus();
                taken = Some(row.id);
            }
            if is_chosen {
                ui.painter().rect_filled(rect, 0.0, colours.tint);
                let bar = Rect::from_min_max(rect.min, pos2(rect.left() + 3.0, rect.bottom()));
                ui.painter().rect_filled(bar, 0.0, colours.ink);
            } else if response.hovered() {
                ui.painter().rect_filled(rect, 0.0, colours.shade);
            }
            cells(ui, rect, columns, &widths, row);
        }
    });
    ui.data_mut(|data| data.insert_temp(base, (shown.state.clamped_offset().y, shown.inner_rect.height())));
    if rows.is_empty() {
        ui.add_space(8.0);
        crate::forms::layout::quiet(ui, "Nothing here yet.");
    }
    taken
}

fn base() -> egui::Id {
    egui::Id::unique("register rows")
}

/// Whether arrows and Enter belong to the table: nothing has the focus, or one of its rows.
pub(super) fn has_keys(ui: &egui::Ui) -> bool {
    let Some(focused) = ui.memory(|memory| memory.focused()) else { return true };
    ui.data(|data| data.get_temp::<egui::Id>(base().with("focus"))) == Some(focused)
}

/// What a row says to those who do not see it: its first cell, then the others by their heads.
fn sentence(columns: &[Column], row: &RegisterRow) -> String {
    let mut cells = row.cells.iter();
    let first = cells.next().cloned().unwrap_or_default();
    let rest = columns.iter().skip(1).zip(cells).filter(|(_, cell)| !cell.is_empty());
    let rest: Vec<String> = rest.map(|(column, cell)| format!("{} {cell}", column.head)).collect();
    if rest.is_empty() { first } else { format!("{first}; {}", rest.join(", ")) }
}

fn moved_by_keys(ui: &egui::Ui, base: egui::Id, at: Option<usize>, rows: &[RegisterRow]) -> Option<usize> {
    if !has_keys(ui) {
        return None;
    }
    let last = rows.len().checked_sub(1)?;
    let page = ui.data(|data| data.get_temp::<(f32, f32)>(base)).map_or(10, |seen| (seen.1 / TABLE_ROW) as usize);
    let step = |key: Key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
    // nothing chosen yet: the first step leads to the first row
    let to = if step(Key::ArrowDown) {
        at.map_or(0, |at| at + 1)
    } else if step(Key::ArrowUp) {
        at.map_or(0, |at| at.saturating_sub(1))
    } else if step(Key::PageDown) {
        at.map_or(0, |at| at + page)
    } else if step(Key::PageUp) {
        at.map_or(0, |at| at.saturating_sub(page))
    } else if step(Key::Home) {
        0
    } else if step(Key::End) {
        last
    } else {
        return None;
    };
    ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::None));
    Some(to.min(last))
}

fn head(ui: &mut egui::Ui, columns: &[Column], widths: &[f32]) {
    let colours = palette(ui);
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), TABLE_ROW), Sense::hover());
    let mut left = rect.left();
    for (column, width) in columns.iter().zip(widths) {
        let cell = Rect::from_min_size(pos2(left, rect.top()), vec2(*width, TABLE_ROW));
        put(ui, cell, column, column.head, sans(size::LABEL), colours.ink2);
        left += width;
    }
    ui.painter().hline(rect.x_range(), rect.bottom() - 0.5, Stroke::new(1.0, colours.ink));
}

fn cells(ui: &egui::Ui, rect: Rect, columns: &[Column], widths: &[f32], row: &RegisterRow) {
    let colours = palette(ui);
    let mut left = rect.left();
    for (index, ((column, width), cell)) in columns.iter().zip(widths).zip(&row.cells).enumerate() {
        let place = Rect::from_min_size(pos2(left, rect.top()), vec2(*width, TABLE_ROW));
        let font = if index == 0 { semibold(size::BODY) } else { sans(size::BODY) };
        let ink = if row.needs_action { colours.act } else { colours.ink };
        put(ui, place, column, cell, font, ink);
        left += width;
    }
    ui.painter().hline(rect.x_range(), rect.bottom() - 0.5, Stroke::new(1.0, colours.rule));
}

fn put(ui: &egui::Ui, place: Rect, column: &Column, words: &str, font: egui::FontId, ink: egui::Color32) {
    if column.is_figure {
        text::right(ui.painter(), place.right_center() - vec2(GAP, 0.0), words, font, ink);
    } else {
        let at = place.left_center() + vec2(6.0, 0.0);
        text::left_cut(ui.painter(), at, words, font, ink, place.width() - GAP);
    }
}
