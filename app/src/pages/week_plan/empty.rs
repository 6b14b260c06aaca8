//! What stands in the grid while there is nothing to place or nowhere to place it: one sentence, and
//! the key that helps.

use crate::command::Command;
use crate::pages::shop::registers::RegisterKind;
use crate::pages::{Form, PageContext, Request, Requests};
use crate::theme::{palette, serif, size};
use crate::widgets::foot::{FootKey, foot_key, pressed};
use almanac_core::planning::week_view::WeekView;
use eframe::egui::{self, Align, Key, Layout, Rect, RichText, UiBuilder, vec2};

/// Draws it over the grid where it is needed.
pub(super) fn ui(ui: &mut egui::Ui, area: Rect, context: &PageContext<'_>, view: &WeekView, requests: &mut Requests) {
    let rect = Rect::from_min_size(area.left_top() + vec2(0.0, 64.0), vec2(area.width(), 28.0));
    let is_open = context.entry_closed.is_none();
    if context.shop.spindles.is_empty() {
        line(ui, rect, |ui| {
            sentence(ui, "No spindles yet: the Due page imports a shop folder or adds the first one.");
            if foot_key(ui, FootKey { printed: "Ctrl 1", does: "to the Due page" }, true).clicked() {
                requests.push(Request::Run(Command::GoDue));
            }
        });
    } else if view.trays.is_empty() {
        line(ui, rect, |ui| {
            sentence(ui, "No downtime window lies ahead: say first when machines may be stopped.");
            let key = FootKey { printed: "W", does: "add a downtime window" };
            if foot_key(ui, key, is_open).clicked() || (is_open && pressed(ui, Key::W)) {
                requests.push(Request::OpenForm(Form::Row(RegisterKind::Windows, None)));
            }
            if foot_key(ui, FootKey { printed: "Ctrl 6", does: "to the registers" }, true).clicked() {
                requests.push(Request::Run(Command::GoShop));
            }
        });
    } else if context.shop.technicians.is_empty() {
        line(ui, rect, |ui| {
            sentence(ui, "Nobody is in the crew yet: say first who does services, and when.");
            let key = FootKey { printed: "C", does: "add a technician" };
            if foot_key(ui, key, is_open).clicked() || (is_open && pressed(ui, Key::C)) {
                requests.push(Request::OpenForm(Form::Row(RegisterKind::Crew, None)));
            }
        });
    }
}

fn line(ui: &mut egui::Ui, rect: Rect, content: impl FnOnce(&mut egui::Ui)) {
    let layout = Layout::left_to_right(Align::Center);
    ui.scope_builder(UiBuilder::new().max_rect(rect).layout(layout).id_salt("empty plan"), |ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        let ground = ui.painter().add(egui::Shape::Noop);
        content(ui);
        // the grid gives way to the words
        let paper = ui.min_rect().expand2(vec2(8.0, 4.0));
        ui.painter().set(ground, egui::Shape::rect_filled(paper, 0.0, palette(ui).paper));
    });
}

fn sentence(ui: &mut egui::Ui, words: &str) {
    ui.label(RichText::new(words).font(serif(size::REASON)).color(palette(ui).ink));
}
