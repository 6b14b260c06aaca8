//! What the pages and the head are shown.

use super::App;
use crate::command::Situation;
use crate::document::{Document, Naming};
use crate::pages::PageContext;
use crate::preferences::Recent;
use crate::results::Results;
use crate::what_if;
use crate::widgets::head::{Day, Head, RecentFile};
use crate::worker::{Doing, Worker};
use almanac_core::words;

/// What stands in the head where no shop is open.
pub(crate) const PROGRAM: &str = "Drawbar Almanac";

/// What the head says on a day before the present: rows count by their dates, while limits and
/// registers have no history.
const OF_A_PAST_DAY: &str = "entry is closed; limits and registers as they stand now";
const SHORT_OF_A_PAST_DAY: [&str; 3] =
    ["entry is closed; limits as they stand now", "closed; limits as they stand now", "limits as now"];

/// All that a page can see; `None` without a shop.
pub(super) fn context<'a>(
    document: Option<&'a Document>,
    results: &'a Results,
    worker: Option<&Worker>,
    entry_closed: Option<&'a str>,
) -> Option<PageContext<'a>> {
    let snapshot = document?.snapshot();
    let figures = results.figures();
    Some(PageContext {
        shop: &snapshot.known,
        whole: &snapshot.whole,
        forecast: figures.map(|figures| &*figures.forecast),
        due: figures.map(|figures| &*figures.due),
        fits: figures.map(|figures| &*figures.fits),
        intervals: figures.map(|figures| figures.intervals.as_slice()).unwrap_or_default(),
        revision: snapshot.revision,
        figures_revision: results.figures_revision(),
        is_current: results.is_current(snapshot.revision),
        doing: worker.and_then(Worker::doing),
        as_of: snapshot.as_of,
        present: snapshot.present,
        entry_closed,
        journal: &snapshot.journal,
        what_if: None,
    })
}

impl App {
    /// Why nothing can be entered.
    pub(super) fn entry_closed(&self) -> Option<String> {
        let document = self.document.as_ref()?;
        let snapshot = document.snapshot();
        if self.what_if.is_on() {
            return Some(what_if::ENTRY_CLOSED.to_owned());
        }
        if let Some(reason) = document.read_only() {
            return Some(format!("entry is closed: {reason}"));
        }
        (snapshot.as_of < snapshot.present).then(|| {
            format!(
                "entry is closed on a day before the present: back to {} with Alt Home",
                words::date_long(snapshot.present, snapshot.as_of)
            )
        })
    }

    /// What can be done now.
    pub(super) fn situation(&self) -> Situation {
        let Some(document) = &self.document else { return Situation::default() };
        let snapshot = document.snapshot();
        let past = document.day() < snapshot.present;
        let writable = document.read_only().is_none() && !self.what_if.is_on();
        Situation {
            shop: true,
            entry: writable && !past,
            undo: writable && !past && snapshot.undo.is_some(),
            redo: writable && !past && snapshot.redo.is_some(),
            past,
        }
    }

    /// The head of this frame.
    pub(super) fn head<'a>(&'a self, recent: &'a [RecentFile]) -> Head<'a> {
        let snapshot = self.document.as_ref().map(Document::snapshot);
        let title = snapshot.map_or(PROGRAM, |snapshot| {
            let name = snapshot.whole.settings.name.as_str();
            if name.is_empty() { "Shop without a name" } else { name }
        });
        let (status, status_names_shop) = self.status();
        let status_short: &[&str] = if status == OF_A_PAST_DAY { &SHORT_OF_A_PAST_DAY } else { &[] };
        Head {
            title,
            page: self.view.page(),
            status,
            status_short,
            status_names_shop,
            day: self
                .document
                .as_ref()
                .map(|document| Day { as_of: document.day(), present: document.snapshot().present }),
            situation: self.situation(),
            undo: snapshot.and_then(|snapshot| snapshot.undo.as_deref()),
            redo: snapshot.and_then(|snapshot| snapshot.redo.as_deref()),
            recent,
        }
    }

    /// The words left of the day, and whether they lead to a name for the shop.
    fn status(&self) -> (String, bool) {
        if let Some((opening, _)) = &self.opening {
            return (with_progress(&opening.what, opening.progress()), false);
        }
        if self.what_if.is_on() {
            return (what_if::IN_HEAD.to_owned(), false);
        }
        if let Some(errand) = self.errands.first() {
            return (with_progress(&errand.what, errand.progress()), false);
        }
        let Some(document) = &self.document else { return (String::new(), false) };
        let doing = self.worker.as_ref().and_then(Worker::doing);
        if let Some(doing) = doing.filter(|doing| !matches!(doing, Doing::Projecting(_, 0))) {
            return (doing.in_words(), false);
        }
        if let Some(reason) = document.read_only() {
            return (reason.to_owned(), false);
        }
        if document.day() < document.snapshot().present {
            return (OF_A_PAST_DAY.to_owned(), false);
        }
        if !self.results.is_current(document.snapshot().revision)
            && self.worker.as_ref().is_none_or(|worker| !worker.is_busy())
            && let Some(at) = self.results.computed_at()
        {
            return (format!("figures of {}", at.format("%H:%M")), false);
        }
        let unlearnt = self.results.figures().is_some_and(|figures| figures.fits.is_weak());
        if unlearnt && !document.snapshot().known.readings.is_empty() {
            return ("nothing learnt yet: dates rest on experience".to_owned(), false);
        }
        match (document.naming(), document.saved_at()) {
            (Naming::Untitled, _) => ("not saved under a name yet: Ctrl S".to_owned(), true),
            (Naming::Named, Some(at)) if at.date() == self.today => (format!("saved {}", at.format("%H:%M")), false),
            (Naming::Named, Some(at)) => (format!("saved {}", words::date_short(at.date(), self.today)), false),
            (Naming::Named, None) => ("saved".to_owned(), false),
        }
    }

    /// Recent files as they are shown, the open one left out.
    pub(super) fn recent_shown(&self) -> Vec<RecentFile> {
        let open = self.document.as_ref().map(Document::path);
        let folders = &self.outside.folders;
        self.preferences
            .recent
            .iter()
            .filter(|recent| Some(recent.path.as_path()) != open)
            .map(|Recent { path, name }| {
                let file = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
                let is_untitled = path.starts_with(&folders.data);
                let name = match (name.as_str(), is_untitled) {
                    ("", true) => "Shop without a name".to_owned(),
                    ("", false) => file.clone(),
                    (name, _) => name.to_owned(),
                };
                let place = if is_untitled { format!("{file}, not saved yet") } else { folders.shown(path) };
                RecentFile { name, place, path: path.clone() }
            })
            .collect()
    }
}

/// `reading sample-shop, 4,120 of 9,000`.
pub(crate) fn with_progress(what: &str, progress: Option<(usize, usize)>) -> String {
    progress.map_or_else(|| format!("{what} \u{2026}"), |(done, total)| format!("{what}, {}", of(done, total)))
}

fn of(done: usize, total: usize) -> String {
    format!("{} of {}", words::number(done as f64, 0), words::number(total as f64, 0))
}
