//! Choices: a few words in a line, or a typed name with offers under it.

use super::ruled_blank::{self, Blank};
use crate::theme::{palette, sans, semibold, size};
use eframe::egui::{
    self, Area, Frame, Id, Key, Margin, Modifiers, Order, Response, Role, Sense, Stroke, WidgetInfo, vec2,
};

/// One of several things that may be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// What stands in the field once chosen.
    pub text: String,
    /// More about it, in second ink.
    pub detail: String,
}

impl Offer {
    /// An offer of that name and detail.
    #[must_use]
    pub fn new(text: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { text: text.into(), detail: detail.into() }
    }
}

/// A few words in a line; the chosen one is bold and underlined. Each word is a key stop of the
/// name `label: word`; Space takes it. Answers whether the choice changed.
pub fn words(ui: &mut egui::Ui, chosen: &mut String, label: &str, options: &[&str]) -> bool {
    let before = chosen.clone();
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        for option in options {
            let is_chosen = chosen.as_str() == *option;
            if word(ui, option, &format!("{label}: {option}"), is_chosen).clicked() {
                (*option).clone_into(chosen);
            }
        }
    });
    *chosen != before
}

fn word(ui: &mut egui::Ui, text: &str, name: &str, is_chosen: bool) -> Response {
    let colours = palette(ui);
    let (font, ink) = if is_chosen { (semibold(size::ENTRY), colours.ink) } else { (sans(size::ENTRY), colours.ink2) };
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, ink);
    let (rect, response) = ui.allocate_exact_size(vec2(galley.size().x + 4.0, ruled_blank::HEIGHT), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, ui.is_enabled(), is_chosen, name));
    ruled_blank::keep_in_sight(&response);
    if response.hovered() {
        ui.painter().rect_filled(rect, 0.0, colours.tint);
    }
    let at = egui::pos2(rect.left() + 2.0, rect.center().y - galley.size().y / 2.0);
    ui.painter().galley(at, galley, ink);
    if is_chosen {
        ui.painter().hline(rect.x_range(), rect.bottom() - 1.0, Stroke::new(2.0, colours.ink));
    }
    response
}

/// A tick that is set or not: a square with a word, Space or a click turns it.
pub fn tick(ui: &mut egui::Ui, is_set: &mut bool, label: &str) -> Response {
    let colours = palette(ui);
    let width = (ui.available_width() - 24.0).max(40.0);
    let galley = ui.painter().layout(label.to_owned(), sans(size::BODY), colours.ink, width);
    let height = galley.size().y.max(18.0) + 4.0;
    let (rect, mut response) = ui.allocate_exact_size(vec2(galley.size().x + 24.0, height), Sense::click());
    if response.clicked() {
        *is_set = !*is_set;
        response.mark_changed();
    }
    response.widget_info(|| WidgetInfo::selected(Role::CheckBox, ui.is_enabled(), *is_set, label));
    ruled_blank::keep_in_sight(&response);
    let square = egui::Rect::from_min_size(rect.left_top() + vec2(2.0, 4.0), vec2(14.0, 14.0));
    ui.painter().rect_filled(square, 0.0, colours.field);
    ui.painter().rect_stroke(square, 0.0, Stroke::new(1.0, colours.edge), egui::StrokeKind::Inside);
    if *is_set {
        let pen = Stroke::new(2.0, colours.ink);
        let corner = square.left_bottom() + vec2(6.0, -3.0);
        ui.painter().line_segment([square.left_center() + vec2(3.0, 0.0), corner], pen);
        ui.painter().line_segment([corner, square.right_top() + vec2(-2.0, 3.0)], pen);
    }
    ui.painter().galley(rect.left_top() + vec2(22.0, 2.0), galley, colours.ink);
    response
}

/// How many offers stand under a typed choice.
const OFFERS_SHOWN: usize = 8;

/// What the list under a typed choice remembers from frame to frame.
#[derive(Debug, Clone, Copy, Default)]
struct ListState {
    is_open: bool,
    marked: Option<usize>,
}

/// A blank with offers under it while it has the focus: letters narrow them, arrows mark one,
/// Enter or a click takes it. Any other text may stand in it; the form says whether it fits.
pub fn typed(ui: &mut egui::Ui, text: &mut String, look: &Blank<'_>, offers: &[Offer]) -> Response {
    let id = ruled_blank::id(ui, look.label);
    let memory = id.with("offers");
    let mut state: ListState = ui.data(|data| data.get_temp(memory)).unwrap_or_default();
    let fitting = fitting(text, offers);
    if ui.memory(|memory| memory.has_focus(id)) && state.is_open {
        mark_by_keys(ui, &mut state, fitting.len());
        let takes = state.marked.or_else(|| (!text.trim().is_empty() && fitting.len() == 1).then_some(0));
        if let Some(offer) = takes.and_then(|index| fitting.get(index))
            && ui.input(|input| input.key_pressed(Key::Enter) || input.key_pressed(Key::Tab))
        {
            offer.text.clone_into(text);
            state = ListState::default();
        }
    }
    let mut response = ruled_blank::blank(ui, text, look);
    if response.gained_focus() || (response.changed() && response.has_focus()) || response.clicked() {
        state = ListState { is_open: true, marked: None };
    }
    let clicking = ui.input(|input| input.pointer.any_click());
    if state.is_open && (response.has_focus() || clicking) {
        if let Some(taken) = list(ui, id, &response, state, &fitting) {
            taken.clone_into(text);
            response.mark_changed();
            state.is_open = false;
        }
    } else {
        state.is_open = false;
    }
    ui.data_mut(|data| data.insert_temp(memory, state));
    response
}

/// The offers for what is typed: all for nothing or for one of them, else those that hold it.
fn fitting<'o>(text: &str, offers: &'o [Offer]) -> Vec<&'o Offer> {
    let wanted = text.trim().to_lowercase();
    if wanted.is_empty() || offers.iter().any(|offer| offer.text == text.trim()) {
        return offers.iter().collect();
    }
    offers.iter().filter(|offer| offer.text.to_lowercase().contains(&wanted)).collect()
}

fn mark_by_keys(ui: &egui::Ui, state: &mut ListState, count: usize) {
    let down = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::ArrowDown));
    let up = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::ArrowUp));
    let last = count.checked_sub(1);
    if down {
        state.marked = last.map(|last| state.marked.map_or(0, |at| (at + 1).min(last)));
    } else if up {
        state.marked = last.map(|last| state.marked.unwrap_or(last).saturating_sub(1));
    }
}

fn list(ui: &egui::Ui, id: Id, field: &Response, state: ListState, fitting: &[&Offer]) -> Option<String> {
    if fitting.is_empty() {
        return None;
    }
    let colours = palette(ui);
    let first = state.marked.map_or(0, |at| at.saturating_sub(OFFERS_SHOWN - 1));
    let mut taken = None;
    Area::new(id.with("list")).order(Order::Foreground).fixed_pos(field.rect.left_bottom()).show(ui.ctx(), |ui| {
        let frame =
            Frame::new().fill(colours.field).stroke(Stroke::new(1.0, colours.edge)).inner_margin(Margin::same(2));
        frame.show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            ui.set_width(field.rect.width().max(160.0) - 6.0);
            for (index, offer) in fitting.iter().enumerate().skip(first).take(OFFERS_SHOWN) {
                if offer_row(ui, offer, state.marked == Some(index)).clicked() {
                    taken = Some(offer.text.clone());
                }
            }
            let left = fitting.len().saturating_sub(first + OFFERS_SHOWN);
            if left > 0 {
                ui.label(egui::RichText::new(format!("{left} more")).font(sans(size::LABEL)).color(colours.ink3));
            }
        });
    });
    taken
}

fn offer_row(ui: &mut egui::Ui, offer: &Offer, is_marked: bool) -> Response {
    let colours = palette(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 22.0), Sense::CLICK);
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_marked, &offer.text));
    if is_marked || response.hovered() {
        ui.painter().rect_filled(rect, 0.0, colours.tint);
    }
    let at = rect.left_center() + vec2(4.0, 0.0);
    let painter = ui.painter();
    let word = painter.text(at, egui::Align2::LEFT_CENTER, &offer.text, sans(size::BODY), colours.ink);
    let room = rect.right() - word.right() - 14.0;
    if room > 20.0 {
        let beside = egui::pos2(word.right() + 10.0, at.y);
        super::text::left_cut(painter, beside, &offer.detail, sans(size::LABEL), colours.ink2, room);
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typing_narrows_and_a_full_name_shows_all() {
        let offers = [Offer::new("G-01", ""), Offer::new("G-02", ""), Offer::new("D-01", "")];
        let names = |text: &str| fitting(text, &offers).iter().map(|o| o.text.clone()).collect::<Vec<_>>();
        assert_eq!(names("g-"), ["G-01", "G-02"]);
        assert_eq!(names(""), ["G-01", "G-02", "D-01"]);
        assert_eq!(names("G-02"), ["G-01", "G-02", "D-01"]);
        assert!(names("x").is_empty());
    }
}
