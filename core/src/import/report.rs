//! What an import found: counts, refused rows, questions, remarks.

use crate::ids::{MeterReadingId, ReadingId, ServiceId};
use crate::moment::Moment;
use crate::plausibility::{MeterCount, SlipKind};
use crate::tables::FolderTable;
use crate::units::Unit;
use std::fmt;

/// How many refused rows, questions and remarks are listed in a window; all are counted.
pub const LISTED: usize = 1_000;

/// How much of what an import found is listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ImportLimits {
    /// How many refused rows, and how many questions, are listed; all are counted.
    pub listed: usize,
}

impl ImportLimits {
    /// For a report that is to name every row. A file of more faults than this is no shop's; what
    /// lies beyond is counted, and the report says so.
    pub const ALL: Self = Self { listed: 1_000_000 };
}

impl Default for ImportLimits {
    fn default() -> Self {
        Self { listed: LISTED }
    }
}

/// What an import found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ImportReport {
    /// Per file, in the order in which they were given.
    pub files: Vec<FileReport>,
    /// The first refused rows, by file and row; how many, the [`ImportLimits`] said.
    pub refused: Vec<Refused>,
    /// How many were refused in all.
    pub refused_count: usize,
    /// The first questions, by file and row.
    pub questions: Vec<Question>,
    /// How many figures are questioned in all.
    pub question_count: usize,
    /// What was left out without harm, such as unknown columns.
    pub notes: Vec<Note>,
}

/// What one file brought.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FileReport {
    /// Its name.
    pub file: String,
    /// Which table it is; `None` where that is not known.
    pub table: Option<FolderTable>,
    /// Its columns.
    pub columns: Vec<ColumnReport>,
    /// Rows that come in.
    pub new: usize,
    /// Rows that are already there.
    pub already_here: usize,
    /// Rows that change what is there.
    pub changed: usize,
    /// Rows that are refused; a file refused as a whole counts one.
    pub refused: usize,
}

/// One column of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnReport {
    /// Its name in the file.
    pub name: String,
    /// Our column; `None`: left out.
    pub ours: Option<&'static str>,
    /// The first value in it.
    pub sample: String,
}

/// A row that does not come in, or a file, then with the row of its header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Name of the file.
    pub file: String,
    /// Line of the file on which the row begins; the header is line 1.
    pub row: u64,
    /// Column; empty where the row as a whole is meant.
    pub column: String,
    /// What stands there.
    pub value: String,
    /// What is wrong.
    pub why: String,
    /// How to mend it.
    pub mend: String,
    /// How many rows it stands for: all rows of a file that wait for another file are told in one.
    pub rows: usize,
}

impl fmt::Display for Refused {
    /// One sentence: `readings.csv, row 17, phase "as_fond": is not a phase; did you mean as_found?`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, row {}", self.file, self.row)?;
        if !self.column.is_empty() {
            write!(f, ", {} \"{}\"", self.column, self.value)?;
        }
        write!(f, ": {}; {}", self.why, self.mend)
    }
}

/// A figure that cannot be right; it comes in as typed unless the likely figure is taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Name of the file.
    pub file: String,
    /// Line of the file on which the row begins.
    pub row: u64,
    /// Column.
    pub column: &'static str,
    /// What stands there.
    pub value: String,
    /// Why it is questioned.
    pub why: String,
    /// The likely right value, where one fits.
    pub likely: Option<String>,
    /// What stands in the record's `doubt` unless the likely value is taken.
    pub doubt: String,
    /// What kind of slip.
    pub kind: SlipKind,
    /// What it has in common with others that can be answered together: quantity, kind and factor,
    /// such as `kN ten times too large`.
    pub alike: String,
    /// Which record of the batch, and what taking the likely value does to it.
    pub target: Target,
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, row {}, {} \"{}\": {}", self.file, self.row, self.column, self.value, self.why)
    }
}

/// The record a question is about.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// A force or setting-dimension reading.
    Reading(ReadingId, Option<Fix>),
    /// A meter reading.
    Meter(MeterReadingId, Option<Fix>),
    /// A service.
    Service(ServiceId, Option<Fix>),
}

/// What taking the likely value changes.
#[derive(Debug, Clone, PartialEq)]
pub enum Fix {
    /// Strokes, from 0, with their new texts.
    Strokes(Vec<(usize, String)>),
    /// The unit of all strokes.
    Unit(Unit),
    /// Run hours or clamp cycles.
    Meter(MeterCount, f64),
    /// The day.
    At(Moment),
}

/// Something left out without harm.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// Name of the file.
    pub file: String,
    /// What, in one sentence without a full stop.
    pub text: String,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.file, self.text)
    }
}

impl ImportReport {
    /// New rows of all files.
    #[must_use]
    pub fn new_rows(&self) -> usize {
        self.files.iter().map(|file| file.new).sum()
    }

    /// Rows of all files that are already there.
    #[must_use]
    pub fn already_here(&self) -> usize {
        self.files.iter().map(|file| file.already_here).sum()
    }

    /// Rows of all files that change what is there.
    #[must_use]
    pub fn changed(&self) -> usize {
        self.files.iter().map(|file| file.changed).sum()
    }

    /// How many refused rows are counted but not listed.
    #[must_use]
    pub fn refused_unlisted(&self) -> usize {
        self.refused_count.saturating_sub(self.refused.iter().map(|refused| refused.rows).sum())
    }

    /// The result in one line: `1,204 new, 96 already here, 3 refused`.
    #[must_use]
    pub fn summary(&self) -> String {
        let counts = [
            (self.new_rows(), "new"),
            (self.changed(), "changed"),
            (self.already_here(), "already here"),
            (self.refused_count, "refused"),
            (self.question_count, "questioned"),
        ];
        let said: Vec<String> = counts
            .into_iter()
            .filter(|(count, what)| *count > 0 || *what == "new")
            .map(|(count, what)| format!("{} {what}", with_commas(count)))
            .collect();
        said.join(", ")
    }

    pub(super) fn note(&mut self, file: &str, text: String) {
        if self.notes.len() < LISTED {
            self.notes.push(Note { file: file.to_owned(), text });
        }
    }
}

pub(super) fn with_commas(count: usize) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
