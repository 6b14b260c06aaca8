//! The panel under the chart: between services, setting dimension, usage, strokes or control chart.

use super::drift::word_ui;
use super::view::View;
use super::{between, control, setting, strokes, usage};
use crate::charts::clock::{Axis, Clock};
use crate::theme::{sans, semibold, serif_semibold, size};
use crate::widgets::line::TextLine;
use crate::widgets::text::{left, right};
use eframe::egui::{self, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// What the panel shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Panel {
    #[default]
    Between,
    Setting,
    Usage,
    Strokes,
    Control,
}

impl Panel {
    pub(super) const ALL: [Self; 5] = [Self::Between, Self::Setting, Self::Usage, Self::Strokes, Self::Control];

    pub(super) const fn label(self) -> &'static str {
        match self {
            Self::Between => "between services",
            Self::Setting => "setting dimension",
            Self::Usage => "usage",
            Self::Strokes => "strokes",
            Self::Control => "control chart",
        }
    }

    const fn head(self) -> &'static str {
        match self {
            Self::Between => "Between services",
            Self::Setting => "Setting dimension",
            Self::Usage => "Usage",
            Self::Strokes => "Strokes",
            Self::Control => "Control chart",
        }
    }

    const fn caption(self) -> &'static str {
        match self {
            Self::Between => "force since each service, newest strongest",
            Self::Setting => "over time, with its tolerance",
            Self::Usage => "run hours of a working day",
            Self::Strokes => "each about its mean, % of nominal",
            Self::Control => "how far off each reading was, and where that drifts to",
        }
    }

    /// The one after (or before) it.
    pub(super) fn stepped(self, forward: bool) -> Self {
        let here = Self::ALL.iter().position(|panel| *panel == self).unwrap_or_default();
        let step = if forward { 1 } else { Self::ALL.len() - 1 };
        Self::ALL.get((here + step) % Self::ALL.len()).copied().unwrap_or_default()
    }
}

/// Draws the panel into a place; gives another one where its word was clicked.
pub(super) fn ui(
    ui: &mut egui::Ui,
    place: Rect,
    view: &View<'_>,
    panel: Panel,
    (axis, clock): (Axis, &Clock),
) -> Option<Panel> {
    let c = view.colours;
    let base = place.top() + 20.0;
    let mut chosen = None;
    // the chosen one is the head, the others stand right after it: not over the columns of the table
    let head = TextLine::new().with(0.0, panel.head(), serif_semibold(size::SECTION), c.ink);
    let (rect, _) = head.paint(ui.painter(), pos2(place.left(), base), place.width());
    ui.painter().hline(rect.x_range(), base + 3.5, Stroke::new(1.5, c.ink));
    let said = ui.interact(rect, ui.scope_id().with("chosen panel"), Sense::hover());
    said.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, true, panel.label()));
    let or = TextLine::new().with(0.0, "or", sans(size::LABEL), c.ink2);
    let (rect, _) = or.paint(ui.painter(), pos2(rect.right() + 12.0, base), place.width());
    let mut x = rect.right() + 8.0;
    for other in Panel::ALL.into_iter().filter(|other| *other != panel) {
        let response = word_ui(ui, pos2(x, base), other.label(), false, true, view);
        if response.clicked() {
            chosen = Some(other);
        }
        x = response.rect.right() + 10.0;
    }
    let caption = TextLine::new().with(0.0, panel.caption(), sans(size::LABEL), c.ink2);
    let table_width = 222.0_f32.min(place.width() * 0.4);
    let body = Rect::from_min_max(pos2(place.left(), place.top() + 29.0), place.max);
    let chart = pos2(body.right() - table_width - 24.0, body.bottom() - 8.0);
    caption.paint(ui.painter(), pos2(place.left(), body.top() + 11.0), chart.x - place.left());
    let chart = Rect::from_min_max(body.min + vec2(0.0, 15.0), chart);
    let table = Rect::from_min_max(pos2(body.right() - table_width, body.top()), body.max);
    let said = match panel {
        Panel::Between => between::ui(ui, chart, table, view, (axis, clock)),
        Panel::Setting => setting::ui(ui, chart, table, view),
        Panel::Usage => usage::ui(ui, chart, table, view, clock),
        Panel::Strokes => strokes::ui(ui, chart, table, view),
        Panel::Control => control::ui(ui, chart, table, view),
    };
    let picture = ui.interact(chart, ui.scope_id().with("panel chart"), Sense::hover());
    picture.widget_info(|| WidgetInfo::labeled(Role::Image, true, said.as_str()));
    chosen
}

/// A sentence where a chart has nothing to show.
pub(super) fn nothing(ui: &egui::Ui, place: Rect, view: &View<'_>, text: &str) {
    let at = pos2(place.left() + 46.0, place.top() + 28.0);
    crate::widgets::text::left_cut(ui.painter(), at, text, sans(size::BODY), view.colours.ink2, place.width() - 46.0);
}

/// A small table of three columns: words left, two of figures.
pub(super) struct Columns<'a> {
    pub(super) heads: [&'a str; 3],
    pub(super) rows: Vec<[Cell; 3]>,
}

/// A cell: figure, and a smaller text after it.
#[derive(Debug, Clone, Default)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) aside: String,
    /// What is said in place of the smaller text, where that is short.
    pub(super) said: String,
    pub(super) is_strong: bool,
    pub(super) is_bad: bool,
}

impl Cell {
    pub(super) fn of(text: impl Into<String>) -> Self {
        Self { text: text.into(), ..Self::default() }
    }

    pub(super) fn strong(mut self, is_strong: bool) -> Self {
        self.is_strong = is_strong;
        self
    }

    pub(super) fn aside(mut self, aside: impl Into<String>) -> Self {
        self.aside = aside.into();
        self
    }
}

impl Columns<'_> {
    /// Draws as many rows as fit over a foot; gives the y under them.
    pub(super) fn ui(&self, ui: &mut egui::Ui, place: Rect, foot: f32, view: &View<'_>) -> f32 {
        let c = view.colours;
        let painter = ui.painter().clone();
        let width = |text: &str| painter.layout_no_wrap(text.to_owned(), sans(size::LABEL), c.ink2).size().x;
        let aside = self.rows.iter().map(|row| width(&row[2].aside)).fold(0.0, f32::max);
        let last = if aside > 0.0 { place.right() - (aside + 6.0).max(38.0) } else { place.right() };
        let y = place.top() + 7.0;
        let head = painter.layout_no_wrap(self.heads[2].to_owned(), sans(size::LABEL), c.ink2);
        let middle = (place.left() + (last - place.left()) * 0.72).min(place.right() - head.size().x - 12.0);
        left(&painter, pos2(place.left(), y), self.heads[0], sans(size::LABEL), c.ink2);
        right(&painter, pos2(middle, y), self.heads[1], sans(size::LABEL), c.ink2);
        right(&painter, pos2(place.right(), y), self.heads[2], sans(size::LABEL), c.ink2);
        let rule = (place.top() + 17.0).round() + 0.5;
        painter.hline(place.x_range(), rule, Stroke::new(1.0, c.ink));
        let pitch = 20.0;
        let fits = ((place.bottom() - foot - rule) / pitch).floor().max(0.0) as usize;
        let mut y = rule + 4.0;
        for (index, row) in self.rows.iter().take(fits).enumerate() {
            let rect = Rect::from_min_max(pos2(place.left(), y), pos2(place.right(), y + pitch));
            let plain: Vec<String> = row
                .iter()
                .zip(self.heads)
                .filter(|(cell, _)| !cell.text.is_empty())
                .map(|(cell, head)| {
                    let after = if cell.said.is_empty() { &cell.aside } else { &cell.said };
                    format!("{head} {} {after}", cell.text).trim().to_owned()
                })
                .collect();
            let said = ui.interact(rect, ui.scope_id().with(("panel row", index)), Sense::hover());
            said.widget_info(|| WidgetInfo::labeled(Role::Label, true, plain.join(", ")));
            let at = y + pitch / 2.0;
            let font = |cell: &Cell| if cell.is_strong { semibold(size::BODY) } else { sans(size::BODY) };
            let ink = |cell: &Cell| if cell.is_bad { c.act } else { c.ink };
            left(&painter, pos2(place.left(), at), &row[0].text, font(&row[0]), ink(&row[0]));
            right(&painter, pos2(middle, at), &row[1].text, font(&row[1]), ink(&row[1]));
            right(&painter, pos2(last, at), &row[2].text, font(&row[2]), ink(&row[2]));
            left(&painter, pos2(last + 6.0, at + 0.5), &row[2].aside, sans(size::LABEL), c.ink2);
            y += pitch;
        }
        y
    }
}

/// A sentence under the table, wrapped.
pub(super) fn remark(ui: &mut egui::Ui, place: Rect, top: f32, text: &str, view: &View<'_>) {
    if text.is_empty() {
        return;
    }
    let c = view.colours;
    let rule = (top + 3.0).round() + 0.5;
    ui.painter().hline(place.x_range(), rule, Stroke::new(1.0, c.rule));
    let galley = ui.painter().layout(text.to_owned(), sans(size::BODY), c.ink, place.width());
    let rect = Rect::from_min_size(pos2(place.left(), rule + 5.0), galley.size());
    ui.painter().galley(rect.min, galley, c.ink);
    let said = ui.interact(rect, ui.scope_id().with("panel remark"), Sense::hover());
    said.widget_info(|| WidgetInfo::labeled(Role::Label, true, text));
}
