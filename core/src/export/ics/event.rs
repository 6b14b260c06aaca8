//! One booked service as an event.

use super::content_line::ContentLines;
use super::uid::{shop_figure, uid};
use crate::cautions;
use crate::due::KitReady;
use crate::order::OrderState;
use crate::orders_list::{LineState, OrderLine};
use crate::service::Kind;
use crate::shop::Shop;
use crate::words::{self, date_full};
use chrono::{NaiveDate, NaiveDateTime, TimeDelta};

/// The moment of writing, as events carry it.
pub(super) struct Stamp {
    utc: String,
    sequence: i64,
}

impl Stamp {
    pub(super) fn of(utc: NaiveDateTime) -> Self {
        let first = NaiveDate::from_ymd_opt(2020, 1, 1).unwrap_or_default().and_time(chrono::NaiveTime::MIN);
        // an integer of iCalendar has 31 bits (RFC 5545, 3.3.8): enough until 2088
        let sequence = (utc - first).num_seconds().clamp(0, i64::from(i32::MAX));
        Self { utc: utc.format("%Y%m%dT%H%M%SZ").to_string(), sequence }
    }

    fn write(&self, out: &mut ContentLines) {
        out.plain("DTSTAMP", &self.utc);
        out.plain("LAST-MODIFIED", &self.utc);
        out.plain("SEQUENCE", &self.sequence.to_string());
    }
}

/// Writes an order with a start; one without is left out.
pub(super) fn write(out: &mut ContentLines, shop: &Shop, line: &OrderLine, is_cancelled: bool, stamp: &Stamp) {
    let Some(start) = line.start else { return };
    out.plain("BEGIN", "VEVENT");
    out.text("UID", &uid(shop, &line.order));
    stamp.write(out);
    match start.time {
        Some(_) => {
            let local = |moment: NaiveDateTime| moment.format("%Y%m%dT%H%M%S").to_string();
            let begins = start.date_time();
            out.plain("DTSTART", &local(begins));
            out.plain("DTEND", &local(ends_after(begins, line)));
        }
        None => {
            let day = |day: NaiveDate| day.format("%Y%m%d").to_string();
            out.plain("DTSTART;VALUE=DATE", &day(start.date));
            // the end of an event is the first day after it
            out.plain("DTEND;VALUE=DATE", &day(start.date.succ_opt().unwrap_or(start.date)));
        }
    }
    let place = if line.place.is_empty() { "not mounted" } else { &line.place };
    out.text("SUMMARY", &format!("{} {place}, {}", service(line.service), line.spindle));
    if !line.machine.is_empty() {
        out.text("LOCATION", &format!("{}, {}", line.hall, line.place));
    }
    out.text("DESCRIPTION", &description(line, is_cancelled));
    let status = match (is_cancelled, line.state) {
        (true, _) => "CANCELLED",
        (false, LineState::ToBook | LineState::Order(OrderState::Planned)) => "TENTATIVE",
        (false, LineState::Order(_)) => "CONFIRMED",
    };
    out.plain("STATUS", status);
    out.texts("CATEGORIES", &["gripper service", line.service.key()]);
    out.plain("END", "VEVENT");
}

/// What stands in a calendar in which no service is booked.
pub(super) fn write_nothing_booked(out: &mut ContentLines, shop: &Shop, as_of: NaiveDate, stamp: &Stamp) {
    out.plain("BEGIN", "VJOURNAL");
    out.text("UID", &format!("nothing-booked-{}@drawbar-almanac", shop_figure(&shop.settings.name)));
    stamp.write(out);
    out.plain("DTSTART;VALUE=DATE", &as_of.format("%Y%m%d").to_string());
    out.text("SUMMARY", "No service is booked");
    out.plain("END", "VJOURNAL");
}

/// The end of its span; an event lasts a minute at least (RFC 5545, 3.8.2.2: later than the start).
fn ends_after(begins: NaiveDateTime, line: &OrderLine) -> NaiveDateTime {
    let least = begins.checked_add_signed(TimeDelta::minutes(1)).unwrap_or(begins);
    line.end.map_or(least, |end| end.date_time().max(least))
}

const fn service(kind: Kind) -> &'static str {
    match kind {
        Kind::Minor => "Minor service",
        Kind::Major => "Major service",
    }
}

fn description(line: &OrderLine, is_cancelled: bool) -> String {
    let mut lines = vec![format!("Order {}, {}.", line.order, line.state.label())];
    if is_cancelled {
        lines.push("It does not take place; this entry can go.".to_owned());
        return lines.join("\n");
    }
    lines.push(format!("Spindle {}, {}.", line.spindle, line.interface));
    let mut work = service(line.service).to_owned();
    if let Some(duration) = line.duration {
        work.push_str(&format!(", {} h", words::number(duration.get(), 1)));
    }
    if !line.technicians.is_empty() {
        work.push_str(&format!(", by {}", line.technicians.join(" and ")));
    }
    lines.push(format!("{work}."));
    if let Some(by) = line.service_by {
        let because = line.governing_limit.map(|limit| format!(", because of {}", limit.label())).unwrap_or_default();
        lines.push(format!("Service by {}{because}.", date_full(by)));
    }
    if !line.reason.is_empty() {
        lines.push(line.reason.clone());
    }
    match line.kit {
        Some(KitReady::Here) => lines.push("The kit is here.".to_owned()),
        Some(KitReady::On(day)) => lines.push(format!("The kit is complete on {}.", date_full(day))),
        Some(KitReady::Missing) => lines.push("A part of the kit is missing and not on order.".to_owned()),
        None => {}
    }
    lines.push("Cautions:".to_owned());
    lines.extend(cautions::SHORT.iter().map(|caution| format!("- {caution}")));
    lines.join("\n")
}
