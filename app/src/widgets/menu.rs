//! The menu of the head: files, steps, colours; each with its keys.

use super::head::{Asked, Head};
use crate::command::Command;
use crate::theme::{HEAD_HEIGHT, palette, sans, size};
use eframe::egui::{self, Id, Popup, PopupCloseBehavior, Response, RichText};

/// Its parts, divided by hairlines.
const PARTS: [&[Command]; 4] = [
    &[Command::NewShop, Command::Open, Command::OpenFolder],
    &[
        Command::Save,
        Command::SaveAs,
        Command::Backup,
        Command::Import,
        Command::ExportFolder,
        Command::ExportList,
        Command::ExportCalendar,
    ],
    &[Command::Undo, Command::Redo],
    &[Command::SwitchTheme, Command::ThemeAutomatic, Command::Larger, Command::Smaller, Command::Keys],
];

/// The id of the open menu.
#[must_use]
pub fn id() -> Id {
    Id::unique("menu of the head")
}

/// Draws the menu under its button while it is open.
pub fn ui(ui: &egui::Ui, button: &Response, head: &Head<'_>) -> Option<Asked> {
    let was_open = Popup::is_id_open(ui.ctx(), id());
    Popup::menu(button)
        .id(id())
        .gap(8.0)
        .accessible_name("Menu")
        .close_behavior(PopupCloseBehavior::CloseOnClick)
        .show(|ui| {
            // In a low window the menu scrolls.
            let room = (ui.ctx().content_rect().height() - HEAD_HEIGHT - 40.0).max(120.0);
            egui::ScrollArea::vertical().max_height(room).show(ui, |ui| contents(ui, head, was_open)).inner
        })
        .and_then(|shown| shown.inner)
}

fn contents(ui: &mut egui::Ui, head: &Head<'_>, was_open: bool) -> Option<Asked> {
    let colours = palette(ui);
    ui.set_min_width(330.0);
    ui.spacing_mut().item_spacing.y = 0.0;
    let mut asked = None;
    let mut first = !was_open;
    for (index, part) in PARTS.iter().enumerate() {
        if index > 0 {
            ui.separator();
        }
        for command in *part {
            let response = line(ui, *command, &label(*command, head), command.is_enabled(head.situation));
            if first && response.enabled() {
                // The keyboard goes on from here.
                response.request_focus();
                first = false;
            }
            if response.clicked() {
                asked = Some(Asked::Run(*command));
            }
        }
        if index == 0 && !head.recent.is_empty() {
            ui.add_space(2.0);
            ui.label(RichText::new("opened before").font(sans(size::SMALL)).color(colours.ink3));
            for file in head.recent {
                let text = RichText::new(&file.name).font(sans(size::BODY));
                let place = RichText::new(&file.place).font(sans(size::LABEL)).color(colours.ink3);
                let button = egui::Button::new((text, place)).frame(false).truncate();
                let response = ui.add(button);
                let name = file.in_words();
                response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
                if response.clicked() {
                    asked = Some(Asked::OpenRecent(file.path.clone()));
                }
            }
        }
    }
    ui.separator();
    for command in [Command::CloseShop, Command::Quit] {
        if line(ui, command, command.label(), command.is_enabled(head.situation)).clicked() {
            asked = Some(Asked::Run(command));
        }
    }
    asked
}

/// `Undo: reading of S-0117`.
fn label(command: Command, head: &Head<'_>) -> String {
    let step = match command {
        Command::Undo => head.undo,
        Command::Redo => head.redo,
        _ => None,
    };
    step.map_or_else(|| command.label().to_owned(), |step| format!("{}: {step}", command.label()))
}

fn line(ui: &mut egui::Ui, command: Command, label: &str, enabled: bool) -> Response {
    let keys = RichText::new(command.printed_keys()).font(sans(size::LABEL)).color(palette(ui).ink3);
    let text = RichText::new(label).font(sans(size::BODY));
    let button = egui::Button::new(text).frame(false).shortcut_text(keys).min_size(egui::vec2(330.0, 22.0));
    let response = ui.add_enabled(enabled, button);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, enabled, label));
    response.on_hover_text(command.tooltip())
}
