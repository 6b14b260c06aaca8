//! Where the arrows lead: from block to block, and for a service that is moved from tray to tray.

use super::layout::RowOf;
use almanac_core::ids::SpindleId;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_core::planning::week_view::{PlanBlock, WeekView, monday_of};
use almanac_core::shop::Shop;
use chrono::NaiveDate;

/// An arrow key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arrow {
    Left,
    Right,
    Up,
    Down,
}

/// Where a block can be reached: its row, its week, and how high it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Spot {
    row: usize,
    week: NaiveDate,
    /// Minutes from the start of the week.
    start: i64,
    block: usize,
}

fn spots(plan: &WeekView, rows: &[RowOf]) -> Vec<Spot> {
    let mut spots: Vec<Spot> = plan
        .blocks
        .iter()
        .enumerate()
        .filter(|(_, block)| can_be_chosen(block) && is_drawn(plan, block))
        .filter_map(|(index, block)| {
            let row = rows.iter().position(|row| row.holds(block))?;
            let at = block.service.place.start;
            let week = monday_of(at.date());
            let start = (at - week.and_time(chrono::NaiveTime::MIN)).num_minutes();
            Some(Spot { row, week, start, block: index })
        })
        .collect();
    spots.sort_unstable();
    spots
}

/// Whether the arrows stop at it: the place a proposal moves a service away from is no stop.
pub(super) fn can_be_chosen(block: &PlanBlock) -> bool {
    block.standing != almanac_core::planning::week_view::Standing::MovedAway
}

/// Whether it lies in a week of the plan: work begun before it has no tray here.
pub(super) fn is_drawn(plan: &WeekView, block: &PlanBlock) -> bool {
    plan.weeks.first().is_none_or(|week| week.monday <= block.service.place.start.date())
}

/// The block of a service that can be chosen.
pub(super) fn block_of(plan: &WeekView, service: ServiceKey) -> Option<usize> {
    plan.blocks.iter().position(|block| block.key() == service && can_be_chosen(block))
}

/// A service as the plan knows it now: an order may have been opened or closed since it was chosen.
/// `None` where the plan has no such service.
pub(super) fn known_as(plan: &WeekView, service: ServiceKey) -> Option<ServiceKey> {
    let blocks = plan.blocks.iter().filter(|block| can_be_chosen(block)).map(PlanBlock::key);
    let earlier = plan.earlier.iter().map(|order| order.service);
    let all = || blocks.clone().chain(plan.left.iter().map(LeftService::key));
    // one from before the plan was no other service before: it is meant by its order alone
    let sure = all().chain(earlier.clone()).find(|key| *key == service);
    let is_earlier = |key: &ServiceKey| earlier.clone().any(|one| one == *key);
    sure.or_else(|| all().find(|key| key.may_be(service) && !is_earlier(key)))
}

/// The block to which an arrow leads; without a chosen one the first.
pub(super) fn step(plan: &WeekView, rows: &[RowOf], from: Option<ServiceKey>, arrow: Arrow) -> Option<usize> {
    let spots = spots(plan, rows);
    let here = from.and_then(|service| block_of(plan, service));
    let Some(here) = here.and_then(|block| spots.iter().find(|spot| spot.block == block)) else {
        return spots.iter().min_by_key(|spot| (spot.week, spot.row, spot.start)).map(|spot| spot.block);
    };
    let found = match arrow {
        Arrow::Up => above(&spots, here),
        Arrow::Down => below(&spots, here),
        Arrow::Left => beside(&spots, here, |week| week < here.week),
        Arrow::Right => beside(&spots, here, |week| here.week < week),
    };
    Some(found.unwrap_or(here).block)
}

/// The next later one of the cell, which stands over it; else the lowest of a row above.
fn above<'s>(spots: &'s [Spot], here: &Spot) -> Option<&'s Spot> {
    let in_cell = spots.iter().filter(|spot| (spot.row, spot.week) == (here.row, here.week));
    let over = in_cell.filter(|spot| (here.start, here.block) < (spot.start, spot.block)).min();
    over.or_else(|| {
        let rows_above = spots.iter().filter(|spot| spot.week == here.week && spot.row < here.row);
        rows_above.min_by_key(|spot| (here.row - spot.row, spot.start))
    })
}

fn below<'s>(spots: &'s [Spot], here: &Spot) -> Option<&'s Spot> {
    let in_cell = spots.iter().filter(|spot| (spot.row, spot.week) == (here.row, here.week));
    let under = in_cell.filter(|spot| (spot.start, spot.block) < (here.start, here.block)).max();
    under.or_else(|| {
        let rows_below = spots.iter().filter(|spot| spot.week == here.week && here.row < spot.row);
        rows_below.min_by_key(|spot| (spot.row - here.row, -spot.start))
    })
}

/// In the nearest week on that side: of its own row where there is one, else of the nearest row.
fn beside<'s>(spots: &'s [Spot], here: &Spot, side: impl Fn(NaiveDate) -> bool) -> Option<&'s Spot> {
    let there = || spots.iter().filter(|spot| side(spot.week));
    let nearness = |spot: &&Spot| {
        ((spot.week - here.week).num_days().abs(), spot.row.abs_diff(here.row), (spot.start - here.start).abs())
    };
    let own = there().filter(|spot| spot.row == here.row).min_by_key(nearness);
    own.or_else(|| there().min_by_key(nearness))
}

/// The trays in which a spindle's machine may be serviced, by start.
pub(super) fn trays_of(plan: &WeekView, shop: &Shop, spindle: SpindleId, as_of: NaiveDate) -> Vec<usize> {
    let Some(machine) = shop.position_on(spindle, as_of).map(|position| position.machine) else { return Vec::new() };
    let Some(hall) = shop.machines.get(&machine).map(|machine| machine.hall.as_str()) else { return Vec::new() };
    let mut trays: Vec<usize> = plan
        .trays
        .iter()
        .enumerate()
        .filter(|(_, tray)| tray.hall == hall && tray.machine.is_none_or(|one| one == machine))
        .map(|(index, _)| index)
        .collect();
    trays.sort_by_key(|index| plan.trays.get(*index).map(|tray| (tray.start, tray.end)));
    trays
}

/// The tray to which an arrow takes a service: left and up earlier, right and down later.
pub(super) fn next_tray(
    plan: &WeekView,
    trays: &[usize],
    from: Option<usize>,
    at: NaiveDate,
    arrow: Arrow,
) -> Option<usize> {
    let earlier = matches!(arrow, Arrow::Left | Arrow::Up);
    let Some(here) = from.and_then(|tray| trays.iter().position(|one| *one == tray)) else {
        // from a time in no window, or from no place at all: to the nearest tray on that side
        let starts = |tray: &&usize| plan.trays.get(**tray).map(|tray| tray.start.date());
        return match earlier {
            true => trays.iter().rev().find(|tray| starts(tray).is_some_and(|day| day <= at)).or_else(|| trays.first()),
            false => trays.iter().find(|tray| starts(tray).is_some_and(|day| at <= day)).or_else(|| trays.last()),
        }
        .copied();
    };
    let to = if earlier { here.saturating_sub(1) } else { (here + 1).min(trays.len().saturating_sub(1)) };
    trays.get(to).copied()
}
