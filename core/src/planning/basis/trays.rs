//! Downtime windows as trays: one hall or machine each, cut where the shop's day begins.

use super::days::Grid;
use crate::downtime::WindowScope;
use crate::ids::MachineId;
use crate::planning::problem::{PlanWindow, Scope};
use crate::planning::proposal::Tray;
use crate::shop::Shop;
use crate::units::Money;
use crate::windows::Windows;
use std::collections::BTreeMap;

/// A tray with the window of the problem that it is.
pub(super) struct CutWindow {
    pub(super) tray: Tray,
    pub(super) window: PlanWindow,
}

/// Every window of the horizon, by start, hall and machine. A row for all halls gives one tray in
/// each of `halls`; `machines` are the machines of the problem.
pub(super) fn trays(
    shop: &Shop,
    grid: &Grid,
    halls: &[String],
    machines: &BTreeMap<MachineId, usize>,
) -> Vec<CutWindow> {
    let (first, last) = (grid.date(0), grid.date(grid.days()));
    let windows = Windows::between(shop, first.pred_opt().unwrap_or(first), last);
    let mut cut: Vec<CutWindow> = Vec::new();
    for (scope, window) in windows.scoped() {
        let places: Vec<(String, Option<MachineId>, Scope)> = match scope {
            WindowScope::AllHalls => {
                halls.iter().enumerate().map(|(index, hall)| (hall.clone(), None, Scope::Hall(index))).collect()
            }
            WindowScope::Hall(hall) => halls
                .iter()
                .position(|known| *known == hall)
                .map(|index| (hall, None, Scope::Hall(index)))
                .into_iter()
                .collect(),
            WindowScope::Machine(id) => shop
                .machines
                .get(&id)
                .zip(machines.get(&id))
                .map(|(machine, index)| (machine.hall.clone(), Some(id), Scope::Machine(*index)))
                .into_iter()
                .collect(),
        };
        for (day, span) in grid.cut(window.start, window.end) {
            for (hall, machine, scope) in &places {
                let stop_factor = window.stop_factor;
                let premium_per_hour = window.premium_per_hour;
                cut.push(CutWindow {
                    tray: Tray {
                        downtime: window.downtime,
                        hall: hall.clone(),
                        machine: *machine,
                        start: grid.moment(day, span.from),
                        end: grid.moment(day, span.to),
                        what: window.what.clone(),
                        stop_factor,
                        premium_per_hour,
                    },
                    window: PlanWindow {
                        scope: *scope,
                        day,
                        span,
                        stop_factor: stop_factor.get().max(0.0).round() as i64,
                        premium_per_hour: cents(premium_per_hour).max(0),
                    },
                });
            }
        }
    }
    cut.sort_by(|a, b| {
        let key = |cut: &CutWindow| (cut.tray.start, cut.window.scope, cut.tray.end, cut.tray.downtime);
        key(a).cmp(&key(b))
    });
    cut
}

/// Cents beyond which a price is a slip: over thousands of services and five years their sums still
/// fit into whole numbers.
const MOST_CENTS: f64 = 1e11;

/// Money in cents, half up; absurd amounts stay at the end of the range.
pub(in crate::planning) fn cents(money: Money) -> i64 {
    (money.get() * 100.0 + 0.5).floor().clamp(-MOST_CENTS, MOST_CENTS) as i64
}

/// Cents as money.
pub(in crate::planning) fn money(cents: i64) -> Money {
    Money::new(cents as f64 / 100.0).unwrap_or_default()
}
