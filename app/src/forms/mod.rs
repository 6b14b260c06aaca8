//! Entry by hand: the forms at the right edge of the window.
//!
//! A form edits a draft of texts; the draft becomes an action or says, field by field and in
//! words, what is wrong. Nothing here computes wear or dates.

pub mod draft;
pub mod reading_draft;

use crate::pages::{Form, PageContext, Requests};
use eframe::egui;

/// The panel with the open form, if one is open.
#[derive(Debug, Default)]
pub struct FormPanel {
    open: Option<Form>,
}

impl FormPanel {
    /// Opens a form; the last unsaved draft of the same form comes back.
    pub fn open(&mut self, form: Form, context: &PageContext<'_>) {
        let _ = context;
        self.open = Some(form);
    }

    /// Whether a form is open.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Closes the form; what was typed is kept until the form is saved or another one is opened.
    pub fn close(&mut self) {
        self.open = None;
    }

    /// Draws the open form.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let _ = (ui, context, requests);
    }
}
