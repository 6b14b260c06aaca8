//! The meter readings, newest first; the form of a row is its correction.

use super::register::{Column, RegisterRow};
use super::table;
use crate::forms::layout::quiet;
use crate::forms::meter_draft::spindle_of;
use crate::pages::{Form, PageContext, Request, Requests};
use crate::theme::{palette, sans, serif, size};
use almanac_core::ids::{MeterReadingId, Row};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::shop::Shop;
use almanac_core::words;
use eframe::egui::{self, RichText};

/// The rows of the whole shop, superseded ones too.
pub(super) fn rows(context: &PageContext<'_>) -> Vec<RegisterRow> {
    let mut meters: Vec<_> = context.whole.meters.iter().collect();
    meters.sort_by_key(|row| std::cmp::Reverse((row.at, row.id)));
    meters.into_iter().map(|row| register_row(context.whole, row)).collect()
}

fn register_row(shop: &Shop, row: &Row<MeterReadingId, MeterReading>) -> RegisterRow {
    let owner = match row.owner {
        MeterOwner::Spindle(spindle) => shop.spindles.get(&spindle).map_or("?", |spindle| &spindle.name).to_owned(),
        MeterOwner::Position(position) => format!("position {}", shop.position_label(position)),
    };
    let count = |figure: Option<f64>| figure.map_or_else(String::new, |figure| words::number(figure, 0));
    let cells = vec![
        owner,
        row.at.to_string(),
        count(row.run_hours.map(|hours| hours.get())),
        count(row.clamp_cycles.map(|cycles| cycles.get())),
        if row.meter_replaced { "first of a new meter".to_owned() } else { String::new() },
        row.replaced_on.map_or_else(String::new, |day| format!("superseded {day}")),
    ];
    RegisterRow::new(row.id.row(), cells)
}

/// Draws the table; answers the row that was chosen now. `opens`: Enter was pressed on the chosen row.
pub(super) fn ui(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    rows: &[RegisterRow],
    chosen: Option<i64>,
    opens: bool,
    requests: &mut Requests,
) -> Option<i64> {
    let ink = palette(ui).ink;
    ui.horizontal(|ui| {
        ui.label(RichText::new("Meter readings").font(serif(size::LEAD)).color(ink));
        let count = words::number(rows.len() as f64, 0);
        ui.label(RichText::new(format!("{count}, newest first")).font(sans(size::LABEL)).color(ink));
        quiet(ui, "Enter or a second click corrects one; the old one stays, marked as superseded");
    });
    ui.add_space(4.0);
    let columns = [
        Column::words("meter of", 1.2),
        Column::words("date", 1.1),
        Column::figures("run hours", 0.9),
        Column::figures("clamp cycles", 1.0),
        Column::words("replaced", 1.3),
        Column::words("counts", 1.4),
    ];
    let taken = table::table(ui, &columns, rows, chosen);
    let again = taken.is_some() && taken == chosen;
    if let Some(id) = chosen.filter(|_| opens || again) {
        requests.push(correction(context, MeterReadingId::from_row(id)));
    }
    taken
}

/// The form of a correction, or why there is none.
fn correction(context: &PageContext<'_>, id: MeterReadingId) -> Request {
    let Some(row) = context.whole.meters.iter().find(|row| row.id == id) else {
        return Request::Notice("That meter reading is gone.".to_owned());
    };
    if row.replaced_on.is_some() {
        let words = "That meter reading no longer counts; correct the one that took its place.";
        return Request::Notice(words.to_owned());
    }
    if spindle_of(context.whole, row).is_none() {
        return Request::Notice("No spindle was ever mounted there; mount one, then correct the meter.".to_owned());
    }
    match context.entry_closed {
        Some(closed) => Request::Notice(closed.to_owned()),
        None => Request::OpenForm(Form::CorrectMeter(id)),
    }
}
