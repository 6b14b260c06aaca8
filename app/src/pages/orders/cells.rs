//! The words and figures of one line, each in its column.

use super::columns::{Columns, cell};
use super::line::Line;
use super::view::SortBy;
use crate::theme::{Palette, sans, semibold, size};
use crate::widgets::mark::{self, rhombus};
use crate::widgets::text;
use almanac_core::due::Mark;
use almanac_core::order::OrderState;
use almanac_core::orders_list::LineState;
use eframe::egui::{self, Painter, Pos2, Rect, Stroke, pos2, vec2};

/// Paints the cells of a line centred on `y`.
pub(super) fn paint(
    ui: &egui::Ui,
    painter: &Painter,
    columns: &Columns,
    line: &Line,
    (y, is_marked): (f32, bool),
    (colours, is_current): (&Palette, bool),
) {
    if is_marked {
        tick(painter, pos2(columns.tick, y), colours);
    }
    state_mark(ui, painter, pos2(columns.mark, y), line, colours);
    let figure = if is_current { colours.ink } else { colours.ink2 };
    let is_over = !line.of.is_open;
    for place in &columns.places {
        let words = cell(line, place.column);
        let (font, ink) = match place.column {
            SortBy::Number | SortBy::Position => {
                (semibold(size::BODY), if is_over { colours.ink2 } else { colours.ink })
            }
            SortBy::State if line.key.order.is_none() => (sans(size::BODY), colours.act),
            SortBy::ServiceBy if line.is_pressing => (semibold(size::BODY), colours.act),
            SortBy::When if line.is_late => (semibold(size::BODY), colours.act),
            SortBy::Kit if line.is_kit_late => (sans(size::BODY), colours.act),
            SortBy::When => (sans(size::BODY), if is_over { colours.ink2 } else { colours.ink }),
            SortBy::Interface | SortBy::StopCost => (sans(size::BODY), colours.ink2),
            SortBy::ServiceBy | SortBy::Kit => (sans(size::BODY), if is_over { colours.ink2 } else { figure }),
            _ => (sans(size::BODY), if is_over { colours.ink2 } else { colours.ink }),
        };
        if place.column.is_figure() {
            text::right(painter, pos2(place.x.max, y), words, font, ink);
        } else {
            let drawn = text::left_cut(painter, pos2(place.x.min, y), words, font, ink, place.x.span());
            if place.column == SortBy::When && line.of.held {
                held(painter, pos2(drawn.right() + 4.0, y), place.x.max + 12.0, colours);
            }
        }
    }
    if let Some(reason) = columns.reason {
        let at = pos2(reason.min, y);
        let words = if is_over { "" } else { line.of.reason.as_str() };
        text::left_cut(painter, at, words, sans(size::BODY), colours.ink2, reason.span());
    }
}

/// A held order has a short upright behind its day, as its block in a plan has a thick edge.
fn held(painter: &Painter, at: Pos2, room: f32, colours: &Palette) {
    if at.x + 3.0 <= room {
        painter.rect_filled(Rect::from_center_size(at + vec2(1.5, 0.0), vec2(3.0, 11.0)), 0.0, colours.ink);
    }
}

/// The shape of a line: its mark where it is to book, a rhombus that fills as the work goes on, a dot
/// or a bar at its end.
fn state_mark(ui: &egui::Ui, painter: &Painter, at: Pos2, line: &Line, colours: &Palette) {
    let ink = if line.is_late { colours.act } else { colours.ink };
    let outline = Stroke::new(1.3, ink);
    match line.of.state {
        LineState::ToBook => {
            let mark = if line.of.mark.needs_action() { line.of.mark } else { Mark::ToBook };
            mark::paint(ui, painter, at, mark);
        }
        LineState::Order(OrderState::Planned) => {
            painter.add(rhombus(at, 5.0, colours.paper, outline));
        }
        LineState::Order(OrderState::Issued) => {
            painter.add(rhombus(at, 5.0, ink, Stroke::NONE));
        }
        LineState::Order(OrderState::UnderWay) => {
            painter.add(rhombus(at, 5.0, ink, Stroke::NONE));
            painter.circle_filled(at, 1.5, colours.paper);
        }
        LineState::Order(OrderState::PartlyDone) => {
            painter.add(rhombus(at, 5.0, colours.paper, outline));
            let lower = vec![at + vec2(-3.6, 0.0), at + vec2(3.6, 0.0), at + vec2(0.0, 5.0)];
            painter.add(egui::Shape::convex_polygon(lower, ink, Stroke::NONE));
        }
        LineState::Order(OrderState::Done) => mark::paint(ui, painter, at, Mark::Clear),
        LineState::Order(OrderState::NotDone) => mark::paint(ui, painter, at, Mark::OutOfService),
    }
}

/// The tick of a marked line.
fn tick(painter: &Painter, at: Pos2, colours: &Palette) {
    let pen = Stroke::new(2.0, colours.ink);
    painter.line_segment([at + vec2(-4.0, 0.0), at + vec2(-1.0, 3.5)], pen);
    painter.line_segment([at + vec2(-1.0, 3.5), at + vec2(4.5, -4.0)], pen);
}
