//! Control chart: how far off what was expected each reading was, and where that drifts to.

use super::panel::{Cell, Columns, nothing, remark};
use super::view::View;
use crate::charts::dates::{date_marks, day_number};
use crate::charts::marks as shapes;
use crate::charts::scale::{marks, step_of};
use crate::charts::small::Small;
use almanac_core::forecast::{ControlChart, ControlPoint, ControlState, Verdict, WeighedReading};
use almanac_core::units::Percent;
use almanac_core::words;
use eframe::egui::{self, Pos2, Rect, Shape, Stroke, pos2};

/// Figures beyond this, in standard deviations, stand at the edge.
const FURTHEST: f64 = 6.0;

/// Draws chart and table; gives what is to be said of the chart.
pub(super) fn ui(ui: &mut egui::Ui, chart: Rect, table: Rect, view: &View<'_>) -> String {
    let Some(forecast) = view.forecast else { return String::new() };
    let control = forecast.control_chart();
    if control.points.is_empty() {
        nothing(ui, chart, view, "Readings show here how far off what was expected they were.");
        return "No reading yet.".to_owned();
    }
    chart_ui(ui, chart, view, &control);
    let rows = forecast.readings.iter().rev().map(row_cells).collect();
    let sentence = control.sentence(view.as_of());
    let foot = if matches!(control.state(), ControlState::Within) { 52.0 } else { 88.0 };
    let below = Columns { heads: ["date", "taken for", "off, sd"], rows }.ui(ui, table, foot, view);
    remark(ui, table, below, &sentence, view);
    format!("Control chart of {} readings. {sentence}", control.points.len())
}

fn row_cells(reading: &WeighedReading) -> [Cell; 3] {
    let share = match reading.verdict {
        Verdict::Ok => reading.weights.ok,
        Verdict::Doubtful => reading.weights.doubtful,
        Verdict::StepDrop => reading.weights.step_drop,
        Verdict::UnloggedService => reading.weights.unlogged_service,
    };
    let taken = match Percent::new(100.0 * share) {
        Some(share) if reading.verdict != Verdict::Ok => {
            format!("{} {} %", reading.verdict.label(), words::number(share.get(), 0))
        }
        _ => reading.verdict.label().to_owned(),
    };
    let mut taken = Cell::of(taken);
    taken.is_bad = reading.verdict != Verdict::Ok;
    [Cell::of(reading.day.format("%-d %b %Y").to_string()), taken, Cell::of(words::signed(reading.z, 1))]
}

fn chart_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, control: &ControlChart) {
    let c = view.colours;
    let painter = ui.painter();
    let today = day_number(view.as_of());
    let first = control.points.first().map_or(today - 365.0, |point| day_number(point.day));
    let x_span = (first - 10.0, today + 0.04 * (today - first).max(30.0));
    let held = |z: f64| z.clamp(-FURTHEST, FURTHEST);
    let most = control.points.iter().map(|point| held(point.z).abs()).fold(2.0, f64::max) * 1.1;
    let y_span = (-most, most);
    let step = step_of(y_span.0, y_span.1, (place.height() / 30.0).floor().max(2.0) as usize).max(1.0);
    let values = marks(y_span.0, y_span.1, step);
    let top = values.len().saturating_sub(1);
    let word = |index: usize, value: f64| {
        let figure = words::signed(value, 0);
        if index == top { format!("{figure} sd") } else { figure }
    };
    let y_marks: Vec<_> = values.iter().enumerate().map(|(index, value)| (*value, word(index, *value))).collect();
    let x_marks: Vec<_> =
        date_marks(x_span.0, x_span.1, place.width() - 38.0).into_iter().map(|mark| (mark.at, mark.label)).collect();
    let small = Small::paint(painter, place, (x_span, &x_marks), (y_span, &y_marks), c);
    painter.hline(small.plot.x_range(), small.y.px(0.0), Stroke::new(1.0, c.mid));
    for limit in [-ControlChart::limit(), ControlChart::limit()] {
        let y = small.y.px(limit).round();
        let across = [pos2(small.plot.left(), y), pos2(small.plot.right(), y)];
        painter.extend(Shape::dashed_line(&across, Stroke::new(1.2, c.ink), 7.0, 3.5));
    }
    for point in &control.points {
        point_ui(painter, small.at(day_number(point.day), held(point.z)), point, view);
    }
    let line: Vec<Pos2> = control.points.iter().map(|point| small.at(day_number(point.day), point.average)).collect();
    painter.line(line.clone(), Stroke::new(1.8, c.deep));
    for (point, at) in control.points.iter().zip(line) {
        if point.is_out {
            painter.rect_filled(Rect::from_center_size(at, egui::vec2(5.0, 5.0)), 0.0, c.act);
        }
    }
    let x = painter.round_to_pixel_center(small.x.px(today));
    painter.vline(x, small.plot.y_range(), Stroke::new(1.0, c.ink));
}

fn point_ui(painter: &egui::Painter, at: Pos2, point: &ControlPoint, view: &View<'_>) {
    let c = view.colours;
    match point.verdict {
        Verdict::Ok => {
            painter.circle_stroke(at, 2.6, Stroke::new(1.0, c.ink2));
        }
        Verdict::Doubtful => shapes::cross(painter, at, 4.0, Stroke::new(1.7, c.act)),
        Verdict::StepDrop | Verdict::UnloggedService => {
            let bar = Stroke::new(1.7, c.act);
            painter.line_segment([at + egui::vec2(-4.0, -2.0), at + egui::vec2(4.0, -2.0)], bar);
            painter.line_segment([at + egui::vec2(-4.0, 2.0), at + egui::vec2(4.0, 2.0)], bar);
        }
    }
}
