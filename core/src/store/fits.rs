//! Fitted parameters of the forecast, kept with the records that they were fitted to.
//!
//! They can be worked out again at any time, so they are no steps: undo and journal do not know them.
//! For the same reason not all are kept for ever: of the last 90 days every one, before that the
//! newest of each quarter. A past day still takes none that is later than itself.

use super::columns::Column as _;
use super::{Store, StoreError};
use crate::forecast::fits::ShopFits;
use crate::forecast::kept;
use chrono::NaiveDate;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, params};

/// What a fit found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredFit {
    /// What was fitted, such as a group of spindles.
    pub subject: String,
    /// The last day that was known to it.
    pub fitted_on: NaiveDate,
    /// The parameters as the forecast writes them.
    pub parameters: String,
}

/// What is older than the newest fit by more than 90 days and not the newest of its quarter, but for one of a day.
const THIN_OUT: &str = "
    DELETE FROM fit
    WHERE subject = ?1 AND fitted_on <> ?2
      AND fitted_on < (SELECT date(max(newest.fitted_on), '-90 days') FROM fit AS newest WHERE newest.subject = ?1)
      AND EXISTS (
        SELECT 1 FROM fit AS later
        WHERE later.subject = fit.subject AND later.fitted_on > fit.fitted_on
          AND substr(later.fitted_on, 1, 4) = substr(fit.fitted_on, 1, 4)
          AND (CAST(substr(later.fitted_on, 6, 2) AS INTEGER) + 2) / 3
            = (CAST(substr(fit.fitted_on, 6, 2) AS INTEGER) + 2) / 3)";

/// Under what the fit of the whole shop is kept.
const SHOP: &str = "shop";

impl Store {
    /// Keeps what the shop taught under its day; one of the same day is replaced. `false`: it holds
    /// figures that cannot be kept, and nothing was written.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn save_shop_fits(&mut self, fits: &ShopFits) -> Result<bool, StoreError> {
        let Some(parameters) = kept::to_text(fits) else { return Ok(false) };
        self.save_fits(&[StoredFit { subject: SHOP.to_owned(), fitted_on: fits.fitted_on, parameters }])?;
        Ok(true)
    }

    /// What the shop taught, as kept last and not later than a day. `None` where nothing was kept
    /// by then, or what was cannot be read: nothing is lost by that, the shop is fitted anew. So it
    /// never keeps a shop from being opened; a damaged file is told by what cannot be done without.
    #[must_use]
    pub fn shop_fits_known_on(&self, day: NaiveDate) -> Option<ShopFits> {
        let kept = self.fits_known_on(day).ok()?.into_iter().find(|fit| fit.subject == SHOP)?;
        kept::from_text(&kept.parameters, kept.fitted_on)
    }

    /// All that the shop taught over time, oldest first; what can no longer be read is left out.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn all_shop_fits(&self) -> Result<Vec<ShopFits>, StoreError> {
        let sql = "SELECT fitted_on, parameters FROM fit WHERE subject = ?1 ORDER BY fitted_on";
        let mut statement = self.connection.prepare_cached(sql)?;
        let mut rows = statement.query([SHOP])?;
        let mut fits = Vec::new();
        while let Some(row) = rows.next()? {
            let fitted_on = day_of_fit(row.get_ref(0)?)?;
            fits.extend(kept::from_text(&row.get::<_, String>(1)?, fitted_on));
        }
        Ok(fits)
    }

    /// Keeps fits; one of the same subject and day is replaced. Older ones are thinned out: all of
    /// the last 90 days before the newest stay, and the newest of each quarter before them. The one that
    /// is kept now stays in any case, so that whoever looks at a past day has it while looking.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn save_fits(&mut self, fits: &[StoredFit]) -> Result<(), StoreError> {
        let transaction = self.begin()?;
        for fit in fits {
            transaction
                .prepare_cached(
                    "INSERT INTO fit (subject, fitted_on, parameters) VALUES (?1, ?2, ?3)
                     ON CONFLICT (subject, fitted_on) DO UPDATE SET parameters = excluded.parameters",
                )?
                .execute(params![fit.subject, fit.fitted_on.to_string(), fit.parameters])?;
            transaction.prepare_cached(THIN_OUT)?.execute(params![fit.subject, fit.fitted_on.to_string()])?;
        }
        transaction.commit()?;
        Ok(())
    }

    /// For each subject the newest fit that is not later than a day, by subject.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn fits_known_on(&self, day: NaiveDate) -> Result<Vec<StoredFit>, StoreError> {
        known_on(&self.connection, day)
    }
}

fn known_on(connection: &Connection, day: NaiveDate) -> Result<Vec<StoredFit>, StoreError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, subject, max(fitted_on), parameters FROM fit WHERE fitted_on <= ?1 GROUP BY subject ORDER BY subject",
    )?;
    let mut rows = statement.query([day.to_string()])?;
    let mut fits = Vec::new();
    while let Some(row) = rows.next()? {
        let fitted_on = day_of_fit(row.get_ref(2)?)?;
        fits.push(StoredFit { subject: row.get(1)?, fitted_on, parameters: row.get(3)? });
    }
    Ok(fits)
}

fn day_of_fit(stored: ValueRef<'_>) -> Result<NaiveDate, StoreError> {
    NaiveDate::from_stored(stored).ok_or_else(|| StoreError::Damaged("a fit without a day".to_owned()))
}
