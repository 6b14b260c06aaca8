//! Where labels stand in a chart, so that none lies on another or on what it names.

use eframe::egui::{Pos2, Rect, Vec2, pos2, vec2};

/// What is already taken in a chart.
#[derive(Debug, Clone)]
pub struct Labels {
    bounds: Rect,
    taken: Vec<Rect>,
}

impl Labels {
    /// Nothing is taken yet; labels stay inside the bounds.
    #[must_use]
    pub const fn within(bounds: Rect) -> Self {
        Self { bounds, taken: Vec::new() }
    }

    /// Takes a place.
    pub fn take(&mut self, rect: Rect) {
        if rect.is_finite() && rect.intersects(self.bounds) {
            self.taken.push(rect);
        }
    }

    /// Takes the places along a line.
    pub fn take_line(&mut self, points: &[Pos2]) {
        const EVERY: f32 = 6.0;
        for (from, to) in points.iter().zip(points.iter().skip(1)) {
            let length = from.distance(*to);
            if !length.is_finite() {
                continue;
            }
            let steps = (length / EVERY).ceil().clamp(1.0, 400.0) as usize;
            for step in 0..=steps {
                let at = from.lerp(*to, step as f32 / steps as f32);
                self.take(Rect::from_center_size(at, Vec2::splat(4.0)));
            }
        }
    }

    /// The best of some places (left top corners) for a text of that size; takes it.
    ///
    /// The first free one counts; else the one that covers least.
    pub fn place(&mut self, size: Vec2, candidates: &[Pos2]) -> Option<Rect> {
        let mut best: Option<(f32, Rect)> = None;
        for corner in candidates {
            let rect = Rect::from_min_size(self.inside(*corner, size), size);
            let moved = rect.min.distance(*corner);
            let least = best.map_or(f32::INFINITY, |(least, _)| least);
            let mut cost = moved;
            for taken in &self.taken {
                cost += area(rect.intersect(*taken));
                if cost > least {
                    break;
                }
            }
            if best.is_none_or(|(least, _)| cost < least - 1e-3) {
                best = Some((cost, rect));
            }
            if cost < 1e-3 {
                break;
            }
        }
        let (_, rect) = best?;
        self.taken.push(rect.expand2(vec2(3.0, 0.0)));
        Some(rect)
    }

    /// The best place where nearness to the first one counts as much as what is covered: for labels
    /// that name the end of a line.
    pub fn place_near(&mut self, size: Vec2, candidates: &[Pos2]) -> Option<Rect> {
        let wanted = *candidates.first()?;
        let cost = |rect: &Rect| {
            let covered: f32 = self.taken.iter().map(|taken| area(rect.intersect(*taken))).sum();
            covered * 0.5 + rect.min.distance(wanted)
        };
        let places = candidates.iter().map(|corner| Rect::from_min_size(self.inside(*corner, size), size));
        let rect = places.min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
        self.taken.push(rect.expand2(vec2(3.0, 0.0)));
        Some(rect)
    }

    fn inside(&self, corner: Pos2, size: Vec2) -> Pos2 {
        let x = corner.x.min(self.bounds.right() - size.x).max(self.bounds.left());
        let y = corner.y.min(self.bounds.bottom() - size.y).max(self.bounds.top());
        pos2(x, y)
    }
}

fn area(rect: Rect) -> f32 {
    if rect.is_positive() { rect.area() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Labels {
        Labels::within(Rect::from_min_max(pos2(0.0, 0.0), pos2(200.0, 100.0)))
    }

    #[test]
    fn a_label_takes_the_first_free_place() {
        let mut labels = chart();
        labels.take_line(&[pos2(0.0, 10.0), pos2(200.0, 10.0)]);
        let rect = labels.place(vec2(40.0, 12.0), &[pos2(20.0, 4.0), pos2(20.0, 30.0)]).unwrap();
        assert_eq!(rect.min, pos2(20.0, 30.0));
        let next = labels.place(vec2(40.0, 12.0), &[pos2(30.0, 30.0), pos2(100.0, 30.0)]).unwrap();
        assert_eq!(next.min, pos2(100.0, 30.0));
    }

    #[test]
    fn a_label_at_a_line_stays_near_it() {
        let mut labels = chart();
        labels.take(Rect::from_min_max(pos2(20.0, 20.0), pos2(22.0, 30.0)));
        let far = [pos2(20.0, 20.0), pos2(23.0, 20.0), pos2(150.0, 60.0)];
        assert_eq!(labels.place_near(vec2(40.0, 12.0), &far).unwrap().min, pos2(23.0, 20.0));
    }

    #[test]
    fn a_label_stays_inside_and_covers_least() {
        let mut labels = chart();
        labels.take(Rect::from_min_max(pos2(0.0, 0.0), pos2(200.0, 100.0)));
        let rect = labels.place(vec2(40.0, 12.0), &[pos2(190.0, 95.0)]).unwrap();
        assert_eq!(rect.max, pos2(200.0, 100.0));
        assert!(labels.place(vec2(1.0, 1.0), &[]).is_none());
    }
}
