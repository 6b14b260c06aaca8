//! Steps: one transaction with a label, undone and redone as a whole.

use super::log;
use super::tables::Changes;
use super::{Access, Store, StoreError};
use crate::error::Error;
use crate::ids::StepId;
use chrono::NaiveDateTime;
use rusqlite::{Connection, OptionalExtension as _, TransactionBehavior, params};

/// When something is done, and by whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepStamp {
    /// Local shop time.
    pub at: NaiveDateTime,
    /// Login name.
    pub who: String,
}

impl StepStamp {
    /// The time as it is stored.
    pub(super) fn time_text(&self) -> String {
        self.at.format("%Y-%m-%dT%H:%M:%S").to_string()
    }
}

/// The inside of a step: what may be written while it lasts.
pub(crate) struct Writer<'c> {
    pub(super) connection: &'c Connection,
    pub(super) step: StepId,
}

impl Writer<'_> {
    /// Changes from here on are written down row by row, or not.
    pub(super) fn log_rows(&self, on: bool) -> Result<(), StoreError> {
        self.connection.execute("DELETE FROM temp.current_step", [])?;
        if on {
            self.connection.execute("INSERT INTO temp.current_step VALUES (?1)", [self.step.row()])?;
        }
        Ok(())
    }
}

/// The newest step that can be undone.
const LAST_DONE: &str = "SELECT id, label FROM step WHERE state = 'done' ORDER BY id DESC LIMIT 1";
/// The step that was undone last.
const FIRST_UNDONE: &str = "SELECT id, label FROM step WHERE state = 'undone' ORDER BY id LIMIT 1";

impl Store {
    /// One step: all that `work` writes, or nothing. `work` gives back the label of the step.
    pub(crate) fn transact(
        &mut self,
        stamp: &StepStamp,
        work: impl FnOnce(&Writer<'_>) -> Result<String, Error>,
    ) -> Result<Changes, Error> {
        let transaction = self.begin()?;
        transaction
            .prepare_cached("INSERT INTO step (label, done_at, done_by) VALUES ('', ?1, ?2)")
            .and_then(|mut statement| statement.execute(params![stamp.time_text(), stamp.who]))
            .map_err(StoreError::from)?;
        let writer = Writer { connection: &transaction, step: StepId::from_row(transaction.last_insert_rowid()) };
        writer.log_rows(true)?;
        let label = work(&writer)?;
        writer.log_rows(false)?;
        let changes = log::touched(&transaction, writer.step)?;
        if changes.is_empty() {
            // all was already so: no step, and what was undone can still be redone
            return Ok(changes);
        }
        finish(&transaction, writer.step, &label)?;
        transaction.commit().map_err(StoreError::from)?;
        Ok(changes)
    }

    /// Undoes the last step.
    ///
    /// # Errors
    /// [`StoreError::NothingToUndo`], or why it failed; nothing is changed then.
    pub fn undo(&mut self, stamp: &StepStamp) -> Result<Changes, StoreError> {
        self.turn(stamp, LAST_DONE, StoreError::NothingToUndo, "undone", log::turn_back)
    }

    /// Does the step again that was undone last.
    ///
    /// # Errors
    /// [`StoreError::NothingToRedo`], or why it failed; nothing is changed then.
    pub fn redo(&mut self, stamp: &StepStamp) -> Result<Changes, StoreError> {
        self.turn(stamp, FIRST_UNDONE, StoreError::NothingToRedo, "done", log::turn_forth)
    }

    fn turn(
        &mut self,
        stamp: &StepStamp,
        which: &str,
        none: StoreError,
        state: &str,
        turn: fn(&Connection, StepId) -> Result<(), StoreError>,
    ) -> Result<Changes, StoreError> {
        let transaction = self.begin()?;
        let Some(step) = transaction.query_row(which, [], |row| row.get(0)).optional()?.map(StepId::from_row) else {
            return Err(none);
        };
        transaction.pragma_update(None, "defer_foreign_keys", true)?;
        turn(&transaction, step)?;
        transaction.execute(
            "UPDATE step SET state = ?2, turned_at = ?3, turned_by = ?4 WHERE id = ?1",
            params![step.row(), state, stamp.time_text(), stamp.who],
        )?;
        let changes = log::touched(&transaction, step)?;
        transaction.commit()?;
        Ok(changes)
    }

    /// What undo would undo, such as `Record reading of S-0117`.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn undo_label(&self) -> Result<Option<String>, StoreError> {
        Ok(self.connection.prepare_cached(LAST_DONE)?.query_row([], |row| row.get(1)).optional()?)
    }

    /// What redo would do again.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn redo_label(&self) -> Result<Option<String>, StoreError> {
        Ok(self.connection.prepare_cached(FIRST_UNDONE)?.query_row([], |row| row.get(1)).optional()?)
    }

    /// A transaction that holds the file from its start; dropped without commit, nothing happened.
    pub(super) fn begin(&mut self) -> Result<rusqlite::Transaction<'_>, StoreError> {
        if self.access == Access::ReadOnly {
            return Err(StoreError::ReadOnly);
        }
        Ok(self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?)
    }
}

/// Names the step; what was undone before it can no longer be redone, but stays in the journal.
fn finish(connection: &Connection, step: StepId, label: &str) -> Result<(), StoreError> {
    connection.prepare_cached("UPDATE step SET label = ?2 WHERE id = ?1")?.execute(params![step.row(), label])?;
    let dropped = connection.execute("UPDATE step SET state = 'dropped' WHERE state = 'undone'", [])?;
    if dropped > 0 {
        connection.execute(
            "DELETE FROM step_range_row WHERE range_id IN (
                 SELECT step_range.id FROM step_range JOIN step ON step.id = step_id WHERE state = 'dropped')",
            [],
        )?;
    }
    Ok(())
}
