//! The shop file: one SQLite database, the only place that knows SQL.
//!
//! Everything is read through [`Store::load_shop`] and changed through [`Store::perform`]; each
//! change is one step that can be undone, also after a restart.

mod backup;
mod change;
mod check;
mod columns;
mod composed;
mod error;
mod file;
mod fits;
mod journal;
mod load;
mod lock;
mod log;
mod migrate;
mod records;
mod registers;
mod settings;
mod steps;
mod tables;

pub use backup::backup_file;
pub use check::check_file;
pub use error::StoreError;
pub use fits::StoredFit;
pub use journal::{JournalEntry, StepState};
pub use lock::ShopLock;
pub use migrate::{APPLICATION_ID, latest_version};
pub use steps::StepStamp;
pub(crate) use steps::Writer;
pub use tables::{Changes, ShopTable};

pub(crate) use change::{add_with_spindles, change, exchange, import, record, record_service, settings_row};

use crate::actions::{self, Action};
use crate::error::Error;
use crate::shop::Shop;
use rusqlite::Connection;
use std::path::{Path, PathBuf};

/// Whether a shop is opened to be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Reading and writing; one at a time.
    ReadWrite,
    /// Reading only; always possible, also while another one writes.
    ReadOnly,
}

/// An open shop.
#[derive(Debug)]
pub struct Store {
    // dropped in this order: the file is closed before the lock is given back
    connection: Connection,
    access: Access,
    path: Option<PathBuf>,
    backup_before_upgrade: Option<PathBuf>,
    _lock: Option<ShopLock>,
}

impl Store {
    /// A new, empty shop file, opened for writing.
    ///
    /// # Errors
    /// There is a file of that name, or it cannot be written.
    pub fn create(path: &Path) -> Result<Self, StoreError> {
        if path.symlink_metadata().is_ok() {
            return Err(StoreError::AlreadyThere(path.to_owned()));
        }
        let lock = ShopLock::acquire(path)?;
        backup::new_file(path, |temporary| {
            let mut connection = Connection::open(temporary)?;
            file::prepare(&connection)?;
            file::prepare_writing(&connection)?;
            set_up(&mut connection, migrate::ALL)?;
            connection.close().map_err(|(_, error)| StoreError::from(error))
        })?;
        let connection = file::connect_writing(path)?;
        Self::writing(connection, Some(path.to_owned()), None, Some(lock))
    }

    /// A shop file. For writing, an older one is first copied beside it and then brought to the
    /// present schema; for reading, that happens in memory.
    ///
    /// # Errors
    /// It is not a shop, newer than this program, damaged, in use, or cannot be read or written;
    /// the file was left as it is.
    pub fn open(path: &Path, access: Access) -> Result<Self, StoreError> {
        Self::open_with(path, access, migrate::ALL).map_err(|error| error.at(path))
    }

    fn open_with(path: &Path, access: Access, migrations: &[&str]) -> Result<Self, StoreError> {
        file::version_of(path)?;
        let lock = match access {
            Access::ReadWrite => Some(ShopLock::acquire(path)?),
            Access::ReadOnly => None,
        };
        // again: only now nobody else can be upgrading it
        let version = file::version_of(path)?;
        let is_older = version < migrations.len() as i64;
        let reading = file::connect_reading(path)?;
        if lock.is_none() {
            return if is_older {
                Self::upgraded_in_memory(&reading, path, migrations)
            } else {
                Self::reading(reading, path)
            };
        }
        let backup =
            if is_older { Some(backup::before_upgrade(path, &reading, migrations.len() as i64)?) } else { None };
        drop(reading);
        let mut connection = file::connect_writing(path)?;
        if is_older {
            set_up(&mut connection, migrations)?;
        }
        Self::writing(connection, Some(path.to_owned()), backup, lock)
    }

    /// An empty shop that is gone when closed.
    ///
    /// # Errors
    /// There is not enough memory.
    pub fn open_in_memory() -> Result<Self, StoreError> {
        let mut connection = Connection::open_in_memory()?;
        file::prepare(&connection)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        set_up(&mut connection, migrate::ALL)?;
        Self::writing(connection, None, None, None)
    }

    fn writing(
        connection: Connection,
        path: Option<PathBuf>,
        backup_before_upgrade: Option<PathBuf>,
        lock: Option<ShopLock>,
    ) -> Result<Self, StoreError> {
        log::install(&connection)?;
        Ok(Self { connection, access: Access::ReadWrite, path, backup_before_upgrade, _lock: lock })
    }

    fn reading(connection: Connection, path: &Path) -> Result<Self, StoreError> {
        let path = Some(path.to_owned());
        Ok(Self { connection, access: Access::ReadOnly, path, backup_before_upgrade: None, _lock: None })
    }

    /// An older file read with the present schema, without touching it.
    fn upgraded_in_memory(from: &Connection, path: &Path, migrations: &[&str]) -> Result<Self, StoreError> {
        let mut memory = Connection::open_in_memory()?;
        rusqlite::backup::Backup::new(from, &mut memory)?.run_to_completion(
            i32::MAX,
            std::time::Duration::from_millis(50),
            None,
        )?;
        file::prepare(&memory)?;
        set_up(&mut memory, migrations)?;
        Self::reading(memory, path)
    }

    /// Everything that stands in the shop.
    ///
    /// # Errors
    /// The file cannot be read, or holds a value that nobody can understand.
    pub fn load_shop(&self) -> Result<Shop, StoreError> {
        load::shop(&self.connection).map_err(|error| self.named(error))
    }

    /// The shop after changes: touched tables are read again, the others shared with the known one.
    ///
    /// # Errors
    /// As [`Store::load_shop`].
    pub fn reload(&self, known: &Shop, changes: &Changes) -> Result<Shop, StoreError> {
        load::reload(&self.connection, known, changes).map_err(|error| self.named(error))
    }

    /// An error that names the file, where there is one.
    fn named(&self, error: StoreError) -> StoreError {
        match &self.path {
            Some(path) => error.at(path),
            None => error,
        }
    }

    /// Does an action as one step.
    ///
    /// # Errors
    /// The action breaks a rule, or the file cannot be written; nothing is changed then.
    pub fn perform(&mut self, action: Action, stamp: &StepStamp) -> Result<Changes, Error> {
        actions::perform(self, action, stamp)
    }

    /// Whether it can be changed.
    #[must_use]
    pub const fn access(&self) -> Access {
        self.access
    }

    /// Where it lies; `None` in memory.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The copy that was made before an older file was brought to the present schema.
    #[must_use]
    pub fn backup_before_upgrade(&self) -> Option<&Path> {
        self.backup_before_upgrade.as_deref()
    }
}

/// Brings a database to the present schema and marks it as ours.
fn set_up(connection: &mut Connection, migrations: &[&str]) -> Result<(), StoreError> {
    migrate::to_latest(connection, migrations)?;
    connection.pragma_update(None, "application_id", APPLICATION_ID)?;
    Ok(())
}

#[cfg(test)]
mod tests;
