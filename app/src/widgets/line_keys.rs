//! The keys of a line typed at the top of the window: Enter and Esc end it, and no key that went
//! into it reaches the page below, not even in the pass in which it loses the focus.

use eframe::egui::{self, Event, Key, Modifiers, Response};

/// How the line was left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ended {
    /// By Enter.
    Enter,
    /// By Esc.
    Escape,
    /// By Tab or a click beside it.
    Elsewhere,
}

/// Whether the field was left in this pass, and how. Every key press of the pass is taken as long
/// as the field had the focus in it.
pub(crate) fn take(ui: &egui::Ui, field: &Response) -> Option<Ended> {
    let was_left = field.lost_focus();
    if !was_left && !field.has_focus() {
        return None;
    }
    let (enter, escape) = ui.input_mut(|input| {
        let enter = input.consume_key(Modifiers::NONE, Key::Enter);
        let escape = input.consume_key(Modifiers::NONE, Key::Escape);
        input.events.retain(|event| !matches!(event, Event::Text(_)) && !is_plain_key(event));
        (enter, escape)
    });
    was_left.then_some(match (enter, escape) {
        (true, _) => Ended::Enter,
        (false, true) => Ended::Escape,
        (false, false) => Ended::Elsewhere,
    })
}

/// A key without Ctrl or Alt; those with them are commands and no letters of the line.
fn is_plain_key(event: &Event) -> bool {
    matches!(event, Event::Key { modifiers, pressed: true, .. } if !modifiers.command && !modifiers.alt)
}
