//! A row of stroke fields with the slips under it.

use super::draft::{Draft, FieldErrors, Key};
use super::facts;
use super::far::{FarAnswers, FarFigure};
use super::layout::{advance_on_enter, quiet, urgent};
use super::reading_draft::stroke;
use super::slip::{self, Question, Slips};
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::ruled_blank::{self, Blank};
use almanac_core::units::{Quantity, Unit};
use almanac_core::words;
use eframe::egui::{self, Response, RichText};

/// Fields in a row that share a unit.
#[derive(Debug)]
pub struct StrokeRow<'a> {
    /// The fields of this row.
    pub keys: &'a [Key],
    /// All fields that share the unit, of this row and others.
    pub group: &'a [Key],
    /// The unit.
    pub unit: Unit,
    /// The field in which it stands.
    pub unit_key: Key,
    /// Whether the first field takes the focus now.
    pub takes_focus: bool,
    /// Figures far outside what is expected, and what was answered about them.
    pub far: Option<(&'a mut FarAnswers, &'a [FarFigure])>,
}

impl<'a> StrokeRow<'a> {
    /// A row that does not take the focus.
    #[must_use]
    pub fn new(keys: &'a [Key], group: &'a [Key], unit: Unit, unit_key: Key) -> Self {
        Self { keys, group, unit, unit_key, takes_focus: false, far: None }
    }

    /// Draws the fields, what is wrong with them, and the questions about them.
    pub fn ui(
        &mut self,
        ui: &mut egui::Ui,
        draft: &mut Draft,
        slips: &mut Slips,
        errors: &FieldErrors,
        questions: &[Question],
    ) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            self.take_far_keys(ui, draft);
            for key in self.keys {
                let question = questions.iter().find(|question| question.key == *key);
                self.take_keys(ui, draft, slips, key, question);
                let asked = question.is_some_and(|question| slips.is_open(question));
                let error = errors.of(key).or_else(|| asked.then_some("slip"));
                let look = Blank { is_figure: true, error, ..Blank::new(key, 60.0) };
                let response = ruled_blank::blank(ui, draft.text_mut(key), &look);
                if std::mem::take(&mut self.takes_focus) {
                    response.request_focus();
                }
                leave(ui, slips, &response, question);
            }
            quiet(ui, self.unit.symbol());
        });
        for key in self.keys {
            if let Some(sentence) = errors.of(key) {
                urgent(ui, &format!("{key}: {sentence}"));
            }
        }
        for question in questions.iter().filter(|question| self.keys.contains(&question.key)) {
            let others = self.others_typed(draft, question.key);
            line_ui(ui, draft, slips, question, others);
        }
        if let Some((answers, figures)) = &mut self.far {
            answers.lines(ui, draft, figures);
        }
    }

    fn take_far_keys(&mut self, ui: &egui::Ui, draft: &mut Draft) {
        let Some((answers, figures)) = &mut self.far else { return };
        let has_focus = |key: &&&'static str| ui.memory(|memory| memory.has_focus(ruled_blank::id(ui, key)));
        let typing = self.keys.iter().find(has_focus).copied();
        answers.set_typing(typing);
        if let Some(figure) = figures.iter().find(|figure| Some(figure.key) == typing) {
            answers.take_keys(ui, draft, figure);
        }
    }

    fn others_typed(&self, draft: &Draft, key: Key) -> bool {
        self.group.iter().any(|other| *other != key && !draft.trimmed(other).is_empty())
    }

    /// Keys while a field with a slip in it has the focus: leaving it asks, then Space or Enter answer.
    fn take_keys(&self, ui: &egui::Ui, draft: &mut Draft, slips: &mut Slips, key: Key, question: Option<&Question>) {
        let unanswered = question.filter(|question| !slips.unanswered(std::slice::from_ref(*question)).is_empty());
        let Some(question) = unanswered else { return };
        if !ui.memory(|memory| memory.has_focus(ruled_blank::id(ui, key))) {
            return;
        }
        if !slips.is_open(question) {
            if slip::is_left_by_key(ui) {
                slips.ask(question);
            }
        } else if let Some(answer) = slip::pressed(ui, question) {
            let others = self.others_typed(draft, key);
            slips.answer(draft, question, answer, others);
            ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::Next));
        }
    }
}

/// A field that is left by the pointer with a slip in it asks too.
fn leave(ui: &egui::Ui, slips: &mut Slips, response: &Response, question: Option<&Question>) {
    match question {
        Some(question) if response.lost_focus() => slips.ask(question),
        _ => advance_on_enter(ui, response),
    }
}

/// The line of a question where it stands open.
pub fn line_ui(ui: &mut egui::Ui, draft: &mut Draft, slips: &mut Slips, question: &Question, others_typed: bool) {
    if slips.is_open(question)
        && let Some(answer) = slips.line(ui, question)
    {
        slips.answer(draft, question, answer, others_typed);
    }
}

/// The mean of what was typed, in kN or mm; `None` where nothing was.
#[must_use]
pub fn mean_base(draft: &Draft, keys: &[Key], unit: Unit) -> Option<f64> {
    let typed: Vec<f64> = keys.iter().filter_map(|key| Some(stroke(draft.trimmed(key), unit)?.base)).collect();
    (!typed.is_empty()).then(|| typed.iter().sum::<f64>() / typed.len() as f64)
}

/// The mean beside its word, with "doubted" where a figure was kept as such.
pub fn mean_ui(ui: &mut egui::Ui, draft: &Draft, slips: &Slips, keys: &[Key], unit: Unit) {
    let fine = unit.quantity() == Quantity::ClampForce;
    let words = mean_base(draft, keys, unit)
        .map_or_else(|| words::UNKNOWN.to_owned(), |mean| format!("{} {unit}", facts::figure(mean, unit, fine)));
    ui.horizontal(|ui| {
        quiet(ui, "mean");
        ui.label(RichText::new(words).font(semibold(size::ENTRY)));
        if keys.iter().any(|key| slips.is_kept(key, draft)) {
            let ink = palette(ui).act;
            ui.label(RichText::new("doubted").font(sans(size::LABEL)).color(ink));
        }
    });
}

/// The questions about meter figures: each is asked once nobody types in its field. `typing` says
/// so for the fields of [`slip::COUNTS`].
pub fn count_lines(ui: &mut egui::Ui, draft: &mut Draft, slips: &mut Slips, questions: &[Question], typing: [bool; 2]) {
    for (key, typing) in slip::COUNTS.into_iter().zip(typing) {
        for question in questions.iter().filter(|question| question.key == key) {
            if !typing {
                slips.ask(question);
            }
            line_ui(ui, draft, slips, question, false);
        }
    }
}
