//! The form of a reading: strokes against what is expected, with the ruler.

use super::draft::{Draft, FieldErrors};
use super::far::{FarAnswers, FarFigure, Measure};
use super::layout::{Fields, labelled, quiet, section, urgent};
use super::reading_draft::{self, ReadingTarget, STROKES};
use super::slip::{self, Question, Slips};
use super::strokes::{self, StrokeRow};
use super::{FormBody, Heading, Remembered, cautions, facts, withdraw};
use crate::pages::{PageContext, Requests};
use crate::widgets::ruler::{RulerMark, ruler};
use almanac_core::actions::Action;
use almanac_core::expected::{MeterRecord, last_reading, meter_room};
use almanac_core::ids::{ReadingId, SpindleId};
use almanac_core::moment::Moment;
use almanac_core::reading::Phase;
use almanac_core::typed_date::Lean;
use almanac_core::units::{Quantity, Unit};
use almanac_core::words;
use eframe::egui;

const PHASES: [&str; 3] = ["routine", "as found", "as left"];

/// A reading being entered or corrected.
#[derive(Debug)]
pub struct ReadingForm {
    spindle: SpindleId,
    correcting: Option<ReadingId>,
    draft: Draft,
    slips: Slips,
    far: FarAnswers,
    withdrawal: withdraw::Withdrawal,
    focus_first: bool,
}

impl ReadingForm {
    /// An empty form of a spindle, with what was used last.
    #[must_use]
    pub fn new(spindle: SpindleId, context: &PageContext<'_>, remembered: &Remembered) -> Self {
        let mut form = Self::blank(spindle, None, Draft::default());
        form.draft.set("date", context.present.to_string());
        form.draft.set("phase", Phase::Routine.label());
        form.draft.set("zero checked", "not said");
        form.draft.set("technician", remembered.technician.clone());
        form.set_quantity(Quantity::ClampForce, context, remembered);
        form
    }

    /// A form with a recorded reading in it.
    #[must_use]
    pub fn correction(id: ReadingId, context: &PageContext<'_>) -> Option<Self> {
        let reading = &context.whole.readings.iter().find(|row| row.id == id)?.value;
        let mut form = Self::blank(reading.spindle, Some(id), reading_draft::draft_of(reading));
        if reading.doubt.is_some() {
            let questions = form.questions(context);
            form.slips.keep_all(&questions);
        }
        let far = form.far_figures(context, &[]);
        form.far.keep_all(&far, reading.doubt.is_some());
        Some(form)
    }

    fn blank(spindle: SpindleId, correcting: Option<ReadingId>, draft: Draft) -> Self {
        let (slips, withdrawal) = (Slips::default(), withdraw::Withdrawal::default());
        let far = FarAnswers::default();
        Self { spindle, correcting, draft, slips, far, withdrawal, focus_first: true }
    }

    fn set_quantity(&mut self, quantity: Quantity, context: &PageContext<'_>, remembered: &Remembered) {
        let last = last_reading(context.shop, self.spindle, quantity, context.present);
        let known = |name: &String| context.shop.gauge_named(name).is_some_and(|gauge| gauge.quantity == quantity);
        let used = remembered.gauge(quantity).or_else(|| last.and_then(|reading| reading.gauge.clone()));
        let gauge = used.filter(known);
        let unit = facts::usual_unit(context.shop, gauge.as_deref(), last, quantity);
        self.draft.set("quantity", quantity.label());
        self.draft.set("gauge", gauge.unwrap_or_default());
        self.draft.set("unit", unit.symbol());
    }

    fn unit(&self) -> Unit {
        Unit::from_symbol(self.draft.get("unit")).unwrap_or(Unit::Kilonewton)
    }

    fn at(&self, context: &PageContext<'_>) -> Moment {
        super::draft::Reader::new(&self.draft, context.present)
            .past_moment("date")
            .unwrap_or_else(|| Moment::day(context.present))
    }

    fn leave_out(&self) -> Option<MeterRecord> {
        self.correcting.map(MeterRecord::Reading)
    }

    fn questions(&self, context: &PageContext<'_>) -> Vec<Question> {
        let at = self.at(context);
        // a reading of the same day must not be its own measure
        let mut asked = slip::stroke_questions(
            &self.draft,
            &STROKES,
            (self.unit(), "unit"),
            context.shop,
            self.spindle,
            Moment::day(at.date),
        );
        let room = meter_room(context.shop, self.spindle, at.date, self.leave_out());
        asked.extend(slip::count_questions(&self.draft, &room, at.date));
        asked
    }

    fn phase(&self) -> Phase {
        Phase::from_key(self.draft.get("phase")).unwrap_or(Phase::Routine)
    }

    /// Figures far outside what is expected that no slip explains.
    fn far_figures(&self, context: &PageContext<'_>, questions: &[Question]) -> Vec<FarFigure> {
        let measure = Measure::of(context, self.spindle, self.at(context).date, self.phase(), self.unit());
        let mut figures = measure.map(|measure| measure.figures(&self.draft, &STROKES)).unwrap_or_default();
        figures.retain(|figure| questions.iter().all(|question| question.key != figure.key));
        figures
    }

    /// The caution as soon as a stroke lies under the stop limit; a slip is asked about first.
    fn stop_ui(&self, ui: &mut egui::Ui, context: &PageContext<'_>, questions: &[Question]) {
        let unit = self.unit();
        let Some(limits) = facts::limits_of(context.shop, self.spindle) else { return };
        let open = self.slips.unanswered(questions);
        let keys: Vec<_> = STROKES.into_iter().filter(|key| open.iter().all(|question| question.key != *key)).collect();
        let stop = unit.from_base(limits.stop_limit_force().get());
        if unit.quantity() == Quantity::ClampForce && self.far.is_below(&self.draft, &keys, unit, stop) {
            urgent(ui, cautions::BELOW_STOP);
        }
    }

    fn target<'a>(&self, context: &PageContext<'a>) -> ReadingTarget<'a> {
        ReadingTarget { shop: context.shop, spindle: self.spindle, correcting: self.correcting, today: context.present }
    }

    fn ruler_ui(&self, ui: &mut egui::Ui, context: &PageContext<'_>, questions: &[Question]) {
        let unit = self.unit();
        let quantity = unit.quantity();
        let Some(limits) = facts::limits_of(context.shop, self.spindle) else { return };
        let day = self.at(context).date;
        let phase = self.phase();
        let band = facts::expected_in(context, self.spindle, quantity, day, phase, unit);
        let when = words::date_long(day, context.present);
        let mut data = facts::ruler(&limits, quantity, unit, band, &format!("expected on {when}, 80 %"));
        for key in STROKES {
            // a slip would push the rest of the scale together
            let asked = questions.iter().any(|question| question.key == key);
            if let Some(stroke) = reading_draft::stroke(self.draft.trimmed(key), unit).filter(|_| !asked) {
                data.marks.push((RulerMark::Stroke, unit.from_base(stroke.base)));
            }
        }
        ruler(ui, &data);
    }

    fn rest_ui(&mut self, ui: &mut egui::Ui, context: &PageContext<'_>, errors: &FieldErrors, questions: &[Question]) {
        let day = self.at(context).date;
        let unit = self.unit();
        let room = meter_room(context.shop, self.spindle, day, self.leave_out());
        let hint =
            |figure: Option<f64>| figure.map_or_else(String::new, |figure| format!("> {}", words::number(figure, 0)));
        let hours_hint = hint(room.hours_before.map(|shown| shown.figure.get()));
        let cycles_hint = hint(room.cycles_before.map(|shown| shown.figure.get()));
        let mut fields = Fields { draft: &mut self.draft, errors };
        fields.day(ui, "date", "2026-03-17, 17.3., fri", context.present, Lean::Back);
        fields.words(ui, "phase", &PHASES);
        let hours = fields.figure(ui, "run hours", &hours_hint, "h");
        let cycles = fields.figure(ui, "clamp cycles", &cycles_hint, "cycles");
        let typing = [hours.has_focus(), cycles.has_focus()];
        strokes::count_lines(ui, fields.draft, &mut self.slips, questions, typing);
        let offers = facts::gauge_offers(context.shop, unit.quantity(), day);
        fields.offers(ui, "gauge", "name on the gauge", &offers);
        if let Some(warning) = facts::overdue_warning(context.shop, fields.draft.get("gauge"), day) {
            urgent(ui, &warning);
        }
        fields.words(ui, "zero checked", &["yes", "no", "not said"]);
        fields.offers(ui, "technician", "who took it", &facts::technician_offers(context.shop));
        fields.text(ui, "note", "");
    }
}

impl FormBody for ReadingForm {
    fn heading(&self, context: &PageContext<'_>) -> Heading {
        let name = facts::spindle_name(context.whole, self.spindle);
        let title = if self.correcting.is_some() { "Correct a reading of" } else { "Reading of" };
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
        remembered: &Remembered,
        requests: &mut Requests,
    ) {
        let questions = self.questions(context);
        let before = self.draft.get("quantity").to_owned();
        let gauge_before = self.draft.get("gauge").to_owned();
        {
            let mut fields = Fields { draft: &mut self.draft, errors };
            if self.correcting.is_some() {
                fields.fixed(ui, "quantity");
            } else {
                fields.words(ui, "quantity", &["clamp force", "setting dimension"]);
            }
        }
        if self.draft.get("quantity") != before {
            let quantity = Quantity::from_key(self.draft.get("quantity")).unwrap_or(Quantity::ClampForce);
            self.set_quantity(quantity, context, remembered);
        }
        let quantity = self.unit().quantity();
        Fields { draft: &mut self.draft, errors }.words(ui, "unit", &facts::units_of(quantity));
        let unit = self.unit();
        let day = self.at(context).date;
        let phase = self.phase();
        let band = facts::expected_in(context, self.spindle, quantity, day, phase, unit);
        let last = facts::last_words(context.shop, self.spindle, quantity, unit, context.present);
        let far = self.far_figures(context, &questions);
        section(ui, "Strokes");
        quiet(ui, &format!("{last}; {}", facts::expected_words(band, unit)));
        let mut strokes = StrokeRow::new(&STROKES, &STROKES, unit, "unit");
        strokes.takes_focus = std::mem::take(&mut self.focus_first);
        strokes.far = Some((&mut self.far, &far));
        strokes.ui(ui, &mut self.draft, &mut self.slips, errors, &questions);
        self.stop_ui(ui, context, &questions);
        strokes::mean_ui(ui, &self.draft, &self.slips, &STROKES, unit);
        self.ruler_ui(ui, context, &questions);
        self.rest_ui(ui, context, errors, &questions);
        if self.draft.get("gauge") != gauge_before && STROKES.iter().all(|key| self.draft.trimmed(key).is_empty()) {
            let gauge = self.draft.trimmed("gauge").to_owned();
            let last = last_reading(context.shop, self.spindle, quantity, context.present);
            self.draft.set("unit", facts::usual_unit(context.shop, Some(&gauge), last, quantity).symbol());
        }
        if let Some(id) = self.correcting {
            labelled(ui, "", |ui, _| quiet(ui, "The old reading stays, marked as superseded from today."));
            let name = facts::spindle_name(context.whole, self.spindle);
            let what = withdraw::Record::Reading(id);
            self.withdrawal.ui(ui, what, &format!("a reading of {name}"), context.present, requests);
        }
    }

    fn typed(&self) -> Draft {
        self.draft.clone().with(withdraw::REASON, self.withdrawal.reason())
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        let questions = self.questions(context);
        let far = self.far_figures(context, &questions);
        let doubts: Vec<String> =
            [self.slips.doubt(&questions, &STROKES), self.far.doubt(&far)].into_iter().flatten().collect();
        let doubt = (!doubts.is_empty()).then(|| doubts.join("; "));
        let target = self.target(context);
        let reading = reading_draft::parse(&self.draft, &target, doubt);
        let mut errors = reading.as_ref().err().cloned().unwrap_or_default();
        self.slips.hold(&questions, &mut errors);
        self.far.hold(&far, &mut errors);
        let reading = reading.map_err(|_counted| errors.clone())?;
        if !errors.is_empty() {
            return Err(errors);
        }
        if self.is_unchanged(&reading, context) {
            errors.missing.push("a change".to_owned());
            return Err(errors);
        }
        Ok(reading_draft::action(reading, &target))
    }

    fn save_words(&self, _context: &PageContext<'_>) -> String {
        if self.correcting.is_some() { "Save the correction".to_owned() } else { "Save the reading".to_owned() }
    }

    fn remember(&self, remembered: &mut Remembered) {
        remembered.set_gauge(self.unit().quantity(), self.draft.trimmed("gauge"));
        self.draft.trimmed("technician").clone_into(&mut remembered.technician);
    }

    fn ask_all(&mut self, context: &PageContext<'_>) {
        let questions = self.questions(context);
        for question in &questions {
            self.slips.ask(question);
        }
        for figure in &self.far_figures(context, &questions) {
            self.far.ask(figure);
        }
    }
}

impl ReadingForm {
    fn is_unchanged(&self, reading: &almanac_core::reading::Reading, context: &PageContext<'_>) -> bool {
        let old = self.correcting.and_then(|id| context.whole.readings.iter().find(|row| row.id == id));
        old.is_some_and(|old| {
            let same_dates = almanac_core::reading::Reading { recorded_on: old.recorded_on, ..reading.clone() };
            same_dates == old.value
        })
    }
}
