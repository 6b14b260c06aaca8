//! All keys on one page, in place of the page one was on.

use super::foot::{FootKey, foot_key, frame};
use crate::command::Command;
use crate::theme::{MARGIN, palette, sans, semibold, serif, serif_semibold, size};
use eframe::egui::{self, RichText};

/// Keys of the pages; each page prints its own in its foot too.
const PAGE_KEYS: [(&str, &[(&str, &str)]); 7] = [
    (
        "Due",
        &[
            ("Arrows", "choose a spindle"),
            ("Enter", "open it"),
            ("/", "find a position, spindle or order number"),
            ("F", "filter by hall, interface, state, technician"),
            ("S", "sort"),
            ("G", "group by month or hall"),
            ("+ \u{2212}", "longer or shorter calendar"),
            ("E", "export the work-order list"),
            ("W", "what if: usage, risk, limits of all shown; Esc ends"),
        ],
    ),
    (
        "Spindle",
        &[
            ("Arrows", "step through the readings"),
            ("Page Up, Page Down", "spindle before, spindle after"),
            ("X", "date, run hours or clamp cycles"),
            ("+ \u{2212}", "zoom"),
            ("Ctrl Arrows", "next panel"),
            ("N", "new reading"),
            ("V", "service"),
            ("M", "meter reading"),
            ("C", "correct the chosen record"),
            ("W", "what if: usage, risk, limits, a reading, a service"),
            ("Esc", "back to the list"),
        ],
    ),
    (
        "Week plan",
        &[
            ("Arrows", "choose a service; while it is moved: to another window"),
            ("M, Enter", "move it; open a window of many"),
            ("Enter, Esc", "place it there, leave it where it is"),
            ("P", "propose; Esc stops, then drops the proposal"),
            ("Space, Ctrl Enter", "accept the line, accept all"),
            ("H, Del", "hold or release, take off the plan"),
            ("O", "issue orders"),
            ("T", "rows by hall or technician"),
            ("[ ], Page Up, Page Down", "hall or technician before, after"),
            ("+ \u{2212}, Ctrl Left, Right", "weeks shown, earlier, later"),
            ("S", "open the spindle"),
        ],
    ),
    (
        "Orders",
        &[
            ("Space, A", "mark the chosen line, all shown"),
            ("B", "book: open a planned order"),
            ("I, U", "issue, mark under way"),
            ("D, L, N", "done, partly done, not done"),
            ("T", "who leads"),
            ("H", "hold or release"),
            ("X", "take a planned order off"),
            ("C", "closed orders too"),
            ("E, K", "export the list, the calendar"),
            ("W", "parts waiting: what to order by when"),
            ("/ F S", "find, filter, sort"),
            ("Enter", "open the spindle"),
        ],
    ),
    ("Shop", &[("Arrows", "choose a row"), ("A", "add a row"), ("Ctrl Enter", "save the row")]),
    (
        "Import",
        &[
            ("Arrows", "choose a line; right opens it, left closes it"),
            ("Space", "take the likely figure"),
            ("Enter", "keep as typed, doubted; at a column left out: say which it is"),
            ("A", "take the good rows alone"),
            ("R", "read the files again"),
            ("Ctrl Enter", "write"),
        ],
    ),
    (
        "Fields and forms",
        &[
            ("Enter", "next field; in a one-line field, take it"),
            ("Tab", "next group"),
            ("Ctrl Enter", "save the form, write the import"),
            ("Space", "at a question: take the likely figure"),
            ("Esc", "leave; what was typed is kept"),
        ],
    ),
];

/// Width of a column of keys.
const COLUMN: f32 = 380.0;

/// Draws the list; `true`: leave it.
pub fn ui(ui: &mut egui::Ui) -> bool {
    let colours = palette(ui);
    let leave = frame(ui, |ui| foot_key(ui, FootKey { printed: "F1", does: "back to the page" }, true).clicked());
    egui::CentralPanel::default().frame(egui::Frame::new().fill(colours.paper).inner_margin(MARGIN)).show(ui, |ui| {
        ui.label(RichText::new("Every key of the program").font(serif(size::LEAD)));
        ui.label(
            RichText::new("Single letters act only while no field is being typed in.")
                .font(sans(size::BODY))
                .color(colours.ink2),
        );
        ui.add_space(12.0);
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.horizontal_top(|ui| {
                column(
                    ui,
                    "Everywhere",
                    Command::ALL.iter().filter(|command| command.shortcut().is_some()).map(|command| {
                        (command.printed_keys(), command.label().trim_end_matches(" \u{2026}").to_owned())
                    }),
                );
                ui.add_space(12.0);
                for places in PAGE_KEYS.chunks(3) {
                    ui.vertical(|ui| {
                        for (place, keys) in places {
                            column(ui, place, keys.iter().map(|(key, does)| ((*key).to_owned(), (*does).to_owned())));
                            ui.add_space(16.0);
                        }
                    });
                }
            });
        });
    });
    leave
}

fn column(ui: &mut egui::Ui, head: &str, keys: impl Iterator<Item = (String, String)>) {
    let colours = palette(ui);
    ui.vertical(|ui| {
        ui.set_width(COLUMN);
        ui.spacing_mut().interact_size.y = 17.0;
        ui.label(RichText::new(head).font(serif_semibold(size::SECTION)));
        ui.add_space(4.0);
        egui::Grid::new(head).num_columns(2).min_col_width(112.0).min_row_height(17.0).spacing([12.0, 2.0]).show(
            ui,
            |ui| {
                for (key, does) in keys {
                    ui.label(RichText::new(key).font(semibold(size::LABEL)));
                    ui.label(RichText::new(does).font(sans(size::BODY)).color(colours.ink2));
                    ui.end_row();
                }
            },
        );
    });
}
