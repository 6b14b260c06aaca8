//! The sign of the program: a pack of disc springs seen from the side, as two zigzag lines.

use crate::theme::palette;
use eframe::egui::{self, Pos2, Rect, Stroke, pos2};

/// Paints the sign into a rectangle about 20 by 12 for a head, or larger for a title.
pub fn paint(ui: &egui::Ui, rect: Rect) {
    const HALF_WAVES: usize = 5;
    let stroke = Stroke::new((rect.height() / 10.0).max(1.4), palette(ui).ink);
    let x_of = |i: usize| rect.left() + rect.width() * i as f32 / HALF_WAVES as f32;
    for first_up in [0, 1] {
        let line: Vec<Pos2> = (0..=HALF_WAVES)
            .map(|i| pos2(x_of(i), if i % 2 == first_up { rect.top() } else { rect.bottom() }))
            .collect();
        ui.painter().line(line, stroke);
    }
}
