//! The journal: who did what when, row by row, in words.

use super::log::{self, Layout};
use super::{Store, StoreError};
use crate::ids::StepId;
use crate::words::number;
use chrono::NaiveDateTime;
use rusqlite::{Connection, OptionalExtension as _};
use std::collections::BTreeMap;

/// Whether a step counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepState {
    /// It counts.
    Done,
    /// It was undone; redo would do it again.
    Undone,
    /// It was undone, and something else was done since.
    Dropped,
}

/// A changed row, or many added ones, of one step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JournalEntry {
    /// The step; several rows may belong to one.
    pub step: StepId,
    /// When it was done, local shop time.
    pub at: NaiveDateTime,
    /// By whom.
    pub who: String,
    /// What was done, such as `Record reading of S-0117`.
    pub what: String,
    /// Whether it counts.
    pub state: StepState,
    /// When it was last undone or redone, and by whom.
    pub turned: Option<(NaiveDateTime, String)>,
    /// What kind of row, such as `meter reading`.
    pub table: &'static str,
    /// What stood in the row, field by field; `None`: it was not there.
    pub before: Option<String>,
    /// What stands in the row since; `None`: it is gone.
    pub after: Option<String>,
}

/// The rows of the journal, newest first; a range of added rows counts as one and stands for the
/// first that its step did.
const ENTRIES: &str = "
    SELECT step_id, 1 AS is_change, step_change.id, layout_id, before, after, NULL, NULL,
        done_at, done_by, label, state, turned_at, turned_by
    FROM step_change JOIN step ON step.id = step_id
    UNION ALL
    SELECT step_id, 0, step_range.id, layout_id, NULL, NULL, first_row_id, last_row_id,
        done_at, done_by, label, state, turned_at, turned_by
    FROM step_range JOIN step ON step.id = step_id
    ORDER BY 1 DESC, 2 DESC, 3 DESC LIMIT ?1 OFFSET ?2";

impl Store {
    /// Entries of the journal, newest first.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn journal(&self, limit: usize, offset: usize) -> Result<Vec<JournalEntry>, StoreError> {
        let layouts = log::layouts(&self.connection)?;
        let names = Names { connection: &self.connection };
        let mut statement = self.connection.prepare_cached(ENTRIES)?;
        let to_number = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
        let mut rows = statement.query([to_number(limit), to_number(offset)])?;
        let mut entries = Vec::new();
        while let Some(row) = rows.next()? {
            let unknown = || StoreError::Damaged("the journal lacks a table layout".to_owned());
            let layout = layouts.get(&row.get(3)?).ok_or_else(unknown)?;
            let (before, after): (Option<String>, Option<String>) = (row.get(4)?, row.get(5)?);
            let range: (Option<i64>, Option<i64>) = (row.get(6)?, row.get(7)?);
            let turned: (Option<String>, Option<String>) = (row.get(12)?, row.get(13)?);
            entries.push(JournalEntry {
                step: StepId::from_row(row.get(0)?),
                at: time(&row.get::<_, String>(8)?)?,
                who: row.get(9)?,
                what: row.get(10)?,
                state: state(&row.get::<_, String>(11)?)?,
                turned: match turned {
                    (Some(at), Some(who)) => Some((time(&at)?, who)),
                    _ => None,
                },
                table: layout.table().label(),
                before: before.map(|image| names.readable(layout, &image)).transpose()?,
                after: match range {
                    (Some(first), Some(last)) => Some(rows_text(last.abs_diff(first).saturating_add(1))),
                    _ => after.map(|image| names.readable(layout, &image)).transpose()?,
                },
            });
        }
        Ok(entries)
    }
}

/// `1 row`, `60,000 rows`.
pub(super) fn rows_text(n_rows: u64) -> String {
    format!("{} {}", number(n_rows as f64, 0), if n_rows == 1 { "row" } else { "rows" })
}

fn time(text: &str) -> Result<NaiveDateTime, StoreError> {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S")
        .map_err(|cause| StoreError::Damaged(format!("the journal holds a time '{text}': {cause}")))
}

fn state(text: &str) -> Result<StepState, StoreError> {
    match text {
        "done" => Ok(StepState::Done),
        "undone" => Ok(StepState::Undone),
        "dropped" => Ok(StepState::Dropped),
        _ => Err(StoreError::Damaged(format!("the journal holds a state '{text}'"))),
    }
}

/// Names in place of row numbers.
struct Names<'c> {
    connection: &'c Connection,
}

impl Names<'_> {
    /// `name R-04, hall Router hall`: the fields that hold something.
    fn readable(&self, layout: &Layout, image: &str) -> Result<String, StoreError> {
        let values = literals(image);
        let fields: BTreeMap<&str, &str> =
            layout.columns().iter().map(String::as_str).zip(values.iter().map(String::as_str)).collect();
        let mut parts = Vec::new();
        for column in layout.columns().iter().map(String::as_str).filter(|column| *column != "id") {
            let value = fields.get(column).copied().unwrap_or_default();
            if value.is_empty() || column.starts_with("value_") {
                continue;
            }
            let text = match column {
                "spindle_id" => self.name("spindle", value)?,
                "machine_id" => self.name("machine", value)?,
                _ => value.to_owned(),
            };
            let words = column.trim_end_matches("_id").replace('_', " ");
            parts.push(format!("{words} {text}"));
        }
        Ok(parts.join(", "))
    }

    /// The present name of a row, else its number: it may be gone by now.
    fn name(&self, table: &str, id: &str) -> Result<String, StoreError> {
        let name = self
            .connection
            .prepare_cached(&format!("SELECT name FROM {table} WHERE id = ?1"))?
            .query_row([id], |row| row.get(0))
            .optional()?;
        Ok(name.unwrap_or_else(|| format!("no. {id}")))
    }
}

/// The values of a list of SQL literals, without quotes; NULL is empty.
fn literals(image: &str) -> Vec<String> {
    let mut values = Vec::new();
    let mut value = String::new();
    let mut chars = image.chars().peekable();
    let mut quoted = false;
    while let Some(next) = chars.next() {
        match next {
            '\'' if quoted && chars.peek() == Some(&'\'') => {
                value.push('\'');
                chars.next();
            }
            '\'' => quoted = !quoted,
            ',' if !quoted => values.push(std::mem::take(&mut value)),
            other => value.push(other),
        }
    }
    values.push(value);
    for value in &mut values {
        if value == "NULL" {
            value.clear();
        } else if let Some(number) = value.strip_suffix(".0").filter(|number| number.parse::<i64>().is_ok()) {
            *value = number.to_owned();
        }
    }
    values
}

#[cfg(test)]
mod tests {
    use super::literals;

    #[test]
    fn literals_lose_their_quotes() {
        assert_eq!(literals("1,'it''s, well',NULL,4.5,12.0,''"), ["1", "it's, well", "", "4.5", "12", ""]);
    }
}
