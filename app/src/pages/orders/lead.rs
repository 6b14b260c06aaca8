//! The lead line: what a person must act on and what comes next, and beside it how many are meant.

use crate::pages::PageContext;
use crate::theme::{MARGIN, palette, sans, serif, serif_semibold, size};
use almanac_core::due::LeadLine;
use eframe::egui::text::{LayoutJob, TextFormat};
use eframe::egui::{self, Align2, Label, Rect, pos2, vec2};

/// Height of a line of it.
const LINE: f32 = 22.0;
/// Space over it.
const TOP: f32 = 12.0;
/// Kept free at the right for the counts.
const BESIDE: f32 = 160.0;

/// Draws it at the top of the page and answers how high it is; two lines are always kept, so that
/// the list does not jump.
pub(super) fn show(ui: &mut egui::Ui, page: Rect, context: &PageContext<'_>, lead: &LeadLine, counts: &str) -> f32 {
    let colours = palette(ui);
    let format = |font_id, color| TextFormat { font_id, color, line_height: Some(LINE), ..TextFormat::default() };
    let mut job = LayoutJob::default();
    job.append(&lead.urgent, 0.0, format(serif_semibold(size::LEAD), colours.act));
    let gap = if lead.urgent.is_empty() { 0.0 } else { 9.0 };
    job.append(&lead.rest, gap, format(serif(size::LEAD), if context.is_current { colours.ink } else { colours.ink2 }));
    let beside = if counts.is_empty() { 0.0 } else { BESIDE };
    job.wrap.max_width = (page.width() - 2.0 * MARGIN - beside).max(240.0);
    let galley = ui.painter().layout_job(job);
    let height = galley.size().y.max(2.0 * LINE);
    let rect = Rect::from_min_size(page.left_top() + vec2(MARGIN, TOP), galley.size());
    let last_line = rect.top() + height - LINE / 2.0 + 3.0;
    ui.put(rect, Label::new(galley));
    let at = pos2(page.right() - MARGIN, last_line);
    ui.painter().text(at, Align2::RIGHT_CENTER, counts, sans(size::LABEL), colours.ink2);
    TOP + height
}
