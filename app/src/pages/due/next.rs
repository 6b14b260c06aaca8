//! The readings worth taking in the next round: a list over its key in the foot, most useful first.

use crate::pages::PageContext;
use crate::widgets::foot_menu::{self, entry};
use almanac_core::due::DueList;
use almanac_core::forecast::next_reading::NextReading;
use almanac_core::ids::SpindleId;
use almanac_core::units::Quantity;
use almanac_core::words;
use eframe::egui::{Response, Ui};

/// As many as one looks at before a round; the rest is said in a line.
const MOST: usize = 20;
/// Width of the list.
const WIDTH: f32 = 620.0;
/// Height of the list before it scrolls.
const HEIGHT: f32 = 420.0;

/// Shows the list while it is open; answers with the spindle that was chosen in it.
pub(super) fn menu(ui: &Ui, anchor: &Response, opens: bool, context: &PageContext<'_>) -> Option<SpindleId> {
    let due = context.due?;
    let mut chosen = None;
    foot_menu::menu(ui, anchor, opens, WIDTH, |ui, focus| {
        eframe::egui::ScrollArea::vertical().max_height(HEIGHT).show(ui, |ui| {
            for (place, reading) in due.worth_reading.iter().take(MOST).enumerate() {
                let words = words_of(due, reading, &context.shop.settings.currency);
                if entry(ui, &words, false, focus && place == 0).clicked() {
                    chosen = Some(reading.spindle);
                    ui.close();
                }
            }
            let more = due.worth_reading.len().saturating_sub(MOST);
            if 0 < more {
                ui.label(format!("and {} more, less useful", words::number(more as f64, 0)));
            }
        });
    });
    chosen
}

/// Two lines: where, by when, what it brings; and why.
fn words_of(due: &DueList, reading: &NextReading, currency: &str) -> String {
    let as_of = due.as_of;
    let (place, name) = due
        .row(reading.spindle)
        .map_or(("", ""), |row| (row.position.as_deref().unwrap_or("not mounted"), row.name.as_str()));
    let what = match reading.quantity {
        Quantity::ClampForce => "",
        Quantity::SettingDimension => "setting dimension, ",
    };
    let by =
        if reading.by <= as_of { "today".to_owned() } else { format!("by {}", words::date_short(reading.by, as_of)) };
    // a worth that rounds to nothing is not said
    let is_worth = reading.worth_in_words(currency).is_some();
    let worth = if is_worth { format!(", worth {}", words::money_in(reading.worth, currency)) } else { String::new() };
    format!(
        "{place}  {name}: {what}{by}, band from {} to {} days{worth}\n{}.",
        words::number(f64::from(reading.narrows.from), 0),
        words::number(f64::from(reading.narrows.to), 0),
        words::capital(&reading.reason)
    )
}
