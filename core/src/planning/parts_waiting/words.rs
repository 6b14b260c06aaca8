//! What to order and who waits, in words.

use super::{PartAhead, PartUse, PartsWaiting, Supply};
use crate::words::{capital, count_words, date_long, date_mid, number};
use chrono::NaiveDate;

/// A sentence names at most so many services.
const NAMED: usize = 3;

impl PartsWaiting {
    /// The sentence that opens the page: how many parts to order, and what comes first.
    #[must_use]
    pub fn lead(&self) -> String {
        let to_order: Vec<&PartAhead> = self.parts.iter().filter(|part| part.order.is_some()).collect();
        let now = to_order.iter().filter(|part| part.order.is_some_and(|order| order.is_now)).count();
        let Some(first) = to_order.first() else {
            return format!("Nothing is to be ordered up to {}.", date_long(self.last, self.as_of));
        };
        let parts = if to_order.len() == 1 { "part is" } else { "parts are" };
        let today = match now {
            0 => String::new(),
            now if now == to_order.len() => ", all of them now".to_owned(),
            now => format!(", {} of them now", count_words(now)),
        };
        let first = first.order_words(self.as_of);
        format!(
            "{} {parts} to be ordered{today}. First: {}.",
            capital(&count_words(to_order.len())),
            first.unwrap_or_default()
        )
    }
}

impl PartAhead {
    /// `order 2 pieces of gripper HSK-A63 by 12 March; used by R-04 and R-09`; `None` where nothing is
    /// to be ordered.
    #[must_use]
    pub fn order_words(&self, as_of: NaiveDate) -> Option<String> {
        let order = self.order?;
        let by = if order.is_now { "now".to_owned() } else { format!("by {}", date_long(order.by, as_of)) };
        let used: Vec<&str> = self.uses.iter().map(|one| one.position.as_str()).collect();
        let used = if used.is_empty() { String::new() } else { format!("; used by {}", names(&used)) };
        let of = if self.unit.is_empty() { "" } else { "of " };
        Some(format!("order {} {of}{} {by}{used}", amount(order.quantity, &self.unit), self.name))
    }

    /// Who waits for which delivery, one clause each: `M-06 waits for the delivery of Thu 26 March`.
    #[must_use]
    pub fn waiting_words(&self, as_of: NaiveDate) -> Vec<String> {
        self.uses
            .iter()
            .filter_map(|one: &PartUse| match one.supply? {
                Supply::Shelf => None,
                Supply::Delivery(day) => {
                    Some(format!("{} waits for the delivery of {}", one.position, date_mid(day, as_of)))
                }
                Supply::NotOrdered => Some(format!("{} waits for what is not ordered yet", one.position)),
            })
            .collect()
    }
}

/// `2 pieces`, `1 set`, `400 g`: units of letters alone that count things get their plural.
#[must_use]
pub fn amount(quantity: f64, unit: &str) -> String {
    let decimals = usize::from(quantity.fract() != 0.0);
    let figure = number(quantity, decimals);
    let counts = unit.chars().count() > 2 && unit.chars().all(char::is_alphabetic);
    let plural = if counts && (quantity - 1.0).abs() > 1e-9 && !unit.ends_with('s') { "s" } else { "" };
    format!("{figure} {unit}{plural}").trim_end().to_owned()
}

fn names(all: &[&str]) -> String {
    let named = all.iter().take(NAMED).copied().collect::<Vec<_>>();
    match (all.len().saturating_sub(NAMED), named.split_last()) {
        (_, None) => String::new(),
        (0, Some((last, []))) => (*last).to_owned(),
        (0, Some((last, first))) => format!("{} and {last}", first.join(", ")),
        (more, Some(_)) => format!("{} and {} more", named.join(", "), count_words(more)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_read_well() {
        assert_eq!(amount(2.0, "piece"), "2 pieces");
        assert_eq!(amount(1.0, "set"), "1 set");
        assert_eq!(amount(400.0, "g"), "400 g");
        assert_eq!(amount(3.0, ""), "3");
    }
}
