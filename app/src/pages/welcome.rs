//! No shop is open: four ways to one, and those opened before.

use crate::app::with_progress;
use crate::command::Command;
use crate::theme::{MARGIN, palette, sans, semibold, serif, serif_semibold, size};
use crate::widgets::foot::{FootKey, foot_key, frame};
use crate::widgets::head::RecentFile;
use crate::widgets::sign;
use eframe::egui::{
    self, Align2, Key, Modifiers, Rect, Response, RichText, Role, Sense, Stroke, WidgetInfo, pos2, vec2,
};
use std::path::PathBuf;

/// What stands on the page.
#[derive(Debug)]
pub struct Shown<'a> {
    /// Recent files.
    pub recent: &'a [RecentFile],
    /// Why the last file was not opened.
    pub refused: Option<&'a Refused>,
    /// What is being opened, and how far that is.
    pub opening: Option<(&'a str, Option<(usize, usize)>)>,
}

/// A file that was not opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Why not.
    pub sentence: String,
    /// There is such a file or folder, and it is as it was.
    pub was_left_alone: bool,
}

/// What was asked for on the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// A command.
    Run(Command),
    /// A recent file.
    OpenRecent(PathBuf),
    /// Stop opening.
    Stop,
}

/// The four ways, with their letters.
const WAYS: [(Key, &str, &str, &str, Command); 4] = [
    (Key::O, "O", "Open \u{2026}", "a shop file or a shop folder", Command::Open),
    (Key::N, "N", "New shop", "empty; machines and spindles are typed in", Command::NewShop),
    (Key::I, "I", "Import a shop folder \u{2026}", "CSV files become a shop without a name yet", Command::OpenFolder),
    (Key::S, "S", "Try the sample shop", "an invented works with 27 spindle positions", Command::OpenSample),
];

/// Width of the column in which everything stands.
const COLUMN: f32 = 620.0;

/// Draws the page.
pub fn ui(ui: &mut egui::Ui, shown: &Shown<'_>) -> Option<Asked> {
    let colours = palette(ui);
    let mut asked = frame(ui, |ui| {
        let mut asked = None;
        if shown.opening.is_some() && foot_key(ui, FootKey { printed: "Esc", does: "stop" }, true).clicked() {
            asked = Some(Asked::Stop);
        }
        if foot_key(ui, FootKey { printed: "F1", does: "all keys" }, true).clicked() {
            asked = Some(Asked::Run(Command::Keys));
        }
        if foot_key(ui, FootKey { printed: "Ctrl T", does: "light or dark" }, true).clicked() {
            asked = Some(Asked::Run(Command::SwitchTheme));
        }
        asked
    });
    egui::CentralPanel::default().frame(egui::Frame::new().fill(colours.paper)).show(ui, |ui| {
        let room = ui.max_rect();
        let width = COLUMN.min(room.width() - 2.0 * MARGIN);
        let left = room.left() + ((room.width() - width) / 2.0).max(MARGIN);
        let top = room.top() + (room.height() * 0.14).max(MARGIN);
        let column = Rect::from_min_max(pos2(left, top), pos2(left + width, room.bottom()));
        ui.scope_builder(egui::UiBuilder::new().max_rect(column), |ui| {
            title(ui);
            refused_line(ui, shown.refused);
            for way in WAYS {
                let (key, printed, words, does, command) = way;
                let pressed = crate::widgets::foot::pressed(ui, key);
                if line(ui, printed, words, does).clicked() || pressed {
                    asked = Some(Asked::Run(command));
                }
            }
            if let Some((what, progress)) = shown.opening {
                ui.add_space(16.0);
                ui.label(RichText::new(with_progress(what, progress)).font(serif(size::REASON)));
            }
            if let Some(path) = recent_files(ui, shown.recent) {
                asked = Some(Asked::OpenRecent(path));
            }
        });
    });
    asked
}

fn title(ui: &mut egui::Ui) {
    let colours = palette(ui);
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 48.0), Sense::hover());
    sign::paint(ui, Rect::from_center_size(pos2(rect.left() + 29.0, rect.center().y), vec2(58.0, 32.0)));
    ui.painter().text(
        pos2(rect.left() + 76.0, rect.center().y),
        Align2::LEFT_CENTER,
        crate::app::PROGRAM,
        serif_semibold(30.0),
        colours.ink,
    );
    ui.add_space(4.0);
    let lead = "Which spindle needs its gripper service before which date, and why.";
    ui.label(RichText::new(lead).font(serif(size::LEAD)).color(colours.ink2));
    ui.add_space(20.0);
    let line = ui.cursor().top();
    ui.painter().hline(rect.x_range(), line, Stroke::new(1.0, colours.ink));
    ui.add_space(8.0);
}

fn refused_line(ui: &mut egui::Ui, refused: Option<&Refused>) {
    let Some(refused) = refused else { return };
    let colours = palette(ui);
    egui::Frame::new().fill(colours.act_tint).inner_margin(egui::Margin::symmetric(10, 6)).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(RichText::new(&refused.sentence).font(sans(size::BODY)).color(colours.ink));
        if refused.was_left_alone {
            ui.label(RichText::new("Nothing was written to it.").font(sans(size::LABEL)).color(colours.ink));
        }
    });
    ui.add_space(8.0);
}

/// One way: its key, its words, what it is.
fn line(ui: &mut egui::Ui, printed: &str, words: &str, does: &str) -> Response {
    let colours = palette(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 38.0), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words));
    if response.hovered() || response.has_focus() {
        ui.painter().rect_filled(rect, 0.0, colours.tint);
    }
    let y = rect.center().y;
    let boxed = Rect::from_center_size(pos2(rect.left() + 20.0, y), vec2(20.0, 18.0));
    let painter = ui.painter();
    painter.rect_stroke(boxed, 1.0, Stroke::new(1.0, colours.rule2), egui::StrokeKind::Inside);
    painter.text(boxed.center(), Align2::CENTER_CENTER, printed, semibold(size::LABEL), colours.ink);
    painter.text(pos2(rect.left() + 46.0, y), Align2::LEFT_CENTER, words, semibold(16.0), colours.ink);
    painter.text(pos2(rect.left() + 250.0, y), Align2::LEFT_CENTER, does, sans(size::BODY), colours.ink2);
    painter.hline(rect.x_range(), rect.bottom() - 0.5, Stroke::new(1.0, colours.rule));
    response
}

fn recent_files(ui: &mut egui::Ui, recent: &[RecentFile]) -> Option<PathBuf> {
    let colours = palette(ui);
    let mut asked = None;
    ui.add_space(24.0);
    ui.label(RichText::new("Opened before").font(serif_semibold(size::SECTION)));
    if recent.is_empty() {
        ui.label(RichText::new("Nothing yet.").font(sans(size::BODY)).color(colours.ink2));
    }
    for (index, file) in recent.iter().enumerate() {
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 26.0), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, file.in_words()));
        if response.hovered() || response.has_focus() {
            ui.painter().rect_filled(rect, 0.0, colours.tint);
        }
        let number = (index + 1).to_string();
        let y = rect.center().y;
        ui.painter().text(pos2(rect.left() + 20.0, y), Align2::CENTER_CENTER, &number, sans(size::LABEL), colours.ink3);
        let cut = crate::widgets::text::left_cut;
        let room = rect.width() - 50.0;
        let at = pos2(rect.left() + 46.0, y);
        let name = cut(ui.painter(), at, &file.name, sans(size::BODY), colours.ink, room * 0.6);
        // In the column of the four ways where the name leaves it free.
        let at = pos2((name.right() + 14.0).max(rect.left() + 250.0), y);
        cut(ui.painter(), at, &file.place, sans(size::LABEL), colours.ink2, rect.right() - 4.0 - at.x);
        let key = Key::from_name(&number);
        let pressed = key.is_some_and(|key| {
            !ui.ctx().text_edit_focused() && ui.input_mut(|input| input.consume_key(Modifiers::NONE, key))
        });
        if response.clicked() || pressed {
            asked = Some(file.path.clone());
        }
    }
    asked
}
