//! The form of a row of a register, and the steps of its limits.

use super::register::{Field, FieldKind, RegisterContext};
use super::registers::RegisterKind;
use super::registers::limits::{LimitSteps, steps};
use crate::forms::draft::{Draft, FieldErrors, Key};
use crate::forms::layout::{Fields, labelled, quiet, section, urgent};
use crate::theme::{palette, sans, semibold, size};
use almanac_core::ids::{InterfaceLimitsId, SpindleId};
use almanac_core::limits::Step;
use chrono::NaiveDate;
use eframe::egui::{self, Rect, RichText, Sense, pos2, vec2};

/// Draws the fields over a draft; the first one that takes text gets the focus where that is wanted.
/// A remark stands under its field.
pub fn fields_ui(
    ui: &mut egui::Ui,
    draft: &mut Draft,
    errors: &FieldErrors,
    fields: &[Field],
    today: NaiveDate,
    takes_focus: &mut bool,
    remark: Option<(Key, String)>,
) {
    for field in fields {
        let mut set = Fields { draft: &mut *draft, errors };
        let hint = field.hint.as_str();
        let response = match &field.kind {
            FieldKind::Text => Some(set.text(ui, field.key, hint)),
            FieldKind::Day(lean) => Some(set.day(ui, field.key, hint, today, *lean)),
            FieldKind::Figure(unit) => Some(set.figure(ui, field.key, hint, unit)),
            FieldKind::Offers(offers) => Some(set.offers(ui, field.key, hint, offers)),
            FieldKind::Words(options) => {
                set.words(ui, field.key, options);
                None
            }
            FieldKind::Tick(words) => {
                set.tick(ui, field.key, words);
                None
            }
            FieldKind::Section => {
                section(ui, field.key);
                None
            }
        };
        if let Some(response) = response.filter(|_| std::mem::take(takes_focus)) {
            response.request_focus();
        }
        if let Some((_, words)) = remark.as_ref().filter(|(key, _)| *key == field.key && errors.of(key).is_none()) {
            labelled(ui, "", |ui, _| urgent(ui, words));
        }
    }
}

/// The steps of the limits of the chosen row, where it has limits.
pub fn limit_steps_ui(ui: &mut egui::Ui, kind: RegisterKind, id: Option<i64>, context: &RegisterContext<'_>) {
    let Some(id) = id else { return };
    let rows = match kind {
        RegisterKind::Spindles => {
            let Some(spindle) = context.shop.spindles.get(&SpindleId::from_row(id)) else { return };
            steps(context.shop, Some(&spindle.interface), Some(&spindle.limits))
        }
        RegisterKind::Limits => {
            let wanted = InterfaceLimitsId::from_row(id);
            let Some(row) = context.shop.interface_limits.iter().find(|row| row.id == wanted) else { return };
            steps(context.shop, row.interface.as_ref(), None)
        }
        _ => return,
    };
    section(ui, "Limits, step by step");
    steps_table(ui, &rows);
}

const STEPS: [Step; 4] = [Step::BuiltIn, Step::Shop, Step::Interface, Step::Spindle];

fn steps_table(ui: &mut egui::Ui, rows: &[LimitSteps]) {
    let colours = palette(ui);
    let width = ui.available_width();
    let first = 82.0;
    let column = (width - first) / 4.0;
    let (head, _) = ui.allocate_exact_size(vec2(width, 16.0), Sense::hover());
    for (index, step) in STEPS.iter().enumerate() {
        let right = head.left() + first + column * (index + 1) as f32;
        let at = pos2(right, head.center().y);
        crate::widgets::text::right(ui.painter(), at, step.label(), sans(size::SMALL), colours.ink2);
    }
    for row in rows {
        let (rect, response) = ui.allocate_exact_size(vec2(width, 18.0), Sense::hover());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, row_sentence(row)));
        row_ui(ui, rect, row, first, column);
        let source = match row.in_force {
            Some(_) if row.source.is_empty() => "no source named".to_owned(),
            Some(_) => row.source.clone(),
            None => continue,
        };
        ui.add(egui::Label::new(RichText::new(source).font(sans(size::SMALL)).color(colours.ink3)).truncate());
    }
    if rows.iter().all(|row| row.in_force.is_none()) {
        quiet(ui, "No limit is said at any step.");
    }
}

fn row_ui(ui: &egui::Ui, rect: Rect, row: &LimitSteps, first: f32, column: f32) {
    let colours = palette(ui);
    crate::widgets::text::left(ui.painter(), rect.left_center(), row.limit, sans(size::LABEL), colours.ink2);
    for (index, value) in row.values.iter().enumerate() {
        let in_force = row.in_force == Some(index);
        let (font, ink) = if in_force { (semibold(size::BODY), colours.ink) } else { (sans(size::BODY), colours.ink3) };
        let shown = if value.is_empty() { almanac_core::words::UNKNOWN } else { value.as_str() };
        let at = pos2(rect.left() + first + column * (index + 1) as f32, rect.center().y);
        crate::widgets::text::right(ui.painter(), at, shown, font, ink);
    }
}

fn row_sentence(row: &LimitSteps) -> String {
    match row.in_force.and_then(|at| Some((row.values.get(at)?, STEPS.get(at)?))) {
        Some((value, step)) => format!("{} {value}, {}: {}", row.limit, step.label(), row.source),
        None => format!("{} not said", row.limit),
    }
}
