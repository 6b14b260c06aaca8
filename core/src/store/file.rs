//! Finding out whether a file is a shop before anything touches it, and connecting to it.

use super::migrate::{APPLICATION_ID, latest_version};
use super::{Access, StoreError};
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs::File;
use std::io::Read as _;
use std::path::Path;
use std::time::Duration;

/// How long to wait for another program that holds the file.
const BUSY: Duration = Duration::from_secs(10);

/// Reads the head of the file, nothing else: is it a shop, and of which schema version?
///
/// SQLite keeps `user_version` at byte 60 and `application_id` at byte 68 of its 100-byte header,
/// most significant byte first (SQLite, "Database File Format", 1.3).
///
/// # Errors
/// A sentence on what it is instead; the file was only read.
pub(super) fn version_of(path: &Path) -> Result<i64, StoreError> {
    let meta = std::fs::metadata(path).map_err(|cause| StoreError::of_file("read", path, cause))?;
    if meta.is_dir() {
        return Err(StoreError::IsFolder(path.to_owned()));
    }
    let not_a_shop = |why| StoreError::NotAShop { why, path: path.to_owned() };
    let mut header = Vec::with_capacity(100);
    File::open(path)
        .and_then(|file| file.take(100).read_to_end(&mut header))
        .map_err(|cause| StoreError::of_file("read", path, cause))?;
    if header.is_empty() {
        return Err(not_a_shop("it is empty"));
    }
    if !header.starts_with(b"SQLite format 3\0") {
        return Err(not_a_shop("it is not a database"));
    }
    let number_at = |at: usize| {
        let bytes: Option<[u8; 4]> = header.get(at..at + 4).and_then(|bytes| bytes.try_into().ok());
        bytes.map(|bytes| i64::from(i32::from_be_bytes(bytes)))
    };
    let (Some(version), Some(application)) = (number_at(60), number_at(68)) else {
        return Err(not_a_shop("it is cut off"));
    };
    if application != APPLICATION_ID {
        return Err(not_a_shop("it belongs to another program"));
    }
    if version > latest_version() {
        return Err(StoreError::TooNew { found: version, known: latest_version(), path: path.to_owned() });
    }
    if version < 1 {
        return Err(not_a_shop("it holds no shop"));
    }
    Ok(version)
}

/// A connection that only reads, to a file that passed [`version_of`]; SQLite's quick check is done.
///
/// # Errors
/// The file is damaged or cannot be read; it was only read, save that a half-written change of a
/// program that died is rolled back first, as SQLite does.
pub(super) fn connect_reading(path: &Path) -> Result<Connection, StoreError> {
    let connection = connect_unchecked(path)?;
    quick_check(&connection)?;
    Ok(connection)
}

/// As [`connect_reading`], without the check.
pub(super) fn connect_unchecked(path: &Path) -> Result<Connection, StoreError> {
    let connect = || -> Result<Connection, rusqlite::Error> {
        let connection = Connection::open_with_flags(path, flags(Access::ReadOnly))?;
        connection.busy_timeout(BUSY)?;
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
        Ok(connection)
    };
    let connection = match connect() {
        Err(rusqlite::Error::SqliteFailure(failure, _))
            if matches!(failure.code, ErrorCode::ReadOnly | ErrorCode::CannotOpen) =>
        {
            roll_back_dead_writer(path).map_err(|error| match error {
                StoreError::ReadOnly => StoreError::HalfWritten(path.to_owned()),
                other => other,
            })?;
            connect()?
        }
        other => other?,
    };
    prepare(&connection)?;
    connection.pragma_update(None, "query_only", true)?;
    Ok(connection)
}

/// A connection that reads and writes; the caller holds the lock.
///
/// # Errors
/// The file cannot be opened for writing.
pub(super) fn connect_writing(path: &Path) -> Result<Connection, StoreError> {
    // SQLite would fall back to reading without a word
    File::options().write(true).open(path).map_err(|cause| StoreError::of_file("write to", path, cause))?;
    let connection = Connection::open_with_flags(path, flags(Access::ReadWrite))?;
    connection.busy_timeout(BUSY)?;
    prepare(&connection)?;
    prepare_writing(&connection)?;
    Ok(connection)
}

fn flags(access: Access) -> OpenFlags {
    let access = match access {
        Access::ReadOnly => OpenFlags::SQLITE_OPEN_READ_ONLY,
        Access::ReadWrite => OpenFlags::SQLITE_OPEN_READ_WRITE,
    };
    // no URI: a name such as `file:x?mode=memory` is a name
    access | OpenFlags::SQLITE_OPEN_NO_MUTEX
}

/// Settings of every connection.
pub(super) fn prepare(connection: &Connection) -> Result<(), StoreError> {
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    // a full or closed folder for temporary files is then no matter
    connection.pragma_update(None, "temp_store", "memory")?;
    connection.set_prepared_statement_cache_capacity(128);
    Ok(())
}

/// Settings of a connection that writes.
///
/// A rollback journal rather than a write-ahead log: closed, a shop is one file; readers need not
/// write beside it, so that a shop on a read-only medium opens. EXTRA also survives a power loss
/// right after a commit.
pub(super) fn prepare_writing(connection: &Connection) -> Result<(), StoreError> {
    connection.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))?;
    connection.pragma_update(None, "synchronous", "extra")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    Ok(())
}

/// SQLite's own check of the file's structure.
pub(super) fn quick_check(connection: &Connection) -> Result<(), StoreError> {
    let said: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if said == "ok" { Ok(()) } else { Err(StoreError::Damaged(said.replace('\n', ", "))) }
}

/// A writer that died left its journal: reading needs it rolled back, which only a writer can do.
fn roll_back_dead_writer(path: &Path) -> Result<(), StoreError> {
    let connection = Connection::open_with_flags(path, flags(Access::ReadWrite))?;
    connection.busy_timeout(BUSY)?;
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
    Ok(())
}
