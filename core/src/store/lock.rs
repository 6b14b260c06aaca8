//! One writer at a time: an operating-system lock on a file beside the shop.

use super::StoreError;
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

/// What is not possible without the lock file, and the mend.
const BESIDE: &str = "write beside the shop file (allow writing in its folder, or copy the shop to one of your own):";

/// The right to write to a shop; given back when dropped, or by the system when the program dies.
#[derive(Debug)]
pub struct ShopLock {
    file: File,
    path: PathBuf,
}

impl ShopLock {
    /// Takes the lock of a shop file.
    ///
    /// # Errors
    /// [`StoreError::InUse`] if another window or command holds it; an error of the file system.
    pub fn acquire(shop: &Path) -> Result<Self, StoreError> {
        let path = lock_path(shop);
        // a holder that goes may take the file away between our opening and locking it; then again
        for _ in 0..100 {
            let file = OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .open(&path)
                .map_err(|cause| StoreError::of_new_file(BESIDE, shop, cause))?;
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => return Err(StoreError::InUse(shop.to_owned())),
                Err(TryLockError::Error(cause)) => {
                    return Err(StoreError::of_file("lock the shop file", shop, cause));
                }
            }
            if is_still_there(&file, &path) {
                return Ok(Self { file, path });
            }
        }
        Err(StoreError::InUse(shop.to_owned()))
    }
}

impl Drop for ShopLock {
    fn drop(&mut self) {
        // Removed while still locked: whoever opened it before finds in `acquire` that it is gone.
        // Where that cannot be found out the file stays, which does no harm.
        if cfg!(unix) {
            let _left_behind = std::fs::remove_file(&self.path);
        }
        let _ended_by_closing = self.file.unlock();
    }
}

/// `NAME.almanac.lock` beside the shop.
fn lock_path(shop: &Path) -> PathBuf {
    let mut name = shop.as_os_str().to_owned();
    name.push(".lock");
    PathBuf::from(name)
}

/// Whether the locked file is the one that bears the name.
#[cfg(unix)]
fn is_still_there(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    match (file.metadata(), std::fs::metadata(path)) {
        (Ok(held), Ok(named)) => held.dev() == named.dev() && held.ino() == named.ino(),
        _ => false,
    }
}

/// Lock files are not removed here, so the name stays with the file.
#[cfg(not(unix))]
fn is_still_there(_file: &File, _path: &Path) -> bool {
    true
}
