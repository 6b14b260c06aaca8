//! Withdrawing a record: it no longer counts, and the reason stands in the journal.

use super::layout::{labelled, plain_button, quiet, section};
use crate::pages::{Request, Requests};
use crate::widgets::ruled_blank;
use almanac_core::actions::{Action, Recording};
use almanac_core::ids::{MeterReadingId, ReadingId, ServiceId};
use chrono::NaiveDate;
use eframe::egui;

/// The record that is withdrawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Record {
    /// A reading.
    Reading(ReadingId),
    /// A service.
    Service(ServiceId),
    /// A meter reading.
    Meter(MeterReadingId),
}

/// The field of the reason.
pub const REASON: &str = "reason to withdraw";

/// The last section of a correction.
#[derive(Debug, Default)]
pub struct Withdrawal {
    reason: String,
    reason_is_asked: bool,
}

/// The action that withdraws a record with a reason, in one step.
#[must_use]
pub fn action(record: Record, what: &str, reason: &str, today: NaiveDate) -> Action {
    let withdrawn = match record {
        Record::Reading(id) => Action::Reading(Recording::Withdraw(id, today)),
        Record::Service(id) => Action::Service(Recording::Withdraw(id, today)),
        Record::Meter(id) => Action::Meter(Recording::Withdraw(id, today)),
    };
    Action::Together(format!("Withdraw {what}: {}", reason.trim()), vec![withdrawn])
}

impl Withdrawal {
    /// The reason typed so far.
    #[must_use]
    pub fn reason(&self) -> &str {
        &self.reason
    }

    /// Draws the section; a withdrawal with its reason closes the form.
    pub fn ui(&mut self, ui: &mut egui::Ui, record: Record, what: &str, today: NaiveDate, requests: &mut Requests) {
        section(ui, "Or withdraw it");
        quiet(ui, "It no longer counts from today and stays visible, with the reason in the journal.");
        let error = (self.reason_is_asked && self.reason.trim().is_empty()).then_some("say why it is withdrawn");
        labelled(ui, REASON, |ui, width| ruled_blank::ruled_blank(ui, &mut self.reason, REASON, "", width, error));
        labelled(ui, "", |ui, _| {
            if plain_button(ui, "Withdraw", true).clicked() {
                self.reason_is_asked = true;
                if !self.reason.trim().is_empty() {
                    requests.perform(action(record, what, &self.reason, today));
                    requests.push(Request::CloseForm);
                }
            }
        });
    }
}
