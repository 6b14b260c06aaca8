//! Content lines of iCalendar: CRLF, folded, texts escaped. Source: RFC 5545, sections 3.1 and 3.3.11.

/// The most octets of a line, its CRLF not counted.
const LONGEST: usize = 75;

/// A text as the value of a property: backslash, semicolon and comma escaped, line breaks of any
/// kind as `\n`; other control characters, which no text may hold, become spaces.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' | ';' | ',' => out.extend(['\\', letter]),
            '\r' => {
                // a pair is one line break
                letters.next_if_eq(&'\n');
                out.push_str("\\n");
            }
            '\n' => out.push_str("\\n"),
            '\t' => out.push('\t'),
            control if control.is_ascii_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// Content lines, one after the other.
#[derive(Debug, Clone, Default)]
pub struct ContentLines {
    out: String,
}

impl ContentLines {
    /// A property with a value that needs no escaping: a date, a fixed word, texts escaped already.
    /// `name` may carry parameters, such as `DTSTART;VALUE=DATE`.
    pub fn plain(&mut self, name: &str, value: &str) {
        let mut octets = 0;
        for letter in name.chars().chain([':']).chain(value.chars()) {
            if octets + letter.len_utf8() > LONGEST {
                self.out.push_str("\r\n ");
                octets = 1;
            }
            self.out.push(letter);
            octets += letter.len_utf8();
        }
        self.out.push_str("\r\n");
    }

    /// A property whose value is a text.
    pub fn text(&mut self, name: &str, value: &str) {
        self.plain(name, &escaped(value));
    }

    /// A property whose value is a list of texts.
    pub fn texts(&mut self, name: &str, values: &[&str]) {
        let values: Vec<String> = values.iter().map(|value| escaped(value)).collect();
        self.plain(name, &values.join(","));
    }

    /// All that was written.
    #[must_use]
    pub fn finish(self) -> String {
        self.out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(name: &str, value: &str) -> String {
        let mut lines = ContentLines::default();
        lines.plain(name, value);
        lines.finish()
    }

    /// 76 octets become 75, a fold, and one more: `ical_fold` of the collected cases.
    #[test]
    fn a_line_of_76_octets_is_folded_after_75() {
        let fits = "x".repeat(75 - "SUMMARY:".len());
        assert_eq!(lines("SUMMARY", &fits), format!("SUMMARY:{fits}\r\n"));
        assert_eq!(lines("SUMMARY", &format!("{fits}y")), format!("SUMMARY:{fits}\r\n y\r\n"));
    }

    #[test]
    fn no_letter_is_split() {
        let folded = lines("SUMMARY", &"ä".repeat(100));
        for line in folded.split("\r\n") {
            assert!(line.len() <= 75, "{} octets", line.len());
        }
        assert_eq!(folded.replace("\r\n ", ""), format!("SUMMARY:{}\r\n", "ä".repeat(100)));
        // 67 octets are free behind the name: 33 letters of two, so the first line has 74
        assert_eq!(folded.split("\r\n").next().map(str::len), Some(74));
    }

    #[test]
    fn texts_are_escaped() {
        assert_eq!(escaped("a;b,c\\d"), "a\\;b\\,c\\\\d");
        assert_eq!(escaped("one\r\ntwo\nthree\rfour"), "one\\ntwo\\nthree\\nfour");
        assert_eq!(escaped("bell\u{7} and tab\t"), "bell  and tab\t");
        let mut lines = ContentLines::default();
        lines.texts("CATEGORIES", &["a,b", "c"]);
        assert_eq!(lines.finish(), "CATEGORIES:a\\,b,c\r\n");
    }
}
