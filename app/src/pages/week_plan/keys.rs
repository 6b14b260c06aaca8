//! The keys of the page, and its foot that prints them.

use super::earlier::Say;
use super::nav::Arrow;
use crate::theme::{sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use eframe::egui::{self, Event, FocusDirection, Key, Modifiers, Response};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Gesture {
    /// To the next block, or a service that is moved to the next tray.
    Step(Arrow),
    /// Begin to move the chosen service; a tray of many blocks is opened.
    Move,
    /// Open the spindle of the chosen block.
    Open,
    /// Put it where it is being moved to.
    Place,
    /// Place what is being moved, else move or open.
    Enter,
    /// Leave what is going on.
    Leave,
    Propose,
    Hold,
    TakeOff,
    Issue,
    /// Say from which day on the chosen service may be done.
    NotBefore,
    Turn,
    More,
    Fewer,
    Undo,
    /// Work the figures out.
    Renew,
    /// Accept the chosen line of the proposal.
    Accept,
    AcceptAll,
    /// To the first order from before the plan, then to the next.
    Earlier,
    /// What came of the chosen one.
    Say(Say),
    /// The hall or technician before, after.
    RowBefore,
    RowAfter,
    /// A week earlier, later.
    WeeksBack,
    WeeksOn,
    Start,
    End,
}

/// How the page stands, as far as keys depend on it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stand {
    /// A service is being moved.
    pub(super) is_moving: bool,
    /// A block or a line of the panel can take the arrows.
    pub(super) has_keys: bool,
    pub(super) has_choice: bool,
    pub(super) has_changes: bool,
    /// The chosen one is among them.
    pub(super) is_change: bool,
    /// There is a proposal.
    pub(super) is_proposal: bool,
    pub(super) is_proposing: bool,
    pub(super) is_opened: bool,
    /// A first day is being typed.
    pub(super) is_saying_day: bool,
    /// A first day can be said for the chosen one.
    pub(super) can_wait: bool,
    /// There are open orders from before the plan; the chosen one is among them.
    pub(super) has_earlier: bool,
    pub(super) is_earlier: bool,
    pub(super) has_plan: bool,
    pub(super) by_technician: bool,
    pub(super) one_of_many: bool,
    pub(super) is_entry_open: bool,
    pub(super) can_undo: bool,
    pub(super) can_issue: bool,
    pub(super) is_held: bool,
    /// The figures are older than the shop, and nothing works on them.
    pub(super) is_stale: bool,
}

/// Takes the keys; none while text is typed or a menu is open.
pub(super) fn take(ui: &egui::Ui, stand: Stand) -> Vec<Gesture> {
    let mut found = Vec::new();
    if ui.ctx().text_edit_focused() {
        return Vec::new();
    }
    let mut take = |modifiers: Modifiers, key: Key, gesture: Gesture| {
        // several keys may have been pressed since the last frame: they act in their order
        let pressed_at = ui.input(|input| input.events.iter().position(|event| is_press_of(event, key)));
        if ui.input_mut(|input| !input.modifiers.alt && input.consume_key(modifiers, key)) {
            found.push((pressed_at, gesture));
        }
    };
    let plain = Modifiers::NONE;
    take(Modifiers::COMMAND, Key::ArrowLeft, Gesture::WeeksBack);
    take(Modifiers::COMMAND, Key::ArrowRight, Gesture::WeeksOn);
    if stand.has_changes {
        take(Modifiers::COMMAND, Key::Enter, Gesture::AcceptAll);
    }
    if stand.has_keys {
        take(plain, Key::ArrowLeft, Gesture::Step(Arrow::Left));
        take(plain, Key::ArrowRight, Gesture::Step(Arrow::Right));
        take(plain, Key::ArrowUp, Gesture::Step(Arrow::Up));
        take(plain, Key::ArrowDown, Gesture::Step(Arrow::Down));
        take(plain, Key::Enter, Gesture::Enter);
        if !stand.is_moving && stand.has_changes {
            take(plain, Key::Space, Gesture::Accept);
        }
        take(plain, Key::Home, Gesture::Start);
        take(plain, Key::End, Gesture::End);
    }
    let has_notice = crate::widgets::notice_line::is_given(ui.ctx());
    let can_leave =
        stand.is_moving || stand.is_proposing || stand.is_proposal || stand.is_opened || stand.is_saying_day;
    if !has_notice && can_leave {
        take(plain, Key::Escape, Gesture::Leave);
    }
    if !stand.is_moving {
        take(plain, Key::M, Gesture::Move);
        take(plain, Key::S, Gesture::Open);
        take(plain, Key::P, Gesture::Propose);
        take(plain, Key::H, Gesture::Hold);
        take(plain, Key::Delete, Gesture::TakeOff);
        take(plain, Key::O, Gesture::Issue);
        if stand.can_wait {
            take(plain, Key::B, Gesture::NotBefore);
        }
        if stand.has_earlier {
            take(plain, Key::E, Gesture::Earlier);
        }
        if stand.is_earlier {
            take(plain, Key::D, Gesture::Say(Say::Done));
            take(plain, Key::L, Gesture::Say(Say::PartlyDone));
            take(plain, Key::N, Gesture::Say(Say::NotDone));
        }
    }
    if stand.is_stale {
        take(plain, Key::R, Gesture::Renew);
    }
    take(plain, Key::T, Gesture::Turn);
    take(plain, Key::Plus, Gesture::More);
    take(plain, Key::Equals, Gesture::More);
    take(plain, Key::Minus, Gesture::Fewer);
    for key in [Key::OpenBracket, Key::PageUp] {
        take(plain, key, Gesture::RowBefore);
    }
    for key in [Key::CloseBracket, Key::PageDown] {
        take(plain, key, Gesture::RowAfter);
    }
    found.sort_by_key(|(pressed_at, _)| *pressed_at);
    let found: Vec<Gesture> = found.into_iter().map(|(_, gesture)| gesture).collect();
    if found.iter().any(|gesture| matches!(gesture, Gesture::Step(_))) {
        // or egui would move the focus once more by itself
        ui.memory_mut(|memory| memory.move_focus(FocusDirection::None));
    }
    found
}

fn is_press_of(event: &Event, wanted: Key) -> bool {
    matches!(event, Event::Key { key, pressed: true, .. } if *key == wanted)
}

/// A key of the foot with its gesture; those of more weight give way first.
#[derive(Debug, Clone, Copy)]
struct Printed {
    key: FootKey,
    gesture: Gesture,
    enabled: bool,
    weight: u8,
}

fn printed(stand: Stand) -> Vec<Printed> {
    let key =
        |printed, does, gesture, enabled, weight| Printed { key: FootKey { printed, does }, gesture, enabled, weight };
    let entry = stand.is_entry_open;
    if stand.is_moving {
        return vec![
            key("Arrows", "to another window", Gesture::Step(Arrow::Right), true, 0),
            key("Enter", "place", Gesture::Place, entry, 0),
            key("Esc", "leave it where it is", Gesture::Leave, true, 0),
            key("+ \u{2212}", "weeks shown", Gesture::More, true, 2),
        ];
    }
    let mut keys = vec![
        key("Arrows", "choose", Gesture::Step(Arrow::Right), stand.has_plan, 3),
        key("M", "move", Gesture::Move, entry && stand.has_choice, 0),
        if stand.is_proposing {
            key("Esc", "stop proposing", Gesture::Leave, true, 0)
        } else {
            key("P", if stand.is_proposal { "propose anew" } else { "propose" }, Gesture::Propose, stand.has_plan, 0)
        },
    ];
    if stand.is_proposal && !stand.is_proposing {
        keys.push(key("Space", "accept", Gesture::Accept, entry && stand.is_change, 0));
        keys.push(key("Ctrl Enter", "accept all", Gesture::AcceptAll, entry && stand.has_changes, 0));
        keys.push(key("Esc", "drop it", Gesture::Leave, true, 1));
    }
    if stand.has_earlier {
        keys.push(key("E", "earlier orders", Gesture::Earlier, true, 0));
    }
    if stand.is_stale {
        keys.push(key("R", "renew", Gesture::Renew, true, 0));
    }
    let hold = if stand.is_held { "release" } else { "hold" };
    keys.extend([
        key("H", hold, Gesture::Hold, entry && stand.has_choice, 1),
        key("Del", "take off the plan", Gesture::TakeOff, entry && stand.has_choice, 2),
        key("B", "not before …", Gesture::NotBefore, entry && stand.can_wait, 3),
        key("O", "issue orders", Gesture::Issue, entry && stand.can_issue, 0),
        key("T", if stand.by_technician { "by hall" } else { "by technician" }, Gesture::Turn, true, 1),
    ]);
    if stand.one_of_many {
        let does = if stand.by_technician { "next technician" } else { "next hall" };
        keys.push(key("]", does, Gesture::RowAfter, true, 0));
    }
    keys.extend([
        key("+ \u{2212}", "weeks shown", Gesture::More, true, 4),
        key("Ctrl Z", "undo", Gesture::Undo, stand.can_undo, 3),
    ]);
    keys
}

/// What was clicked in the foot, and the key of orders, over which its menu opens.
pub(super) struct Clicked {
    pub(super) gestures: Vec<Gesture>,
    pub(super) issue: Option<Response>,
}

/// Draws the keys that find room.
pub(super) fn foot_ui(ui: &mut egui::Ui, stand: Stand, closed: Option<&str>) -> Clicked {
    ui.spacing_mut().item_spacing.x = 16.0;
    let mut keys = printed(stand);
    let room = ui.available_width();
    while keys.iter().map(|key| width_of(ui, key.key)).sum::<f32>() > room {
        let least = keys.iter().enumerate().max_by_key(|(_, key)| key.weight).map(|(index, key)| (index, key.weight));
        match least {
            Some((index, weight)) if 0 < weight => keys.remove(index),
            _ => break,
        };
    }
    let mut clicked = Clicked { gestures: Vec::new(), issue: None };
    for key in keys {
        let mut response = foot_key(ui, key.key, key.enabled);
        if let Some(why) = closed.filter(|_| !key.enabled) {
            response = response.on_hover_text(why);
        }
        if key.gesture == Gesture::Issue {
            clicked.issue = Some(response.clone());
        }
        if response.clicked() {
            clicked.gestures.push(key.gesture);
        }
    }
    clicked
}

fn width_of(ui: &egui::Ui, key: FootKey) -> f32 {
    let width = |text: &str, font| ui.painter().layout_no_wrap(text.to_owned(), font, egui::Color32::BLACK).size().x;
    width(key.printed, semibold(size::SMALL)) + width(key.does, sans(size::LABEL)) + 13.0 + ui.spacing().item_spacing.x
}
