//! Why a shop file could not be opened, read or written.

use super::tables::ShopTable;
use rusqlite::ErrorCode;
use rusqlite::types::Value;
use std::path::{Path, PathBuf};

/// What went wrong at the shop file; each in one sentence that says what to do where that is known.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Nothing of that name.
    #[error("there is no file {}", .0.display())]
    NoFile(PathBuf),
    /// The folder in which a file should be made or locked is not there.
    #[error("there is no folder {}; make it first, or name another place", .0.display())]
    NoFolder(PathBuf),
    /// A folder where a shop file was expected.
    #[error("a shop file was expected, but this is a folder: {}", .0.display())]
    IsFolder(PathBuf),
    /// Something is already there.
    #[error("there is already a file of that name, and it is never overwritten: {}", .0.display())]
    AlreadyThere(PathBuf),
    /// The system does not let us.
    #[error("no permission to {what} {}", .path.display())]
    NoPermission {
        /// What was tried, such as `read`.
        what: &'static str,
        /// Which file.
        path: PathBuf,
    },
    /// Another error of the file system.
    #[error("failed to {what}: {cause}: {}", .path.display())]
    File {
        /// What was tried.
        what: &'static str,
        /// What the system said.
        cause: std::io::Error,
        /// Which file.
        path: PathBuf,
    },
    /// Not a file of this program.
    #[error("this is not a shop file of this program ({why}): {}", .path.display())]
    NotAShop {
        /// How that is known.
        why: &'static str,
        /// Which file.
        path: PathBuf,
    },
    /// Made by a newer version.
    #[error("this shop file was made by a newer version of this program (schema {found}, known up to {known}): {}", .path.display())]
    TooNew {
        /// Version of the file.
        found: i64,
        /// Newest version that is known here.
        known: i64,
        /// Which file.
        path: PathBuf,
    },
    /// The file fails SQLite's own check.
    #[error("the shop file is damaged ({0}); it was left as it is, open a backup instead")]
    Damaged(String),
    /// The same, where it is known which file it is.
    #[error("the shop file is damaged ({why}); it was left as it is, open a backup instead: {}", .path.display())]
    DamagedFile {
        /// How that is known.
        why: String,
        /// Which file.
        path: PathBuf,
    },
    /// A writer died, and what it left half done cannot be rolled back here.
    #[error("a program ended while it wrote to this shop; open it once where it can be written: {}", .0.display())]
    HalfWritten(PathBuf),
    /// Another window or command writes to it.
    #[error("the shop is in use by another window or command: {}", .0.display())]
    InUse(PathBuf),
    /// Opened for reading only.
    #[error("the shop is open for reading only")]
    ReadOnly,
    /// No space left.
    #[error("the disk is full; nothing was changed")]
    DiskFull,
    /// The disk does not do what it should.
    #[error("the disk failed while the shop file was read or written ({0}); nothing was changed")]
    DiskFailed(String),
    /// Somebody holds the file for too long.
    #[error("the shop file is busy in another program; nothing was changed, try again")]
    Busy,
    /// A stored value that nobody can understand.
    #[error("table {table}, row {row}, {column}: {value} does not fit")]
    Content {
        /// Which table.
        table: &'static str,
        /// Which row.
        row: i64,
        /// Which column.
        column: &'static str,
        /// What stands there.
        value: String,
    },
    /// The row that was meant is not there (any more).
    #[error("the {what} is not in the shop any more")]
    Gone {
        /// What kind of row.
        what: &'static str,
    },
    /// A row id that an import gave is taken.
    #[error("the row number of a new {what} is already taken; read the files again")]
    IdTaken {
        /// What kind of row.
        what: &'static str,
    },
    /// A name that has to be unique is taken.
    #[error("there is already a {what} {name}")]
    NameTaken {
        /// What kind of row.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// A rule of the file that a row breaks; the text is the rule.
    #[error("{what} refused: {rule}")]
    Refused {
        /// What kind of row.
        what: &'static str,
        /// The rule.
        rule: String,
    },
    /// Undo finds another content than it left.
    #[error("'{label}' cannot be turned back: {what} {row} was changed outside of this program")]
    ChangedOutside {
        /// The step.
        label: String,
        /// What kind of row.
        what: &'static str,
        /// Its id.
        row: i64,
    },
    /// Nothing was done that can be undone.
    #[error("nothing to undo")]
    NothingToUndo,
    /// Nothing was undone that can be redone.
    #[error("nothing to redo")]
    NothingToRedo,
    /// A schema change failed; the file is as it was.
    #[error("the shop file could not be brought to the present schema and was left as it was: {0}")]
    Upgrade(String),
    /// Anything else that SQLite says.
    #[error("failed to use the shop file: {0}")]
    Sqlite(rusqlite::Error),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        let rusqlite::Error::SqliteFailure(failure, ref message) = error else {
            return Self::Sqlite(error);
        };
        let said = || message.clone().unwrap_or_else(|| failure.to_string());
        match failure.code {
            ErrorCode::DiskFull => Self::DiskFull,
            ErrorCode::SystemIoFailure => Self::DiskFailed(said()),
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Busy,
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => Self::Damaged(said()),
            ErrorCode::ReadOnly => Self::ReadOnly,
            _ => Self::Sqlite(error),
        }
    }
}

impl StoreError {
    /// An error at writing those values to a table; rules of the file are named in their own words.
    pub(super) fn of_write(error: rusqlite::Error, table: ShopTable, values: &[Value]) -> Self {
        let what = table.label();
        let rusqlite::Error::SqliteFailure(failure, Some(message)) = &error else {
            return error.into();
        };
        if failure.code != ErrorCode::ConstraintViolation {
            return error.into();
        }
        let rule = message.split_once(": ").map_or(message.as_str(), |(_, rule)| rule);
        match failure.extended_code {
            rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE => {
                // the one column that is unique is the name, and it stands first
                let name = match values.first() {
                    Some(Value::Text(name)) => name.clone(),
                    _ => String::new(),
                };
                Self::NameTaken { what, name }
            }
            rusqlite::ffi::SQLITE_CONSTRAINT_PRIMARYKEY | rusqlite::ffi::SQLITE_CONSTRAINT_ROWID => {
                Self::IdTaken { what }
            }
            rusqlite::ffi::SQLITE_CONSTRAINT_FOREIGNKEY | rusqlite::ffi::SQLITE_CONSTRAINT_TRIGGER => {
                Self::Refused { what, rule: "what it refers to is not in the shop, or is still referred to".to_owned() }
            }
            rusqlite::ffi::SQLITE_CONSTRAINT_NOTNULL => {
                Self::Refused { what, rule: format!("{rule} is missing or not a number") }
            }
            _ => Self::Refused { what, rule: rule.to_owned() },
        }
    }

    /// The same error, with the file named where its sentence lacks it.
    pub(super) fn at(self, path: &Path) -> Self {
        match self {
            Self::Damaged(why) => Self::DamagedFile { why, path: path.to_owned() },
            other => other,
        }
    }

    /// An error at making a file: what is missing then is its folder.
    pub(super) fn of_new_file(what: &'static str, path: &Path, cause: std::io::Error) -> Self {
        if cause.kind() != std::io::ErrorKind::NotFound {
            return Self::of_file(what, path, cause);
        }
        match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => Self::NoFolder(folder.to_owned()),
            _ => Self::NoFolder(PathBuf::from(".")),
        }
    }

    /// An error of the file system.
    pub(super) fn of_file(what: &'static str, path: &Path, cause: std::io::Error) -> Self {
        let path = path.to_owned();
        match cause.kind() {
            std::io::ErrorKind::NotFound => Self::NoFile(path),
            std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
                Self::NoPermission { what, path }
            }
            std::io::ErrorKind::IsADirectory => Self::IsFolder(path),
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Self::DiskFull,
            _ => Self::File { what, cause, path },
        }
    }
}
