//! The due page: what needs service before when, why, and what must be booked today?

use super::{PageContext, Requests};
use eframe::egui;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct DuePage {}

impl DuePage {
    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let _ = (ui, context, requests);
    }
}
