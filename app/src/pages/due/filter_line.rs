//! The filter line: opens between the lead line and the table while something is sought or kept back.

use super::arrange::Arranged;
use super::line::Line;
use super::view::Filter;
use crate::theme::{MARGIN, palette, sans, size};
use crate::widgets::choice;
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruled_blank::{self, Blank};
use almanac_core::due::Mark;
use eframe::egui::{
    self, Align, Key, Layout, Modifiers, Popup, PopupCloseBehavior, Rect, Response, RichText, Role, Sense, Stroke,
    UiBuilder, WidgetInfo, vec2,
};
use std::collections::BTreeSet;

/// Its height.
pub(in crate::pages) const HEIGHT: f32 = 36.0;
/// Accessible name of the search field.
pub(super) const FIND: &str = "find a spindle";

/// What can be chosen, as the rows have it.
#[derive(Debug, Clone, Default)]
pub(super) struct Choices {
    halls: Vec<String>,
    interfaces: Vec<String>,
    states: Vec<String>,
    technicians: Vec<String>,
}

impl Choices {
    /// Everything that occurs in the rows; of the states those in force, so that no pretence takes a
    /// chosen one away.
    pub(super) fn of(lines: &[Line]) -> Self {
        let all = |texts: BTreeSet<&str>| texts.into_iter().map(ToOwned::to_owned).collect();
        let marks: BTreeSet<Mark> = lines.iter().filter_map(|line| line.mark_in_force).collect();
        Self {
            halls: all(lines.iter().filter_map(|line| line.hall.as_deref()).collect()),
            interfaces: all(lines.iter().map(|line| line.interface.as_str()).collect()),
            states: marks.into_iter().map(|mark| mark.label().to_owned()).collect(),
            technicians: all(lines.iter().filter_map(|line| line.technician.as_deref()).collect()),
        }
    }
}

/// What the line is asked to do this frame.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Asked {
    /// Put the caret into the search field.
    pub(super) focus_find: bool,
    /// Put the focus on the first choice.
    pub(super) focus_choice: bool,
}

/// What the user did in it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    /// The search field has the caret.
    pub(super) is_finding: bool,
    /// Enter in the search field.
    pub(super) found: bool,
    /// Down out of the search field.
    pub(super) to_rows: bool,
    /// Everything is to be shown again.
    pub(super) shows_all: bool,
}

/// Draws the line.
pub(super) fn show(
    ui: &mut egui::Ui,
    area: Rect,
    filter: &mut Filter,
    choices: &Choices,
    arranged: &Arranged,
    asked: Asked,
) -> Did {
    let mut did = Did::default();
    let inner = area.shrink2(vec2(MARGIN, 4.0));
    let builder = UiBuilder::new().max_rect(inner).layout(Layout::left_to_right(Align::Center)).id_salt("filter line");
    ui.scope_builder(builder, |ui| {
        let colours = palette(ui);
        ui.spacing_mut().item_spacing.x = 8.0;
        ui.label(RichText::new("find").font(sans(size::LABEL)).color(colours.ink2));
        find_field(ui, filter, asked.focus_find, &mut did);
        ui.spacing_mut().item_spacing.x = 16.0;
        ui.add_space(4.0);
        let first = choice(ui, "hall", &choices.halls, &mut filter.halls);
        if asked.focus_choice {
            first.request_focus();
        }
        choice(ui, "interface", &choices.interfaces, &mut filter.interfaces);
        choice(ui, "state", &choices.states, &mut filter.states);
        choice(ui, "technician", &choices.technicians, &mut filter.technicians);
        choice::tick(ui, &mut filter.with_not_mounted, "not mounted");
        let shown = format!("{} of {} shown", arranged.shown, arranged.of.max(arranged.shown));
        ui.label(RichText::new(shown).font(sans(size::LABEL)).color(colours.ink2));
        did.shows_all = foot_key(ui, FootKey { printed: "Esc", does: "show all" }, true).clicked();
    });
    did
}

fn find_field(ui: &mut egui::Ui, filter: &mut Filter, takes_focus: bool, did: &mut Did) {
    let id = ruled_blank::id(ui, FIND);
    if takes_focus {
        ui.memory_mut(|memory| memory.request_focus(id));
    }
    if ui.memory(|memory| memory.has_focus(id)) {
        did.to_rows = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::ArrowDown));
    }
    let look = Blank { hint: "position, spindle, order …", ..Blank::new(FIND, 200.0) };
    let response = ruled_blank::blank(ui, &mut filter.find, &look);
    did.is_finding = response.has_focus();
    did.found = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
}

/// A word with what is chosen of it; opens a list of ticks.
pub(in crate::pages) fn choice(
    ui: &mut egui::Ui,
    what: &str,
    all: &[String],
    chosen: &mut BTreeSet<String>,
) -> Response {
    if !all.is_empty() {
        // what no row has any more; without figures nothing is known of it
        chosen.retain(|text| all.contains(text));
    }
    let value = match (chosen.len(), chosen.first()) {
        (0, _) | (_, None) => "any".to_owned(),
        (1, Some(only)) => only.clone(),
        (some, _) => format!("{some} of {}", all.len()),
    };
    let response = choice_button(ui, what, &value);
    Popup::menu(&response).close_behavior(PopupCloseBehavior::CloseOnClickOutside).width(190.0).show(|ui| {
        if all.is_empty() {
            ui.label(format!("no {what} yet"));
        }
        for text in all {
            let mut is_set = chosen.contains(text);
            if choice::tick(ui, &mut is_set, text).changed() {
                if is_set {
                    chosen.insert(text.clone());
                } else {
                    chosen.remove(text);
                }
            }
        }
    });
    response
}

fn choice_button(ui: &mut egui::Ui, what: &str, value: &str) -> Response {
    let colours = palette(ui);
    let painter = ui.painter().clone();
    let what_galley = painter.layout_no_wrap(what.to_owned(), sans(size::LABEL), colours.ink2);
    let value_galley = painter.layout_no_wrap(value.to_owned(), sans(size::BODY), colours.ink);
    let value_width = value_galley.size().x.max(34.0) + 20.0;
    let width = 4.0 + what_galley.size().x + 6.0 + value_width;
    let (rect, response) = ui.allocate_exact_size(vec2(width, ruled_blank::HEIGHT), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, ui.is_enabled(), format!("{what}: {value}")));
    let y = rect.center().y;
    let what_at = egui::pos2(rect.left() + 4.0, y - what_galley.size().y / 2.0);
    let blank = Rect::from_x_y_ranges(rect.right() - value_width..=rect.right(), rect.y_range());
    painter.rect_filled(blank, 0.0, if response.hovered() { colours.tint } else { colours.field });
    painter.hline(blank.x_range(), blank.bottom() - 0.5, Stroke::new(1.0, colours.edge));
    let value_at = egui::pos2(blank.left() + 5.0, y - value_galley.size().y / 2.0);
    painter.galley(what_at, what_galley, colours.ink2);
    painter.galley(value_at, value_galley, colours.ink);
    let at = egui::pos2(blank.right() - 8.0, y);
    let corners = vec![at + vec2(-3.0, -1.5), at + vec2(3.0, -1.5), at + vec2(0.0, 2.0)];
    painter.add(egui::Shape::convex_polygon(corners, colours.ink2, Stroke::NONE));
    response
}
