//! Words that are buttons, painted at a place: the head is set like a line of type.

use crate::theme::palette;
use eframe::egui::{self, Align2, Color32, FontId, Rect, Response, Role, Sense, Stroke, WidgetInfo};

/// How a word button looks and what it is called.
#[derive(Debug, Clone)]
pub struct WordButton<'a> {
    /// What stands there.
    pub text: &'a str,
    /// In which font.
    pub font: FontId,
    /// In which ink.
    pub ink: Color32,
    /// Its accessible name.
    pub name: &'a str,
    /// What it does, with its keys.
    pub tooltip: String,
    /// Whether it can be used.
    pub enabled: bool,
}

/// Width of a text in a font.
#[must_use]
pub fn width(ui: &egui::Ui, text: &str, font: &FontId) -> f32 {
    ui.painter().layout_no_wrap(text.to_owned(), font.clone(), Color32::PLACEHOLDER).size().x
}

/// Draws it centred in a rectangle; under the pointer it is underlined.
pub fn word_button(ui: &mut egui::Ui, rect: Rect, word: WordButton<'_>) -> Response {
    let sense = if word.enabled { Sense::click() } else { Sense::hover() };
    let response = ui.allocate_rect(rect, sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, word.enabled, word.name));
    let drawn = ui.painter().text(rect.center(), Align2::CENTER_CENTER, word.text, word.font, word.ink);
    if word.enabled && response.hovered() {
        ui.painter().hline(drawn.x_range(), drawn.bottom(), Stroke::new(1.0, palette(ui).ink2));
    }
    if word.tooltip.is_empty() { response } else { response.on_hover_text(word.tooltip) }
}
