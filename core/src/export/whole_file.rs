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
    write_together(&[(path.to_owned(), content)])
}

/// Writes several files: all of them beside their places first, then each is renamed, so that a
/// full disk leaves all old ones as they were.
///
/// # Errors
/// As [`write_whole`], with the file that failed.
pub fn write_together(files: &[(PathBuf, impl AsRef<[u8]>)]) -> Result<(), WriteError> {
    let mut written: Vec<(PathBuf, &Path)> = Vec::new();
    let result = files
        .iter()
        .try_for_each(|(path, content)| {
            let temporary = temporary_beside(path)?;
            written.push((temporary.clone(), path));
            write_synced(&temporary, content.as_ref()).map_err(|cause| failed(path, cause))
        })
        .and_then(|()| {
            written
                .iter()
                .try_for_each(|(temporary, path)| fs::rename(temporary, path).map_err(|cause| failed(path, cause)))
        });
    if result.is_err() {
        for (temporary, _) in &written {
            // what is left over is ours and useless; the error that led here is the one to report
            drop(fs::remove_file(temporary));
        }
    }
    result
}

fn failed(path: &Path, cause: io::Error) -> WriteError {
    WriteError { path: path.to_owned(), cause }
}

fn temporary_beside(path: &Path) -> Result<PathBuf, WriteError> {
    let Some(name) = path.file_name() else {
        return Err(failed(path, io::Error::new(io::ErrorKind::InvalidInput, "this is no name of a file")));
    };
    if path.is_dir() {
        let cause = io::Error::new(io::ErrorKind::IsADirectory, "this is a folder; give the name of a file");
        return Err(failed(path, cause));
    }
    let mut temporary_name = std::ffi::OsString::from(".");
    temporary_name.push(name);
    temporary_name.push(format!(".{}.part", std::process::id()));
    Ok(path.with_file_name(temporary_name))
}

fn write_synced(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(content)?;
    file.sync_all()
}
