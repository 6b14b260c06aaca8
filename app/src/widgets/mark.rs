//! The state marks: a shape for each word, 10 px, so that nothing rests on colour alone.

use crate::theme::palette;
use almanac_core::due::Mark;
use eframe::egui::{self, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// Paints the mark of a state around a centre.
pub fn paint(ui: &egui::Ui, painter: &egui::Painter, centre: Pos2, mark: Mark) {
    let colours = palette(ui);
    let square = Rect::from_center_size(centre, vec2(9.0, 9.0));
    let stroke = Stroke::new(1.5, colours.act);
    match mark {
        Mark::DoNotRun => {
            painter.rect_filled(square, 0.0, colours.act);
            let cross = Stroke::new(1.5, colours.paper);
            let inner = square.shrink(2.0);
            painter.line_segment([inner.left_top(), inner.right_bottom()], cross);
            painter.line_segment([inner.right_top(), inner.left_bottom()], cross);
        }
        Mark::PastLimit => {
            painter.rect_filled(square, 0.0, colours.act);
        }
        Mark::ToBook => {
            painter.rect_stroke(square, 0.0, stroke, egui::StrokeKind::Inside);
        }
        Mark::Booked => {
            painter.add(rhombus(centre, 5.0, colours.ink, Stroke::NONE));
        }
        Mark::BookedLate => {
            painter.add(rhombus(centre, 5.0, colours.paper, stroke));
        }
        Mark::Clear => {
            painter.circle_filled(centre, 1.5, colours.ink2);
        }
        Mark::NoReading => {
            painter.circle_stroke(centre, 4.0, Stroke::new(1.3, colours.ink));
        }
        Mark::OutOfService => {
            painter.line_segment([centre - vec2(4.0, 0.0), centre + vec2(4.0, 0.0)], Stroke::new(2.0, colours.ink2));
        }
    }
}

/// An upright rhombus: a service or a booking.
pub fn rhombus(centre: Pos2, half: f32, fill: egui::Color32, stroke: Stroke) -> Shape {
    let width = half * 0.72;
    let corners = vec![
        pos2(centre.x, centre.y - half),
        pos2(centre.x + width, centre.y),
        pos2(centre.x, centre.y + half),
        pos2(centre.x - width, centre.y),
    ];
    Shape::convex_polygon(corners, fill, stroke)
}
