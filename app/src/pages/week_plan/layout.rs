//! Weeks across, halls or technicians down: which trays stand in which cell, and which blocks in
//! which tray. Pure; [`super::place`] gives it its pixels.

use super::view::{ROWS_TOGETHER, WeekPlanView};
use almanac_core::planning::proposal::Tray;
use almanac_core::planning::week_view::{PlanBlock, WeekView, monday_of};
use almanac_core::shop::Shop;
use chrono::{NaiveDate, NaiveDateTime};
use std::collections::BTreeMap;

/// A tray with more blocks shows their number.
pub(super) const BLOCKS_SHOWN: usize = 8;
/// A block that shares its stretch with others is lower than a line of text below that.
const LEAST_HOURS: f32 = 0.7;
/// So many blocks can stand side by side and be read.
const LANES: usize = 2;
/// In a cell with more trays the empty ones are folded.
const OPEN_TRAYS: usize = 2;

/// What the rows are.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum RowOf {
    /// A hall.
    Hall(String),
    /// A technician; empty: nobody yet.
    Technician(String),
}

impl RowOf {
    pub(super) fn title(&self) -> &str {
        match self {
            Self::Hall(name) if name.is_empty() => "no hall",
            Self::Technician(name) if name.is_empty() => "nobody yet",
            Self::Hall(name) | Self::Technician(name) => name,
        }
    }

    /// Whether a block belongs there.
    pub(super) fn holds(&self, block: &PlanBlock) -> bool {
        match self {
            Self::Hall(hall) => *hall == block.hall,
            Self::Technician(name) if name.is_empty() => block.service.place.technicians.is_empty(),
            Self::Technician(name) => block.service.place.technicians.iter().any(|one| one == name),
        }
    }
}

/// All rows of the plan, shown or not.
pub(super) fn rows_of(shop: &Shop, view: &WeekView, by_technician: bool) -> Vec<RowOf> {
    if !by_technician {
        let halls = shop.halls().into_iter().map(ToOwned::to_owned);
        return halls.map(RowOf::Hall).collect();
    }
    let mut rows: Vec<RowOf> = shop.technicians.iter().map(|row| RowOf::Technician(row.name.clone())).collect();
    rows.sort();
    if view.blocks.iter().any(|block| block.service.place.technicians.is_empty()) {
        rows.push(RowOf::Technician(String::new()));
    }
    rows
}

/// A block in its tray: hours from the floor, and its lane where several stand side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BlockBox {
    /// Which block of the plan.
    pub(super) block: usize,
    /// Hours from the start of the tray.
    pub(super) from: f32,
    pub(super) to: f32,
    pub(super) lane: usize,
    pub(super) lanes: usize,
}

/// A tray of a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TrayBox {
    /// Which tray of the plan; `None`: a time that is in no window.
    pub(super) tray: Option<usize>,
    pub(super) start: NaiveDateTime,
    /// How long it is.
    pub(super) hours: f32,
    /// The one machine it is for, or in a row of a technician the hall.
    pub(super) shown_for: Option<String>,
    /// A stop in it costs as much as in a running shift.
    pub(super) is_running: bool,
    /// Too many trays for the cell, and nothing in this one.
    pub(super) is_folded: bool,
    /// Too many blocks: their number is shown.
    pub(super) is_counted: bool,
    pub(super) blocks: Vec<BlockBox>,
}

/// A week of a row.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Cell {
    pub(super) trays: Vec<TrayBox>,
}

/// A hall or a technician.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct GridRow {
    pub(super) of: RowOf,
    pub(super) cells: Vec<Cell>,
}

/// What is shown of the plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Grid {
    /// Mondays of the weeks shown.
    pub(super) mondays: Vec<NaiveDate>,
    pub(super) rows: Vec<GridRow>,
    /// How many rows there are in all.
    pub(super) rows_in_all: usize,
}

impl Grid {
    /// Whether one row of several is shown.
    pub(super) const fn is_one_of_many(&self) -> bool {
        self.rows.len() < self.rows_in_all
    }
}

/// A tray asked for though nothing stands in it: where a service is being moved to.
pub(super) fn grid(shop: &Shop, plan: &WeekView, shown: WeekPlanView, aimed_at: Option<usize>) -> Grid {
    let rows = rows_of(shop, plan, shown.by_technician);
    let mondays: Vec<NaiveDate> =
        plan.weeks.iter().map(|week| week.monday).skip(shown.first).take(shown.weeks).collect();
    let rows_in_all = rows.len();
    let wanted = if ROWS_TOGETHER < rows_in_all { shown.row..shown.row + 1 } else { 0..rows_in_all };
    let rows = rows
        .into_iter()
        .enumerate()
        .filter(|(index, _)| wanted.contains(index))
        .map(|(_, of)| {
            let cells = cells(shop, plan, &mondays, &of, aimed_at);
            GridRow { of, cells }
        })
        .collect();
    Grid { mondays, rows, rows_in_all }
}

/// The cells of one row.
fn cells(shop: &Shop, plan: &WeekView, mondays: &[NaiveDate], of: &RowOf, aimed_at: Option<usize>) -> Vec<Cell> {
    let in_week = |day: NaiveDate| mondays.iter().position(|monday| *monday == monday_of(day));
    let mut cells = vec![Cell::default(); mondays.len()];
    let mut by_tray: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let mut outside: BTreeMap<NaiveDate, Vec<usize>> = BTreeMap::new();
    for (index, block) in plan.blocks.iter().enumerate().filter(|(_, block)| of.holds(block)) {
        match block.service.place.tray {
            Some(tray) => by_tray.entry(tray).or_default().push(index),
            None => outside.entry(block.service.place.start.date()).or_default().push(index),
        }
    }
    for (index, tray) in plan.trays.iter().enumerate() {
        let Some(cell) = in_week(tray.start.date()).and_then(|week| cells.get_mut(week)) else { continue };
        let inside = by_tray.remove(&index).unwrap_or_default();
        let is_shown = match of {
            RowOf::Hall(hall) => *hall == tray.hall,
            RowOf::Technician(_) => !inside.is_empty() || aimed_at == Some(index),
        };
        if is_shown {
            cell.trays.push(tray_box(shop, plan, of, Some((index, tray)), &inside));
        }
    }
    for (day, inside) in outside {
        if let Some(cell) = in_week(day).and_then(|week| cells.get_mut(week)) {
            cell.trays.push(tray_box(shop, plan, of, None, &inside));
        }
    }
    for cell in &mut cells {
        cell.trays.sort_by_key(|tray| (tray.start, tray.tray));
        if OPEN_TRAYS < cell.trays.len() {
            for tray in &mut cell.trays {
                tray.is_folded = tray.blocks.is_empty() && (tray.tray.is_none() || tray.tray != aimed_at);
            }
        }
    }
    cells
}

fn tray_box(shop: &Shop, plan: &WeekView, of: &RowOf, tray: Option<(usize, &Tray)>, inside: &[usize]) -> TrayBox {
    let of_blocks = || inside.iter().filter_map(|index| plan.blocks.get(*index));
    let first = of_blocks().map(|block| block.service.place.start).min().unwrap_or_default();
    let last = of_blocks().map(|block| block.service.place.end).max().unwrap_or_default();
    let (start, end) = tray.map_or((first, last), |(_, tray)| (tray.start, tray.end));
    let mut blocks: Vec<BlockBox> = inside
        .iter()
        .filter_map(|index| {
            let place = &plan.blocks.get(*index)?.service.place;
            let (from, to) = (hours_between(start, place.start), hours_between(start, place.end));
            Some(BlockBox { block: *index, from, to: to.max(from + 0.25), lane: 0, lanes: 1 })
        })
        .collect();
    into_lanes(&mut blocks);
    let is_squeezed = blocks.iter().any(|block| block.lanes == LANES && block.to - block.from < LEAST_HOURS);
    let shown_for = match of {
        RowOf::Hall(_) => tray
            .and_then(|(_, tray)| tray.machine)
            .and_then(|id| shop.machines.get(&id))
            .map(|machine| machine.name.clone()),
        RowOf::Technician(_) => tray.map(|(_, tray)| tray.hall.clone()),
    };
    TrayBox {
        tray: tray.map(|(index, _)| index),
        start,
        hours: hours_between(start, end).max(0.25),
        shown_for,
        is_running: tray.is_some_and(|(_, tray)| 100.0 <= tray.stop_factor.get()),
        is_folded: false,
        is_counted: BLOCKS_SHOWN < blocks.len() || (LANES < blocks.len() && is_squeezed),
        blocks,
    }
}

fn hours_between(from: NaiveDateTime, to: NaiveDateTime) -> f32 {
    (to - from).num_minutes() as f32 / 60.0
}

/// Puts blocks that overlap in time side by side. Where more overlap than can be read beside each
/// other, those of the stretch share it evenly in two columns, in the order of their starts.
pub(super) fn into_lanes(blocks: &mut [BlockBox]) {
    blocks.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.block.cmp(&b.block)));
    let mut begun = 0;
    while begun < blocks.len() {
        // a stretch: as long as the next one begins before all before it have ended
        let mut end = blocks.get(begun).map_or(0.0, |block| block.to);
        let mut after = begun + 1;
        while let Some(next) = blocks.get(after).filter(|next| next.from < end - 1e-3) {
            end = end.max(next.to);
            after += 1;
        }
        if let Some(stretch) = blocks.get_mut(begun..after) {
            beside_each_other(stretch);
        }
        begun = after;
    }
}

fn beside_each_other(stretch: &mut [BlockBox]) {
    let mut ends: Vec<f32> = Vec::new();
    for block in stretch.iter_mut() {
        let free = ends.iter().position(|end| *end <= block.from + 1e-3);
        block.lane = free.unwrap_or(ends.len());
        match free.and_then(|lane| ends.get_mut(lane)) {
            Some(end) => *end = block.to,
            None => ends.push(block.to),
        }
    }
    if ends.len() <= LANES {
        for block in stretch {
            block.lanes = ends.len();
        }
        return;
    }
    let from = stretch.first().map_or(0.0, |block| block.from);
    let to = stretch.iter().map(|block| block.to).fold(from, f32::max);
    let each = (to - from) / stretch.len().div_ceil(LANES) as f32;
    for (nth, block) in stretch.iter_mut().enumerate() {
        let low = from + each * (nth / LANES) as f32;
        (block.from, block.to, block.lane, block.lanes) = (low, low + each, nth % LANES, LANES);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(from: f32, to: f32) -> BlockBox {
        BlockBox { block: (from * 100.0) as usize, from, to, lane: 0, lanes: 1 }
    }

    #[test]
    fn what_follows_each_other_stands_in_one_lane() {
        let mut blocks = [block(2.0, 4.0), block(0.0, 2.0), block(4.0, 6.0)];
        into_lanes(&mut blocks);
        assert!(blocks.iter().all(|block| (block.lane, block.lanes) == (0, 1)));
    }

    #[test]
    fn what_overlaps_stands_side_by_side_and_the_rest_keeps_its_width() {
        let mut blocks = [block(0.0, 2.0), block(0.5, 2.5), block(2.0, 3.0), block(3.0, 5.0)];
        into_lanes(&mut blocks);
        let lanes: Vec<(usize, usize)> = blocks.iter().map(|block| (block.lane, block.lanes)).collect();
        assert_eq!(lanes, [(0, 2), (1, 2), (0, 2), (0, 1)]);
    }

    #[test]
    fn many_at_once_share_their_stretch_in_two_columns() {
        let mut blocks = [block(0.0, 2.0), block(0.01, 2.0), block(0.02, 2.0), block(0.03, 2.0), block(2.0, 4.0)];
        into_lanes(&mut blocks);
        let places: Vec<(f32, f32, usize, usize)> =
            blocks.iter().map(|block| (block.from, block.to, block.lane, block.lanes)).collect();
        assert_eq!(places, [(0.0, 1.0, 0, 2), (0.0, 1.0, 1, 2), (1.0, 2.0, 0, 2), (1.0, 2.0, 1, 2), (2.0, 4.0, 0, 1)]);
    }

    #[test]
    fn no_blocks_need_no_lane() {
        into_lanes(&mut []);
    }
}
