//! The keys of the page. They act outside fields only; the arrows move the choice.

use super::steps::StepKey;
use crate::pages::due::keys::{Step, key, slash, step};
use eframe::egui::{self, Key};

/// What the keys ask for in one frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Pressed {
    pub(super) find: bool,
    pub(super) filter: bool,
    pub(super) sort: bool,
    pub(super) closed: bool,
    pub(super) export: bool,
    pub(super) calendar: bool,
    pub(super) parts: bool,
    pub(super) renew: bool,
    pub(super) open: bool,
    pub(super) mark: bool,
    pub(super) mark_all: bool,
    pub(super) step_key: Option<StepKey>,
    pub(super) step: Option<Step>,
}

/// Takes the keys that the page uses; `is_on_rows`: nothing but a row has the focus.
pub(super) fn take(ui: &egui::Ui, is_on_rows: bool) -> Pressed {
    if ui.ctx().text_edit_focused() {
        return Pressed::default();
    }
    let mut pressed = Pressed {
        find: slash(ui),
        filter: key(ui, Key::F),
        sort: key(ui, Key::S),
        closed: key(ui, Key::C),
        export: key(ui, Key::E),
        calendar: key(ui, Key::K),
        parts: key(ui, Key::W),
        renew: key(ui, Key::R),
        mark_all: key(ui, Key::A),
        step_key: StepKey::ALL.into_iter().find(|step| key(ui, step.key())),
        ..Pressed::default()
    };
    if is_on_rows {
        pressed.open = key(ui, Key::Enter);
        pressed.mark = key(ui, Key::Space);
        pressed.step = step(ui);
    }
    pressed
}
