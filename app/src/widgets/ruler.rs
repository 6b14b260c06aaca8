//! The ruler: where strokes lie against the limits and what is expected.

use crate::theme::{palette, sans, semibold, size};
use eframe::egui::{self, Align2, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// What an upright on the ruler stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RulerLimit {
    /// Under it a service is due: ink, dashed.
    Service,
    /// Under it the spindle must not run: accent, the ground below tinted.
    Stop,
    /// An end of a tolerance: ink, dashed.
    Tolerance,
}

/// What a mark on the ruler stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RulerMark {
    /// A stroke.
    Stroke,
    /// A stroke that is asked about or doubted.
    Doubted,
    /// As-found strokes: filled triangle down.
    AsFound,
    /// As-left strokes: open triangle up.
    AsLeft,
}

/// A span on the ruler in the unit shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// All that a ruler shows; every figure in the unit that it names.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ruler {
    /// Unit at the right end of the scale.
    pub unit: &'static str,
    /// Uprights with their words, such as `service limit 8.8`.
    pub limits: Vec<(RulerLimit, f64, String)>,
    /// The expected band (outer) with its middle half (inner).
    pub expected: Option<(Span, Span)>,
    /// What stands over the band, such as `expected on 2 March, 80 %`.
    pub expected_words: String,
    /// Strokes.
    pub marks: Vec<(RulerMark, f64)>,
    /// The same in one sentence, for those who do not see it.
    pub sentence: String,
}

const HEIGHT: f32 = 70.0;
const BAND: f32 = 18.0;

impl Ruler {
    /// The scale: everything that stands on it with a little room.
    fn scale(&self) -> Option<Span> {
        let limits = self.limits.iter().map(|(_, at, _)| *at);
        let band = self.expected.iter().flat_map(|(outer, _)| [outer.low, outer.high]);
        let all: Vec<f64> = limits.chain(band).chain(self.marks.iter().map(|(_, at)| *at)).collect();
        let low = all.iter().copied().reduce(f64::min)?;
        let high = all.iter().copied().reduce(f64::max)?;
        let room = ((high - low) * 0.12).max(high.abs() * 0.01).max(1e-6);
        Some(Span { low: low - room, high: high + room })
    }
}

/// Draws the ruler as wide as there is room.
pub fn ruler(ui: &mut egui::Ui, data: &Ruler) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &data.sentence));
    let Some(scale) = data.scale() else { return };
    let colours = palette(ui);
    let painter = ui.painter().with_clip_rect(rect.expand(2.0));
    let base = rect.top() + 42.0;
    let span = Rect::from_min_max(pos2(rect.left() + 8.0, rect.top()), pos2(rect.right() - 34.0, rect.bottom()));
    let x = |value: f64| span.left() + ((value - scale.low) / (scale.high - scale.low)) as f32 * span.width();
    let upright = |from: f32, to: f32| Rect::from_min_max(pos2(from, base - BAND / 2.0), pos2(to, base + BAND / 2.0));
    for (limit, at, _) in &data.limits {
        if *limit == RulerLimit::Stop {
            painter.rect_filled(upright(span.left(), x(*at)), 0.0, colours.act_tint);
        }
    }
    if let Some((outer, inner)) = data.expected {
        painter.rect_filled(upright(x(outer.low), x(outer.high)), 0.0, colours.pale);
        painter.rect_filled(upright(x(inner.low), x(inner.high)), 0.0, colours.mid);
        let centre = (x(outer.low) + x(outer.high)) / 2.0;
        band_words(&painter, &data.expected_words, pos2(centre, base - 30.0), span, colours.ink2);
    }
    painter.hline(span.x_range(), base, Stroke::new(1.0, colours.ink));
    ticks(&painter, scale, &x, base, ui);
    painter.text(pos2(rect.right(), base + 19.0), Align2::RIGHT_CENTER, data.unit, sans(size::LABEL), colours.ink3);
    limit_lines(ui, &painter, data, &x, base, span);
    for (mark, at) in &data.marks {
        paint_mark(ui, &painter, *mark, pos2(x(*at), base));
    }
}

fn band_words(painter: &egui::Painter, words: &str, centre: egui::Pos2, span: Rect, ink: egui::Color32) {
    let galley = painter.layout_no_wrap(words.to_owned(), sans(size::LABEL), ink);
    let half = galley.size().x / 2.0;
    let (low, high) = (span.left() + half, (span.right() + 30.0 - half).max(span.left() + half));
    let left = centre.x.clamp(low, high) - half;
    painter.galley(pos2(left, centre.y - galley.size().y), galley, ink);
}

fn limit_lines(ui: &egui::Ui, painter: &egui::Painter, data: &Ruler, x: &dyn Fn(f64) -> f32, base: f32, span: Rect) {
    let colours = palette(ui);
    let mut free_from = f32::NEG_INFINITY;
    let mut sorted: Vec<_> = data.limits.iter().collect();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (limit, at, words) in sorted {
        let at = x(*at);
        let ink = if *limit == RulerLimit::Stop { colours.act } else { colours.ink };
        let (top, bottom) = (base - BAND / 2.0 - 6.0, base + BAND / 2.0);
        if *limit == RulerLimit::Stop {
            painter.vline(at, top..=bottom, Stroke::new(1.5, ink));
        } else {
            let line = [pos2(at, top), pos2(at, bottom)];
            painter.extend(egui::Shape::dashed_line(&line, Stroke::new(1.5, ink), 3.0, 2.5));
        }
        let galley = painter.layout_no_wrap(words.clone(), semibold(size::SMALL), ink);
        let wanted = (at + 4.0).min(span.right() + 30.0 - galley.size().x);
        let left = wanted.max(free_from + 6.0);
        free_from = left + galley.size().x;
        painter.galley(pos2(left, base - BAND / 2.0 - 4.0 - galley.size().y), galley, ink);
    }
}

fn paint_mark(ui: &egui::Ui, painter: &egui::Painter, mark: RulerMark, at: egui::Pos2) {
    let colours = palette(ui);
    let triangle = |tip: f32| vec![pos2(at.x - 5.0, at.y - tip), pos2(at.x + 5.0, at.y - tip), pos2(at.x, at.y + tip)];
    match mark {
        RulerMark::Stroke => {
            painter.circle(at, 4.0, colours.field, Stroke::new(1.5, colours.ink));
        }
        RulerMark::Doubted => {
            painter.circle(at, 4.0, colours.field, Stroke::new(1.5, colours.act));
        }
        RulerMark::AsFound => {
            painter.add(egui::Shape::convex_polygon(triangle(4.5), colours.ink, Stroke::NONE));
        }
        RulerMark::AsLeft => {
            painter.add(egui::Shape::convex_polygon(triangle(-4.5), colours.field, Stroke::new(1.5, colours.ink)));
        }
    }
}

/// Steps of 1, 2 or 5 so that four to nine of them fit.
fn step_of(scale: Span) -> f64 {
    let rough = (scale.high - scale.low) / 6.0;
    let power = 10_f64.powf(rough.log10().floor());
    let share = rough / power;
    power
        * if share < 1.5 {
            1.0
        } else if share < 3.5 {
            2.0
        } else if share < 7.5 {
            5.0
        } else {
            10.0
        }
}

fn ticks(painter: &egui::Painter, scale: Span, x: &dyn Fn(f64) -> f32, base: f32, ui: &egui::Ui) {
    let colours = palette(ui);
    let step = step_of(scale);
    let decimals = (-step.log10().floor()).clamp(0.0, 4.0) as usize;
    let (first, last) = ((scale.low / step).ceil() as i64, (scale.high / step).floor() as i64);
    for index in first..=last {
        let value = index as f64 * step;
        let at = x(value);
        painter.vline(at, base - 3.0..=base + 3.0, Stroke::new(1.0, colours.ink));
        let words = format!("{value:.decimals$}");
        painter.text(pos2(at, base + 19.0), Align2::CENTER_CENTER, words, sans(size::LABEL), colours.ink2);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for (low, high) in [(7.4, 11.1), (12.0, 18.5), (10.3, 10.7), (2400.0, 4100.0)] {
            let scale = Span { low, high };
            let count = (high - low) / step_of(scale);
            assert!((3.0..=12.0).contains(&count), "{low} to {high}: {count}");
        }
    }

    #[test]
    fn the_scale_holds_all_that_stands_on_it() {
        let data = Ruler {
            limits: vec![(RulerLimit::Stop, 7.7, String::new())],
            expected: Some((Span { low: 9.9, high: 10.3 }, Span { low: 10.0, high: 10.2 })),
            marks: vec![(RulerMark::Stroke, 10.5)],
            ..Ruler::default()
        };
        let scale = data.scale().unwrap();
        assert!(scale.low < 7.7 && scale.high > 10.5);
        assert!(Ruler::default().scale().is_none());
    }
}
