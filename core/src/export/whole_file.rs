//! Writing one file so that it is either the old one or the whole new one, never half of it.

use std::fs::{self, File, Permissions};
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

/// Where the bytes of a file go.
enum Place {
    /// A file that is replaced, or a new one: symbolic links are followed; with the permissions of
    /// what stood there.
    File { target: PathBuf, permissions: Option<Permissions> },
    /// A device or a pipe: nothing can take its place, so it is written to.
    Stream,
}

/// Writes a file through a temporary one beside it and a rename. A symbolic link stays one, a file
/// keeps its permissions, and a device or pipe is written to directly.
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
    // the temporary file, its place, and the name that was given
    let mut written: Vec<(PathBuf, PathBuf, &Path)> = Vec::new();
    let result = files
        .iter()
        .try_for_each(|(path, content)| match place_of(path)? {
            Place::Stream => write_straight(path, content.as_ref()).map_err(|cause| failed(path, cause)),
            Place::File { target, permissions } => {
                let temporary = temporary_beside(&target)?;
                written.push((temporary.clone(), target, path));
                write_synced(&temporary, content.as_ref(), permissions).map_err(|cause| failed(path, cause))
            }
        })
        .and_then(|()| {
            written
                .iter()
                .try_for_each(|(temporary, target, path)| fs::rename(temporary, target).map_err(|c| failed(path, c)))
        });
    if result.is_err() {
        for (temporary, ..) in &written {
            // what is left over is ours and useless; the error that led here is the one to report
            drop(fs::remove_file(temporary));
        }
    }
    result
}

/// Follows symbolic links, also one whose target is yet to be made.
fn place_of(path: &Path) -> Result<Place, WriteError> {
    /// As many as Linux follows.
    const LINKS: usize = 40;
    let mut target = path.to_owned();
    for _ in 0..LINKS {
        match fs::symlink_metadata(&target) {
            Ok(meta) if meta.is_symlink() => {
                // what /proc/self/fd leads to has a name that leads nowhere, but can be looked at
                if fs::metadata(&target).is_ok_and(|meta| !meta.is_file() && !meta.is_dir()) {
                    return Ok(Place::Stream);
                }
                let to = fs::read_link(&target).map_err(|cause| failed(path, cause))?;
                // an absolute one takes the place of the whole path
                target = target.parent().map_or_else(|| to.clone(), |folder| folder.join(&to));
            }
            Ok(meta) if meta.is_file() => return Ok(Place::File { target, permissions: Some(meta.permissions()) }),
            Ok(meta) if !meta.is_dir() => return Ok(Place::Stream),
            // a folder or a missing one is told where the file is made
            _ => return Ok(Place::File { target, permissions: None }),
        }
    }
    Err(failed(path, io::Error::other("too many symbolic links, one after the other")))
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

fn write_synced(path: &Path, content: &[u8], permissions: Option<Permissions>) -> io::Result<()> {
    let mut file = File::create(path)?;
    if let Some(permissions) = permissions {
        // before anything stands in it that not everybody may read
        file.set_permissions(permissions)?;
    }
    file.write_all(content)?;
    file.sync_all()
}

/// Neither made, cut off nor flushed to a disk: it is none.
fn write_straight(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut stream = File::options().write(true).open(path)?;
    stream.write_all(content)?;
    stream.flush()
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::{FileTypeExt as _, PermissionsExt as _, symlink};

    #[test]
    fn a_link_stays_a_link_and_its_file_keeps_its_mode() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link, chain) = (folder.path().join("f"), folder.path().join("link"), folder.path().join("chain"));
        fs::write(&file, "old").unwrap();
        fs::set_permissions(&file, Permissions::from_mode(0o600)).unwrap();
        symlink("f", &link).unwrap();
        symlink(&link, &chain).unwrap();
        write_whole(&chain, b"new").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"new");
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o7777, 0o600);
        assert!(link.is_symlink() && chain.is_symlink() && !file.is_symlink());
        // a link to a file that is yet to be made
        let ahead = folder.path().join("ahead");
        symlink("later", &ahead).unwrap();
        write_whole(&ahead, b"first").unwrap();
        assert!(ahead.is_symlink());
        assert_eq!(fs::read(folder.path().join("later")).unwrap(), b"first");
        // a link to itself
        let round = folder.path().join("round");
        symlink("round", &round).unwrap();
        assert!(write_whole(&round, b"x").is_err());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 6, "nothing is left beside them");
    }

    #[test]
    fn a_device_is_written_to_and_stays_one() {
        let full = Path::new("/dev/full");
        if !fs::metadata(full).is_ok_and(|meta| meta.file_type().is_char_device()) {
            return;
        }
        // through a link, so that even a fault here could not take the place of the device
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("link");
        symlink(full, &link).unwrap();
        for path in [link.as_path(), full] {
            let error = write_whole(path, b"one line\n").unwrap_err();
            assert_eq!(error.cause.kind(), io::ErrorKind::StorageFull, "{error}");
            assert_eq!(error.path, path);
            assert!(fs::metadata(full).unwrap().file_type().is_char_device());
        }
        write_whole(Path::new("/dev/null"), b"gone").unwrap();
        assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
        assert!(link.is_symlink());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
