//! Paints the drift chart: ground, axes, fan, lines, marks and labels, in this order.

use super::clock::Axis;
use super::dates::date_marks;
use super::drift::{Drift, ReadingPoint, force_marks};
use super::scale::{Scale, decimals_of, marks as round_marks, step_of};
use super::{drift_labels, marks};
use crate::theme::{Palette, palette, sans, size};
use almanac_core::ids::ReadingId;
use almanac_core::reading::Phase;
use almanac_core::units::Unit;
use almanac_core::words;
use eframe::egui::{self, Align2, Color32, Mesh, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// What is shown of a drift, and how.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The data.
    pub drift: &'a Drift,
    /// First and last place of the axis in view.
    pub view: (f64, f64),
    /// Lowest and highest force in kN in view.
    pub forces: (f64, f64),
    /// Readings worth drawing: indices into those of the drift.
    pub kept: &'a [usize],
    /// Unit of the force axis.
    pub unit: Unit,
    /// Replaced readings are shown too.
    pub shows_replaced: bool,
    /// The figures are of an earlier state of the shop.
    pub is_stale: bool,
    /// What stands at the lines.
    pub words: &'a drift_labels::LineWords,
}

/// Room left of the plot for the figures of the force axis.
const LEFT: f32 = 38.0;
/// Room above it for the marks of services.
const TOP: f32 = 18.0;
/// Room below it for dates.
const BOTTOM: f32 = 20.0;

/// Where the plot stands in its place, and its two scales.
#[derive(Debug, Clone, Copy)]
pub struct Frame {
    /// The plot.
    pub plot: Rect,
    /// Along.
    pub x: Scale,
    /// Up: kN.
    pub y: Scale,
}

impl Frame {
    /// The frame of a chart in a place.
    #[must_use]
    pub fn of(place: Rect, view: (f64, f64), forces: (f64, f64)) -> Self {
        let plot = Rect::from_min_max(
            pos2(place.left() + LEFT, place.top() + TOP),
            pos2(place.right(), (place.bottom() - BOTTOM).round()),
        );
        Self {
            plot,
            x: Scale::new(view.0, view.1, plot.left(), plot.right()),
            y: Scale::new(forces.0, forces.1, plot.bottom(), plot.top()),
        }
    }

    /// The pixel of a place and a force.
    #[must_use]
    pub fn at(&self, x: f64, force: f64) -> Pos2 {
        pos2(self.x.px(x), self.y.px(force))
    }

    /// The mark of a reading; outside the plot a doubted one is kept at its edge.
    #[must_use]
    pub fn mark(&self, point: &ReadingPoint) -> Pos2 {
        let at = self.at(point.x, point.force);
        pos2(at.x, at.y.clamp(self.plot.top() + 5.0, self.plot.bottom() - 5.0))
    }
}

/// Paints the chart; the cursor comes later, by [`cursor`].
pub fn paint(ui: &egui::Ui, place: Rect, scene: &Scene<'_>) -> Frame {
    let colours = palette(ui);
    let frame = Frame::of(place, scene.view, scene.forces);
    let outer = ui.painter().clone();
    let inner = outer.with_clip_rect(frame.plot.intersect(outer.clip_rect()));
    ground(&inner, &frame, scene, colours);
    force_axis(&outer, &frame, scene, colours);
    place_axis(&outer, &frame, scene, colours);
    fan(&inner, &frame, scene, colours);
    let beside = outer.with_clip_rect(frame.plot.expand2(vec2(0.0, 18.0)).intersect(outer.clip_rect()));
    uprights(&inner, &beside, &frame, scene, colours);
    let is_dense = scene.kept.len() as f32 > frame.plot.width() / 4.0;
    if is_dense {
        dots(&inner, &frame, scene, colours);
    }
    lines(&inner, &frame, scene, colours);
    limits(&inner, &frame, scene, colours);
    drift_labels::paint(&beside, &frame, scene, colours);
    readings(&inner, &frame, scene, (is_dense, colours));
    steps(&inner, &frame, scene, colours);
    frame
}

/// Paints the cursor at a reading or service: a dotted upright, and a ring where there is a mark.
pub fn cursor(painter: &Painter, frame: &Frame, x: f64, mark: Option<Pos2>, ink: Color32) {
    let px = frame.x.px(x);
    if px < frame.plot.left() - 1.0 || px > frame.plot.right() + 1.0 {
        return;
    }
    marks::dotted_upright(painter, px, frame.plot.top(), frame.plot.bottom(), ink);
    if let Some(at) = mark {
        marks::ring(painter, at, ink);
    }
}

fn ground(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    for (from, to) in &scene.drift.closures {
        let shade =
            Rect::from_min_max(pos2(frame.x.px(*from), frame.plot.top()), pos2(frame.x.px(*to), frame.plot.bottom()));
        painter.rect_filled(shade, 0.0, colours.shade);
    }
    let stop = frame.y.px(scene.drift.stop_limit);
    if stop < frame.plot.bottom() {
        let below = Rect::from_min_max(pos2(frame.plot.left(), stop), frame.plot.max);
        painter.rect_filled(below, 0.0, colours.act_tint);
    }
}

fn force_axis(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let most = (frame.plot.height() / 34.0).floor().max(2.0) as usize;
    let all = force_marks(scene.forces.0, scene.forces.1, scene.unit, most);
    let top = all.len().saturating_sub(1);
    for (index, (force, text)) in all.iter().enumerate() {
        let y = painter.round_to_pixel_center(frame.y.px(*force));
        painter.hline(frame.plot.x_range(), y, Stroke::new(1.0, colours.rule));
        let text = if index == top { format!("{text} {}", scene.unit) } else { text.clone() };
        let at = pos2(frame.plot.left() - 8.0, y);
        painter.text(at, Align2::RIGHT_CENTER, text, sans(size::LABEL), colours.ink2);
    }
}

fn place_axis(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let bottom = painter.round_to_pixel_center(frame.plot.bottom());
    for (at, text, is_strong) in axis_marks(scene.drift.axis, scene.view, frame.plot.width()) {
        let x = painter.round_to_pixel_center(frame.x.px(at));
        if is_strong {
            painter.vline(x, frame.plot.y_range(), Stroke::new(1.0, colours.rule));
        }
        let length = if is_strong { 5.0 } else { 3.0 };
        painter.vline(x, bottom..=bottom + length, Stroke::new(1.0, colours.ink));
        let galley = painter.layout_no_wrap(text, sans(size::LABEL), colours.ink2);
        if x + 4.0 + galley.size().x <= frame.plot.right() + 2.0 {
            painter.galley(pos2(x + 4.0, bottom + 3.0), galley, colours.ink2);
        }
    }
    painter.hline(frame.plot.x_range(), bottom, Stroke::new(1.0, colours.ink));
}

/// Places, words and weight of the marks along the axis.
fn axis_marks(axis: Axis, view: (f64, f64), width: f32) -> Vec<(f64, String, bool)> {
    if axis == Axis::Date {
        return date_marks(view.0, view.1, width).into_iter().map(|m| (m.at, m.label, m.is_year)).collect();
    }
    let unit = if axis == Axis::RunHours { "h" } else { "cycles" };
    let step = step_of(view.0.max(0.0), view.1, (width / 100.0).floor().max(2.0) as usize);
    let marks = round_marks(view.0.max(0.0), view.1, step);
    // the unit stands at the last mark whose word still has room
    const WORD: f64 = 82.0;
    let room_until = view.1 - (view.1 - view.0) * WORD / f64::from(width.max(1.0));
    let with_unit = marks.iter().rposition(|mark| *mark <= room_until).unwrap_or_default();
    let word = |index: usize, mark: f64| {
        let figure = words::number(mark, decimals_of(step));
        if index == with_unit { format!("{figure} {unit}") } else { figure }
    };
    marks.iter().enumerate().map(|(index, mark)| (*mark, word(index, *mark), true)).collect()
}

fn fan(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    // lower and upper quantile of 90, 80 and 50 %
    for (low, high, fill) in [(0, 6, colours.faint), (1, 5, colours.pale), (2, 4, colours.mid)] {
        let edge = |quantile: usize| -> Vec<Pos2> {
            scene.drift.fan.iter().map(|day| frame.at(day.x, day.force[quantile])).collect()
        };
        band(painter, &edge(low), &edge(high), fill);
    }
    let median = scene.drift.fan.iter().map(|day| frame.at(day.x, day.force[3])).collect();
    painter.line(median, Stroke::new(1.8, colours.deep));
}

/// Fills between two lines of equally many points; thin lines of the fill smooth its edges.
fn band(painter: &Painter, low: &[Pos2], high: &[Pos2], fill: Color32) {
    let mut mesh = Mesh::default();
    for (low, high) in low.iter().zip(high) {
        mesh.colored_vertex(*low, fill);
        mesh.colored_vertex(*high, fill);
    }
    for index in 1..low.len().min(high.len()) as u32 {
        let base = (index - 1) * 2;
        mesh.add_triangle(base, base + 1, base + 2);
        mesh.add_triangle(base + 1, base + 3, base + 2);
    }
    painter.add(Shape::mesh(mesh));
    painter.line(low.to_vec(), Stroke::new(1.0, fill));
    painter.line(high.to_vec(), Stroke::new(1.0, fill));
}

fn uprights(inner: &Painter, beside: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let edge = frame.plot.top() - 3.0;
    let on_plot = |x: f32| (frame.plot.left() - 1.0..=frame.plot.right() + 1.0).contains(&x);
    for service in &scene.drift.services {
        let x = inner.round_to_pixel_center(frame.x.px(service.x));
        if on_plot(x) {
            inner.vline(x, frame.plot.y_range(), Stroke::new(1.0, colours.rule2));
            marks::service(beside, pos2(x, edge), service.is_major, colours.ink);
        }
    }
    if let Some(x) = scene.drift.today.map(|x| inner.round_to_pixel_center(frame.x.px(x)))
        && on_plot(x)
    {
        inner.vline(x, frame.plot.y_range(), Stroke::new(1.0, colours.ink));
    }
    if let Some((x, _)) = scene.drift.booked {
        let x = inner.round_to_pixel_center(frame.x.px(x));
        if on_plot(x) {
            marks::booked(beside, pos2(x, edge), colours);
        }
    }
}

fn lines(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let drift = scene.drift;
    let data = if scene.is_stale { colours.mid } else { colours.deep };
    let put = |line: &[(f64, f64)]| -> Vec<Pos2> { line.iter().map(|(x, force)| frame.at(*x, *force)).collect() };
    let restored = put(&drift.restored);
    if restored.len() > 1 {
        painter.extend(Shape::dotted_line(&restored, colours.second, 6.0, 1.0));
    }
    let near = 0.006 * (drift.extent.1 - drift.extent.0);
    let mut saw_tooth: Vec<Pos2> = Vec::new();
    let mut last_place = f64::NEG_INFINITY;
    for line in &drift.fits {
        let first = line.first().map_or(f64::INFINITY, |point| point.0);
        if first - last_place > near {
            painter.line(std::mem::take(&mut saw_tooth), Stroke::new(1.8, data));
        }
        saw_tooth.extend(put(line));
        last_place = line.last().map_or(last_place, |point| point.0);
    }
    painter.line(saw_tooth, Stroke::new(1.8, data));
    let mut after = put(&drift.after_booked);
    if let (Some(first), Some(before)) = (drift.after_booked.first(), drift.median_at(drift.after_booked.first())) {
        after.insert(0, frame.at(first.0, before));
    }
    painter.extend(Shape::dashed_line(&after, Stroke::new(1.2, colours.mid), 4.0, 3.0));
    if let Some(in_force) = &drift.in_force {
        // on the fan as on paper: a light line under the dashes
        let median = put(&in_force.median);
        painter.line(median.clone(), Stroke::new(3.0, colours.paper));
        painter.extend(Shape::dashed_line(&median, Stroke::new(1.4, colours.ink2), 5.0, 3.0));
    }
}

fn limits(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    let across = |force: f64| {
        let y = frame.y.px(force).round();
        [pos2(frame.plot.left(), y), pos2(frame.plot.right(), y)]
    };
    painter.line_segment(across(scene.drift.stop_limit), Stroke::new(1.6, colours.act));
    let service = across(scene.drift.service_limit);
    painter.extend(Shape::dashed_line(&service, Stroke::new(1.7, colours.ink), 7.0, 3.5));
    if let Some(in_force) = &scene.drift.in_force {
        if (in_force.service_limit - scene.drift.service_limit).abs() > 1e-9 {
            painter.extend(Shape::dashed_line(
                &across(in_force.service_limit),
                Stroke::new(1.0, colours.ink2),
                3.0,
                4.0,
            ));
        }
        if let Some((x, _)) = in_force.service_by {
            let [from, to] = drift_labels::in_force_place(frame, in_force.service_limit, x);
            painter.extend(Shape::dashed_line(&[from, to], Stroke::new(1.4, colours.ink2), 4.0, 3.0));
        }
    }
    if let Some((x, _)) = scene.drift.service_by {
        let from = drift_labels::service_by_place(frame, scene.drift, x);
        painter.line_segment([from[0], from[1]], Stroke::new(2.0, colours.ink));
    }
}

/// Routine readings that stand too close for marks: dots under the lines.
fn dots(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    for point in scene.kept.iter().filter_map(|index| scene.drift.readings.get(*index)) {
        if !point.is_replaced && point.doubt.is_none() && point.phase == Phase::Routine {
            painter.circle_filled(frame.mark(point), 1.3, colours.edge);
        }
    }
}

fn readings(painter: &Painter, frame: &Frame, scene: &Scene<'_>, (is_dense, colours): (bool, &Palette)) {
    for point in scene.kept.iter().filter_map(|index| scene.drift.readings.get(*index)) {
        let at = frame.mark(point);
        if point.is_replaced {
            if scene.shows_replaced {
                marks::cross(painter, at, 3.2, Stroke::new(1.2, colours.ink3));
            }
            continue;
        }
        if point.doubt.is_some() {
            marks::cross(painter, at, 4.0, Stroke::new(1.7, colours.act));
            continue;
        }
        if is_dense && point.phase == Phase::Routine {
            continue;
        }
        let whisker = point.uncertainty.map_or(0.0, |sd| (frame.y.px(0.0) - frame.y.px(sd)).abs());
        if whisker > marks::HALF {
            let x = painter.round_to_pixel_center(at.x);
            painter.vline(x, at.y - whisker..=at.y + whisker, Stroke::new(1.0, colours.ink));
        }
        for stroke in &point.strokes {
            painter.circle_filled(frame.at(point.x, *stroke), 1.0, colours.ink2);
        }
        marks::reading(painter, at, point.phase, colours.ink, colours.paper);
    }
}

/// Two short bars at each drop at once.
fn steps(painter: &Painter, frame: &Frame, scene: &Scene<'_>, colours: &Palette) {
    for step in &scene.drift.steps {
        for bar in drift_labels::step_bars(frame, step) {
            painter.line_segment(bar, Stroke::new(2.4, colours.act));
        }
    }
}

/// The reading whose mark is nearest to a place, at most `reach` pixels away.
#[must_use]
pub fn nearest(frame: &Frame, scene: &Scene<'_>, to: Pos2, reach: f32) -> Option<ReadingId> {
    let distance = |point: &ReadingPoint| frame.mark(point).distance(to);
    scene
        .kept
        .iter()
        .filter_map(|index| scene.drift.readings.get(*index))
        .filter(|point| scene.shows_replaced || !point.is_replaced)
        .map(|point| (distance(point), point.id))
        .filter(|(distance, _)| *distance <= reach)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, id)| id)
}
