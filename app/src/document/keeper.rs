//! The thread that keeps the shop file: it alone reads and writes it.

use super::{Answer, Change, Letter, Naming, Revisions, Snapshot, Wish};
use almanac_core::export::folder::write_folder;
use almanac_core::shop::Shop;
use almanac_core::store::{Access, Changes, JournalEntry, Store, StoreError};
use chrono::NaiveDate;
use eframe::egui;
use std::fmt::Display;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};

/// How many entries of the journal the window shows.
pub(super) const JOURNAL_SHOWN: usize = 500;

/// The file with what was last read from it.
#[derive(Debug)]
pub(crate) struct Keeper {
    pub(super) store: Store,
    pub(super) whole: Arc<Shop>,
    pub(super) naming: Naming,
    /// Made in this window: goes again where nothing was changed.
    pub(super) is_new: bool,
    /// Steps done less steps taken back since it was made or opened.
    pub(super) depth: i64,
    pub(super) journal: Arc<Vec<JournalEntry>>,
    pub(super) wanted_day: Option<NaiveDate>,
    pub(super) today: NaiveDate,
}

impl Keeper {
    /// Works until the window closes the shop.
    pub(super) fn run(
        mut self,
        inbox: &Receiver<Letter>,
        outbox: &Sender<Answer>,
        revisions: &Revisions,
        ctx: &egui::Context,
    ) {
        while let Ok(letter) = inbox.recv() {
            let wish = match letter {
                Letter::Wish(wish) => wish,
                Letter::Retire(snapshot) => {
                    drop(snapshot);
                    continue;
                }
            };
            let answer = self.answer(wish, revisions).unwrap_or_else(|failed| failed);
            if outbox.send(answer).is_err() {
                // The window left; what it wished before is still done.
                continue;
            }
            ctx.request_repaint();
        }
        self.close();
    }

    fn answer(&mut self, wish: Wish, revisions: &Revisions) -> Result<Answer, Answer> {
        match wish {
            Wish::Perform(action, stamp) => {
                let changes = self.store.perform(*action, &stamp).map_err(failed)?;
                self.depth += i64::from(!changes.is_empty());
                let changed = !changes.is_empty();
                self.refresh(&changes).map_err(failed)?;
                self.changed(Change::Performed(changed), revisions)
            }
            Wish::Undo(stamp) => {
                if self.is_new && self.depth == 0 {
                    // The step below is the import of the folder that was opened.
                    return Err(Answer::Failed("there is nothing to undo".to_owned()));
                }
                let label = self.store.undo_label().map_err(failed)?.unwrap_or_default();
                let changes = self.store.undo(&stamp).map_err(failed)?;
                self.depth -= 1;
                self.refresh(&changes).map_err(failed)?;
                self.changed(Change::Undone(label), revisions)
            }
            Wish::Redo(stamp) => {
                let label = self.store.redo_label().map_err(failed)?.unwrap_or_default();
                let changes = self.store.redo(&stamp).map_err(failed)?;
                self.depth += 1;
                self.refresh(&changes).map_err(failed)?;
                self.changed(Change::Redone(label), revisions)
            }
            Wish::Look(day, today) => {
                self.wanted_day = day;
                self.today = today;
                self.changed(Change::Looked, revisions)
            }
            Wish::Reread => {
                self.whole = Arc::new(self.store.load_shop().map_err(failed)?);
                self.journal = Arc::new(self.store.journal(JOURNAL_SHOWN, 0).map_err(failed)?);
                self.changed(Change::Looked, revisions)
            }
            Wish::SaveAs(path) => self.save_as(path),
            Wish::Backup(path) => {
                make_parent(&path)?;
                self.store.backup(&path).map_err(path_failed)?;
                Ok(Answer::Wrote("a checked backup", path))
            }
            Wish::ExportFolder(folder) => {
                write_folder(&self.whole, &folder).map_err(path_failed)?;
                Ok(Answer::Wrote("the shop folder", folder))
            }
            Wish::KeepFits(fits) => {
                let kept = self.store.save_shop_fits(&fits);
                kept.map_err(|error| Answer::Failed(format!("what was learnt could not be kept: {error}")))?;
                Ok(Answer::Kept)
            }
        }
    }

    fn refresh(&mut self, changes: &Changes) -> Result<(), StoreError> {
        if !changes.is_empty() {
            self.whole = Arc::new(self.store.reload(&self.whole, changes)?);
            self.journal = Arc::new(self.store.journal(JOURNAL_SHOWN, 0)?);
        }
        Ok(())
    }

    fn changed(&self, change: Change, revisions: &Revisions) -> Result<Answer, Answer> {
        Ok(Answer::Changed(Box::new(self.snapshot(revisions).map_err(failed)?), change))
    }

    /// The shop as it stands, seen from the wanted day.
    pub(super) fn snapshot(&self, revisions: &Revisions) -> Result<Snapshot, StoreError> {
        let present = self.whole.present(self.today);
        let as_of = self.wanted_day.unwrap_or(present).min(present);
        let undo = if self.is_new && self.depth == 0 { None } else { self.store.undo_label()? };
        Ok(Snapshot {
            whole: Arc::clone(&self.whole),
            known: Arc::new(self.whole.known_on(as_of)),
            as_of,
            present,
            revision: revisions.next(),
            journal: Arc::clone(&self.journal),
            undo,
            redo: self.store.redo_label()?,
            is_untouched: self.is_untouched(),
            fits: self.store.shop_fits_known_on(as_of).map(Arc::new),
        })
    }

    const fn is_untouched(&self) -> bool {
        self.is_new && self.depth == 0
    }

    /// A checked copy under the new name, then on with that one; an untitled file goes.
    fn save_as(&mut self, path: PathBuf) -> Result<Answer, Answer> {
        make_parent(&path)?;
        self.store.backup(&path).map_err(path_failed)?;
        let named = Store::open(&path, Access::ReadWrite).map_err(path_failed)?;
        let left = std::mem::replace(&mut self.store, named);
        let old = left.path().map(Path::to_owned);
        drop(left);
        if self.naming == Naming::Untitled
            && let Some(old) = old
        {
            std::fs::remove_file(&old).map_err(|error| {
                Answer::Failed(format!(
                    "the shop was saved as {}, but the copy without a name stays: {error}: {}",
                    path.display(),
                    old.display()
                ))
            })?;
        }
        self.naming = Naming::Named;
        self.is_new = false;
        Ok(Answer::SavedAs(path))
    }

    /// A shop without a name in which nothing was changed goes again.
    fn close(self) {
        let goes = self.naming == Naming::Untitled && self.is_untouched();
        let path = self.store.path().map(Path::to_owned);
        drop(self.store);
        if let (true, Some(path)) = (goes, path) {
            // It stays in the data folder otherwise, which does no harm.
            let _stays = std::fs::remove_file(path);
        }
    }
}

fn make_parent(path: &Path) -> Result<(), Answer> {
    let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) else { return Ok(()) };
    if folder.is_dir() { Ok(()) } else { Err(Answer::PathFailed(format!("there is no folder {}", folder.display()))) }
}

fn failed(error: impl Display) -> Answer {
    Answer::Failed(error.to_string())
}

fn path_failed(error: impl Display) -> Answer {
    Answer::PathFailed(error.to_string())
}
