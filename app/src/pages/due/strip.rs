//! The strip at the right edge: where in the list rows in accent lie, and which part is in view.

use crate::theme::palette;
use eframe::egui::scroll_area::{ScrollBarVisibility, ScrollSource};
use eframe::egui::{self, Rangef, Rect, Role, ScrollArea, Sense, Stroke, WidgetInfo, pos2};

/// Its width.
pub(in crate::pages) const WIDTH: f32 = 6.0;

/// The part of the list in view.
#[derive(Debug, Clone, Copy)]
pub(in crate::pages) struct InView {
    /// How far the list is scrolled.
    pub(in crate::pages) offset: f32,
    /// Height of what is seen.
    pub(in crate::pages) height: f32,
    /// Height of the whole list.
    pub(in crate::pages) whole: f32,
}

/// The scroll area of a list that has this strip in place of a bar; scrolled to an offset where one is given.
pub(in crate::pages) fn list_area(salt: &str, scroll_to: Option<f32>) -> ScrollArea {
    let area = ScrollArea::vertical()
        .id_salt(salt)
        .auto_shrink(false)
        .animated(false)
        .content_margin(0.0)
        .scroll_source(ScrollSource { scroll_bar: false, ..ScrollSource::default() })
        .scroll_bar_visibility(ScrollBarVisibility::AlwaysHidden);
    match scroll_to {
        Some(offset) => area.vertical_scroll_offset(offset.max(0.0)),
        None => area,
    }
}

/// Draws it for so many rows, of which those in the runs `accents` are in accent; answers where the
/// list is to be scrolled to, if it was dragged or clicked.
pub(in crate::pages) fn show(
    ui: &mut egui::Ui,
    rect: Rect,
    rows: usize,
    accents: &[(usize, usize)],
    view: InView,
) -> Option<f32> {
    let colours = palette(ui);
    let response =
        ui.interact(rect.expand2(egui::vec2(4.0, 0.0)), ui.scope_id().with("strip"), Sense::CLICK | Sense::DRAG);
    response.widget_info(|| WidgetInfo::labeled(Role::ScrollBar, ui.is_enabled(), "part of the list in view"));
    let painter = ui.painter();
    painter.rect_filled(rect, 0.0, colours.shade);
    let height_of = rect.height() / view.whole.max(1.0);
    let thumb = Rangef::new(view.offset, view.offset + view.height.min(view.whole));
    let thumb = Rect::from_x_y_ranges(
        rect.x_range(),
        rect.top() + thumb.min * height_of..=rect.top() + (thumb.max * height_of).max(thumb.min * height_of + 12.0),
    );
    let is_held = response.hovered() || response.dragged();
    painter.rect_filled(thumb, 0.0, if is_held { colours.edge } else { colours.rule2 });
    let share = rect.height() / rows.max(1) as f32;
    for (from, to) in accents {
        let top = rect.top() + *from as f32 * share;
        let bottom = (rect.top() + *to as f32 * share).max(top + 2.0);
        painter.rect_filled(Rect::from_x_y_ranges(rect.x_range(), top..=bottom), 0.0, colours.act);
    }
    painter.rect_stroke(thumb, 0.0, Stroke::new(1.0, colours.ink2), egui::StrokeKind::Inside);
    let at = response.interact_pointer_pos().filter(|_| response.dragged() || response.clicked())?;
    let share = (at - pos2(at.x, rect.top())).y / rect.height().max(1.0);
    Some((share * view.whole - view.height / 2.0).clamp(0.0, (view.whole - view.height).max(0.0)))
}
