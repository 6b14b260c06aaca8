//! The ruled blank: an entry field as on paper, white with a base line.

use crate::theme::{palette, sans, size};
use eframe::egui::text::{CCursor, CCursorRange};
use eframe::egui::{self, Color32, Frame, Id, Margin, Response, RichText, Stroke, TextEdit, vec2};

/// Height of the field itself.
pub const HEIGHT: f32 = 26.0;

/// How a blank looks and what it says.
#[derive(Debug, Clone, Copy)]
pub struct Blank<'a> {
    /// Its accessible name; unique among the blanks of one area.
    pub label: &'a str,
    /// Stands in the empty field, such as `> 12,604`.
    pub hint: &'a str,
    /// Width in points.
    pub width: f32,
    /// What is wrong with what stands in it.
    pub error: Option<&'a str>,
    /// Figures stand to the right, words to the left.
    pub is_figure: bool,
    /// Lines; more than one makes Enter a new line.
    pub lines: usize,
}

impl<'a> Blank<'a> {
    /// A blank of one line for words.
    #[must_use]
    pub const fn new(label: &'a str, width: f32) -> Self {
        Self { label, hint: "", width, error: None, is_figure: false, lines: 1 }
    }
}

/// A blank of one line whose name is `label`; what is wrong stands under it on act tint.
///
/// Draws no label of its own: it stands beside or above, as the page sets it.
pub fn ruled_blank(
    ui: &mut egui::Ui,
    text: &mut String,
    label: &str,
    hint: &str,
    width: f32,
    error: Option<&str>,
) -> Response {
    ui.vertical(|ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        let response = blank(ui, text, &Blank { hint, error, ..Blank::new(label, width) });
        if let Some(sentence) = error {
            error_line(ui, sentence, width);
        }
        response
    })
    .inner
}

/// The id of the blank of that name in this area, to give it the focus or ask for it.
#[must_use]
pub fn id(ui: &egui::Ui, label: &str) -> Id {
    ui.make_persistent_id(("ruled blank", label))
}

/// The field alone.
pub fn blank(ui: &mut egui::Ui, text: &mut String, look: &Blank<'_>) -> Response {
    let colours = palette(ui);
    let is_wrong = look.error.is_some();
    let ink = if is_wrong { colours.act } else { colours.ink };
    let edit = if look.lines > 1 { TextEdit::multiline(text) } else { TextEdit::singleline(text) };
    let align = if look.is_figure { egui::Align2::RIGHT_CENTER } else { egui::Align2::LEFT_CENTER };
    let hint = RichText::new(look.hint).font(sans(size::BODY)).color(colours.ink3);
    let response = ui.add(
        edit.id(id(ui, look.label))
            .font(sans(size::ENTRY))
            .text_color(ink)
            .align(align)
            .hint_text(hint)
            .desired_width(look.width)
            .desired_rows(look.lines)
            .min_size(vec2(look.width, HEIGHT))
            .background_color(colours.field)
            .frame(Frame::new().fill(colours.field).inner_margin(Margin::symmetric(6, 3))),
    );
    base_line(ui, response.rect, is_wrong);
    let by_pointer = ui.input(|input| input.pointer.any_down() || input.pointer.any_click());
    if gained_focus(ui, &response) {
        response.scroll_to_me(None);
        if !by_pointer && look.lines == 1 {
            select_all(ui, response.id, text);
        }
    }
    name(&response, look.label)
}

/// Whether the field has the focus now and had it not when it was drawn before. The response alone
/// does not know of a focus that a form asked for after the field was drawn.
fn gained_focus(ui: &egui::Ui, response: &Response) -> bool {
    if !response.has_focus() {
        return false;
    }
    let (seen, pass) = (response.id.with("pass with the focus"), ui.ctx().cumulative_pass_nr());
    ui.data_mut(|data| {
        let last = data.get_temp::<u64>(seen);
        data.insert_temp(seen, pass);
        last.is_none_or(|last| last + 1 < pass)
    })
}

/// What the keyboard leads to is marked, so that typing takes the place of it. The cursor stands
/// before it: of a text longer than the field the beginning stays in sight.
fn select_all(ui: &egui::Ui, id: Id, text: &str) {
    if let Some(mut state) = TextEdit::load_state(ui, id) {
        let end = CCursor::new(text.chars().count());
        state.cursor.set_char_range(Some(CCursorRange::two(end, CCursor::new(0))));
        TextEdit::store_state(ui, id, state);
    }
}

/// What the keyboard leads to is scrolled into sight.
pub fn keep_in_sight(response: &Response) {
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
}

/// Gives a widget its accessible name, whatever it shows.
pub fn name(response: &Response, label: &str) -> Response {
    response.clone().accessible_name(label)
}

/// The line on which an entry stands.
pub fn base_line(ui: &egui::Ui, rect: egui::Rect, is_wrong: bool) {
    let colours = palette(ui);
    let stroke = if is_wrong { Stroke::new(2.0, colours.act) } else { Stroke::new(1.0, colours.edge) };
    ui.painter().hline(rect.x_range(), rect.bottom() - stroke.width / 2.0, stroke);
}

/// One sentence on act tint, as wide as what it belongs to.
pub fn error_line(ui: &mut egui::Ui, sentence: &str, width: f32) {
    let colours = palette(ui);
    tinted_line(ui, sentence, width, colours.act_tint, colours.act);
}

fn tinted_line(ui: &mut egui::Ui, sentence: &str, width: f32, ground: Color32, ink: Color32) {
    Frame::new().fill(ground).inner_margin(Margin::symmetric(6, 2)).show(ui, |ui| {
        ui.set_width((width - 12.0).max(60.0));
        ui.add(egui::Label::new(RichText::new(sentence).font(sans(size::LABEL)).color(ink)).wrap());
    });
}
