//! The shop page: registers and settings.

use super::{PageContext, Requests};
use eframe::egui;

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct ShopPage {}

impl ShopPage {
    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let _ = (ui, context, requests);
    }
}
