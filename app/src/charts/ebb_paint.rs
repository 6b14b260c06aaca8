//! Paints the ebb of a row.

use super::ebb::{Corner, Ebb, End};
use crate::theme::Palette;
use crate::widgets::mark::rhombus;
use eframe::egui::{Color32, Mesh, Painter, Pos2, Rangef, Rect, Shape, Stroke, pos2};

/// Where the ebb of a row stands.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Left and right end of the axis.
    pub x: Rangef,
    /// Where today stands.
    pub today: f32,
    /// Width of a day.
    pub day_width: f32,
    /// The base line: the limit.
    pub base: f32,
    /// Full height: a reserve of 10 % or more.
    pub height: f32,
    /// Upper and lower end of the row.
    pub row: Rangef,
    /// Ground of the row, for the rims of marks.
    pub ground: Color32,
}

impl Place {
    fn at(&self, days: f32) -> f32 {
        self.today + days * self.day_width
    }

    fn corner(&self, corner: &Corner) -> Pos2 {
        pos2(self.at(corner.days), self.base - corner.height * self.height)
    }

    fn shows(&self, days: f32) -> bool {
        self.x.contains(self.at(days))
    }
}

/// Paints it, with today's upright over its fills and under its marks.
pub fn paint(painter: &Painter, place: &Place, ebb: &Ebb, colours: &Palette) {
    let clip = Rect::from_x_y_ranges(place.x, painter.clip_rect().y_range());
    let inside = painter.with_clip_rect(clip.intersect(painter.clip_rect()));
    // base line first, so that fills stand on it
    inside.hline(place.x, place.base, Stroke::new(1.0, colours.rule));
    areas(&inside, place, ebb, colours);
    if let Some(over) = ebb.over {
        past_limit(&inside, place, over, colours);
    }
    if !ebb.restored.is_empty() {
        inside.line(ebb.restored.iter().map(|corner| place.corner(corner)).collect(), Stroke::new(1.0, colours.mid));
    }
    painter.vline(place.today, place.row, Stroke::new(1.0, colours.ink));
    marks(painter, place, ebb, colours);
}

fn areas(painter: &Painter, place: &Place, ebb: &Ebb, colours: &Palette) {
    let likely: Vec<Pos2> = ebb.likely.iter().map(|corner| place.corner(corner)).collect();
    let counted: Vec<Pos2> = ebb.counted.iter().map(|corner| place.corner(corner)).collect();
    let edge = Stroke::new(1.0, colours.mid);
    if ebb.is_outline {
        painter.extend(Shape::dashed_line(&likely, edge, 3.0, 3.0));
        painter.extend(Shape::dashed_line(&counted, edge, 3.0, 3.0));
        return;
    }
    let (light, dark) = if ebb.is_near { (colours.pale, colours.deep) } else { (colours.faint, colours.pale) };
    fill(painter, &likely, place.base, light);
    fill(painter, &counted, place.base, dark);
    // the edges also smooth the steps of the fills
    let dark_edge = Stroke::new(1.0, if ebb.is_near { colours.deep } else { colours.mid });
    for (path, stroke) in [(likely, edge), (counted, dark_edge)] {
        if path.len() > 1 {
            painter.line(path, stroke);
        }
    }
}

/// Fills between a path and the base line.
fn fill(painter: &Painter, path: &[Pos2], base: f32, ink: Color32) {
    if path.len() < 2 {
        return;
    }
    let mut mesh = Mesh::default();
    for point in path {
        mesh.colored_vertex(*point, ink);
        mesh.colored_vertex(pos2(point.x, base), ink);
    }
    for index in 0..path.len() as u32 - 1 {
        let first = index * 2;
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first + 1, first + 2, first + 3);
    }
    painter.add(mesh);
}

/// Half the height of the bar that tells how long past the limit.
const OVER_BAR: f32 = 4.0;

fn past_limit(painter: &Painter, place: &Place, over: super::ebb::Over, colours: &Palette) {
    let y = place.base - OVER_BAR..=place.base;
    // a limit passed today still shows
    let from = place.at(over.from).min(place.today - 3.0);
    painter.rect_filled(Rect::from_x_y_ranges(from..=place.today, y.clone()), 0.0, colours.act);
    if let Some(until) = over.until {
        let end = place.at(until);
        let mut x = place.today + 3.0;
        while x < end - 2.0 {
            painter.rect_filled(Rect::from_x_y_ranges(x..=(x + 3.0).min(end), y.clone()), 0.0, colours.act);
            x += 6.0;
        }
    }
}

fn marks(painter: &Painter, place: &Place, ebb: &Ebb, colours: &Palette) {
    if let Some((end, days)) = ebb.end.filter(|(_, days)| place.shows(*days)) {
        end_mark(painter, place, end, place.at(days), colours);
    }
    // the ring and the rhombus stand a little above the base line
    let y = place.base - 4.0;
    if let Some(days) = ebb.last_window.filter(|days| place.shows(*days)) {
        let ink = if ebb.is_outline { colours.ink2 } else { colours.act };
        ring(painter, pos2(place.at(days), y), ink, colours.paper);
    }
    if let Some(days) = ebb.booked.filter(|days| place.shows(*days)) {
        let at = pos2(place.at(days), y);
        let rim = Stroke::new(1.0, place.ground);
        painter.add(rhombus(at, 6.0, place.ground, rim));
        let (fill, stroke) = if ebb.is_booked_late {
            (colours.paper, Stroke::new(1.5, colours.act))
        } else {
            (colours.ink, Stroke::NONE)
        };
        painter.add(rhombus(at, 5.0, fill, stroke));
    }
}

/// The ring of the last window.
pub fn ring(painter: &Painter, centre: Pos2, ink: Color32, ground: Color32) {
    painter.circle(centre, 3.2, ground, Stroke::new(1.5, ink));
}

fn end_mark(painter: &Painter, place: &Place, end: End, x: f32, colours: &Palette) {
    let ink = colours.ink;
    let (top, bottom) = (place.base - place.height, place.base + 2.0);
    match end {
        End::Point => {
            painter.rect_filled(
                Rect::from_x_y_ranges(x - 0.5..=x + 0.5, place.base - 5.0..=place.base + 2.0),
                0.0,
                ink,
            );
        }
        End::Bar => bar(painter, x, top, bottom, ink),
        End::Notch => notch(painter, x, top, bottom, ink),
    }
}

/// The notch of the setting dimension: a bar with two short arms.
pub fn notch(painter: &Painter, x: f32, top: f32, bottom: f32, ink: Color32) {
    painter.rect_filled(Rect::from_x_y_ranges(x..=x + 2.0, top..=bottom), 0.0, ink);
    for y in [top, bottom - 2.0] {
        painter.rect_filled(Rect::from_x_y_ranges(x..=x + 5.0, y..=y + 2.0), 0.0, ink);
    }
}

/// The bar of a fixed date.
pub fn bar(painter: &Painter, x: f32, top: f32, bottom: f32, ink: Color32) {
    painter.rect_filled(Rect::from_x_y_ranges(x - 1.0..=x + 1.5, top..=bottom), 0.0, ink);
}
