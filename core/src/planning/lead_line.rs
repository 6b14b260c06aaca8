//! The sentence that opens a proposal.

use super::proposal::Proposal;
use crate::shop::Shop;
use crate::words;

/// How many are placed and how many are not, what the plan costs, and how far that may lie above
/// the cheapest possible.
#[must_use]
pub fn lead_line(shop: &Shop, proposal: &Proposal) -> String {
    let placed = proposal.placed.len();
    let left = proposal.left.iter().filter(|left| !left.for_next_plan).count();
    if placed == 0 && left == 0 {
        let last = words::date_long(proposal.last, proposal.as_of);
        return format!("Nothing is due up to {last}.");
    }
    let are = |count: usize| if count == 1 { "is" } else { "are" };
    let services = if placed == 1 { "service" } else { "services" };
    let first = format!("{} {services} {} placed", words::capital(&words::count_words(placed)), are(placed));
    let not = if left == 0 { String::new() } else { format!(", {} {} not", words::count_words(left), are(left)) };
    let total = proposal.costs.total();
    let cost = words::money_in(total, &shop.settings.currency);
    let above = proposal.cheapest_possible.filter(|cheapest| 0.0 < cheapest.get()).map_or_else(String::new, |cheapest| {
        // up to a tenth: never less than it may be
        let tenths = ((total.get() / cheapest.get() - 1.0) * 1000.0 - 1e-6).ceil().max(0.0);
        if tenths == 0.0 {
            ", the cheapest possible".to_owned()
        } else {
            format!(", at most {} % above the cheapest possible", words::number(tenths / 10.0, 1))
        }
    });
    format!("{first}{not}. The plan costs {cost}{above}.")
}
