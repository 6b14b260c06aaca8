//! The next reading: which spindle is worth measuring in the next round, and why.
//!
//! For each spindle that may come due within half a year, and for each never measured, one more
//! reading on a day of the next round is pretended and its worth reckoned before it is known
//! ([`super::model::next_reading`] says how): by how many days it would narrow the band of the
//! crossing date, and what acting on the date would cost less for it, in the shop's currency. What
//! taking the reading costs is taken off, and one that is then worth less than taking it costs is left
//! out: a list of everything says nothing.

mod costs;
mod reason;

use super::fits::{InterfaceFit, ShopFits};
use super::model::filter::{Event, Filter};
use super::model::next_reading::{Gain, Outlook};
use super::model::observed::{Built, Observed, build};
use super::model::setting_dimension::DimensionFilter;
use super::model::spindle::Asked;
use super::model::usage::usage_level;
use super::observe::{DayNumbers, observe};
use super::spread::spread;
use super::{Cancelled, ForecastBasis, Progress, ShopForecast, SpindleForecast, SpindleState};
use crate::exposure::ExposureBook;
use crate::ids::SpindleId;
use crate::order::Order;
use crate::service_costs::ServiceCosts;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{Kilonewtons, Money, Quantity};
use crate::words;
use chrono::{Days, NaiveDate};
use reason::Story;

/// Days in which the next round is walked (common practice, no source).
const ROUND_DAYS: u64 = 14;
/// Of spindles that come due later than this a later round tells more (common practice, no
/// source).
const FAR_DAYS: u64 = 183;

/// A reading worth taking.
#[derive(Debug, Clone, PartialEq)]
pub struct NextReading {
    /// Of which spindle.
    pub spindle: SpindleId,
    /// Of what.
    pub quantity: Quantity,
    /// The day by which it is to be taken.
    pub by: NaiveDate,
    /// What acting on the date is expected to cost less for it, less what taking it costs; in the
    /// shop's currency, and not less than that; of a spindle that was never measured anything from
    /// zero on.
    pub worth: Money,
    /// How it would narrow the band of the crossing date.
    pub narrows: Narrows,
    /// Why, as a clause: without capital and full stop.
    pub reason: String,
}

/// Width of the band from 10 % to 90 % of the day on which the limit is crossed, in whole days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Narrows {
    /// Now.
    pub from: u32,
    /// Expected once it is read.
    pub to: u32,
}

impl NextReading {
    /// Its worth with the currency; `None` where it rounds to nothing.
    #[must_use]
    pub fn worth_in_words(&self, currency: &str) -> Option<String> {
        let amount = words::money(self.worth);
        (amount != "0").then(|| format!("{amount} {currency}").trim_end().to_owned())
    }

    /// It in one sentence, as on the page of the spindle.
    #[must_use]
    pub fn sentence(&self, as_of: NaiveDate) -> String {
        let what = match self.quantity {
            Quantity::ClampForce => "A reading",
            Quantity::SettingDimension => "A reading of the setting dimension",
        };
        let Narrows { from, to } = self.narrows;
        let by = if self.by <= as_of { "today".to_owned() } else { format!("by {}", words::date_long(self.by, as_of)) };
        format!("{what} {by} would narrow the band from {} to {}.", words::number(f64::from(from), 0), days(to))
    }
}

fn days(count: u32) -> String {
    words::days(i64::from(count))
}

/// The readings worth taking in the next round, most useful first: by worth, then by how much they
/// narrow the band, then by name. Spindles that must not run or are past a limit are not among them:
/// they need their service first. `forecast` is what `basis` projects ([`ForecastBasis::project_all`]).
///
/// # Errors
/// [`Cancelled`] when `progress` asks to stop.
pub fn next_readings(
    basis: &ForecastBasis,
    forecast: &ShopForecast,
    progress: &dyn Progress,
) -> Result<Vec<NextReading>, Cancelled> {
    let as_of = forecast.as_of;
    let shop = basis.shop();
    let orders = shop.open_orders_on(as_of);
    let about = Basis::of(basis, forecast);
    let spindles: Vec<_> = forecast.spindles.iter().collect();
    let readings = spread(&spindles, progress, |(id, projected)| {
        let spindle = shop.spindles.get(id).filter(|_| is_candidate(projected, as_of))?;
        about.of_spindle(**id, spindle, projected, orders.get(id).map(|row| &row.value))
    })?;
    let mut found: Vec<NextReading> = readings.into_iter().flatten().flatten().collect();
    let name = |reading: &NextReading| shop.spindles.get(&reading.spindle).map(|spindle| spindle.name.as_str());
    let narrowed = |reading: &NextReading| reading.narrows.from.saturating_sub(reading.narrows.to);
    found.sort_by(|a, b| {
        let by_worth = b.worth.total_cmp(&a.worth);
        by_worth
            .then_with(|| narrowed(b).cmp(&narrowed(a)))
            .then_with(|| name(a).cmp(&name(b)))
            .then_with(|| a.quantity.cmp(&b.quantity))
    });
    Ok(found)
}

/// Free to run, within its limits, and due soon enough or never measured.
fn is_candidate(forecast: &SpindleForecast, as_of: NaiveDate) -> bool {
    let far = as_of.checked_add_days(Days::new(FAR_DAYS)).unwrap_or(NaiveDate::MAX);
    let is_due_soon = forecast.service_by.is_some_and(|by| by <= far);
    forecast.state == SpindleState::InService
        && forecast.under_stop_limit.is_none()
        && !forecast.is_passed
        && (is_due_soon || !forecast.force_measured)
}

/// What is worked out once for a shop.
struct Basis<'a> {
    shop: &'a Shop,
    fits: &'a ShopFits,
    book: &'a ExposureBook,
    days: &'a DayNumbers,
    as_of: NaiveDate,
    asked: Asked,
    costs: ServiceCosts<'a>,
}

impl<'a> Basis<'a> {
    fn of(basis: &'a ForecastBasis, forecast: &ShopForecast) -> Self {
        let as_of = forecast.as_of;
        let (shop, days) = (basis.shop(), basis.days());
        let asked = Asked { as_of: days.of_day(as_of), horizon_days: i64::from(forecast.config.horizon_days) };
        let costs = ServiceCosts::of(shop, as_of, forecast.config.accepted_risk);
        Self { shop, fits: basis.fits(), book: basis.exposure(), days, as_of, asked, costs }
    }

    fn of_spindle(
        &self,
        id: SpindleId,
        spindle: &Spindle,
        forecast: &SpindleForecast,
        order: Option<&Order>,
    ) -> Option<Vec<NextReading>> {
        let by = self.round_day(forecast, order)?;
        let fit = self.fits.of(&spindle.interface);
        let observed = observe(self.shop, self.book, self.days, id, fit.cycles_per_hour)?;
        let law = self.fits.usage.of(fit.counting.clock);
        let built = build(&observed, &self.days.working, &fit.counting, self.asked.as_of, fit.parameters.ss, law);
        let filter = Filter::new(&fit.parameters, observed.known_start).run(&built.events);
        let is_setting_read = built.dimension_events.iter().any(|event| matches!(event, Event::Read { .. }));
        let dimension = is_setting_read.then(|| DimensionFilter::run(&built.dimension_events, &fit.dimension));
        let interval_days = [forecast.due_calendar, forecast.due_run_hours, forecast.due_clamp_cycles];
        let outlook = Outlook {
            parameters: &fit.parameters,
            filter: &filter,
            built: &built,
            calendar: &self.days.working,
            asked: self.asked,
            service_limit: forecast.limits.service_limit.value.get(),
            stop_limit: forecast.limits.stop_limit.value.get(),
            dimension: dimension.as_ref().map(|filter| (&fit.dimension, filter)),
            hard_day: interval_days.into_iter().flatten().min().map(|day| self.days.of_day(day) as f64),
            cost: costs::acting(&self.costs, spindle, forecast),
        };
        let day = self.days.of_day(by);
        let story = self.story(fit, &observed, &built, &filter, forecast);
        let worth_taking = |quantity: Quantity, gain: Option<Gain>| {
            let gain = gain.filter(|gain| gain.band_then.is_finite() && gain.band_then < gain.band_now)?;
            let narrows = Narrows { from: gain.band_now.round() as u32, to: gain.band_then.round() as u32 };
            let worth = (gain.saved - costs::taking(self.shop)).max(0.0);
            let is_first = quantity == Quantity::ClampForce && !forecast.force_measured;
            let is_worth_it = costs::least_worth(self.shop) <= worth || is_first;
            (is_worth_it && narrows.to < narrows.from).then(|| NextReading {
                spindle: id,
                quantity,
                by,
                worth: Money::new(worth).unwrap_or_default(),
                narrows,
                reason: story.reason(quantity),
            })
        };
        let force = worth_taking(Quantity::ClampForce, outlook.force_reading(day));
        let setting = worth_taking(Quantity::SettingDimension, outlook.dimension_reading(day));
        Some(force.into_iter().chain(setting).collect())
    }

    /// The last working day of the next round on which a reading can still move the service: before
    /// service-by. `None` where a service that is booked comes first: it begins with a reading.
    fn round_day(&self, forecast: &SpindleForecast, order: Option<&Order>) -> Option<NaiveDate> {
        let round_ends = self.as_of.checked_add_days(Days::new(ROUND_DAYS))?;
        let before = |day: NaiveDate| day.pred_opt();
        let mut latest = round_ends;
        latest = latest.min(forecast.service_by.and_then(before).unwrap_or(latest));
        if order.and_then(|order| order.start).is_some_and(|start| start.date <= round_ends) {
            return None;
        }
        while self.as_of < latest && self.book.calendar.weight(latest) <= 0.0 {
            latest = latest.pred_opt()?;
        }
        Some(latest.max(self.as_of))
    }

    fn story(
        &self,
        fit: &InterfaceFit,
        observed: &Observed,
        built: &Built,
        filter: &Filter<'_>,
        forecast: &SpindleForecast,
    ) -> Story {
        let read_on = built.events.iter().zip(&built.days).filter(|(event, _)| matches!(event, Event::Read { .. }));
        let last = read_on
            .zip(&filter.log)
            .last()
            .and_then(|((_, day), weighed)| Some((self.days.day_of(*day as f64)?, weighed.weights)));
        let law = self.fits.usage.of(fit.counting.clock);
        let meter = observed.meter.of(fit.counting.clock);
        let usage = usage_level(meter, self.asked.as_of as f64, fit.counting.prior_level, law);
        let interface = self.shop.spindles.get(&forecast.spindle).map(|s| s.interface.to_string());
        let nominal = forecast.limits.nominal_force.value;
        Story {
            as_of: self.as_of,
            last,
            last_setting: reason::last_setting(self.shop, forecast.spindle),
            service: forecast.last_service,
            since_service: reason::read_since(self.shop, forecast),
            usage_changed: usage.changes.iter().any(|(recent, chance)| 0.0 < *recent && 0.5 < *chance),
            interface: interface.unwrap_or_default(),
            near: is_near(forecast.force_now.mean, nominal, forecast),
        }
    }
}

/// The force stands within a quarter of the way from its limit to nominal.
fn is_near(force: Kilonewtons, nominal: Kilonewtons, forecast: &SpindleForecast) -> bool {
    let limit = forecast.limits.service_limit.value.get();
    force.percent_of(nominal).get() < limit + 0.25 * (100.0 - limit)
}
