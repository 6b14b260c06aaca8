//! One line of text in several fonts and inks that stand on a common base line.

use eframe::egui::{Color32, FontId, Galley, Painter, Pos2, Rect, pos2, text::LayoutJob, text::TextWrapping, vec2};
use std::sync::Arc;

#[derive(Debug, Clone)]
struct Piece {
    gap: f32,
    text: String,
    font: FontId,
    ink: Color32,
}

/// A line made of pieces; also gives its plain text for those who listen.
#[derive(Debug, Clone, Default)]
pub struct TextLine {
    pieces: Vec<Piece>,
}

impl TextLine {
    /// An empty line.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a piece after a gap in pixels; nothing for an empty text.
    #[must_use]
    pub fn with(mut self, gap: f32, text: impl Into<String>, font: FontId, ink: Color32) -> Self {
        self.push(gap, text, font, ink);
        self
    }

    /// Adds a piece after a gap in pixels; nothing for an empty text.
    pub fn push(&mut self, gap: f32, text: impl Into<String>, font: FontId, ink: Color32) {
        let text = text.into();
        if !text.is_empty() {
            let gap = if self.pieces.is_empty() { 0.0 } else { gap };
            self.pieces.push(Piece { gap, text, font, ink });
        }
    }

    /// The plain text; pieces with a gap before them are told apart by a space.
    #[must_use]
    pub fn plain(&self) -> String {
        let mut plain = String::new();
        for piece in &self.pieces {
            if !plain.is_empty() && piece.gap > 0.0 {
                plain.push(' ');
            }
            plain.push_str(&piece.text);
        }
        plain
    }

    /// Whether nothing stands in it.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.pieces.is_empty()
    }

    /// How wide it is.
    #[must_use]
    pub fn width(&self, painter: &Painter) -> f32 {
        let width = |piece: &Piece| {
            piece.gap + painter.layout_no_wrap(piece.text.clone(), piece.font.clone(), piece.ink).size().x
        };
        self.pieces.iter().map(width).sum()
    }

    /// Paints it from a place on its base line, cut with `…` at a width; gives the place it takes
    /// and whether it was cut.
    pub fn paint(&self, painter: &Painter, base: Pos2, width: f32) -> (Rect, bool) {
        let mut x = base.x;
        let mut taken = Rect::from_min_size(base, vec2(0.0, 0.0));
        for piece in &self.pieces {
            x += piece.gap;
            let room = base.x + width - x;
            if room < 8.0 {
                return (taken, true);
            }
            let mut job = LayoutJob::simple_singleline(piece.text.clone(), piece.font.clone(), piece.ink);
            job.wrap = TextWrapping::truncate_at_width(room);
            let galley = painter.layout_job(job);
            let is_cut = galley.elided;
            let corner = pos2(x, base.y - base_line(&galley));
            taken = taken.union(Rect::from_min_size(corner, galley.size()));
            x += galley.size().x;
            painter.galley(corner, galley, piece.ink);
            if is_cut {
                return (taken, true);
            }
        }
        (taken, false)
    }

    /// Paints it so that it ends at a place on its base line.
    pub fn paint_right(&self, painter: &Painter, base: Pos2) -> Rect {
        let width = self.width(painter);
        self.paint(painter, pos2(base.x - width, base.y), width + 1.0).0
    }
}

/// How far the base line of the first row lies under the top.
#[must_use]
pub fn base_line(galley: &Arc<Galley>) -> f32 {
    galley
        .rows
        .first()
        .and_then(|placed| placed.row.glyphs.first().map(|glyph| placed.pos.y + glyph.pos.y))
        .unwrap_or_default()
}
