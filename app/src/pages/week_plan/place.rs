//! From cells to pixels: how tall an hour is, and where trays and blocks stand.

use super::layout::{BlockBox, Cell, Grid, TrayBox};
use eframe::egui::{Pos2, Rect, pos2, vec2};

/// Width of the names of halls or technicians.
pub(super) const NAMES: f32 = 104.5;
/// Height of the words over a tray.
pub(super) const TRAY_HEAD: f32 = 18.0;
/// From the rule of a row to the words over its first tray.
const TOP: f32 = 7.0;
/// Under a tray.
const GAP: f32 = 8.0;
/// Height of a folded tray.
const FOLDED: f32 = 5.0;
/// The least height of a row, for its name and a note.
const LEAST_ROW: f32 = 56.0;
/// Pixels of an hour: at most, at least.
const HOUR: [f32; 2] = [30.0, 17.0];
/// From the edges of a column to its tray.
const TRAY_INSET: [f32; 2] = [5.0, 7.0];
/// From a tray to its blocks.
const BLOCK_INSET: f32 = 2.5;

/// Where everything of the grid stands, from the top of its first row.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Places {
    /// Height of an hour.
    pub(super) hour: f32,
    /// Left edges of the weeks, and the right edge of the last.
    pub(super) columns: Vec<f32>,
    /// Top and bottom of each row.
    pub(super) rows: Vec<(f32, f32)>,
    pub(super) height: f32,
    pub(super) trays: Vec<TrayPlace>,
}

/// A tray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TrayPlace {
    pub(super) row: usize,
    pub(super) week: usize,
    /// Which of the cell.
    pub(super) nth: usize,
    /// Which of the plan.
    pub(super) tray: Option<usize>,
    /// The tray without the words over it.
    pub(super) body: Rect,
}

impl Places {
    /// Puts a grid into a width, and into a height as far as it goes.
    pub(super) fn of(grid: &Grid, width: f32, height: f32) -> Self {
        let hour = hour_height(grid, height);
        let column = (width - NAMES) / grid.mondays.len().max(1) as f32;
        let columns: Vec<f32> = (0..=grid.mondays.len()).map(|week| NAMES + column * week as f32).collect();
        let mut rows = Vec::with_capacity(grid.rows.len());
        let mut trays = Vec::new();
        let mut top = 0.0;
        for (row, of) in grid.rows.iter().enumerate() {
            let bottom = top + row_height(&of.cells, hour);
            rows.push((top, bottom));
            for (week, cell) in of.cells.iter().enumerate() {
                let left = columns.get(week).copied().unwrap_or(NAMES);
                let mut y = top + TOP;
                for (nth, tray) in cell.trays.iter().enumerate() {
                    let body = Rect::from_min_size(
                        pos2(left + TRAY_INSET[0], y + TRAY_HEAD),
                        vec2((column - TRAY_INSET[0] - TRAY_INSET[1]).max(8.0), body_height(tray, hour)),
                    );
                    trays.push(TrayPlace { row, week, nth, tray: tray.tray, body });
                    y = body.bottom() + GAP;
                }
            }
            top = bottom;
        }
        Self { hour, columns, rows, height: top, trays }
    }

    /// The tray under a point.
    pub(super) fn tray_at(&self, point: Pos2) -> Option<&TrayPlace> {
        self.trays.iter().find(|tray| with_head(tray.body).contains(point))
    }

    /// Where a tray of the plan stands.
    pub(super) fn tray(&self, tray: usize) -> Option<&TrayPlace> {
        self.trays.iter().find(|place| place.tray == Some(tray))
    }
}

/// A tray with the words over it.
pub(super) fn with_head(body: Rect) -> Rect {
    Rect::from_min_max(body.min - vec2(0.0, TRAY_HEAD), body.max)
}

fn body_height(tray: &TrayBox, hour: f32) -> f32 {
    if tray.is_folded { FOLDED } else { (tray.hours * hour).max(14.0) }
}

fn row_height(cells: &[Cell], hour: f32) -> f32 {
    let tallest = cells
        .iter()
        .map(|cell| cell.trays.iter().map(|tray| TRAY_HEAD + body_height(tray, hour) + GAP).sum::<f32>())
        .fold(0.0, f32::max);
    (TOP + tallest).max(LEAST_ROW)
}

/// As tall as the rows leave room for.
fn hour_height(grid: &Grid, height: f32) -> f32 {
    let whole = |hour: f32| grid.rows.iter().map(|row| row_height(&row.cells, hour)).sum::<f32>();
    let [mut high, mut low] = HOUR;
    if whole(high) <= height {
        return high;
    }
    for _ in 0..12 {
        let middle = f32::midpoint(high, low);
        if whole(middle) <= height { low = middle } else { high = middle }
    }
    low
}

/// Where a block stands in the body of its tray: from the floor up.
pub(super) fn block_rect(body: Rect, hour: f32, block: &BlockBox) -> Rect {
    let inner = Rect::from_min_max(body.min + vec2(BLOCK_INSET, 0.0), body.max - vec2(BLOCK_INSET, BLOCK_INSET));
    let lane = inner.width() / block.lanes.max(1) as f32;
    let left = inner.left() + lane * block.lane as f32;
    let floor = inner.bottom() - block.from * hour;
    // what reaches over the tray is drawn over its top, so that one sees it
    let top = (inner.bottom() - block.to * hour + 1.5).min(floor - 12.0);
    Rect::from_min_max(pos2(left, top), pos2(left + lane - if block.lanes > 1 { 1.5 } else { 0.0 }, floor))
}

#[cfg(test)]
mod tests {
    use super::super::layout::{GridRow, RowOf};
    use super::*;
    use chrono::NaiveDateTime;

    fn tray(tray: usize, hours: f32, is_folded: bool) -> TrayBox {
        TrayBox {
            tray: Some(tray),
            start: NaiveDateTime::default(),
            hours,
            shown_for: None,
            is_running: false,
            is_folded,
            is_counted: false,
            blocks: Vec::new(),
        }
    }

    fn grid(cells: Vec<Cell>) -> Grid {
        let mondays = vec![chrono::NaiveDate::default(); cells.len()];
        let rows = vec![GridRow { of: RowOf::Hall("A".to_owned()), cells }];
        Grid { mondays, rows, rows_in_all: 1 }
    }

    #[test]
    fn an_hour_is_as_tall_as_there_is_room_for() {
        let cells = vec![Cell { trays: vec![tray(0, 6.0, false)] }, Cell { trays: vec![tray(1, 2.0, false)] }];
        let places = Places::of(&grid(cells.clone()), 330.0, 400.0);
        assert!((places.hour - 30.0).abs() < 1e-3);
        let tight = Places::of(&grid(cells.clone()), 330.0, 165.0);
        assert!(tight.hour < 23.0 && tight.height <= 165.0, "{tight:?}");
        let taller = Places::of(&grid(cells), 330.0, 60.0);
        assert!((taller.hour - 17.0).abs() < 0.1, "then it scrolls");
        assert!(60.0 < taller.height);
    }

    #[test]
    fn blocks_fill_a_tray_from_its_floor() {
        let body = Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 120.0));
        let first = block_rect(body, 20.0, &BlockBox { block: 0, from: 0.0, to: 2.0, lane: 0, lanes: 1 });
        let second = block_rect(body, 20.0, &BlockBox { block: 1, from: 2.0, to: 4.0, lane: 0, lanes: 1 });
        assert!(body.contains_rect(first) && body.contains_rect(second));
        assert!(second.bottom() < first.top());
        assert!((first.bottom() - 117.5).abs() < 1e-3);
        let beside = block_rect(body, 20.0, &BlockBox { block: 1, from: 0.0, to: 2.0, lane: 1, lanes: 2 });
        assert!(50.0 - 1e-3 <= beside.left() && beside.right() < 100.0);
    }

    #[test]
    fn a_point_finds_its_tray_words_included() {
        let cells = vec![Cell { trays: vec![tray(0, 4.0, false), tray(7, 4.0, false)] }];
        let places = Places::of(&grid(cells), 220.0, 400.0);
        let second = places.tray(7).unwrap().body;
        assert_eq!(places.tray_at(second.center()).unwrap().tray, Some(7));
        assert_eq!(places.tray_at(pos2(second.center().x, second.top() - 6.0)).unwrap().tray, Some(7));
        assert!(places.tray_at(pos2(3.0, 3.0)).is_none());
    }
}
