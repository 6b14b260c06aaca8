//! The form of a meter reading, with what it must exceed.

use super::draft::{Draft, FieldErrors, Reader};
use super::layout::{Fields, labelled, quiet};
use super::meter_draft::{self, METER_OF, MeterTarget, NEW_METER, OF_POSITION, OF_SPINDLE};
use super::slip::{self, Question, Slips};
use super::{FormBody, Heading, Remembered, facts, strokes, withdraw};
use crate::pages::{PageContext, Requests};
use almanac_core::actions::Action;
use almanac_core::expected::{MeterRecord, MeterRoom, meter_room};
use almanac_core::ids::{MeterReadingId, SpindleId};
use almanac_core::meter::MeterReading;
use almanac_core::typed_date::Lean;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui;

/// A meter reading being entered or corrected.
#[derive(Debug)]
pub struct MeterForm {
    spindle: SpindleId,
    correcting: Option<MeterReadingId>,
    draft: Draft,
    slips: Slips,
    withdrawal: withdraw::Withdrawal,
    focus_first: bool,
}

impl MeterForm {
    /// An empty form of a spindle.
    #[must_use]
    pub fn new(spindle: SpindleId, context: &PageContext<'_>) -> Self {
        let owner = meter_draft::usual_owner(context.shop, spindle, context.present);
        let draft = Draft::default().with("date", context.present.to_string()).with(METER_OF, owner);
        Self::of(spindle, None, draft)
    }

    /// A form with a recorded meter reading in it.
    #[must_use]
    pub fn correction(id: MeterReadingId, context: &PageContext<'_>) -> Option<Self> {
        let reading = &context.whole.meters.iter().find(|row| row.id == id)?.value;
        let spindle = meter_draft::spindle_of(context.whole, reading)?;
        Some(Self::of(spindle, Some(id), meter_draft::draft_of(reading)))
    }

    fn of(spindle: SpindleId, correcting: Option<MeterReadingId>, draft: Draft) -> Self {
        let (slips, withdrawal) = (Slips::default(), withdraw::Withdrawal::default());
        Self { spindle, correcting, draft, slips, withdrawal, focus_first: true }
    }

    fn day(&self, context: &PageContext<'_>) -> NaiveDate {
        let read = Reader::new(&self.draft, context.present).past_moment("date");
        read.map_or(context.present, |moment| moment.date)
    }

    fn room(&self, context: &PageContext<'_>) -> MeterRoom {
        let leave_out = self.correcting.map(MeterRecord::Meter);
        meter_room(context.shop, self.spindle, self.day(context), leave_out)
    }

    fn questions(&self, context: &PageContext<'_>) -> Vec<Question> {
        if self.draft.is_ticked(NEW_METER) {
            return Vec::new();
        }
        slip::count_questions(&self.draft, &self.room(context), self.day(context))
    }

    fn target<'a>(&self, context: &PageContext<'a>) -> MeterTarget<'a> {
        let (spindle, correcting) = (self.spindle, self.correcting);
        MeterTarget { shop: context.shop, spindle, correcting, today: context.present }
    }

    fn is_unchanged(&self, reading: &MeterReading, context: &PageContext<'_>) -> bool {
        let old = self.correcting.and_then(|id| context.whole.meters.iter().find(|row| row.id == id));
        old.is_some_and(|old| MeterReading { recorded_on: old.recorded_on, ..reading.clone() } == old.value)
    }

    /// The sentence before a new meter is saved.
    fn new_meter_words(&self, context: &PageContext<'_>) -> String {
        let room = self.room(context);
        let old = room.hours_before.map(|shown| format!("{} h", words::number(shown.figure.get(), 0)));
        let old =
            old.or_else(|| room.cycles_before.map(|shown| format!("{} cycles", words::number(shown.figure.get(), 0))));
        match old {
            Some(old) => format!("The old meter ends with {old}; counting goes on from there with the new one."),
            None => "Counting begins with this meter.".to_owned(),
        }
    }
}

impl FormBody for MeterForm {
    fn heading(&self, context: &PageContext<'_>) -> Heading {
        let name = facts::spindle_name(context.whole, self.spindle);
        let title = if self.correcting.is_some() { "Correct a meter reading of" } else { "Meter reading of" };
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
        let room = self.room(context);
        let is_new = self.draft.is_ticked(NEW_METER);
        let hint = |figure: Option<f64>| match figure.filter(|_| !is_new) {
            Some(figure) => format!("> {}", words::number(figure, 0)),
            None => String::new(),
        };
        let hours_hint = hint(room.hours_before.map(|shown| shown.figure.get()));
        let cycles_hint = hint(room.cycles_before.map(|shown| shown.figure.get()));
        let mut fields = Fields { draft: &mut self.draft, errors };
        let hours = fields.figure(ui, "run hours", &hours_hint, "h");
        if std::mem::take(&mut self.focus_first) {
            hours.request_focus();
        }
        let cycles = fields.figure(ui, "clamp cycles", &cycles_hint, "cycles");
        let typing = [hours.has_focus(), cycles.has_focus()];
        strokes::count_lines(ui, fields.draft, &mut self.slips, &questions, typing);
        let mut fields = Fields { draft: &mut self.draft, errors };
        fields.day(ui, "date", "2026-03-17, 17.3., fri", context.present, Lean::Back);
        fields.words(ui, METER_OF, &[OF_SPINDLE, OF_POSITION]);
        fields.tick(ui, NEW_METER, "first reading of a new meter");
        if is_new {
            let words = self.new_meter_words(context);
            quiet(ui, &words);
        }
        if let Some(id) = self.correcting {
            labelled(ui, "", |ui, _| quiet(ui, "The old entry stays, marked as superseded from today."));
            let what = format!("a meter reading of {}", facts::spindle_name(context.whole, self.spindle));
            self.withdrawal.ui(ui, withdraw::Record::Meter(id), &what, context.present, requests);
        }
    }

    fn typed(&self) -> Draft {
        self.draft.clone().with(withdraw::REASON, self.withdrawal.reason())
    }

    fn parse(&self, context: &PageContext<'_>) -> Result<Action, FieldErrors> {
        let target = self.target(context);
        let reading = meter_draft::parse(&self.draft, &target)?;
        let mut errors = FieldErrors::default();
        self.slips.hold(&self.questions(context), &mut errors);
        if self.is_unchanged(&reading, context) {
            errors.missing.push("a change".to_owned());
        }
        if errors.is_empty() { Ok(meter_draft::action(reading, &target)) } else { Err(errors) }
    }

    fn save_words(&self, _context: &PageContext<'_>) -> String {
        if self.correcting.is_some() { "Save the correction".to_owned() } else { "Save the meter reading".to_owned() }
    }

    fn ask_all(&mut self, context: &PageContext<'_>) {
        for question in &self.questions(context) {
            self.slips.ask(question);
        }
    }
}
