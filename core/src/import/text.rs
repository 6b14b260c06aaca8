//! Reads CSV by RFC 4180 as a stream: one record at a time, with the line on which it begins.
//!
//! Forgiving where nothing can be lost (BOM, LF or CR or CRLF, `;` for `,`, a quote inside an
//! unquoted field); a quote that is never closed, or a record of absurd length, ends the reading of
//! the file, so that memory stays bounded whatever the file holds.

use std::io::{self, Read};

/// The longest record that is read, in bytes; a folder's longest rows have a few kilobytes.
const LONGEST_RECORD: usize = 1 << 20;
const BUFFER: usize = 1 << 16;

/// Why the reading of a file ended before its end.
#[derive(Debug)]
pub(super) enum Stop {
    /// The system could not read on.
    Io(io::Error),
    /// Nothing in it.
    Empty,
    /// Bytes that no text file holds; `utf16` where it begins like UTF-16.
    NotText { utf16: bool },
    /// A quoted field begins in the record of that line and does not end.
    QuoteNotClosed { line: u64 },
    /// The record of that line has no end within reason.
    TooLong { line: u64 },
}

/// One record; kept and filled anew so that reading allocates little.
#[derive(Debug, Default)]
pub(super) struct Record {
    bytes: Vec<u8>,
    ends: Vec<usize>,
    /// Line on which it begins, the first one being 1.
    pub(super) line: u64,
    /// Field in which something follows a closing quote.
    pub(super) stray_quote: Option<usize>,
}

impl Record {
    /// Number of fields.
    pub(super) fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether no field holds anything.
    pub(super) fn is_blank(&self) -> bool {
        self.bytes.iter().all(u8::is_ascii_whitespace)
    }

    /// The bytes of a field; nothing where there is none.
    pub(super) fn field(&self, index: usize) -> &[u8] {
        let Some(end) = self.ends.get(index) else { return &[] };
        let start = index.checked_sub(1).and_then(|before| self.ends.get(before)).copied().unwrap_or(0);
        self.bytes.get(start..*end).unwrap_or_default()
    }

    fn restart(&mut self, line: u64) {
        self.bytes.clear();
        self.ends.clear();
        self.line = line;
        self.stray_quote = None;
    }

    fn end_field(&mut self) {
        self.ends.push(self.bytes.len());
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    FieldStart,
    Unquoted,
    Quoted,
    QuoteInQuoted,
}

/// A CSV file being read.
pub(super) struct CsvReader<R> {
    input: R,
    buffer: Vec<u8>,
    at: usize,
    line: u64,
    separator: u8,
    skip_line_feed: bool,
    /// Bytes taken from the input so far.
    pub(super) taken: u64,
}

impl<R: Read> CsvReader<R> {
    /// Looks at the beginning of a file: byte order mark, separator, whether it is text at all.
    pub(super) fn new(input: R) -> Result<Self, Stop> {
        let mut reader =
            Self { input, buffer: Vec::new(), at: 0, line: 1, separator: b',', skip_line_feed: false, taken: 0 };
        reader.fill().map_err(Stop::Io)?;
        if reader.buffer.starts_with(&[0xFF, 0xFE]) || reader.buffer.starts_with(&[0xFE, 0xFF]) {
            return Err(Stop::NotText { utf16: true });
        }
        if reader.buffer.starts_with(&[0xEF, 0xBB, 0xBF]) {
            reader.at = 3;
        }
        if reader.rest().contains(&0) {
            return Err(Stop::NotText { utf16: false });
        }
        if reader.rest().iter().all(u8::is_ascii_whitespace) && reader.buffer.len() < BUFFER {
            return Err(Stop::Empty);
        }
        let first_line = reader.rest().iter().take_while(|byte| !matches!(byte, b'\n' | b'\r'));
        let (semicolons, commas) = first_line.fold((0, 0), |(semicolons, commas), byte| match byte {
            b';' => (semicolons + 1, commas),
            b',' => (semicolons, commas + 1),
            _ => (semicolons, commas),
        });
        if semicolons > commas {
            reader.separator = b';';
        }
        Ok(reader)
    }

    /// Whether fields are separated by semicolons.
    pub(super) fn by_semicolons(&self) -> bool {
        self.separator == b';'
    }

    /// Reads the next record; `false` at the end of the file.
    pub(super) fn read(&mut self, record: &mut Record) -> Result<bool, Stop> {
        if self.skip_line_feed && self.peek()? == Some(b'\n') {
            self.at += 1;
        }
        self.skip_line_feed = false;
        record.restart(self.line);
        let mut state = State::FieldStart;
        let mut begun = false;
        loop {
            let Some(next) = self.peek()? else {
                if state == State::Quoted {
                    return Err(Stop::QuoteNotClosed { line: record.line });
                }
                if begun {
                    record.end_field();
                }
                return Ok(begun);
            };
            begun = true;
            match state {
                State::FieldStart if next == b'"' => {
                    self.at += 1;
                    state = State::Quoted;
                }
                State::FieldStart | State::Unquoted => {
                    state = State::Unquoted;
                    match self.take_until(record, |byte, separator| matches!(byte, b'\n' | b'\r') || byte == separator)
                    {
                        None => {}
                        Some(byte) => {
                            record.end_field();
                            if matches!(byte, b'\n' | b'\r') {
                                self.line += 1;
                                self.skip_line_feed = byte == b'\r';
                                return Ok(true);
                            }
                            state = State::FieldStart;
                        }
                    }
                }
                State::Quoted => {
                    let from = record.bytes.len();
                    if self.take_until(record, |byte, _| byte == b'"').is_some() {
                        state = State::QuoteInQuoted;
                    }
                    let taken = record.bytes.get(from..).unwrap_or_default();
                    self.line += taken.iter().filter(|byte| **byte == b'\n').count() as u64;
                }
                State::QuoteInQuoted if next == b'"' => {
                    self.at += 1;
                    record.bytes.push(b'"');
                    state = State::Quoted;
                }
                State::QuoteInQuoted => {
                    if next != self.separator && !matches!(next, b'\n' | b'\r') {
                        record.stray_quote.get_or_insert(record.ends.len());
                    }
                    state = State::Unquoted;
                }
            }
            if record.bytes.len() > LONGEST_RECORD || record.ends.len() > LONGEST_RECORD {
                return Err(match state {
                    State::Quoted => Stop::QuoteNotClosed { line: record.line },
                    _ => Stop::TooLong { line: record.line },
                });
            }
        }
    }

    fn rest(&self) -> &[u8] {
        self.buffer.get(self.at..).unwrap_or_default()
    }

    fn peek(&mut self) -> Result<Option<u8>, Stop> {
        if self.at >= self.buffer.len() {
            self.fill().map_err(Stop::Io)?;
        }
        Ok(self.buffer.get(self.at).copied())
    }

    /// Moves bytes into the record up to a wanted one, which is skipped and returned; `None` where
    /// the buffer ends first.
    fn take_until(&mut self, record: &mut Record, wanted: impl Fn(u8, u8) -> bool) -> Option<u8> {
        let separator = self.separator;
        let rest = self.buffer.get(self.at..).unwrap_or_default();
        let found = rest.iter().position(|byte| wanted(*byte, separator));
        let taken = rest.get(..found.unwrap_or(rest.len())).unwrap_or_default();
        record.bytes.extend_from_slice(taken);
        let stop = found.and_then(|index| rest.get(index).copied());
        self.at += taken.len() + usize::from(stop.is_some());
        stop
    }

    fn fill(&mut self) -> io::Result<()> {
        self.buffer.resize(BUFFER, 0);
        self.at = 0;
        let mut filled = 0;
        while filled < BUFFER {
            match self.input.read(self.buffer.get_mut(filled..).unwrap_or_default()) {
                Ok(0) => break,
                Ok(count) => filled += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        self.buffer.truncate(filled);
        self.taken += filled as u64;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn records(text: &str) -> Vec<(u64, Vec<String>)> {
        let mut reader = CsvReader::new(text.as_bytes()).unwrap();
        let mut record = Record::default();
        let mut all = Vec::new();
        while reader.read(&mut record).unwrap() {
            let fields = (0..record.len()).map(|i| String::from_utf8(record.field(i).to_vec()).unwrap()).collect();
            all.push((record.line, fields));
        }
        all
    }

    #[track_caller]
    fn check(text: &str, expected: &[(u64, &[&str])]) {
        let expected: Vec<(u64, Vec<String>)> = expected
            .iter()
            .map(|(line, fields)| (*line, fields.iter().map(|field| (*field).to_owned()).collect()))
            .collect();
        assert_eq!(records(text), expected);
    }

    #[test]
    fn records_with_their_lines() {
        check("a,b\r\n1,\"x\r\ny\"\r\n2,\r\n", &[(1, &["a", "b"]), (2, &["1", "x\r\ny"]), (4, &["2", ""])]);
        check("\u{feff}a;b\n1,5;\"say \"\"hi\"\"\"", &[(1, &["a", "b"]), (2, &["1,5", "say \"hi\""])]);
        check("a,b\r1,2\r", &[(1, &["a", "b"]), (2, &["1", "2"])]);
        check("a,b\n\n\"\",5\" pipe\n", &[(1, &["a", "b"]), (2, &[""]), (3, &["", "5\" pipe"])]);
    }

    #[test]
    fn endless_and_binary_files_stop() {
        let quote = CsvReader::new(b"a,b\n1,\"never closed\n2,3\n".as_slice()).and_then(|mut reader| {
            let mut record = Record::default();
            while reader.read(&mut record)? {}
            Ok(())
        });
        assert!(matches!(quote, Err(Stop::QuoteNotClosed { line: 2 })));
        let mut endless = CsvReader::new(io::repeat(b'x')).unwrap();
        assert!(matches!(endless.read(&mut Record::default()), Err(Stop::TooLong { line: 1 })));
        assert!(matches!(CsvReader::new(b"a\0b".as_slice()), Err(Stop::NotText { utf16: false })));
        assert!(matches!(CsvReader::new(b"\xff\xfea\0".as_slice()), Err(Stop::NotText { utf16: true })));
        assert!(matches!(CsvReader::new(b" \r\n".as_slice()), Err(Stop::Empty)));
    }
}
