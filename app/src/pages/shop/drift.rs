//! How each tool interface drifts, as the readings of the shop taught: a table and sentences.

use super::intervals;
use super::register::{Column, RegisterRow};
use super::{sentence_ui, table};
use crate::command::Command;
use crate::forms::layout::{plain_button, section};
use crate::pages::{PageContext, Request, Requests};
use crate::theme::{TABLE_ROW, palette, sans, serif, size};
use almanac_core::forecast::learnt::{Basis, InterfaceLearnt, ShopLearnt, learnt};
use almanac_core::words;
use eframe::egui::{self, Label, RichText, ScrollArea};

/// What was learnt, with the rows of its table.
#[derive(Debug)]
pub(super) struct Drift {
    learnt: ShopLearnt,
    rows: Vec<RegisterRow>,
}

impl Drift {
    /// Of the figures on the screen; `None`: not computed yet.
    pub(super) fn of(context: &PageContext<'_>) -> Option<Self> {
        let learnt = learnt(context.fits?, context.shop, context.as_of);
        let all = learnt.interfaces.iter().chain(&learnt.all);
        let rows = all.enumerate().map(|(index, of)| row(index, of)).collect();
        Some(Self { learnt, rows })
    }
}

/// Draws it; answers the row that was chosen now.
pub(super) fn ui(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    drift: Option<&Drift>,
    chosen: Option<i64>,
    requests: &mut Requests,
) -> Option<i64> {
    let colours = palette(ui);
    ui.horizontal(|ui| {
        ui.label(RichText::new("Drift by interface").font(serif(size::LEAD)).color(colours.ink));
        if plain_button(ui, "Fit anew", context.doing.is_none()).clicked() {
            requests.push(Request::Run(Command::LearnAnew));
        }
    });
    let Some(drift) = drift else {
        sentence_ui(ui, "Not worked out yet.");
        return None;
    };
    sentence_ui(ui, &format!("{}.", drift.learnt.sentence(context.as_of)));
    ui.add_space(6.0);
    if drift.rows.is_empty() {
        sentence_ui(ui, "No spindles yet, so nothing to learn from.");
        return None;
    }
    // The table shows all of a usual shop; the sentences have at least a third of the height.
    let whole = TABLE_ROW * (drift.rows.len() + 1) as f32 + 6.0;
    let height = whole.min(ui.available_height() * 0.65);
    let mut taken = None;
    ui.allocate_ui(egui::vec2(ui.available_width(), height), |ui| {
        taken = table::table(ui, &columns(), &drift.rows, chosen);
    });
    ScrollArea::vertical().id_salt("drift in words").auto_shrink(false).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        ui.add_space(4.0);
        let all = drift.learnt.interfaces.iter().chain(&drift.learnt.all);
        for (index, of) in all.enumerate() {
            let is = |row: Option<i64>| row == i64::try_from(index).ok();
            let is_chosen = is(taken.or(chosen));
            let words = words_ui(ui, of, is_chosen);
            if is(taken) {
                // what the keys choose above is what stands here
                words.scroll_to_me(Some(egui::Align::Min));
            }
            if let Some(interface) = &of.interface {
                intervals::ui(ui, context, interface, is_chosen);
            }
            ui.add_space(6.0);
        }
        if !drift.learnt.usage.is_empty() {
            section(ui, "Usage");
        }
        for law in &drift.learnt.usage {
            said(ui, &format!("{}.", law.sentence()), colours.ink);
        }
    });
    taken
}

fn words_ui(ui: &mut egui::Ui, of: &InterfaceLearnt, is_chosen: bool) -> egui::Response {
    let colours = palette(ui);
    let sentence = RichText::new(format!("{}.", of.sentence())).color(colours.ink);
    let font = if is_chosen { crate::theme::semibold(size::BODY) } else { sans(size::BODY) };
    let first = ui.add(Label::new(sentence.font(font)).wrap());
    said(ui, &format!("{}. {}.", of.service_sentence(), of.basis_sentence()), colours.ink2);
    first
}

pub(super) fn said(ui: &mut egui::Ui, words: &str, ink: egui::Color32) {
    ui.add(Label::new(RichText::new(words).font(sans(size::BODY)).color(ink)).wrap());
}

fn columns() -> Vec<Column> {
    vec![
        Column::words("interface", 1.25),
        Column::figures("spindles", 0.8),
        Column::figures("readings", 0.8),
        Column::figures("% per 1,000 h", 1.2),
        Column::figures("half between", 1.1),
        Column::words("counted in", 1.05),
        Column::words("how sure", 1.3),
        Column::words("drift", 1.3),
        Column::figures("set-up %", 0.8),
        Column::figures("stroke %", 0.8),
        Column::figures("restores ± %", 1.0),
        Column::figures("lasting %", 0.9),
        Column::words("sudden drop", 1.6),
        Column::words("rests on", 1.15),
    ]
}

fn row(index: usize, of: &InterfaceLearnt) -> RegisterRow {
    let [low, high] = of.loss_quarters.map(words::percent);
    let cells = vec![
        of.name(),
        words::number(of.spindles as f64, 0),
        words::number(of.readings as f64, 0),
        words::percent(of.loss_per_1000_h),
        format!("{low} to {high}"),
        of.clock_word().to_owned(),
        if of.basis == Basis::Experience { "cannot yet tell".to_owned() } else { of.clock_surety.in_words() },
        of.shape.label().to_owned(),
        words::percent(of.set_up_scatter),
        words::percent(of.stroke_scatter),
        words::percent(of.restore_scatter),
        words::percent(of.lasting_per_1000_h),
        of.steps_in_words(),
        of.basis.label().to_owned(),
    ];
    RegisterRow::new(i64::try_from(index).unwrap_or(i64::MAX), cells)
}
