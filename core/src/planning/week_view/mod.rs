//! What the week plan shows: blocks, hours by week, the lead line. Put together once per plan; the
//! screen lays it out and paints it.

mod blocks;
mod earlier;
mod hours;
mod issue;
mod lead;
mod words;

pub use blocks::{BlockOrder, PlanBlock, Standing, blocks};
pub use earlier::{EarlierOrder, earlier};
pub use hours::{CrewTime, WeekHours, monday_of, weeks_of};
pub use issue::{issuable, issue};
pub use lead::{PlanLead, above_cheapest, lead};
pub use words::{block_sentence, hours, left_sentence};

use super::proposal::{LeftService, PlanChange, Proposal, Tray};
use crate::due::DueList;
use crate::forecast::ShopForecast;
use crate::shop::Shop;
use std::collections::BTreeSet;

/// All of a plan that the week plan shows.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekView {
    /// The windows, in the order to which placements refer.
    pub trays: Vec<Tray>,
    /// What stands in them.
    pub blocks: Vec<PlanBlock>,
    /// Due, but without a place.
    pub left: Vec<LeftService>,
    /// Open orders from before the plan: no week shows them all.
    pub earlier: Vec<EarlierOrder>,
    /// What the proposal changes and was not accepted yet; empty without a proposal.
    pub changes: Vec<PlanChange>,
    /// Held placements that clash, one sentence each.
    pub clashes: Vec<String>,
    /// Hours needed and there, week by week.
    pub weeks: Vec<WeekHours>,
    /// The sentence that opens the page.
    pub lead: PlanLead,
    /// Whether it shows a proposal.
    pub is_proposal: bool,
}

impl WeekView {
    /// Puts it together: the plan as it is booked, and over it what is proposed.
    #[must_use]
    pub fn of(
        shop: &Shop,
        (forecast, due): (&ShopForecast, &DueList),
        trays: &[Tray],
        booked: &Proposal,
        proposed: Option<&Proposal>,
    ) -> Self {
        let blocks = blocks(shop, due, booked, proposed);
        let shown = proposed.unwrap_or(booked);
        let open: BTreeSet<_> =
            blocks.iter().filter(|block| block.standing.is_open()).map(|block| block.key()).collect();
        let changes = proposed
            .map(|plan| plan.changes.iter().filter(|change| open.contains(&change.key())).cloned().collect())
            .unwrap_or_default();
        let earlier = earlier(shop, due.as_of);
        Self {
            trays: trays.to_vec(),
            weeks: hours::by_week(shop, forecast, trays, shown, &blocks),
            lead: lead(shop, due, shown, proposed.is_some(), &earlier).with_earlier(&earlier, due.as_of),
            earlier,
            left: shown.left.clone(),
            clashes: shown.clashes.clone(),
            changes,
            blocks,
            is_proposal: proposed.is_some(),
        }
    }
}
