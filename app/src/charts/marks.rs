//! The marks of readings and services: told apart by shape, not by colour.

use crate::theme::Palette;
use almanac_core::reading::Phase;
use eframe::egui::{Color32, Painter, Pos2, Shape, Stroke, pos2, vec2};

/// Half the height of a reading's mark.
pub const HALF: f32 = 4.0;

/// A reading: as found a filled triangle down, as left an open one up, routine an open circle.
pub fn reading(painter: &Painter, at: Pos2, phase: Phase, ink: Color32, ground: Color32) {
    let line = Stroke::new(1.4, ink);
    match phase {
        Phase::Routine => {
            painter.circle(at, 3.3, ground, line);
        }
        Phase::AsFound => {
            let corners = vec![at + vec2(-4.4, -3.4), at + vec2(4.4, -3.4), at + vec2(0.0, 4.2)];
            painter.add(Shape::convex_polygon(corners, ink, Stroke::NONE));
        }
        Phase::AsLeft => {
            let corners = vec![at + vec2(0.0, -4.6), at + vec2(4.4, 3.2), at + vec2(-4.4, 3.2)];
            painter.add(Shape::convex_polygon(corners, ground, line));
        }
    }
}

/// A cross: a doubted reading in the accent, a replaced one in a faint ink.
pub fn cross(painter: &Painter, at: Pos2, half: f32, stroke: Stroke) {
    painter.line_segment([at + vec2(-half, -half), at + vec2(half, half)], stroke);
    painter.line_segment([at + vec2(half, -half), at + vec2(-half, half)], stroke);
}

/// A service: a filled rhombus, with a bar where parts were changed.
pub fn service(painter: &Painter, at: Pos2, is_major: bool, ink: Color32) {
    painter.add(crate::widgets::mark::rhombus(at, 5.5, ink, Stroke::NONE));
    if is_major {
        painter.line_segment([at + vec2(-5.0, -8.0), at + vec2(5.0, -8.0)], Stroke::new(2.0, ink));
    }
}

/// A booked service: an open rhombus.
pub fn booked(painter: &Painter, at: Pos2, colours: &Palette) {
    painter.add(crate::widgets::mark::rhombus(at, 5.5, colours.paper, Stroke::new(1.3, colours.ink)));
}

/// Where the pointer or the keyboard cursor stands: a ring around the mark.
pub fn ring(painter: &Painter, at: Pos2, ink: Color32) {
    painter.circle_stroke(at, 6.8, Stroke::new(1.4, ink));
}

/// A dotted upright.
pub fn dotted_upright(painter: &Painter, x: f32, top: f32, bottom: f32, ink: Color32) {
    let x = painter.round_to_pixel_center(x);
    painter.extend(Shape::dotted_line(&[pos2(x, top), pos2(x, bottom)], ink, 4.0, 0.8));
}
