//! A figure that cannot be right: one line under its field, Space takes the likely figure, Enter
//! keeps the typed one as doubted.

use super::draft::{Draft, FieldErrors, Key};
use super::reading_draft::stroke;
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use almanac_core::expected::MeterRoom;
use almanac_core::ids::SpindleId;
use almanac_core::moment::Moment;
use almanac_core::plausibility::{MeterCount, expected, question_meter, question_stroke};
use almanac_core::shop::Shop;
use almanac_core::units::Unit;
use chrono::NaiveDate;
use eframe::egui::{self, Frame, Key as Pressed, Margin, Modifiers, RichText};
use std::collections::BTreeMap;

/// A question about what stands in a field.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The field.
    pub key: Key,
    /// The field of its unit.
    pub unit_key: Key,
    /// What was typed.
    pub typed: String,
    /// Why it cannot be right, without a full stop.
    pub sentence: String,
    /// What would fit, as it would be typed, and its unit where that is another one.
    pub likely: Option<(String, Option<Unit>)>,
}

/// The meter fields.
pub const COUNTS: [Key; 2] = ["run hours", "clamp cycles"];

/// The questions of a form and which of them were answered with "keep".
#[derive(Debug, Clone, Default)]
pub struct Slips {
    kept: BTreeMap<Key, String>,
    asked: BTreeMap<Key, String>,
}

/// What was answered in this frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// The likely figure.
    Take,
    /// The typed figure, doubted.
    Keep,
}

/// The stroke fields that look like a slip; the unit comes with the field in which it stands.
#[must_use]
pub fn stroke_questions(
    draft: &Draft,
    keys: &[Key],
    (unit, unit_key): (Unit, Key),
    shop: &Shop,
    spindle: SpindleId,
    at: Moment,
) -> Vec<Question> {
    let Some(expected) = expected(shop, spindle, unit.quantity(), at) else { return Vec::new() };
    let question = |key: &Key| {
        let typed = draft.trimmed(key);
        let slip = question_stroke(stroke(typed, unit)?.typed_value(), unit, &expected)?;
        let likely = slip.likely.map(|l| (l.value.to_string(), (l.unit != unit).then_some(l.unit)));
        Some(Question { key, unit_key, typed: typed.to_owned(), sentence: slip.sentence, likely })
    };
    keys.iter().filter_map(question).collect()
}

/// The meter fields that rose faster than time allows. (Backwards is an error, not a question.)
#[must_use]
pub fn count_questions(draft: &Draft, room: &MeterRoom, on: NaiveDate) -> Vec<Question> {
    let hours = room.hours_before.map(|shown| (shown.figure.get(), shown.on));
    let cycles = room.cycles_before.map(|shown| (shown.figure.get(), shown.on));
    let question = |key: Key, count: MeterCount, before: Option<(f64, NaiveDate)>| {
        let typed = draft.trimmed(key);
        let value = super::draft::plain_number(typed)?;
        let (figure, shown_on) = before.filter(|(figure, _)| value >= *figure)?;
        let slip = question_meter(count, value, on, figure, shown_on)?;
        let likely = slip.likely.map(|likely| (likely.to_string(), None));
        Some(Question { key, unit_key: "", typed: typed.to_owned(), sentence: slip.sentence, likely })
    };
    let questions =
        [question(COUNTS[0], MeterCount::RunHours, hours), question(COUNTS[1], MeterCount::ClampCycles, cycles)];
    questions.into_iter().flatten().collect()
}

impl Slips {
    /// The questions that nobody answered yet.
    #[must_use]
    pub fn unanswered<'q>(&self, questions: &'q [Question]) -> Vec<&'q Question> {
        questions.iter().filter(|question| self.kept.get(question.key) != Some(&question.typed)).collect()
    }

    /// Says that questions wait for an answer: by name where they stand open.
    pub fn hold(&self, questions: &[Question], errors: &mut FieldErrors) {
        for question in self.unanswered(questions) {
            if self.is_open(question) {
                errors.questions.push(format!("{} ({})", question.key, question.typed));
            } else {
                errors.is_to_ask = true;
            }
        }
    }

    /// Why figures are doubted: the sentences of all that were kept; `None` where none was.
    #[must_use]
    pub fn doubt(&self, questions: &[Question], keys: &[Key]) -> Option<String> {
        let kept = questions.iter().filter(|q| keys.contains(&q.key) && self.kept.get(q.key) == Some(&q.typed));
        let sentences: Vec<&str> = kept.map(|question| question.sentence.as_str()).collect();
        (!sentences.is_empty()).then(|| sentences.join("; "))
    }

    /// Whether the figure of a field was kept as doubted.
    #[must_use]
    pub fn is_kept(&self, key: Key, draft: &Draft) -> bool {
        self.kept.get(key).is_some_and(|kept| kept == draft.trimmed(key))
    }

    /// Counts the figures of a record that is being corrected as kept, so that nobody is asked again.
    pub fn keep_all(&mut self, questions: &[Question]) {
        self.kept.extend(questions.iter().map(|question| (question.key, question.typed.clone())));
    }

    /// Asks about a field that was left; while it is still being typed nobody is asked.
    pub fn ask(&mut self, question: &Question) {
        self.asked.insert(question.key, question.typed.clone());
    }

    /// Whether the line under the field stands open.
    #[must_use]
    pub fn is_open(&self, question: &Question) -> bool {
        self.asked.get(question.key) == Some(&question.typed) && self.kept.get(question.key) != Some(&question.typed)
    }

    /// Draws the line of an open question; `field_has_focus` lets its keys act inside the field.
    pub fn line(&mut self, ui: &mut egui::Ui, question: &Question) -> Option<Answer> {
        let colours = palette(ui);
        let mut answer = None;
        Frame::new().fill(colours.act_tint).inner_margin(Margin::symmetric(8, 5)).show(ui, |ui| {
            ui.set_width(ui.available_width());
            let words = RichText::new(format!("{}.", question.sentence)).font(semibold(size::BODY)).color(colours.act);
            ui.add(egui::Label::new(words).wrap());
            ui.horizontal(|ui| {
                if question.likely.is_some()
                    && foot_key(ui, FootKey { printed: "Space", does: "take the likely figure" }, true).clicked()
                {
                    answer = Some(Answer::Take);
                }
                if foot_key(ui, FootKey { printed: "Enter", does: "keep it as doubted" }, true).clicked() {
                    answer = Some(Answer::Keep);
                }
            });
            if question.likely.is_none() {
                let hint = RichText::new("or type it again").font(sans(size::LABEL)).color(colours.ink2);
                ui.label(hint);
            }
        });
        answer
    }

    /// Puts an answer into effect.
    pub fn answer(&mut self, draft: &mut Draft, question: &Question, answer: Answer, others_typed: bool) {
        match (answer, &question.likely) {
            (Answer::Take, Some((likely, None))) => draft.set(question.key, likely.clone()),
            (Answer::Take, Some((likely, Some(unit)))) => take_unit(draft, question, likely, *unit, others_typed),
            (Answer::Keep, _) | (Answer::Take, None) => {
                self.kept.insert(question.key, question.typed.clone());
            }
        }
        self.asked.remove(question.key);
    }
}

/// A figure that fits another unit: the reading takes that unit, unless other strokes stand in it.
fn take_unit(draft: &mut Draft, question: &Question, likely: &str, unit: Unit, others_typed: bool) {
    let (key, unit_key) = (question.key, question.unit_key);
    let converted = Unit::from_symbol(draft.get(unit_key)).zip(likely.parse::<f64>().ok());
    match converted {
        Some((current, value)) if others_typed => {
            let value = current.from_base(unit.to_base(value));
            draft.set(key, significant(value));
        }
        _ => {
            draft.set(key, likely);
            draft.set(unit_key, unit.symbol());
        }
    }
}

/// Four significant digits, as short as they can be.
fn significant(value: f64) -> String {
    format!("{value:.3e}").parse::<f64>().unwrap_or(value).to_string()
}

/// Space and Enter of an open question, taken before the field sees them.
pub fn pressed(ui: &egui::Ui, question: &Question) -> Option<Answer> {
    ui.input_mut(|input| {
        if question.likely.is_some() && input.consume_key(Modifiers::NONE, Pressed::Space) {
            input.events.retain(|event| !matches!(event, egui::Event::Text(text) if text == " "));
            return Some(Answer::Take);
        }
        input.consume_key(Modifiers::NONE, Pressed::Enter).then_some(Answer::Keep)
    })
}

/// Whether Enter or Tab would leave the field now; the key is taken, so that the focus stays.
#[must_use]
pub fn is_left_by_key(ui: &egui::Ui) -> bool {
    let (enter, tab) = ui.input_mut(|input| {
        (input.consume_key(Modifiers::NONE, Pressed::Enter), input.consume_key(Modifiers::NONE, Pressed::Tab))
    });
    if tab {
        ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::None));
    }
    enter || tab
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::interface::Interface;
    use almanac_core::moment::parse_iso_date;
    use almanac_core::spindle::Spindle;
    use almanac_core::units::Kilonewtons;
    use std::sync::Arc;

    fn questions(draft: &Draft, unit: Unit) -> Vec<Question> {
        let spindle = Spindle::named("S-0104", Interface::parse("HSK-F63").unwrap(), Kilonewtons::new(11.0).unwrap());
        let shop = Shop { spindles: Arc::new([(SpindleId::from_row(1), spindle)].into()), ..Shop::default() };
        let at = Moment::day(parse_iso_date("2026-03-02").unwrap());
        stroke_questions(draft, &["stroke 1", "stroke 2"], (unit, "unit"), &shop, SpindleId::from_row(1), at)
    }

    #[test]
    fn a_moved_point_is_asked_about_and_the_likely_figure_taken() {
        let mut draft = Draft::default().with("unit", "kN").with("stroke 1", "10.1").with("stroke 2", "101.5");
        let asked = questions(&draft, Unit::Kilonewton);
        assert_eq!(asked.len(), 1);
        assert_eq!(asked[0].likely, Some(("10.15".to_owned(), None)));
        let mut slips = Slips::default();
        assert_eq!(slips.unanswered(&asked).len(), 1);
        slips.answer(&mut draft, &asked[0], Answer::Take, true);
        assert_eq!(draft.get("stroke 2"), "10.15");
        assert!(questions(&draft, Unit::Kilonewton).is_empty());
    }

    #[test]
    fn a_kept_figure_is_doubted_until_it_is_typed_anew() {
        let mut draft = Draft::default().with("unit", "kN").with("stroke 1", "101.5");
        let asked = questions(&draft, Unit::Kilonewton);
        let mut slips = Slips::default();
        slips.answer(&mut draft, &asked[0], Answer::Keep, false);
        assert!(slips.unanswered(&asked).is_empty());
        assert!(slips.doubt(&asked, &["stroke 1"]).unwrap().starts_with("101.5 kN is far from"));
        draft.set("stroke 1", "105.1");
        let again = questions(&draft, Unit::Kilonewton);
        assert_eq!(slips.unanswered(&again).len(), 1);
        assert_eq!(slips.doubt(&again, &["stroke 1"]), None);
    }

    #[test]
    fn another_unit_is_taken_for_the_whole_reading_or_converted() {
        let mut draft = Draft::default().with("unit", "kN").with("stroke 1", "2270");
        let asked = questions(&draft, Unit::Kilonewton);
        assert_eq!(asked[0].likely, Some(("2270".to_owned(), Some(Unit::PoundForce))));
        let mut slips = Slips::default();
        let mut first = draft.clone();
        slips.answer(&mut first, &asked[0], Answer::Take, false);
        assert_eq!((first.get("unit"), first.get("stroke 1")), ("lbf", "2270"));
        slips.answer(&mut draft, &asked[0], Answer::Take, true);
        // 2270 lbf x 4.4482216152605 N/lbf = 10.097 kN (NIST SP 811)
        assert_eq!((draft.get("unit"), draft.get("stroke 1")), ("kN", "10.1"));
    }
}
