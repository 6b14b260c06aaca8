//! Strokes: how far the single strokes of each force reading lie about their mean.

use super::panel::{Cell, Columns, nothing, remark};
use super::view::View;
use crate::charts::dates::{date_marks, day_number};
use crate::charts::scale::{decimals_of, marks, step_of};
use crate::charts::small::Small;
use crate::charts::strokes::{Spread, by_gauge, pooled, spreads};
use almanac_core::words;
use eframe::egui::{self, Rect, Stroke};

/// Draws chart and table; gives what is to be said of the chart.
pub(super) fn ui(ui: &mut egui::Ui, chart: Rect, table: Rect, view: &View<'_>) -> String {
    let all = spreads(view.context.shop.readings_of(view.id), view.spindle.nominal_force);
    let Some(usual) = pooled(all.iter()) else {
        nothing(ui, chart, view, "Readings of several strokes show here how far those lie apart.");
        return "No reading of several strokes yet.".to_owned();
    };
    chart_ui(ui, chart, view, &all, usual);
    let rows = by_gauge(&all)
        .into_iter()
        .map(|(gauge, count, sd)| {
            let gauge = if gauge.is_empty() { "no gauge named".to_owned() } else { gauge };
            [Cell::of(gauge), Cell::of(words::number(count as f64, 0)), Cell::of(words::number(sd, 2))]
        })
        .collect();
    let last = all.last().map_or(0.0, Spread::range);
    let sentence = format!(
        "One stroke lies ± {} % about its mean; those of the last reading span {} %.",
        words::number(usual, 2),
        words::number(last, 2)
    );
    let below = Columns { heads: ["gauge", "readings", "± % a stroke"], rows }.ui(ui, table, 70.0, view);
    remark(ui, table, below, &sentence, view);
    format!("Strokes about their mean over time, {} readings. {sentence}", all.len())
}

fn chart_ui(ui: &egui::Ui, place: Rect, view: &View<'_>, all: &[Spread], usual: f64) {
    let c = view.colours;
    let painter = ui.painter();
    let today = day_number(view.as_of());
    let first = all.first().map_or(today - 365.0, |spread| spread.day);
    let x_span = (first - 10.0, today + 0.04 * (today - first).max(30.0));
    let widest = all.iter().flat_map(|spread| &spread.about_mean).fold(2.2 * usual, |most, off| most.max(off.abs()));
    let y_span = (-1.1 * widest, 1.1 * widest);
    let step = step_of(y_span.0, y_span.1, (place.height() / 30.0).floor().max(2.0) as usize);
    let values = marks(y_span.0, y_span.1, step);
    let top = values.len().saturating_sub(1);
    let word = |index: usize, value: f64| {
        let figure = words::signed(value, decimals_of(step));
        if index == top { format!("{figure} %") } else { figure }
    };
    let y_marks: Vec<_> = values.iter().enumerate().map(|(index, value)| (*value, word(index, *value))).collect();
    let x_marks: Vec<_> =
        date_marks(x_span.0, x_span.1, place.width() - 38.0).into_iter().map(|mark| (mark.at, mark.label)).collect();
    let small = Small::paint(painter, place, (x_span, &x_marks), (y_span, &y_marks), c);
    // twice the usual spread: most strokes lie between
    let band = Rect::from_x_y_ranges(small.plot.x_range(), small.y.px(2.0 * usual)..=small.y.px(-2.0 * usual));
    painter.rect_filled(band, 0.0, c.shade);
    painter.hline(small.plot.x_range(), small.y.px(0.0), Stroke::new(1.0, c.mid));
    for spread in all {
        let x = painter.round_to_pixel_center(small.x.px(spread.day));
        let extent = spread.about_mean.iter().fold((0.0_f64, 0.0_f64), |(l, h), off| (l.min(*off), h.max(*off)));
        painter.vline(x, small.y.px(extent.1)..=small.y.px(extent.0), Stroke::new(1.0, c.mid));
        for off in &spread.about_mean {
            painter.circle_filled(small.at(spread.day, *off), 1.6, c.deep);
        }
    }
    let x = painter.round_to_pixel_center(small.x.px(today));
    painter.vline(x, small.plot.y_range(), Stroke::new(1.0, c.ink));
}
