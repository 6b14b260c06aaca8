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
    /// Right edge; `None`: no room.
    pub(super) percent: Option<f32>,
    /// Right edge; `None`: no room.
    pub(super) reserve: Option<f32>,
    pub(super) service_by: f32,
    /// Where its words must end if no days stand beside them.
    pub(super) service_by_end: f32,
    /// Right edge; `None`: no room.
    pub(super) days: Option<f32>,
    /// Room for what stands there.
    pub(super) days_width: f32,
    /// `None`: no room for an ebb that could be read.
    pub(super) axis: Option<Rangef>,
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
    /// Of the days until service-by, or of the date in force beside a pretended one.
    days: f32,
}

impl Widths {
    /// The same with room for a date in place of the days.
    pub(super) const fn beside_dates(self) -> Self {
        Self { days: DATE + 12.0, ..self }
    }
}

/// Space between two columns of words.
const GAP: f32 = 12.0;
/// Space beside the axis.
const BESIDE_AXIS: f32 = 14.0;
/// Under this width of the axis a column of words gives way to it.
const NARROW_AXIS: f32 = 200.0;
/// Under this width an ebb can no longer be read and gives way itself.
const LEAST_AXIS: f32 = 80.0;
/// Width of a date with its year.
const DATE: f32 = 68.0;
/// Width of the days until service-by, beyond what dates leave free.
const DAYS: f32 = 20.0;

/// Which columns find room.
#[derive(Debug, Clone, Copy)]
struct Shown {
    because: bool,
    interface: bool,
    spindle: bool,
    /// The least width of the axis; `None`: without it.
    axis: Option<f32>,
    percent: bool,
    days: bool,
    reserve: bool,
}

/// From all columns to the fewest. First words give way to the axis, then the axis to what must be
/// read, then figures that the date already holds.
const STEPS: [Shown; 10] = {
    let all = Shown {
        because: true,
        interface: true,
        spindle: true,
        axis: Some(NARROW_AXIS),
        percent: true,
        days: true,
        reserve: true,
    };
    let no_reason = Shown { because: false, ..all };
    let no_interface = Shown { interface: false, ..no_reason };
    let least_axis = Shown { spindle: false, axis: Some(LEAST_AXIS), ..no_interface };
    let no_axis = Shown { axis: None, ..no_reason };
    let no_axis_interface = Shown { interface: false, ..no_axis };
    let no_axis_spindle = Shown { spindle: false, ..no_axis_interface };
    let no_percent = Shown { percent: false, ..no_axis_spindle };
    let no_days = Shown { days: false, ..no_percent };
    let no_reserve = Shown { reserve: false, ..no_days };
    [
        all,
        no_reason,
        no_interface,
        least_axis,
        no_axis,
        no_axis_interface,
        no_axis_spindle,
        no_percent,
        no_days,
        no_reserve,
    ]
};

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
        days: DAYS,
    }
}

impl Columns {
    /// The columns in a page of that width: as many as find room side by side.
    pub(super) fn lay(page: Rect, widths: &Widths) -> Self {
        let mut tries = STEPS.iter().map(|shown| (Self::with(page, widths, *shown), shown.axis.unwrap_or(0.0)));
        let mut columns = Self::with(page, widths, STEPS[STEPS.len() - 1]).0;
        if let Some(((fitting, _), _)) = tries.find(|((_, free), least)| free >= least) {
            columns = fitting;
        }
        columns
    }

    /// Those columns, and what is left between the figures and the words at the right.
    fn with(page: Rect, widths: &Widths, shown: Shown) -> (Self, f32) {
        let left = page.left() + MARGIN;
        let right = page.right() - MARGIN;
        let taken = |width: f32, is_shown: bool| if is_shown { width } else { 0.0 };
        let state = left + 16.0;
        let position = state + widths.state;
        let spindle = position + widths.position;
        let interface = spindle + taken(widths.spindle, shown.spindle);
        let force = interface + taken(widths.interface, shown.interface) + widths.force + 4.0 + widths.unit;
        let percent = force + taken(32.0, shown.percent);
        let reserve = percent + taken(40.0, shown.reserve);
        let service_by = reserve + 16.0;
        let days = service_by + if shown.days { DATE + widths.days } else { DATE };
        let placed = right - widths.placed;
        let because = placed - taken(widths.because, shown.because);
        let axis = Rangef::new(days + BESIDE_AXIS, because - BESIDE_AXIS);
        // without the axis one space is enough
        let free = if shown.axis.is_some() { axis.span() } else { axis.span() + BESIDE_AXIS };
        let columns = Self {
            mark: left + 5.0,
            state,
            position,
            position_end: spindle - 4.0,
            spindle: shown.spindle.then_some(spindle),
            interface: shown.interface.then_some(interface),
            force,
            force_figure: force - widths.unit - 3.0,
            percent: shown.percent.then_some(percent),
            reserve: shown.reserve.then_some(reserve),
            service_by,
            service_by_end: days,
            days: shown.days.then_some(days),
            days_width: widths.days,
            axis: shown.axis.map(|_| axis),
            because: shown.because.then_some(because),
            placed,
            right,
        };
        (columns, free)
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
            SortBy::Percent => (span(self.percent? - 24.0, self.percent? - 6.0), true),
            SortBy::Reserve => (span(self.reserve? - 40.0, self.reserve?), true),
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
        days: DAYS,
    };

    #[test]
    fn more_width_goes_to_the_axis() {
        let narrow = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(1280.0, 800.0)), &USUAL);
        let wide = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(1920.0, 800.0)), &USUAL);
        let axis = |columns: &Columns| columns.axis.unwrap();
        assert!((axis(&narrow).min - 548.0).abs() < 0.1 && (axis(&narrow).max - 1040.0).abs() < 0.1);
        assert!((axis(&wide).span() - axis(&narrow).span() - 640.0).abs() < 0.1);
        assert!((wide.days.unwrap() - narrow.days.unwrap()).abs() < 0.1);
    }

    #[test]
    fn a_narrow_page_drops_because_of() {
        let columns = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(960.0, 600.0)), &USUAL);
        assert_eq!(columns.because, None);
        assert!(columns.axis.unwrap().span() >= 200.0);
        assert!(columns.head(SortBy::Because).is_none());
        let narrower = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(720.0, 600.0)), &USUAL);
        assert_eq!((narrower.interface, narrower.spindle), (None, None));
        let axis = narrower.axis.unwrap();
        assert!(axis.max < narrower.placed && axis.span() > 100.0);
    }

    #[test]
    fn no_column_reaches_into_the_next_in_the_narrowest_window_at_the_largest_scale() {
        // 900 px at 160 %, with texts of the usual and of the greatest widths
        let widest = Widths { state: 100.0, position: 100.0, placed: 140.0, force: 48.0, ..USUAL };
        for widths in [USUAL, widest] {
            for width in [562.5, 600.0, 640.0, 700.0, 760.0, 800.0, 900.0] {
                let columns = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(width, 600.0)), &widths);
                let figures = columns.service_by_end;
                let ebb = columns.axis.unwrap_or_else(|| Rangef::new(figures, figures));
                let places = [Some(ebb.min), Some(ebb.max), columns.because, Some(columns.placed)];
                let mut before = figures - 0.01;
                for place in places.into_iter().flatten() {
                    assert!(place >= before, "{width}: {columns:?}");
                    before = place;
                }
                assert!(columns.placed - figures >= 14.0, "{width}: {columns:?}");
                assert!(columns.axis.is_none_or(|axis| axis.span() >= LEAST_AXIS), "{width}: {columns:?}");
            }
        }
        let narrowest = Columns::lay(Rect::from_min_size(pos2(0.0, 0.0), vec2(562.5, 350.0)), &USUAL);
        assert!(narrowest.axis.is_none(), "the ebb gives way first");
        assert!(narrowest.percent.is_some() && narrowest.reserve.is_some());
    }
}
