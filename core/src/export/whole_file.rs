//! Writing one file so that it is either the old one or the whole new one, never half of it.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// A file could not be written; what stood there before is untouched.
#[derive(Debug, thiserror::Error)]
#[error("cannot write: {cause}: {}", path.display())]
pub struct WriteError {
    /// Which file.
    pub path: PathBuf,
    /// What the system said.
    pub cause: io::Error,
}

/// Writes a file through a temporary one beside it and a rename.
///
/// # Errors
/// The folder is missing, there is no right to write, the disk is full: what stood there before
/// is untouched.
pub fn write_whole(path: &Path, content: &[u8]) -> Result<(), WriteError> {
    let failed = |cause| WriteError { path: path.to_owned(), cause };
    let Some(name) = path.file_name() else {
        return Err(failed(io::Error::new(io::ErrorKind::InvalidInput, "this is no name of a file")));
    };
    if path.is_dir() {
        return Err(failed(io::Error::new(io::ErrorKind::IsADirectory, "this is a folder; give the name of a file")));
    }
    let mut temporary_name = std::ffi::OsString::from(".");
    temporary_name.push(name);
    temporary_name.push(format!(".{}.part", std::process::id()));
    let temporary = path.with_file_name(temporary_name);
    let written = write_synced(&temporary, content).and_then(|()| fs::rename(&temporary, path));
    written.map_err(|cause| {
        // what is left over is ours and useless; the error that led here is the one to report
        drop(fs::remove_file(&temporary));
        failed(cause)
    })
}

fn write_synced(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(content)?;
    file.sync_all()
}
