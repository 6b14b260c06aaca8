//! Where the columns of the table stand. They widen for longer names; the axis takes what is left.

use super::cells;
use super::line::{Line, Placed};
use super::view::SortBy;
use crate::theme::{MARGIN, sans, semibold, size};
use almanac_core::due::Mark;
use eframe::egui::{Color32, FontId, Painter, Rangef, Rect};

/// Places of all columns in one width of the page, left edges where nothing else is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Columns {
    pub(super) mark: f32,
    pub(super) state: f32,
    pub(super) position: f32,
    /// Right end of the position.
    pub(super) position_end: f32,
    /// `None`: no room; the foot names it.
    pub(super) spindle: Option<f32>,
    /// `None`: no room.
    pub(super) interface: Option<f32>,
    /// Right edge of the unit.
    pub(super) force: f32,
    /// Right edge of the figure before its unit.
    pub(super) force_figure: f32,
    /// Right edge.
    pub(super) percent: f32,
    /// Right edge.
    pub(super) reserve: f32,
    pub(super) service_by: f32,
    /// Right edge.
    pub(super) days: f32,
    pub(super) axis: Rangef,
    /// `None`: no room, the reason sentence has it.
    pub(super) because: Option<f32>,
    pub(super) placed: f32,
    /// Right edge of the table.
    pub(super) right: f32,
}

/// Widths of the columns whose texts differ from shop to shop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Widths {
    state: f32,
    position: f32,
    spindle: f32,
    interface: f32,
    unit: f32,
    force: f32,
    because: f32,
    placed: f32,
}

/// Space between two columns of words.
const GAP: f32 = 12.0;
/// Under this width of the axis a column of words gives way to it.
const NARROW_AXIS: f32 = 200.0;

/// Measures the longest texts of each column, between the least and the most that it may take.
pub(super) fn measure(painter: &Painter, lines: &[Line], unit: &str, with_not_mounted: bool) -> Widths {
    let lines: Vec<&Line> = lines.iter().filter(|line| line.is_mounted || with_not_mounted).collect();
    let width = |text: &str, font: FontId| painter.layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER).size().x;
    let body = || sans(size::BODY);
    let bold = || semibold(size::BODY);
    let longest = |text: &dyn Fn(&Line) -> String, font: &dyn Fn() -> FontId| {
        let mut texts: Vec<String> = lines.iter().map(|line| text(line)).collect();
        // the widest is among the longest: measuring thousands of cells would be felt
        texts.sort_by_cached_key(|text| std::cmp::Reverse(text.chars().count()));
        texts.dedup();
        texts.iter().take(24).map(|text| width(text, font())).fold(0.0, f32::max)
    };
    let states: std::collections::BTreeSet<Mark> = lines.iter().filter_map(|line| line.mark).collect();
    let state = states.into_iter().map(|mark| width(mark.label(), cells::state_font(mark))).fold(0.0, f32::max);
    let placed = longest(
        &|line| match &line.placed {
            Placed::Open => String::new(),
            Placed::On { day, who, .. } => format!("{day} {who}"),
            Placed::ToDo(what) | Placed::Ordered(what) => what.clone(),
        },
        &bold,
    );
    Widths {
        state: (state + 8.0).clamp(76.0, 100.0),
        position: (longest(&|line| line.position.clone(), &bold) + GAP).clamp(56.0, 100.0),
        spindle: (longest(&|line| line.name.clone(), &body) + GAP).clamp(54.0, 110.0),
        interface: (longest(&|line| line.interface.clone(), &body) + GAP).clamp(80.0, 130.0),
        unit: width(unit, sans(size::SMALL)),
        force: longest(&|line| line.force.clone(), &body).max(40.0),
        because: (longest(&|line| line.because.to_owned(), &body) + GAP).clamp(80.0, 112.0),
        placed: placed.clamp(94.0, 140.0),
    }
}

impl Columns {
    /// The columns in a page of that width. Where it is narrow, *because of*, the interface and the
    /// spindle give way to the axis, in this order.
    pub(super) fn lay(page: Rect, widths: &Widths) -> Self {
        let given_up = |columns: &Self| columns.axis.span() < NARROW_AXIS;
        let tries = [(true, true, true), (false, true, true), (false, false, true), (false, false, false)];
        let mut columns = Self::with(page, widths, tries[0]);
        for shown in tries.into_iter().skip(1) {
            if given_up(&columns) {
                columns = Self::with(page, widths, shown);
            }
        }
        columns
    }

    fn with(page: Rect, widths: &Widths, (has_because, has_interface, has_spindle): (bool, bool, bool)) -> Self {
        let left = page.left() + MARGIN;
        let right = page.right() - MARGIN;
        let taken = |width: f32, is_shown: bool| if is_shown { width } else { 0.0 };
        let state = left + 16.0;
        let position = state + widths.state;
        let spindle = position + widths.position;
        let interface = spindle + taken(widths.spindle, has_spindle);
        let force = interface + taken(widths.interface, has_interface) + widths.force + 4.0 + widths.unit;
        let percent = force + 32.0;
        let reserve = percent + 40.0;
        let service_by = reserve + 16.0;
        let days = service_by + 88.0;
        let placed = right - widths.placed;
        let because = placed - taken(widths.because, has_because);
        let axis = Rangef::new(days + 14.0, because - 14.0);
        Self {
            mark: left + 5.0,
            state,
            position,
            position_end: spindle - 4.0,
            spindle: has_spindle.then_some(spindle),
            interface: has_interface.then_some(interface),
            force,
            force_figure: force - widths.unit - 3.0,
            percent,
            reserve,
            service_by,
            days,
            axis: Rangef::new(axis.min, axis.max.max(axis.min + 1.0)),
            because: has_because.then_some(because),
            placed,
            right,
        }
    }

    /// Where the head of a column may be clicked, and whether its words stand to the right.
    pub(super) fn head(&self, column: SortBy) -> Option<(Rangef, bool)> {
        let span = |from: f32, to: f32| Rangef::new(from, to);
        Some(match column {
            SortBy::State => (span(self.state, self.position - 4.0), false),
            SortBy::Position => (span(self.position, self.position_end), false),
            SortBy::Spindle => (span(self.spindle?, self.interface.unwrap_or(self.force - 52.0) - 4.0), false),
            SortBy::Interface => (span(self.interface?, self.force - 52.0), false),
            SortBy::Force => (span(self.force - 50.0, self.force), true),
            SortBy::Percent => (span(self.percent - 24.0, self.percent - 6.0), true),
            SortBy::Reserve => (span(self.reserve - 40.0, self.reserve), true),
            SortBy::ServiceBy => (span(self.service_by, self.service_by + 56.0), false),
            SortBy::Because => (span(self.because?, self.placed - 4.0), false),
            SortBy::PlacedIn => (span(self.placed, self.right), false),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::{pos2, vec2};

    const USUAL: Widths = Widths {
        state: 76.0,
        position: 56.0,
        spindle: 54.0,
        interface: 80.0,
        unit: 12.0,
        force: 40.0,
        because: 112.0,
        placed: 94.0,
    };

    #[test]
    fn more_width_goes_to_the_axis() {
        let narrow = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(1280.0, 800.0)), &USUAL);
        let wide = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(1920.0, 800.0)), &USUAL);
        assert!((narrow.axis.min - 548.0).abs() < 0.1 && (narrow.axis.max - 1040.0).abs() < 0.1);
        assert!((wide.axis.span() - narrow.axis.span() - 640.0).abs() < 0.1);
        assert!((wide.days - narrow.days).abs() < 0.1);
    }

    #[test]
    fn a_narrow_page_drops_because_of() {
        let columns = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(960.0, 600.0)), &USUAL);
        assert_eq!(columns.because, None);
        assert!(columns.axis.span() >= 200.0);
        assert!(columns.head(SortBy::Because).is_none());
        let narrower = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(720.0, 600.0)), &USUAL);
        assert_eq!((narrower.interface, narrower.spindle), (None, None));
        assert!(narrower.axis.max < narrower.placed && narrower.axis.span() > 100.0);
    }
}
