//! The notice in the foot: one sentence, the key that mends it, the key that dismisses it.
//!
//! The program hands the sentence over before a page is drawn. The foot of the page shows it in
//! place of its keys until it is dismissed, so that it takes no row from the page; the keys
//! themselves go on acting. Where a page has no foot, the program draws it last.

use super::foot::{FootKey, foot_key};
use crate::command::Command;
use crate::notices::{Notice, Weight};
use crate::theme::{FOOT_HEIGHT, MARGIN, palette, sans, size};
use eframe::egui::{self, Align, Color32, Galley, Id, Layout, Margin, Rect, RichText, Role, Sense, WidgetInfo, pos2};
use std::sync::Arc;

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

/// Whether a notice waits to be shown in this pass: Esc belongs to it first.
#[must_use]
pub fn is_given(ctx: &egui::Context) -> bool {
    ctx.data(|data| data.get_temp::<Given>(given())).flatten().is_some()
}

/// The notice laid out for a width.
pub(super) struct LaidOut {
    notice: Notice,
    waiting: usize,
    text: Arc<Galley>,
}

/// Takes the notice of this pass, so that it is drawn once, and lays it out.
pub(super) fn take(ui: &egui::Ui) -> Option<LaidOut> {
    let (notice, waiting) = ui.ctx().data_mut(|data| data.remove_temp::<Given>(given())).flatten()?;
    let mend_width = notice.mend.map_or(0.0, |mend| mend.label().len() as f32 * 7.0 + 24.0);
    let keys_width = 104.0 + mend_width + if waiting > 0 { 70.0 } else { 0.0 };
    let room = (ui.available_width() - 2.0 * MARGIN - keys_width).max(120.0);
    let text = ui.painter().layout(notice.text.clone(), sans(size::BODY), palette(ui).ink, room);
    Some(LaidOut { notice, waiting, text })
}

impl LaidOut {
    /// How high it is.
    pub(super) fn height(&self) -> f32 {
        self.text.size().y + 4.0
    }

    /// What it stands on.
    pub(super) fn ground(&self, ui: &egui::Ui) -> Color32 {
        let colours = palette(ui);
        if self.notice.weight == Weight::Trouble { colours.act_tint } else { colours.tint }
    }

    /// Draws it into a place as wide as it was laid out for, with its keys at the right.
    pub(super) fn show(self, ui: &mut egui::Ui, place: Rect) {
        let colours = palette(ui);
        let text =
            Rect::from_min_size(pos2(place.left(), place.center().y - self.text.size().y / 2.0), self.text.size());
        let response = ui.interact(text, ui.scope_id().with("notice"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &self.notice.text));
        ui.painter().galley(text.min, self.text, colours.ink);
        let keys = egui::UiBuilder::new().max_rect(place).layout(Layout::right_to_left(Align::Center));
        ui.scope_builder(keys, |ui| {
            ui.spacing_mut().item_spacing.x = 14.0;
            let mut answer = None;
            if self.waiting > 0 {
                let more = format!("{} more", self.waiting);
                ui.label(RichText::new(more).font(sans(size::LABEL)).color(colours.ink2));
            }
            if foot_key(ui, FootKey { printed: "Esc", does: "dismiss" }, true).clicked() {
                answer = Some(Answer::Dismissed);
            }
            if let Some(mend) = self.notice.mend
                && ui.button(mend.label()).on_hover_text(mend.tooltip()).clicked()
            {
                answer = Some(Answer::Mend(mend));
            }
            if let Some(answer) = answer {
                ui.ctx().data_mut(|data| data.insert_temp(answered(), Some(answer)));
            }
        });
    }
}

/// Draws the notice at the bottom of a page without a foot; with one, the foot has drawn it.
pub fn show(ui: &mut egui::Ui) {
    let Some(notice) = take(ui) else { return };
    let margin = Margin { left: MARGIN as i8, right: MARGIN as i8, top: 0, bottom: 0 };
    egui::Panel::bottom("notice")
        .exact_size(notice.height().max(FOOT_HEIGHT))
        .resizable(false)
        .show_separator_line(false)
        .frame(egui::Frame::new().fill(notice.ground(ui)).inner_margin(margin))
        .show(ui, |ui| {
            let place = ui.max_rect();
            notice.show(ui, place);
        });
}

/// What the user did with it in this pass.
#[must_use]
pub fn take_answer(ctx: &egui::Context) -> Option<Answer> {
    ctx.data_mut(|data| data.remove_temp::<Option<Answer>>(answered())).flatten()
}
