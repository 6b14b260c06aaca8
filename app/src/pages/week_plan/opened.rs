//! A tray that holds more than can be drawn in it: its services as a list in the panel.

use super::nav::can_be_chosen;
use super::panel::{paragraph, section};
use crate::theme::{LIST_ROW, palette, sans, semibold, size};
use crate::widgets::text;
use almanac_core::planning::proposal::ServiceKey;
use almanac_core::planning::week_view::{PlanBlock, WeekView, block_sentence};
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Id, Role, ScrollArea, Sense, WidgetInfo, pos2, vec2};

/// Height of the list before it scrolls.
const HEIGHT: f32 = 320.0;

/// Draws it; answers which service was chosen.
pub(super) fn ui(
    ui: &mut egui::Ui,
    view: &WeekView,
    tray: usize,
    chosen: Option<ServiceKey>,
    as_of: NaiveDate,
) -> Option<ServiceKey> {
    let colours = palette(ui);
    let of = view.trays.get(tray)?;
    let blocks: Vec<&PlanBlock> =
        view.blocks.iter().filter(|block| block.service.place.tray == Some(tray) && can_be_chosen(block)).collect();
    section(ui, &format!("{}, {}", words::date_short(of.start.date(), as_of), of.hall));
    let count = match blocks.len() {
        1 => "1 service".to_owned(),
        many => format!("{} services", words::number(many as f64, 0)),
    };
    let about = format!(
        "{count}, {} to {}; M moves the chosen one, Esc closes",
        of.start.format("%H:%M"),
        of.end.format("%H:%M")
    );
    paragraph(ui, &about, sans(size::LABEL), colours.ink2);
    let mut chose = None;
    ui.spacing_mut().item_spacing.y = 0.0;
    ScrollArea::vertical().id_salt("opened tray").max_height(HEIGHT).show_rows(
        ui,
        LIST_ROW,
        blocks.len(),
        |ui, range| {
            for block in blocks.get(range).unwrap_or_default() {
                let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), LIST_ROW), Sense::hover());
                let is_chosen = chosen == Some(block.key());
                let response = ui.interact(rect, Id::unique(("opened block", block.key())), Sense::CLICK);
                response.widget_info(|| {
                    WidgetInfo::selected(Role::ListBoxOption, true, is_chosen, block_sentence(block, as_of))
                });
                if is_chosen || response.hovered() {
                    ui.painter().rect_filled(rect, 0.0, colours.tint);
                }
                if response.clicked() {
                    chose = Some(block.key());
                }
                let y = rect.center().y;
                let at = block.service.place.start.format("%H:%M").to_string();
                text::left(ui.painter(), pos2(rect.left() + 2.0, y), &at, sans(size::LABEL), colours.ink2);
                let place = text::left(
                    ui.painter(),
                    pos2(rect.left() + 44.0, y),
                    &block.position,
                    semibold(size::BODY),
                    colours.ink,
                );
                let who = block.service.place.technicians.join(", ");
                let room = rect.right() - place.right() - 12.0;
                text::left_cut(
                    ui.painter(),
                    pos2(place.right() + 10.0, y),
                    &who,
                    sans(size::LABEL),
                    colours.ink2,
                    room,
                );
            }
        },
    );
    chose
}
