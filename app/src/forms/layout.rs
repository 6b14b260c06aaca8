//! How a form is set: labels left, blanks right, what is wrong under its blank.

use super::draft::{Draft, FieldErrors, Key};
use crate::theme::{palette, sans, semibold, serif, serif_semibold, size};
use crate::widgets::choice::{self, Offer};
use crate::widgets::ruled_blank::{self, Blank};
use almanac_core::typed_date::{Lean, parse_typed_date};
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Color32, Label, Response, RichText, Sense, Stroke, vec2};

/// Width of the labels.
pub const LABEL_WIDTH: f32 = 106.0;

/// The fields of a form over its draft.
#[derive(Debug)]
pub struct Fields<'a> {
    /// The texts.
    pub draft: &'a mut Draft,
    /// What is wrong with them.
    pub errors: &'a FieldErrors,
}

impl Fields<'_> {
    /// A field for words.
    pub fn text(&mut self, ui: &mut egui::Ui, key: Key, hint: &str) -> Response {
        self.field(ui, key, |ui, text, look| ruled_blank::blank(ui, text, &Blank { hint, ..look }))
    }

    /// A field for a day; a day not typed in full is said under it.
    pub fn day(&mut self, ui: &mut egui::Ui, key: Key, hint: &str, today: NaiveDate, lean: Lean) -> Response {
        let response = self.text(ui, key, hint);
        let typed = self.draft.trimmed(key);
        if let Ok(day) = parse_typed_date(typed, today, lean)
            && day.to_string() != typed
        {
            labelled(ui, "", |ui, _| quiet(ui, &words::date_full(day)));
        }
        response
    }

    /// A field for words that goes over several lines; Enter makes a new line in it.
    pub fn long(&mut self, ui: &mut egui::Ui, key: Key, hint: &str) -> Response {
        self.field(ui, key, |ui, text, look| ruled_blank::blank(ui, text, &Blank { hint, lines: 3, ..look }))
    }

    /// A field for a figure, with its unit or a word after it.
    pub fn figure(&mut self, ui: &mut egui::Ui, key: Key, hint: &str, unit: &str) -> Response {
        self.field(ui, key, |ui, text, look| {
            ui.horizontal(|ui| {
                let width = 130.0_f32.min(look.width);
                let response = ruled_blank::blank(ui, text, &Blank { hint, is_figure: true, width, ..look });
                quiet(ui, unit);
                response
            })
            .inner
        })
    }

    /// A field with offers under it.
    pub fn offers(&mut self, ui: &mut egui::Ui, key: Key, hint: &str, offers: &[Offer]) -> Response {
        self.field(ui, key, |ui, text, look| choice::typed(ui, text, &Blank { hint, ..look }, offers))
    }

    /// A few words in a line; answers whether the choice changed.
    pub fn words(&mut self, ui: &mut egui::Ui, key: Key, options: &[&str]) -> bool {
        let error = self.errors.of(key);
        labelled(ui, key, |ui, width| {
            let changed = choice::words(ui, self.draft.text_mut(key), key, options);
            if let Some(sentence) = error {
                ruled_blank::error_line(ui, sentence, width);
            }
            changed
        })
    }

    /// A word that stands fast; its name is `label: word`, as that of a choice.
    pub fn fixed(&self, ui: &mut egui::Ui, key: Key) {
        let text = self.draft.get(key);
        labelled(ui, key, |ui, _| {
            let galley = ui.painter().layout_no_wrap(text.to_owned(), sans(size::ENTRY), palette(ui).ink);
            let (rect, said) = ui.allocate_exact_size(vec2(galley.size().x + 4.0, ruled_blank::HEIGHT), Sense::hover());
            said.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, format!("{key}: {text}")));
            let at = egui::pos2(rect.left() + 2.0, rect.center().y - galley.size().y / 2.0);
            ui.painter().galley(at, galley, palette(ui).ink);
        });
    }

    /// A tick with its words.
    pub fn tick(&mut self, ui: &mut egui::Ui, key: Key, words: &str) -> Response {
        let mut ticked = self.draft.is_ticked(key);
        let response = choice::tick(ui, &mut ticked, words);
        self.draft.set_tick(key, ticked);
        response
    }

    fn field(
        &mut self,
        ui: &mut egui::Ui,
        key: Key,
        draw: impl FnOnce(&mut egui::Ui, &mut String, Blank<'_>) -> Response,
    ) -> Response {
        let error = self.errors.of(key);
        labelled(ui, key, |ui, width| {
            let response = draw(ui, self.draft.text_mut(key), Blank { error, ..Blank::new(key, width) });
            if let Some(sentence) = error {
                ruled_blank::error_line(ui, sentence, width);
            }
            advance_on_enter(ui, &response);
            response
        })
    }
}

/// Enter leads to the next field, as Tab does.
pub fn advance_on_enter(ui: &egui::Ui, response: &Response) {
    if response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter)) {
        ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::Next));
    }
}

/// A label at the left and what belongs to it at the right; hands over the width there.
pub fn labelled<R>(ui: &mut egui::Ui, label: &str, draw: impl FnOnce(&mut egui::Ui, f32) -> R) -> R {
    let colours = palette(ui);
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 8.0;
        let (rect, _) = ui.allocate_exact_size(vec2(LABEL_WIDTH, ruled_blank::HEIGHT), Sense::hover());
        crate::widgets::text::left_cut(
            ui.painter(),
            rect.left_center(),
            label,
            sans(size::LABEL),
            colours.ink2,
            LABEL_WIDTH,
        );
        let width = (ui.available_width() - 2.0).max(80.0);
        ui.vertical(|ui| {
            ui.spacing_mut().item_spacing.y = 2.0;
            draw(ui, width)
        })
        .inner
    })
    .inner
}

/// The title of a form and a line about what it is of.
pub fn title(ui: &mut egui::Ui, title: &str, detail: &str) {
    let colours = palette(ui);
    ui.add(Label::new(RichText::new(title).font(serif(size::LEAD)).color(colours.ink)).wrap());
    if !detail.is_empty() {
        ui.add(Label::new(RichText::new(detail).font(sans(size::LABEL)).color(colours.ink2)).wrap());
    }
}

/// The head of a section with a hairline over it.
pub fn section(ui: &mut egui::Ui, words: &str) {
    let colours = palette(ui);
    ui.add_space(8.0);
    let width = ui.available_width();
    let (rect, _) = ui.allocate_exact_size(vec2(width, 1.0), Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, Stroke::new(1.0, colours.rule));
    ui.label(RichText::new(words).font(serif_semibold(size::SECTION)).color(colours.ink));
}

/// A sentence in second ink.
pub fn quiet(ui: &mut egui::Ui, words: &str) {
    let ink = palette(ui).ink2;
    sentence(ui, words, ink);
}

/// A sentence that a person must act on.
pub fn urgent(ui: &mut egui::Ui, words: &str) {
    let width = ui.available_width();
    ruled_blank::error_line(ui, words, width);
}

fn sentence(ui: &mut egui::Ui, words: &str, ink: Color32) {
    if !words.is_empty() {
        ui.add(Label::new(RichText::new(words).font(sans(size::LABEL)).color(ink)).wrap());
    }
}

/// The main button: ink ground, paper text.
pub fn main_button(ui: &mut egui::Ui, words: &str, enabled: bool) -> Response {
    let colours = palette(ui);
    let (fill, ink) = if enabled { (colours.ink, colours.paper) } else { (colours.rule, colours.ink2) };
    let galley = ui.painter().layout_no_wrap(words.to_owned(), semibold(size::BODY), ink);
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(galley.size() + vec2(24.0, 10.0), sense);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, enabled, words));
    ui.painter().rect_filled(rect, 0.0, fill);
    ui.painter().galley(rect.center() - galley.size() / 2.0, galley, ink);
    response
}

/// A button without a ground: a word with a line under it.
pub fn plain_button(ui: &mut egui::Ui, words: &str, enabled: bool) -> Response {
    let colours = palette(ui);
    let ink = if enabled { colours.ink } else { colours.ink3 };
    let galley = ui.painter().layout_no_wrap(words.to_owned(), sans(size::BODY), ink);
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let (rect, response) = ui.allocate_exact_size(galley.size() + vec2(4.0, 10.0), sense);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, enabled, words));
    if response.hovered() {
        ui.painter().rect_filled(rect, 0.0, colours.tint);
    }
    let at = rect.center() - galley.size() / 2.0;
    ui.painter().hline(rect.shrink2(vec2(2.0, 0.0)).x_range(), rect.bottom() - 4.0, Stroke::new(1.0, colours.rule2));
    ui.painter().galley(at, galley, ink);
    response
}
