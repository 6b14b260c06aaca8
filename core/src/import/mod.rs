//! CSV files into a batch of rows, with a report of what was refused and what is questioned.
//!
//! Pure but for reading the sources: files and a snapshot in, an [`ImportOutcome`] out; nothing is
//! written. Registers (machines, spindles, parts, ...) are known by their key: a known key gets the
//! row as given, an empty field empties it, and a column that the file does not have stays as it
//! is. Within one run a key may not be given twice with different contents. Records (readings,
//! meters, services, ...) that are equal in all fields, `doubt` aside, are already here; so is one
//! that the shop has replaced since.
//!
//! Files are read as streams. Refused rows, questions and remarks are listed up to a bound and all
//! counted, so that a file full of faults costs no memory.

mod answers;
mod apply;
mod doubts;
mod events;
mod files;
mod listed_orders;
mod mountings;
mod names;
mod register;
mod registers;
mod report;
mod row;
mod run;
mod source;
mod stock;
mod text;

pub use answers::{Answer, apply_answers};
pub use report::{ColumnReport, FileReport, Fix, ImportLimits, ImportReport, LISTED, Note, Question, Refused, Target};
pub use source::{ImportError, Source, read_folder, read_paths};

use crate::actions::ImportBatch;
use crate::forecast::Progress;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::path::PathBuf;

/// What an import would write, and what it found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ImportOutcome {
    /// The rows that would come in.
    pub batch: ImportBatch,
    /// Counts, refused rows, questions.
    pub report: ImportReport,
}

impl ImportOutcome {
    /// Whether the batch may be written: all rows are good, or the user accepts the good ones alone.
    #[must_use]
    pub const fn may_apply(&self, accept_good_rows: bool) -> bool {
        accept_good_rows || self.report.refused_count == 0
    }
}

/// Reads sources against a shop. `today` stands for the present where the shop names none.
///
/// # Errors
/// A source cannot be read at all, or the work was stopped; what is wrong inside a file stands in
/// the report.
pub fn import(
    sources: &[Source],
    shop: &Shop,
    today: NaiveDate,
    progress: &dyn Progress,
) -> Result<ImportOutcome, ImportError> {
    run::Importer::new(shop, ImportLimits::default()).run(sources, today, progress)
}

/// Reads files and shop folders from disk against a shop; see [`read_paths`] and [`import`].
///
/// # Errors
/// As for both.
pub fn import_paths(
    paths: &[PathBuf],
    shop: &Shop,
    today: NaiveDate,
    progress: &dyn Progress,
) -> Result<ImportOutcome, ImportError> {
    import_paths_listing(paths, shop, today, ImportLimits::default(), progress)
}

/// As [`import_paths`], with as much listed as the limits say.
///
/// # Errors
/// As there.
pub fn import_paths_listing(
    paths: &[PathBuf],
    shop: &Shop,
    today: NaiveDate,
    limits: ImportLimits,
    progress: &dyn Progress,
) -> Result<ImportOutcome, ImportError> {
    let (sources, notes) = read_paths(paths)?;
    let mut outcome = run::Importer::new(shop, limits).run(&sources, today, progress)?;
    outcome.report.notes.extend(notes);
    outcome.report.notes.sort();
    Ok(outcome)
}
