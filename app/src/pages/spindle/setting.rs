//! Setting dimension over time, against its tolerance.

use super::panel::{Cell, Columns, nothing, remark};
use super::record::due_words;
use super::view::View;
use crate::charts::dates::{date_marks, day_number, moment_number};
use crate::charts::marks as shapes;
use crate::charts::scale::{decimals_of, marks, step_of};
use crate::charts::small::Small;
use almanac_core::ids::{ReadingId, Row};
use almanac_core::reading::Reading;
use almanac_core::units::{Millimetres, Quantity, Unit};
use almanac_core::words;
use eframe::egui::{self, Pos2, Rect, Shape, Stroke, pos2};

/// Draws chart and table; gives what is to be said of the chart.
pub(super) fn ui(ui: &mut egui::Ui, chart: Rect, table: Rect, view: &View<'_>) -> String {
    let shop = view.context.shop;
    let readings: Vec<&Row<ReadingId, Reading>> =
        shop.readings_of(view.id).iter().filter(|row| row.quantity() == Quantity::SettingDimension).collect();
    if readings.is_empty() {
        nothing(ui, chart, view, "No setting dimension was read yet.");
    } else {
        chart_ui(ui, chart, view, &readings);
    }
    let rows: Vec<[Cell; 3]> = readings.iter().rev().map(|row| row_cells(view, row)).collect();
    let unit = view.length_unit();
    let remark_text = remark_words(view);
    let foot = if remark_text.is_empty() { 4.0 } else { 70.0 };
    let heads = ["date", "occasion", unit.symbol()];
    let below = Columns { heads, rows }.ui(ui, table, foot, view);
    remark(ui, table, below, &remark_text, view);
    format!("Setting dimension over time: {}. {remark_text}", count_words(view, &readings)).trim().to_owned()
}

/// How many readings there are, and how many of them are doubted or out of tolerance.
fn count_words(view: &View<'_>, readings: &[&Row<ReadingId, Reading>]) -> String {
    let is_doubted = |row: &Row<ReadingId, Reading>| view.doubt(row).is_some();
    let doubted = readings.iter().filter(|row| is_doubted(row)).count();
    let out = readings.iter().filter(|row| !is_doubted(row) && is_out(view, row.mean_base())).count();
    let mut words = if readings.len() == 1 { "1 reading".to_owned() } else { format!("{} readings", readings.len()) };
    if doubted > 0 {
        words.push_str(&format!(", {doubted} of them doubted"));
    }
    if out > 0 {
        words.push_str(&format!(", {out} of them out of tolerance"));
    }
    words
}

fn row_cells(view: &View<'_>, row: &Row<ReadingId, Reading>) -> [Cell; 3] {
    let length = Millimetres::new(row.mean_base()).unwrap_or_default();
    let mut figure = Cell::of(view.length(length));
    if let Some(doubt) = view.doubt(row) {
        (figure.aside, figure.said, figure.is_bad) = ("doubted".to_owned(), doubt, true);
    } else if is_out(view, row.mean_base()) {
        (figure.aside, figure.said, figure.is_bad) = ("out".to_owned(), "out of tolerance".to_owned(), true);
    }
    [Cell::of(row.at.date.format("%-d %b %Y").to_string()), Cell::of(row.phase.label()), figure]
}

fn is_out(view: &View<'_>, base: f64) -> bool {
    let setting = view.forecast.and_then(|forecast| forecast.limits.setting());
    setting.is_some_and(|(aim, tolerance)| (base - aim.get()).abs() > tolerance.get() + 1e-9)
}

fn remark_words(view: &View<'_>) -> String {
    let Some(forecast) = view.forecast else { return String::new() };
    let unit = view.length_unit();
    let Some((aim, tolerance)) = forecast.limits.setting() else {
        return "No setting dimension is set for this spindle.".to_owned();
    };
    let from = words::length_in(aim - tolerance, unit);
    let mut text = format!("Tolerance {from} to {}.", words::length_with_unit(aim + tolerance, unit));
    if forecast.setting_out_of_tolerance {
        text.push_str(" Out of tolerance now.");
    } else if let Some(crossing) = forecast.cross_setting_dimension {
        let day = |quantile: usize| crossing.days.get(quantile).copied().flatten();
        if let Some(early) = day(1) {
            let early = due_words(early, view.as_of());
            text = match day(5) {
                Some(late) => format!("{text} Leaves it between {early} and {}.", due_words(late, view.as_of())),
                None => format!("{text} 10 % risk to leave it by {early}."),
            };
        }
    }
    text
}

fn chart_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, readings: &[&Row<ReadingId, Reading>]) {
    let c = view.colours;
    let painter = ui.painter();
    let setting = view.forecast.and_then(|forecast| forecast.limits.setting());
    let unit = view.length_unit();
    let today = day_number(view.as_of());
    let first = readings.first().map_or(today - 365.0, |row| moment_number(row.at));
    let x_span = (first - 10.0, today + 0.06 * (today - first).max(30.0));
    let band = setting.map(|(aim, tolerance)| (aim.get() - tolerance.get(), aim.get() + tolerance.get()));
    let counted = readings.iter().filter(|row| view.doubt(row).is_none()).map(|row| row.mean_base());
    let start = band.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
    let (low, high) = counted.fold(start, |(low, high), base| (low.min(base), high.max(base)));
    let pad = ((high - low) * 0.2).max(0.01);
    let y_span = (low - pad, high + pad);
    let shown = (unit.from_base(y_span.0), unit.from_base(y_span.1));
    let step = step_of(shown.0, shown.1, (place.height() / 36.0).floor().max(2.0) as usize);
    let values = marks(shown.0, shown.1, step);
    let decimals = decimals_of(step).max(if unit == Unit::Inch { 3 } else { 2 });
    let top = values.len().saturating_sub(1);
    let y_marks: Vec<_> = values
        .iter()
        .enumerate()
        .map(|(index, value)| {
            let figure = words::number(*value, decimals);
            (unit.to_base(*value), if index == top { format!("{figure} {unit}") } else { figure })
        })
        .collect();
    // figures such as 10.525 are wider than those of the other charts
    let place = Rect::from_min_max(pos2(place.left() + 24.0, place.top()), place.max);
    let x_marks: Vec<_> =
        date_marks(x_span.0, x_span.1, place.width() - 38.0).into_iter().map(|mark| (mark.at, mark.label)).collect();
    let small = Small::paint(painter, place, (x_span, &x_marks), (y_span, &y_marks), c);
    for service in view.context.shop.services_of(view.id) {
        let x = painter.round_to_pixel_center(small.x.px(moment_number(service.at)));
        if small.plot.x_range().contains(x) {
            painter.vline(x, small.plot.y_range(), Stroke::new(1.0, c.rule2));
        }
    }
    for edge in band.map(|(low, high)| [low, high]).into_iter().flatten() {
        let y = small.y.px(edge).round();
        let across = [pos2(small.plot.left(), y), pos2(small.plot.right(), y)];
        painter.extend(Shape::dashed_line(&across, Stroke::new(1.6, c.ink), 7.0, 3.5));
    }
    if let Some((aim, _)) = setting {
        painter.hline(small.plot.x_range(), small.y.px(aim.get()), Stroke::new(1.0, c.mid));
    }
    let line: Vec<Pos2> = readings
        .iter()
        .filter(|row| view.doubt(row).is_none())
        .map(|row| small.at(moment_number(row.at), row.mean_base()))
        .collect();
    painter.line(line, Stroke::new(1.4, c.deep));
    for row in readings {
        let at = small.at(moment_number(row.at), row.mean_base());
        let at = pos2(at.x, at.y.clamp(small.plot.top() + 5.0, small.plot.bottom() - 5.0));
        if view.doubt(row).is_some() {
            shapes::cross(painter, at, 4.0, Stroke::new(1.7, c.act));
        } else {
            shapes::reading(painter, at, row.phase, c.ink, c.paper);
        }
    }
    let x = painter.round_to_pixel_center(small.x.px(today));
    painter.vline(x, small.plot.y_range(), Stroke::new(1.0, c.ink));
}
