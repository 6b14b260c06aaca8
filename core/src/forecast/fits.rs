//! What the spindles of a shop taught: fitted parameters per tool interface, and the usage law.
//!
//! Fitted now and then, kept with their day; a forecast of a past day takes none that is later.

use super::model::coordinate_search::GoOn;
use super::model::improvements::Improvements;
use super::model::observed::{Clock, Counting, Observed, PerClock};
use super::model::parameters::Parameters;
use super::model::setting_dimension::{DimensionParameters, fit_dimension};
use super::model::shop_fit::{
    Group, REFERENCE_HOURS, USUAL_CYCLES_PER_HOUR, USUAL_HOURS, cycles_per_hour, fit_clocks, fit_usage_of,
};
use super::model::usage::UsageParameters;
use super::observe::{DayNumbers, observe};
use super::refit::Grouping;
use super::{Cancelled, HORIZON_DAYS, Progress};
use crate::exposure::{Curve, ExposureBook};
use crate::ids::SpindleId;
use crate::interface::Interface;
use crate::shop::Shop;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Fewer spindles than this cannot tell a group's parameters; they borrow those of all.
pub const LEAST_SPINDLES: usize = 3;

/// What was learnt of one interface, or of all spindles together. It is kept as text
/// ([`super::kept`]): a new field needs a `#[serde(default)]`, so that older texts still do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct InterfaceFit {
    /// Hyperparameters with their uncertainty.
    pub parameters: Parameters,
    /// What exposure is counted in.
    pub counting: Counting,
    /// Clamp cycles in a run hour.
    pub cycles_per_hour: f64,
    /// How well readings are explained with hours and with cycles as the clock; smaller is better.
    /// `None` where nothing was fitted.
    pub clock_objectives: Option<(f64, f64)>,
    /// Parameters of the setting dimension.
    pub dimension: DimensionParameters,
    /// How many spindles it rests on.
    pub spindles: usize,
    /// How many readings it rests on.
    pub readings: usize,
}

impl InterfaceFit {
    /// Reference intervals in 1,000 run hours.
    pub(super) fn intervals_per_1000_h(&self) -> f64 {
        let per_hour = match self.counting.clock {
            Clock::Hours => 1.0 / self.counting.reference,
            Clock::Cycles => self.cycles_per_hour / self.counting.reference,
        };
        1000.0 * per_hour
    }

    /// Where there is no history: weakly informative, from experience, to be confirmed.
    #[must_use]
    pub fn weak() -> Self {
        let counting = Counting { clock: Clock::Hours, reference: REFERENCE_HOURS, prior_level: USUAL_HOURS };
        Self {
            parameters: Parameters::weak().with(Improvements::all()),
            counting,
            cycles_per_hour: USUAL_CYCLES_PER_HOUR,
            clock_objectives: None,
            dimension: DimensionParameters::default(),
            spindles: 0,
            readings: 0,
        }
    }
}

/// What was learnt of a shop.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopFits {
    /// The last day that was known to it.
    pub fitted_on: NaiveDate,
    /// By interface, of at least [`LEAST_SPINDLES`] spindles with a reading.
    pub interfaces: BTreeMap<Interface, InterfaceFit>,
    /// All spindles together.
    pub all: InterfaceFit,
    /// The usage law per clock.
    pub usage: PerClock<UsageParameters>,
    /// Readings in the shop when it was fitted.
    pub readings: usize,
    /// Which spindles were taken together, by the registers of that time.
    pub grouping: Grouping,
}

impl ShopFits {
    /// The fit that a spindle of an interface is projected with.
    #[must_use]
    pub fn of(&self, interface: &Interface) -> &InterfaceFit {
        self.interfaces.get(interface).unwrap_or(&self.all)
    }

    /// Where nothing was learnt: the priors for every spindle.
    #[must_use]
    pub fn weak(as_of: NaiveDate) -> Self {
        let usage = UsageParameters::weak().with(Improvements::all());
        Self {
            fitted_on: as_of,
            interfaces: BTreeMap::new(),
            all: InterfaceFit::weak(),
            usage: PerClock { hours: usage, cycles: usage },
            readings: 0,
            grouping: Grouping::default(),
        }
    }

    /// Whether nothing was learnt: no spindle was ever measured, or learning was stopped.
    #[must_use]
    pub fn is_weak(&self) -> bool {
        self.all.clock_objectives.is_none() && self.interfaces.is_empty()
    }

    /// Fits a shop as known on a day ([`Shop::known_on`]). `progress` hears how many interfaces are
    /// done; once all are, it goes on with all spindles together and the usage law. It is asked so
    /// often that the fit ends soon after a no.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub fn fit(shop: &Shop, as_of: NaiveDate, progress: &dyn Progress) -> Result<Self, Cancelled> {
        Self::fit_with(shop, as_of, Improvements::all(), progress)
    }

    /// The same with chosen improvements on the plain model.
    ///
    /// # Errors
    /// [`Cancelled`] when `progress` asks to stop.
    pub fn fit_with(
        shop: &Shop,
        as_of: NaiveDate,
        improvements: Improvements,
        progress: &dyn Progress,
    ) -> Result<Self, Cancelled> {
        let book = ExposureBook::of(shop, as_of, HORIZON_DAYS);
        let days = DayNumbers::of(&book);
        let per_hour_of = |id: &SpindleId| {
            let exposure = book.spindles.get(id)?;
            Some((counted(&exposure.meter_hours), counted(&exposure.meter_cycles)))
        };
        let shop_per_hour = cycles_per_hour(shop.spindles.keys().filter_map(per_hour_of));
        let mut by_interface: BTreeMap<&Interface, Vec<SpindleId>> = BTreeMap::new();
        for (id, spindle) in shop.spindles.iter() {
            by_interface.entry(&spindle.interface).or_default().push(*id);
        }
        // large shops are sampled: by name, so that the order of entry makes no difference
        let name = |id: &SpindleId| shop.spindles.get(id).map(|spindle| &spindle.name);
        for ids in by_interface.values_mut() {
            ids.sort_by(|a, b| name(a).cmp(&name(b)).then_with(|| a.cmp(b)));
        }
        let total = by_interface.len();
        let go_on = |done: usize| if progress.step(done, total) { Ok(()) } else { Err(Cancelled) };
        let mut groups: BTreeMap<&Interface, (Vec<Observed>, f64)> = BTreeMap::new();
        for (interface, ids) in &by_interface {
            let own: Vec<(f64, f64)> = ids.iter().filter_map(per_hour_of).filter(|(_, cycles)| *cycles > 0.0).collect();
            let per_hour = if own.is_empty() { shop_per_hour } else { cycles_per_hour(own.into_iter()) };
            let mut spindles = Vec::with_capacity(ids.len());
            for id in ids {
                go_on(0)?;
                spindles.extend(observe(shop, &book, &days, *id, per_hour));
            }
            groups.insert(interface, (spindles, per_hour));
        }
        let as_of_number = days.of_day(as_of);
        let fit_of = |spindles: &[&Observed], per_hour: f64, done: usize| {
            let go_on = || progress.step(done, total);
            let group = Group { spindles, cycles_per_hour: per_hour };
            let fitted = fit_clocks(group, &days.working, as_of_number, improvements, &go_on)?;
            let dimension = dimension_of(spindles, &fitted, &days, as_of_number, &go_on)?;
            let readings = spindles.iter().map(|s| s.strokes().count()).sum();
            let fit = InterfaceFit {
                parameters: fitted.fit.parameters.clone(),
                counting: fitted.counting,
                cycles_per_hour: per_hour,
                clock_objectives: Some(fitted.objectives),
                dimension,
                spindles: spindles.len(),
                readings,
            };
            Ok::<_, Cancelled>((fit, fitted))
        };
        let mut interfaces = BTreeMap::new();
        let mut fitted = Vec::new();
        for (done, (interface, (spindles, per_hour))) in groups.iter().enumerate() {
            go_on(done)?;
            let read: Vec<&Observed> = spindles.iter().filter(|s| s.strokes().next().is_some()).collect();
            if read.len() < LEAST_SPINDLES {
                continue;
            }
            let (fit, group) = fit_of(&read, *per_hour, done)?;
            fitted.push((group, spindles.iter().collect::<Vec<_>>()));
            interfaces.insert((*interface).clone(), fit);
        }
        go_on(total)?;
        let everybody: Vec<&Observed> = groups.values().flat_map(|(spindles, _)| spindles).collect();
        let all_read: Vec<&Observed> = everybody.iter().copied().filter(|s| s.strokes().next().is_some()).collect();
        let all = if all_read.is_empty() {
            let mut weak = InterfaceFit::weak();
            weak.parameters.improvements = improvements;
            weak
        } else {
            let (fit, group) = fit_of(&all_read, shop_per_hour, total)?;
            let borrowers: Vec<&Observed> = groups
                .iter()
                .filter(|(interface, _)| !interfaces.contains_key(**interface))
                .flat_map(|(_, (spindles, _))| spindles)
                .collect();
            fitted.push((group, borrowers));
            fit
        };
        go_on(total)?;
        let usage_of = |clock| {
            let groups = fitted.iter().map(|(group, spindles)| (group, spindles.as_slice()));
            let fit = fit_usage_of(clock, groups, as_of_number, improvements, &|| progress.step(total, total))?;
            Ok::<_, Cancelled>(fit.map_or_else(|| UsageParameters::weak().with(improvements), |fit| fit.parameters))
        };
        Ok(Self {
            fitted_on: as_of,
            interfaces,
            all,
            usage: PerClock { hours: usage_of(Clock::Hours)?, cycles: usage_of(Clock::Cycles)? },
            readings: shop.readings.len(),
            grouping: Grouping::of(shop),
        })
    }
}

fn counted(meter: &Curve) -> f64 {
    match (meter.knots().first(), meter.knots().last()) {
        (Some(first), Some(last)) => last.sum - first.sum,
        _ => 0.0,
    }
}

fn dimension_of(
    spindles: &[&Observed],
    fitted: &super::model::shop_fit::FittedGroup,
    days: &DayNumbers,
    as_of: i64,
    go_on: GoOn<'_>,
) -> Result<DimensionParameters, Cancelled> {
    use super::model::filter::Event;
    use super::model::observed::build;
    let weak = UsageParameters::weak();
    let built: Vec<Vec<Event>> = spindles
        .iter()
        .map(|s| build(s, &days.working, &fitted.counting, as_of, fitted.ss, &weak).dimension_events)
        .filter(|events| events.iter().any(|event| matches!(event, Event::Read { .. })))
        .collect();
    if built.len() < LEAST_SPINDLES {
        return Ok(DimensionParameters::default());
    }
    let fit = fit_dimension(&built.iter().map(Vec::as_slice).collect::<Vec<_>>(), go_on)?;
    Ok(fit.parameters)
}
