//! First form of the forecast: a least-squares line per stretch between services.
//!
//! Force in percent of nominal, mean of the strokes, over run hours (clamp cycles or working days
//! where there is no meter of hours). Doubted readings stay out of the line, and the forecast says
//! so. Limits are reached by Student's t about the line, the uncertainty of the usage included.

use super::ahead::DaysAhead;
use super::fits::ShopFits;
use super::groups::Groups;
use super::history::History;
use super::spindle::{Subject, Surroundings, project};
use super::student::StudentTable;
use super::{Cancelled, ForecastConfig, Progress, ShopForecast, SpindleForecast};
use crate::exposure::ExposureBook;
use crate::ids::{OrderId, Row, SpindleId};
use crate::order::Order;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A forecast looks ahead at most so far.
const LONGEST_HORIZON_DAYS: u32 = 20_000;

/// Fits a shop as known on a day, then projects every spindle of it ([`project_shop`]): for callers
/// that have no fit at hand.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn forecast_shop(
    shop: &Shop,
    as_of: NaiveDate,
    config: &ForecastConfig,
    progress: &dyn Progress,
) -> Result<ShopForecast, Cancelled> {
    let fits = ShopFits::fit(&shop.known_on(as_of), as_of, progress)?;
    project_shop(shop, as_of, config, &Arc::new(fits), progress)
}

/// Projects every spindle of a shop from one day with what a fit taught. Nothing that was dated or
/// recorded later is used ([`Shop::known_on`]); the fit must not be later either.
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn project_shop(
    shop: &Shop,
    as_of: NaiveDate,
    config: &ForecastConfig,
    fits: &Arc<ShopFits>,
    progress: &dyn Progress,
) -> Result<ShopForecast, Cancelled> {
    let basis = ForecastBasis::of(shop, as_of, config, fits, progress)?;
    let total = shop.spindles.len();
    let mut spindles = BTreeMap::new();
    for (done, id) in shop.spindles.keys().enumerate() {
        if !progress.step(done, total) {
            return Err(Cancelled);
        }
        if let Some(forecast) = basis.project(*id) {
            spindles.insert(*id, Arc::new(forecast));
        }
    }
    if !progress.step(total, total) {
        return Err(Cancelled);
    }
    Ok(ShopForecast { as_of, config: *config, spindles })
}

/// Projects one spindle anew, with the group figures of an earlier run: what other spindles taught
/// stays as it was. `None` for a spindle that the shop does not have.
#[must_use]
pub fn forecast_spindle(
    shop: &Shop,
    as_of: NaiveDate,
    config: &ForecastConfig,
    fits: &Arc<ShopFits>,
    groups: &Groups,
    spindle: SpindleId,
) -> Option<SpindleForecast> {
    shop.spindles.get(&spindle)?;
    let known = shop.known_on(as_of);
    let config = sane(config);
    let book = ExposureBook::of_spindle(&known, as_of, config.horizon_days, spindle, &groups.usual);
    let histories = std::iter::once(spindle).filter_map(|id| Some((id, history_of(&known, &book, id)?))).collect();
    let basis = ForecastBasis::new(known, book, histories, (Some(groups.clone()), Arc::clone(fits)), config);
    basis.project(spindle)
}

/// Everything that is worked out once for a shop before its spindles are projected.
#[derive(Debug, Clone)]
pub struct ForecastBasis {
    shop: Shop,
    config: ForecastConfig,
    book: ExposureBook,
    days: DaysAhead,
    table: StudentTable,
    histories: BTreeMap<SpindleId, History>,
    groups: Groups,
    booked: BTreeMap<SpindleId, Row<OrderId, Order>>,
    fits: Arc<ShopFits>,
}

impl ForecastBasis {
    /// Exposure, histories and group figures of a shop as known on a day.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub fn of(
        shop: &Shop,
        as_of: NaiveDate,
        config: &ForecastConfig,
        fits: &Arc<ShopFits>,
        progress: &dyn Progress,
    ) -> Result<Self, Cancelled> {
        let config = sane(config);
        let known = shop.known_on(as_of);
        let book = ExposureBook::of(&known, as_of, config.horizon_days);
        let mut histories = BTreeMap::new();
        for id in known.spindles.keys() {
            if !progress.step(0, known.spindles.len()) {
                return Err(Cancelled);
            }
            histories.extend(history_of(&known, &book, *id).map(|history| (*id, history)));
        }
        Ok(Self::new(known, book, histories, (None, Arc::clone(fits)), config))
    }

    fn new(
        shop: Shop,
        book: ExposureBook,
        histories: BTreeMap<SpindleId, History>,
        (groups, fits): (Option<Groups>, Arc<ShopFits>),
        config: ForecastConfig,
    ) -> Self {
        let groups = groups.unwrap_or_else(|| {
            let known = histories.iter().filter_map(|(id, history)| Some((&shop.spindles.get(id)?.interface, history)));
            Groups::of(known, book.usual.clone())
        });
        let booked = shop.open_orders_on(book.as_of).into_iter().map(|(id, row)| (id, row.clone())).collect();
        let days = DaysAhead::new(&book.calendar, book.as_of, config.horizon_days);
        let table = StudentTable::new(config.accepted_risk);
        Self { shop, config, book, days, table, histories, groups, booked, fits }
    }

    /// What the spindles have in common; for [`forecast_spindle`].
    #[must_use]
    pub const fn groups(&self) -> &Groups {
        &self.groups
    }

    /// What the shop taught.
    #[must_use]
    pub const fn fits(&self) -> &Arc<ShopFits> {
        &self.fits
    }

    /// The exposure of all spindles.
    #[must_use]
    pub const fn exposure(&self) -> &ExposureBook {
        &self.book
    }

    /// Projects one spindle; `None` for one that the shop does not have.
    #[must_use]
    pub fn project(&self, id: SpindleId) -> Option<SpindleForecast> {
        let spindle = self.shop.spindles.get(&id)?;
        let around = Surroundings {
            shop: &self.shop,
            book: &self.book,
            days: &self.days,
            table: &self.table,
            config: &self.config,
        };
        let subject = Subject {
            id,
            spindle,
            limits: self.shop.limits_of(spindle),
            exposure: self.book.spindles.get(&id)?,
            history: self.histories.get(&id)?,
            figures: self.groups.figures(&spindle.interface),
            booked: self.booked.get(&id).and_then(|order| Some((order.start?, order.kind))),
        };
        Some(project(around, &subject))
    }
}

fn history_of(shop: &Shop, book: &ExposureBook, id: SpindleId) -> Option<History> {
    let spindle = shop.spindles.get(&id)?;
    let limits = shop.limits_of(spindle);
    Some(History::of(shop, id, spindle, &limits, book.spindles.get(&id)?, book))
}

/// The same request within what can be computed.
fn sane(config: &ForecastConfig) -> ForecastConfig {
    let risk = if config.accepted_risk.is_finite() { config.accepted_risk.clamp(1e-4, 0.9999) } else { 0.1 };
    ForecastConfig { accepted_risk: risk, horizon_days: config.horizon_days.clamp(1, LONGEST_HORIZON_DAYS) }
}
