//! The shop page: registers as words on the left, their table in the middle, the form of the chosen
//! row on the right.

mod drift;
pub mod editor;
mod intervals;
mod journal;
pub mod limit_fields;
mod meters;
pub mod register;
pub mod registers;
mod table;

use super::{Form, PageContext, Request, Requests};
use crate::forms::draft::{Draft, FieldErrors};
use crate::forms::layout::{main_button, plain_button, quiet, title};
use crate::theme::{MARGIN, palette, sans, semibold, serif, size};
use crate::widgets::foot::{self, FootKey, foot_key};
use almanac_core::actions::Action;
use almanac_core::ids::SpindleId;
use almanac_core::words;
use eframe::egui::{self, Key, Label, Modifiers, RichText, ScrollArea, Sense, Stroke, vec2};
use register::{Register, RegisterContext, RegisterRow};
use registers::RegisterKind;
use std::collections::BTreeMap;

/// A row that is edited: of which register, which row; `None`: a new one.
type Edited = (RegisterKind, Option<i64>);

/// The page with what the user set on it.
#[derive(Debug, Default)]
pub struct ShopPage {
    kind: RegisterKind,
    chosen: BTreeMap<RegisterKind, Option<i64>>,
    /// Drafts that are not saved yet; they stay until saved or thrown away.
    drafts: BTreeMap<Edited, Draft>,
    /// What was handed over, at which revision of the shop: its draft goes once the shop changed.
    saved: Option<(Edited, u64)>,
    /// The first field of the form takes the focus when it is drawn next.
    focus_first: bool,
    /// Rows of the register that is shown, by what they depend on.
    rows: Option<((RegisterKind, u64), Vec<RegisterRow>)>,
    /// What was learnt, by the figures and the revision of the shop.
    drift: Option<((u64, u64), Option<drift::Drift>)>,
}

const LIST_WIDTH: f32 = 168.0;
const EDITOR_WIDTH: f32 = 400.0;
const ROOM_FOR_EDITOR: f32 = 760.0;

impl ShopPage {
    /// Draws the page.
    pub fn ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, requests: &mut Requests) {
        self.forget_saved(context);
        let registers = RegisterContext { shop: context.shop, today: context.present };
        let keys = foot::frame(ui, |ui| self.foot_ui(ui, context));
        let opens = self.take_keys(ui);
        let mut save = keys.save;
        let frame =
            || egui::Frame::new().fill(palette(ui).paper).inner_margin(egui::Margin::symmetric(MARGIN as i8, 12));
        let (list_frame, editor_frame, table_frame) = (frame(), frame(), frame());
        egui::Panel::left("registers").exact_size(LIST_WIDTH).resizable(false).frame(list_frame).show(ui, |ui| {
            self.list_ui(ui);
        });
        let register = self.kind.register();
        if let Some(register) = register {
            let rows = self.rows_of(register, context, &registers);
            // beside an open form there is no room for two
            if ui.available_width() > ROOM_FOR_EDITOR {
                let panel = egui::Panel::right("register form").exact_size(EDITOR_WIDTH).resizable(false);
                panel.frame(editor_frame).show(ui, |ui| {
                    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                        self.editor_ui(ui, register, &registers, context, requests, &mut save);
                    });
                });
            }
            egui::CentralPanel::default().frame(table_frame).show(ui, |ui| {
                self.table_ui(ui, register, &rows, requests);
            });
            self.rows = Some(((self.kind, context.revision), rows));
            if save {
                self.save(register, &registers, context, requests);
            }
        } else if self.kind == RegisterKind::Meters {
            let kept = self.rows.take().filter(|(key, _)| *key == (self.kind, context.revision));
            let rows = kept.map_or_else(|| meters::rows(context), |(_, rows)| rows);
            let chosen = self.chosen().flatten();
            let taken = egui::CentralPanel::default()
                .frame(table_frame)
                .show(ui, |ui| meters::ui(ui, context, &rows, chosen, opens, requests))
                .inner;
            if let Some(id) = taken {
                self.chosen.insert(self.kind, Some(id));
            }
            self.rows = Some(((self.kind, context.revision), rows));
        } else if self.kind == RegisterKind::Drift {
            let key = (context.figures_revision, context.revision);
            let kept = self.drift.take().filter(|(of, _)| *of == key);
            let (_, drift) = kept.unwrap_or_else(|| (key, drift::Drift::of(context)));
            let chosen = self.chosen().flatten();
            let taken = egui::CentralPanel::default()
                .frame(table_frame)
                .show(ui, |ui| drift::ui(ui, context, drift.as_ref(), chosen, requests))
                .inner;
            if let Some(id) = taken {
                self.chosen.insert(self.kind, Some(id));
            }
            self.drift = Some((key, drift));
            if keys.fits_anew {
                requests.push(Request::Run(crate::command::Command::LearnAnew));
            }
        } else {
            egui::CentralPanel::default().frame(table_frame).show(ui, |ui| journal::ui(ui, context, requests));
        }
    }

    /// Left and Right change the register, Enter leads into the form of the chosen row; answers
    /// whether Enter was pressed on a row.
    fn take_keys(&mut self, ui: &egui::Ui) -> bool {
        let plain = table::has_keys(ui);
        let pressed = |key: Key| {
            let with_ctrl =
                !ui.ctx().text_edit_focused() && ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, key));
            with_ctrl || (plain && ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)))
        };
        let ways = [(Key::ArrowRight, true), (Key::ArrowLeft, false)];
        for (_, after) in ways.into_iter().filter(|(key, _)| pressed(*key)) {
            ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::None));
            self.show_register(self.kind.beside(after));
        }
        let has_row = self.chosen().is_some();
        let opens = plain && has_row && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Enter));
        self.focus_first |= opens && self.kind.register().is_some();
        opens
    }

    fn show_register(&mut self, kind: RegisterKind) {
        if kind != self.kind {
            self.kind = kind;
            self.rows = None;
        }
    }

    fn rows_of(
        &mut self,
        register: &dyn Register,
        context: &PageContext<'_>,
        registers: &RegisterContext<'_>,
    ) -> Vec<RegisterRow> {
        match self.rows.take() {
            Some((key, rows)) if key == (self.kind, context.revision) => rows,
            _ => register.rows(registers),
        }
    }

    /// Once the shop changed after a save, the draft that was saved goes, and a new row is chosen.
    fn forget_saved(&mut self, context: &PageContext<'_>) {
        let Some((edited, revision)) = self.saved else { return };
        if context.revision == revision {
            return;
        }
        self.saved = None;
        self.drafts.remove(&edited);
        if edited.1.is_some() {
            return;
        }
        let registers = RegisterContext { shop: context.shop, today: context.present };
        let newest = edited.0.register().and_then(|register| register.rows(&registers).iter().map(|row| row.id).max());
        if let Some(id) = newest {
            self.chosen.insert(edited.0, Some(id));
        }
    }

    /// An empty form, with the focus in its first field.
    fn add_row(&mut self) {
        self.chosen.insert(self.kind, None);
        self.focus_first = true;
    }

    fn chosen(&self) -> Option<Option<i64>> {
        self.chosen.get(&self.kind).copied()
    }

    fn list_ui(&mut self, ui: &mut egui::Ui) {
        ui.spacing_mut().item_spacing.y = 2.0;
        title(ui, "Shop", "");
        ui.add_space(6.0);
        for group in RegisterKind::GROUPS {
            for kind in group {
                let unsaved = self.drafts.keys().any(|(of, _)| of == kind);
                if word_ui(ui, *kind, *kind == self.kind, unsaved).clicked() {
                    self.show_register(*kind);
                }
            }
            ui.add_space(8.0);
        }
    }

    fn table_ui(&mut self, ui: &mut egui::Ui, register: &dyn Register, rows: &[RegisterRow], requests: &mut Requests) {
        let colours = palette(ui);
        let count = match rows.len() {
            1 => format!("1 {}", register.one()),
            n => format!("{} rows", words::number(n as f64, 0)),
        };
        ui.horizontal(|ui| {
            let head = words::capital(register.word());
            ui.label(RichText::new(head).font(serif(size::LEAD)).color(colours.ink));
            ui.label(RichText::new(count).font(sans(size::LABEL)).color(colours.ink2));
            if register.can_add() && plain_button(ui, &format!("Add {}", with_article(register.one())), true).clicked()
            {
                self.add_row();
            }
            if self.kind == RegisterKind::Machines && plain_button(ui, "Add a machine with its spindle", true).clicked()
            {
                requests.push(Request::OpenForm(Form::FirstMachine));
            }
        });
        ui.add_space(4.0);
        let chosen = self.chosen().flatten();
        if let Some(id) = table::table(ui, &register.columns(), rows, chosen) {
            self.chosen.insert(self.kind, Some(id));
        }
    }

    fn editor_ui(
        &mut self,
        ui: &mut egui::Ui,
        register: &dyn Register,
        registers: &RegisterContext<'_>,
        context: &PageContext<'_>,
        requests: &mut Requests,
        save: &mut bool,
    ) {
        ui.spacing_mut().item_spacing.y = 6.0;
        let Some(id) = self.chosen() else {
            quiet(ui, "Choose a row, or add one.");
            return;
        };
        let edited = (self.kind, id);
        let Some(stored) = register.draft(registers, id) else {
            self.chosen.remove(&self.kind);
            return;
        };
        let mut draft = self.drafts.get(&edited).cloned().unwrap_or_else(|| stored.clone());
        let parsed = register.parse(registers, &draft, id);
        let errors = parsed.as_ref().err().cloned().unwrap_or_default();
        title(ui, &words::capital(&self.heading(register, id, &draft)), "");
        ui.add_space(2.0);
        ui.push_id(("register", self.kind, id), |ui| {
            let fields = register.fields(registers);
            let remark = register.remark(registers, &draft);
            editor::fields_ui(ui, &mut draft, &errors, &fields, registers.today, &mut self.focus_first, remark);
        });
        let is_changed = draft != stored;
        let pressed = buttons_ui(ui, register, (id, is_changed), (&parsed, &errors), context, requests);
        *save |= pressed == Some(Pressed::Save);
        self.exchange_ui(ui, id, context, requests);
        editor::limit_steps_ui(ui, self.kind, id, registers);
        if is_changed && pressed != Some(Pressed::ThrowAway) {
            self.drafts.insert(edited, draft);
        } else {
            self.drafts.remove(&edited);
        }
    }

    /// A mounted spindle can be exchanged from here.
    fn exchange_ui(&self, ui: &mut egui::Ui, id: Option<i64>, context: &PageContext<'_>, requests: &mut Requests) {
        let spindle = match (self.kind, id) {
            (RegisterKind::Spindles, Some(id)) => Some(SpindleId::from_row(id)),
            (RegisterKind::Mountings, Some(id)) => {
                context.shop.mountings.iter().find(|row| row.id.row() == id).map(|row| row.spindle)
            }
            _ => None,
        };
        let mounted = spindle.filter(|spindle| context.shop.position_on(*spindle, context.present).is_some());
        if let Some(spindle) = mounted
            && plain_button(ui, "Exchange this spindle …", context.entry_closed.is_none()).clicked()
        {
            requests.push(Request::OpenForm(Form::Exchange(spindle)));
        }
    }

    fn heading(&self, register: &dyn Register, id: Option<i64>, draft: &Draft) -> String {
        if self.kind == RegisterKind::Settings {
            return "Settings of the shop".to_owned();
        }
        match id {
            None => format!("new {}", register.one()),
            Some(_) => {
                let name = draft.trimmed(register.name_key());
                if name.is_empty() { register.one().to_owned() } else { format!("{} {name}", register.one()) }
            }
        }
    }

    fn save(
        &mut self,
        register: &dyn Register,
        registers: &RegisterContext<'_>,
        context: &PageContext<'_>,
        requests: &mut Requests,
    ) {
        let Some(id) = self.chosen() else { return };
        let edited = (self.kind, id);
        let Some(draft) = self.drafts.get(&edited) else { return };
        if let Ok(action) = register.parse(registers, draft, id)
            && context.entry_closed.is_none()
        {
            requests.perform(action);
            self.saved = Some((edited, context.revision));
        }
    }

    fn foot_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>) -> FootKeys {
        let save_key = ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::Enter));
        let has_draft = self.chosen().is_some_and(|id| self.drafts.contains_key(&(self.kind, id)));
        let can_save = has_draft && context.entry_closed.is_none();
        let saves = foot_key(ui, FootKey { printed: "Ctrl Enter", does: "save the row" }, can_save).clicked();
        let can_add = self.kind.register().is_some_and(Register::can_add);
        let adds = foot_key(ui, FootKey { printed: "A", does: "add a row" }, can_add).clicked();
        if can_add && (adds || foot::pressed(ui, Key::A)) {
            self.add_row();
        }
        let is_drift = self.kind == RegisterKind::Drift;
        let can_fit = is_drift && context.doing.is_none();
        let fits = is_drift && foot_key(ui, FootKey { printed: "F", does: "fit anew" }, can_fit).clicked();
        let fits_anew = fits || (can_fit && foot::pressed(ui, Key::F));
        for (printed, does) in [("Up Down", "choose a row"), ("Enter", "edit it"), ("Left Right", "another register")] {
            foot_key(ui, FootKey { printed, does }, false);
        }
        FootKeys { save: saves || save_key, fits_anew }
    }
}

/// What the keys of the foot asked for.
struct FootKeys {
    save: bool,
    fits_anew: bool,
}

/// What was pressed under a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Pressed {
    Save,
    ThrowAway,
}

fn buttons_ui(
    ui: &mut egui::Ui,
    register: &dyn Register,
    (id, is_changed): (Option<i64>, bool),
    (parsed, errors): (&Result<Action, FieldErrors>, &FieldErrors),
    context: &PageContext<'_>,
    requests: &mut Requests,
) -> Option<Pressed> {
    ui.add_space(4.0);
    let is_open = context.entry_closed.is_none();
    let can_save = parsed.is_ok() && is_changed && is_open;
    match context.entry_closed {
        Some(closed) => quiet(ui, closed),
        None if is_changed || id.is_none() => quiet(ui, &errors.sentence()),
        None => {}
    }
    let mut pressed = None;
    ui.horizontal(|ui| {
        let words = if id.is_none() { format!("Add the {}", register.one()) } else { "Save".to_owned() };
        if main_button(ui, &words, can_save).clicked() {
            pressed = Some(Pressed::Save);
        }
        if is_changed && plain_button(ui, "Throw away", true).clicked() {
            pressed = Some(Pressed::ThrowAway);
        }
        if let Some(removal) = id.and_then(|id| register.remove(id))
            && plain_button(ui, &format!("Remove the {}", register.one()), is_open).clicked()
        {
            requests.perform(removal);
        }
    });
    pressed
}

fn word_ui(ui: &mut egui::Ui, kind: RegisterKind, is_chosen: bool, unsaved: bool) -> egui::Response {
    let colours = palette(ui);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 24.0), Sense::click());
    let name = if unsaved { format!("{}, not saved", kind.word()) } else { kind.word().to_owned() };
    response.widget_info(|| egui::WidgetInfo::selected(egui::Role::Tab, true, is_chosen, &name));
    if response.hovered() {
        ui.painter().rect_filled(rect, 0.0, colours.tint);
    }
    let font = if is_chosen { semibold(size::BODY) } else { sans(size::BODY) };
    let at = rect.left_center() + vec2(2.0, 0.0);
    let word = crate::widgets::text::left(ui.painter(), at, kind.word(), font, colours.ink);
    if is_chosen {
        ui.painter().hline(word.x_range(), word.bottom() + 1.0, Stroke::new(2.0, colours.ink));
    }
    if unsaved {
        let beside = egui::pos2(word.right() + 8.0, rect.center().y);
        crate::widgets::text::left(ui.painter(), beside, "not saved", sans(size::SMALL), colours.act);
    }
    response
}

/// `a machine`, `an order`.
fn with_article(noun: &str) -> String {
    let article = if noun.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{article} {noun}")
}

/// Draws a sentence in the middle, where a table would stand.
fn sentence_ui(ui: &mut egui::Ui, words: &str) {
    let ink = palette(ui).ink2;
    ui.add(Label::new(RichText::new(words).font(sans(size::BODY)).color(ink)).wrap());
}
