//! A draft of texts and the reader that turns it into typed values or says what is wrong.

use almanac_core::moment::Moment;
use almanac_core::typed_date::{Lean, parse_typed_date};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The name of a field: its label on the screen and its accessible name.
pub type Key = &'static str;

/// What stands in the fields of a form, as typed.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    texts: BTreeMap<Key, String>,
}

/// A field that is empty is as good as one that was never shown.
impl PartialEq for Draft {
    fn eq(&self, other: &Self) -> bool {
        self.filled().eq(other.filled())
    }
}

impl Eq for Draft {}

impl Draft {
    /// The fields in which something stands.
    fn filled(&self) -> impl Iterator<Item = (&Key, &String)> {
        self.texts.iter().filter(|(_, text)| !text.is_empty())
    }

    /// The text of a field; empty where nothing was typed.
    #[must_use]
    pub fn get(&self, key: Key) -> &str {
        self.texts.get(key).map_or("", String::as_str)
    }

    /// The text of a field without the blanks around it.
    #[must_use]
    pub fn trimmed(&self, key: Key) -> &str {
        self.get(key).trim()
    }

    /// Whether a field was ever shown or set.
    #[must_use]
    pub fn has(&self, key: Key) -> bool {
        self.texts.contains_key(key)
    }

    /// Puts a text into a field.
    pub fn set(&mut self, key: Key, text: impl Into<String>) {
        self.texts.insert(key, text.into());
    }

    /// The text of a field, to be edited.
    pub fn text_mut(&mut self, key: Key) -> &mut String {
        self.texts.entry(key).or_default()
    }

    /// The same draft with a text in a field: for tests and first values.
    #[must_use]
    pub fn with(mut self, key: Key, text: impl Into<String>) -> Self {
        self.set(key, text);
        self
    }

    /// A tick is kept as `yes` or nothing.
    #[must_use]
    pub fn is_ticked(&self, key: Key) -> bool {
        self.trimmed(key) == "yes"
    }

    /// Sets or takes away a tick.
    pub fn set_tick(&mut self, key: Key, ticked: bool) {
        self.set(key, if ticked { "yes" } else { "" });
    }
}

/// What keeps a draft from being saved.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FieldErrors {
    /// What is not filled in yet, in the order of the form.
    pub missing: Vec<String>,
    /// What is wrong with a field, in words.
    pub wrong: BTreeMap<Key, String>,
    /// Questions that stand open, such as `stroke 1 (169)`.
    pub questions: Vec<String>,
    /// Something is still to be asked; the question does not stand there yet.
    pub is_to_ask: bool,
}

impl FieldErrors {
    /// What is wrong with a field.
    #[must_use]
    pub fn of(&self, key: Key) -> Option<&str> {
        self.wrong.get(key).map(String::as_str)
    }

    /// Whether nothing keeps the draft from being saved.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.missing.is_empty() && self.wrong.is_empty() && self.questions.is_empty() && !self.is_to_ask
    }

    /// The foot sentence: what is missing, what is wrong, what is asked.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut parts = Vec::new();
        if !self.missing.is_empty() {
            parts.push(format!("Missing: {}.", self.missing.join(", ")));
        }
        match self.wrong.len() {
            0 => {}
            1 => parts.extend(self.wrong.keys().map(|key| format!("Mend {key}."))),
            _ => parts.push(format!("Mend {}.", self.wrong.keys().copied().collect::<Vec<_>>().join(", "))),
        }
        if !self.questions.is_empty() {
            let noun = if self.questions.len() == 1 { "question" } else { "questions" };
            parts.push(format!("Answer the {noun} on {}.", self.questions.join(", ")));
        }
        parts.join(" ")
    }
}

/// Reads a draft field by field and collects what is missing or wrong.
#[derive(Debug)]
pub struct Reader<'a> {
    draft: &'a Draft,
    today: NaiveDate,
    errors: FieldErrors,
}

impl<'a> Reader<'a> {
    /// A reader; `today` is the day from which typed days count.
    #[must_use]
    pub fn new(draft: &'a Draft, today: NaiveDate) -> Self {
        Self { draft, today, errors: FieldErrors::default() }
    }

    /// The day that stands for now.
    #[must_use]
    pub const fn today(&self) -> NaiveDate {
        self.today
    }

    /// Says what is wrong with a field; the first sentence stays.
    pub fn wrong(&mut self, key: Key, sentence: impl ToString) {
        self.errors.wrong.entry(key).or_insert_with(|| sentence.to_string());
    }

    /// Says that something is missing.
    pub fn missing(&mut self, what: impl ToString) {
        self.errors.missing.push(what.to_string());
    }

    /// The text of a field; empty is allowed.
    #[must_use]
    pub fn text(&self, key: Key) -> String {
        self.draft.trimmed(key).to_owned()
    }

    /// The text of a field, `None` where empty.
    #[must_use]
    pub fn optional_text(&self, key: Key) -> Option<String> {
        let text = self.draft.trimmed(key);
        (!text.is_empty()).then(|| text.to_owned())
    }

    /// The text of a field that must be filled.
    pub fn required_text(&mut self, key: Key) -> Option<String> {
        let text = self.optional_text(key);
        if text.is_none() {
            self.missing(key);
        }
        text
    }

    /// A field through a function; `None` where empty, an error with `expected` where it does not fit.
    pub fn optional<T>(&mut self, key: Key, expected: &str, parse: impl Fn(&str) -> Option<T>) -> Option<T> {
        let text = self.draft.trimmed(key);
        if text.is_empty() {
            return None;
        }
        let value = parse(text);
        if value.is_none() {
            self.wrong(key, format!("'{text}' does not fit; expected {expected}"));
        }
        value
    }

    /// The same for a field that must be filled.
    pub fn required<T>(&mut self, key: Key, expected: &str, parse: impl Fn(&str) -> Option<T>) -> Option<T> {
        if self.draft.trimmed(key).is_empty() {
            self.missing(key);
        }
        self.optional(key, expected, parse)
    }

    /// A day, typed as people type days: `2026-03-17`, `17.3.`, `+14`, `fri`.
    pub fn day(&mut self, key: Key, lean: Lean) -> Option<NaiveDate> {
        let text = self.draft.trimmed(key);
        if text.is_empty() {
            return None;
        }
        match parse_typed_date(text, self.today, lean) {
            Ok(day) => Some(day),
            Err(error) => {
                self.wrong(key, error);
                None
            }
        }
    }

    /// A day that must be given.
    pub fn required_day(&mut self, key: Key, lean: Lean) -> Option<NaiveDate> {
        if self.draft.trimmed(key).is_empty() {
            self.missing(key);
        }
        self.day(key, lean)
    }

    /// When something happened: a day, maybe with a time of day, not after today.
    pub fn past_moment(&mut self, key: Key) -> Option<Moment> {
        let text = self.draft.trimmed(key);
        if text.is_empty() {
            self.missing(key);
            return None;
        }
        let moment = match Moment::parse(text) {
            Some(moment) => moment,
            None => Moment::day(self.day(key, Lean::Back)?),
        };
        if moment.date > self.today {
            self.wrong(key, format!("{} lies after today, {}", moment.date, self.today));
            return None;
        }
        Some(moment)
    }

    /// Whether anything is missing or wrong so far.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.errors.is_empty()
    }

    /// The value, or all that is missing or wrong.
    ///
    /// # Errors
    /// What was collected, also where no value came out.
    pub fn finish<T>(mut self, value: Option<T>) -> Result<T, FieldErrors> {
        match value {
            Some(value) if self.errors.is_empty() => Ok(value),
            _ => {
                if self.errors.is_empty() {
                    self.missing("a value");
                }
                Err(self.errors)
            }
        }
    }
}

/// A figure above or equal to zero as typed: `14206`, `14,206`, `9.5` or `9,5`.
///
/// A comma before exactly three digits parts thousands, any other comma is a decimal one.
#[must_use]
pub fn plain_number(text: &str) -> Option<f64> {
    let normal = with_decimal_point(text, true)?;
    normal.parse::<f64>().ok().filter(|value| value.is_finite())
}

/// A typed figure with a decimal point in place of a comma, thousands commas taken out.
///
/// `thousands`: whether a comma before exactly three digits parts thousands.
#[must_use]
pub fn with_decimal_point(text: &str, thousands: bool) -> Option<String> {
    let text: String = text.trim().chars().filter(|c| !c.is_whitespace() && *c != '\u{202f}').collect();
    let parts: Vec<&str> = text.split(',').collect();
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let normal = match parts.as_slice() {
        [whole] => (*whole).to_owned(),
        [whole, rest] if !thousands || rest.split('.').next().is_some_and(|d| d.len() != 3) => {
            if rest.contains('.') {
                return None;
            }
            format!("{whole}.{rest}")
        }
        [first, rest @ ..] => {
            let groups_fit = rest.iter().enumerate().all(|(index, group)| {
                let whole = if index + 1 == rest.len() { group.split('.').next().unwrap_or_default() } else { group };
                whole.len() == 3 && digits(whole)
            });
            if !groups_fit || !digits(first.trim_start_matches('-')) || first.len() > 4 {
                return None;
            }
            format!("{first}{}", rest.concat())
        }
        [] => return None,
    };
    let plain = normal.chars().all(|c| c.is_ascii_digit() || c == '.' || c == '-');
    (plain && normal.parse::<f64>().is_ok()).then_some(normal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, expected: Option<f64>) {
        assert_eq!(plain_number(text), expected, "{text}");
    }

    #[test]
    fn commas_part_thousands_or_are_decimal() {
        check("14206", Some(14_206.0));
        check("14,206", Some(14_206.0));
        check("1,204,206", Some(1_204_206.0));
        check("14 206", Some(14_206.0));
        check("9,5", Some(9.5));
        check("14,206.5", Some(14_206.5));
        check("1,2,3", None);
        check("abc", None);
        check("1e5", None);
        check("NaN", None);
        check("", None);
        assert_eq!(with_decimal_point("10,150", false).as_deref(), Some("10.150"));
        assert_eq!(with_decimal_point("9,1", true).as_deref(), Some("9.1"));
    }

    #[test]
    fn the_sentence_names_what_is_missing_and_what_to_mend() {
        let errors = FieldErrors {
            missing: vec!["stroke 1".to_owned(), "gauge".to_owned()],
            wrong: [("date", "x".to_owned())].into(),
            ..FieldErrors::default()
        };
        assert_eq!(errors.sentence(), "Missing: stroke 1, gauge. Mend date.");
        let asked = FieldErrors { questions: vec!["stroke 1 (169)".to_owned()], ..FieldErrors::default() };
        assert_eq!(asked.sentence(), "Answer the question on stroke 1 (169).");
        assert!(!asked.is_empty());
    }

    #[test]
    fn a_day_after_today_is_refused_in_words() {
        let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        let draft = Draft::default().with("date", "2026-03-03");
        let mut reader = Reader::new(&draft, today);
        assert!(reader.past_moment("date").is_none());
        let errors = reader.finish(Some(())).unwrap_err();
        assert_eq!(errors.of("date"), Some("2026-03-03 lies after today, 2026-03-02"));
    }
}
