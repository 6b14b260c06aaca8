//! The spindle page: why this date, and is something unusual?

mod between;
mod control;
mod drift;
mod facts;
mod figures;
mod keys;
mod legend;
mod panel;
mod record;
mod setting;
mod strokes;
mod table;
mod title;
mod usage;
mod view;

use super::shop::registers::RegisterKind;
use super::{Form, Page, PageContext, Request, Requests};
use crate::charts::clock::Axis;
use crate::charts::drift_paint::{self, Scene};
use crate::theme::{MARGIN, sans, size};
use crate::what_if::Of;
use crate::widgets::line::TextLine;
use almanac_core::ids::SpindleId;
use eframe::egui::{self, Rect, Role, ScrollArea, Sense, Stroke, WidgetInfo, pos2, vec2};
use figures::{Cache, Figures};
use keys::Gesture;
use panel::Panel;
use record::{Record, RecordKey, What, read_out};
use std::sync::Arc;
use view::View;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct SpindlePage {
    shown: Option<SpindleId>,
    axis: Axis,
    /// Span in view; `None`: as the chart opens.
    span: Option<(f64, f64)>,
    cursor: Option<RecordKey>,
    /// Under the pointer in the chart, and in the table.
    hovered: [Option<RecordKey>; 2],
    panel: Panel,
    shows_replaced: bool,
    /// The table is to bring the cursor into view.
    follows: bool,
    rows_had_focus: bool,
    scrolled: table::Scrolled,
    cache: Cache,
}

/// A scroll bar that takes no room from the columns.
fn thin_scroll() -> egui::style::ScrollStyle {
    let mut style = egui::style::ScrollStyle::floating();
    style.bar_width = 6.0;
    style
}

/// Least height at which everything stands on one page; below, it scrolls.
const LEAST_HEIGHT: f32 = 600.0;
/// Least width at which the facts stand beside the chart.
const LEAST_WIDTH: f32 = 1100.0;

impl SpindlePage {
    /// Draws the page for a spindle.
    pub fn ui(&mut self, ui: &mut egui::Ui, spindle: SpindleId, context: &PageContext<'_>, requests: &mut Requests) {
        let Some(view) = View::of(ui, context, spindle) else {
            Self::missing_ui(ui, requests);
            return;
        };
        if self.shown != Some(spindle) {
            self.arrive(spindle);
        }
        if !self.cache.clock(&view).knows(self.axis) {
            self.axis = Axis::Date;
        }
        let figures = self.cache.figures(&view, self.axis);
        self.keep_cursor(&figures);
        let has_replaced = figures.records.iter().any(|record| record.standing != record::Standing::Counts);
        let pressed = keys::pressed(ui, context);
        let stand = keys::Stand {
            has_replaced,
            is_zoomed: self.span.is_some(),
            both: self.correctable(&figures).and_then(|record| record.both_to_correct(&view)),
            corrects: pressed.contains(&Gesture::Correct),
        };
        let mut gestures = keys::foot_ui(ui, &view, &stand);
        gestures.extend(pressed.into_iter().filter(|gesture| *gesture != Gesture::Correct || stand.both.is_none()));
        for gesture in gestures {
            self.apply(gesture, &view, &figures, requests);
        }
        let figures = self.cache.figures(&view, self.axis);
        let whole = ui.available_rect_before_wrap();
        let place =
            Rect::from_min_max(pos2(whole.left() + MARGIN, whole.top()), pos2(whole.right() - MARGIN, whole.bottom()));
        let is_wide = place.width() >= LEAST_WIDTH;
        if is_wide && place.height() >= LEAST_HEIGHT {
            self.wide_ui(ui, place, &view, &figures, requests);
            return;
        }
        ScrollArea::vertical().id_salt("spindle page").auto_shrink(false).show(ui, |ui| {
            let height = if is_wide { LEAST_HEIGHT } else { 1330.0 };
            let (_, rect) = ui.allocate_space(vec2(ui.available_width(), height));
            let place =
                Rect::from_min_max(pos2(rect.left() + MARGIN, rect.top()), pos2(rect.right() - MARGIN, rect.bottom()));
            if is_wide {
                self.wide_ui(ui, place, &view, &figures, requests);
            } else {
                self.narrow_ui(ui, place, &view, &figures, requests);
            }
        });
    }

    fn missing_ui(ui: &mut egui::Ui, requests: &mut Requests) {
        let back = crate::widgets::foot::frame(ui, |ui| {
            crate::widgets::foot::foot_key(ui, crate::widgets::foot::FootKey { printed: "Esc", does: "back" }, true)
                .clicked()
        });
        if back || crate::widgets::foot::pressed(ui, egui::Key::Escape) {
            requests.push(Request::Back);
        }
        ui.add_space(20.0);
        ui.horizontal(|ui| {
            ui.add_space(MARGIN);
            ui.label("This spindle is not in the shop on that day.");
        });
    }

    fn arrive(&mut self, spindle: SpindleId) {
        self.shown = Some(spindle);
        self.span = None;
        self.cursor = None;
        self.hovered = [None; 2];
        self.follows = true;
        self.scrolled = table::Scrolled::default();
    }

    /// The cursor starts at the newest record that counts, and leaves one that went away.
    fn keep_cursor(&mut self, figures: &Figures) {
        let is_there = |key: RecordKey| figures.records.iter().any(|record| record.key == key);
        if !self.cursor.is_some_and(is_there) {
            let newest = figures.records.iter().find(|record| record.standing == record::Standing::Counts);
            self.cursor = newest.or_else(|| figures.records.first()).map(|record| record.key);
        }
        for hovered in &mut self.hovered {
            *hovered = hovered.filter(|key| is_there(*key));
        }
    }

    fn apply(&mut self, gesture: Gesture, view: &View<'_>, figures: &Figures, requests: &mut Requests) {
        let span = self.span.unwrap_or(figures.drift.opening);
        let zoom = |factor: f64| {
            let cursor = self.cursor.and_then(|key| figures.place_of(key));
            let around =
                cursor.filter(|x| span.0 <= *x && *x <= span.1).unwrap_or_else(|| f64::midpoint(span.0, span.1));
            drift::held(drift::zoomed(span, around, factor, 0.0), figures.drift.extent, figures.drift.axis)
        };
        match gesture {
            Gesture::Older => self.step(figures, 1),
            Gesture::Newer => self.step(figures, -1),
            Gesture::Newest => self.step(figures, -(figures.records.len() as i64)),
            Gesture::Oldest => self.step(figures, figures.records.len() as i64),
            Gesture::Axis => {
                let clock = self.cache.clock(view);
                let mut next = self.axis.next();
                while !clock.knows(next) {
                    next = next.next();
                }
                self.set_axis(next);
            }
            Gesture::NextPanel => self.panel = self.panel.stepped(true),
            Gesture::PreviousPanel => self.panel = self.panel.stepped(false),
            Gesture::ZoomIn => self.span = Some(zoom(1.4)),
            Gesture::ZoomOut => self.span = Some(zoom(1.0 / 1.4)),
            Gesture::Reset => self.span = None,
            Gesture::Replaced => self.shows_replaced = !self.shows_replaced,
            Gesture::NextSpindle | Gesture::PreviousSpindle => {
                let [before, after] = view.neighbours();
                let to = if gesture == Gesture::NextSpindle { after } else { before };
                if let Some((id, _)) = to {
                    requests.push(Request::Go(Page::Spindle(id)));
                }
            }
            Gesture::NewReading => requests.push(Request::OpenForm(Form::Reading(view.id))),
            Gesture::NewService => requests.push(Request::OpenForm(Form::Service(view.id))),
            Gesture::NewMeter => requests.push(Request::OpenForm(Form::Meter(view.id))),
            Gesture::EditSpindle => {
                requests.push(Request::OpenForm(Form::Row(RegisterKind::Spindles, Some(view.id.row()))));
            }
            Gesture::Exchange => requests.push(Request::OpenForm(Form::Exchange(view.id))),
            Gesture::Correct => {
                let form = self.correctable(figures).and_then(|record| match &record.what {
                    What::Reading { .. } => record.reading().map(|row| Form::CorrectReading(row.id)),
                    What::Service(service) => Some(Form::CorrectService(service.id)),
                });
                if let Some(form) = form {
                    requests.push(Request::OpenForm(form));
                } else {
                    requests.push(Request::Notice(
                        "That record no longer counts; correct the one that took its place.".to_owned(),
                    ));
                }
            }
            Gesture::CorrectOf(quantity) => {
                let row = self.correctable(figures).and_then(|record| record.reading_of(quantity));
                if let Some(row) = row {
                    requests.push(Request::OpenForm(Form::CorrectReading(row.id)));
                }
            }
            Gesture::WhatIf => requests.push(Request::WhatIf(Of::ThisSpindle)),
            Gesture::Back => requests.push(Request::Back),
        }
    }

    /// The record under the pointer, else under the cursor.
    fn pointed(&self) -> Option<RecordKey> {
        let [chart, table] = self.hovered;
        chart.or(table).or(self.cursor)
    }

    /// The record under the cursor, where it still counts.
    fn correctable<'f>(&self, figures: &'f Figures) -> Option<&'f Record> {
        figures.record(self.cursor?).filter(|record| record.standing == record::Standing::Counts)
    }

    fn step(&mut self, figures: &Figures, by: i64) {
        let count = figures.records.len() as i64;
        let here = self.cursor.and_then(|key| figures.records.iter().position(|record| record.key == key));
        let to = here.map_or(0, |here| here as i64 + by).clamp(0, (count - 1).max(0));
        if let Some(record) = figures.records.get(to as usize) {
            self.choose(record.key, figures);
        }
    }

    /// Puts the cursor on a record; table and chart bring it into view.
    fn choose(&mut self, key: RecordKey, figures: &Figures) {
        self.cursor = Some(key);
        self.hovered = [None; 2];
        self.follows = true;
        let span = self.span.unwrap_or(figures.drift.opening);
        if let Some(x) = figures.place_of(key)
            && !(span.0..=span.1).contains(&x)
        {
            let width = span.1 - span.0;
            let start = if x < span.0 { x - 0.05 * width } else { x - 0.95 * width };
            self.span = Some(drift::held((start, start + width), figures.drift.extent, figures.drift.axis));
        }
    }

    fn set_axis(&mut self, axis: Axis) {
        self.axis = axis;
        self.span = None;
    }

    /// Everything on one page, facts beside the chart.
    fn wide_ui(
        &mut self,
        ui: &mut egui::Ui,
        place: Rect,
        view: &View<'_>,
        figures: &Arc<Figures>,
        requests: &mut Requests,
    ) {
        let under_title = title::ui(ui, place, view, requests);
        let spare = (place.height() - 721.0).max(-160.0);
        let lower = 256.0 + if spare > 0.0 { spare * 0.4 } else { spare * 0.45 };
        let middle_rule = (place.bottom() - lower).round() + 0.5;
        let facts_left = place.right() - 360.0;
        let drift_place = Rect::from_min_max(pos2(place.left(), under_title), pos2(facts_left - 38.0, middle_rule));
        self.drift_ui(ui, drift_place, view, figures);
        let facts_place = Rect::from_min_max(pos2(facts_left, under_title), pos2(place.right(), middle_rule - 2.0));
        facts::ui(ui, facts_place, view);
        ui.painter().hline(place.x_range(), middle_rule, Stroke::new(1.0, view.colours.rule));
        let panel_right = place.left() + 626.0 + (place.width() - 1240.0) * 0.45;
        let panel_place = Rect::from_min_max(pos2(place.left(), middle_rule), pos2(panel_right, place.bottom()));
        self.panel_ui(ui, panel_place, view);
        let table_place = Rect::from_min_max(pos2(panel_right + 44.0, middle_rule), place.max);
        self.table_ui(ui, table_place, view, figures);
    }

    /// One below the other, for a narrow window or beside a form.
    fn narrow_ui(
        &mut self,
        ui: &mut egui::Ui,
        place: Rect,
        view: &View<'_>,
        figures: &Arc<Figures>,
        requests: &mut Requests,
    ) {
        let mut top = title::ui(ui, place, view, requests);
        let rule = |y: f32| ui.painter().hline(place.x_range(), y.round() + 0.5, Stroke::new(1.0, view.colours.rule));
        let left_over = place.bottom() - top;
        let shares = [0.32, 0.22, 0.22, 0.24];
        let mut parts = [Rect::NOTHING; 4];
        for (part, share) in parts.iter_mut().zip(shares) {
            *part = Rect::from_min_max(pos2(place.left(), top), pos2(place.right(), top + left_over * share));
            top = part.bottom();
        }
        for part in parts.iter().skip(1) {
            rule(part.top());
        }
        self.drift_ui(ui, parts[0], view, figures);
        self.table_ui(ui, parts[1], view, figures);
        self.panel_ui(ui, parts[2], view);
        facts::ui(ui, parts[3], view);
    }

    fn drift_ui(&mut self, ui: &mut egui::Ui, place: Rect, view: &View<'_>, figures: &Arc<Figures>) {
        let clock = self.cache.clock(view);
        if let Some(axis) = drift::head_ui(ui, place, view, self.axis, &clock) {
            self.set_axis(axis);
            ui.ctx().request_repaint();
        }
        self.read_out_ui(ui, pos2(place.left(), place.top() + 41.5), place.width(), view, figures);
        let shown = legend::Shown { steps: !figures.drift.steps.is_empty(), replaced: self.shows_replaced };
        let legend_top = place.bottom() - 12.0 - legend::height(ui, place.width(), shown);
        let legend = Rect::from_min_max(pos2(place.left(), legend_top), pos2(place.right(), place.bottom() - 12.0));
        let chart = Rect::from_min_max(pos2(place.left(), place.top() + 48.0), pos2(place.right(), legend.top() - 1.0));
        if view.forecast.is_none() {
            let at = pos2(place.left() + 46.0, chart.top() + 40.0);
            let text = "The chart follows as soon as the figures are computed.";
            crate::widgets::text::left(ui.painter(), at, text, sans(size::BODY), view.colours.ink2);
            return;
        }
        let span = self.span.unwrap_or(figures.drift.opening);
        let kept = self.cache.thinned(figures, span, chart.width());
        let scene = Scene {
            drift: &figures.drift,
            view: span,
            forces: figures.drift.force_span(span.0, span.1),
            kept: &kept,
            unit: view.force_unit(),
            shows_replaced: self.shows_replaced,
            is_stale: !view.context.is_current,
            words: &figures.words,
        };
        let (frame, outcome) = drift::chart_ui(ui, chart, &scene, view);
        let hovered = outcome.hovered.and_then(|id| figures.records.iter().find(|record| record.holds(id)));
        if let Some(key) = self.pointed()
            && let Some(x) = figures.place_of(key)
        {
            let mark = figures.point_of(key).map(|point| frame.mark(point));
            drift_paint::cursor(ui.painter(), &frame, x, mark, view.colours.ink);
        }
        if let Some(view) = outcome.view {
            self.span = Some(drift::held(view, figures.drift.extent, figures.drift.axis));
        }
        if outcome.is_reset {
            self.span = None;
        }
        if outcome.is_clicked
            && let Some(record) = hovered
        {
            self.choose(record.key, figures);
        }
        self.hovered[0] = hovered.map(|record| record.key);
        legend::ui(ui, legend, view, shown);
    }

    /// The one line that tells all about the point under pointer or cursor.
    fn read_out_ui(&self, ui: &egui::Ui, base: egui::Pos2, width: f32, view: &View<'_>, figures: &Figures) {
        let record = self.pointed().and_then(|key| figures.record(key));
        let line = match (record, view.forecast) {
            (Some(record), _) => read_out(view, &figures.clock, record),
            (None, Some(forecast)) => {
                let words = drift::borrowed_words(view, forecast);
                let text = if words.starts_with("no reading") { words } else { format!("no reading yet; {words}") };
                TextLine::new().with(0.0, almanac_core::words::capital(&text), sans(size::BODY), view.colours.ink2)
            }
            (None, None) => return,
        };
        let (rect, is_cut) = line.paint(ui.painter(), base, width);
        let said = ui.interact(rect, ui.scope_id().with("read-out"), Sense::hover());
        said.widget_info(|| WidgetInfo::labeled(Role::Status, true, line.plain()));
        if is_cut {
            said.on_hover_text(line.plain());
        }
    }

    fn panel_ui(&mut self, ui: &mut egui::Ui, place: Rect, view: &View<'_>) {
        let clock = self.cache.clock(view);
        if let Some(panel) = panel::ui(ui, place, view, self.panel, (self.axis, &clock)) {
            self.panel = panel;
            ui.ctx().request_repaint();
        }
    }

    fn table_ui(&mut self, ui: &mut egui::Ui, place: Rect, view: &View<'_>, figures: &Arc<Figures>) {
        let place = Rect::from_min_max(place.min, pos2(place.right(), place.bottom() - 4.0));
        let focus = if self.rows_had_focus && self.follows { table::Focus::Wanted } else { table::Focus::Left };
        let follows = std::mem::take(&mut self.follows);
        let records: &[Record] = &figures.records;
        let outcome =
            table::ui(ui, place, view, (records, &figures.clock), self.cursor, (&mut self.scrolled, follows, focus));
        self.rows_had_focus = outcome.has_focus || focus == table::Focus::Wanted;
        if let Some(key) = outcome.chosen {
            self.choose(key, figures);
            self.rows_had_focus = true;
            ui.ctx().request_repaint();
        } else if self.hovered[1] != outcome.hovered {
            self.hovered[1] = outcome.hovered;
            ui.ctx().request_repaint();
        }
    }
}
