//! Text in several fonts and inks, painted at a place: columns line up because nothing flows.

use eframe::egui::{Align2, Color32, FontId, Painter, Pos2, Rect, pos2};

/// Paints text so that its left edge stands at x, centred on y; returns where it stands.
pub fn left(painter: &Painter, at: Pos2, text: &str, font: FontId, ink: Color32) -> Rect {
    painter.text(at, Align2::LEFT_CENTER, text, font, ink)
}

/// Paints text so that its right edge stands at x, centred on y: for figures.
pub fn right(painter: &Painter, at: Pos2, text: &str, font: FontId, ink: Color32) -> Rect {
    painter.text(at, Align2::RIGHT_CENTER, text, font, ink)
}

/// Paints text cut with `…` where it would be wider than `width`; returns where it stands.
pub fn left_cut(painter: &Painter, at: Pos2, text: &str, font: FontId, ink: Color32, width: f32) -> Rect {
    let mut job = eframe::egui::text::LayoutJob::simple_singleline(text.to_owned(), font, ink);
    job.wrap = eframe::egui::text::TextWrapping::truncate_at_width(width);
    let galley = painter.layout_job(job);
    let top_left = pos2(at.x, at.y - galley.size().y / 2.0);
    let rect = Rect::from_min_size(top_left, galley.size());
    painter.galley(top_left, galley, ink);
    rect
}

/// The same words, with the sign of a percentage on the line of its figure wherever they wrap.
pub fn with_whole_figures(words: &str) -> String {
    words.replace(" %", "\u{a0}%")
}
