//! The lead line: what matters today, in one sentence, and beside it how many are meant.

use crate::pages::PageContext;
use crate::theme::{MARGIN, palette, sans, serif, serif_semibold, size};
use almanac_core::units::Percent;
use almanac_core::words;
use eframe::egui::text::{LayoutJob, TextFormat};
use eframe::egui::{self, Align2, Label, Rect, pos2, vec2};

/// Height of a line of it.
const LINE: f32 = 22.0;
/// Space over it.
const TOP: f32 = 12.0;
/// Kept free at the right for the counts.
const BESIDE: f32 = 160.0;

/// Draws it at the top of the page and answers how high it is; two lines are always kept, so that
/// the table does not jump.
pub(super) fn show(ui: &mut egui::Ui, page: Rect, context: &PageContext<'_>, counts: &str) -> f32 {
    let colours = palette(ui);
    let (urgent, rest) = sentence(context);
    let format = |font_id, color| TextFormat { font_id, color, line_height: Some(LINE), ..TextFormat::default() };
    let mut job = LayoutJob::default();
    job.append(&urgent, 0.0, format(serif_semibold(size::LEAD), colours.act));
    let gap = if urgent.is_empty() { 0.0 } else { 9.0 };
    job.append(&rest, gap, format(serif(size::LEAD), if context.is_current { colours.ink } else { colours.ink2 }));
    job.wrap.max_width = (page.width() - 2.0 * MARGIN - BESIDE).max(240.0);
    let galley = ui.painter().layout_job(job);
    let height = galley.size().y.max(2.0 * LINE);
    let rect = Rect::from_min_size(page.left_top() + vec2(MARGIN, TOP), galley.size());
    let last_line = rect.top() + height - LINE / 2.0 + 3.0;
    ui.put(rect, Label::new(galley));
    let at = pos2(page.right() - MARGIN, last_line);
    ui.painter().text(at, Align2::RIGHT_CENTER, counts, sans(size::LABEL), colours.ink2);
    TOP + height
}

/// What is urgent, and the rest.
fn sentence(context: &PageContext<'_>) -> (String, String) {
    let shop = context.shop;
    if shop.spindles.is_empty() {
        return (String::new(), "Nothing can come due in a shop without spindles.".to_owned());
    }
    if let Some(what_if) = context.what_if {
        // what must be acted on stays said: it is so whatever is pretended
        return (what_if.before_due.lead.urgent.clone(), what_if.compared.lead.clone());
    }
    match context.due {
        Some(due) => (due.lead.urgent.clone(), due.lead.rest.clone()),
        None => {
            let count = shop.spindles.len();
            let these = if count == 1 { "spindle is".to_owned() } else { "spindles are".to_owned() };
            (String::new(), format!("The figures of {} {these} being worked out.", words::count_words(count)))
        }
    }
}

/// `27 spindles  3 halls  accepted risk 10 %`.
pub(super) fn counts(context: &PageContext<'_>) -> String {
    let shop = context.shop;
    let mounted = match context.due {
        Some(due) => due.rows.iter().filter(|row| row.position.is_some()).count(),
        None => shop.spindles.keys().filter(|id| shop.position_on(**id, context.as_of).is_some()).count(),
    };
    let risk = Percent::new(shop.settings.accepted_risk * 100.0).unwrap_or_default();
    let some = |count: usize, one: &str, many: &str| {
        format!("{} {}", words::number(count as f64, 0), if count == 1 { one } else { many })
    };
    format!(
        "{}   {}   accepted risk {} %",
        some(mounted, "spindle", "spindles"),
        some(shop.halls().len(), "hall", "halls"),
        words::percent_short(risk)
    )
}
