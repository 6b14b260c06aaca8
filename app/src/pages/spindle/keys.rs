//! The keys of the page, printed at its foot.

use super::view::View;
use crate::pages::PageContext;
use crate::widgets::foot::{self, FootKey, foot_key};
use crate::widgets::foot_menu::{entry, menu};
use almanac_core::units::Quantity;
use eframe::egui::{self, Key, Modifiers, Popup, Response};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Gesture {
    Older,
    Newer,
    Oldest,
    Newest,
    NextSpindle,
    PreviousSpindle,
    Axis,
    NextPanel,
    PreviousPanel,
    ZoomIn,
    ZoomOut,
    Reset,
    Replaced,
    NewReading,
    NewService,
    NewMeter,
    EditSpindle,
    Exchange,
    Correct,
    /// Correct the one of the two readings of the row.
    CorrectOf(Quantity),
    WhatIf,
    Back,
}

impl Gesture {
    /// Writes into the shop.
    const fn is_entry(self) -> bool {
        matches!(
            self,
            Self::NewReading
                | Self::NewService
                | Self::NewMeter
                | Self::EditSpindle
                | Self::Exchange
                | Self::Correct
                | Self::CorrectOf(_)
        )
    }
}

/// The keys pressed in this pass, outside of any field and any menu.
pub(super) fn pressed(ui: &egui::Ui, context: &PageContext<'_>) -> Vec<Gesture> {
    if Popup::is_any_open(ui.ctx()) {
        return Vec::new();
    }
    let single = [
        (Key::ArrowDown, Gesture::Older),
        (Key::ArrowLeft, Gesture::Older),
        (Key::ArrowUp, Gesture::Newer),
        (Key::ArrowRight, Gesture::Newer),
        (Key::Home, Gesture::Newest),
        (Key::End, Gesture::Oldest),
        (Key::PageDown, Gesture::NextSpindle),
        (Key::PageUp, Gesture::PreviousSpindle),
        (Key::X, Gesture::Axis),
        (Key::Plus, Gesture::ZoomIn),
        (Key::Equals, Gesture::ZoomIn),
        (Key::Minus, Gesture::ZoomOut),
        (Key::Num0, Gesture::Reset),
        (Key::L, Gesture::Replaced),
        (Key::N, Gesture::NewReading),
        (Key::V, Gesture::NewService),
        (Key::M, Gesture::NewMeter),
        (Key::E, Gesture::EditSpindle),
        (Key::G, Gesture::Exchange),
        (Key::C, Gesture::Correct),
        (Key::W, Gesture::WhatIf),
        (Key::Escape, Gesture::Back),
    ];
    let mut gestures = Vec::new();
    // with Ctrl first: a plain arrow would else take it
    if !ui.ctx().text_edit_focused() {
        let with_ctrl = [
            (Key::ArrowRight, Gesture::NextPanel),
            (Key::ArrowDown, Gesture::NextPanel),
            (Key::ArrowLeft, Gesture::PreviousPanel),
            (Key::ArrowUp, Gesture::PreviousPanel),
        ];
        for (key, gesture) in with_ctrl {
            if ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, key)) {
                gestures.push(gesture);
            }
        }
    }
    for (key, gesture) in single {
        if foot::pressed(ui, key) {
            gestures.push(gesture);
        }
    }
    gestures.retain(|gesture| !gesture.is_entry() || context.entry_closed.is_none());
    gestures
}

/// One printed key, and how much it matters where room is short: 0 stays longest.
struct Printed {
    key: FootKey,
    gesture: Gesture,
    weight: u8,
}

fn printed(has_replaced: bool, is_zoomed: bool) -> Vec<Printed> {
    let entry = |printed, does, gesture, weight| Printed { key: FootKey { printed, does }, gesture, weight };
    let mut keys = vec![
        entry("Arrows", "step through readings", Gesture::Older, 2),
        entry("X", "change axis", Gesture::Axis, 1),
        entry("+ \u{2212}", "zoom", Gesture::ZoomIn, 4),
    ];
    if is_zoomed {
        keys.push(entry("0", "whole view", Gesture::Reset, 3));
    }
    if has_replaced {
        keys.push(entry("L", "superseded", Gesture::Replaced, 3));
    }
    keys.extend([
        entry("N", "new reading", Gesture::NewReading, 0),
        entry("V", "service", Gesture::NewService, 0),
        entry("M", "meter", Gesture::NewMeter, 0),
        entry("E", "edit spindle", Gesture::EditSpindle, 1),
        entry("G", "exchange", Gesture::Exchange, 1),
        entry("C", "correct", Gesture::Correct, 0),
        entry("W", "what if", Gesture::WhatIf, 0),
        entry("Ctrl Arrows", "next panel", Gesture::NextPanel, 4),
        entry("Page Down", "next spindle", Gesture::NextSpindle, 5),
        entry("Esc", "back", Gesture::Back, 0),
    ]);
    keys
}

/// What the foot depends on.
pub(super) struct Stand {
    pub(super) has_replaced: bool,
    pub(super) is_zoomed: bool,
    /// Both readings of the chosen row in words, where it has two that can be corrected.
    pub(super) both: Option<[(Quantity, String); 2]>,
    /// The key C was pressed: where there are two, its menu asks which.
    pub(super) corrects: bool,
}

/// Draws the foot; gives what was clicked in it.
pub(super) fn foot_ui(ui: &mut egui::Ui, view: &View<'_>, stand: &Stand) -> Vec<Gesture> {
    let closed = view.context.entry_closed;
    foot::frame(ui, |ui| {
        let mut keys = printed(stand.has_replaced, stand.is_zoomed);
        let room = ui.available_width();
        while keys.iter().map(|key| width_of(ui, key.key)).sum::<f32>() > room {
            let Some(least) = keys.iter().enumerate().max_by_key(|(_, key)| key.weight).map(|(index, _)| index) else {
                break;
            };
            if keys.get(least).is_none_or(|key| key.weight == 0) {
                break;
            }
            keys.remove(least);
        }
        let mut clicked = Vec::new();
        for key in keys {
            let enabled = !key.gesture.is_entry() || closed.is_none();
            let response = foot_key(ui, key.key, enabled);
            let response = match closed.filter(|_| !enabled) {
                Some(why) => response.on_hover_text(why),
                None => response,
            };
            match stand.both.as_ref().filter(|_| enabled && key.gesture == Gesture::Correct) {
                Some(both) => clicked.extend(which_menu(ui, &response, stand.corrects, both)),
                None if response.clicked() => clicked.push(key.gesture),
                None => {}
            }
        }
        clicked
    })
}

/// Asks which of two readings is meant.
fn which_menu(ui: &egui::Ui, anchor: &Response, opens: bool, both: &[(Quantity, String); 2]) -> Option<Gesture> {
    let mut chosen = None;
    menu(ui, anchor, opens, 290.0, |ui, focus| {
        for (index, (quantity, words)) in both.iter().enumerate() {
            if entry(ui, words, false, focus && index == 0).clicked() {
                chosen = Some(Gesture::CorrectOf(*quantity));
                ui.close();
            }
        }
    });
    chosen
}

fn width_of(ui: &egui::Ui, key: FootKey) -> f32 {
    use crate::theme::{sans, semibold, size};
    let width = |text: &str, font| ui.painter().layout_no_wrap(text.to_owned(), font, egui::Color32::BLACK).size().x;
    width(key.printed, semibold(size::SMALL)) + width(key.does, sans(size::LABEL)) + 13.0 + ui.spacing().item_spacing.x
}
