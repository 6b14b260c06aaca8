//! Copies of a shop: consistent, checked, never over another file.

use super::migrate::APPLICATION_ID;
use super::{Access, Store, StoreError, file};
use rusqlite::Connection;
use rusqlite::backup::Backup;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::time::Duration;

impl Store {
    /// Writes a consistent copy, as the shop is at this moment, and checks it.
    ///
    /// # Errors
    /// There is a file of that name, or the copy failed; no half-written file stays.
    pub fn backup(&self, to: &Path) -> Result<(), StoreError> {
        copy(&self.connection, to)
    }

    /// Puts the shop as it is into a new file and goes on there, open for writing. The file it was
    /// in stays as it is.
    ///
    /// # Errors
    /// As [`Store::backup`]; the store stays where it was.
    pub fn save_as(&mut self, to: &Path) -> Result<(), StoreError> {
        copy(&self.connection, to)?;
        *self = Self::open(to, Access::ReadWrite)?;
        Ok(())
    }
}

/// Copies a connection's database to a new file, through a temporary one beside it.
pub(super) fn copy(from: &Connection, to: &Path) -> Result<(), StoreError> {
    new_file(to, |temporary| {
        let mut target = Connection::open(temporary)?;
        // all pages in one go: one state of the shop, even while another program writes to it
        Backup::new(from, &mut target)?.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
        target.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))?;
        let said: String = target.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
        let application: i64 = target.query_row("PRAGMA application_id", [], |row| row.get(0))?;
        if said != "ok" || application != APPLICATION_ID {
            return Err(StoreError::Damaged(format!("the copy does not hold: {said}")));
        }
        target.close().map_err(|(_, error)| StoreError::from(error))
    })
}

/// Makes a new file: written under a temporary name, flushed to the disk, then named; never over
/// another file.
pub(super) fn new_file(to: &Path, write: impl FnOnce(&Path) -> Result<(), StoreError>) -> Result<(), StoreError> {
    if to.symlink_metadata().is_ok() {
        return Err(StoreError::AlreadyThere(to.to_owned()));
    }
    let temporary = temporary_name(to);
    let _left_from_before = std::fs::remove_file(&temporary);
    let written = File::create(&temporary)
        .map_err(|cause| StoreError::of_new_file("write", to, cause))
        .and_then(|_empty| write(&temporary))
        .and_then(|()| name(&temporary, to));
    if written.is_err() {
        let _nothing_stays = std::fs::remove_file(&temporary);
    }
    written
}

/// Gives the finished file its name, unless that was taken meanwhile.
fn name(temporary: &Path, to: &Path) -> Result<(), StoreError> {
    let failed = |cause| StoreError::of_file("write", to, cause);
    File::open(temporary).and_then(|file| file.sync_all()).map_err(failed)?;
    // a second name is refused where one exists; some file systems know no second names
    match std::fs::hard_link(temporary, to) {
        Ok(()) => std::fs::remove_file(temporary).map_err(failed)?,
        Err(cause) if cause.kind() == std::io::ErrorKind::AlreadyExists => {
            return Err(StoreError::AlreadyThere(to.to_owned()));
        }
        Err(_) if to.symlink_metadata().is_ok() => return Err(StoreError::AlreadyThere(to.to_owned())),
        Err(_) => std::fs::rename(temporary, to).map_err(failed)?,
    }
    if let Some(folder) = folder_of(to) {
        // without this the name could be lost with the power
        if cfg!(unix) {
            File::open(folder).and_then(|folder| folder.sync_all()).map_err(failed)?;
        }
    }
    Ok(())
}

fn folder_of(path: &Path) -> Option<PathBuf> {
    let folder = path.parent()?;
    Some(if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder.to_owned() })
}

/// Beside the file, named after it and this process, so that two runs do not meet.
fn temporary_name(to: &Path) -> PathBuf {
    let name = to.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    to.with_file_name(format!(".{name}.{}.part", std::process::id()))
}

/// Copies a file that is about to be upgraded, beside it: `shop.before-schema-5.almanac`.
pub(super) fn before_upgrade(path: &Path, connection: &Connection, to_version: i64) -> Result<PathBuf, StoreError> {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    for attempt in 1..1000 {
        let again = if attempt > 1 { format!("-{attempt}") } else { String::new() };
        let copy_path = path.with_file_name(format!("{stem}.before-schema-{to_version}{again}.almanac"));
        match copy(connection, &copy_path) {
            Err(StoreError::AlreadyThere(_)) => {}
            other => return other.map(|()| copy_path),
        }
    }
    Err(StoreError::AlreadyThere(path.with_file_name(format!("{stem}.before-schema-{to_version}.almanac"))))
}

/// Copies a shop file that no [`Store`] has open.
///
/// # Errors
/// It is no shop, is damaged, or cannot be copied.
pub fn backup_file(shop: &Path, to: &Path) -> Result<(), StoreError> {
    file::version_of(shop)?;
    copy(&file::connect_reading(shop).map_err(|error| error.at(shop))?, to)
}
