//! The filter line: opens between the lead line and the list while something is sought or kept back.

use super::line::Line;
use super::view::Filter;
use crate::pages::due::filter_line::{HEIGHT as DUE_HEIGHT, choice};
use crate::theme::{MARGIN, palette, sans, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruled_blank::{self, Blank};
use eframe::egui::{self, Align, Key, Layout, Modifiers, Rect, RichText, UiBuilder, vec2};
use std::collections::BTreeSet;

/// Its height.
pub(super) const HEIGHT: f32 = DUE_HEIGHT;
/// Accessible name of the search field.
pub(super) const FIND: &str = "find an order";

/// What can be chosen, as the lines have it.
#[derive(Debug, Clone, Default)]
pub(super) struct Choices {
    states: Vec<String>,
    halls: Vec<String>,
    technicians: Vec<String>,
    interfaces: Vec<String>,
}

impl Choices {
    /// Everything that occurs in the lines.
    pub(super) fn of(lines: &[Line]) -> Self {
        let all =
            |texts: BTreeSet<&str>| texts.into_iter().filter(|text| !text.is_empty()).map(str::to_owned).collect();
        let states: BTreeSet<_> = lines.iter().map(|line| line.of.state).collect();
        Self {
            states: states.into_iter().map(|state| state.label().to_owned()).collect(),
            halls: all(lines.iter().map(|line| line.of.hall.as_str()).collect()),
            technicians: all(lines.iter().flat_map(|line| &line.of.technicians).map(String::as_str).collect()),
            interfaces: all(lines.iter().map(|line| line.of.interface.as_str()).collect()),
        }
    }
}

/// What the user did in it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    /// The search field has the caret.
    pub(super) is_finding: bool,
    /// Enter in the search field, or down out of it.
    pub(super) to_rows: bool,
    /// Everything is to be shown again.
    pub(super) shows_all: bool,
}

/// Draws the line; `asked`: the caret goes into the search field, the focus to the first choice.
pub(super) fn show(
    ui: &mut egui::Ui,
    area: Rect,
    filter: &mut Filter,
    choices: &Choices,
    shown: &str,
    asked: (bool, bool),
) -> Did {
    let mut did = Did::default();
    let inner = area.shrink2(vec2(MARGIN, 4.0));
    let layout = Layout::left_to_right(Align::Center);
    ui.scope_builder(UiBuilder::new().max_rect(inner).layout(layout).id_salt("orders filter"), |ui| {
        let colours = palette(ui);
        ui.spacing_mut().item_spacing.x = 8.0;
        ui.label(RichText::new("find").font(sans(size::LABEL)).color(colours.ink2));
        find_field(ui, filter, asked.0, &mut did);
        ui.spacing_mut().item_spacing.x = 16.0;
        ui.add_space(4.0);
        let first = choice(ui, "state", &choices.states, &mut filter.states);
        if asked.1 {
            first.request_focus();
        }
        choice(ui, "hall", &choices.halls, &mut filter.halls);
        choice(ui, "technician", &choices.technicians, &mut filter.technicians);
        choice(ui, "interface", &choices.interfaces, &mut filter.interfaces);
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
    let look = Blank { hint: "order, position, who …", ..Blank::new(FIND, 200.0) };
    let response = ruled_blank::blank(ui, &mut filter.find, &look);
    did.is_finding = response.has_focus();
    did.to_rows |= response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
}
