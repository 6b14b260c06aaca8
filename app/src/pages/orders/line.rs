//! One line of the list in words: made once per change of shop or figures, not per frame.

use crate::pages::PageContext;
use almanac_core::ids::{OrderId, SpindleId};
use almanac_core::orders_list::{OrderLine, line_sentence, order_lines};
use almanac_core::words;

/// What a line is of, from one change of the shop to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct LineKey {
    /// `None`: to book.
    pub(super) order: Option<OrderId>,
    pub(super) spindle: SpindleId,
}

/// A line as the table prints it.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub(super) key: LineKey,
    pub(super) of: OrderLine,
    pub(super) service_by: String,
    pub(super) when: String,
    pub(super) who: String,
    pub(super) kit: String,
    pub(super) hours: String,
    pub(super) stop_cost: String,
    /// The day is over and the work has not begun, or lies after service-by.
    pub(super) is_late: bool,
    /// It must be booked today.
    pub(super) is_pressing: bool,
    pub(super) is_kit_late: bool,
    /// What a screen reader says of the line.
    pub(super) sentence: String,
    /// Lower-case text that a search looks through.
    pub(super) searched: String,
}

impl Line {
    /// Whether a person must act.
    pub(super) const fn needs_action(&self) -> bool {
        self.is_late || self.is_pressing || self.is_kit_late || self.key.order.is_none()
    }
}

/// All lines; none until figures are there.
pub(super) fn lines(context: &PageContext<'_>, closed: bool) -> Vec<Line> {
    let Some(due) = context.due else { return Vec::new() };
    let as_of = due.as_of;
    let currency = &context.shop.settings.currency;
    let known = |text: String| if text.is_empty() { words::UNKNOWN.to_owned() } else { text };
    order_lines(context.shop, due, closed)
        .into_iter()
        .map(|of| {
            let parts = [&of.order, &of.place, &of.spindle, &of.interface, &of.hall];
            let mut searched = parts.map(String::as_str).join("\n");
            for who in &of.technicians {
                searched.push('\n');
                searched.push_str(who);
            }
            Line {
                key: LineKey { order: of.id, spindle: of.spindle_id },
                service_by: of.service_by_words(as_of),
                when: of.start_words(as_of),
                who: known(of.technicians.join(", ")),
                kit: of.kit_words(as_of),
                hours: of.duration.map_or_else(|| words::UNKNOWN.to_owned(), |hours| words::number(hours.get(), 1)),
                stop_cost: of.stop_cost.map_or_else(String::new, |cost| words::money_in(cost, currency)),
                is_late: of.is_late() || of.is_overdue(as_of),
                is_pressing: of.is_pressing(as_of),
                is_kit_late: of.is_kit_late(as_of),
                sentence: line_sentence(&of, as_of),
                searched: searched.to_lowercase(),
                of,
            }
        })
        .collect()
}
