//! What a forecast rests on, in words, where that is less than one would wish.

use super::fits::ShopFits;
use super::full::Modelled;
use super::history::{History, Stretch};
use super::model::observed::Clock;
use crate::exposure::{ClockSource, SpindleExposure, UsageBasis};
use crate::interface::Interface;
use crate::words;
use chrono::NaiveDate;

/// Fewer readings than this in the running interval lean on what was known before.
const FEW_READINGS: usize = 3;

/// How usage is reckoned, where its meters hardly tell.
pub(super) fn say_usage(
    exposure: &SpindleExposure,
    model: &Modelled<'_>,
    interface: &Interface,
    warnings: &mut Vec<String>,
) {
    if exposure.position.is_none() {
        return;
    }
    let per_day = format!("{} h a working day", words::number(model.usage(Clock::Hours).measured, 1));
    if exposure.clock_source == ClockSource::WorkingDays {
        warnings.push(format!("no meter reading: reckoned by working days, {per_day}"));
        return;
    }
    warnings.extend(match exposure.clock.usage().basis {
        UsageBasis::Meter => None,
        UsageBasis::Idle => Some(format!("hardly ran of late: reckoned with {per_day}")),
        UsageBasis::Interface => {
            Some(format!("too few meter readings to tell its usage: {per_day}, from what the {interface} spindles run"))
        }
        UsageBasis::Shop => {
            Some(format!("too few meter readings to tell its usage: {per_day}, from what the shop's spindles run"))
        }
        UsageBasis::Usual => {
            Some(format!("too few meter readings to tell its usage: {per_day} (from experience, to be confirmed)"))
        }
    });
}

/// What level and loss lean on, where its own readings since the last service are few.
pub(super) fn say_force(
    history: &History,
    force_measured: bool,
    fits: &ShopFits,
    interface: &Interface,
    as_of: NaiveDate,
    warnings: &mut Vec<String>,
) {
    let of_interface = fits.interfaces.get(interface).map(|fit| fit.spindles);
    let group = match of_interface {
        Some(count) => format!("{} {interface} spindles of this shop", words::count_words(count)),
        None if fits.all.spindles > 0 => {
            let count = words::count_words(fits.all.spindles);
            let noun = if fits.all.spindles == 1 { "spindle" } else { "spindles" };
            format!("{count} measured {noun} of this shop and from experience, to be confirmed")
        }
        None => "figures that are weakly informative, from experience, to be confirmed".to_owned(),
    };
    if !force_measured {
        warnings.push(format!("force never measured: taken from {group}"));
        return;
    }
    let current = history.current();
    let earlier = history.stretches.split_last().map(|(_, earlier)| earlier).unwrap_or_default();
    let tells_rate = |stretch: &Stretch| stretch.force.len() > 1;
    let from = if earlier.iter().any(tells_rate) { "its earlier intervals".to_owned() } else { group };
    let since = history
        .last_service()
        .map_or_else(String::new, |day| format!(" since the service of {}", words::date_long(day, as_of)));
    match current.force.len() {
        0 => warnings.push(format!("no force reading{since}: level and loss are taken from {from}")),
        count if count < FEW_READINGS => {
            let noun = if count == 1 { "reading" } else { "readings" };
            let count = words::count_words(count);
            warnings.push(format!("only {count} force {noun}{since}: the loss is taken from {from}"));
        }
        count if does_not_fall(current) => {
            warnings.push(format!("the force does not fall over its {count} readings{since}"));
        }
        _ => {}
    }
}

/// By the least-squares slope of its readings, those that somebody doubted left out.
fn does_not_fall(stretch: &Stretch) -> bool {
    let (k, y): (Vec<f64>, Vec<f64>) =
        stretch.force.iter().filter(|point| !point.is_doubted).map(|point| (point.k, point.y)).unzip();
    super::least_squares::polynomial(&k, &y, 1)
        .is_ok_and(|fit| fit.coefficients.get(1).is_some_and(|slope| *slope >= 0.0))
}
