//! The notice above the foot: one sentence, the key that mends it, the key that dismisses it.
//!
//! The program hands the sentence over before a page is drawn; the foot of the page draws it, so
//! that it stands above the foot on every page. Where a page has no foot, the program draws it last.

use super::foot::{FootKey, foot_key};
use crate::command::Command;
use crate::notices::{Notice, Weight};
use crate::theme::{LIST_ROW, MARGIN, palette, sans, size};
use eframe::egui::{self, Id, Margin, RichText};

/// What the user did with the notice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// It was read.
    Dismissed,
    /// The command that mends it.
    Mend(Command),
}

/// The sentence, and how many wait behind it.
type Given = Option<(Notice, usize)>;

fn given() -> Id {
    Id::unique("notice to show")
}
fn answered() -> Id {
    Id::unique("notice answered")
}

/// Hands over the notice of this pass.
pub fn give(ctx: &egui::Context, notice: Option<&Notice>, waiting: usize) {
    let to_show: Given = notice.map(|notice| (notice.clone(), waiting));
    ctx.data_mut(|data| data.insert_temp(given(), to_show));
}

/// Draws the notice at the bottom of what is left, unless it was drawn in this pass already.
pub fn show(ui: &mut egui::Ui) {
    let Some((notice, waiting)) = ui.ctx().data_mut(|data| data.remove_temp::<Given>(given())).flatten() else {
        return;
    };
    let colours = palette(ui);
    let ground = if notice.weight == Weight::Trouble { colours.act_tint } else { colours.tint };
    let margin = Margin { left: MARGIN as i8, right: MARGIN as i8, top: 3, bottom: 3 };
    egui::Panel::bottom("notice")
        .min_size(LIST_ROW)
        .resizable(false)
        .show_separator_line(false)
        .frame(egui::Frame::new().fill(ground).inner_margin(margin))
        .show(ui, |ui| {
            ui.horizontal(|ui| {
                let mend_width = notice.mend.map_or(0.0, |mend| mend.label().len() as f32 * 7.0 + 24.0);
                let keys_width = 84.0 + mend_width + if waiting > 0 { 60.0 } else { 0.0 };
                let text = RichText::new(&notice.text).font(sans(size::BODY)).color(colours.ink);
                ui.allocate_ui(egui::vec2((ui.available_width() - keys_width).max(120.0), 20.0), |ui| {
                    ui.set_min_width(ui.available_width());
                    ui.add(egui::Label::new(text).wrap());
                });
                let mut answer = None;
                if let Some(mend) = notice.mend
                    && ui.button(mend.label()).on_hover_text(mend.tooltip()).clicked()
                {
                    answer = Some(Answer::Mend(mend));
                }
                if foot_key(ui, FootKey { printed: "Esc", does: "dismiss" }, true).clicked() {
                    answer = Some(Answer::Dismissed);
                }
                if waiting > 0 {
                    ui.label(RichText::new(format!("{waiting} more")).font(sans(size::LABEL)).color(colours.ink2));
                }
                if let Some(answer) = answer {
                    ui.ctx().data_mut(|data| data.insert_temp(answered(), Some(answer)));
                }
            });
        });
}

/// What the user did with it in this pass.
#[must_use]
pub fn take_answer(ctx: &egui::Context) -> Option<Answer> {
    ctx.data_mut(|data| data.remove_temp::<Option<Answer>>(answered())).flatten()
}
