//! First form of the forecast: a least-squares line per interval.

use super::{Cancelled, ForecastConfig, Progress, ShopForecast};
use crate::shop::Shop;
use chrono::NaiveDate;

/// Projects every spindle of a shop from one day. `shop` holds what was known on that day
/// ([`Shop::known_on`]).
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn forecast_shop(
    shop: &Shop,
    as_of: NaiveDate,
    config: &ForecastConfig,
    progress: &dyn Progress,
) -> Result<ShopForecast, Cancelled> {
    let _ = (shop, as_of, config, progress);
    todo!()
}
