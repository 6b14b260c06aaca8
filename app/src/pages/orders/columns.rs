//! Where the columns of the list stand. The less needed ones give way in a narrow window; what is
//! left goes to the reason.

use super::line::Line;
use super::view::SortBy;
use crate::theme::{MARGIN, sans, semibold, size};
use eframe::egui::{Color32, FontId, Painter, Rangef, Rect};

/// Space between two columns.
const GAP: f32 = 12.0;
/// Room for the tick and the mark of a line.
const MARKS: f32 = 40.0;
/// The least width in which a reason can be read.
const LEAST_REASON: f32 = 90.0;

/// One column in its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) column: SortBy,
    pub(super) x: Rangef,
}

/// All columns in one width of the page.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Columns {
    /// Middle of the tick of marked lines.
    pub(super) tick: f32,
    /// Middle of the state mark.
    pub(super) mark: f32,
    pub(super) places: Vec<Place>,
    /// Where the reason stands; `None`: no room.
    pub(super) reason: Option<Rangef>,
    /// Right edge of the table.
    pub(super) right: f32,
}

/// Widths of the columns, in the order of [`SortBy::ALL`], space between them included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Widths([f32; 12]);

/// Which columns give way first.
const GIVES_WAY: [SortBy; 4] = [SortBy::StopCost, SortBy::Interface, SortBy::Spindle, SortBy::Service];

/// The text of a cell.
pub(super) fn cell(line: &Line, column: SortBy) -> &str {
    match column {
        SortBy::Number if line.key.order.is_none() => "\u{2013}",
        SortBy::Number => &line.of.order,
        SortBy::State => line.of.state.label(),
        SortBy::Position if line.of.place.is_empty() => "\u{2013}",
        SortBy::Position => &line.of.place,
        SortBy::Spindle => &line.of.spindle,
        SortBy::Interface => &line.of.interface,
        SortBy::Service => line.of.service.key(),
        SortBy::ServiceBy => &line.service_by,
        SortBy::When => &line.when,
        SortBy::Who => &line.who,
        SortBy::Kit => &line.kit,
        SortBy::Hours => &line.hours,
        SortBy::StopCost => &line.stop_cost,
    }
}

/// The least and the most that a column may take.
const fn bounds(column: SortBy) -> (f32, f32) {
    match column {
        SortBy::Number => (60.0, 130.0),
        SortBy::State => (82.0, 100.0),
        SortBy::Position => (64.0, 110.0),
        SortBy::Spindle => (60.0, 120.0),
        SortBy::Interface => (80.0, 130.0),
        SortBy::Service => (54.0, 60.0),
        SortBy::ServiceBy => (76.0, 90.0),
        SortBy::When => (100.0, 132.0),
        SortBy::Who => (76.0, 150.0),
        SortBy::Kit => (56.0, 90.0),
        SortBy::Hours => (46.0, 56.0),
        SortBy::StopCost => (64.0, 90.0),
    }
}

/// Measures the longest texts of each column.
pub(super) fn measure(painter: &Painter, lines: &[Line]) -> Widths {
    let width = |text: &str, font: FontId| painter.layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER).size().x;
    Widths(SortBy::ALL.map(|column| {
        let mut texts: Vec<&str> = lines.iter().map(|line| cell(line, column)).collect();
        // the widest is among the longest: measuring thousands of cells would be felt
        texts.sort_by_cached_key(|text| std::cmp::Reverse(text.chars().count()));
        texts.dedup();
        let widest = texts.iter().take(16).map(|text| width(text, semibold(size::BODY))).fold(0.0, f32::max);
        let head = width(column.head(), sans(size::LABEL)) + 8.0;
        let (least, most) = bounds(column);
        (widest.max(head) + GAP).clamp(least, most)
    }))
}

impl Columns {
    /// The columns in a page of that width: as many as find room side by side.
    pub(super) fn lay(page: Rect, widths: &Widths) -> Self {
        let (left, right) = (page.left() + MARGIN, page.right() - MARGIN);
        let width = |column: SortBy| widths.0.get(column as usize).copied().unwrap_or_default();
        let mut columns: Vec<SortBy> = SortBy::ALL.to_vec();
        let mut gone = GIVES_WAY.into_iter();
        while left + MARKS + columns.iter().map(|column| width(*column)).sum::<f32>() > right {
            let Some(column) = gone.next() else { break };
            columns.retain(|one| *one != column);
        }
        let mut x = left + MARKS;
        let places = columns.into_iter().map(|column| {
            let from = x;
            x += width(column);
            Place { column, x: Rangef::new(from, x - GAP) }
        });
        let places = places.collect();
        let reason = Rangef::new(x + 6.0, right);
        Self {
            tick: left + 6.0,
            mark: left + 27.0,
            places,
            reason: (reason.span() >= LEAST_REASON).then_some(reason),
            right,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::{pos2, vec2};

    #[test]
    fn columns_give_way_and_never_lie_on_one_another() {
        let widths = Widths(SortBy::ALL.map(|column| bounds(column).1));
        for width in [600.0, 760.0, 900.0, 1100.0, 1280.0, 1920.0] {
            let columns = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(width, 600.0)), &widths);
            for pair in columns.places.windows(2) {
                assert!(pair[0].x.max <= pair[1].x.min, "{width}: {pair:?}");
            }
            let shown: Vec<SortBy> = columns.places.iter().map(|place| place.column).collect();
            for kept in [SortBy::Number, SortBy::State, SortBy::Position, SortBy::When, SortBy::Kit, SortBy::Hours] {
                assert!(shown.contains(&kept), "{width}: {kept:?}");
            }
        }
        let least = Widths(SortBy::ALL.map(|column| bounds(column).0));
        let narrow = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(700.0, 350.0)), &least);
        assert!(narrow.places.last().is_some_and(|last| last.x.max <= narrow.right), "{narrow:?}");
    }
}
