//! What a proposal changes against what is booked, line by line.

use super::lines::{Line, counted, listed, rest};
use super::panel::{paragraph, section};
use crate::pages::PageContext;
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::text;
use almanac_core::planning::proposal::{PlanChange, PlanChangeKind, ServiceKey};
use almanac_core::planning::week_view::{PlanBlock, WeekView};
use almanac_core::words;
use eframe::egui::{self, Id, pos2, vec2};

/// Width of the positions.
const POSITIONS: f32 = 52.0;

/// The id of a line.
pub(super) fn line_id(service: ServiceKey) -> Id {
    Id::unique(("plan change", service))
}

/// What the user did there.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    pub(super) chose: Option<ServiceKey>,
    pub(super) accept: bool,
    pub(super) accept_all: bool,
    pub(super) drop: bool,
}

/// Draws the lines with their keys.
pub(super) fn ui(ui: &mut egui::Ui, context: &PageContext<'_>, view: &WeekView, chosen: Option<ServiceKey>) -> Did {
    let colours = palette(ui);
    let mut did = Did::default();
    section(ui, "Changed by this proposal");
    ui.add_space(4.0);
    if view.changes.is_empty() {
        paragraph(ui, "Nothing, or all of it is accepted.", sans(size::BODY), colours.ink2);
        ui.horizontal(|ui| did.drop = foot_key(ui, FootKey { printed: "Esc", does: "close it" }, true).clicked());
        return did;
    }
    let is_open = context.entry_closed.is_none();
    let is_chosen = view.changes.iter().any(|change| Some(change.key()) == chosen);
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 14.0;
        did.accept = foot_key(ui, FootKey { printed: "Space", does: "accept line" }, is_open && is_chosen).clicked();
        did.accept_all = foot_key(ui, FootKey { printed: "Ctrl Enter", does: "all" }, is_open).clicked();
    });
    ui.add_space(4.0);
    for change in listed(&view.changes) {
        if line(ui, context, view, change, chosen == Some(change.key())) {
            did.chose = Some(change.key());
        }
    }
    if let Some(more) = rest(&view.changes) {
        counted(ui, &format!("and {} more", words::number(more as f64, 0)));
    }
    did
}

fn line(ui: &mut egui::Ui, context: &PageContext<'_>, view: &WeekView, change: &PlanChange, is_chosen: bool) -> bool {
    let colours = palette(ui);
    let of_service = || view.blocks.iter().filter(|block| block.key() == change.key());
    let now = of_service().find(|block| super::nav::can_be_chosen(block));
    let before = of_service().find(|block| block.standing.is_left_behind());
    let position = now.or(before).map(|block| block.position.as_str()).unwrap_or_default();
    let what = in_words(change, before, now, context);
    let width = ui.available_width();
    let room = width - POSITIONS;
    let what_galley = ui.painter().layout(what.clone(), sans(size::BODY), colours.ink, room);
    let why_galley = ui.painter().layout(text::with_whole_figures(&change.why), sans(size::LABEL), colours.ink2, room);
    let why_top = 1.0 + what_galley.size().y;
    let why_height = if change.why.is_empty() { 0.0 } else { why_galley.size().y + 1.0 };
    let sentence = format!("{position} {what}: {}. Space accepts it.", change.why);
    let (id, height) = (line_id(change.key()), why_top + why_height + 6.0);
    let line = Line { id, height, reach: vec2(6.0, 0.0), is_chosen, sentence: &sentence };
    line.ui(ui, |ui, rect| {
        let painter = ui.painter();
        let at = pos2(rect.left(), rect.top() + 9.0);
        text::left_cut(painter, at, position, semibold(size::BODY), colours.ink, POSITIONS - 4.0);
        painter.galley(pos2(rect.left() + POSITIONS, rect.top() + 1.0), what_galley, colours.ink);
        painter.galley(pos2(rect.left() + POSITIONS, rect.top() + why_top), why_galley, colours.ink2);
    })
}

/// `Sat 14 Mar to Sat 28 Mar`, `added on Sat 28 Mar`.
fn in_words(
    change: &PlanChange,
    before: Option<&PlanBlock>,
    now: Option<&PlanBlock>,
    context: &PageContext<'_>,
) -> String {
    let day = |block: Option<&PlanBlock>| {
        block.map(|block| words::date_short(block.service.place.start.date(), context.as_of)).unwrap_or_default()
    };
    match change.kind {
        PlanChangeKind::Added => format!("added on {}", day(now)),
        PlanChangeKind::Moved => {
            let from = now
                .and_then(|block| block.service.moved_from)
                .map_or_else(|| day(before), |from| words::date_short(from.date(), context.as_of));
            format!("{from} to {}", day(now))
        }
        PlanChangeKind::Rearranged => {
            let at = now.map(|block| {
                let place = &block.service.place;
                format!("at {}, {}", place.start.format("%H:%M"), place.technicians.join(" and "))
            });
            format!("{} {}", day(now), at.unwrap_or_default())
        }
        PlanChangeKind::TakenOff => format!("taken off {}", day(before.or(now))),
    }
}
