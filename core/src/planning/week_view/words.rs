//! Blocks and what is left in sentences: for the read-out and for reading aloud.

use super::super::proposal::LeftService;
use super::blocks::{PlanBlock, Standing};
use crate::shop::Shop;
use crate::units::Minutes;
use crate::words::{date_long, date_weekday, number, percent_short};
use chrono::NaiveDate;

/// Minutes as hours: `2`, `1.5`, `1.25`.
#[must_use]
pub fn hours(minutes: Minutes) -> String {
    let hours = minutes.get() / 60.0;
    let decimals = [0, 1].into_iter().find(|decimals| {
        let scale = 10_f64.powi(*decimals);
        ((hours * scale).round() / scale - hours).abs() < 0.005
    });
    number(hours, decimals.unwrap_or(2) as usize)
}

/// All about a block, as the read-out and a screen reader say it.
#[must_use]
pub fn block_sentence(block: &PlanBlock, as_of: NaiveDate) -> String {
    let service = &block.service;
    let place = &service.place;
    let mut sentence = format!(
        "{}, spindle {}, {} service, {} h: {} {} to {}, {}",
        block.position,
        block.name,
        service.kind.key(),
        hours(Minutes::new(service.minutes as f64).unwrap_or_default()),
        date_weekday(place.start.date(), as_of),
        place.start.format("%H:%M"),
        place.end.format("%H:%M"),
        if place.technicians.is_empty() { "nobody yet".to_owned() } else { place.technicians.join(" and ") },
    );
    if block.is_kept() {
        sentence.push_str(", kept: its spindle waits for another order first");
    } else if service.held {
        sentence.push_str(", held");
    }
    if let Some(order) = &block.order {
        sentence.push_str(&format!("; order {}, {}", order.name, order.state.key()));
    }
    sentence.push_str(&match (block.standing, service.moved_from) {
        (Standing::Booked, _) => String::new(),
        (Standing::Added, _) => "; proposed, not accepted yet".to_owned(),
        (Standing::MovedHere, Some(from)) => {
            format!("; proposed, moved from {}, not accepted yet", date_weekday(from.date(), as_of))
        }
        (Standing::MovedHere, None) => "; proposed, moved, not accepted yet".to_owned(),
        (Standing::Rearranged, _) => "; proposed at another time of this window, not accepted yet".to_owned(),
        (Standing::MovedAway, _) => "; booked here, the proposal moves it".to_owned(),
        (Standing::TakenOff, _) => "; booked here, the proposal takes it off the plan".to_owned(),
    });
    if block.mark.needs_action() {
        sentence.push_str(&format!("; {}", block.mark.label()));
    }
    sentence.push_str(&match service.service_by {
        Some(by) if by <= as_of => "; service now".to_owned(),
        Some(by) => format!("; service by {}", date_long(by, as_of)),
        None => String::new(),
    });
    if block.is_late() {
        sentence.push_str(", placed after that");
    }
    if let Some(day) = block.not_before {
        let early = if block.is_too_early() { ", and it is placed before that" } else { "" };
        sentence.push_str(&format!("; not before {}{early}", date_long(day, as_of)));
    }
    if !block.standing.is_left_behind() {
        sentence.push_str(&format!("; chance of a limit crossed by then {} %", percent_short(service.chance_crossed)));
    }
    sentence.push('.');
    sentence
}

/// All about a due service without a place.
#[must_use]
pub fn left_sentence(left: &LeftService, shop: &Shop, as_of: NaiveDate) -> String {
    let name = shop.spindles.get(&left.spindle).map(|spindle| spindle.name.clone()).unwrap_or_default();
    let place = shop.position_on(left.spindle, as_of).map(|position| shop.position_label(position));
    let by = match left.service_by {
        Some(by) if by <= as_of => "service now".to_owned(),
        Some(by) => format!("service by {}", date_long(by, as_of)),
        None => "no service due".to_owned(),
    };
    let ready = shop.ready_day(left.spindle, as_of);
    let ready = ready.map_or_else(String::new, |day| format!(", not before {}", date_long(day, as_of)));
    format!(
        "{}, spindle {name}, {} service, {by}{ready}, not placed: {}",
        place.as_deref().unwrap_or("not mounted"),
        left.kind.key(),
        left.words
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_show_as_many_decimals_as_they_have() {
        let text = |minutes: f64| hours(Minutes::new(minutes).unwrap());
        assert_eq!(
            (text(90.0), text(120.0), text(75.0), text(0.0)),
            ("1.5".into(), "2".into(), "1.25".into(), "0".into())
        );
        assert_eq!(text(2040.0), "34");
    }
}
