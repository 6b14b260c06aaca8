//! The spindle page: why this date, and is something unusual?

use super::{PageContext, Requests};
use almanac_core::ids::SpindleId;
use eframe::egui;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct SpindlePage {}

impl SpindlePage {
    /// Draws the page for a spindle.
    pub fn ui(&mut self, ui: &mut egui::Ui, spindle: SpindleId, context: &PageContext<'_>, requests: &mut Requests) {
        let _ = (ui, spindle, context, requests);
    }
}
