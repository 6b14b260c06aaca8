//! From a shop and its forecast to the due list.

use super::lead_line::lead_line;
use super::mark::MarkInput;
use super::{Booking, DueList, DueRow, FreeParts, KitLate, KitReady, Mark};
use crate::forecast::{ShopForecast, SpindleForecast};
use crate::ids::{MachineId, OrderId, Row, SpindleId};
use crate::machine::Position;
use crate::order::{Order, OrderState};
use crate::service_costs::needed_kind;
use crate::shop::Shop;
use crate::windows::Windows;
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;
use std::sync::Arc;

/// The due list of a shop on the day of its forecast, without the readings worth taking
/// ([`DueList::with_readings`]).
#[must_use]
pub fn due_list(shop: &Shop, forecast: &ShopForecast) -> DueList {
    let as_of = forecast.as_of;
    let shop = shop.known_on(as_of);
    let horizon = u64::from(forecast.config.horizon_days.max(shop.settings.booking_horizon_days));
    let last = as_of.checked_add_days(Days::new(horizon)).unwrap_or(as_of);
    let windows = Windows::between(&shop, as_of, last);
    let orders = shop.open_orders_on(as_of);
    let mut positions: BTreeMap<SpindleId, Position> = BTreeMap::new();
    for mounting in shop.mountings.iter().filter(|mounting| mounting.covers(as_of)) {
        positions.insert(mounting.spindle, mounting.position);
    }
    let mut rows: Vec<DueRow> = forecast
        .spindles
        .iter()
        .filter_map(|(id, forecast)| {
            let position = positions.get(id).copied();
            row(&shop, as_of, *id, forecast, position, orders.get(id).copied(), &windows)
        })
        .collect();
    rows.sort_by(|a, b| {
        let by = |row: &DueRow| (row.forecast.service_by.is_none(), row.forecast.service_by);
        by(a)
            .cmp(&by(b))
            .then_with(|| a.forecast.reserve.total_cmp(&b.forecast.reserve))
            .then_with(|| a.name.cmp(&b.name))
    });
    hand_out_kits(&shop, as_of, &mut rows);
    let mut list = DueList {
        as_of,
        booking_horizon_days: shop.settings.booking_horizon_days,
        rows,
        lead: super::LeadLine::default(),
        worth_reading: Vec::new(),
    };
    list.lead = lead_line(&list, last);
    list
}

fn row(
    shop: &Shop,
    as_of: NaiveDate,
    id: SpindleId,
    forecast: &Arc<SpindleForecast>,
    position: Option<Position>,
    order: Option<&Row<OrderId, Order>>,
    windows: &Windows,
) -> Option<DueRow> {
    let spindle = shop.spindles.get(&id)?;
    let machine: Option<MachineId> = position.map(|position| position.machine);
    let described = machine.and_then(|machine| shop.machines.get(&machine));
    let booking = order.map(|order| Booking {
        order: order.id,
        name: order.name.clone(),
        state: order.state,
        start: order.start,
        day: order.start.map(|start| shop.settings.day_of_start(start)),
        technician: order.technicians.first().cloned(),
    });
    let mark = Mark::of(MarkInput {
        forecast,
        booking: booking.as_ref(),
        is_taken_out: spindle.is_out_on(as_of),
        as_of,
        booking_horizon_days: shop.settings.booking_horizon_days,
    });
    let has_begun = order.is_some_and(|order| order.has_begun());
    let not_before = shop.ready_day(id, as_of).filter(|_| !has_begun);
    let service = order.map_or_else(|| needed_kind(forecast), |order| order.kind);
    Some(DueRow {
        spindle: id,
        name: spindle.name.clone(),
        position: position.map(|position| shop.position_label(position)),
        machine: described.map(|machine| machine.name.clone()),
        hall: described.map(|machine| machine.hall.clone()),
        interface: spindle.interface.to_string(),
        mark,
        booking,
        last_window: machine
            .zip(forecast.service_by)
            .and_then(|(machine, by)| windows.last_day_until(machine, by))
            .filter(|day| not_before.is_none_or(|ready| ready <= *day)),
        next_window: machine.and_then(|machine| windows.first_day_from(machine, not_before.unwrap_or(as_of))),
        not_before,
        service,
        kit: None,
        kit_late: None,
        days: forecast.service_by.map(|by| (by - as_of).num_days()),
        forecast: Arc::clone(forecast),
    })
}

/// Gives stock and deliveries to the services that are booked or due soon, in the order of their
/// days.
fn hand_out_kits(shop: &Shop, as_of: NaiveDate, rows: &mut [DueRow]) {
    let mut needs: Vec<(NaiveDate, bool, usize)> = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.mark.needs_action() || row.mark == Mark::Booked)
        .filter_map(|(index, row)| Some((needed_on(row, as_of)?, row.booking.is_none(), index)))
        .collect();
    // of one day the booked ones come first
    needs.sort_unstable();
    let mut parts = FreeParts::of(shop, as_of);
    for (day, _, index) in needs {
        let Some(row) = rows.get_mut(index) else { continue };
        // once work has begun its kit is no longer on the shelf
        if row.booking.as_ref().is_some_and(|b| matches!(b.state, OrderState::UnderWay | OrderState::PartlyDone)) {
            continue;
        }
        let Some(spindle) = shop.spindles.get(&row.spindle) else { continue };
        row.kit = parts.take(shop, &spindle.interface, row.service);
        row.kit_late = match row.kit {
            Some(KitReady::Missing) => Some(KitLate::Missing),
            Some(KitReady::On(ready)) if day < ready => Some(KitLate::On(ready)),
            _ => None,
        };
    }
}

/// The day by which the kit must be there: start of the order, else the last window, else the next
/// one, else service-by.
fn needed_on(row: &DueRow, as_of: NaiveDate) -> Option<NaiveDate> {
    let start = row.booking.as_ref().and_then(|booking| booking.day);
    let day = start.or(row.last_window).or(row.next_window).or(row.forecast.service_by);
    day.map(|day| day.max(as_of))
}
