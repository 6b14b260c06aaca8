//! Usage: run hours and clamp cycles of a working day, by the stretches between meter readings.

use super::panel::{Cell, Columns, nothing, remark};
use super::view::View;
use crate::charts::clock::{Axis, Clock};
use crate::charts::dates::{date_marks, day_number};
use crate::charts::scale::{decimals_of, marks, step_of};
use crate::charts::small::Small;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Pos2, Rect, Stroke, pos2};

/// What a working day brought between two figures of the meter.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Segment {
    from: NaiveDate,
    to: NaiveDate,
    per_day: f64,
    cycles_per_day: Option<f64>,
}

/// The stretches of a meter, oldest first; those without a working day are left out.
fn segments(clock: &Clock, axis: Axis, until: NaiveDate) -> Vec<Segment> {
    let Some(track) = clock.track(axis) else { return Vec::new() };
    let calendar = clock.calendar();
    let knots: Vec<(NaiveDate, f64)> = track.knots().filter(|(day, _)| *day <= until).collect();
    let pairs = knots.iter().zip(knots.iter().skip(1));
    pairs
        .filter_map(|((from, sum), (to, later))| {
            let days = calendar.between(*from, *to);
            if days < 0.5 {
                return None;
            }
            let cycles = clock.track(Axis::ClampCycles).filter(|_| axis == Axis::RunHours);
            let cycles = cycles.map(|track| (track.at(calendar, *to) - track.at(calendar, *from)) / days);
            Some(Segment { from: *from, to: *to, per_day: (later - sum) / days, cycles_per_day: cycles })
        })
        .collect()
}

/// Draws chart and table; gives what is to be said of the chart.
pub(super) fn ui(ui: &mut egui::Ui, chart: Rect, table: Rect, view: &View<'_>, clock: &Clock) -> String {
    let axis = if clock.knows(Axis::RunHours) { Axis::RunHours } else { Axis::ClampCycles };
    let all = segments(clock, axis, view.as_of());
    let unit = if axis == Axis::RunHours { "h" } else { "cycles" };
    if all.is_empty() {
        nothing(ui, chart, view, "Two meter readings show here what a working day brings.");
        return "No usage is known yet.".to_owned();
    }
    chart_ui(ui, chart, view, &all, unit);
    let decimals = usize::from(axis == Axis::RunHours);
    let rows = all
        .iter()
        .rev()
        .map(|segment| {
            let cycles = segment.cycles_per_day.map_or_else(|| words::UNKNOWN.to_owned(), |c| words::number(c, 0));
            [
                Cell::of(segment.from.format("%-d %b %Y").to_string()),
                Cell::of(words::number(segment.per_day, decimals)),
                Cell::of(cycles),
            ]
        })
        .collect();
    // what the dates rest on, not what these bars alone would say
    let ahead = view.forecast.and_then(|forecast| match axis {
        Axis::ClampCycles => forecast.cycles_per_day.map(|cycles| cycles.get()),
        _ => forecast.hours_per_day.map(|hours| hours.get()),
    });
    let ahead = ahead.map_or_else(|| words::UNKNOWN.to_owned(), |per_day| words::number(per_day, decimals));
    let sentence = format!("Taken for the time ahead: {ahead} {unit} a working day.");
    let heads = ["from", if axis == Axis::RunHours { "hours a day" } else { "cycles a day" }, "cycles a day"];
    let below = Columns { heads, rows }.ui(ui, table, 52.0, view);
    remark(ui, table, below, &sentence, view);
    format!("Usage over time, {} stretches between meter readings. {sentence}", all.len())
}

fn chart_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, all: &[Segment], unit: &str) {
    let c = view.colours;
    let painter = ui.painter();
    let today = day_number(view.as_of());
    let first = all.first().map_or(today - 365.0, |segment| day_number(segment.from));
    let x_span = (first, today + 0.04 * (today - first).max(30.0));
    let most = all.iter().map(|segment| segment.per_day).fold(0.0, f64::max);
    let y_span = (0.0, most * 1.12 + 1e-6);
    let step = step_of(y_span.0, y_span.1, (place.height() / 36.0).floor().max(2.0) as usize);
    let values = marks(y_span.0, y_span.1, step);
    let top = values.len().saturating_sub(1);
    let word = |index: usize, value: f64| {
        let figure = words::number(value, decimals_of(step));
        if index == top { format!("{figure} {unit}") } else { figure }
    };
    let y_marks: Vec<_> = values.iter().enumerate().map(|(index, value)| (*value, word(index, *value))).collect();
    let x_marks: Vec<_> =
        date_marks(x_span.0, x_span.1, place.width() - 38.0).into_iter().map(|mark| (mark.at, mark.label)).collect();
    let small = Small::paint(painter, place, (x_span, &x_marks), (y_span, &y_marks), c);
    for segment in all {
        // whole pixels, or neighbouring bars leave a seam
        let (from, to) = (small.x.px(day_number(segment.from)).round(), small.x.px(day_number(segment.to)).round());
        let top = small.y.px(segment.per_day.max(0.0));
        let bar = Rect::from_min_max(pos2(from, top), pos2(to, small.plot.bottom()));
        painter.rect_filled(bar, 0.0, c.faint);
    }
    let steps: Vec<Pos2> = all
        .iter()
        .flat_map(|segment| [(segment.from, segment.per_day), (segment.to, segment.per_day)])
        .map(|(day, per_day)| small.at(day_number(day), per_day.max(0.0)))
        .collect();
    painter.line(steps, Stroke::new(1.6, c.deep));
    let x = painter.round_to_pixel_center(small.x.px(today));
    painter.vline(x, small.plot.y_range(), Stroke::new(1.0, c.ink));
}
