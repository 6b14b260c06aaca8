//! Due, but without a place: each with its reason and what would mend it.

use super::earlier;
use super::lines::{Line, counted, listed, rest};
use super::panel::section;
use crate::pages::PageContext;
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::{mark, text};
use almanac_core::due::Mark;
use almanac_core::ids::SpindleId;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_core::planning::week_view::{WeekView, left_sentence};
use almanac_core::words;
use eframe::egui::{self, Id, pos2, vec2};

/// The id of its line.
pub(super) fn line_id(service: ServiceKey) -> Id {
    Id::unique(("plan left", service))
}

/// Those that are due and have no place. An order from before the plan stands in the list of those,
/// and not here once more.
pub(super) fn of(view: &WeekView) -> Vec<&LeftService> {
    let is_listed = |one: &LeftService| earlier::lines(view).iter().any(|order| order.service == one.key());
    view.left.iter().filter(|one| !one.for_next_plan && !is_listed(one)).collect()
}

/// Draws them; answers which one was chosen.
pub(super) fn ui(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    left: &[&LeftService],
    chosen: Option<ServiceKey>,
) -> Option<ServiceKey> {
    section(ui, "Not placed");
    ui.add_space(4.0);
    let mut chose = None;
    for one in listed(left) {
        if line(ui, context, one, chosen == Some(one.key())) {
            chose = Some(one.key());
        }
        ui.add_space(6.0);
    }
    if let Some(more) = rest(left) {
        counted(ui, &format!("and {} more, later due", words::number(more as f64, 0)));
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
    let words = text::with_whole_figures(&format!("{ready}{}", left.words));
    let body = ui.painter().layout(words, sans(size::BODY), colours.ink, width - 16.0);
    let sentence = left_sentence(left, context.shop, context.as_of);
    let height = 20.0 + body.size().y + 2.0;
    let line = Line { id: line_id(left.key()), height, reach: vec2(6.0, 2.0), is_chosen, sentence: &sentence };
    line.ui(ui, |ui, rect| {
        let painter = ui.painter();
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
    })
}

fn mark_of(context: &PageContext<'_>, spindle: SpindleId) -> Mark {
    context.due.and_then(|due| due.row(spindle)).map_or(Mark::ToBook, |row| row.mark)
}
