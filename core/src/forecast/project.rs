//! From a shop to the forecasts of its spindles, by the full model.

use super::fits::ShopFits;
use super::groups::Groups;
use super::observe::DayNumbers;
use super::spindle::{Subject, Surroundings, project};
use super::spread::spread;
use super::{Cancelled, ForecastConfig, PlannedUsage, Progress, ShopForecast, SpindleForecast};
use crate::exposure::ExposureBook;
use crate::ids::{OrderId, Row, SpindleId};
use crate::order::Order;
use crate::shop::Shop;
use chrono::NaiveDate;
use statrs::distribution::{ContinuousCDF as _, Normal};
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
    Ok(ShopForecast {
        config: *config,
        ..ForecastBasis::of(shop, as_of, config, fits, progress)?.project_all(progress)?
    })
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
    let known = shop.known_of(spindle, as_of);
    let config = sane(config);
    let book = ExposureBook::of_spindle(&known, as_of, config.horizon_days, spindle, &groups.usual);
    ForecastBasis::new(known, book, Arc::clone(fits), config).project(spindle)
}

/// Everything that is worked out once for a shop before its spindles are projected.
#[derive(Debug, Clone)]
pub struct ForecastBasis {
    shop: Shop,
    config: ForecastConfig,
    book: ExposureBook,
    days: DayNumbers,
    groups: Groups,
    booked: BTreeMap<SpindleId, Row<OrderId, Order>>,
    fits: Arc<ShopFits>,
    /// Standard normal quantile of one less the accepted risk.
    safe: f64,
}

impl ForecastBasis {
    /// Exposure and group figures of a shop as known on a day.
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
        if !progress.step(0, known.spindles.len()) {
            return Err(Cancelled);
        }
        let book = ExposureBook::of(&known, as_of, config.horizon_days);
        Ok(Self::new(known, book, Arc::clone(fits), config))
    }

    fn new(shop: Shop, book: ExposureBook, fits: Arc<ShopFits>, config: ForecastConfig) -> Self {
        let booked = shop.open_orders_on(book.as_of).into_iter().map(|(id, row)| (id, row.clone())).collect();
        let days = DayNumbers::of(&book);
        let groups = Groups { usual: book.usual.clone() };
        let safe = Normal::new(0.0, 1.0).map_or(0.0, |normal| normal.inverse_cdf(1.0 - config.accepted_risk));
        Self { shop, config, book, days, groups, booked, fits, safe }
    }

    /// Projects every spindle, over all processors.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub fn project_all(&self, progress: &dyn Progress) -> Result<ShopForecast, Cancelled> {
        let ids: Vec<SpindleId> = self.shop.spindles.keys().copied().collect();
        let forecasts = spread(&ids, progress, |id| self.project(*id).map(Arc::new))?;
        let spindles = ids.into_iter().zip(forecasts).filter_map(|(id, forecast)| Some((id, forecast?))).collect();
        Ok(ShopForecast { as_of: self.book.as_of, config: self.config, spindles })
    }

    /// The shop as known on the day.
    pub(super) const fn shop(&self) -> &Shop {
        &self.shop
    }

    /// Its days as numbers.
    pub(super) const fn days(&self) -> &DayNumbers {
        &self.days
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
        self.project_as(id, self.config.planned)
    }

    /// The same as if its usage from now on were another one.
    #[must_use]
    pub fn project_as(&self, id: SpindleId, planned: PlannedUsage) -> Option<SpindleForecast> {
        let spindle = self.shop.spindles.get(&id)?;
        let around = Surroundings {
            shop: &self.shop,
            book: &self.book,
            days: &self.days,
            fits: &self.fits,
            config: ForecastConfig { planned, ..self.config },
            safe: self.safe,
        };
        let subject = Subject {
            id,
            spindle,
            limits: self.shop.limits_of(spindle),
            exposure: self.book.spindles.get(&id)?,
            booked: self.booked.get(&id).and_then(|order| Some((order.start?, order.kind))),
        };
        project(around, &subject)
    }
}

/// The same request within what can be computed.
fn sane(config: &ForecastConfig) -> ForecastConfig {
    let risk = if config.accepted_risk.is_finite() { config.accepted_risk.clamp(1e-4, 0.9999) } else { 0.1 };
    let horizon_days = config.horizon_days.clamp(1, LONGEST_HORIZON_DAYS);
    ForecastConfig { accepted_risk: risk, horizon_days, ..*config }
}
