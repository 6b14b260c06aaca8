//! CSV text by RFC 4180, safe to open in a spreadsheet.
//!
//! **Formulas.** A spreadsheet runs a field that begins with `=`, `+`, `-`, `@`, a tab or a line
//! break. As OWASP describes for CSV injection, such a *text* gets an apostrophe in front and is
//! quoted; figures, dates and fixed words are written as they are, so that -3.2 stays a number.
//! The rule can be undone without loss: a text of any number of apostrophes followed by one of
//! those characters gets one more, and [`undo_harmless`] takes one away; all other texts,
//! such as `'tis`, are left alone both ways.

use std::borrow::Cow;
use std::fmt::Display;

/// Whether a text, apart from apostrophes in front, begins like a formula.
fn begins_like_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r', '\n'])
}

/// The text as it is written into a file so that no spreadsheet runs it.
#[must_use]
pub fn harmless(text: &str) -> Cow<'_, str> {
    if begins_like_formula(text) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// The inverse of [`harmless`] for a text read from a file.
#[must_use]
pub fn undo_harmless(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if begins_like_formula(rest) => rest,
        _ => text,
    }
}

/// Writes rows of fields: comma, CRLF, quotes where needed.
///
/// ```
/// use almanac_core::export::csv_text::CsvText;
/// let mut csv = CsvText::new();
/// csv.text("say \"hi\"").number(-3.2).text("=1+1").end_row();
/// assert_eq!(csv.finish(), "\"say \"\"hi\"\"\",-3.2,\"'=1+1\"\r\n");
/// ```
#[derive(Debug, Clone, Default)]
pub struct CsvText {
    out: String,
    row_begun: bool,
}

impl CsvText {
    /// No rows yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A field of words, made harmless against formulas.
    pub fn text(&mut self, text: &str) -> &mut Self {
        let safe = harmless(text);
        let guarded = matches!(safe, Cow::Owned(_));
        self.field(&safe, guarded);
        self
    }

    /// A field that cannot be a formula: a date, a fixed word, a header.
    pub fn plain(&mut self, text: &str) -> &mut Self {
        self.field(text, false);
        self
    }

    /// A number, or anything that prints as one.
    pub fn number(&mut self, number: impl Display) -> &mut Self {
        self.field(&number.to_string(), false);
        self
    }

    /// A number, or an empty field where there is none.
    pub fn optional(&mut self, number: Option<impl Display>) -> &mut Self {
        let text = number.map(|number| number.to_string()).unwrap_or_default();
        self.field(&text, false);
        self
    }

    /// Ends the row.
    pub fn end_row(&mut self) {
        self.out.push_str("\r\n");
        self.row_begun = false;
    }

    /// All that was written.
    #[must_use]
    pub fn finish(self) -> String {
        self.out
    }

    fn field(&mut self, text: &str, always_quoted: bool) {
        if self.row_begun {
            self.out.push(',');
        }
        self.row_begun = true;
        // a semicolon needs no quotes by the RFC, but spreadsheets of some countries split at it
        if always_quoted || text.contains([',', '"', '\r', '\n', ';']) {
            self.out.push('"');
            self.out.push_str(&text.replace('"', "\"\""));
            self.out.push('"');
        } else {
            self.out.push_str(text);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, written: &str) {
        assert_eq!(harmless(text), written);
        assert_eq!(undo_harmless(written), text);
    }

    #[test]
    fn every_text_comes_back() {
        check("=1+1", "'=1+1");
        check("'=1+1", "''=1+1");
        check("'tis", "'tis");
        check("''", "''");
        check("-", "'-");
        check("\tx", "'\tx");
        check("plain = text", "plain = text");
        check("", "");
    }

    #[test]
    fn empty_fields_keep_their_place() {
        let mut csv = CsvText::new();
        csv.plain("").text("").optional(None::<f64>).end_row();
        assert_eq!(csv.finish(), ",,\r\n");
    }
}
