//! The strip under the head: what is pretended, about whom, and what follows from it.

use super::draft::{
    CYCLES, HOURS, MONTHS, NO_SERVICE, PHASE, READ_ON, RISK, SERVICE, SERVICE_LIMIT, SERVICED_ON, STOP_LIMIT, STROKES,
    TOLERANCE, USAGE,
};
use super::{Of, Open, Subject};
use crate::forms::draft::{FieldErrors, Key};
use crate::forms::layout::advance_on_enter;
use crate::pages::{Page, PageContext};
use crate::theme::{MARGIN, palette, sans, semibold, serif_semibold, size};
use crate::widgets::choice;
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruled_blank::{self, Blank};
use almanac_core::limits::Limits;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::Percent;
use almanac_core::words;
use eframe::egui::{
    self, Frame, Label, Margin, Modifiers, Popup, RichText, Role, Sense, Stroke, WidgetInfo, pos2, vec2,
};

/// Height of a field with its label over it.
const FIELD: f32 = 43.0;

/// Draws the strip; answers whether the what-if is to end.
pub(super) fn ui(
    ui: &mut egui::Ui,
    open: &mut Open,
    context: &PageContext<'_>,
    subject: Subject<'_>,
    (is_busy, esc_is_free): (bool, bool),
) -> bool {
    let colours = palette(ui);
    // Esc belongs to a field of the page first, and to an open menu; the strip's own fields leave with it
    let takes_escape = (open.had_focus || esc_is_free) && !Popup::is_any_open(ui.ctx());
    let mut ends = takes_escape && ui.input_mut(|input| input.consume_key(Modifiers::NONE, egui::Key::Escape));
    let parsed = super::WhatIfMode::parsed(open, context.shop, context);
    let errors = parsed.as_ref().err().cloned().unwrap_or_default();
    let margin = Margin { left: MARGIN as i8, right: MARGIN as i8, top: 6, bottom: 6 };
    let frame = Frame::new().fill(colours.tint).inner_margin(margin);
    let shown = egui::Panel::top("what if").resizable(false).show_separator_line(false).frame(frame).show(ui, |ui| {
        ui.spacing_mut().item_spacing = vec2(14.0, 4.0);
        let mut strip = Strip { open, errors: &errors, has_focus: false };
        ui.horizontal_wrapped(|ui| strip.figures_ui(ui, context, subject));
        if strip.open.of == Of::ThisSpindle && subject.spindle.is_some() {
            ui.horizontal_wrapped(|ui| strip.records_ui(ui, context));
        }
        let has_focus = strip.has_focus;
        open.had_focus = has_focus;
        ends |= status_ui(ui, open, &errors, subject.page, is_busy);
    });
    let rule = shown.response.rect;
    ui.painter().hline(rule.x_range(), rule.bottom() - 0.5, Stroke::new(1.0, colours.ink));
    ends
}

/// The fields over their draft.
struct Strip<'a> {
    open: &'a mut Open,
    errors: &'a FieldErrors,
    has_focus: bool,
}

impl Strip<'_> {
    fn figures_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, subject: Subject<'_>) {
        let colours = palette(ui);
        let (rect, response) = ui.allocate_exact_size(vec2(62.0, FIELD), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, "What if"));
        let at = pos2(rect.left(), rect.bottom() - ruled_blank::HEIGHT / 2.0 - 1.0);
        crate::widgets::text::left(ui.painter(), at, "What if", serif_semibold(size::SECTION), colours.ink);
        let hints = Hints::of(context.shop, subject, self.open.of);
        let length = context.shop.settings.length_unit.symbol();
        let usage = self.field(ui, USAGE, "× 2, 16 h", "", 84.0);
        if std::mem::take(&mut self.open.wants_focus) {
            usage.request_focus();
        }
        self.field(ui, RISK, &hints.risk, "%", 54.0);
        self.field(ui, SERVICE_LIMIT, &hints.service_limit, "%", 54.0);
        self.field(ui, STOP_LIMIT, &hints.stop_limit, "%", 54.0);
        self.field(ui, TOLERANCE, &hints.tolerance, length, 66.0);
        self.field(ui, MONTHS, &hints.months, "", 70.0);
        self.field(ui, HOURS, &hints.hours, "", 76.0);
        self.field(ui, CYCLES, &hints.cycles, "", 76.0);
        let place = subject.spindle.map(|id| place_of(context, id));
        self.of_ui(ui, place, subject.shown.len());
    }

    /// Whose figures: this spindle's, or those of all rows shown.
    fn of_ui(&mut self, ui: &mut egui::Ui, place: Option<String>, shown: usize) {
        let colours = palette(ui);
        ui.allocate_ui(vec2(190.0, FIELD), |ui| {
            ui.vertical(|ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                let about = match (self.open.of, place) {
                    (Of::ThisSpindle, Some(place)) => format!("of {place}"),
                    (Of::ThisSpindle, None) => "no spindle is chosen".to_owned(),
                    (Of::AllShown, _) if shown == 1 => "of 1 spindle".to_owned(),
                    (Of::AllShown, _) => format!("of {} spindles", words::number(shown as f64, 0)),
                };
                label_ui(ui, &about, colours.ink2);
                let mut chosen = self.open.of.label().to_owned();
                let options = [Of::ThisSpindle.label(), Of::AllShown.label()];
                if choice::words(ui, &mut chosen, "what if of", &options) {
                    self.open.of = if chosen == Of::AllShown.label() { Of::AllShown } else { Of::ThisSpindle };
                }
            });
        });
    }

    fn records_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>) {
        ui.spacing_mut().item_spacing.x = 8.0;
        let unit = context.shop.settings.force_unit.symbol();
        let day = context.as_of.to_string();
        for (key, first, options) in [
            (
                PHASE,
                Phase::Routine.label(),
                &[Phase::Routine.label(), Phase::AsFound.label(), Phase::AsLeft.label()][..],
            ),
            (SERVICE, NO_SERVICE, &[NO_SERVICE, Kind::Minor.key(), Kind::Major.key()][..]),
        ] {
            if self.open.draft.trimmed(key).is_empty() {
                self.open.draft.set(key, first);
            }
            if key == PHASE {
                self.inline(ui, STROKES, &format!("strokes in {unit}"), 150.0);
                choice::words(ui, self.open.draft.text_mut(PHASE), PHASE, options);
                self.inline(ui, READ_ON, &day, 96.0);
                ui.add_space(18.0);
            } else {
                let ink = palette(ui).ink2;
                label_ui(ui, SERVICE, ink);
                choice::words(ui, self.open.draft.text_mut(SERVICE), SERVICE, options);
                self.inline(ui, SERVICED_ON, &day, 96.0);
            }
        }
    }

    /// A field with its label over it and its unit behind it.
    fn field(&mut self, ui: &mut egui::Ui, key: Key, hint: &str, unit: &str, width: f32) -> egui::Response {
        let colours = palette(ui);
        let label = crate::widgets::word_button::width(ui, key, &sans(size::LABEL));
        let unit_width = if unit.is_empty() { 0.0 } else { 22.0 };
        let room = vec2((width + unit_width).max(label), FIELD);
        let response = ui.allocate_ui(room, |ui| {
            ui.vertical(|ui| {
                ui.set_min_size(room);
                ui.spacing_mut().item_spacing = vec2(4.0, 1.0);
                label_ui(ui, key, colours.ink2);
                ui.horizontal(|ui| {
                    let error = self.errors.of(key);
                    let look = Blank { hint, error, is_figure: true, ..Blank::new(key, width) };
                    let response = ruled_blank::blank(ui, self.open.draft.text_mut(key), &look);
                    label_ui(ui, unit, colours.ink3);
                    response
                })
                .inner
            })
            .inner
        });
        self.note_focus(ui, &response.inner);
        response.inner
    }

    /// A field with its label before it.
    fn inline(&mut self, ui: &mut egui::Ui, key: Key, hint: &str, width: f32) {
        let ink = palette(ui).ink2;
        label_ui(ui, key, ink);
        let look = Blank { hint, error: self.errors.of(key), ..Blank::new(key, width) };
        let response = ruled_blank::blank(ui, self.open.draft.text_mut(key), &look);
        self.note_focus(ui, &response);
    }

    fn note_focus(&mut self, ui: &egui::Ui, response: &egui::Response) {
        self.has_focus |= response.has_focus();
        advance_on_enter(ui, response);
    }
}

fn label_ui(ui: &mut egui::Ui, words: &str, ink: egui::Color32) {
    if !words.is_empty() {
        ui.add(Label::new(RichText::new(words).font(sans(size::LABEL)).color(ink)).selectable(false));
    }
}

fn place_of(context: &PageContext<'_>, id: almanac_core::ids::SpindleId) -> String {
    let position = context.shop.position_on(id, context.as_of).map(|position| context.shop.position_label(position));
    position.or_else(|| context.shop.spindles.get(&id).map(|spindle| spindle.name.clone())).unwrap_or_default()
}

/// What is in force, as hints in the empty fields.
#[derive(Debug, Default)]
struct Hints {
    risk: String,
    service_limit: String,
    stop_limit: String,
    tolerance: String,
    months: String,
    hours: String,
    cycles: String,
}

impl Hints {
    fn of(shop: &Shop, subject: Subject<'_>, of: Of) -> Self {
        let risk = Percent::new(shop.settings.accepted_risk * 100.0).unwrap_or_default();
        let risk = words::percent_short(risk);
        let limits: Option<Limits> = match of {
            Of::ThisSpindle => subject.spindle.and_then(|id| shop.spindles.get(&id)).map(|s| shop.limits_of(s)),
            Of::AllShown => None,
        };
        let Some(limits) = limits else { return Self { risk, ..Self::default() } };
        let length = shop.settings.length_unit;
        Self {
            risk,
            service_limit: words::percent_short(limits.service_limit.value),
            stop_limit: words::percent_short(limits.stop_limit.value),
            tolerance: limits.setting_tolerance.map(|l| words::length_in(l.value, length)).unwrap_or_default(),
            months: limits.every_months.map(|l| l.value.to_string()).unwrap_or_default(),
            hours: limits.every_hours.map(|l| words::hours(l.value)).unwrap_or_default(),
            cycles: limits.every_cycles.map(|l| words::cycles(l.value)).unwrap_or_default(),
        }
    }
}

/// The line that marks the figures, what follows, what is wrong; answers whether it is to end.
fn status_ui(ui: &mut egui::Ui, open: &Open, errors: &FieldErrors, page: Page, is_busy: bool) -> bool {
    let colours = palette(ui);
    let shown = open.shown.as_deref();
    let bold = match shown {
        Some(shown) => format!("What if: {}: nothing is saved.", shown.compared.pretended),
        None => "What if: nothing is pretended yet; figures in force are shown.".to_owned(),
    };
    let mut ends = false;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        ui.label(RichText::new(bold).font(semibold(size::BODY)).color(colours.ink));
        if is_busy {
            label_ui(ui, "being reckoned \u{2026}", colours.ink2);
        }
        ends = foot_key(ui, FootKey { printed: "Esc", does: "ends; entry is closed till then" }, true).clicked();
        if let (Some(shown), Page::Spindle(_)) = (shown, page) {
            // on the due page it opens the page
            ui.add(Label::new(RichText::new(&shown.compared.lead).font(sans(size::BODY)).color(colours.ink)).wrap());
        }
    });
    for remark in shown.map(|shown| shown.compared.remarks.as_slice()).unwrap_or_default() {
        ui.add(Label::new(RichText::new(remark).font(semibold(size::BODY)).color(colours.ink)).wrap());
    }
    let width = ui.available_width();
    for sentence in errors.wrong.values().chain(&open.refused) {
        ruled_blank::error_line(ui, &words::capital(sentence), width);
    }
    ends
}
