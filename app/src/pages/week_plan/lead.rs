//! The sentence that opens the page, and at its right when the plan was proposed or how far a
//! proposal is.

use super::PlanShown;
use crate::pages::PageContext;
use crate::theme::{MARGIN, palette, sans, serif, serif_semibold, size};
use almanac_core::planning::week_view::WeekView;
use almanac_core::words;
use eframe::egui::text::{LayoutJob, TextFormat};
use eframe::egui::{self, Align2, Label, Rect, Role, Sense, WidgetInfo, pos2, vec2};

/// Height of a line of it.
const LINE: f32 = 22.0;
/// Space over it.
const TOP: f32 = 13.0;
/// From it to what stands at its right.
const GAP: f32 = 24.0;
/// Kept free at the right at least, so that the sentence does not jump with what stands there.
const BESIDE: f32 = 120.0;

/// Draws it; answers how high it is.
pub(super) fn ui(ui: &mut egui::Ui, page: Rect, context: &PageContext<'_>, shown: &PlanShown<'_>) -> f32 {
    let colours = palette(ui);
    let format = |font_id, color| TextFormat { font_id, color, line_height: Some(LINE), ..TextFormat::default() };
    let ink = if context.is_current { colours.ink } else { colours.ink2 };
    let mut job = LayoutJob::default();
    match shown.view {
        Some(view) => {
            job.append(&view.lead.first, 0.0, format(serif_semibold(size::LEAD), ink));
            let gap = if view.lead.first.is_empty() { 0.0 } else { 7.0 };
            job.append(&view.lead.rest, gap, format(serif(size::LEAD), ink));
        }
        None => {
            let words = match (context.is_current, context.doing) {
                (true, _) => "The plan is being worked out.",
                (false, Some(_)) => "The plan follows as soon as the figures are worked out.",
                (false, None) => "The figures are not worked out: R does it.",
            };
            job.append(words, 0.0, format(serif(size::LEAD), colours.ink));
        }
    }
    let beside = state(context, shown);
    let room = ui.painter().layout_no_wrap(beside.clone(), sans(size::LABEL), colours.ink2).size().x;
    job.wrap.max_width = (page.width() - 2.0 * MARGIN - GAP - room.max(BESIDE)).max(240.0);
    let galley = ui.painter().layout_job(job);
    let height = galley.size().y.max(LINE);
    let rect = Rect::from_min_size(page.left_top() + vec2(MARGIN, TOP), galley.size());
    let base = rect.top() + height - LINE / 2.0 + 3.0;
    ui.put(rect, Label::new(galley));
    if !beside.is_empty() {
        let at = pos2(page.right() - MARGIN, base);
        let drawn = ui.painter().text(at, Align2::RIGHT_CENTER, &beside, sans(size::LABEL), colours.ink2);
        let response = ui.interact(drawn, ui.scope_id().with("plan state"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &beside));
    }
    TOP + height + 13.0
}

/// `proposed 07:26, one placement held`, or how far a proposal is.
fn state(context: &PageContext<'_>, shown: &PlanShown<'_>) -> String {
    if let Some(proposing) = shown.proposing {
        return proposing.in_words(&context.shop.settings.currency);
    }
    let Some(view) = shown.view else { return String::new() };
    let mut parts = Vec::new();
    if !context.is_current && context.doing.is_none() {
        parts.push("figures from before the last change".to_owned());
    }
    if view.is_proposal {
        parts.push(match shown.proposed_at {
            Some(at) => format!("proposed {}", at.format("%H:%M")),
            None => "proposed".to_owned(),
        });
    }
    match held(view) {
        0 => {}
        1 => parts.push("one placement held".to_owned()),
        many => parts.push(format!("{} placements held", words::count_words(many))),
    }
    parts.join(", ")
}

fn held(view: &WeekView) -> usize {
    view.blocks.iter().filter(|block| block.service.held && !block.standing.is_left_behind()).count()
}
