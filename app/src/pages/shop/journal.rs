//! The journal: who did what when.

use super::register::{Column, RegisterRow};
use super::{sentence_ui, table};
use crate::forms::layout::{plain_button, quiet};
use crate::pages::{PageContext, Request, Requests};
use crate::theme::{palette, sans, serif, size};
use almanac_core::store::{JournalEntry, StepState};
use eframe::egui::{self, RichText, ScrollArea};

/// Draws the journal and what changed in the chosen row.
pub(super) fn ui(ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
    let colours = palette(ui);
    ui.horizontal(|ui| {
        ui.label(RichText::new("Journal").font(serif(size::LEAD)).color(colours.ink));
        quiet(ui, "newest first; nothing is ever taken out of it");
        if plain_button(ui, "Take the last step back", context.entry_closed.is_none()).clicked() {
            requests.push(Request::Run(crate::command::Command::Undo));
        }
    });
    ui.add_space(4.0);
    if context.journal.is_empty() {
        sentence_ui(ui, "Nothing has been done in this shop yet.");
        return;
    }
    let columns = [
        Column::words("when", 1.1),
        Column::words("who", 0.8),
        Column::words("what", 2.6),
        Column::words("row", 1.0),
        Column::words("counts", 0.8),
    ];
    let rows: Vec<RegisterRow> = context.journal.iter().enumerate().map(|(index, entry)| row(index, entry)).collect();
    let memory = ui.make_persistent_id("chosen journal entry");
    let chosen = ui.data(|data| data.get_temp::<i64>(memory));
    let detail = chosen.and_then(|index| context.journal.get(usize::try_from(index).ok()?));
    let height = if detail.is_some() { ui.available_height() - 150.0 } else { ui.available_height() };
    ui.allocate_ui(egui::vec2(ui.available_width(), height.max(120.0)), |ui| {
        if let Some(taken) = table::table(ui, &columns, &rows, chosen) {
            ui.data_mut(|data| data.insert_temp(memory, taken));
        }
    });
    if let Some(entry) = detail {
        detail_ui(ui, entry);
    }
}

fn row(index: usize, entry: &JournalEntry) -> RegisterRow {
    let counts = match entry.state {
        StepState::Done => "",
        StepState::Undone => "taken back",
        StepState::Dropped => "taken back for good",
    };
    let cells = vec![
        entry.at.format("%Y-%m-%d %H:%M").to_string(),
        entry.who.clone(),
        entry.what.clone(),
        entry.table.to_owned(),
        counts.to_owned(),
    ];
    RegisterRow::new(i64::try_from(index).unwrap_or(i64::MAX), cells)
}

fn detail_ui(ui: &mut egui::Ui, entry: &JournalEntry) {
    let colours = palette(ui);
    ScrollArea::vertical().id_salt("journal detail").auto_shrink(false).show(ui, |ui| {
        for (word, text) in [("before", &entry.before), ("after", &entry.after)] {
            let shown = text.as_deref().unwrap_or("was not there");
            let shown = if word == "after" && text.is_none() { "gone" } else { shown };
            ui.horizontal_top(|ui| {
                ui.add_sized(
                    [50.0, 16.0],
                    egui::Label::new(RichText::new(word).font(sans(size::LABEL)).color(colours.ink2)),
                );
                ui.add(egui::Label::new(RichText::new(shown).font(sans(size::LABEL)).color(colours.ink)).wrap());
            });
        }
    });
}
