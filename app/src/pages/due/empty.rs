//! What stands in the table while it has no rows: one sentence, and the key that helps.

use crate::command::Command;
use crate::pages::{Form, PageContext, Request, Requests};
use crate::theme::{MARGIN, TABLE_ROW, palette, serif, size};
use crate::widgets::foot::{FootKey, foot_key, pressed};
use eframe::egui::{self, Align, Key, Layout, Rect, RichText, Shape, UiBuilder, vec2};

/// The shop has no spindles: import a folder, or add one.
pub(super) fn no_spindles(ui: &mut egui::Ui, area: Rect, context: &PageContext<'_>, requests: &mut Requests) {
    line(ui, area, |ui| {
        let is_open = context.entry_closed.is_none();
        sentence(ui, "No spindles yet. Import a shop folder …");
        let import = foot_key(ui, FootKey { printed: "I", does: "import a shop folder" }, is_open).clicked();
        if is_open && (import || pressed(ui, Key::I)) {
            requests.push(Request::Run(Command::Import));
        }
        sentence(ui, "or add one …");
        let add = foot_key(ui, FootKey { printed: "N", does: "add a machine with its spindle" }, is_open).clicked();
        if is_open && (add || pressed(ui, Key::N)) {
            requests.push(Request::OpenForm(Form::FirstMachine));
        }
        if let Some(why) = context.entry_closed {
            sentence(ui, why);
        }
    });
}

/// The filter lets nothing through. Answers whether all is to be shown again.
pub(super) fn nothing_fits(ui: &mut egui::Ui, area: Rect, hidden: usize) -> bool {
    let mut shows_all = false;
    line(ui, area, |ui| {
        let words = match hidden {
            0 => "No spindle is mounted.".to_owned(),
            1 => "The one spindle of the shop does not fit this filter.".to_owned(),
            many => format!("None of {many} spindles fits this filter."),
        };
        sentence(ui, &words);
        let key = match hidden {
            0 => FootKey { printed: "F", does: "show spindles that are not mounted" },
            _ => FootKey { printed: "Esc", does: "show all again" },
        };
        shows_all = foot_key(ui, key, true).clicked();
    });
    shows_all
}

fn line(ui: &mut egui::Ui, area: Rect, content: impl FnOnce(&mut egui::Ui)) {
    let rect = Rect::from_min_size(area.left_top() + vec2(MARGIN, TABLE_ROW), vec2(area.width() - 2.0 * MARGIN, 26.0));
    let layout = Layout::left_to_right(Align::Center);
    ui.scope_builder(UiBuilder::new().max_rect(rect).layout(layout).id_salt("empty list"), |ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        let ground = ui.painter().add(Shape::Noop);
        content(ui);
        // the axis gives way to the words
        let paper = ui.min_rect().expand2(vec2(8.0, 2.0));
        ui.painter().set(ground, Shape::rect_filled(paper, 0.0, palette(ui).paper));
    });
}

fn sentence(ui: &mut egui::Ui, words: &str) {
    ui.label(RichText::new(words).font(serif(size::REASON)).color(palette(ui).ink));
}
