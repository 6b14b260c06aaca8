//! The day one looks at: its words, its arrows, and the field in which another is typed.

use super::{Asked, Day, Head, ROOM_FOR_BACK};
use crate::command::{Command, Situation};
use crate::theme::{MARGIN, palette, sans, semibold, size};
use crate::view_state::TypedDay;
use crate::widgets::line_keys::{self, Ended};
use crate::widgets::word_button::{WordButton, width, word_button};
use almanac_core::typed_date::{Lean, parse_typed_date};
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Align2, Id, Rect, Stroke, pos2, vec2};

/// The day with its arrows and the way back, or the field in which a day is typed; returns its
/// left edge.
pub(super) fn ui(
    ui: &mut egui::Ui,
    head: &Head<'_>,
    day: Day,
    typed: &mut Option<TypedDay>,
    from_right: egui::Pos2,
    asked: &mut Option<Asked>,
) -> f32 {
    let colours = palette(ui);
    let (mut right, y) = (from_right.x, from_right.y);
    let is_past = day.as_of < day.present;
    if let Some(draft) = typed {
        let (left, look_at) = typed_day(ui, draft, day, pos2(right, y));
        match look_at {
            TypedAnswer::Typing => {}
            TypedAnswer::Left => *typed = None,
            TypedAnswer::Day(day) => {
                *typed = None;
                *asked = Some(Asked::LookAsOf(day));
            }
        }
        return left - 14.0;
    }
    if is_past {
        right = arrow(ui, "\u{203a}", Command::DayForward, head.situation, pos2(right, y), asked);
    }
    let text = format!("as of {}", words::date_full(day.as_of));
    let font = semibold(size::BODY);
    let text_width = width(ui, &text, &font);
    let pad = if is_past { 8.0 } else { 2.0 };
    let place = Rect::from_min_max(pos2(right - text_width - 2.0 * pad, y - 12.0), pos2(right, y + 12.0));
    if is_past {
        ui.painter().rect_filled(place, 0.0, colours.ink);
    }
    let ink = if is_past { colours.paper } else { colours.ink };
    let mut tooltip = format!("{}  {}", Command::TypeDay.tooltip(), Command::TypeDay.printed_keys());
    if is_past {
        // What the head says in words where there is room for them.
        tooltip.push_str("\nEntry is closed; limits and registers count as they stand now.");
    }
    if word_button(ui, place, WordButton { text: &text, font, ink, name: &text, tooltip, enabled: true }).clicked() {
        *asked = Some(Asked::Run(Command::TypeDay));
    }
    right = arrow(ui, "\u{2039}", Command::DayBack, head.situation, pos2(place.left() - 2.0, y), asked);
    if is_past && ui.max_rect().width() >= ROOM_FOR_BACK {
        let text = format!("back to {}", words::date_long(day.present, day.as_of));
        let font = sans(size::LABEL);
        let back = Rect::from_min_max(pos2(right - width(ui, &text, &font) - 4.0, y - 12.0), pos2(right, y + 12.0));
        let tooltip = format!("{}  {}", Command::Present.tooltip(), Command::Present.printed_keys());
        let word = WordButton { text: &text, font, ink: colours.ink, name: &text, tooltip, enabled: true };
        if word_button(ui, back, word).clicked() {
            *asked = Some(Asked::Run(Command::Present));
        }
        ui.painter().hline(back.x_range().shrink(2.0), back.bottom() - 4.0, Stroke::new(1.0, colours.rule2));
        right = back.left() - 14.0;
    }
    right - 6.0
}

fn arrow(
    ui: &mut egui::Ui,
    sign: &str,
    command: Command,
    situation: Situation,
    from_right: egui::Pos2,
    asked: &mut Option<Asked>,
) -> f32 {
    let colours = palette(ui);
    let enabled = command.is_enabled(situation);
    let place = Rect::from_center_size(pos2(from_right.x - 10.0, from_right.y), vec2(20.0, 24.0));
    let tooltip = format!("{}  {}", command.tooltip(), command.printed_keys());
    let ink = if enabled { colours.ink } else { colours.ink3 };
    let word = WordButton { text: sign, font: sans(16.0), ink, name: command.label(), tooltip, enabled };
    if word_button(ui, place, word).clicked() {
        *asked = Some(Asked::Run(command));
    }
    place.left()
}

enum TypedAnswer {
    Typing,
    Left,
    Day(NaiveDate),
}

/// The field in place of the day.
fn typed_day(ui: &mut egui::Ui, draft: &mut TypedDay, day: Day, from_right: egui::Pos2) -> (f32, TypedAnswer) {
    let colours = palette(ui);
    let id = Id::unique("as-of day");
    let place =
        Rect::from_min_max(pos2(from_right.x - 190.0, from_right.y - 13.0), pos2(from_right.x, from_right.y + 13.0));
    let edit = egui::TextEdit::singleline(&mut draft.text)
        .id(id)
        .hint_text(format!("{}, 17.3., \u{2212}7, fri", day.as_of))
        .font(sans(size::ENTRY))
        .align(egui::Align2::LEFT_CENTER)
        .frame(egui::Frame::new().inner_margin(egui::Margin::symmetric(6, 2)));
    ui.painter().rect_filled(place, 0.0, colours.field);
    ui.painter().hline(place.x_range(), place.bottom(), Stroke::new(1.5, colours.edge));
    let label = pos2(place.left() - 8.0, from_right.y);
    let prompt = ui.painter().text(label, Align2::RIGHT_CENTER, "as of", sans(size::LABEL), colours.ink2);
    let response = ui.put(place, edit);
    response.ctx.accesskit_node_builder(id, |node| node.set_label("Day to look at"));
    if !draft.had_focus {
        response.request_focus();
        draft.had_focus = true;
        return (prompt.left(), TypedAnswer::Typing);
    }
    match line_keys::take(ui, &response) {
        None => return (prompt.left(), TypedAnswer::Typing),
        Some(Ended::Escape | Ended::Elsewhere) => return (prompt.left(), TypedAnswer::Left),
        Some(Ended::Enter) => {}
    }
    match parse_typed_date(&draft.text, day.as_of, Lean::Back) {
        Ok(typed) if typed <= day.present => (prompt.left(), TypedAnswer::Day(typed)),
        Ok(typed) => {
            draft.error =
                Some(format!("{} lies after the present, {}", words::date_full(typed), words::date_full(day.present)));
            response.request_focus();
            (prompt.left(), TypedAnswer::Typing)
        }
        Err(error) => {
            draft.error = Some(error.to_string());
            response.request_focus();
            (prompt.left(), TypedAnswer::Typing)
        }
    }
}

/// Why the typed day was refused, under the head.
pub(super) fn refused(ui: &mut egui::Ui, error: &str) {
    let colours = palette(ui);
    let margin = egui::Margin { left: MARGIN as i8, right: MARGIN as i8, top: 4, bottom: 4 };
    egui::Panel::top("day refused")
        .resizable(false)
        .show_separator_line(false)
        .frame(egui::Frame::new().fill(colours.act_tint).inner_margin(margin))
        .show(ui, |ui| {
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                ui.label(egui::RichText::new(error).font(sans(size::BODY)).color(colours.ink));
            });
        });
}
