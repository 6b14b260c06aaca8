//! The form of a machine with its spindle: the start of a shop from nothing.

use super::draft::{Draft, FieldErrors};
use super::first_machine_draft::{self, MOUNTED, OFFERED, POSITION, SHOP_NAME};
use super::layout::{Fields, labelled, plain_button, quiet, section, urgent};
use super::{FormBody, Heading, Remembered};
use crate::pages::shop::register::interface_offers;
use crate::pages::shop::registers::spindles::force_question;
use crate::pages::{PageContext, Requests};
use crate::widgets::choice::Offer;
use almanac_core::actions::Action;
use almanac_core::typed_date::Lean;
use eframe::egui;

/// A machine being entered.
#[derive(Debug)]
pub struct FirstMachineForm {
    draft: Draft,
    focus_first: bool,
}

impl FirstMachineForm {
    /// An empty form; the hall is that of the last machine.
    #[must_use]
    pub fn new(context: &PageContext<'_>) -> Self {
        let last = context.shop.machines.values().next_back();
        let draft = Draft::default()
            .with(SHOP_NAME, context.shop.settings.name.clone())
            .with("hall", last.map(|machine| machine.hall.clone()).unwrap_or_default())
            .with("spindle positions", "1")
            .with(POSITION, "1")
            .with(MOUNTED, context.present.to_string());
        Self { draft, focus_first: true }
    }

    fn force_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors) {
        let unit = context.shop.settings.force_unit;
        let offered = first_machine_draft::offered(&self.draft, context.shop);
        let hint = offered.clone().unwrap_or_default();
        Fields { draft: &mut self.draft, errors }.figure(ui, "nominal force", &hint, unit.symbol());
        if let Some(question) = force_question(&self.draft, context.shop) {
            labelled(ui, "", |ui, _| urgent(ui, &question));
        }
        let Some(offered) = offered else { return };
        labelled(ui, "", |ui, _| {
            if self.draft.trimmed("nominal force") == offered {
                quiet(ui, OFFERED);
            } else if self.draft.trimmed("nominal force").is_empty() {
                if plain_button(ui, &format!("Take {offered} {unit}"), true).clicked() {
                    self.draft.set("nominal force", offered.clone());
                }
                quiet(ui, &format!("{OFFERED}; the spindle builder's value rules"));
            }
        });
    }
}

impl FormBody for FirstMachineForm {
    fn heading(&self, context: &PageContext<'_>) -> Heading {
        let is_first = context.shop.machines.is_empty();
        let title = if is_first { "The first machine" } else { "A machine with its spindle" };
        Heading {
            title: title.to_owned(),
            detail: "Machine, spindle and where it sits, in one step; everything can be changed later.".to_owned(),
        }
    }

    fn body(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        _remembered: &Remembered,
        _requests: &mut Requests,
    ) {
        let halls: Vec<Offer> = context.shop.halls().into_iter().map(|hall| Offer::new(hall, "")).collect();
        let mut fields = Fields { draft: &mut self.draft, errors };
        let has_name = !context.shop.settings.name.is_empty();
        if !has_name {
            let name = fields.text(ui, SHOP_NAME, "works, hall, workshop");
            if std::mem::take(&mut self.focus_first) {
                name.request_focus();
            }
        }
        section(ui, "Machine");
        let machine = fields.text(ui, "machine", "as it stands on it");
        if std::mem::take(&mut self.focus_first) {
            machine.request_focus();
        }
        fields.offers(ui, "hall", "where it stands", &halls);
        fields.text(ui, "description", "");
        fields.figure(ui, "spindle positions", "1", "");
        section(ui, "Spindle");
        fields.text(ui, "spindle", "serial or shop number");
        fields.offers(ui, "tool interface", "HSK-A63", &interface_offers(context.shop));
        self.force_ui(ui, context, errors);
        let mut fields = Fields { draft: &mut self.draft, errors };
        if fields.draft.trimmed("spindle positions") != "1" {
            fields.figure(ui, POSITION, "1", "");
        }
        fields.day(ui, MOUNTED, "2026-03-17, 17.3.", context.present, Lean::Back);
        let hint = "new on that day; empty: found mid-life";
        fields.day(ui, "installed on", hint, context.present, Lean::Back);
    }

    fn typed(&self) -> Draft {
        self.draft.clone()
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        first_machine_draft::parse(&self.draft, context.shop, context.present)
    }

    fn save_words(&self, _context: &PageContext<'_>) -> String {
        "Save the machine".to_owned()
    }

    fn ready_words(&self, _context: &PageContext<'_>) -> String {
        "Next: a first reading and the meter, for a date of its own.".to_owned()
    }
}
