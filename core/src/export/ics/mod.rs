//! Booked services as iCalendar (RFC 5545), for the calendars of a plant.
//!
//! **What is in it.** Every open order with a start: planned ones as `TENTATIVE`, issued ones and
//! those under way as `CONFIRMED`. An order closed as *not done* whose day still lies ahead is
//! written as `CANCELLED`, so that a calendar that took it in takes it out again. An order that was
//! taken off the list is gone from the shop and so from the file: what a calendar imported of it
//! stays there until it is deleted by hand, unless the calendar subscribes to the file as a whole.
//!
//! **Again and again.** The UID is made from the name of the shop and the number of the order, so a
//! second import updates an event and doubles nothing; a shop that gets another name gets other
//! events. The moment of writing is passed in and stands as `DTSTAMP`, `LAST-MODIFIED` and, in
//! seconds, as `SEQUENCE`: a later file always counts as newer. All else follows from the shop.
//!
//! **Times** are floating, the local time of wherever one reads them (RFC 5545, 3.3.5, form 1): a
//! shop has no time zone. A service over the night in which clocks change keeps the times of the
//! clock on the wall, as the shift it lies in does. An order with a day but no time is an event of
//! the whole day.
//!
//! A calendar without any event is not allowed by the grammar (3.6), so an empty one holds a journal
//! entry that says so; calendars show it nowhere or as a note.

mod content_line;
mod event;
mod uid;

pub use content_line::{ContentLines, escaped};
pub use uid::uid;

use crate::order::OrderState;
use crate::orders_list::{LineState, OrderLine};
use crate::shop::Shop;
use chrono::{NaiveDate, NaiveDateTime};
use event::Stamp;
use std::collections::BTreeSet;

/// Which services go into a calendar; an empty set lets all of its kind through.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CalendarOf {
    /// Only those that one of these technicians does, leading or not.
    pub technicians: BTreeSet<String>,
    /// Only those in one of these halls.
    pub halls: BTreeSet<String>,
}

/// A technician or hall that the shop does not have.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("this shop has no {what} '{name}'; it has {known}")]
pub struct UnknownName {
    what: &'static str,
    name: String,
    known: String,
}

impl CalendarOf {
    /// The same, if the shop knows its names; technicians also from the orders.
    ///
    /// # Errors
    /// The first name that the shop does not have, with those it has.
    pub fn checked(self, shop: &Shop) -> Result<Self, UnknownName> {
        let halls: BTreeSet<&str> = shop.halls().into_iter().collect();
        known("hall", &self.halls, &halls)?;
        let crew = shop.technicians.iter().map(|technician| technician.name.as_str());
        let in_orders = shop.orders.iter().flat_map(|order| &order.technicians).map(String::as_str);
        known("technician", &self.technicians, &crew.chain(in_orders).collect())?;
        Ok(self)
    }

    /// Of whom and where, such as `of Brook and Thorne in Router hall`; empty: everything.
    #[must_use]
    pub fn in_words(&self) -> String {
        let names = |set: &BTreeSet<String>| set.iter().map(String::as_str).collect::<Vec<_>>().join(" and ");
        match (self.technicians.is_empty(), self.halls.is_empty()) {
            (true, true) => String::new(),
            (false, true) => format!("of {}", names(&self.technicians)),
            (true, false) => format!("of {}", names(&self.halls)),
            (false, false) => format!("of {} in {}", names(&self.technicians), names(&self.halls)),
        }
    }

    fn takes(&self, line: &OrderLine) -> bool {
        let has = |name: &String| self.technicians.contains(name);
        let technician = self.technicians.is_empty() || line.technicians.iter().any(has);
        technician && (self.halls.is_empty() || self.halls.contains(&line.hall))
    }
}

fn known(what: &'static str, asked: &BTreeSet<String>, names: &BTreeSet<&str>) -> Result<(), UnknownName> {
    let Some(name) = asked.iter().find(|name| !names.contains(name.as_str())) else { return Ok(()) };
    let known = names.iter().copied().collect::<Vec<_>>().join(", ");
    let known = if known.is_empty() { "none".to_owned() } else { known };
    Err(UnknownName { what, name: name.clone(), known })
}

/// A calendar, ready to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Calendar {
    /// The file.
    pub text: String,
    /// How many booked services stand in it.
    pub booked: usize,
    /// How many that were not done and are taken out.
    pub cancelled: usize,
}

/// The calendar of a shop as known on a day. `lines` are those of [`order_lines`] with the closed
/// orders; `written_at` is the moment of writing in UTC.
///
/// [`order_lines`]: crate::orders_list::order_lines
#[must_use]
pub fn calendar(
    shop: &Shop,
    lines: &[OrderLine],
    of: &CalendarOf,
    as_of: NaiveDate,
    written_at: NaiveDateTime,
) -> Calendar {
    let mut shown: Vec<(&OrderLine, bool)> = lines
        .iter()
        .filter(|line| of.takes(line))
        .filter_map(|line| Some((line, is_cancelled(line, as_of)?)))
        .collect();
    shown.sort_by(|(a, _), (b, _)| a.start.cmp(&b.start).then_with(|| a.order.cmp(&b.order)));
    let cancelled = shown.iter().filter(|(_, is_cancelled)| *is_cancelled).count();
    let stamp = Stamp::of(written_at);
    let mut out = ContentLines::default();
    out.plain("BEGIN", "VCALENDAR");
    out.plain("VERSION", "2.0");
    out.text("PRODID", concat!("-//Drawbar Almanac//Drawbar Almanac ", env!("CARGO_PKG_VERSION"), "//EN"));
    out.plain("CALSCALE", "GREGORIAN");
    // source: RFC 7986, section 5.1
    out.text("NAME", &name_of(shop, of));
    for (line, is_cancelled) in &shown {
        event::write(&mut out, shop, line, *is_cancelled, &stamp);
    }
    if shown.is_empty() {
        event::write_nothing_booked(&mut out, shop, as_of, &stamp);
    }
    out.plain("END", "VCALENDAR");
    Calendar { text: out.finish(), booked: shown.len() - cancelled, cancelled }
}

/// Whether a line goes in as cancelled; `None`: it does not go in.
fn is_cancelled(line: &OrderLine, as_of: NaiveDate) -> Option<bool> {
    let start = line.start?;
    match line.state {
        LineState::ToBook | LineState::Order(OrderState::Done) => None,
        LineState::Order(OrderState::NotDone) => (start.date >= as_of).then_some(true),
        LineState::Order(_) => line.is_open.then_some(false),
    }
}

fn name_of(shop: &Shop, of: &CalendarOf) -> String {
    let shop = if shop.settings.name.is_empty() { "Shop without a name" } else { &shop.settings.name };
    let mut name = format!("Gripper services, {shop}");
    for part in of.halls.iter().chain(&of.technicians) {
        name.push_str(", ");
        name.push_str(part);
    }
    name
}
