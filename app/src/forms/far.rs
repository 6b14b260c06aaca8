//! A figure far outside what is expected that no slip explains: a line under the strokes asks about
//! it, and keeps nothing from being saved. Under the stop limit the caution shows at once.

use super::draft::{Draft, FieldErrors, Key};
use super::facts;
use super::reading_draft::stroke;
use crate::pages::PageContext;
use crate::theme::{palette, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::ruler::Span;
use almanac_core::expected;
use almanac_core::ids::SpindleId;
use almanac_core::reading::Phase;
use almanac_core::units::{Quantity, Unit};
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Frame, Key as Pressed, Margin, Modifiers, RichText};
use std::collections::BTreeMap;

/// A far figure in a field.
#[derive(Debug, Clone, PartialEq)]
pub struct FarFigure {
    /// The field.
    pub key: Key,
    /// What was typed.
    pub typed: String,
    /// What is said about it, without a full stop.
    pub sentence: String,
    /// Further digits could still bring it into the range.
    may_reach: bool,
}

/// What figures of a reading are held against, in its unit.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    band: Span,
    middle: f64,
    /// Nobody is asked about a figure in it.
    unasked: Span,
    may_drop: bool,
    unit: Unit,
}

impl Measure {
    /// What a reading of that day and phase is held against; `None` where nothing is expected.
    #[must_use]
    pub fn of(context: &PageContext<'_>, spindle: SpindleId, day: NaiveDate, phase: Phase, unit: Unit) -> Option<Self> {
        let forecast = facts::forecast_of(context, spindle)?;
        let limits = facts::limits_of(context.shop, spindle)?;
        let span = |low: f64, high: f64| Span { low: unit.from_base(low), high: unit.from_base(high) };
        let (band, middle, unasked) = match unit.quantity() {
            Quantity::ClampForce => {
                let band = expected::force(forecast, context.forecast?.as_of, day, phase)?;
                let (low, high) = expected::unasked_force(&band, limits.nominal_force.value);
                (span(band.low.get(), band.high.get()), band.middle.get(), span(low.get(), high.get()))
            }
            Quantity::SettingDimension => {
                let band = expected::setting(forecast, phase)?;
                let (low, high) = expected::unasked_setting(&band, limits.setting()?.1);
                (span(band.low.get(), band.high.get()), band.middle.get(), span(low.get(), high.get()))
            }
        };
        let may_drop = unit.quantity() == Quantity::ClampForce && phase != Phase::AsLeft;
        Some(Self { band, middle: unit.from_base(middle), unasked, may_drop, unit })
    }

    /// The far figures among some fields.
    #[must_use]
    pub fn figures(&self, draft: &Draft, keys: &[Key]) -> Vec<FarFigure> {
        keys.iter().filter_map(|key| self.figure(draft.trimmed(key), key)).collect()
    }

    fn figure(&self, typed: &str, key: Key) -> Option<FarFigure> {
        let unit = self.unit;
        let value = stroke(typed, unit)?.typed_value();
        let is_low = value < self.unasked.low;
        if value <= 0.0 || !(is_low || value > self.unasked.high) {
            return None;
        }
        let shown = |value: f64| facts::figure(unit.to_base(value), unit, false);
        let way = if is_low { "below" } else { "above" };
        let (low, high) = (shown(self.band.low), shown(self.band.high));
        let mut sentence = format!("{typed} {unit} is far {way} the {low} to {high} {unit} expected here");
        if is_low && self.may_drop {
            let drop = words::number((1.0 - value / self.middle) * 100.0, 0);
            sentence.push_str(&format!(", a drop of {drop} %: read again; if it stays, it may be a step drop"));
        }
        let may_reach = may_reach(typed, value, self.unasked);
        Some(FarFigure { key, typed: typed.to_owned(), sentence, may_reach })
    }
}

/// Whether further digits after a typed figure could bring it into a range: `1` may become 14.7,
/// `16.9` stays near 16.9.
fn may_reach(typed: &str, value: f64, range: Span) -> bool {
    let meets = |low: f64, high: f64| low <= range.high && high > range.low;
    match typed.rsplit_once(['.', ',']) {
        Some((_, decimals)) => {
            let step = 10_f64.powi(-i32::try_from(decimals.len()).unwrap_or(0));
            meets(value, value + step)
        }
        None => (0..4).any(|more| meets(value * 10_f64.powi(more), (value + 1.0) * 10_f64.powi(more))),
    }
}

/// What was answered about far figures.
#[derive(Debug, Clone, Default)]
pub struct FarAnswers {
    /// The text that was kept, and whether as doubted.
    kept: BTreeMap<Key, (String, bool)>,
    asked: BTreeMap<Key, String>,
    /// The field in which somebody types.
    typing: Option<Key>,
}

impl FarAnswers {
    /// Which field has the focus, from frame to frame.
    pub const fn set_typing(&mut self, key: Option<Key>) {
        self.typing = key;
    }

    /// Counts the figures of a record as answered.
    pub fn keep_all(&mut self, figures: &[FarFigure], doubted: bool) {
        self.kept.extend(figures.iter().map(|figure| (figure.key, (figure.typed.clone(), doubted))));
    }

    /// Asks although further digits could still change the figure.
    pub fn ask(&mut self, figure: &FarFigure) {
        self.asked.insert(figure.key, figure.typed.clone());
    }

    fn is_final(&self, key: Key, typed: &str, may_reach: bool) -> bool {
        !may_reach || self.typing != Some(key) || self.asked.get(key).is_some_and(|asked| asked == typed)
    }

    fn answer_to(&self, figure: &FarFigure) -> Option<bool> {
        self.kept.get(figure.key).filter(|(typed, _)| *typed == figure.typed).map(|(_, doubted)| *doubted)
    }

    /// Whether the line about a figure stands there and waits.
    #[must_use]
    pub fn is_open(&self, figure: &FarFigure) -> bool {
        self.answer_to(figure).is_none() && self.is_final(figure.key, &figure.typed, figure.may_reach)
    }

    /// Holds what nobody was told about yet: the line must have stood there before it is saved.
    pub fn hold(&self, figures: &[FarFigure], errors: &mut FieldErrors) {
        let is_untold = |figure: &FarFigure| self.answer_to(figure).is_none() && !self.is_open(figure);
        errors.is_to_ask |= figures.iter().any(is_untold);
    }

    /// Why the reading is doubted: what is said about the figures that were kept as such.
    #[must_use]
    pub fn doubt(&self, figures: &[FarFigure]) -> Option<String> {
        let doubted = figures.iter().filter(|figure| self.answer_to(figure) == Some(true));
        let sentences: Vec<&str> = doubted.map(|figure| figure.sentence.as_str()).collect();
        (!sentences.is_empty()).then(|| sentences.join("; "))
    }

    /// The keys of an open line while its field has the focus. Enter and D lead on.
    pub fn take_keys(&mut self, ui: &egui::Ui, draft: &mut Draft, figure: &FarFigure) {
        if !self.is_open(figure) {
            return;
        }
        let taken = |key: Pressed| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
        // letters are no figures: whichever of key and text comes first answers, and is not typed
        let letter = ui.input_mut(|input| {
            let before = input.events.len();
            input.events.retain(|event| !matches!(event, egui::Event::Text(text) if ["d", "D"].contains(&&**text)));
            input.events.len() < before
        }) | taken(Pressed::D);
        let answer = if taken(Pressed::Space) {
            FarAnswer::Again
        } else if taken(Pressed::Enter) {
            FarAnswer::Keep { doubted: false }
        } else if letter {
            FarAnswer::Keep { doubted: true }
        } else {
            return;
        };
        if answer == FarAnswer::Again {
            ui.input_mut(|input| {
                input.events.retain(|event| !matches!(event, egui::Event::Text(text) if text == " "));
            });
        }
        self.answer(draft, figure, answer);
        if answer != FarAnswer::Again {
            ui.memory_mut(|memory| memory.move_focus(egui::FocusDirection::Next));
        }
    }

    fn answer(&mut self, draft: &mut Draft, figure: &FarFigure, answer: FarAnswer) {
        match answer {
            FarAnswer::Again => draft.set(figure.key, ""),
            FarAnswer::Keep { doubted } => {
                self.kept.insert(figure.key, (figure.typed.clone(), doubted));
            }
        }
        self.asked.remove(figure.key);
    }

    /// The lines: what is asked, or how it was answered.
    pub fn lines(&mut self, ui: &mut egui::Ui, draft: &mut Draft, figures: &[FarFigure]) {
        for figure in figures {
            match self.answer_to(figure) {
                Some(true) => super::layout::quiet(ui, &format!("{}: kept as doubted.", figure.sentence)),
                Some(false) => super::layout::quiet(ui, &format!("{}: kept as typed.", figure.sentence)),
                None if self.is_open(figure) => {
                    if let Some(answer) = line(ui, &figure.sentence) {
                        self.answer(draft, figure, answer);
                    }
                }
                None => {}
            }
        }
    }

    /// Whether a stroke that nobody is still typing lies under a limit, in the unit of the reading.
    #[must_use]
    pub fn is_below(&self, draft: &Draft, keys: &[Key], unit: Unit, limit: f64) -> bool {
        // no reading lies over twice the limit
        let fits = Span { low: limit, high: 2.0 * limit };
        keys.iter().any(|key| {
            let typed = draft.trimmed(key);
            let value = stroke(typed, unit).map(|stroke| stroke.typed_value()).filter(|value| *value > 0.0);
            value.is_some_and(|value| value < limit && self.is_final(key, typed, may_reach(typed, value, fits)))
        })
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FarAnswer {
    Again,
    Keep { doubted: bool },
}

fn line(ui: &mut egui::Ui, sentence: &str) -> Option<FarAnswer> {
    let colours = palette(ui);
    let mut answer = None;
    Frame::new().fill(colours.act_tint).inner_margin(Margin::symmetric(8, 5)).show(ui, |ui| {
        ui.set_width(ui.available_width());
        let words = RichText::new(format!("{sentence}.")).font(semibold(size::BODY)).color(colours.act);
        ui.add(egui::Label::new(words).wrap());
        ui.horizontal_wrapped(|ui| {
            let offered = [
                ("Space", "enter again", FarAnswer::Again),
                ("Enter", "keep it", FarAnswer::Keep { doubted: false }),
                ("D", "keep as doubted", FarAnswer::Keep { doubted: true }),
            ];
            for (printed, does, what) in offered {
                if foot_key(ui, FootKey { printed, does }, true).clicked() {
                    answer = Some(what);
                }
            }
        });
    });
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measure() -> Measure {
        Measure {
            band: Span { low: 14.6, high: 14.8 },
            middle: 14.7,
            unasked: Span { low: 13.8, high: 15.6 },
            may_drop: true,
            unit: Unit::Kilonewton,
        }
    }

    #[track_caller]
    fn check(typed: &str, expected: Option<(&str, bool)>) {
        let figure = measure().figure(typed, "stroke 1");
        let said = figure.as_ref().map(|figure| (figure.sentence.as_str(), figure.may_reach));
        assert_eq!(said, expected, "{typed}");
    }

    #[test]
    fn a_far_figure_is_told_from_one_that_is_still_typed() {
        check("14.2", None);
        check("15.5", None);
        check("16.9", Some(("16.9 kN is far above the 14.6 to 14.8 kN expected here", false)));
        let low = "is far below the 14.6 to 14.8 kN expected here, a drop of";
        let read = "read again; if it stays, it may be a step drop";
        check("1", Some((&format!("1 kN {low} 93 %: {read}"), true)));
        check("11", Some((&format!("11 kN {low} 25 %: {read}"), false)));
        check("11,0", Some((&format!("11,0 kN {low} 25 %: {read}"), false)));
        check("13", Some((&format!("13 kN {low} 12 %: {read}"), true)));
        check("", None);
    }

    #[test]
    fn a_figure_under_the_limit_counts_once_no_digit_can_lift_it() {
        let mut answers = FarAnswers::default();
        let below = |answers: &FarAnswers, typed: &str| {
            let draft = Draft::default().with("stroke 1", typed);
            answers.is_below(&draft, &["stroke 1"], Unit::Kilonewton, 12.6)
        };
        answers.set_typing(Some("stroke 1"));
        assert!(!below(&answers, "1"), "may become 14.7");
        assert!(!below(&answers, "12"), "may become 12.9");
        assert!(below(&answers, "11"));
        assert!(below(&answers, "12.5"));
        assert!(!below(&answers, "12.6"));
        answers.set_typing(None);
        assert!(below(&answers, "1"));
    }
}
