//! Due, but without a place: each with its reason and what would mend it.

use super::panel::{paragraph, section};
use crate::pages::PageContext;
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::{mark, text};
use almanac_core::due::Mark;
use almanac_core::ids::SpindleId;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_core::planning::week_view::left_sentence;
use almanac_core::words;
use eframe::egui::{self, Id, Rect, Role, Sense, WidgetInfo, pos2, vec2};

/// More than these are counted.
const SHOWN: usize = 40;

/// The id of its line.
pub(super) fn line_id(service: ServiceKey) -> Id {
    Id::unique(("plan left", service))
}

/// Draws them; answers which one was chosen.
pub(super) fn ui(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    left: &[LeftService],
    chosen: Option<ServiceKey>,
) -> Option<ServiceKey> {
    let failed: Vec<&LeftService> = left.iter().filter(|one| !one.for_next_plan).collect();
    if failed.is_empty() {
        return None;
    }
    section(ui, "Not placed");
    ui.add_space(4.0);
    let mut chose = None;
    for one in failed.iter().take(SHOWN) {
        if line(ui, context, one, chosen == Some(one.key())) {
            chose = Some(one.key());
        }
        ui.add_space(6.0);
    }
    let more = failed.len().saturating_sub(SHOWN);
    if 0 < more {
        let words = format!("and {} more, later due", words::number(more as f64, 0));
        paragraph(ui, &words, sans(size::BODY), palette(ui).ink2);
    }
    chose
}

fn line(ui: &mut egui::Ui, context: &PageContext<'_>, left: &LeftService, is_chosen: bool) -> bool {
    let colours = palette(ui);
    let position = context.shop.position_on(left.spindle, context.as_of);
    let position = position.map(|position| context.shop.position_label(position)).unwrap_or_default();
    let name = context.shop.spindles.get(&left.spindle).map(|spindle| spindle.name.as_str()).unwrap_or_default();
    let width = ui.available_width();
    let ready = context.shop.ready_day(left.spindle, context.as_of).filter(|_| !left.words.starts_with("Not before"));
    let ready = ready.map_or_else(String::new, |day| format!("Not before {}. ", words::date_long(day, context.as_of)));
    let body = ui.painter().layout(format!("{ready}{}", left.words), sans(size::BODY), colours.ink, width - 16.0);
    let height = 20.0 + body.size().y + 2.0;
    let (rect, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let tabs = ui.input(|input| input.key_pressed(egui::Key::Tab));
    let sense = if tabs && !is_chosen { Sense::CLICK } else { Sense::click() };
    // wide enough that the frame of the focus leaves the words free
    let ground = rect.expand2(vec2(6.0, 2.0));
    let response = ui.interact(ground, line_id(left.key()), sense);
    let sentence = left_sentence(left, context.shop, context.as_of);
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_chosen, &sentence));
    let painter = ui.painter();
    if is_chosen || response.hovered() {
        painter.rect_filled(ground, 0.0, colours.tint);
    }
    let y = rect.top() + 9.0;
    mark::paint(ui, painter, pos2(rect.left() + 5.0, y), mark_of(context, left.spindle));
    let by = match left.service_by {
        Some(by) if by <= context.as_of => "now".to_owned(),
        Some(by) => format!("by {}", words::date_short(by, context.as_of)),
        None => String::new(),
    };
    let must_act = mark_of(context, left.spindle).needs_action();
    let (font, ink) = if must_act { (semibold(size::BODY), colours.act) } else { (sans(size::BODY), colours.ink2) };
    let by = text::right(painter, pos2(rect.right(), y), &by, font, ink);
    let place = text::left(painter, pos2(rect.left() + 16.0, y), &position, semibold(size::BODY), colours.ink);
    let room = by.left() - place.right() - 18.0;
    text::left_cut(painter, pos2(place.right() + 10.0, y), name, sans(size::LABEL), colours.ink2, room);
    painter.galley(pos2(rect.left() + 16.0, rect.top() + 20.0), body, colours.ink);
    let took = response.clicked() || (response.has_focus() && !is_chosen);
    if response.clicked() {
        response.request_focus();
    }
    keep_in_sight(ui, &response, rect);
    took
}

fn mark_of(context: &PageContext<'_>, spindle: SpindleId) -> Mark {
    context.due.and_then(|due| due.row(spindle)).map_or(Mark::ToBook, |row| row.mark)
}

/// The keyboard brings a line into view.
pub(super) fn keep_in_sight(ui: &egui::Ui, response: &egui::Response, rect: Rect) {
    let by_keys = ui.input(|input| {
        input.keys_down.contains(&egui::Key::ArrowDown)
            || input.keys_down.contains(&egui::Key::ArrowUp)
            || input.keys_down.contains(&egui::Key::E)
            || input.key_pressed(egui::Key::Tab)
    });
    if response.has_focus() && by_keys {
        ui.scroll_to_rect(rect.expand(6.0), None);
    }
}
