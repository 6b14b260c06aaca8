//! The SHOP of a command: a shop file, or a shop folder that is read into memory.

use super::CliError;
use super::output::say;
use super::transfer::refusal;
use almanac_core::forecast::NoProgress;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::import::import_paths;
use almanac_core::shop::Shop;
use almanac_core::store::{Access, Store};
use chrono::NaiveDate;
use std::path::Path;
use std::sync::Arc;

/// A shop that was read, and how it is called.
#[derive(Debug)]
pub struct LoadedShop {
    /// What stands in it.
    pub shop: Shop,
    /// Its name, or that of the file where it has none.
    pub name: String,
    /// The file it came from, to look for what it taught; a folder keeps no fits.
    file: Option<Store>,
}

impl LoadedShop {
    /// What the shop taught, for a projection from a day: as kept last and not later, however old
    /// (the window sees to newer ones), else learnt from what was known on the day. Nothing is written.
    ///
    /// # Errors
    /// None but being stopped, which nobody does.
    pub fn fits(&self, known: &Shop, day: NaiveDate) -> Result<ShopFits, CliError> {
        match self.file.as_ref().and_then(|file| file.shop_fits_known_on(day)) {
            Some(fits) => Ok(fits),
            None => ShopFits::fit(known, day, &NoProgress).map_err(CliError::of),
        }
    }

    /// All that the shop taught over time, as kept; nothing for a folder.
    ///
    /// # Errors
    /// The file cannot be read any more.
    pub fn kept_fits(&self) -> Result<Vec<Arc<ShopFits>>, CliError> {
        let Some(file) = &self.file else { return Ok(Vec::new()) };
        Ok(file.all_shop_fits().map_err(CliError::of)?.into_iter().map(Arc::new).collect())
    }
}

/// Reads a shop file or a shop folder; what a folder asks or leaves out is said on stderr.
///
/// # Errors
/// One sentence: it is missing, cannot be read, is not ours, or rows of the folder are refused.
pub fn load(path: &Path, today: NaiveDate) -> Result<LoadedShop, CliError> {
    let (shop, file) = if path.is_dir() {
        (load_folder(path, today)?, None)
    } else {
        let store = Store::open(path, Access::ReadOnly).map_err(CliError::of)?;
        (store.load_shop().map_err(CliError::of)?, Some(store))
    };
    let own_name = shop.settings.name.trim();
    let name = if own_name.is_empty() {
        path.file_stem().map_or_else(|| path.display().to_string(), |stem| stem.to_string_lossy().into_owned())
    } else {
        own_name.to_owned()
    };
    Ok(LoadedShop { shop, name, file })
}

fn load_folder(path: &Path, today: NaiveDate) -> Result<Shop, CliError> {
    let empty = Shop::default();
    let outcome = import_paths(&[path.to_owned()], &empty, today, &NoProgress).map_err(CliError::of)?;
    if !outcome.may_apply(false) {
        return Err(refusal(&outcome.report));
    }
    for note in &outcome.report.notes {
        say(&note.to_string());
    }
    for question in &outcome.report.questions {
        say(&format!("question: {question}"));
    }
    Ok(outcome.batch.apply_to(&empty).sorted())
}

/// A shop file that a command is going to write or copy; a folder is refused in words.
///
/// # Errors
/// The path is a folder.
pub(super) fn must_be_file(path: &Path, what: &str) -> Result<(), CliError> {
    if path.is_dir() {
        let path = path.display();
        return Err(CliError::Sentence(format!(
            "{what} needs a shop file such as works.almanac, not a folder (import the folder first): {path}"
        )));
    }
    Ok(())
}
