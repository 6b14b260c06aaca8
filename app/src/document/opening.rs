//! Opening: a shop file, a folder as a shop without a name, or an empty shop. Away from the frame.

use super::keeper::{JOURNAL_SHOWN, Keeper};
use super::{Naming, Revisions, Snapshot, sample};
use crate::preferences::Folders;
use crate::task::Pulse;
use almanac_core::actions::Action;
use almanac_core::import::{ImportError, ImportReport, Source, import, read_paths};
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store, StoreError};
use almanac_core::words;
use chrono::{DateTime, Local, NaiveDate, NaiveDateTime};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is to be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OpenWhat {
    /// A shop file, a shop folder or a CSV file, found out by looking.
    Path(PathBuf),
    /// Several CSV files or folders as one shop.
    Paths(Vec<PathBuf>),
    /// An empty shop.
    New,
    /// The invented shop that comes with the program.
    Sample,
}

/// All that opening needs to know.
#[derive(Debug, Clone)]
pub struct Opening {
    /// What.
    pub what: OpenWhat,
    /// Where shops without a name go.
    pub folders: Folders,
    /// Who and when, for the journal of a shop that is imported.
    pub stamp: StepStamp,
    /// Today.
    pub today: NaiveDate,
    /// Gives out revisions.
    pub revisions: Revisions,
}

/// A shop just opened.
#[derive(Debug)]
pub struct Opened {
    pub(super) keeper: Keeper,
    /// Where it lies.
    pub path: PathBuf,
    /// Whether the user named it.
    pub naming: Naming,
    /// Why it can only be read.
    pub read_only: Option<String>,
    /// When the file was last written.
    pub saved_at: Option<NaiveDateTime>,
    /// The first snapshot.
    pub snapshot: Snapshot,
    /// What is to be told, in sentences.
    pub said: Vec<String>,
    /// Files of which rows were refused, so that nothing came in.
    pub look_through: Vec<PathBuf>,
}

/// Opens; `Ok(None)`: stopped by the user.
///
/// # Errors
/// A sentence why not; the file or folder was left as it is.
pub fn open(opening: &Opening, pulse: &Pulse) -> Result<Option<Opened>, String> {
    match &opening.what {
        OpenWhat::New => opening.new_shop().map(Some),
        OpenWhat::Path(path) if is_for_import(path) => opening.paths(std::slice::from_ref(path), pulse),
        OpenWhat::Path(path) => opening.file(path).map(Some),
        OpenWhat::Paths(paths) => opening.paths(paths, pulse),
        OpenWhat::Sample => opening.import(&sample::sources(), &[], pulse),
    }
}

/// Folders and CSV files are imported, anything else has to be a shop file.
fn is_for_import(path: &Path) -> bool {
    path.is_dir() || path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
}

impl Opening {
    fn file(&self, path: &Path) -> Result<Opened, String> {
        let (store, read_only) = match Store::open(path, Access::ReadWrite) {
            Ok(store) => (store, None),
            Err(StoreError::InUse(_)) => {
                let store = Store::open(path, Access::ReadOnly).map_err(|error| error.to_string())?;
                (store, Some("open in another window: read only".to_owned()))
            }
            Err(StoreError::NoPermission { what, path: place }) => match Store::open(path, Access::ReadOnly) {
                Ok(store) => (store, Some("no right to write: read only".to_owned())),
                Err(_) => return Err(StoreError::NoPermission { what, path: place }.to_string()),
            },
            Err(error) => return Err(error.to_string()),
        };
        let said = store
            .backup_before_upgrade()
            .map(|copy| format!("the file was of an older version; a copy as it was lies in {}", copy.display()))
            .into_iter()
            .collect();
        let naming = if path.starts_with(&self.folders.data) { Naming::Untitled } else { Naming::Named };
        self.opened(store, path.to_owned(), naming, false, read_only, said)
    }

    fn new_shop(&self) -> Result<Opened, String> {
        let (store, path) = self.create_untitled()?;
        self.opened(store, path, Naming::Untitled, true, None, Vec::new())
    }

    fn paths(&self, paths: &[PathBuf], pulse: &Pulse) -> Result<Option<Opened>, String> {
        let (sources, _remarks) = read_paths(paths).map_err(|error| in_the_window(&error))?;
        self.import(&sources, paths, pulse)
    }

    /// Files as a shop without a name. Where rows are refused nothing comes in: the shop stays
    /// empty, and the files are to be looked through.
    fn import(&self, sources: &[Source], paths: &[PathBuf], pulse: &Pulse) -> Result<Option<Opened>, String> {
        let outcome = match import(sources, &Shop::default(), self.today, pulse) {
            Ok(outcome) => outcome,
            Err(ImportError::Cancelled(_)) => return Ok(None),
            Err(error) => return Err(in_the_window(&error)),
        };
        let (mut store, path) = self.create_untitled()?;
        if !outcome.may_apply(false) {
            let opened = self.opened(store, path, Naming::Untitled, true, None, Vec::new())?;
            return Ok(Some(Opened { look_through: paths.to_vec(), ..opened }));
        }
        let said = doubted(&outcome.report).into_iter().collect();
        if let Err(error) = store.perform(Action::Import(Box::new(outcome.batch)), &self.stamp) {
            drop(store);
            // What could not be filled is of no use; an empty file left behind does no harm.
            let _stays = std::fs::remove_file(&path);
            return Err(error.to_string());
        }
        self.opened(store, path, Naming::Untitled, true, None, said).map(Some)
    }

    /// The next free `untitled-N.almanac`.
    fn create_untitled(&self) -> Result<(Store, PathBuf), String> {
        std::fs::create_dir_all(&self.folders.data).map_err(|error| {
            format!("the folder for shops without a name cannot be made: {error}: {}", self.folders.data.display())
        })?;
        for number in 1..100_000 {
            let path = self.folders.data.join(format!("untitled-{number}.almanac"));
            match Store::create(&path) {
                Ok(store) => return Ok((store, path)),
                Err(StoreError::AlreadyThere(_) | StoreError::InUse(_)) => {}
                Err(error) => return Err(error.to_string()),
            }
        }
        Err(format!("there are too many shops without a name in {}", self.folders.data.display()))
    }

    fn opened(
        &self,
        store: Store,
        path: PathBuf,
        naming: Naming,
        is_new: bool,
        read_only: Option<String>,
        said: Vec<String>,
    ) -> Result<Opened, String> {
        let whole = Arc::new(store.load_shop().map_err(|error| error.to_string())?);
        let journal = Arc::new(store.journal(JOURNAL_SHOWN, 0).map_err(|error| error.to_string())?);
        let today = self.today;
        let keeper = Keeper { store, whole, naming, is_new, depth: 0, journal, wanted_day: None, today };
        let snapshot = keeper.snapshot(&self.revisions).map_err(|error| error.to_string())?;
        let saved_at = std::fs::metadata(&path)
            .and_then(|meta| meta.modified())
            .ok()
            .map(|written| DateTime::<Local>::from(written).naive_local());
        Ok(Opened { keeper, path, naming, read_only, saved_at, snapshot, said, look_through: Vec::new() })
    }
}

/// Why files could not be read, with a mend that can be done in the window.
#[must_use]
pub fn in_the_window(error: &ImportError) -> String {
    match error {
        ImportError::NoSpindles(folder) => format!(
            "the folder has no spindles.csv, which a shop folder needs; choose the folder that has one, or open a shop \
             and drop the CSV files on it: {}",
            folder.display()
        ),
        other => other.to_string(),
    }
}

/// What came in as typed although it cannot be right, the first one in full.
fn doubted(report: &ImportReport) -> Option<String> {
    let first = report.questions.first()?;
    Some(match report.question_count {
        1 => format!("one figure is doubted and marked so: {first}"),
        several => format!("{} figures are doubted and marked so, the first: {first}", words::count_words(several)),
    })
}
