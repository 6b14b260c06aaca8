//! The form of a row of a register, opened from another page: a machine, a spindle, a mounting.

use super::draft::{Draft, FieldErrors};
use super::layout::{labelled, plain_button};
use super::{FormBody, Heading, Remembered};
use crate::pages::shop::editor;
use crate::pages::shop::register::{Register, RegisterContext};
use crate::pages::shop::registers::RegisterKind;
use crate::pages::{Form, PageContext, Request, Requests};
use almanac_core::actions::Action;
use almanac_core::ids::SpindleId;
use almanac_core::mounting::Mounting;
use almanac_core::words;
use eframe::egui;

/// A row being edited or added.
#[derive(Debug)]
pub struct RegisterRowForm {
    kind: RegisterKind,
    id: Option<i64>,
    stored: Draft,
    draft: Draft,
    focus_first: bool,
}

const fn registers<'a>(context: &PageContext<'a>) -> RegisterContext<'a> {
    RegisterContext { shop: context.shop, today: context.present }
}

impl RegisterRowForm {
    /// The form of a row; `None` where the row is gone or nobody edits that register.
    #[must_use]
    pub fn new(kind: RegisterKind, id: Option<i64>, context: &PageContext<'_>) -> Option<Self> {
        let stored = kind.register()?.draft(&registers(context), id)?;
        Some(Self { kind, id, draft: stored.clone(), stored, focus_first: true })
    }

    fn register(&self) -> Option<&'static dyn Register> {
        self.kind.register()
    }

    /// Leads from a spindle to the machine in which it sits and to the mounting that says so.
    fn places_ui(&self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let spindle = self.id.filter(|_| self.kind == RegisterKind::Spindles).map(SpindleId::from_row);
        let Some(spindle) = spindle else { return };
        let Some(position) = context.shop.position_on(spindle, context.present) else { return };
        let sits = |mounting: &Mounting| mounting.spindle == spindle && mounting.position == position;
        let mounting = context.shop.mountings.iter().rfind(|row| sits(&row.value));
        let is_open = context.entry_closed.is_none();
        let mut lead = |ui: &mut egui::Ui, words: &str, form: Form| {
            if plain_button(ui, words, is_open).clicked() {
                requests.push(Request::OpenForm(form));
            }
        };
        labelled(ui, "", |ui, _| {
            ui.horizontal(|ui| {
                lead(ui, "Edit its machine", Form::Row(RegisterKind::Machines, Some(position.machine.row())));
                if let Some(mounting) = mounting {
                    lead(ui, "Edit its mounting", Form::Row(RegisterKind::Mountings, Some(mounting.id.row())));
                }
                lead(ui, "Exchange it", Form::Exchange(spindle));
            });
        });
    }
}

impl FormBody for RegisterRowForm {
    fn heading(&self, _context: &PageContext<'_>) -> Heading {
        let Some(register) = self.register() else { return Heading::default() };
        let title = match self.id {
            None => format!("new {}", register.one()),
            Some(_) => format!("{} {}", register.one(), self.stored.trimmed(register.name_key())),
        };
        Heading { title: words::capital(&title), detail: String::new() }
    }

    fn body(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        _remembered: &Remembered,
        requests: &mut Requests,
    ) {
        let Some(register) = self.register() else { return };
        let fields = register.fields(&registers(context));
        let remark = register.remark(&registers(context), &self.draft);
        editor::fields_ui(ui, &mut self.draft, errors, &fields, context.present, &mut self.focus_first, remark);
        self.places_ui(ui, context, requests);
        editor::limit_steps_ui(ui, self.kind, self.id, &registers(context));
        if let Some(removal) = self.id.and_then(|id| register.remove(id)) {
            labelled(ui, "", |ui, _| {
                if plain_button(ui, &format!("Remove the {}", register.one()), true).clicked() {
                    requests.perform(removal);
                    requests.push(Request::CloseForm);
                }
            });
        }
    }

    fn typed(&self) -> Draft {
        self.draft.clone()
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        let mut errors = FieldErrors::default();
        let Some(register) = self.register() else { return Err(errors) };
        let action = register.parse(&registers(context), &self.draft, self.id)?;
        if self.id.is_some() && self.draft == self.stored {
            errors.missing.push("a change".to_owned());
            return Err(errors);
        }
        Ok(action)
    }

    fn save_words(&self, _context: &PageContext<'_>) -> String {
        let one = self.register().map_or("row", Register::one);
        if self.id.is_some() { format!("Save the {one}") } else { format!("Add the {one}") }
    }
}
