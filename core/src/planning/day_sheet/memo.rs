//! Whether a set of services fits a day, remembered by a 64-bit mark of the set.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// Entries after which everything is forgotten, so that memory stays bounded.
const MOST: usize = 4_000_000;

/// The marks are scattered already: they are their own hash.
#[derive(Debug, Default)]
pub(crate) struct AsItIs(u64);

impl Hasher for AsItIs {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*byte);
        }
    }

    fn write_u64(&mut self, mark: u64) {
        self.0 = mark;
    }
}

/// Sets seen and whether they fit.
#[derive(Debug, Default)]
pub(crate) struct Memo(HashMap<u64, bool, BuildHasherDefault<AsItIs>>);

impl Memo {
    /// What is known of a set.
    pub(crate) fn get(&self, mark: u64) -> Option<bool> {
        self.0.get(&mark).copied()
    }

    /// Remembers.
    pub(crate) fn set(&mut self, mark: u64, fits: bool) {
        if self.0.len() >= MOST {
            self.0.clear();
        }
        self.0.insert(mark, fits);
    }
}
