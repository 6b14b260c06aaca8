//! From which day on the chosen service may be done, as the planner says: the line that tells it, and
//! the field in which it is said.

use super::panel::paragraph;
use super::{WeekPlanPage, earlier};
use crate::pages::{PageContext, Request, Requests};
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruled_blank::ruled_blank;
use almanac_core::planning::proposal::ServiceKey;
use almanac_core::planning::ready_day::say_not_before;
use almanac_core::planning::week_view::{BlockOrder, WeekView};
use almanac_core::typed_date::{Lean, parse_typed_date};
use almanac_core::words;
use eframe::egui;

/// Name of the field.
pub(super) const FIELD: &str = "not before which day";

/// A day being typed.
#[derive(Debug, Clone)]
pub(super) struct Entry {
    pub(super) service: ServiceKey,
    text: String,
    error: Option<String>,
    had_focus: bool,
}

impl Entry {
    const fn of(service: ServiceKey) -> Self {
        Self { service, text: String::new(), error: None, had_focus: false }
    }
}

/// What was done with the field in a frame.
enum Done {
    Entered,
    Left,
}

impl WeekPlanPage {
    /// The chosen service, where a first day can be said for it: it is still to be done, and it is
    /// what its spindle waits for.
    pub(super) fn can_wait(&self, view: &WeekView) -> Option<ServiceKey> {
        let service = self.chosen?;
        let is_next = match super::nav::block_of(view, service).and_then(|index| view.blocks.get(index)) {
            Some(block) => {
                let has_begun = block.order.as_ref().is_some_and(BlockOrder::has_begun);
                !block.is_kept() && !has_begun && !block.standing.is_left_behind()
            }
            None => view.left.iter().any(|left| left.key() == service),
        };
        (is_next && earlier::of(view, Some(service)).is_none()).then_some(service)
    }

    /// Opens the field for the chosen service.
    pub(super) fn begin_ready(&mut self, view: Option<&WeekView>) {
        self.ready = view.and_then(|view| self.can_wait(view)).map(Entry::of);
        if self.ready.is_some() {
            // the field stands in the panel, where an opened tray has its list
            self.opened = None;
        }
    }

    /// Whether the field is open where one sees it.
    pub(super) fn is_saying_day(&self) -> bool {
        let is_chosen = self.ready.as_ref().is_some_and(|entry| Some(entry.service) == self.chosen);
        is_chosen && self.opened.is_none() && self.moving.is_none()
    }

    /// The first day of the chosen service, and the field or its key.
    pub(super) fn ready_ui(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        service: ServiceKey,
        is_too_early: bool,
        requests: &mut Requests,
    ) {
        let colours = palette(ui);
        let day = context.shop.ready_day(service.spindle, context.as_of);
        if let Some(day) = day {
            let words = format!("Not before {}.", words::date_long(day, context.as_of));
            paragraph(ui, &words, semibold(size::BODY), colours.ink);
            if is_too_early {
                paragraph(ui, "It stands before that day.", semibold(size::BODY), colours.act);
            }
        }
        ui.add_space(4.0);
        let Some(entry) = self.ready.as_mut().filter(|entry| entry.service == service) else {
            let does = if day.is_some() { "another first day" } else { "not before …" };
            let is_open = context.entry_closed.is_none();
            ui.horizontal(|ui| {
                if foot_key(ui, FootKey { printed: "B", does }, is_open).clicked() {
                    self.ready = Some(Entry::of(service));
                }
            });
            return;
        };
        ui.label(
            egui::RichText::new("Not before which day; empty: on any").font(sans(size::LABEL)).color(colours.ink2),
        );
        let width = ui.available_width() - 2.0;
        let response = ruled_blank(ui, &mut entry.text, FIELD, "17.3., +14 or fri", width, entry.error.as_deref());
        let mut done = None;
        if !entry.had_focus {
            response.request_focus();
            entry.had_focus = true;
        } else if response.lost_focus() {
            let (enter, escape) =
                ui.input(|input| (input.key_pressed(egui::Key::Enter), input.key_pressed(egui::Key::Escape)));
            done = if enter { Some(Done::Entered) } else { escape.then_some(Done::Left) };
        }
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 16.0;
            if foot_key(ui, FootKey { printed: "Enter", does: "say so" }, true).clicked() {
                done = Some(Done::Entered);
            }
            if foot_key(ui, FootKey { printed: "Esc", does: "leave" }, true).clicked() {
                done = Some(Done::Left);
            }
        });
        match done {
            Some(Done::Entered) => self.say_ready(context, requests),
            Some(Done::Left) => self.ready = None,
            None => {}
        }
    }

    fn say_ready(&mut self, context: &PageContext<'_>, requests: &mut Requests) {
        let Some(entry) = &mut self.ready else { return };
        let typed = entry.text.trim();
        let day = match typed {
            "" => Ok(None),
            typed => parse_typed_date(typed, context.present, Lean::Ahead).map(Some).map_err(|error| error.to_string()),
        };
        let spindle = entry.service.spindle;
        let said = day.and_then(|day| {
            say_not_before(context.whole, spindle, day, context.present).map_err(|error| error.to_string())
        });
        match said {
            Ok(action) => {
                self.ready = None;
                if let Some(action) = action {
                    requests.perform(action);
                    let sentence = "the first day for that service is noted; Ctrl Z takes it back";
                    requests.push(Request::Notice(sentence.to_owned()));
                }
            }
            Err(sentence) => {
                entry.error = Some(words::capital(&sentence));
                entry.had_focus = false;
            }
        }
    }
}
