//! Tables while they are imported: registers by key, records by content.

use crate::actions::Table;
use crate::ids::Row;
use std::collections::{BTreeMap, HashSet};
use std::hash::{DefaultHasher, Hash as _, Hasher as _};

/// Where a row stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    /// Which source.
    pub(super) file: usize,
    /// On which line it begins.
    pub(super) row: u64,
}

/// What became of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Landing {
    /// It comes in.
    New,
    /// It changes what is there.
    Changed,
    /// It is already there.
    Here,
}

/// A row of a register.
#[derive(Debug, Clone)]
pub(super) struct Entry<I, T> {
    pub(super) id: I,
    pub(super) value: T,
    /// What the shop had.
    was: Option<T>,
    /// Where this run gave it.
    pub(super) given: Option<Place>,
}

/// A register: one row per key; a row with a known key takes the place of the old one.
#[derive(Debug)]
pub(super) struct Register<K, I, T> {
    entries: BTreeMap<K, Entry<I, T>>,
    next: i64,
    make: fn(i64) -> I,
}

impl<K: Ord + Clone, I: Copy, T: Clone + PartialEq> Register<K, I, T> {
    /// What the shop has; `row` gives the number of an id, `make` the id of a number.
    pub(super) fn of(rows: impl Iterator<Item = (K, I, T)>, row: fn(I) -> i64, make: fn(i64) -> I) -> Self {
        let mut next = 1;
        let mut entries = BTreeMap::new();
        for (key, id, value) in rows {
            next = next.max(row(id).saturating_add(1));
            entries.insert(key, Entry { id, was: Some(value.clone()), value, given: None });
        }
        Self { entries, next, make }
    }

    pub(super) fn get(&self, key: &K) -> Option<&Entry<I, T>> {
        self.entries.get(key)
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = (&K, &Entry<I, T>)> {
        self.entries.iter()
    }

    /// Takes a row in.
    ///
    /// # Errors
    /// This run gave another content for that key before, there.
    pub(super) fn put(&mut self, key: K, value: T, place: Place) -> Result<Landing, Place> {
        let Some(entry) = self.entries.get_mut(&key) else {
            let id = (self.make)(self.next);
            self.next += 1;
            self.entries.insert(key, Entry { id, value, was: None, given: Some(place) });
            return Ok(Landing::New);
        };
        if entry.value == value {
            entry.given.get_or_insert(place);
            return Ok(Landing::Here);
        }
        match entry.given {
            Some(before) => Err(before),
            None => {
                entry.value = value;
                entry.given = Some(place);
                Ok(Landing::Changed)
            }
        }
    }

    /// Takes a row of this run back; returns what it had been.
    pub(super) fn take_back(&mut self, key: &K) -> Option<Landing> {
        let entry = self.entries.get_mut(key)?;
        entry.given = None;
        if let Some(was) = &entry.was {
            let landing = if entry.value == *was { Landing::Here } else { Landing::Changed };
            entry.value = was.clone();
            Some(landing)
        } else {
            self.entries.remove(key);
            Some(Landing::New)
        }
    }

    /// The rows that are new or changed.
    pub(super) fn table(&self) -> Table<I, T> {
        let mut table = Table::default();
        for entry in self.entries.values() {
            let row = || Row { id: entry.id, value: entry.value.clone() };
            match &entry.was {
                None => table.added.push(row()),
                Some(was) if *was != entry.value => table.changed.push(row()),
                Some(_) => {}
            }
        }
        table
    }
}

/// Records: a row is already there when one with the same content is.
#[derive(Debug)]
pub(super) struct Records<I, T> {
    /// Contents that are there; only asked, never walked. `None` until the table is first needed.
    seen: Option<HashSet<ContentKey>>,
    pub(super) added: Vec<Row<I, T>>,
    /// Where the added rows stand, in the same order.
    pub(super) places: Vec<Place>,
    next: i64,
    make: fn(i64) -> I,
}

impl<I, T> Records<I, T> {
    pub(super) fn after(ids: impl Iterator<Item = i64>, make: fn(i64) -> I) -> Self {
        let next = ids.max().unwrap_or(0).saturating_add(1);
        Self { seen: None, added: Vec::new(), places: Vec::new(), next, make }
    }

    /// Takes a record in unless it is there; `known` gives the contents that the shop has.
    pub(super) fn put(
        &mut self,
        content: &[String],
        value: T,
        place: Place,
        known: impl FnOnce() -> HashSet<ContentKey>,
    ) -> Landing {
        if !self.seen.get_or_insert_with(known).insert(content_key(content)) {
            return Landing::Here;
        }
        self.added.push(Row { id: (self.make)(self.next), value });
        self.places.push(place);
        self.next += 1;
        Landing::New
    }
}

/// Stands for the content of a record: two hashes of 64 bits, so that a file of millions of rows
/// needs little memory, and two of four million contents share one once in 10^25 files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct ContentKey(u64, u64);

pub(super) fn content_key(content: &[String]) -> ContentKey {
    let hash = |salt: u8| {
        let mut hasher = DefaultHasher::new();
        salt.hash(&mut hasher);
        // lengths go in with the texts, so that no field can run into the next
        content.hash(&mut hasher);
        hasher.finish()
    };
    ContentKey(hash(0), hash(1))
}
