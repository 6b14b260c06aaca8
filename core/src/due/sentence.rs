//! A row of the due list in sentences: for the foot of the page and for reading aloud.

use super::{Booking, DueRow, KitLate, Mark, NO_PLACE};
use crate::order::OrderState;
use crate::units::{Percent, Unit};
use crate::words::{self, date_long, date_weekday, percent};
use chrono::NaiveDate;

/// Why, what is lost for good, and where it is placed.
#[must_use]
pub fn row_sentence(row: &DueRow, as_of: NaiveDate) -> String {
    let forecast = &row.forecast;
    let mut sentences = vec![forecast.reason.clone()];
    if row.mark != Mark::OutOfService {
        let share = |value: Option<Percent>| value.map(|value| format!("{} %", percent(value)));
        match (share(forecast.lasting_loss), share(forecast.recoverable_loss)) {
            (Some(lasting), Some(recoverable)) => {
                sentences.push(format!("Lasting loss {lasting}, recoverable {recoverable}."));
            }
            (None, Some(recoverable)) => sentences.push(format!("Recoverable loss {recoverable}.")),
            (Some(lasting), None) => sentences.push(format!("Lasting loss {lasting}.")),
            (None, None) => {}
        }
        sentences.extend(placed(row, as_of));
        sentences.extend(row.not_before.map(|day| format!("Not before {}.", date_long(day, as_of))));
        sentences.extend(kit(row, as_of));
    }
    sentences.retain(|sentence| !sentence.is_empty());
    sentences.join(" ")
}

/// The whole row, as the read-out and a screen reader say it.
#[must_use]
pub fn accessible_sentence(row: &DueRow, as_of: NaiveDate, force_unit: Unit) -> String {
    let forecast = &row.forecast;
    let nominal = forecast.limits.nominal_force.value;
    let place =
        row.position.as_deref().map_or_else(|| "not mounted".to_owned(), |position| format!("position {position}"));
    let force = if forecast.force_measured {
        format!(
            "Force {}, {} %, reserve {} %.",
            words::force_with_unit(forecast.force_now.mean, nominal, force_unit),
            percent(forecast.force_now.mean.percent_of(nominal)),
            words::reserve(forecast.reserve)
        )
    } else {
        "Force never measured.".to_owned()
    };
    let by = match row.service_by() {
        Some(day) if day <= as_of => "Service now".to_owned(),
        Some(day) => {
            format!("Service by {}, in {}", date_weekday(day, as_of), words::days((day - as_of).num_days()))
        }
        None => "No service due".to_owned(),
    };
    let because = row.governing().map(|limit| format!(", because of {}", limit.label())).unwrap_or_default();
    format!(
        "Spindle {}, {}, {place}: {}. {force} {by}{because}. {}",
        row.name,
        row.interface,
        row.mark.label(),
        row_sentence(row, as_of)
    )
}

fn placed(row: &DueRow, as_of: NaiveDate) -> Option<String> {
    let by = row.forecast.service_by;
    match (&row.booking, by) {
        (Some(booking @ Booking { day: Some(day), .. }), _) if *day < as_of => Some(gone_by(booking, *day, as_of)),
        (Some(Booking { day: Some(day), .. }), Some(by)) if as_of < by => Some(match (by - *day).num_days() {
            0 => "Placed on that day.".to_owned(),
            before if before > 0 => format!("Placed {} before that.", words::days(before)),
            after => format!("Placed {} after that, which is too late.", words::days(-after)),
        }),
        (Some(Booking { day: Some(day), .. }), _) => Some(format!("Placed on {}.", date_weekday(*day, as_of))),
        (Some(Booking { day: None, name, .. }), _) => Some(format!("Order {name} has {NO_PLACE}.")),
        (None, None) => None,
        (None, Some(_)) if !row.mark.needs_action() => None,
        (None, Some(_)) => Some(match (row.last_window, row.next_window) {
            (Some(window), _) => format!("Not booked; its last window is {}.", date_weekday(window, as_of)),
            (None, Some(window)) => format!("Not booked; the next window is {}.", date_weekday(window, as_of)),
            (None, None) => "Not booked; no downtime window is known for it.".to_owned(),
        }),
    }
}

/// What became of an order whose day is over.
fn gone_by(booking: &Booking, day: NaiveDate, as_of: NaiveDate) -> String {
    let day = date_weekday(day, as_of);
    match booking.state {
        OrderState::UnderWay => format!("Under way since {day}."),
        OrderState::PartlyDone => format!("Partly done, begun on {day}."),
        OrderState::Planned | OrderState::Issued => {
            format!("Order {} was to start on {day}; not done.", booking.name)
        }
        // closed since, after the day on which this looks
        OrderState::Done | OrderState::NotDone => format!("Placed on {day}."),
    }
}

fn kit(row: &DueRow, as_of: NaiveDate) -> Option<String> {
    Some(match row.kit_late? {
        KitLate::On(day) => format!("Its kit comes on {}.", date_long(day, as_of)),
        KitLate::Missing => "A part of its kit is missing and not on order.".to_owned(),
    })
}
