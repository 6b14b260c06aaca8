//! The last figures that were computed, with the revision they belong to.

use almanac_core::best_interval::IntervalOrNot;
use almanac_core::due::DueList;
use almanac_core::forecast::ShopForecast;
use almanac_core::forecast::fits::ShopFits;
use chrono::NaiveDateTime;
use std::sync::Arc;

/// A projection and the list made from it.
#[derive(Debug, Clone)]
pub struct Figures {
    /// The projection.
    pub forecast: Arc<ShopForecast>,
    /// The due list.
    pub due: Arc<DueList>,
    /// What the shop taught, on which they rest.
    pub fits: Arc<ShopFits>,
    /// Best intervals; empty until they are worked out.
    pub intervals: Arc<Vec<IntervalOrNot>>,
}

/// What the worker hands over.
#[derive(Debug)]
pub struct Computed {
    /// The revision it was asked for.
    pub revision: u64,
    /// The figures, or why there are none.
    pub figures: Result<Figures, String>,
}

/// The figures on the screen.
#[derive(Debug, Default)]
pub struct Results {
    figures: Option<Figures>,
    of_revision: u64,
    /// Counts the figures that came, as a key for caches.
    count: u64,
    computed_at: Option<NaiveDateTime>,
}

impl Results {
    /// Takes new figures in; older ones than those there are dropped. Answers with a sentence
    /// where the computation failed.
    pub fn accept(&mut self, computed: Computed, now: NaiveDateTime) -> Option<String> {
        if computed.revision < self.of_revision {
            return None;
        }
        match computed.figures {
            Ok(figures) => {
                self.figures = Some(figures);
                self.of_revision = computed.revision;
                self.count += 1;
                self.computed_at = Some(now);
                None
            }
            Err(sentence) => Some(sentence),
        }
    }

    /// The figures, maybe of an earlier revision.
    #[must_use]
    pub const fn figures(&self) -> Option<&Figures> {
        self.figures.as_ref()
    }

    /// Whether they belong to that revision.
    #[must_use]
    pub const fn is_current(&self, revision: u64) -> bool {
        self.figures.is_some() && self.of_revision == revision
    }

    /// Changes with every new set of figures.
    #[must_use]
    pub const fn figures_revision(&self) -> u64 {
        self.count
    }

    /// When they were computed.
    #[must_use]
    pub const fn computed_at(&self) -> Option<NaiveDateTime> {
        self.computed_at
    }

    /// Another shop: nothing is known. The count goes on, so that no cache takes old for new.
    pub fn clear(&mut self) {
        self.figures = None;
        self.of_revision = 0;
        self.count += 1;
        self.computed_at = None;
    }
}
