//! Between services: every stretch from zero on, newest strongest, with the rates as a table.

use super::panel::{Cell, Columns, nothing, remark};
use super::view::View;
use crate::charts::clock::{Axis, Clock};
use crate::charts::intervals::{Stretch, stands_out, stretches};
use crate::charts::labels::Labels;
use crate::charts::scale::{decimals_of, marks, step_of};
use crate::charts::small::Small;
use crate::theme::{sans, semibold, size};
use crate::widgets::text::right;
use almanac_core::forecast::SpindleForecast;
use almanac_core::words;
use eframe::egui::{self, Pos2, Rect, Shape, Stroke, Vec2, pos2, vec2};

/// Draws chart, table and the sentence; gives what is to be said of the chart.
pub(super) fn ui(
    ui: &mut egui::Ui,
    chart: Rect,
    table: Rect,
    view: &View<'_>,
    (axis, clock): (Axis, &Clock),
) -> String {
    let Some(forecast) = view.forecast else { return String::new() };
    // calendar time says little about wear, so dates are shown over hours where there are any
    let axis = match axis {
        Axis::Date if clock.knows(Axis::RunHours) => Axis::RunHours,
        other => other,
    };
    let from_zero: Vec<_> = forecast.intervals.iter().filter(|each| begins_at_zero(view, each.from)).cloned().collect();
    let all = stretches(&from_zero, forecast.limits.nominal_force.value, clock, axis);
    if all.is_empty() {
        nothing(ui, chart, view, "Two readings after a service draw the first line here.");
    } else {
        overlay_ui(ui, chart, view, forecast, &all, axis);
    }
    let sentence = outlier_words(view, forecast);
    let foot = if sentence.is_empty() { 4.0 } else { 52.0 };
    let below = rates_ui(ui, table, foot, view, forecast);
    remark(ui, table, below, &sentence, view);
    let many = if all.len() == 1 { "1 stretch".to_owned() } else { format!("{} stretches", all.len()) };
    format!("{many} between services laid over one another. {sentence}").trim().to_owned()
}

/// Whether a stretch begins with a service or a new spindle, not just with the first record.
fn begins_at_zero(view: &View<'_>, from: chrono::NaiveDate) -> bool {
    view.spindle.installed_on == Some(from)
        || view.context.shop.services_of(view.id).iter().any(|service| service.at.date == from)
}

fn overlay_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, forecast: &SpindleForecast, all: &[Stretch], axis: Axis) {
    let c = view.colours;
    let painter = ui.painter();
    let limit = forecast.limits.service_limit.value.get();
    let points = || all.iter().flat_map(|stretch| &stretch.points);
    let furthest = points().map(|point| point.0).fold(0.0, f64::max) * 1.04 + 1.0;
    let (low, high) = points().map(|point| point.1).fold((limit, limit), |(l, h), y| (l.min(y), h.max(y)));
    let y_span = (low - 3.5, high.max(99.0) + 1.0);
    let y_step = step_of(y_span.0, y_span.1, (place.height() / 36.0).floor().max(2.0) as usize).max(1.0);
    let y_values = marks(y_span.0, y_span.1, y_step);
    let top = y_values.len().saturating_sub(1);
    let y_word = |index: usize, value: f64| {
        if (value - limit).abs() < 1e-9 {
            return String::new(); // the limit has its own, stronger figure
        }
        let figure = words::number(value, decimals_of(y_step));
        if index == top { format!("{figure} %") } else { figure }
    };
    let y_marks: Vec<_> = y_values.iter().enumerate().map(|(index, value)| (*value, y_word(index, *value))).collect();
    let x_step = step_of(0.0, furthest, (place.width() / 95.0).floor().max(2.0) as usize);
    let unit = match axis {
        Axis::Date => " days",
        Axis::RunHours => " h",
        Axis::ClampCycles => " cycles",
    };
    let x_marks: Vec<_> = marks(0.0, furthest, x_step)
        .into_iter()
        .map(|x| (x, format!("{}{}", words::number(x, decimals_of(x_step)), if x > 0.0 { unit } else { "" })))
        .collect();
    let small = Small::paint(painter, place, ((0.0, furthest), &x_marks), (y_span, &y_marks), c);
    let mut labels = Labels::within(small.plot);
    let y = small.y.px(limit).round();
    let limit_words = words::percent_short(forecast.limits.service_limit.value);
    right(painter, pos2(small.plot.left() - 8.0, y), &limit_words, semibold(size::LABEL), c.ink);
    let across = [pos2(small.plot.left(), y), pos2(small.plot.right(), y)];
    painter.extend(Shape::dashed_line(&across, Stroke::new(1.6, c.ink), 7.0, 3.5));
    labels.take(Rect::from_two_pos(across[0], across[1]).expand(1.5));
    let lines: Vec<Vec<Pos2>> =
        all.iter().map(|stretch| stretch.points.iter().map(|(x, y)| small.at(*x, *y)).collect()).collect();
    let count = all.len();
    for (index, line) in lines.iter().enumerate() {
        labels.take_line(line);
        let stroke = match count - index {
            1 => Stroke::new(2.2, c.deep),
            2 => Stroke::new(1.3, c.mid),
            _ => Stroke::new(1.0, c.rule2),
        };
        painter.line(line.clone(), stroke);
    }
    // newest first, so that it gets the best place; the oldest share one label
    for (index, (stretch, line)) in all.iter().zip(&lines).enumerate().rev() {
        let age = count - index;
        if age > 4 {
            continue;
        }
        let Some(end) = line.last().copied() else { continue };
        let text = match (age, stretch.to) {
            (1, None) => "now".to_owned(),
            _ if is_twice(all, stretch.from) => stretch.from.format("%b %Y").to_string(),
            _ => stretch.from.format("%Y").to_string(),
        };
        let (font, ink) = if age == 1 { (semibold(size::LABEL), c.ink) } else { (sans(size::LABEL), c.ink2) };
        let galley = painter.layout_no_wrap(text, font, ink);
        let size = galley.size();
        if let Some(rect) = labels.place_near(size, &around(end, size)) {
            painter.galley(rect.min, galley, ink);
        }
    }
}

/// Whether two stretches began in the year of that day.
fn is_twice(all: &[Stretch], from: chrono::NaiveDate) -> bool {
    use chrono::Datelike as _;
    all.iter().filter(|stretch| stretch.from.year() == from.year()).count() > 1
}

/// Places for a label at the end of a line.
fn around(end: Pos2, size: Vec2) -> Vec<Pos2> {
    let mut places = vec![end + vec2(5.0, -size.y / 2.0)];
    for up in 1..=8 {
        let by = up as f32 * 3.0;
        places.push(end + vec2(5.0, -size.y / 2.0 - by));
        places.push(end + vec2(5.0, -size.y / 2.0 + by));
        places.push(end + vec2(-size.x / 2.0, -size.y - by));
        places.push(end + vec2(-size.x - 4.0, -size.y / 2.0 + by));
    }
    places
}

fn rates_ui(ui: &mut egui::Ui, place: Rect, foot: f32, view: &View<'_>, forecast: &SpindleForecast) -> f32 {
    let newest = forecast.intervals.len().saturating_sub(1);
    let rows = forecast
        .intervals
        .iter()
        .enumerate()
        .rev()
        .map(|(index, interval)| {
            let is_now = index == newest;
            let hours = interval.run_hours.map_or_else(|| words::UNKNOWN.to_owned(), words::hours);
            let rate = interval.loss_per_1000_h;
            let mean = rate.map_or_else(|| words::UNKNOWN.to_owned(), |loss| words::percent(loss.mean));
            let sd = rate.map_or_else(String::new, |loss| format!("± {}", words::percent(loss.sd)));
            [
                Cell::of(interval.from.format("%-d %b %Y").to_string()).strong(is_now),
                Cell::of(hours).strong(is_now),
                Cell::of(mean).aside(sd).strong(is_now),
            ]
        })
        .collect();
    Columns { heads: ["from", "hours", "% per 1,000 h"], rows }.ui(ui, place, foot, view)
}

/// `The one from 2024 lost force faster: gripper found dry on 12 April 2025.`
fn outlier_words(view: &View<'_>, forecast: &SpindleForecast) -> String {
    let Some(outlier) = stands_out(&forecast.intervals) else { return String::new() };
    let Some(interval) = forecast.intervals.get(outlier.index) else { return String::new() };
    let how = if outlier.is_faster { "faster" } else { "slower" };
    let Some(to) = interval.to else { return format!("The one that runs loses force {how} than those before.") };
    let services = view.context.shop.services_of(view.id);
    let found = services.iter().find(|service| service.at.date == to).map(|service| service.findings.trim());
    let found = match found {
        Some(findings) if !findings.is_empty() => {
            format!("; found on {}: {findings}", words::date_long(to, view.as_of()))
        }
        _ => String::new(),
    };
    format!("The one from {} lost force {how}{found}.", interval.from.format("%B %Y"))
}
