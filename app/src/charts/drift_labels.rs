//! The direct labels of the drift chart and where they find room.

use super::drift::{Drift, StepPoint};
use super::drift_paint::{Frame, Scene};
use super::labels::Labels;
use crate::theme::{Palette, sans, semibold, size};
use eframe::egui::{Color32, FontId, Painter, Pos2, Rect, Vec2, pos2, vec2};

/// What stands at the lines of the chart.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LineWords {
    /// At the service limit.
    pub service_limit: String,
    /// At the stop limit.
    pub stop_limit: String,
    /// At the line of what services restored.
    pub restored: String,
    /// At the upright of the as-of day.
    pub today: String,
    /// At the drops at once, in their order.
    pub steps: Vec<String>,
    /// At the booked service.
    pub booked: String,
    /// At service-by.
    pub service_by: String,
    /// At service-by in force, where the figures are pretended.
    pub in_force: String,
    /// At the fan where the spindle was never measured.
    pub fan: String,
    /// Word and figure of doubted readings, by their place among the readings.
    pub doubted: Vec<(usize, String)>,
}

/// The short upright that marks service-by: from the service limit down.
#[must_use]
pub fn service_by_place(frame: &Frame, drift: &Drift, x: f64) -> [Pos2; 2] {
    let x = frame.x.px(x).round();
    let from = frame.y.px(drift.service_limit);
    let to = (from + 44.0).min(frame.plot.bottom());
    [pos2(x, from), pos2(x, to)]
}

/// The short upright that marks service-by in force beside a pretended one: above the limit.
#[must_use]
pub fn in_force_place(frame: &Frame, service_limit: f64, x: f64) -> [Pos2; 2] {
    let x = frame.x.px(x).round();
    let from = frame.y.px(service_limit);
    [pos2(x, from), pos2(x, (from - 34.0).max(frame.plot.top()))]
}

struct Writer<'a> {
    painter: &'a Painter,
    labels: Labels,
    ground: Color32,
}

impl Writer<'_> {
    /// Writes a label at the best of the places that are found for its size.
    fn write(&mut self, text: &str, font: FontId, ink: Color32, places: impl FnOnce(Vec2) -> Vec<Pos2>) {
        if text.is_empty() {
            return;
        }
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, ink);
        let candidates = places(galley.size());
        if let Some(rect) = self.labels.place(galley.size(), &candidates) {
            self.painter.rect_filled(rect.shrink2(vec2(-2.0, 2.0)), 0.0, self.ground);
            self.painter.galley(rect.min, galley, ink);
        }
    }
}

/// Writes all labels, first those with the least choice.
pub(super) fn paint(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let bounds = Rect::from_min_max(frame.plot.min - vec2(0.0, 17.0), frame.plot.max).shrink2(vec2(2.0, 0.0));
    let mut writer = Writer { painter, labels: Labels::within(bounds), ground: colours.paper };
    take_data(&mut writer.labels, frame, scene);
    at_today(&mut writer, frame, scene, colours);
    at_in_force(&mut writer, frame, scene, colours);
    at_doubted(&mut writer, frame, scene, colours);
    at_steps(&mut writer, frame, scene, colours);
    let label = size::LABEL;
    let plot = frame.plot;
    let service_limit = frame.y.px(scene.drift.service_limit);
    writer.write(&scene.words.service_limit, semibold(label), colours.ink, |size| {
        along(plot, size, |_| [service_limit + 3.0, service_limit - size.y - 3.0])
    });
    let stop_limit = frame.y.px(scene.drift.stop_limit);
    writer.ground = colours.act_tint;
    writer.write(&scene.words.stop_limit, semibold(label), colours.act, |size| {
        along(plot, size, |_| [stop_limit + 3.0, stop_limit + 3.0])
    });
    writer.ground = colours.paper;
    let restored = &scene.drift.restored;
    if let (Some(first), Some(last)) = (restored.first().copied(), restored.last().copied()) {
        let height = |px: f32| {
            let share = (frame.x.value(px) - first.0) / (last.0 - first.0).max(1e-9);
            frame.y.px(first.1 + (last.1 - first.1) * share)
        };
        let from = frame.x.px(first.0).max(plot.left());
        let room = Rect::from_min_max(pos2(from, plot.top()), plot.max);
        writer.write(&scene.words.restored, sans(label), colours.ink2, |size| {
            along(room, size, |x| {
                let (left, right) = (height(x), height(x + size.x));
                [left.min(right) - size.y - 2.0, left.max(right) + 3.0]
            })
        });
    }
    at_fan(&mut writer, frame, scene, colours);
}

/// Places along the plot, at each x the heights in the order of their worth.
fn along(plot: Rect, size: Vec2, heights: impl Fn(f32) -> [f32; 2]) -> Vec<Pos2> {
    let last = (plot.right() - size.x - 4.0).max(plot.left() + 4.0);
    let mut places = Vec::new();
    let mut x = (plot.left() + 20.0).min(last);
    while x <= last {
        places.extend(heights(x).map(|y| pos2(x, y)));
        x += 10.0;
    }
    places
}

/// What labels must not cover.
fn take_data(labels: &mut Labels, frame: &Frame, scene: &Scene<'_>) {
    let drift = scene.drift;
    let put = |line: &[(f64, f64)]| -> Vec<Pos2> { line.iter().map(|(x, force)| frame.at(*x, *force)).collect() };
    for line in drift.fits.iter().chain([&drift.restored, &drift.after_booked]) {
        labels.take_line(&put(line));
    }
    for quantile in [0, 3, 6] {
        let edge: Vec<Pos2> = drift.fan.iter().map(|day| frame.at(day.x, day.force[quantile])).collect();
        labels.take_line(&edge);
    }
    for point in scene.kept.iter().filter_map(|index| drift.readings.get(*index)) {
        if !point.is_replaced || scene.shows_replaced {
            labels.take(Rect::from_center_size(frame.mark(point), Vec2::splat(11.0)));
        }
    }
    for step in &drift.steps {
        for bar in step_bars(frame, step) {
            labels.take_line(&bar);
        }
    }
    for force in [drift.service_limit, drift.stop_limit] {
        let y = frame.y.px(force);
        labels.take(Rect::from_x_y_ranges(frame.plot.x_range(), y - 1.0..=y + 1.0));
    }
    let upright = |x: f64| {
        let px = frame.x.px(x);
        Rect::from_x_y_ranges(px - 0.5..=px + 0.5, frame.plot.top()..=frame.plot.bottom())
    };
    let knob = |x: f64| Rect::from_center_size(pos2(frame.x.px(x), frame.plot.top() - 3.0), vec2(12.0, 14.0));
    for service in &drift.services {
        labels.take(upright(service.x));
        labels.take(knob(service.x));
    }
    if let Some(x) = drift.today {
        labels.take(upright(x));
    }
    if let Some((x, _)) = drift.booked {
        labels.take(knob(x));
    }
    if let Some(in_force) = &drift.in_force {
        labels.take_line(&put(&in_force.median));
        if let Some((x, _)) = in_force.service_by {
            let [from, to] = in_force_place(frame, in_force.service_limit, x);
            labels.take(Rect::from_two_pos(from, to).expand(2.0));
        }
    }
    if let Some((x, _)) = drift.service_by {
        let [from, to] = service_by_place(frame, drift, x);
        labels.take(Rect::from_two_pos(from, to).expand(2.0));
    }
}

fn at_today(writer: &mut Writer<'_>, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let plot = frame.plot;
    let is_in_view = |x: f64| plot.x_range().contains(frame.x.px(x));
    if let Some((x, _)) = scene.drift.booked.filter(|(x, _)| is_in_view(*x)) {
        let x = frame.x.px(x);
        writer.write(&scene.words.booked, sans(size::LABEL), colours.ink, |size| {
            let y = plot.top() - 17.0;
            vec![pos2(x + 9.0, y), pos2(x - 9.0 - size.x, y)]
        });
    }
    if let Some(x) = scene.drift.today.filter(|x| is_in_view(*x)) {
        let x = frame.x.px(x);
        writer.write(&scene.words.today, semibold(size::LABEL), colours.ink, |size| {
            let mut places = vec![pos2(x - size.x - 3.0, plot.top() - 17.0), pos2(x + 4.0, plot.top() - 17.0)];
            for row in 0..6 {
                let y = plot.top() + row as f32 * 8.0;
                places.extend([pos2(x - size.x - 5.0, y), pos2(x + 5.0, y)]);
            }
            places
        });
    }
    if let Some((x, _)) = scene.drift.service_by.filter(|(x, _)| is_in_view(*x)) {
        let [from, to] = service_by_place(frame, scene.drift, x);
        // left of today's upright where the marker stands close to it
        let today = scene.drift.today.map_or(from.x, |today| frame.x.px(today));
        let left_of = if (from.x - today).abs() < 30.0 { today.min(from.x) } else { from.x };
        writer.write(&scene.words.service_by, semibold(size::LABEL), colours.ink, |size| {
            let mut places = Vec::new();
            for row in 0..5 {
                let y = to.y - size.y + 3.0 - row as f32 * 6.0;
                places.push(pos2(left_of - size.x - 6.0, y));
                places.push(pos2(from.x + 6.0, y));
            }
            places.push(pos2(left_of - size.x - 6.0, to.y + 6.0));
            places
        });
    }
}

/// At service-by in force, where it is in view; else nothing is said of it in the chart.
fn at_in_force(writer: &mut Writer<'_>, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let Some(in_force) = &scene.drift.in_force else { return };
    let Some((x, _)) = in_force.service_by.filter(|(x, _)| frame.plot.x_range().contains(frame.x.px(*x))) else {
        return;
    };
    let [_, to] = in_force_place(frame, in_force.service_limit, x);
    writer.write(&scene.words.in_force, sans(size::LABEL), colours.ink2, |size| {
        let mut places = Vec::new();
        for row in 0..6 {
            let y = to.y - size.y - 2.0 - row as f32 * 8.0;
            places.extend([pos2(to.x - size.x / 2.0, y), pos2(to.x + 6.0, y), pos2(to.x - size.x - 6.0, y)]);
        }
        places
    });
}

fn at_doubted(writer: &mut Writer<'_>, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    for (index, text) in &scene.words.doubted {
        let Some(point) = scene.drift.readings.get(*index) else { continue };
        if !frame.plot.x_range().contains(frame.x.px(point.x)) {
            continue;
        }
        let at = frame.mark(point);
        writer.write(text, sans(size::LABEL), colours.act, |size| {
            let middle = at.y - size.y / 2.0;
            vec![
                pos2(at.x + 8.0, middle),
                pos2(at.x - 8.0 - size.x, middle),
                pos2(at.x + 8.0, middle - 10.0),
                pos2(at.x + 8.0, middle + 10.0),
                pos2(at.x - size.x / 2.0, at.y - size.y - 6.0),
                pos2(at.x - size.x / 2.0, at.y + 6.0),
            ]
        });
    }
}

/// The two bars of a step: at the force before it, and at the force after it.
#[must_use]
pub fn step_bars(frame: &Frame, step: &StepPoint) -> [[Pos2; 2]; 2] {
    const HALF: f32 = 7.0;
    let x = (frame.x.px(step.between.0) + frame.x.px(step.between.1)) / 2.0;
    [step.force.0, step.force.1].map(|force| {
        let y = frame.y.px(force).round();
        [pos2(x - HALF, y), pos2(x + HALF, y)]
    })
}

fn at_steps(writer: &mut Writer<'_>, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    for (step, text) in scene.drift.steps.iter().zip(&scene.words.steps) {
        let [upper, lower] = step_bars(frame, step);
        if !frame.plot.x_range().contains(upper[0].x) {
            continue;
        }
        writer.write(text, semibold(size::LABEL), colours.act, |size| {
            let middle = (upper[0].y + lower[0].y - size.y) / 2.0;
            let mut places = vec![pos2(upper[1].x + 4.0, middle), pos2(upper[0].x - 4.0 - size.x, middle)];
            for row in 0..8 {
                let down = row as f32 * 9.0;
                places.extend([
                    pos2(upper[0].x - 4.0 - size.x, lower[0].y + down),
                    pos2(upper[1].x + 4.0, upper[0].y - size.y - down),
                ]);
            }
            places
        });
    }
}

fn at_fan(writer: &mut Writer<'_>, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let Some(first) = scene.drift.fan.first() else { return };
    let at = frame.at(first.x, first.force[6]);
    writer.write(&scene.words.fan, sans(size::LABEL), colours.ink2, |size| {
        vec![pos2(at.x - size.x - 8.0, at.y), pos2(at.x + 8.0, at.y - size.y - 6.0)]
    });
}
