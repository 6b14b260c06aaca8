//! Readings and services in one table, newest first; its chosen row is the cursor of the chart.

use super::record::{
    Record, RecordKey, Standing, What, kind_words, on_one_line, overdue_words, read_out, share_of, strokes_as_typed,
};
use super::view::View;
use crate::charts::clock::Clock;
use crate::charts::marks;
use crate::theme::{TABLE_ROW, sans, semibold, serif_semibold, size};
use crate::widgets::line::TextLine;
use crate::widgets::text::{left, left_cut, right};
use almanac_core::ids::{ReadingId, Row};
use almanac_core::reading::Reading;
use almanac_core::units::{Kilonewtons, Millimetres};
use almanac_core::words;
use eframe::egui::{self, EventFilter, Rect, Role, ScrollArea, Sense, Stroke, UiBuilder, WidgetInfo, pos2, vec2};

/// What the table remembers between passes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Scrolled {
    offset: f32,
    height: f32,
}

/// What happened in the table.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Outcome {
    /// The row that was clicked or took the focus.
    pub(super) chosen: Option<RecordKey>,
    /// The row under the pointer.
    pub(super) hovered: Option<RecordKey>,
    /// A row of the table has the focus.
    pub(super) has_focus: bool,
}

/// Whether the chosen row is to take the focus, because a row had it before the cursor moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Focus {
    Wanted,
    Left,
}

/// Where the columns stand, from the left edge.
#[derive(Debug, Clone, Copy)]
struct Columns {
    mark: f32,
    phase: f32,
    force: f32,
    share: f32,
    strokes: f32,
    setting: f32,
    gauge: f32,
    by: f32,
    note: Option<f32>,
    end: f32,
}

impl Columns {
    fn of(width: f32) -> Self {
        let width = width - 4.0; // the scroll bar
        let extra = (width - 560.0).max(0.0);
        let roomy = (extra * 0.25).min(60.0);
        let has_note = extra - roomy > 110.0;
        let at = |base: f32, share: f32| base + roomy * share;
        Self {
            mark: 86.0,
            phase: 98.0,
            force: at(208.0, 0.2),
            share: at(250.0, 0.3),
            strokes: at(264.0, 0.4),
            setting: at(396.0, 0.9),
            gauge: at(410.0, 1.0),
            by: at(448.0, 1.0),
            note: has_note.then_some(at(520.0, 1.2)),
            end: width,
        }
    }
}

/// Draws the table into a place. `cursor` is the chosen row; `follows` brings it into view.
pub(super) fn ui(
    ui: &mut egui::Ui,
    place: Rect,
    view: &View<'_>,
    (records, clock): (&[Record], &Clock),
    cursor: Option<RecordKey>,
    (scrolled, follows, focus): (&mut Scrolled, bool, Focus),
) -> Outcome {
    let c = view.colours;
    head_ui(ui, place, view, records.len());
    let columns = Columns::of(place.width());
    let rule = (place.top() + 46.0).round() + 0.5;
    column_heads(ui, place, &columns, view);
    ui.painter().hline(place.x_range(), rule, Stroke::new(1.0, c.ink));
    let mut outcome = Outcome::default();
    if records.is_empty() {
        let text = match view.context.entry_closed {
            None => "Nothing was recorded yet. N takes a first reading.",
            Some(_) => "Nothing was recorded by that day.",
        };
        left(ui.painter(), pos2(place.left(), rule + 20.0), text, sans(size::BODY), c.ink2);
        return outcome;
    }
    let body = Rect::from_min_max(pos2(place.left() - 6.0, rule + 3.0), pos2(place.right() + 6.0, place.bottom()));
    let mut child = ui.new_child(UiBuilder::new().max_rect(body).id_salt("records"));
    child.spacing_mut().item_spacing.y = 0.0;
    child.spacing_mut().scroll = super::thin_scroll();
    let mut area = ScrollArea::vertical().id_salt("records").auto_shrink(false);
    if follows && let Some(index) = cursor.and_then(|key| records.iter().position(|record| record.key == key)) {
        area = area.vertical_scroll_offset(offset_for(index, *scrolled, body.height()));
    }
    let shown = area.show_rows(&mut child, TABLE_ROW, records.len(), |ui, range| {
        for record in records.get(range).unwrap_or_default() {
            row_ui(ui, record, &columns, view, clock, (cursor == Some(record.key), focus, &mut outcome));
        }
    });
    *scrolled = Scrolled { offset: shown.state.clamped_offset().y, height: shown.inner_rect.height() };
    outcome
}

/// The offset at which a row is in view, moved as little as possible.
fn offset_for(index: usize, scrolled: Scrolled, height: f32) -> f32 {
    let height = if scrolled.height > 0.0 { scrolled.height } else { height };
    let top = index as f32 * TABLE_ROW;
    scrolled.offset.min(top).max(top + TABLE_ROW - height).max(0.0)
}

fn head_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, count: usize) {
    let c = view.colours;
    let base = place.top() + 20.0;
    let painter = ui.painter();
    let title = TextLine::new().with(0.0, "Readings and services", serif_semibold(size::SECTION), c.ink);
    let (rect, _) = title.paint(painter, pos2(place.left(), base), place.width());
    let Some(closed) = view.context.entry_closed else {
        let text = format!("{} in all", words::number(count as f64, 0));
        let line = TextLine::new().with(0.0, text, sans(size::LABEL), c.ink2);
        line.paint_right(painter, pos2(place.right(), base));
        return;
    };
    let closed = words::capital(closed);
    let line = TextLine::new().with(0.0, closed.as_str(), sans(size::LABEL), c.ink);
    let room = place.right() - rect.right() - 14.0;
    let (rect, cut) = line.paint(painter, pos2(rect.right() + 14.0, base), room);
    let said = ui.interact(rect, ui.scope_id().with("entry closed"), Sense::hover());
    said.widget_info(|| WidgetInfo::labeled(Role::Label, true, closed.as_str()));
    if cut {
        said.on_hover_text(closed.as_str());
    }
}

fn column_heads(ui: &egui::Ui, place: Rect, columns: &Columns, view: &View<'_>) {
    let c = view.colours;
    let (painter, y) = (ui.painter(), place.top() + 36.0);
    let x = |offset: f32| pos2(place.left() + offset, y);
    let font = || sans(size::LABEL);
    for (offset, text) in [(0.0, "date"), (columns.phase, "occasion"), (columns.strokes, "strokes")] {
        left(painter, x(offset), text, font(), c.ink2);
    }
    left(painter, x(columns.gauge), "gauge", font(), c.ink2);
    left(painter, x(columns.by), "by", font(), c.ink2);
    if let Some(note) = columns.note {
        left(painter, x(note), "note", font(), c.ink2);
    }
    right(painter, x(columns.force), view.force_unit().symbol(), font(), c.ink2);
    right(painter, x(columns.share), "%", font(), c.ink2);
    right(painter, x(columns.setting), &format!("setting, {}", view.length_unit()), font(), c.ink2);
}

fn row_ui(
    ui: &mut egui::Ui,
    record: &Record,
    columns: &Columns,
    view: &View<'_>,
    clock: &Clock,
    (is_chosen, focus, outcome): (bool, Focus, &mut Outcome),
) {
    let (_, rect) = ui.allocate_space(vec2(ui.available_width(), TABLE_ROW));
    // the chosen row is the one Tab stop of the table
    let sense = if is_chosen { Sense::click() } else { Sense::CLICK };
    let response = ui.interact(rect, row_id(record.key), sense);
    response.widget_info(|| {
        WidgetInfo::selected(Role::ListBoxOption, true, is_chosen, read_out(view, clock, record).plain())
    });
    if response.clicked() || (response.has_focus() && !is_chosen) {
        outcome.chosen = Some(record.key);
        ui.ctx().memory_mut(|memory| memory.request_focus(row_id(record.key)));
    }
    if is_chosen && focus == Focus::Wanted && !response.has_focus() {
        ui.ctx().memory_mut(|memory| memory.request_focus(row_id(record.key)));
    }
    if response.has_focus() {
        outcome.has_focus = true;
        let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.ctx().memory_mut(|memory| memory.set_focus_lock_filter(row_id(record.key), arrows));
    }
    if response.hovered() {
        outcome.hovered = Some(record.key);
    }
    let c = view.colours;
    if is_chosen {
        ui.painter().rect_filled(rect, 0.0, c.tint);
    }
    paint_row(ui, rect, record, columns, view);
}

/// The id of a row: the same wherever it is scrolled to.
pub(super) fn row_id(key: RecordKey) -> egui::Id {
    egui::Id::unique("spindle record").with(key)
}

fn paint_row(ui: &egui::Ui, rect: Rect, record: &Record, columns: &Columns, view: &View<'_>) {
    let c = view.colours;
    let counts = record.standing == Standing::Counts;
    let (ink, ink2) = if counts { (c.ink, c.ink2) } else { (c.ink3, c.ink3) };
    let painter = ui.painter();
    let start = rect.left() + 6.0;
    let y = rect.center().y;
    let x = |offset: f32| pos2(start + offset, y);
    let body = || sans(size::BODY);
    let small = || sans(size::LABEL);
    left(painter, x(0.0), &record.at.date.format("%-d %b %Y").to_string(), body(), ink);
    let mut strokes_at = columns.strokes;
    match &record.what {
        What::Reading { phase, .. } => {
            let is_doubted =
                |row: Option<&Row<ReadingId, Reading>>| counts && row.is_some_and(|row| view.doubt(row).is_some());
            let (force_doubted, setting_doubted) = (is_doubted(record.force()), is_doubted(record.setting()));
            if force_doubted || setting_doubted {
                marks::cross(painter, x(columns.mark), 3.6, Stroke::new(1.6, c.act));
                let word = left(painter, x(strokes_at), "doubted", small(), c.act);
                strokes_at += word.width() + 8.0;
            } else {
                marks::reading(painter, x(columns.mark), *phase, ink, if counts { c.paper } else { c.tint });
            }
            left(painter, x(columns.phase), phase.label(), body(), ink);
            let figure_ink = |is_doubted: bool| if is_doubted { c.act } else { ink };
            if let Some(reading) = record.force() {
                let force = Kilonewtons::new(reading.mean_base()).unwrap_or_default();
                right(
                    painter,
                    x(columns.force),
                    &view.mean_force(force),
                    semibold(size::BODY),
                    figure_ink(force_doubted),
                );
                right(painter, x(columns.share), &words::percent(share_of(view, reading)), body(), ink);
            }
            if let Some(reading) = record.setting() {
                let length = Millimetres::new(reading.mean_base()).unwrap_or_default();
                right(painter, x(columns.setting), &view.length(length), body(), figure_ink(setting_doubted));
            }
            if let Some(reading) = record.force() {
                let shown = view.force_unit();
                let unit = if reading.unit == shown { String::new() } else { format!(" {}", reading.unit) };
                let taken = if record.setting().is_some() { 38.0 } else { 0.0 };
                let room = columns.setting - taken - strokes_at;
                // wide apart where there is room, else close
                let text = |between: &str| format!("{}{unit}", strokes_as_typed(reading, between));
                let is_wide = painter.layout_no_wrap(text("  "), small(), ink2).size().x > room;
                let text = text(if is_wide { " " } else { "  " });
                left_cut(painter, x(strokes_at), &text, small(), ink2, room);
            }
        }
        What::Service(service) => {
            marks::service(painter, x(columns.mark), service.kind == almanac_core::service::Kind::Major, ink);
            left(painter, x(columns.phase), &kind_words(service.kind), semibold(size::BODY), ink);
            let hours = service.stop_hours.map(|hours| format!("{} h", words::number(hours.get(), 1)));
            let findings = Some(on_one_line(&service.findings)).filter(|findings| !findings.is_empty());
            let text = [hours, findings].into_iter().flatten().collect::<Vec<_>>().join(", ");
            let room = (if counts { columns.by } else { columns.gauge }) - 10.0 - strokes_at;
            left_cut(painter, x(strokes_at), &text, small(), ink2, room);
        }
    }
    paint_end(painter, &x, record, columns, view);
    if !counts {
        let until = start + columns.setting;
        painter.hline(start..=until, y.round() + 0.5, Stroke::new(1.0, c.ink3));
    }
}

fn paint_end(
    painter: &egui::Painter,
    x: &impl Fn(f32) -> egui::Pos2,
    record: &Record,
    columns: &Columns,
    view: &View<'_>,
) {
    let c = view.colours;
    let small = || sans(size::LABEL);
    if record.standing != Standing::Counts {
        let text = record.standing.words(view.as_of());
        left_cut(painter, x(columns.gauge), &text, semibold(size::LABEL), c.ink2, columns.end - columns.gauge);
        return;
    }
    let (by, note) = match &record.what {
        What::Reading { .. } => record.reading().map(|row| (row.technician.clone(), row.note.clone())),
        What::Service(service) => Some((service.technician.clone(), service.note.clone())),
    }
    .unwrap_or_default();
    let overdue = overdue_words(view, record);
    if let Some(gauge) = record.reading().and_then(|reading| reading.gauge.as_deref()) {
        let known = view.context.shop.gauge_named(gauge);
        let is_overdue = known.is_some_and(|known| known.is_overdue_on(record.at.date));
        left(painter, x(columns.gauge), gauge, small(), if is_overdue { c.act } else { c.ink2 });
    }
    let room = columns.note.unwrap_or(columns.end) - 8.0 - columns.by;
    let name = left_cut(painter, x(columns.by), &by.unwrap_or_default(), sans(size::BODY), c.ink, room);
    // the words stand before the note, else after the name
    let mut at = columns.note.unwrap_or_else(|| columns.by + name.width() + 8.0);
    if let Some(words) = overdue {
        at += left_cut(painter, x(at), &words, small(), c.act, (columns.end - at).max(0.0)).width() + 8.0;
    }
    if columns.note.is_some() {
        left_cut(painter, x(at), &on_one_line(&note), small(), c.ink2, (columns.end - at).max(0.0));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_brought_into_view_by_the_least_move() {
        let scrolled = Scrolled { offset: 100.0, height: 200.0 };
        assert!((offset_for(6, scrolled, 0.0) - 100.0).abs() < 1e-6, "row 6 is in view already");
        assert!((offset_for(2, scrolled, 0.0) - 44.0).abs() < 1e-6);
        assert!((offset_for(20, scrolled, 0.0) - 262.0).abs() < 1e-6);
        assert!((offset_for(0, Scrolled::default(), 100.0)).abs() < 1e-6);
    }
}
