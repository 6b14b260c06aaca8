//! What a shop taught as a text that is kept with its records, and back.
//!
//! One text for the whole shop, so that all of it is of one day. A text that cannot be read, of
//! another form, or with figures that cannot be, is as good as none: the shop is fitted anew.

use super::fits::{InterfaceFit, ShopFits};
use super::model::event_rates::EventRates;
use super::model::observed::PerClock;
use super::model::parameters::Parameters;
use super::model::setting_dimension::DimensionParameters;
use super::model::usage::UsageParameters;
use super::refit::Grouping;
use crate::exposure::CYCLES_PER_HOUR;
use crate::interface::Interface;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The form of the text. Another number where figures change their meaning: then the shop is
/// fitted anew. A figure more is no other form.
const FORM: u32 = 1;

#[derive(Debug, Serialize, Deserialize)]
struct Text {
    form: u32,
    readings: usize,
    grouping: Grouping,
    all: InterfaceFit,
    usage: PerClock<UsageParameters>,
    interfaces: Vec<OfInterface>,
}

#[derive(Debug, Serialize, Deserialize)]
struct OfInterface {
    interface: String,
    fit: InterfaceFit,
}

/// The text of a fit; its day is kept beside it. `None` where it holds a figure that is not finite
/// and could not be read back.
#[must_use]
pub fn to_text(fits: &ShopFits) -> Option<String> {
    if !is_usable(fits) {
        return None;
    }
    let interfaces = fits
        .interfaces
        .iter()
        .map(|(interface, fit)| OfInterface { interface: interface.as_str().to_owned(), fit: fit.clone() })
        .collect();
    let text = Text {
        form: FORM,
        readings: fits.readings,
        grouping: fits.grouping,
        all: fits.all.clone(),
        usage: fits.usage.clone(),
        interfaces,
    };
    serde_json::to_string(&text).ok()
}

/// The fit of a text, bit for bit as it was; `None`: it says nothing that could be used.
#[must_use]
pub fn from_text(text: &str, fitted_on: NaiveDate) -> Option<ShopFits> {
    let text: Text = serde_json::from_str(text).ok()?;
    if text.form != FORM {
        return None;
    }
    let mut interfaces = BTreeMap::new();
    for of in text.interfaces {
        interfaces.insert(Interface::parse(&of.interface)?, of.fit);
    }
    let fits = ShopFits {
        fitted_on,
        interfaces,
        all: text.all,
        usage: text.usage,
        readings: text.readings,
        grouping: text.grouping,
    };
    is_usable(&fits).then_some(fits)
}

/// Whether every figure is one that a fit can find.
fn is_usable(fits: &ShopFits) -> bool {
    let usage = |law: &UsageParameters| {
        let UsageParameters {
            wandering,
            segment,
            change_size,
            change_hazard,
            recent_hazard,
            reversion,
            stops_per_year,
            stop_days,
            improvements: _,
        } = *law;
        [wandering, segment, change_size, change_hazard, recent_hazard, reversion, stops_per_year, stop_days]
            .into_iter()
            .all(at_least_zero)
    };
    std::iter::once(&fits.all).chain(fits.interfaces.values()).all(is_usable_for_one)
        && usage(&fits.usage.hours)
        && usage(&fits.usage.cycles)
}

fn is_usable_for_one(fit: &InterfaceFit) -> bool {
    let Parameters { beta, cvu, cvv, q, sb, sr, a0, sa, delta, p, ss, variances, .. } = &fit.parameters;
    let EventRates { step_hazard, gross_chance, unlogged_chance } = fit.parameters.rates();
    let DimensionParameters {
        beta: drift,
        beta_sd,
        between_spindles,
        between_intervals,
        q: wander,
        reading_sd,
        set_sd,
    } = fit.dimension;
    let above_zero = [*beta, *cvu, *cvv, *q, *sb, *sr, *sa, *delta, *p, *ss]
        .into_iter()
        .chain([fit.counting.reference, fit.counting.prior_level]);
    let not_below = [step_hazard, beta_sd, between_spindles, between_intervals, wander, reading_sd, set_sd];
    above_zero.into_iter().all(|figure| figure.is_finite() && figure > 0.0)
        && not_below.into_iter().chain(*variances).all(at_least_zero)
        && CYCLES_PER_HOUR.contains(&fit.cycles_per_hour)
        && gross_chance > 0.0
        && unlogged_chance > 0.0
        && fit.parameters.rates().are_believed()
        && [*a0, drift].into_iter().all(f64::is_finite)
        && fit.clock_objectives.is_none_or(|(hours, cycles)| hours.is_finite() && cycles.is_finite())
}

fn at_least_zero(figure: f64) -> bool {
    figure.is_finite() && figure >= 0.0
}
