//! The drift section: axis words, read-out line, chart and its legend.

use super::view::View;
use crate::charts::clock::{Axis, Clock};
use crate::charts::drift::{Drift, StepPoint};
use crate::charts::drift_labels::LineWords;
use crate::charts::drift_paint;
use crate::charts::drift_paint::{Frame, Scene};
use crate::theme::{sans, semibold, serif_semibold, size};
use crate::widgets::line::TextLine;
use almanac_core::forecast::SpindleForecast;
use almanac_core::ids::ReadingId;
use almanac_core::units::{Kilonewtons, Percent};
use almanac_core::words;
use eframe::egui::{self, EventFilter, Id, Rect, Role, Sense, Stroke, WidgetInfo, pos2};

/// What the section did in this pass.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Outcome {
    /// A reading under the pointer.
    pub(super) hovered: Option<ReadingId>,
    /// That reading was clicked.
    pub(super) is_clicked: bool,
    /// The span in view after wheel and drag.
    pub(super) view: Option<(f64, f64)>,
    /// Back to how the chart opens.
    pub(super) is_reset: bool,
}

/// Words at the lines of the chart.
pub(super) fn line_words(view: &View<'_>, forecast: &SpindleForecast, drift: &Drift) -> LineWords {
    let limits = &forecast.limits;
    let limit = |name: &str, force: Kilonewtons, share: Percent| {
        format!("{name} {}, {} %", view.force(force), words::percent_short(share))
    };
    let stop = limit("stop limit", limits.stop_limit_force(), limits.stop_limit.value);
    let day = |day: chrono::NaiveDate| super::record::due_words(day, view.as_of());
    let doubted = drift.readings.iter().enumerate().filter(|(_, point)| point.doubt.is_some() && !point.is_replaced);
    LineWords {
        service_limit: limit("service limit", limits.service_limit_force(), limits.service_limit.value),
        stop_limit: format!("{stop}: do not run"),
        restored: restored_words(view, forecast, drift),
        today: upright_words(view.as_of(), view.context.present),
        steps: drift.steps.iter().map(|step| step_words(view, step)).collect(),
        booked: drift.booked.map_or_else(String::new, |(_, at)| format!("booked {}", day(at))),
        service_by: drift.service_by.map_or_else(String::new, |(_, at)| match (at <= view.as_of(), &drift.in_force) {
            (true, None) => "service now".to_owned(),
            (true, Some(_)) => "what if: service now".to_owned(),
            (false, None) => format!("service by {}", day(at)),
            (false, Some(_)) => format!("what if: service by {}", day(at)),
        }),
        in_force: drift
            .in_force
            .as_ref()
            .and_then(|in_force| in_force.service_by)
            .map_or_else(String::new, |(_, at)| {
                format!("in force: {}", if at <= view.as_of() { "now".to_owned() } else { day(at) })
            }),
        fan: if forecast.force_measured { String::new() } else { borrowed_words(view, forecast) },
        doubted: doubted
            .map(|(index, point)| {
                let force = Kilonewtons::new(point.force).unwrap_or_default();
                (index, format!("doubted {}", words::force_in(force, view.spindle.nominal_force, view.force_unit())))
            })
            .collect(),
    }
}

/// At the upright of the as-of day: it is today's only in the present.
fn upright_words(as_of: chrono::NaiveDate, present: chrono::NaiveDate) -> String {
    if as_of == present { "today".to_owned() } else { as_of.format("%-d %b %Y").to_string() }
}

/// `step −11.2 %, 14 Jan`.
fn step_words(view: &View<'_>, step: &StepPoint) -> String {
    let day = super::record::due_words(step.day, view.as_of());
    format!("step {} %, {day}", words::number(-step.percent, 1))
}

/// From whom the figures of a spindle come that was never measured.
pub(super) fn borrowed_words(view: &View<'_>, forecast: &SpindleForecast) -> String {
    match forecast.interface_spindles {
        0 => "no reading yet, and no other spindle to take figures from".to_owned(),
        1 => format!("taken from 1 {} spindle of this shop", view.spindle.interface),
        count => format!("taken from {count} {} spindles of this shop", view.spindle.interface),
    }
}

fn restored_words(view: &View<'_>, forecast: &SpindleForecast, drift: &Drift) -> String {
    if drift.restored.len() < 2 {
        return String::new();
    }
    let mut text = "what a service restores".to_owned();
    if let (Some(first), Some(last)) = (forecast.restored.first(), forecast.restored.last()) {
        let years = (last.day - first.day).num_days() as f64 / 365.25;
        let lost = (first.force - last.force).percent_of(view.spindle.nominal_force).get();
        if years > 0.5 {
            let rate = lost / years;
            let verb = if rate < 0.0 { "gains" } else { "loses" };
            text = format!("{text}: {verb} {} % a year", words::number(rate.abs(), 1));
        }
    }
    if let Some(day) = forecast.major_service_by {
        text = format!("{text}; major service about {}", day.format("%Y"));
    }
    text
}

/// What the chart says to those who do not see it.
pub(super) fn sentence(view: &View<'_>, drift: &Drift) -> String {
    let Some(forecast) = view.forecast else { return "The drift chart is not computed yet.".to_owned() };
    let place = view.position().map_or_else(String::new, |position| format!("{position} "));
    let counted = drift.readings.iter().filter(|point| !point.is_replaced).count();
    let readings = match counted {
        0 => "no reading".to_owned(),
        1 => "1 reading".to_owned(),
        many => format!("{many} readings"),
    };
    let doubted = drift.readings.iter().filter(|point| point.doubt.is_some() && !point.is_replaced).count();
    let doubted = if doubted > 0 { format!(", {doubted} of them doubted") } else { String::new() };
    let services = match drift.services.len() {
        0 => "no service".to_owned(),
        1 => "1 service".to_owned(),
        many => format!("{many} services"),
    };
    let steps: Vec<String> = drift.steps.iter().map(|step| step_words(view, step)).collect();
    let steps = if steps.is_empty() { String::new() } else { format!(", {}", steps.join(", ")) };
    format!(
        "Clamp force of {place}{} over {}: {readings}{doubted}, {services}{steps}; now {}, service limit {}, stop limit {}. {}",
        view.spindle.name,
        drift.axis.label(),
        view.force(forecast.force_now.mean),
        view.force(forecast.limits.service_limit_force()),
        view.force(forecast.limits.stop_limit_force()),
        super::title::reason(view).0,
    )
}

/// Head of the section: what the chart is drawn over, as words to click.
pub(super) fn head_ui(ui: &mut egui::Ui, place: Rect, view: &View<'_>, axis: Axis, clock: &Clock) -> Option<Axis> {
    let c = view.colours;
    let base = place.top() + 19.0;
    let head = TextLine::new().with(0.0, "Drift", serif_semibold(size::SECTION), c.ink).with(
        12.0,
        "over",
        sans(size::LABEL),
        c.ink2,
    );
    let (rect, _) = head.paint(ui.painter(), pos2(place.left(), base), place.width());
    let mut x = rect.right() + 4.0;
    let mut chosen = None;
    for each in Axis::ALL {
        let enabled = clock.knows(each);
        let response = word_ui(ui, pos2(x, base), each.label(), each == axis, enabled, view);
        let response = if enabled { response } else { response.on_hover_text("no meter of it") };
        if response.clicked() {
            chosen = Some(each);
        }
        x = response.rect.right() + 9.0;
    }
    chosen
}

/// A word that chooses one of several; the chosen one is bold and underlined.
pub(super) fn word_ui(
    ui: &mut egui::Ui,
    base: egui::Pos2,
    word: &str,
    is_chosen: bool,
    enabled: bool,
    view: &View<'_>,
) -> egui::Response {
    let c = view.colours;
    let (font, ink) = match (is_chosen, enabled) {
        (true, _) => (semibold(size::LABEL), c.ink),
        (false, true) => (sans(size::LABEL), c.ink2),
        (false, false) => (sans(size::LABEL), c.ink3),
    };
    let galley = ui.painter().layout_no_wrap(word.to_owned(), font, ink);
    let corner = pos2(base.x, base.y - crate::widgets::line::base_line(&galley));
    let rect = Rect::from_min_size(corner, galley.size());
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let response = ui.interact(rect, ui.scope_id().with(("word", word)), sense);
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, enabled, is_chosen, word));
    ui.painter().galley(corner, galley, ink);
    if is_chosen {
        ui.painter().hline(rect.x_range(), base.y + 3.5, Stroke::new(1.5, c.ink));
    } else if response.hovered() && enabled {
        ui.painter().hline(rect.x_range(), base.y + 3.5, Stroke::new(1.0, c.ink2));
    }
    response
}

/// The chart with pointer and wheel; the cursor is painted by the caller, which knows the record.
pub(super) fn chart_ui(ui: &mut egui::Ui, place: Rect, scene: &Scene<'_>, view: &View<'_>) -> (Frame, Outcome) {
    let frame = drift_paint::paint(ui, place, scene);
    let hit = Rect::from_min_max(pos2(frame.plot.left(), place.top()), frame.plot.max);
    let response = ui.interact(hit, chart_id(ui), Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, sentence(view, scene.drift)));
    let mut outcome = Outcome::default();
    if let Some(at) = response.hover_pos() {
        outcome.hovered = drift_paint::nearest(&frame, scene, at, 16.0);
    }
    outcome.is_clicked = response.clicked();
    if response.has_focus() {
        let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.ctx().memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrows));
    }
    outcome.is_reset = response.double_clicked();
    if response.dragged() && response.drag_delta().x.abs() > 0.0 {
        let by = frame.x.value(frame.plot.left()) - frame.x.value(frame.plot.left() + response.drag_delta().x);
        outcome.view = Some((scene.view.0 + by, scene.view.1 + by));
    }
    if response.contains_pointer() {
        let (scroll, zoom) = ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
        let factor = f64::from(zoom) * (f64::from(scroll.y) * 0.004).exp();
        if let Some(at) = response.hover_pos().filter(|_| scroll != egui::Vec2::ZERO || (zoom - 1.0).abs() > 1e-4) {
            let around = frame.x.value(at.x);
            let by = frame.x.value(0.0) - frame.x.value(scroll.x);
            outcome.view = Some(zoomed(scene.view, around, factor, by));
            ui.input_mut(|input| input.smooth_scroll_delta = egui::Vec2::ZERO);
        }
    }
    (frame, outcome)
}

/// The id of the chart, for focus.
pub(super) fn chart_id(ui: &egui::Ui) -> Id {
    ui.scope_id().with("drift chart")
}

/// A span brought closer by a factor around a place, then moved.
pub(super) fn zoomed(view: (f64, f64), around: f64, factor: f64, by: f64) -> (f64, f64) {
    let factor = factor.clamp(0.2, 5.0);
    (around + (view.0 - around) / factor + by, around + (view.1 - around) / factor + by)
}

/// A span kept near what is known, and neither too short nor too long.
pub(super) fn held(view: (f64, f64), extent: (f64, f64), axis: Axis) -> (f64, f64) {
    let least = match axis {
        Axis::Date => 14.0,
        Axis::RunHours => 100.0,
        Axis::ClampCycles => 1000.0,
    };
    let slack = 0.05 * (extent.1 - extent.0);
    let (low, high) = (extent.0 - slack, extent.1 + slack);
    let width = (view.1 - view.0).clamp(least, (high - low).max(least));
    let middle = f64::midpoint(view.0, view.1);
    let start = (middle - width / 2.0).min(high - width).max(low);
    (start, start + width)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zooming_keeps_the_place_under_the_pointer() {
        let (from, to) = zoomed((0.0, 100.0), 25.0, 2.0, 0.0);
        assert!((from - 12.5).abs() < 1e-9 && (to - 62.5).abs() < 1e-9);
    }

    #[test]
    fn an_earlier_day_is_not_called_today() {
        let day = |text| almanac_core::moment::parse_iso_date(text).unwrap();
        assert_eq!(upright_words(day("2026-03-02"), day("2026-03-02")), "today");
        assert_eq!(upright_words(day("2024-11-20"), day("2026-03-02")), "20 Nov 2024");
    }

    #[test]
    fn the_span_stays_near_what_is_known() {
        let extent = (0.0, 1000.0);
        let (from, to) = held((-500.0, 100.0), extent, Axis::Date);
        assert!((from + 50.0).abs() < 1e-9 && (to - 550.0).abs() < 1e-9);
        let (from, to) = held((10.0, 11.0), extent, Axis::Date);
        assert!((to - from - 14.0).abs() < 1e-9);
        let (from, to) = held((-9e9, 9e9), extent, Axis::Date);
        assert!(from >= -50.1 && to <= 1050.1);
    }
}
