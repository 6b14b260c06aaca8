//! The frame of the small charts: hairlines, figures at the left, words under the base line.

use super::scale::Scale;
use crate::theme::{Palette, sans, size};
use eframe::egui::{Align2, Painter, Pos2, Rect, Stroke, pos2};

/// A small chart: where it stands and its scales.
#[derive(Debug, Clone, Copy)]
pub struct Small {
    /// The plot.
    pub plot: Rect,
    /// Along.
    pub x: Scale,
    /// Up.
    pub y: Scale,
}

/// A figure of an axis with its words.
pub type Marked = (f64, String);

impl Small {
    /// Paints the frame in a place; room for figures is left at the left and below.
    #[must_use]
    pub fn paint(
        painter: &Painter,
        place: Rect,
        (x_span, x_marks): ((f64, f64), &[Marked]),
        (y_span, y_marks): ((f64, f64), &[Marked]),
        colours: &Palette,
    ) -> Self {
        let bottom = (place.bottom() - 20.0).round() + 0.5;
        let plot = Rect::from_min_max(pos2(place.left() + 38.0, place.top() + 8.0), pos2(place.right(), bottom));
        let chart = Self {
            plot,
            x: Scale::new(x_span.0, x_span.1, plot.left(), plot.right()),
            y: Scale::new(y_span.0, y_span.1, plot.bottom(), plot.top()),
        };
        for (value, text) in y_marks {
            let y = painter.round_to_pixel_center(chart.y.px(*value));
            painter.hline(plot.x_range(), y, Stroke::new(1.0, colours.rule));
            painter.text(pos2(plot.left() - 8.0, y), Align2::RIGHT_CENTER, text, sans(size::LABEL), colours.ink2);
        }
        let mut free_from = plot.left() - 4.0;
        for (value, text) in x_marks {
            let x = painter.round_to_pixel_center(chart.x.px(*value));
            if x > plot.right() + 1.0 {
                continue;
            }
            painter.vline(x, bottom..=bottom + 4.0, Stroke::new(1.0, colours.ink));
            let galley = painter.layout_no_wrap(text.clone(), sans(size::LABEL), colours.ink2);
            let left = x + 4.0;
            if left >= free_from && left + galley.size().x <= plot.right() + 12.0 {
                free_from = left + galley.size().x + 6.0;
                painter.galley(pos2(left, bottom + 2.5), galley, colours.ink2);
            }
        }
        painter.hline(plot.x_range(), bottom, Stroke::new(1.0, colours.ink));
        chart
    }

    /// The pixel of two figures.
    #[must_use]
    pub fn at(&self, x: f64, y: f64) -> Pos2 {
        pos2(self.x.px(x), self.y.px(y))
    }
}
