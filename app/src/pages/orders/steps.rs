//! The line of steps: what can be done to the marked orders, or to the chosen one.

use crate::theme::{MARGIN, palette, sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::foot_menu::{entry, menu};
use crate::widgets::text;
use almanac_core::orders_list::OrderStep;
use eframe::egui::{self, Align, Key, Layout, Rect, Role, Sense, Stroke, UiBuilder, WidgetInfo, pos2};

/// Height of the line.
pub(super) const HEIGHT: f32 = 30.0;

/// A step with a key of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum StepKey {
    Book,
    Issue,
    Begin,
    Done,
    PartlyDone,
    NotDone,
    Assign,
    Hold,
    TakeOff,
}

impl StepKey {
    /// All, as they stand in the line.
    pub(super) const ALL: [Self; 9] = [
        Self::Book,
        Self::Issue,
        Self::Begin,
        Self::Done,
        Self::PartlyDone,
        Self::NotDone,
        Self::Assign,
        Self::Hold,
        Self::TakeOff,
    ];

    pub(super) const fn key(self) -> Key {
        match self {
            Self::Book => Key::B,
            Self::Issue => Key::I,
            Self::Begin => Key::U,
            Self::Done => Key::D,
            Self::PartlyDone => Key::L,
            Self::NotDone => Key::N,
            Self::Assign => Key::T,
            Self::Hold => Key::H,
            Self::TakeOff => Key::X,
        }
    }

    const fn words(self) -> FootKey {
        let (printed, does) = match self {
            Self::Book => ("B", "book"),
            Self::Issue => ("I", "issue"),
            Self::Begin => ("U", "under way"),
            Self::Done => ("D", "done"),
            Self::PartlyDone => ("L", "partly done"),
            Self::NotDone => ("N", "not done"),
            Self::Assign => ("T", "technician"),
            Self::Hold => ("H", "hold or release"),
            Self::TakeOff => ("X", "take off"),
        };
        FootKey { printed, does }
    }

    /// The step; `None` where it needs more than the key.
    pub(super) const fn step(self, all_held: bool) -> Option<OrderStep> {
        match self {
            Self::Book | Self::Assign => None,
            Self::Issue => Some(OrderStep::Issue),
            Self::Begin => Some(OrderStep::Begin),
            Self::Done => Some(OrderStep::Done),
            Self::PartlyDone => Some(OrderStep::PartlyDone),
            Self::NotDone => Some(OrderStep::NotDone),
            Self::Hold if all_held => Some(OrderStep::Release),
            Self::Hold => Some(OrderStep::Hold),
            Self::TakeOff => Some(OrderStep::TakeOff),
        }
    }
}

/// What the line shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steps<'a> {
    /// Of what: `3 marked`, or the chosen order.
    pub(super) of: &'a str,
    /// Lines without an order are among them.
    pub(super) has_to_book: bool,
    /// Open orders are among them.
    pub(super) has_open: bool,
    /// Why nothing can be entered.
    pub(super) closed: Option<&'a str>,
    /// The technicians of the shop.
    pub(super) technicians: &'a [String],
    /// The key T was pressed: the list of technicians opens.
    pub(super) opens_technicians: bool,
}

/// What the user asked for in it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Did {
    pub(super) pressed: Option<StepKey>,
    pub(super) assigned: Option<String>,
}

impl Steps<'_> {
    /// Draws the line over a hairline.
    pub(super) fn show(&self, ui: &mut egui::Ui, area: Rect) -> Did {
        let colours = palette(ui);
        let mut did = Did::default();
        let (left, right) = (area.left() + MARGIN, area.right() - MARGIN);
        ui.painter().hline(left..=right, area.top() + 0.5, Stroke::new(1.0, colours.rule));
        if let Some(closed) = self.closed {
            let at = pos2(left, area.center().y);
            text::left_cut(ui.painter(), at, closed, sans(size::LABEL), colours.ink2, right - left);
            said(ui, area, closed);
            return did;
        }
        let name = text::left_cut(
            ui.painter(),
            pos2(left, area.center().y),
            self.of,
            semibold(size::LABEL),
            colours.ink,
            150.0,
        );
        said(ui, name, self.of);
        let keys = Rect::from_min_max(pos2((name.right() + 18.0).max(left + 84.0), area.top() + 1.0), area.max);
        let builder =
            UiBuilder::new().max_rect(keys).layout(Layout::left_to_right(Align::Center)).id_salt("steps of orders");
        ui.scope_builder(builder, |ui| {
            ui.spacing_mut().item_spacing.x = 15.0;
            for step in StepKey::ALL {
                let is_enabled = if step == StepKey::Book { self.has_to_book } else { self.has_open };
                let response = foot_key(ui, step.words(), is_enabled);
                if step == StepKey::Assign {
                    let opens = self.opens_technicians && is_enabled;
                    if is_enabled {
                        menu(ui, &response, opens, 180.0, |ui, focus| {
                            for (nth, who) in self.technicians.iter().enumerate() {
                                if entry(ui, who, false, focus && nth == 0).clicked() {
                                    did.assigned = Some(who.clone());
                                    ui.close();
                                }
                            }
                            if self.technicians.is_empty() {
                                ui.label("no technicians in this shop yet");
                            }
                        });
                    }
                } else if response.clicked() {
                    did.pressed = Some(step);
                }
            }
        });
        did
    }
}

/// Tells those who listen what is painted there.
fn said(ui: &egui::Ui, area: Rect, words: &str) {
    if !words.is_empty() {
        let response = ui.interact(area, ui.scope_id().with("what the steps are of"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
    }
}
