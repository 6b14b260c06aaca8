//! The panel beside the grid: the chosen service with what its place costs, or the one that is
//! being moved with what each place costs, here and there.

use super::{Moving, PlanShown};
use crate::pages::PageContext;
use crate::theme::{palette, sans, semibold, serif_semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruled_blank::ruled_blank;
use crate::widgets::text;
use almanac_core::due::DueRow;
use almanac_core::ids::SpindleId;
use almanac_core::planning::proposal::{Costs, ServiceKey, Weighed};
use almanac_core::planning::week_view::{PlanBlock, WeekView, hours};
use almanac_core::service::Kind;
use almanac_core::units::{Minutes, Money, Percent};
use almanac_core::words;
use eframe::egui::{self, Color32, FontId, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// Name of the field in which a note is typed.
pub(super) const NOTE: &str = "note";

/// Of any limit: force, setting dimension or the end of an interval, whichever governs.
const CHANCE: &str = "Chance of a limit crossed by then";

/// What was asked for in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    Place,
    Leave,
}

/// A section head in the serif.
pub(super) fn section(ui: &mut egui::Ui, words: &str) {
    ui.label(egui::RichText::new(words).font(serif_semibold(size::SECTION)).color(palette(ui).ink));
}

/// A hairline between sections.
pub(super) fn divider(ui: &mut egui::Ui) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 21.0), Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, Stroke::new(1.0, palette(ui).rule));
}

/// A paragraph.
pub(super) fn paragraph(ui: &mut egui::Ui, words: &str, font: FontId, ink: Color32) {
    if !words.is_empty() {
        let words = egui::RichText::new(text::with_whole_figures(words)).font(font).color(ink);
        ui.add(egui::Label::new(words.line_height(Some(18.0))).wrap());
    }
}

/// The service that is being moved.
pub(super) fn moving(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    shown: &PlanShown<'_>,
    moving: &mut Moving,
    weighed: Option<&Result<Weighed, String>>,
) -> Option<Asked> {
    let colours = palette(ui);
    let view = shown.view?;
    let row = row_of(context, moving.service.spindle);
    let position = row.and_then(|row| row.position.clone()).unwrap_or_default();
    section(ui, &format!("Moving {position}"));
    let block = super::nav::block_of(view, moving.service).and_then(|index| view.blocks.get(index));
    let left = view.left.iter().find(|left| left.key() == moving.service);
    let name = row.map(|row| row.name.as_str()).unwrap_or_default();
    let kind = block.map(|block| block.service.kind).or_else(|| left.map(|left| left.kind)).unwrap_or(Kind::Minor);
    let mut about = vec![name.to_owned(), format!("{} service", kind.key())];
    if let Some(block) = block {
        about.push(format!("{} h", hours(Minutes::new(block.service.minutes as f64).unwrap_or_default())));
    }
    let there = moving.tray.and_then(|tray| view.trays.get(tray));
    let people = match weighed {
        Some(Ok(weighed)) => weighed.place.technicians.join(", "),
        _ => block.map(|block| block.service.place.technicians.join(", ")).unwrap_or_default(),
    };
    about.push(people);
    about.retain(|part| !part.is_empty());
    paragraph(ui, &about.join(", "), sans(size::BODY), colours.ink2);
    ui.add_space(8.0);
    let here_head = match block {
        // its day is over: what is told is the cost of leaving it
        Some(block) if block.day < context.as_of => "left".to_owned(),
        Some(block) => words::date_short(block.service.place.start.date(), context.as_of),
        None => "left".to_owned(),
    };
    let Some(there) = there else {
        paragraph(ui, "Arrows lead to the windows of its machine.", sans(size::BODY), colours.ink);
        return keys(ui, May::Place, moving);
    };
    let there_head = words::date_short(there.start.date(), context.as_of);
    match weighed {
        None => {
            paragraph(ui, &format!("{there_head}: being weighed."), sans(size::BODY), colours.ink2);
            None
        }
        Some(Err(sentence)) => {
            paragraph(ui, sentence, sans(size::BODY), colours.act);
            keys(ui, May::Not, moving)
        }
        Some(Ok(weighed)) => {
            let risk = Percent::new(context.shop.settings.accepted_risk * 100.0).unwrap_or_default();
            let is_risky =
                risk.get() < weighed.chance_there.get() && weighed.chance_here.get() < weighed.chance_there.get();
            let columns = [(here_head.as_str(), &weighed.here), (there_head.as_str(), &weighed.there)];
            cost_table(ui, &context.shop.settings.currency, &columns, is_risky);
            ui.add_space(8.0);
            let place = &weighed.place;
            let when = format!(
                "{} {} to {}.",
                words::date_short(place.start.date(), context.as_of),
                place.start.format("%H:%M"),
                place.end.format("%H:%M")
            );
            paragraph(ui, &when, sans(size::BODY), colours.ink);
            let (here, there) = (share(weighed.chance_here), share(weighed.chance_there));
            let chance = format!("{CHANCE}: {here} becomes {there}.");
            paragraph(ui, &chance, sans(size::BODY), colours.ink);
            for rule in &weighed.broken {
                paragraph(ui, &words::capital(&rule.words), semibold(size::BODY), colours.act);
            }
            if weighed.broken.iter().any(|rule| !rule.with_note) {
                paragraph(ui, "It cannot stand there.", sans(size::BODY), colours.ink);
            }
            ui.add_space(4.0);
            note_line(ui, moving);
            // what no note may override stands: nothing to place
            let stands = weighed.broken.iter().any(|rule| !rule.with_note);
            keys(ui, if stands { May::Not } else { May::of(!weighed.broken.is_empty()) }, moving)
        }
    }
}

/// The line in which a note is typed, once it is asked for.
fn note_line(ui: &mut egui::Ui, moving: &mut Moving) {
    let Some(note) = &mut moving.note else { return };
    let colours = palette(ui);
    ui.label(
        egui::RichText::new("Note, why it is placed there all the same").font(sans(size::LABEL)).color(colours.ink2),
    );
    let width = ui.available_width() - 2.0;
    let response = ruled_blank(ui, &mut note.text, NOTE, "agreed with the hall", width, note.error.as_deref());
    if !note.had_focus {
        response.request_focus();
        note.had_focus = true;
    } else if response.lost_focus() {
        let (enter, escape) =
            ui.input(|input| (input.key_pressed(egui::Key::Enter), input.key_pressed(egui::Key::Escape)));
        note.is_entered |= enter;
        note.is_left |= escape;
    }
}

/// Whether a service may be placed where it is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum May {
    Place,
    WithNote,
    Not,
}

impl May {
    const fn of(needs_note: bool) -> Self {
        if needs_note { Self::WithNote } else { Self::Place }
    }
}

fn keys(ui: &mut egui::Ui, may: May, moving: &Moving) -> Option<Asked> {
    let mut asked = None;
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 16.0;
        let does = if may == May::WithNote { "place, with a note" } else { "place" };
        let is_free = may != May::Not && moving.tray.is_some();
        if foot_key(ui, FootKey { printed: "Enter", does }, is_free).clicked() {
            asked = Some(Asked::Place);
        }
        if foot_key(ui, FootKey { printed: "Esc", does: "leave" }, true).clicked() {
            asked = Some(Asked::Leave);
        }
    });
    asked
}

/// The chosen service where it stands.
pub(super) fn chosen(ui: &mut egui::Ui, context: &PageContext<'_>, block: &PlanBlock) {
    let colours = palette(ui);
    section(ui, &block.position);
    let service = &block.service;
    let mut about = vec![
        block.name.clone(),
        format!("{} service", service.kind.key()),
        format!("{} h", hours(Minutes::new(service.minutes as f64).unwrap_or_default())),
        service.place.technicians.join(", "),
    ];
    about.retain(|part| !part.is_empty());
    paragraph(ui, &about.join(", "), sans(size::BODY), colours.ink2);
    let mut stands = format!(
        "{} {} to {}",
        words::date_short(service.place.start.date(), context.as_of),
        service.place.start.format("%H:%M"),
        service.place.end.format("%H:%M")
    );
    if let Some(order) = &block.order {
        stands.push_str(&format!(", order {} {}", order.name, order.state.key()));
    }
    if block.is_kept() {
        stands.push_str(", kept");
    } else if service.held && !block.is_issued() {
        stands.push_str(", held");
    }
    if block.standing.is_open() {
        stands.push_str(&format!(", {}", block.standing.word()));
    }
    paragraph(ui, &format!("{stands}."), sans(size::BODY), colours.ink);
    ui.add_space(6.0);
    if !block.standing.is_left_behind() {
        let head = words::date_short(service.place.start.date(), context.as_of);
        cost_table(ui, &context.shop.settings.currency, &[(head.as_str(), &service.costs)], false);
        ui.add_space(8.0);
        let chance = format!("{CHANCE}: {}.", share(service.chance_crossed));
        paragraph(ui, &chance, sans(size::BODY), colours.ink);
    }
    if block.is_late() {
        let by = service.service_by.map(|by| words::date_long(by, context.as_of)).unwrap_or_default();
        paragraph(ui, &format!("Placed after its service-by date, {by}."), semibold(size::BODY), colours.act);
    }
    paragraph(ui, &service.why, sans(size::BODY), colours.ink2);
}

/// The chosen service that has no place; its reason stands in the list below.
pub(super) fn left_head(ui: &mut egui::Ui, context: &PageContext<'_>, view: &WeekView, service: ServiceKey) {
    let Some(left) = view.left.iter().find(|left| left.key() == service) else { return };
    let row = row_of(context, service.spindle);
    section(ui, row.and_then(|row| row.position.as_deref()).unwrap_or_default());
    let name = row.map(|row| row.name.as_str()).unwrap_or_default();
    let length = hours(Minutes::new(left.minutes as f64).unwrap_or_default());
    let about = format!("{name}, {} service, {length} h, not placed", left.kind.key());
    paragraph(ui, &about, sans(size::BODY), palette(ui).ink2);
}

/// `6 %`; a chance of nothing stays `0 %`, a little one is `under 1 %`.
fn share(chance: Percent) -> String {
    match chance.get() {
        little if 0.0 < little && little < 0.5 => "under 1 %".to_owned(),
        some => format!("{} %", words::number(some, 0)),
    }
}

fn row_of<'c>(context: &PageContext<'c>, spindle: SpindleId) -> Option<&'c DueRow> {
    context.due?.row(spindle)
}

/// The parts of a cost: those that every place has, and others where they are not nothing.
fn parts(costs: &Costs) -> [(&'static str, Money, bool); 8] {
    [
        ("stop", costs.stop, true),
        ("lockout", costs.lockout, false),
        ("extra pay", costs.premium, false),
        ("risk", costs.risk, true),
        ("early", costs.early, true),
        ("visit", costs.visit, true),
        ("move", costs.moved, true),
        ("left", costs.left, false),
    ]
}

/// Parts of the cost as rows, places as columns; the last column is the one that is looked at.
fn cost_table(ui: &mut egui::Ui, currency: &str, columns: &[(&str, &Costs)], is_risky: bool) {
    let colours = palette(ui);
    let row = 19.5;
    let labels: Vec<(usize, &str)> = parts(&Costs::default())
        .iter()
        .enumerate()
        .filter(|(index, (_, _, always))| {
            let is_some =
                |costs: &Costs| parts(costs).get(*index).is_some_and(|(_, money, _)| words::money(*money) != "0");
            *always || columns.iter().any(|(_, costs)| is_some(costs))
        })
        .map(|(index, (label, _, _))| (index, *label))
        .collect();
    let height = row * (labels.len() as f32 + 2.0) + 10.0;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    let sentence = table_sentence(currency, columns, &labels);
    response.widget_info(|| WidgetInfo::labeled(Role::Table, true, &sentence));
    let painter = ui.painter();
    let edge = |column: usize| rect.right() - 74.0 * (columns.len() - 1 - column) as f32;
    let last = columns.len().saturating_sub(1);
    for (column, (head, _)) in columns.iter().enumerate() {
        let (font, ink) =
            if column == last { (semibold(size::LABEL), colours.ink) } else { (sans(size::LABEL), colours.ink2) };
        text::right(painter, pos2(edge(column), rect.top() + 9.0), head, font, ink);
    }
    let mut y = rect.top() + row;
    painter.hline(rect.x_range(), y, Stroke::new(1.0, colours.ink));
    y += row * 0.75;
    for (index, label) in &labels {
        text::left(painter, pos2(rect.left(), y), label, sans(size::BODY), colours.ink2);
        for (column, (_, costs)) in columns.iter().enumerate() {
            let Some((_, money, _)) = parts(costs).get(*index).copied() else { continue };
            let is_wrong = is_risky && column == last && *label == "risk";
            let (font, ink) = match (is_wrong, column == last) {
                (true, _) => (semibold(size::BODY), colours.act),
                (_, true) => (sans(size::BODY), colours.ink),
                _ => (sans(size::BODY), colours.ink2),
            };
            text::right(painter, pos2(edge(column), y), &words::money_in(money, currency), font, ink);
        }
        y += row;
    }
    painter.hline(rect.x_range(), y - row * 0.5, Stroke::new(1.0, colours.rule2));
    y += 3.0;
    text::left(painter, pos2(rect.left(), y), "together", semibold(size::BODY), colours.ink);
    for (column, (_, costs)) in columns.iter().enumerate() {
        let ink = if column == last { colours.ink } else { colours.ink2 };
        text::right(
            painter,
            pos2(edge(column), y),
            &words::money_in(costs.total(), currency),
            semibold(size::BODY),
            ink,
        );
    }
}

fn table_sentence(currency: &str, columns: &[(&str, &Costs)], labels: &[(usize, &str)]) -> String {
    let of_column = |(head, costs): &(&str, &Costs)| {
        let figures: Vec<String> = labels
            .iter()
            .filter_map(|(index, label)| {
                let (_, money, _) = parts(costs).get(*index).copied()?;
                Some(format!("{label} {}", words::money_in(money, currency)))
            })
            .collect();
        format!("{head}: {}, together {}", figures.join(", "), words::money_in(costs.total(), currency))
    };
    format!("Cost of the place. {}.", columns.iter().map(of_column).collect::<Vec<_>>().join(". "))
}

/// The line over the foot: all about what lies under the pointer, else about the chosen block.
pub(super) fn read_out(ui: &egui::Ui, area: Rect, words: Option<&str>, context: &PageContext<'_>) {
    let colours = palette(ui);
    let Some(words) = words else { return };
    let ink = if context.is_current { colours.ink } else { colours.ink2 };
    text::left_cut(ui.painter(), area.left_center(), words, sans(size::BODY), ink, area.width());
    let response = ui.interact(area, ui.scope_id().with("plan read-out"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("read-out: {words}")));
}
