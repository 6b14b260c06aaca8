//! What the lists of the panel have in common: how a line is chosen by pointer and keyboard, and
//! that more of them than one reads are counted.

use super::panel::paragraph;
use crate::theme::{palette, sans, size};
use eframe::egui::{self, Id, Rect, Role, Sense, Vec2, WidgetInfo, vec2};

/// More than these are counted.
pub(super) const SHOWN: usize = 40;

/// Those that have a line of their own.
pub(super) fn listed<T>(all: &[T]) -> &[T] {
    all.get(..SHOWN).unwrap_or(all)
}

/// How many have none, where there are such.
pub(super) fn rest<T>(all: &[T]) -> Option<usize> {
    all.len().checked_sub(SHOWN).filter(|more| 0 < *more)
}

/// That there are more, in words.
pub(super) fn counted(ui: &mut egui::Ui, words: &str) {
    let ink = palette(ui).ink2;
    paragraph(ui, words, sans(size::BODY), ink);
}

/// A line of a list, before it is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    pub(super) id: Id,
    pub(super) height: f32,
    /// How far its ground reaches over it: wide enough that the frame of the focus leaves the words free.
    pub(super) reach: Vec2,
    pub(super) is_chosen: bool,
    /// All about it, as a screen reader says it.
    pub(super) sentence: &'a str,
}

impl Line<'_> {
    /// Draws it with its ground; answers whether it was chosen, by a click or by the focus.
    pub(super) fn ui(self, ui: &mut egui::Ui, paint: impl FnOnce(&egui::Ui, Rect)) -> bool {
        let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), self.height), Sense::hover());
        // Tab leads from the chosen line out of the list, not through every line of it
        let tabs = ui.input(|input| input.key_pressed(egui::Key::Tab));
        let sense = if tabs && !self.is_chosen { Sense::CLICK } else { Sense::click() };
        let ground = rect.expand2(self.reach);
        let response = ui.interact(ground, self.id, sense);
        response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, self.is_chosen, self.sentence));
        if self.is_chosen || response.hovered() {
            ui.painter().rect_filled(ground, 0.0, palette(ui).tint);
        }
        paint(ui, rect);
        let took = response.clicked() || (response.has_focus() && !self.is_chosen);
        if response.clicked() {
            response.request_focus();
        }
        keep_in_sight(ui, &response, rect);
        took
    }
}

/// The keyboard brings a line into view.
fn keep_in_sight(ui: &egui::Ui, response: &egui::Response, rect: Rect) {
    let by_keys = ui.input(|input| {
        input.keys_down.contains(&egui::Key::ArrowDown)
            || input.keys_down.contains(&egui::Key::ArrowUp)
            || input.keys_down.contains(&egui::Key::E)
            || input.key_pressed(egui::Key::Tab)
    });
    if response.has_focus() && by_keys {
        ui.scroll_to_rect(rect.expand(6.0), None);
    }
}
