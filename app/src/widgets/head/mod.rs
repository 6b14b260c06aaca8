//! The head of the window: sign, shop, menu, places, what is saved, and the day one looks at.

use crate::widgets::word_button::{WordButton, width, word_button};
use crate::widgets::{menu, sign};
mod day;

use crate::command::{Command, Situation};
use crate::pages::Page;
use crate::theme::{HEAD_HEIGHT, MARGIN, palette, sans, semibold, serif_semibold, size};
use crate::view_state::TypedDay;
use chrono::NaiveDate;
use eframe::egui::{self, Align2, Id, Rect, Sense, Stroke, pos2, vec2};
use std::path::PathBuf;

/// The day one looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Day {
    /// Looked at.
    pub as_of: NaiveDate,
    /// Stands for now.
    pub present: NaiveDate,
}

/// All that stands in the head.
#[derive(Debug, Clone)]
pub struct Head<'a> {
    /// Name of the shop; of the program where none is open.
    pub title: &'a str,
    /// The open page.
    pub page: Page,
    /// Saved, read only, being updated …
    pub status: String,
    /// Shorter forms of the status, the longest first, for where it finds no room.
    pub status_short: &'a [&'a str],
    /// Whether the status is a way to a name for the shop.
    pub status_names_shop: bool,
    /// The day, where a shop is open.
    pub day: Option<Day>,
    /// What can be done now.
    pub situation: Situation,
    /// What undo and redo would turn back, for the menu.
    pub undo: Option<&'a str>,
    /// See `undo`.
    pub redo: Option<&'a str>,
    /// Recent files.
    pub recent: &'a [RecentFile],
}

/// A file opened before, as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecentFile {
    /// The name of the shop.
    pub name: String,
    /// Where it lies, in second place.
    pub place: String,
    /// Its path.
    pub path: PathBuf,
}

impl RecentFile {
    /// Its accessible name.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!("{}, {}", self.name, self.place)
    }
}

/// What was asked for in the head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// A command.
    Run(Command),
    /// A recent file.
    OpenRecent(PathBuf),
    /// A day to look at.
    LookAsOf(NaiveDate),
}

/// The places that exist, with the number of their key.
const PLACES: [(&str, &str, Command); 4] = [
    ("1", "Due", Command::GoDue),
    ("3", "Week plan", Command::GoPlan),
    ("4", "Orders", Command::GoOrders),
    ("6", "Shop", Command::GoShop),
];

/// Draws the head and tells what was asked for in it.
pub fn ui(ui: &mut egui::Ui, head: &Head<'_>, typed: &mut Option<TypedDay>) -> Option<Asked> {
    let colours = palette(ui);
    let shown = egui::Panel::top("head")
        .exact_size(HEAD_HEIGHT)
        .resizable(false)
        .show_separator_line(false)
        .frame(egui::Frame::new().fill(colours.paper))
        .show(ui, |ui| {
            let rect = ui.max_rect();
            let line_y = rect.bottom() - 0.5;
            ui.painter().hline(rect.x_range(), line_y, Stroke::new(1.0, colours.ink));
            let mut asked = None;
            let left = left_part(ui, head, rect, title_room(ui, head, rect.width()), &mut asked);
            right_part(ui, head, typed, Rect::from_min_max(pos2(left + 20.0, rect.top()), rect.max), &mut asked);
            asked
        });
    if let Some(error) = typed.as_ref().and_then(|draft| draft.error.as_deref()) {
        day::refused(ui, error);
    }
    shown.inner
}

/// Width of the day with its arrows, the way back included.
const DAY_ROOM: f32 = 380.0;
/// The least that a title needs to be told from others.
const TITLE_LEAST: f32 = 90.0;
/// Below this width the way back to the present is its arrow and its keys alone.
const ROOM_FOR_BACK: f32 = 760.0;

/// What the sign, the menu, the places and the day leave to the title.
fn title_room(ui: &egui::Ui, head: &Head<'_>, width_of_head: f32) -> f32 {
    let places: f32 = PLACES
        .iter()
        .filter(|(_, _, command)| command.is_enabled(head.situation))
        .map(|(key, word, _)| width(ui, key, &sans(size::SMALL)) + width(ui, word, &semibold(14.0)) + 27.0)
        .sum();
    let day = match head.day {
        None => 0.0,
        Some(_) if width_of_head < ROOM_FOR_BACK => DAY_ROOM - 120.0,
        Some(_) => DAY_ROOM,
    };
    let rest = width_of_head - (MARGIN + 30.0) - 24.0 - 72.0 - places - day - MARGIN;
    rest.clamp(TITLE_LEAST, (width_of_head * 0.4).max(TITLE_LEAST))
}

/// Sign, title, menu and places; returns where they end.
fn left_part(ui: &mut egui::Ui, head: &Head<'_>, rect: Rect, title_room: f32, asked: &mut Option<Asked>) -> f32 {
    let colours = palette(ui);
    let y = rect.center().y;
    sign::paint(ui, Rect::from_center_size(pos2(rect.left() + MARGIN + 10.5, y + 0.5), vec2(21.0, 12.0)));
    let title_x = rect.left() + MARGIN + 30.0;
    // A long name gives way, so that the places and the day keep their room.
    let font = serif_semibold(16.0);
    let title =
        crate::widgets::text::left_cut(ui.painter(), pos2(title_x, y), head.title, font, colours.ink, title_room);
    let name = ui.interact(title, ui.scope_id().with("title"), egui::Sense::hover());
    name.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, head.title));
    let mut x = title.right() + 24.0;
    x = menu_button(ui, head, pos2(x, y), asked);
    for (key, word, command) in PLACES {
        if !command.is_enabled(head.situation) {
            continue;
        }
        let is_here = is_under(head.page, command);
        let key_width = width(ui, key, &sans(size::SMALL));
        let font = if is_here { semibold(14.0) } else { sans(14.0) };
        let word_width = width(ui, word, &font);
        let ink = if is_here { colours.ink } else { colours.ink2 };
        ui.painter().text(pos2(x, y + 1.0), Align2::LEFT_CENTER, key, sans(size::SMALL), colours.ink3);
        let left = x + key_width + 5.0;
        let place = Rect::from_center_size(pos2(left + word_width / 2.0, y), vec2(word_width + 8.0, 26.0));
        let tooltip = format!("{}  {}", command.tooltip(), command.printed_keys());
        if word_button(ui, place, WordButton { text: word, font, ink, name: word, tooltip, enabled: true }).clicked() {
            *asked = Some(Asked::Run(command));
        }
        if is_here {
            let bar =
                Rect::from_min_max(pos2(left - 1.0, rect.bottom() - 3.0), pos2(left + word_width + 1.0, rect.bottom()));
            ui.painter().rect_filled(bar, 0.0, colours.ink);
        }
        x = left + word_width + 22.0;
    }
    x
}

/// A spindle belongs to the list, an import to the shop.
const fn is_under(page: Page, place: Command) -> bool {
    match page {
        Page::Due | Page::Spindle(_) => matches!(place, Command::GoDue),
        Page::WeekPlan => matches!(place, Command::GoPlan),
        Page::Orders => matches!(place, Command::GoOrders),
        Page::Shop | Page::Import => matches!(place, Command::GoShop),
        Page::Welcome => false,
    }
}

fn menu_button(ui: &mut egui::Ui, head: &Head<'_>, at: egui::Pos2, asked: &mut Option<Asked>) -> f32 {
    let colours = palette(ui);
    let font = sans(14.0);
    let word_width = width(ui, "File", &font);
    let place = Rect::from_min_size(pos2(at.x - 4.0, at.y - 13.0), vec2(word_width + 22.0, 26.0));
    let word = WordButton {
        text: "",
        font: font.clone(),
        ink: colours.ink2,
        name: "File",
        tooltip: format!("Files, undo, colours, keys  {}", Command::Menu.printed_keys()),
        enabled: true,
    };
    let response = word_button(ui, place, word);
    ui.painter().text(at, Align2::LEFT_CENTER, "File", font, colours.ink2);
    let tip = pos2(at.x + word_width + 8.0, at.y + 2.5);
    let down = vec![tip - vec2(3.5, 4.0), tip + vec2(3.5, -4.0), tip];
    ui.painter().add(egui::Shape::convex_polygon(down, colours.ink2, Stroke::NONE));
    if let Some(from_menu) = menu::ui(ui, &response, head) {
        *asked = Some(from_menu);
    }
    place.right() + 14.0
}

fn status_id(ui: &egui::Ui) -> Id {
    ui.scope_id().with("status")
}

/// What is saved, and the day, set from the right edge.
fn right_part(ui: &mut egui::Ui, head: &Head<'_>, typed: &mut Option<TypedDay>, room: Rect, asked: &mut Option<Asked>) {
    let colours = palette(ui);
    let y = room.center().y;
    let mut right = room.right() - MARGIN;
    if let Some(day) = head.day {
        right = day::ui(ui, head, day, typed, pos2(right, y), asked);
    }
    let font = sans(size::LABEL);
    let free = right - room.left();
    if free < 40.0 {
        if !head.status.is_empty() {
            // No room for a word of it; it is still read out, and told under the day.
            let status =
                ui.interact(Rect::from_center_size(pos2(right, y), vec2(1.0, 1.0)), status_id(ui), Sense::hover());
            status.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &head.status));
        }
        return;
    }
    let forms = std::iter::once(head.status.as_str()).chain(head.status_short.iter().copied());
    let shown = forms.clone().find(|form| width(ui, form, &font) <= free).or_else(|| forms.last()).unwrap_or_default();
    let status_width = width(ui, shown, &font);
    let left = (right - status_width).max(room.left());
    let place = Rect::from_min_max(pos2(left, y - 12.0), pos2(right, y + 12.0));
    if head.status_names_shop {
        let tooltip = format!("{}  {}", Command::Save.tooltip(), Command::Save.printed_keys());
        let word =
            WordButton { text: &head.status, font, ink: colours.ink2, name: &head.status, tooltip, enabled: true };
        if word_button(ui, place, word).clicked() {
            *asked = Some(Asked::Run(Command::SaveAs));
        }
    } else if !head.status.is_empty() {
        crate::widgets::text::left_cut(ui.painter(), pos2(left, y), shown, font, colours.ink2, right - left);
        let status = ui.interact(place, status_id(ui), Sense::hover());
        status.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &head.status));
        if status_width > right - left || shown != head.status {
            status.on_hover_text(&head.status);
        }
    }
}
