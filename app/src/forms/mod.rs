//! Entry by hand: the forms at the right edge of the window.
//!
//! A form edits a draft of texts; the draft becomes an action or says, field by field and in
//! words, what is wrong. Nothing here computes wear or dates.

pub mod cautions;
pub mod draft;
pub mod exchange;
pub mod facts;
pub mod far;
pub mod first_machine;
pub mod first_machine_draft;
pub mod layout;
pub mod meter;
pub mod meter_draft;
pub mod part_rows;
pub mod reading;
pub mod reading_draft;
pub mod register_row;
pub mod service;
pub mod service_draft;
pub mod slip;
pub mod strokes;
pub mod withdraw;

use crate::pages::{Form, PageContext, Request, Requests};
use crate::theme::{MARGIN, palette};
use almanac_core::actions::Action;
use almanac_core::units::Quantity;
use draft::{Draft, FieldErrors};
use eframe::egui::{self, Key, Modifiers, Rect, ScrollArea, Stroke, UiBuilder, pos2, vec2};

/// What stands over a form.
#[derive(Debug, Clone, Default)]
pub struct Heading {
    /// What the form is for.
    pub title: String,
    /// More about what it is of.
    pub detail: String,
}

/// What was used last, offered again in the next form.
#[derive(Debug, Clone, Default)]
pub struct Remembered {
    technician: String,
    force_gauge: String,
    setting_gauge: String,
}

impl Remembered {
    fn gauge(&self, quantity: Quantity) -> Option<String> {
        let name = match quantity {
            Quantity::ClampForce => &self.force_gauge,
            Quantity::SettingDimension => &self.setting_gauge,
        };
        (!name.is_empty()).then(|| name.clone())
    }

    fn set_gauge(&mut self, quantity: Quantity, name: &str) {
        match quantity {
            Quantity::ClampForce => name.clone_into(&mut self.force_gauge),
            Quantity::SettingDimension => name.clone_into(&mut self.setting_gauge),
        }
    }
}

/// One form between its heading and its foot.
pub trait FormBody: std::fmt::Debug {
    /// What stands over it.
    fn heading(&self, context: &PageContext<'_>) -> Heading;
    /// Its fields.
    fn body(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        remembered: &Remembered,
        requests: &mut Requests,
    );
    /// What stands in its fields.
    fn typed(&self) -> Draft;
    /// What it would do, or what keeps it from being saved.
    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors>;
    /// What stands on its button.
    fn save_words(&self, context: &PageContext<'_>) -> String;
    /// The foot sentence once nothing is missing.
    fn ready_words(&self, context: &PageContext<'_>) -> String {
        let _ = context;
        String::new()
    }
    /// Keeps what the next form will offer.
    fn remember(&self, remembered: &mut Remembered) {
        let _ = remembered;
    }
    /// Opens every question that keeps it from being saved.
    fn ask_all(&mut self, context: &PageContext<'_>) {
        let _ = context;
    }
}

/// A form with its fields.
#[derive(Debug)]
struct Open {
    form: Form,
    body: Box<dyn FormBody>,
    /// What stood in its fields before anybody typed.
    offered: Draft,
}

/// A form that was left or saved, with the revision of the shop at that moment.
#[derive(Debug)]
struct Kept {
    form: Open,
    /// Set when it was saved: comes back only where the shop did not change, so was not saved.
    saved_at: Option<u64>,
}

/// The panel with the open form, if one is open.
#[derive(Debug, Default)]
pub struct FormPanel {
    open: Option<Open>,
    /// Each form that was left with something typed in it.
    kept: Vec<Kept>,
    remembered: Remembered,
    has_focus: bool,
}

const FOOT: f32 = 80.0;
/// Room for two lines of what is missing.
const FOOT_SENTENCE: f32 = 34.0;

impl FormPanel {
    /// Opens a form; its unsaved draft comes back, whatever was opened in between.
    pub fn open(&mut self, form: Form, context: &PageContext<'_>) {
        if self.open.as_ref().is_some_and(|open| open.form == form) {
            return;
        }
        self.close();
        self.kept.retain(|kept| kept.saved_at.is_none_or(|revision| revision == context.revision));
        let kept = self.kept.iter().position(|kept| kept.form.form == form).map(|index| self.kept.swap_remove(index));
        self.open = match kept {
            Some(kept) => Some(kept.form),
            None => self.body_of(form, context).map(|body| Open { form, offered: body.typed(), body }),
        };
    }

    fn body_of(&self, form: Form, context: &PageContext<'_>) -> Option<Box<dyn FormBody>> {
        let body: Box<dyn FormBody> = match form {
            Form::Reading(spindle) => Box::new(reading::ReadingForm::new(spindle, context, &self.remembered)),
            Form::CorrectReading(id) => Box::new(reading::ReadingForm::correction(id, context)?),
            Form::Service(spindle) => Box::new(service::ServiceForm::new(spindle, context, &self.remembered)),
            Form::CorrectService(id) => Box::new(service::ServiceForm::correction(id, context)?),
            Form::Meter(spindle) => Box::new(meter::MeterForm::new(spindle, context)),
            Form::CorrectMeter(id) => Box::new(meter::MeterForm::correction(id, context)?),
            Form::Exchange(spindle) => Box::new(exchange::ExchangeForm::new(spindle, context)),
            Form::FirstMachine => Box::new(first_machine::FirstMachineForm::new(context)),
            Form::Row(kind, id) => Box::new(register_row::RegisterRowForm::new(kind, id, context)?),
        };
        Some(body)
    }

    /// Whether a form is open.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Whether the keyboard acts in the open form.
    #[must_use]
    pub const fn has_focus(&self) -> bool {
        self.open.is_some() && self.has_focus
    }

    /// Closes the form; what was typed is kept until the form is saved. One in which nothing was
    /// typed is made anew the next time, from what the shop says then.
    pub fn close(&mut self) {
        if let Some(form) = self.open.take().filter(|open| open.body.typed() != open.offered) {
            self.kept.push(Kept { form, saved_at: None });
        }
    }

    /// Forgets open and kept forms: another shop was opened.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// Draws the open form.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        let Some(Open { form, body, .. }) = &mut self.open else { return };
        let drawn_before = widgets(ui).len();
        let (saves, leaves) = ui.input_mut(|input| {
            (input.consume_key(Modifiers::COMMAND, Key::Enter), input.consume_key(Modifiers::NONE, Key::Escape))
        });
        let parsed = body.parse(context);
        let errors = parsed.as_ref().err().cloned().unwrap_or_default();
        let outer = ui.available_rect_before_wrap();
        let left_line = palette(ui).rule2;
        ui.painter().vline(outer.left(), outer.y_range(), Stroke::new(1.0, left_line));
        let inner = outer.shrink2(vec2(MARGIN, 0.0));
        let content = Rect::from_min_max(inner.min, pos2(inner.right(), inner.bottom() - FOOT));
        let foot = Rect::from_min_max(pos2(inner.left(), inner.bottom() - FOOT), inner.max);
        let salt = ("form", format!("{form:?}"));
        let builder = UiBuilder::new().max_rect(content).id_salt(salt);
        ui.scope_builder(builder, |ui| {
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 6.0;
                ui.add_space(12.0);
                let heading = body.heading(context);
                layout::title(ui, &heading.title, &heading.detail);
                ui.add_space(4.0);
                body.body(ui, context, &errors, &self.remembered, requests);
                ui.add_space(16.0);
            });
        });
        let mut save = saves;
        let mut leave = leaves;
        ui.scope_builder(UiBuilder::new().max_rect(foot).id_salt("form foot"), |ui| {
            foot_ui(ui, &**body, context, &parsed, &mut save, &mut leave);
        });
        ui.advance_cursor_after_rect(outer);
        let focused = ui.memory(egui::Memory::focused);
        self.has_focus = focused.is_some_and(|focused| widgets(ui).iter().skip(drawn_before).any(|id| *id == focused));
        if save {
            self.save(context, requests);
        }
        if leave {
            requests.push(Request::CloseForm);
        }
    }

    /// Hands the action over, or opens what keeps it from being saved.
    fn save(&mut self, context: &PageContext<'_>, requests: &mut Requests) {
        let Some(mut form) = self.open.take() else { return };
        match form.body.parse(context) {
            Ok(action) if context.entry_closed.is_none() => {
                requests.perform(action);
                requests.push(Request::CloseForm);
                form.body.remember(&mut self.remembered);
                self.kept.push(Kept { form, saved_at: Some(context.revision) });
            }
            _ => {
                form.body.ask_all(context);
                self.open = Some(form);
            }
        }
    }
}

/// The widgets drawn so far in this pass, in their order.
fn widgets(ui: &egui::Ui) -> Vec<egui::Id> {
    let layer = ui.layer_id();
    ui.ctx().viewport(|viewport| viewport.this_pass.widgets.get_layer(layer).map(|widget| widget.id).collect())
}

fn foot_ui(
    ui: &mut egui::Ui,
    body: &dyn FormBody,
    context: &PageContext<'_>,
    parsed: &Result<Action, FieldErrors>,
    save: &mut bool,
    leave: &mut bool,
) {
    let colours = palette(ui);
    let top = ui.max_rect();
    ui.painter().hline(top.x_range(), top.top(), Stroke::new(1.0, colours.ink));
    ui.add_space(5.0);
    let sentence = match (context.entry_closed, parsed) {
        (Some(closed), _) => closed.to_owned(),
        (None, Err(errors)) => errors.sentence(),
        (None, Ok(_)) => body.ready_words(context),
    };
    let cut = egui::RichText::new(sentence).font(crate::theme::sans(crate::theme::size::LABEL)).color(colours.ink);
    ui.allocate_ui(vec2(ui.available_width(), FOOT_SENTENCE), |ui| {
        ui.set_min_height(FOOT_SENTENCE);
        ui.add(egui::Label::new(cut).wrap());
    });
    ui.horizontal(|ui| {
        let ready = parsed.is_ok() && context.entry_closed.is_none();
        if layout::main_button(ui, &body.save_words(context), ready).clicked() {
            *save = true;
        }
        ui.add_space(4.0);
        let keys = crate::widgets::foot::FootKey { printed: "Ctrl Enter", does: "save" };
        if crate::widgets::foot::foot_key(ui, keys, ready).clicked() {
            *save = true;
        }
        let esc = crate::widgets::foot::FootKey { printed: "Esc", does: "leave" };
        if crate::widgets::foot::foot_key(ui, esc, true).clicked() {
            *leave = true;
        }
    });
}
