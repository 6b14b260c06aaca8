//! The open shop as the window sees it: snapshots come in, wishes go out to the thread that keeps
//! the file. The frame thread never waits for the disk.

mod keeper;
mod opening;
mod sample;

pub use opening::{OpenWhat, Opened, Opening, in_the_window, open};

use almanac_core::actions::Action;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::shop::Shop;
use almanac_core::store::{JournalEntry, StepStamp};
use chrono::{NaiveDate, NaiveDateTime};
use eframe::egui;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;

/// Gives out revisions; they grow over all documents of the window, so that no cache takes one
/// shop for another.
#[derive(Debug, Clone, Default)]
pub struct Revisions(Arc<AtomicU64>);

impl Revisions {
    /// The next one, from 1.
    #[must_use]
    pub fn next(&self) -> u64 {
        self.0.fetch_add(1, Ordering::Relaxed) + 1
    }
}

/// The shop at one moment, seen from one day.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// All that stands in the shop.
    pub whole: Arc<Shop>,
    /// What was known on `as_of`.
    pub known: Arc<Shop>,
    /// The day looked at.
    pub as_of: NaiveDate,
    /// The day that stands for now.
    pub present: NaiveDate,
    /// Changes with every change of the shop or the day.
    pub revision: u64,
    /// The latest entries of the journal, newest first.
    pub journal: Arc<Vec<JournalEntry>>,
    /// What undo would turn back.
    pub undo: Option<String>,
    /// What redo would do again.
    pub redo: Option<String>,
    /// Nothing was changed since the file was made in this window.
    pub is_untouched: bool,
    /// What the shop taught, as kept last and not later than `as_of`.
    pub fits: Option<Arc<ShopFits>>,
}

/// A wish to the thread that keeps the file.
#[derive(Debug)]
pub(crate) enum Wish {
    /// Change the shop.
    Perform(Box<Action>, StepStamp),
    /// Take the last step back.
    Undo(StepStamp),
    /// Do it again.
    Redo(StepStamp),
    /// Look at a day (`None`: the present) as seen from today.
    Look(Option<NaiveDate>, NaiveDate),
    /// Read the file anew: another window may have written to it.
    Reread,
    /// Go on under another name.
    SaveAs(PathBuf),
    /// Write a checked copy.
    Backup(PathBuf),
    /// Write the folder of CSV files.
    ExportFolder(PathBuf),
    /// Keep what the shop taught.
    KeepFits(Arc<ShopFits>),
}

/// What goes to the thread.
#[derive(Debug)]
pub(crate) enum Letter {
    /// A wish, which gets an answer.
    Wish(Wish),
    /// A snapshot that is no longer shown: dropping a large one takes longer than a frame.
    Retire(Box<Snapshot>),
}

/// What the thread answers; one answer to each wish.
#[derive(Debug)]
pub enum Answer {
    /// The shop is another one now.
    Changed(Box<Snapshot>, Change),
    /// It could not be done; nothing was changed.
    Failed(String),
    /// The file a path was typed for could not be written.
    PathFailed(String),
    /// The shop lies there from now on.
    SavedAs(PathBuf),
    /// Something was written, in words without the path, and where.
    Wrote(&'static str, PathBuf),
    /// What the shop taught is in the file; nothing to say.
    Kept,
}

/// How a snapshot came to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// By an action; `false`: everything was already so.
    Performed(bool),
    /// A step was taken back.
    Undone(String),
    /// A step was done again.
    Redone(String),
    /// Another day, or read anew.
    Looked,
}

/// Where a shop lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Naming {
    /// In a file that the user named.
    Named,
    /// In the data folder, until the user names it.
    Untitled,
}

/// The open shop.
#[derive(Debug)]
pub struct Document {
    path: PathBuf,
    naming: Naming,
    read_only: Option<String>,
    snapshot: Snapshot,
    letters: Sender<Letter>,
    answers: Receiver<Answer>,
    thread: JoinHandle<()>,
    outstanding: usize,
    wanted_day: Option<NaiveDate>,
    saved_at: Option<NaiveDateTime>,
    /// What was learnt in this window, by its day.
    learnt: BTreeMap<NaiveDate, Arc<ShopFits>>,
    /// The user stopped learning, until asked for anew.
    is_learning_stopped: bool,
    id: u64,
    /// The thread ended by a fault, which was told.
    is_lost: bool,
}

impl Document {
    /// Starts the thread that keeps the file of a shop just opened.
    ///
    /// # Errors
    /// A sentence where the system gives no thread.
    pub fn start(ctx: &egui::Context, opened: Opened, revisions: &Revisions) -> Result<Self, String> {
        let (letters, inbox) = channel();
        let (outbox, answers) = channel();
        let Opened { keeper, path, naming, read_only, saved_at, snapshot, .. } = opened;
        let id = snapshot.revision;
        let (ctx, revisions) = (ctx.clone(), revisions.clone());
        let thread = std::thread::Builder::new()
            .name("shop file".to_owned())
            .spawn(move || keeper.run(&inbox, &outbox, &revisions, &ctx))
            .map_err(|error| format!("no thread could be started for the shop file: {error}"))?;
        Ok(Self {
            path,
            naming,
            read_only,
            snapshot,
            letters,
            answers,
            thread,
            outstanding: 0,
            wanted_day: None,
            saved_at,
            learnt: BTreeMap::new(),
            is_learning_stopped: false,
            id,
            is_lost: false,
        })
    }

    /// The shop as it stands.
    #[must_use]
    pub const fn snapshot(&self) -> &Snapshot {
        &self.snapshot
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether the user named it.
    #[must_use]
    pub const fn naming(&self) -> Naming {
        self.naming
    }

    /// Why it can only be read.
    #[must_use]
    pub fn read_only(&self) -> Option<&str> {
        self.read_only.as_deref()
    }

    /// When it was last written.
    #[must_use]
    pub const fn saved_at(&self) -> Option<NaiveDateTime> {
        self.saved_at
    }

    /// The day asked for last; the snapshot follows.
    #[must_use]
    pub fn day(&self) -> NaiveDate {
        self.wanted_day.unwrap_or(self.snapshot.present).min(self.snapshot.present)
    }

    /// Whether wishes are still being worked on.
    #[must_use]
    pub const fn is_busy(&self) -> bool {
        self.outstanding > 0
    }

    /// Changes the shop.
    pub fn perform(&mut self, action: Box<Action>, stamp: StepStamp) {
        self.wish(Wish::Perform(action, stamp));
    }

    /// Takes the last step back.
    pub fn undo(&mut self, stamp: StepStamp) {
        self.wish(Wish::Undo(stamp));
    }

    /// Does it again.
    pub fn redo(&mut self, stamp: StepStamp) {
        self.wish(Wish::Redo(stamp));
    }

    /// Looks at a day; the present or later is the present.
    pub fn look_as_of(&mut self, day: NaiveDate, today: NaiveDate) {
        self.wanted_day = (day < self.snapshot.present).then_some(day);
        self.wish(Wish::Look(self.wanted_day, today));
    }

    /// Another day has begun, or the file is to be read anew.
    pub fn renew(&mut self, today: NaiveDate) {
        if self.read_only.is_some() {
            self.wish(Wish::Reread);
        }
        self.wish(Wish::Look(self.wanted_day, today));
    }

    /// Goes on under another name.
    pub fn save_as(&mut self, path: PathBuf) {
        self.wish(Wish::SaveAs(path));
    }

    /// Writes a checked copy.
    pub fn backup(&mut self, path: PathBuf) {
        self.wish(Wish::Backup(path));
    }

    /// Writes the folder of CSV files.
    pub fn export_folder(&mut self, folder: PathBuf) {
        self.wish(Wish::ExportFolder(folder));
    }

    fn wish(&mut self, wish: Wish) {
        self.outstanding += 1;
        if self.letters.send(Letter::Wish(wish)).is_err() {
            // The thread is gone; `answers` says so.
            self.outstanding -= 1;
        }
    }

    /// What the thread answered since the last call; the snapshot is up to date afterwards.
    ///
    /// # Errors
    /// The thread ended by a fault.
    pub fn poll(&mut self, now: NaiveDateTime) -> Result<Vec<Answer>, String> {
        let answers: Vec<Answer> = self.answers.try_iter().collect();
        for answer in &answers {
            self.outstanding = self.outstanding.saturating_sub(1);
            match answer {
                Answer::Changed(snapshot, change) => {
                    let old = std::mem::replace(&mut self.snapshot, (**snapshot).clone());
                    // Without the thread it is dropped here.
                    let _dropped_here = self.letters.send(Letter::Retire(Box::new(old)));
                    if !matches!(change, Change::Looked | Change::Performed(false)) {
                        self.saved_at = Some(now);
                    }
                }
                Answer::SavedAs(path) => {
                    self.path.clone_from(path);
                    self.naming = Naming::Named;
                    self.read_only = None;
                    self.saved_at = Some(now);
                }
                Answer::Failed(_) | Answer::PathFailed(_) | Answer::Wrote(..) | Answer::Kept => {}
            }
        }
        if self.thread.is_finished() && answers.is_empty() && !self.is_lost {
            self.is_lost = true;
            self.outstanding = 0;
            self.read_only = Some("no longer written: open the shop again".to_owned());
            return Err("the shop can no longer be written: a fault in the program; what was saved is safe, \
                        open the shop again"
                .to_owned());
        }
        Ok(answers)
    }

    /// Which of the shops that were opened in this window.
    #[must_use]
    pub const fn id(&self) -> u64 {
        self.id
    }

    /// What the shop taught last, not later than the day looked at: in this window or as kept.
    #[must_use]
    pub fn fits(&self) -> Option<&Arc<ShopFits>> {
        let here = self.learnt.range(..=self.snapshot.as_of).next_back().map(|(_, fits)| fits);
        let kept = self.snapshot.fits.as_ref();
        match (here, kept) {
            (Some(here), Some(kept)) if kept.fitted_on <= here.fitted_on => Some(here),
            (here, kept) => kept.or(here),
        }
    }

    /// Keeps what the shop taught: in the file, where that can be written.
    pub fn keep_fits(&mut self, fits: Arc<ShopFits>) {
        if self.read_only.is_none() {
            self.wish(Wish::KeepFits(Arc::clone(&fits)));
        }
        self.learnt.insert(fits.fitted_on, fits);
    }

    /// Whether the user stopped learning from this shop.
    #[must_use]
    pub const fn is_learning_stopped(&self) -> bool {
        self.is_learning_stopped
    }

    /// The user stopped learning, or asked for it again.
    pub const fn stop_learning(&mut self, stopped: bool) {
        self.is_learning_stopped = stopped;
    }

    /// Ends it; what was wished is still done. Wait for the thread before leaving the program.
    #[must_use]
    pub fn close(self) -> JoinHandle<()> {
        let Self { letters, thread, .. } = self;
        drop(letters);
        thread
    }
}
