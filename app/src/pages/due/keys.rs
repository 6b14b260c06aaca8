//! The keys of the page. They act outside fields only; the arrows move the choice.

use eframe::egui::{self, Event, FocusDirection, Key, Modifiers};

/// What the keys ask for in one frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Pressed {
    pub(super) find: bool,
    pub(super) filter: bool,
    pub(super) sort: bool,
    pub(super) group: bool,
    pub(super) next: bool,
    pub(super) export: bool,
    pub(super) more_weeks: bool,
    pub(super) fewer_weeks: bool,
    pub(super) renew: bool,
    pub(super) what_if: bool,
    pub(super) open: bool,
    pub(super) step: Option<Step>,
}

/// Where the choice goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::pages) enum Step {
    /// So many rows down; below zero up.
    By(isize),
    /// So many screens down.
    Page(isize),
    First,
    Last,
}

/// What stands between the keys and the page.
#[derive(Debug, Clone, Copy)]
pub(super) struct Focus {
    /// Text is being typed.
    pub(super) is_typing: bool,
    /// Nothing but a row has the focus: Enter and arrows belong to the list.
    pub(super) is_on_rows: bool,
    /// There are readings worth taking; else N belongs to others.
    pub(super) has_readings: bool,
}

/// Takes the keys that the page uses.
pub(super) fn take(ui: &egui::Ui, focus: Focus) -> Pressed {
    let mut pressed = Pressed::default();
    if focus.is_typing {
        return pressed;
    }
    pressed.find = slash(ui);
    pressed.filter = key(ui, Key::F);
    pressed.sort = key(ui, Key::S);
    pressed.group = key(ui, Key::G);
    pressed.next = focus.has_readings && key(ui, Key::N);
    pressed.export = key(ui, Key::E);
    pressed.renew = key(ui, Key::R);
    pressed.what_if = key(ui, Key::W);
    pressed.more_weeks = key(ui, Key::Plus) || key(ui, Key::Equals);
    pressed.fewer_weeks = key(ui, Key::Minus);
    if focus.is_on_rows {
        pressed.open = key(ui, Key::Enter);
        pressed.step = step(ui);
    }
    pressed
}

/// Where the arrows and their neighbours lead; takes the press.
pub(in crate::pages) fn step(ui: &egui::Ui) -> Option<Step> {
    let step = [
        (Key::ArrowDown, Step::By(1)),
        (Key::ArrowUp, Step::By(-1)),
        (Key::PageDown, Step::Page(1)),
        (Key::PageUp, Step::Page(-1)),
        (Key::Home, Step::First),
        (Key::End, Step::Last),
    ]
    .into_iter()
    .find_map(|(which, step)| key(ui, which).then_some(step));
    if step.is_some() {
        // or egui would move the focus once more by itself
        ui.memory_mut(|memory| memory.move_focus(FocusDirection::None));
    }
    step
}

/// Esc, taken only by who can do something with it.
pub(in crate::pages) fn escape(ui: &egui::Ui) -> bool {
    key(ui, Key::Escape)
}

/// Whether a key was pressed without Ctrl or Alt; takes the press.
pub(in crate::pages) fn key(ui: &egui::Ui, key: Key) -> bool {
    ui.input_mut(|input| !input.modifiers.alt && input.consume_key(Modifiers::NONE, key))
}

/// `/` on any keyboard layout: the sign, not the key; it must not land in the field it opens.
pub(in crate::pages) fn slash(ui: &egui::Ui) -> bool {
    let by_key = key(ui, Key::Slash);
    ui.input_mut(|input| {
        let before = input.events.len();
        input.events.retain(|event| !matches!(event, Event::Text(text) if text == "/"));
        by_key || input.events.len() < before
    })
}

/// The place to which a step leads among so many; `page` rows are in view.
pub(in crate::pages) fn stepped(from: Option<usize>, step: Step, count: usize, page: usize) -> Option<usize> {
    let last = count.checked_sub(1)?;
    let Some(from) = from else { return Some(if step == Step::Last { last } else { 0 }) };
    let by = |rows: isize| from.saturating_add_signed(rows).min(last);
    Some(match step {
        Step::First => 0,
        Step::Last => last,
        Step::By(rows) => by(rows),
        Step::Page(pages) => by(pages * page.max(1) as isize),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_stay_inside_the_list() {
        assert_eq!(stepped(Some(0), Step::By(-1), 5, 3), Some(0));
        assert_eq!(stepped(Some(4), Step::By(1), 5, 3), Some(4));
        assert_eq!(stepped(Some(1), Step::Page(1), 5, 3), Some(4));
        assert_eq!(stepped(Some(4), Step::Page(-1), 5, 3), Some(1));
        assert_eq!(stepped(Some(2), Step::Last, 5, 3), Some(4));
        assert_eq!(stepped(None, Step::By(1), 5, 3), Some(0));
        assert_eq!(stepped(Some(2), Step::By(1), 0, 3), None);
    }
}
