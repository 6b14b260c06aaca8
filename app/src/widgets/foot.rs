//! The foot of a page: its keys, which are buttons too.

use crate::theme::{FOOT_HEIGHT, MARGIN, palette, sans, semibold, size};
use eframe::egui::{self, Key, Modifiers, Response, Role, Sense, Stroke, WidgetInfo, vec2};

/// A key of the foot: what is printed in the box, and what it does.
#[derive(Debug, Clone, Copy)]
pub struct FootKey {
    /// Printed in the box, such as `Enter`.
    pub printed: &'static str,
    /// What it does, such as `open`.
    pub does: &'static str,
}

/// Draws a key with its word; answers like a button whose accessible name is the word.
pub fn foot_key(ui: &mut egui::Ui, key: FootKey, enabled: bool) -> Response {
    let colours = palette(ui);
    let (box_ink, word_ink) = if enabled { (colours.ink, colours.ink2) } else { (colours.ink3, colours.ink3) };
    let printed = ui.painter().layout_no_wrap(key.printed.to_owned(), semibold(size::SMALL), box_ink);
    let does = ui.painter().layout_no_wrap(key.does.to_owned(), sans(size::LABEL), word_ink);
    let box_width = printed.size().x + 8.0;
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(vec2(box_width + 5.0 + does.size().x, 20.0), sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, enabled, key.does));
    let boxed = egui::Rect::from_min_size(egui::pos2(rect.left() + 0.5, rect.center().y - 8.0), vec2(box_width, 16.0));
    let painter = ui.painter();
    painter.rect_stroke(boxed, 1.0, Stroke::new(1.0, colours.rule2), egui::StrokeKind::Inside);
    let printed_at = boxed.center() - printed.size() / 2.0;
    painter.galley(printed_at, printed, box_ink);
    let does_at = egui::pos2(boxed.right() + 5.0, rect.center().y - does.size().y / 2.0);
    if enabled && response.hovered() {
        let y = rect.center().y + does.size().y / 2.0;
        painter.hline(does_at.x..=rect.right(), y, Stroke::new(1.0, colours.ink2));
    }
    painter.galley(does_at, does, word_ink);
    response
}

/// Whether a key is pressed outside any field; takes the key press.
///
/// Single letters act only while no text is being typed.
pub fn pressed(ui: &egui::Ui, key: Key) -> bool {
    let typing = ui.ctx().text_edit_focused();
    !typing && ui.input_mut(|input| input.consume_key(Modifiers::NONE, key))
}

/// The foot of a page: the last 38 px over a hairline. A notice of the program stands there in
/// place of the keys until it is dismissed. Call it before the page draws anything else.
pub fn frame<R>(ui: &mut egui::Ui, keys: impl FnOnce(&mut egui::Ui) -> R) -> R {
    framed(ui, true, keys)
}

/// The same without the hairline, for a page that sets a line of text right above its keys.
pub fn frame_open<R>(ui: &mut egui::Ui, keys: impl FnOnce(&mut egui::Ui) -> R) -> R {
    framed(ui, false, keys)
}

fn framed<R>(ui: &mut egui::Ui, has_hairline: bool, keys: impl FnOnce(&mut egui::Ui) -> R) -> R {
    let colours = palette(ui);
    let margin = egui::Margin { left: MARGIN as i8, right: MARGIN as i8, top: 0, bottom: 0 };
    let notice = super::notice_line::take(ui);
    let height = notice.as_ref().map_or(FOOT_HEIGHT, |notice| notice.height().max(FOOT_HEIGHT));
    let ground = notice.as_ref().map_or(colours.paper, |notice| notice.ground(ui));
    egui::Panel::bottom("foot")
        .exact_size(height)
        .resizable(false)
        .show_separator_line(false)
        .frame(egui::Frame::new().fill(ground).inner_margin(margin))
        .show(ui, |ui| {
            let rect = ui.max_rect();
            if has_hairline {
                ui.painter().hline(rect.x_range(), rect.top() + 0.5, Stroke::new(1.0, colours.rule));
            }
            ui.spacing_mut().item_spacing.x = 20.0;
            let builder =
                egui::UiBuilder::new().max_rect(rect).layout(egui::Layout::left_to_right(egui::Align::Center));
            let of_keys = ui.scope_builder(builder, |ui| {
                if notice.is_some() {
                    // Unseen they still take what is pressed, and open their menus.
                    ui.set_invisible();
                }
                keys(ui)
            });
            if let Some(notice) = notice {
                notice.show(ui, rect);
            }
            of_keys.inner
        })
        .inner
}
