//! The words and figures of one row, each in its column.

use super::columns::Columns;
use super::line::{Line, Placed};
use crate::theme::{Palette, sans, semibold, size};
use crate::widgets::{mark, text};
use almanac_core::due::Mark;
use eframe::egui::{self, Painter, pos2};

/// A reserve at or under this is set bold: it is nearly gone.
const NEARLY_GONE: f64 = 2.0;

/// How figures look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look<'a> {
    /// Colours in force.
    pub(super) colours: &'a Palette,
    /// Unit of the force figures.
    pub(super) unit: &'a str,
    /// Figures belong to what the shop holds now; else they are set in second ink.
    pub(super) is_current: bool,
}

/// Paints the cells of a row centred on `y`.
pub(super) fn paint(ui: &egui::Ui, painter: &Painter, columns: &Columns, line: &Line, y: f32, look: &Look<'_>) {
    let colours = look.colours;
    let figure = if look.is_current { colours.ink } else { colours.ink2 };
    let body = || sans(size::BODY);
    let bold = || semibold(size::BODY);

    state(ui, painter, columns, line, y, colours);
    let cut = |x: f32, words: &str, font, ink, width: f32| text::left_cut(painter, pos2(x, y), words, font, ink, width);
    cut(columns.position, &line.position, bold(), colours.ink, columns.position_end - columns.position);
    let figures = columns.force_figure - 38.0;
    if let Some(x) = columns.spindle {
        cut(x, &line.name, body(), colours.ink, columns.interface.unwrap_or(figures) - 4.0 - x);
    }
    if let Some(x) = columns.interface {
        cut(x, &line.interface, body(), colours.ink2, figures - x);
    }

    text::right(painter, pos2(columns.force_figure, y), &line.force, body(), figure);
    // smaller, on the same base line as its figure
    text::right(painter, pos2(columns.force, y + 1.0), look.unit, sans(size::SMALL), colours.ink3);
    if let Some(x) = columns.percent {
        text::right(painter, pos2(x, y), &line.percent, body(), figure);
    }
    if let Some(x) = columns.reserve {
        reserve(painter, x, line, y, look, figure);
    }
    service_by(painter, columns, line, y, colours, figure);
    if let Some(x) = columns.days {
        text::right(painter, pos2(x, y), &line.days, body(), colours.ink2);
    }
    if let Some(because) = columns.because {
        text::left(painter, pos2(because, y), line.because, body(), colours.ink);
    }
    placed(painter, columns, line, y, colours);
}

fn state(ui: &egui::Ui, painter: &Painter, columns: &Columns, line: &Line, y: f32, colours: &Palette) {
    let Some(mark) = line.mark else {
        text::left(painter, pos2(columns.state, y), "–", sans(size::BODY), colours.ink3);
        return;
    };
    mark::paint(ui, painter, pos2(columns.mark, y), mark);
    let ink = match mark {
        Mark::DoNotRun | Mark::PastLimit | Mark::ToBook | Mark::BookedLate => colours.act,
        Mark::Booked => colours.ink,
        Mark::Clear | Mark::NoReading | Mark::OutOfService => colours.ink2,
    };
    text::left(painter, pos2(columns.state, y), mark.label(), state_font(mark), ink);
}

/// The two states in which a limit is passed are set bold.
pub(super) fn state_font(mark: Mark) -> egui::FontId {
    match mark {
        Mark::DoNotRun | Mark::PastLimit => semibold(size::BODY),
        _ => sans(size::BODY),
    }
}

fn reserve(painter: &Painter, x: f32, line: &Line, y: f32, look: &Look<'_>, figure: egui::Color32) {
    let value = line.keys.reserve.filter(|_| line.mark != Some(Mark::OutOfService)).unwrap_or(f64::INFINITY);
    let font = if value <= NEARLY_GONE { semibold(size::BODY) } else { sans(size::BODY) };
    let ink = if value < 0.0 && look.is_current { look.colours.act } else { figure };
    text::right(painter, pos2(x, y), &line.reserve, font, ink);
}

fn service_by(painter: &Painter, columns: &Columns, line: &Line, y: f32, colours: &Palette, figure: egui::Color32) {
    let font = if line.is_near { semibold(size::BODY) } else { sans(size::BODY) };
    let is_pressing = line.keys.is_now && line.mark.is_some_and(Mark::needs_action);
    let ink = if is_pressing { colours.act } else { figure };
    let has_days = columns.days.is_some() && !line.days.is_empty();
    let room = columns.service_by_end - columns.service_by - if has_days { columns.days_width } else { 0.0 };
    text::left_cut(painter, pos2(columns.service_by, y), &line.service_by, font, ink, room);
}

fn placed(painter: &Painter, columns: &Columns, line: &Line, y: f32, colours: &Palette) {
    let at = pos2(columns.placed, y);
    match &line.placed {
        Placed::Open => {}
        Placed::ToDo(what) => {
            text::left_cut(painter, at, what, sans(size::BODY), colours.act, columns.right - at.x);
        }
        Placed::Ordered(what) => {
            text::left_cut(painter, at, what, sans(size::BODY), colours.ink2, columns.right - at.x);
        }
        Placed::On { day, who, acts } => {
            let ink = if *acts { colours.act } else { colours.ink };
            let day = text::left(painter, at, day, semibold(size::BODY), ink);
            let beside = pos2(day.right() + 3.5, y);
            text::left_cut(painter, beside, who, sans(size::BODY), colours.ink2, (columns.right - beside.x).max(0.0));
        }
    }
}
