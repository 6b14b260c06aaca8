//! The form of a service, in working order: cautions, lockout, as found, parts, setting, as left.

use super::cautions::CAUTIONS;
use super::draft::{Draft, FieldErrors, Key, Reader};
use super::layout::{Fields, labelled, quiet, section, urgent};
use super::part_rows::{self, PartRow, part_keys};
use super::service_draft::{
    self, AsLeft, Doubts, FORCE, FOUND, LEFT, LOCKOUT, NOT_MEASURED, ORDER_ENDS, SETTING, SETTING_FOUND, SETTING_LEFT,
    ServiceTarget,
};
use super::slip::{self, Question, Slips};
use super::strokes::{self, StrokeRow};
use super::{FormBody, Heading, Remembered, facts, withdraw};
use crate::pages::{PageContext, Requests};
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::choice::Offer;
use crate::widgets::ruler::{RulerMark, ruler};
use almanac_core::actions::Action;
use almanac_core::expected::{last_reading, meter_room};
use almanac_core::ids::{ServiceId, SpindleId};
use almanac_core::moment::Moment;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;
use almanac_core::units::{Quantity, Unit};
use almanac_core::words;
use eframe::egui::{self, RichText, Stroke};

/// A service being entered or corrected.
#[derive(Debug)]
pub struct ServiceForm {
    spindle: SpindleId,
    correcting: Option<ServiceId>,
    draft: Draft,
    slips: Slips,
    withdrawal: withdraw::Withdrawal,
    /// For which kind the kit stands in the fields.
    kit_of: String,
    /// The kit as it was put there.
    kit: Vec<PartRow>,
}

impl ServiceForm {
    /// An empty form of a spindle: its open order, the kit of its interface, what was used last.
    #[must_use]
    pub fn new(spindle: SpindleId, context: &PageContext<'_>, remembered: &Remembered) -> Self {
        let shop = context.shop;
        let mut draft = Draft::default()
            .with("date", context.present.to_string())
            .with("order is", "done")
            .with("zero checked", "not said")
            .with("technician", remembered.technician.clone())
            .with("kind", Kind::Minor.key());
        let mut open: Vec<_> =
            shop.orders.iter().filter(|o| o.spindle == spindle && o.is_open_on(context.present)).collect();
        open.sort_by_key(|order| order.start);
        if let Some(order) = open.first() {
            draft.set("order", order.name.clone());
            draft.set("kind", order.kind.key());
            if let Some(first) = order.technicians.first() {
                draft.set("technician", first.clone());
            }
        }
        for (quantity, gauge_key, unit_key) in
            [(Quantity::ClampForce, "gauge", "unit"), (Quantity::SettingDimension, "setting gauge", "setting unit")]
        {
            let last = last_reading(shop, spindle, quantity, context.present);
            let used = remembered.gauge(quantity).or_else(|| last.and_then(|reading| reading.gauge.clone()));
            let gauge = used.filter(|name| shop.gauge_named(name).is_some_and(|gauge| gauge.quantity == quantity));
            draft.set(unit_key, facts::usual_unit(shop, gauge.as_deref(), last, quantity).symbol());
            draft.set(gauge_key, gauge.unwrap_or_default());
        }
        let mut form = Self::of(spindle, None, draft);
        form.put_kit(shop);
        form
    }

    /// A form with a recorded service in it; its readings are corrected on their own.
    #[must_use]
    pub fn correction(id: ServiceId, context: &PageContext<'_>) -> Option<Self> {
        let service = &context.whole.services.iter().find(|row| row.id == id)?.value;
        Some(Self::of(service.spindle, Some(id), service_draft::draft_of(service)))
    }

    fn of(spindle: SpindleId, correcting: Option<ServiceId>, draft: Draft) -> Self {
        let (slips, withdrawal) = (Slips::default(), withdraw::Withdrawal::default());
        Self { spindle, correcting, draft, slips, withdrawal, kit_of: String::new(), kit: Vec::new() }
    }

    /// Puts the kit of the kind of service into the part fields; what a person typed there stays.
    fn put_kit(&mut self, shop: &Shop) {
        let kind = self.draft.get("kind").to_owned();
        if self.kit_of == kind || self.correcting.is_some() {
            return;
        }
        let Some(interface) = shop.spindles.get(&self.spindle).map(|spindle| &spindle.interface) else { return };
        let lines = shop.kit_lines.iter().filter(|line| line.interface == *interface && line.kind.key() == kind);
        let kit: Vec<PartRow> = lines.map(|line| PartRow::new(&line.part, &line.quantity.to_string())).collect();
        part_rows::change_kit(&mut self.draft, &self.kit, &kit);
        (self.kit_of, self.kit) = (kind, kit);
    }

    fn unit(&self, key: Key, otherwise: Unit) -> Unit {
        Unit::from_symbol(self.draft.get(key)).unwrap_or(otherwise)
    }

    fn at(&self, context: &PageContext<'_>) -> Moment {
        let read = Reader::new(&self.draft, context.present).past_moment("date");
        read.unwrap_or_else(|| Moment::day(context.present))
    }

    fn is_not_done(&self) -> bool {
        self.correcting.is_none()
            && !self.draft.trimmed("order").is_empty()
            && self.draft.get("order is") == ORDER_ENDS[2]
    }

    fn target<'a>(&self, context: &PageContext<'a>) -> ServiceTarget<'a> {
        let (spindle, correcting) = (self.spindle, self.correcting);
        ServiceTarget { shop: context.shop, spindle, correcting, today: context.present }
    }

    fn questions(&self, context: &PageContext<'_>) -> Vec<Question> {
        if self.correcting.is_some() || self.is_not_done() {
            return Vec::new();
        }
        let at = Moment::day(self.at(context).date);
        let force = (self.unit("unit", Unit::Kilonewton), "unit");
        let setting = (self.unit("setting unit", Unit::Millimetre), "setting unit");
        let mut asked = slip::stroke_questions(&self.draft, &FORCE, force, context.shop, self.spindle, at);
        asked.extend(slip::stroke_questions(&self.draft, &SETTING, setting, context.shop, self.spindle, at));
        let room = meter_room(context.shop, self.spindle, at.date, None);
        asked.extend(slip::count_questions(&self.draft, &room, at.date));
        asked
    }

    fn doubts(&self, questions: &[Question]) -> Doubts {
        Doubts {
            found: self.slips.doubt(questions, &FOUND),
            left: self.slips.doubt(questions, &LEFT),
            setting_found: self.slips.doubt(questions, &SETTING_FOUND),
            setting_left: self.slips.doubt(questions, &SETTING_LEFT),
        }
    }

    fn order_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors) {
        let open = context.shop.orders.iter().filter(|o| o.spindle == self.spindle && o.is_open_on(context.present));
        let offers: Vec<Offer> = open
            .map(|order| {
                let when = order.start.map(|start| words::date_short(start.date, context.present)).unwrap_or_default();
                Offer::new(order.name.clone(), format!("{}, {} {when}", order.kind.key(), order.state.key()))
            })
            .collect();
        let is_correction = self.correcting.is_some();
        let mut fields = Fields { draft: &mut self.draft, errors };
        fields.day(ui, "date", "2026-03-17, 17.3., fri", context.present, Lean::Back);
        fields.words(ui, "kind", &["minor", "major"]);
        let hint = if offers.is_empty() { "no open order" } else { "number" };
        fields.offers(ui, "order", hint, &offers);
        if !is_correction && !fields.draft.trimmed("order").is_empty() {
            fields.words(ui, "order is", &ORDER_ENDS);
        }
        fields.offers(ui, "technician", "who did it", &facts::technician_offers(context.shop));
    }

    fn force_ui(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        (errors, questions): (&FieldErrors, &[Question]),
        phase: Phase,
    ) {
        let unit = self.unit("unit", Unit::Kilonewton);
        let (keys, tick) = if phase == Phase::AsLeft { (&LEFT, NOT_MEASURED[1]) } else { (&FOUND, NOT_MEASURED[0]) };
        let day = self.at(context).date;
        let band = facts::expected_in(context, self.spindle, Quantity::ClampForce, day, phase, unit);
        let measured = !self.draft.is_ticked(tick);
        if measured {
            let last = facts::last_words(context.shop, self.spindle, Quantity::ClampForce, unit, context.present);
            let expected = facts::expected_words(band, unit);
            let before = if phase == Phase::AsLeft { expected } else { format!("{last}; {expected}") };
            quiet(ui, &before);
            StrokeRow::new(keys, &FORCE, unit, "unit").ui(ui, &mut self.draft, &mut self.slips, errors, questions);
            strokes::mean_ui(ui, &self.draft, &self.slips, keys, unit);
        }
        Fields { draft: &mut self.draft, errors }.tick(ui, tick, tick);
    }

    fn gauge_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors) {
        let day = self.at(context).date;
        let mut fields = Fields { draft: &mut self.draft, errors };
        fields.words(ui, "unit", &facts::units_of(Quantity::ClampForce));
        fields.offers(ui, "gauge", "force gauge", &facts::gauge_offers(context.shop, Quantity::ClampForce, day));
        fields.words(ui, "zero checked", &["yes", "no", "not said"]);
        if let Some(warning) = facts::overdue_warning(context.shop, self.draft.get("gauge"), day) {
            urgent(ui, &warning);
        }
    }

    fn setting_ui(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        questions: &[Question],
    ) {
        let unit = self.unit("setting unit", Unit::Millimetre);
        let day = self.at(context).date;
        if !self.draft.is_ticked(NOT_MEASURED[2]) {
            let last = facts::last_words(context.shop, self.spindle, Quantity::SettingDimension, unit, context.present);
            quiet(ui, &last);
            for (label, keys) in [("as found", &SETTING_FOUND), ("as left, after stroking", &SETTING_LEFT)] {
                labelled(ui, label, |ui, _| {
                    let mut row = StrokeRow::new(keys, &SETTING, unit, "setting unit");
                    row.ui(ui, &mut self.draft, &mut self.slips, errors, questions);
                });
            }
            self.setting_ruler(ui, context, unit);
            let mut fields = Fields { draft: &mut self.draft, errors };
            fields.words(ui, "setting unit", &facts::units_of(Quantity::SettingDimension));
            let offers = facts::gauge_offers(context.shop, Quantity::SettingDimension, day);
            fields.offers(ui, "setting gauge", "zeroed on a flat face", &offers);
            if let Some(warning) = facts::overdue_warning(context.shop, fields.draft.get("setting gauge"), day) {
                urgent(ui, &warning);
            }
        }
        Fields { draft: &mut self.draft, errors }.tick(ui, NOT_MEASURED[2], NOT_MEASURED[2]);
    }

    fn setting_ruler(&self, ui: &mut egui::Ui, context: &PageContext<'_>, unit: Unit) {
        let Some(limits) = facts::limits_of(context.shop, self.spindle) else { return };
        if limits.setting().is_none() {
            return;
        }
        let mut data = facts::ruler(&limits, Quantity::SettingDimension, unit, None, "");
        self.add_marks(&mut data.marks, &SETTING_FOUND, &SETTING_LEFT, unit);
        ruler(ui, &data);
    }

    fn force_ruler(&self, ui: &mut egui::Ui, context: &PageContext<'_>) {
        let unit = self.unit("unit", Unit::Kilonewton);
        let Some(limits) = facts::limits_of(context.shop, self.spindle) else { return };
        let day = self.at(context).date;
        let band = facts::expected_in(context, self.spindle, Quantity::ClampForce, day, Phase::AsLeft, unit);
        let mut data = facts::ruler(&limits, Quantity::ClampForce, unit, band, "expected as left, 80 %");
        self.add_marks(&mut data.marks, &FOUND, &LEFT, unit);
        ruler(ui, &data);
    }

    fn add_marks(&self, marks: &mut Vec<(RulerMark, f64)>, found: &[Key], left: &[Key], unit: Unit) {
        for (keys, mark) in [(found, RulerMark::AsFound), (left, RulerMark::AsLeft)] {
            let mean = strokes::mean_base(&self.draft, keys, unit);
            marks.extend(mean.map(|mean| (mark, unit.from_base(mean))));
        }
    }

    fn parts_ui(&mut self, ui: &mut egui::Ui, shop: &Shop, errors: &FieldErrors) {
        let offers: Vec<Offer> = shop
            .parts
            .iter()
            .map(|part| Offer::new(part.name.clone(), format!("{} {} here", words::number(part.on_hand, 0), part.unit)))
            .collect();
        // one empty row after the last filled one
        for (part_key, quantity_key) in (0..=part_rows::count(&self.draft)).map(part_keys) {
            let mut fields = Fields { draft: &mut self.draft, errors };
            fields.offers(ui, part_key, "name", &offers);
            if !fields.draft.trimmed(part_key).is_empty() {
                let unit = shop.parts.iter().find(|part| part.name == fields.draft.trimmed(part_key));
                fields.figure(ui, quantity_key, "1", unit.map_or("", |part| part.unit.as_str()));
                self.stock_ui(ui, shop, part_key, quantity_key);
            }
        }
    }

    fn stock_ui(&self, ui: &mut egui::Ui, shop: &Shop, part_key: Key, quantity_key: Key) {
        let Some(part) = shop.parts.iter().find(|part| part.name == self.draft.trimmed(part_key)) else { return };
        if self.correcting.is_some() {
            return;
        }
        let used = super::draft::plain_number(self.draft.trimmed(quantity_key)).unwrap_or(1.0);
        let here = words::number(part.on_hand, 0);
        labelled(ui, "", |ui, _| {
            if used > part.on_hand {
                urgent(ui, &format!("only {here} here: count again under Shop, parts"));
            } else {
                quiet(ui, &format!("{here} here, {} left after", words::number(part.on_hand - used, 0)));
            }
        });
    }

    fn meter_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors, questions: &[Question]) {
        let room = meter_room(context.shop, self.spindle, self.at(context).date, None);
        let hint = |figure: Option<f64>| figure.map_or_else(String::new, |f| format!("> {}", words::number(f, 0)));
        let mut fields = Fields { draft: &mut self.draft, errors };
        let before = hint(room.hours_before.map(|shown| shown.figure.get()));
        let hours = fields.figure(ui, "run hours", &before, "h");
        let before = hint(room.cycles_before.map(|shown| shown.figure.get()));
        let cycles = fields.figure(ui, "clamp cycles", &before, "cycles");
        let typing = [hours.has_focus(), cycles.has_focus()];
        strokes::count_lines(ui, fields.draft, &mut self.slips, questions, typing);
    }

    fn work_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors, questions: &[Question]) {
        Fields { draft: &mut self.draft, errors }.tick(
            ui,
            LOCKOUT,
            "Locked out, zero energy verified, before anything was opened",
        );
        section(ui, "As found");
        self.gauge_ui(ui, context, errors);
        self.force_ui(ui, context, (errors, questions), Phase::AsFound);
        self.meter_ui(ui, context, errors, questions);
        section(ui, "Findings and parts");
        Fields { draft: &mut self.draft, errors }.long(ui, "findings", "gripper, springs, seals: what was found");
        self.parts_ui(ui, context.shop, errors);
        section(ui, "Setting dimension");
        self.setting_ui(ui, context, errors, questions);
        section(ui, "As left");
        self.force_ui(ui, context, (errors, questions), Phase::AsLeft);
        self.force_ruler(ui, context);
        let (state, sentence) = service_draft::as_left(&self.draft, &self.target(context));
        match state {
            AsLeft::UnderStopLimit | AsLeft::UnderServiceLimit => urgent(ui, &sentence),
            AsLeft::NotMeasured | AsLeft::WithinLimits => quiet(ui, &sentence),
        }
    }
}

fn cautions_ui(ui: &mut egui::Ui) {
    let colours = palette(ui);
    let frame = egui::Frame::new().stroke(Stroke::new(1.5, colours.ink)).inner_margin(egui::Margin::symmetric(10, 8));
    frame.show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        ui.label(RichText::new("Before you open anything").font(semibold(size::BODY)).color(colours.ink));
        for caution in CAUTIONS {
            let words = RichText::new(caution).font(sans(size::LABEL)).color(colours.ink);
            ui.add(egui::Label::new(words).wrap());
        }
    });
}

impl FormBody for ServiceForm {
    fn heading(&self, context: &PageContext<'_>) -> Heading {
        let name = facts::spindle_name(context.whole, self.spindle);
        let title = if self.correcting.is_some() { "Correct a service of" } else { "Service of" };
        Heading {
            title: format!("{title} {name}"),
            detail: facts::spindle_detail(context.shop, self.spindle, context.present),
        }
    }

    fn body(
        &mut self,
        ui: &mut egui::Ui,
        context: &PageContext<'_>,
        errors: &FieldErrors,
        _remembered: &Remembered,
        requests: &mut Requests,
    ) {
        let questions = self.questions(context);
        cautions_ui(ui);
        ui.add_space(4.0);
        self.order_ui(ui, context, errors);
        if let Some(id) = self.correcting {
            let mut fields = Fields { draft: &mut self.draft, errors };
            fields.figure(ui, "stop hours", "", "h");
            fields.long(ui, "findings", "");
            self.parts_ui(ui, context.shop, errors);
            Fields { draft: &mut self.draft, errors }.text(ui, "note", "");
            labelled(ui, "", |ui, _| {
                quiet(
                    ui,
                    "The old entry stays, marked as superseded from today. Its readings are corrected one by one.",
                );
            });
            let what = format!("a service of {}", facts::spindle_name(context.whole, self.spindle));
            self.withdrawal.ui(ui, withdraw::Record::Service(id), &what, context.present, requests);
            return;
        }
        if self.is_not_done() {
            Fields { draft: &mut self.draft, errors }.text(ui, "note", "why it was not done");
            return;
        }
        self.put_kit(context.shop);
        self.work_ui(ui, context, errors, &questions);
        section(ui, "Time and note");
        let mut fields = Fields { draft: &mut self.draft, errors };
        fields.figure(ui, "stop hours", "", "h");
        fields.text(ui, "note", "");
    }

    fn typed(&self) -> Draft {
        self.draft.clone().with(withdraw::REASON, self.withdrawal.reason())
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        let questions = self.questions(context);
        let target = self.target(context);
        let action = service_draft::parse(&self.draft, &target, self.doubts(&questions));
        let mut errors = action.as_ref().err().cloned().unwrap_or_default();
        self.slips.hold(&questions, &mut errors);
        if errors.is_empty()
            && let (Some(id), Ok(Action::Service(almanac_core::actions::Recording::Correct(_, new, _)))) =
                (self.correcting, &action)
        {
            let old = context.whole.services.iter().find(|row| row.id == id);
            let same = |old: &almanac_core::service::Service| {
                almanac_core::service::Service { recorded_on: old.recorded_on, ..new.clone() } == *old
            };
            if old.is_some_and(|old| same(&old.value)) {
                errors.missing.push("a change".to_owned());
            }
        }
        if errors.is_empty() { action } else { Err(errors) }
    }

    fn save_words(&self, context: &PageContext<'_>) -> String {
        if self.correcting.is_some() {
            return "Save the correction".to_owned();
        }
        if self.is_not_done() {
            return "Close the order".to_owned();
        }
        match service_draft::as_left(&self.draft, &self.target(context)).0 {
            AsLeft::UnderStopLimit => "Save; spindle stays out of service".to_owned(),
            _ => "Save the service".to_owned(),
        }
    }

    fn ready_words(&self, context: &PageContext<'_>) -> String {
        service_draft::as_left(&self.draft, &self.target(context)).1
    }

    fn remember(&self, remembered: &mut Remembered) {
        remembered.set_gauge(Quantity::ClampForce, self.draft.trimmed("gauge"));
        remembered.set_gauge(Quantity::SettingDimension, self.draft.trimmed("setting gauge"));
        self.draft.trimmed("technician").clone_into(&mut remembered.technician);
    }

    fn ask_all(&mut self, context: &PageContext<'_>) {
        for question in &self.questions(context) {
            self.slips.ask(question);
        }
    }
}
