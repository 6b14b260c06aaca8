//! What is to be imported: files given one by one, or a shop folder.

use super::report::Note;
use super::text::Stop;
use crate::forecast::Cancelled;
use crate::tables::FolderTable;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why nothing could be read at all; rows that are refused stand in the report instead.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// No such file or folder.
    #[error("there is no such file or folder; check the name: {}", .0.display())]
    Missing(PathBuf),
    /// The system does not let us read it.
    #[error("no right to read it; ask for the right or copy it elsewhere: {}", .0.display())]
    NoRights(PathBuf),
    /// Neither a file nor a folder.
    #[error("this is neither a file nor a folder: {}", .0.display())]
    NotAFile(PathBuf),
    /// A folder that is no shop folder.
    #[error("the folder has no spindles.csv, which a shop folder needs; name its files one by one instead: {}", .0.display())]
    NoSpindles(PathBuf),
    /// The system failed while reading.
    #[error("cannot read on: {cause}: {file}")]
    Read {
        /// Which file.
        file: String,
        /// What the system said.
        cause: io::Error,
    },
    /// Stopped from outside.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl ImportError {
    fn of(path: &Path, cause: io::Error) -> Self {
        match cause.kind() {
            io::ErrorKind::NotFound => Self::Missing(path.to_owned()),
            io::ErrorKind::PermissionDenied => Self::NoRights(path.to_owned()),
            _ => Self::Read { file: path.display().to_string(), cause },
        }
    }
}

/// One file to be imported. It is opened only while it is read.
#[derive(Debug, Clone)]
pub struct Source {
    name: String,
    table: Option<FolderTable>,
    columns: BTreeMap<String, String>,
    content: Content,
}

#[derive(Debug, Clone)]
enum Content {
    Bytes(Arc<[u8]>),
    File { path: PathBuf, size: u64 },
}

impl Source {
    /// A file of that name with that content.
    #[must_use]
    pub fn from_bytes(name: &str, bytes: impl Into<Arc<[u8]>>) -> Self {
        Self { name: name.to_owned(), table: None, columns: BTreeMap::new(), content: Content::Bytes(bytes.into()) }
    }

    /// A file on disk, shown under the name as given.
    ///
    /// # Errors
    /// Missing, no right to read, or no ordinary file (a device could keep us reading for ever).
    pub fn from_path(path: &Path) -> Result<Self, ImportError> {
        Self::named(path, path.display().to_string())
    }

    fn named(path: &Path, name: String) -> Result<Self, ImportError> {
        let metadata = fs::metadata(path).map_err(|cause| ImportError::of(path, cause))?;
        if !metadata.is_file() {
            return Err(ImportError::NotAFile(path.to_owned()));
        }
        File::open(path).map_err(|cause| ImportError::of(path, cause))?;
        let content = Content::File { path: path.to_owned(), size: metadata.len() };
        Ok(Self { name, table: None, columns: BTreeMap::new(), content })
    }

    /// Says which table it is, whatever its name and header.
    #[must_use]
    pub fn as_table(mut self, table: FolderTable) -> Self {
        self.table = Some(table);
        self
    }

    /// Says that a column of the file is one of ours.
    #[must_use]
    pub fn with_column(mut self, theirs: &str, ours: &str) -> Self {
        self.columns.insert(theirs.trim().to_owned(), ours.to_owned());
        self
    }

    /// Its name as reports show it.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The last part of its name.
    pub(super) fn file_name(&self) -> &str {
        Path::new(&self.name).file_name().and_then(|name| name.to_str()).unwrap_or(&self.name)
    }

    /// Its size in bytes.
    #[must_use]
    pub fn size(&self) -> u64 {
        match &self.content {
            Content::Bytes(bytes) => bytes.len() as u64,
            Content::File { size, .. } => *size,
        }
    }

    /// The table that was said or that its file name says.
    pub(super) fn known_table(&self) -> Option<FolderTable> {
        self.table.or_else(|| FolderTable::of_file_name(self.file_name()))
    }

    /// Whether the user said which table it is.
    pub(super) const fn is_told(&self) -> bool {
        self.table.is_some()
    }

    /// Our name of a column where one was said, else its own.
    pub(super) fn column_name<'a>(&'a self, theirs: &'a str) -> &'a str {
        self.columns.get(theirs.trim()).map_or(theirs, String::as_str)
    }

    pub(super) fn open(&self) -> Result<Box<dyn Read + '_>, ImportError> {
        match &self.content {
            Content::Bytes(bytes) => Ok(Box::new(bytes.as_ref())),
            Content::File { path, .. } => Ok(Box::new(File::open(path).map_err(|cause| ImportError::of(path, cause))?)),
        }
    }

    /// Failures of the system end the import; what is wrong with the file is left to the report.
    pub(super) fn system_failure(&self, stop: Stop) -> Result<Stop, ImportError> {
        match stop {
            Stop::Io(cause) => Err(ImportError::Read { file: self.name.clone(), cause }),
            other => Ok(other),
        }
    }
}

/// The files of a shop folder, in the order of their tables, and remarks on CSV files that are none.
///
/// # Errors
/// The folder or a file of it cannot be read, or `spindles.csv` is missing.
pub fn read_folder(folder: &Path) -> Result<(Vec<Source>, Vec<Note>), ImportError> {
    let entries = fs::read_dir(folder).map_err(|cause| ImportError::of(folder, cause))?;
    let mut names = Vec::new();
    for entry in entries {
        let entry = entry.map_err(|cause| ImportError::of(folder, cause))?;
        // a name that is no text cannot be one of ours
        if let Ok(name) = entry.file_name().into_string() {
            names.push(name);
        }
    }
    names.sort();
    let (mut sources, mut notes) = (Vec::new(), Vec::new());
    for name in names {
        let is_folder = folder.join(&name).is_dir();
        if is_folder && name.to_ascii_lowercase().ends_with(".csv") {
            let text = "this is a folder, not a file; it was left out".to_owned();
            notes.push(Note { file: name, text });
        } else if let Some(table) = FolderTable::of_file_name(&name) {
            sources.push((table, Source::named(&folder.join(&name), name)?));
        } else if name.to_ascii_lowercase().ends_with(".csv") {
            let text = "not a file of a shop folder; it was left out".to_owned();
            notes.push(Note { file: name, text });
        }
    }
    if !sources.iter().any(|(table, _)| *table == FolderTable::Spindles) {
        return Err(ImportError::NoSpindles(folder.to_owned()));
    }
    sources.sort_by_key(|(table, _)| *table);
    Ok((sources.into_iter().map(|(_, source)| source).collect(), notes))
}

/// Files and folders in the order given.
///
/// # Errors
/// As [`read_folder`] and [`Source::from_path`].
pub fn read_paths(paths: &[PathBuf]) -> Result<(Vec<Source>, Vec<Note>), ImportError> {
    let (mut sources, mut notes) = (Vec::new(), Vec::new());
    for path in paths {
        let metadata = fs::metadata(path).map_err(|cause| ImportError::of(path, cause))?;
        if metadata.is_dir() {
            let (of_folder, remarks) = read_folder(path)?;
            sources.extend(of_folder);
            notes.extend(remarks);
        } else {
            sources.push(Source::from_path(path)?);
        }
    }
    Ok((sources, notes))
}
