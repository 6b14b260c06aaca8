//! What stands beside the fields: who the spindle is, the last value, the expected range, offers.

use crate::pages::PageContext;
use crate::widgets::choice::Offer;
use crate::widgets::ruler::{Ruler, RulerLimit, Span};
use almanac_core::expected::{self, Expected};
use almanac_core::forecast::SpindleForecast;
use almanac_core::ids::SpindleId;
use almanac_core::limits::Limits;
use almanac_core::reading::{Phase, Reading};
use almanac_core::shop::Shop;
use almanac_core::units::{Kilonewtons, Millimetres, Quantity, Unit};
use almanac_core::words;
use chrono::NaiveDate;

/// The name of a spindle.
#[must_use]
pub fn spindle_name(shop: &Shop, spindle: SpindleId) -> &str {
    shop.spindles.get(&spindle).map_or("?", |spindle| spindle.name.as_str())
}

/// Where it sits, its interface and nominal force.
#[must_use]
pub fn spindle_detail(shop: &Shop, spindle: SpindleId, day: NaiveDate) -> String {
    let Some(value) = shop.spindles.get(&spindle) else { return String::new() };
    let place = shop.position_on(spindle, day).map_or_else(
        || "not mounted".to_owned(),
        |position| {
            let hall = shop.machines.get(&position.machine).map_or("", |machine| machine.hall.as_str());
            format!("{}, {hall}", shop.position_label(position))
        },
    );
    let nominal = words::force_with_unit(value.nominal_force, value.nominal_force, shop.settings.force_unit);
    format!("{place}; {}; nominal {nominal}", value.interface)
}

/// The projection of a spindle, where there is one.
#[must_use]
pub fn forecast_of<'a>(context: &PageContext<'a>, spindle: SpindleId) -> Option<&'a SpindleForecast> {
    context.forecast?.spindles.get(&spindle).map(AsRef::as_ref)
}

/// The limits in force for a spindle.
#[must_use]
pub fn limits_of(shop: &Shop, spindle: SpindleId) -> Option<Limits> {
    shop.spindles.get(&spindle).map(|value| shop.limits_of(value))
}

/// A figure in kN or mm as people read it in a unit, without that unit.
#[must_use]
pub fn figure(base: f64, unit: Unit, fine: bool) -> String {
    let decimals = match unit {
        Unit::Kilonewton => 1 + usize::from(fine),
        Unit::PoundForce | Unit::Newton => 0,
        Unit::Millimetre => 2,
        Unit::Inch => 3,
    };
    words::number(unit.from_base(base), decimals)
}

/// The last reading in words: `last 10.15 kN on 21 January, 2 strokes`.
#[must_use]
pub fn last_words(shop: &Shop, spindle: SpindleId, quantity: Quantity, unit: Unit, today: NaiveDate) -> String {
    match expected::last_reading(shop, spindle, quantity, today) {
        None => "no reading yet".to_owned(),
        Some(reading) => {
            let strokes = reading.strokes.len();
            let counted = if strokes == 1 { "1 stroke".to_owned() } else { format!("{strokes} strokes") };
            let (value, day) = (figure(reading.mean_base(), unit, true), words::date_long(reading.at.date, today));
            format!("last {value} {unit} on {day}, {counted}")
        }
    }
}

/// What a reading of a quantity is expected to show, in a unit: outer band and its middle half.
#[must_use]
pub fn expected_in(
    context: &PageContext<'_>,
    spindle: SpindleId,
    quantity: Quantity,
    day: NaiveDate,
    phase: Phase,
    unit: Unit,
) -> Option<(Span, Span)> {
    let forecast = forecast_of(context, spindle)?;
    let spans = |low: f64, inner_low: f64, inner_high: f64, high: f64| {
        let span = |low: f64, high: f64| Span { low: unit.from_base(low), high: unit.from_base(high) };
        (span(low, high), span(inner_low, inner_high))
    };
    match quantity {
        Quantity::ClampForce => {
            let Expected { low, inner_low, inner_high, high, .. }: Expected<Kilonewtons> =
                expected::force(forecast, context.forecast?.as_of, day, phase)?;
            Some(spans(low.get(), inner_low.get(), inner_high.get(), high.get()))
        }
        Quantity::SettingDimension => {
            let Expected { low, inner_low, inner_high, high, .. }: Expected<Millimetres> =
                expected::setting(forecast, phase)?;
            Some(spans(low.get(), inner_low.get(), inner_high.get(), high.get()))
        }
    }
}

/// The band in words: `expected 9.9 to 10.3 kN`.
#[must_use]
pub fn expected_words(band: Option<(Span, Span)>, unit: Unit) -> String {
    match band {
        None => "no expected range".to_owned(),
        Some((outer, _)) => {
            let shown = |value: f64| figure(unit.to_base(value), unit, false);
            format!("expected {} to {} {unit}", shown(outer.low), shown(outer.high))
        }
    }
}

/// A ruler with limits and the expected band; marks are added by the form.
#[must_use]
pub fn ruler(limits: &Limits, quantity: Quantity, unit: Unit, band: Option<(Span, Span)>, band_words: &str) -> Ruler {
    let mut ruler = Ruler { unit: unit.symbol(), expected: band, ..Ruler::default() };
    band_words.clone_into(&mut ruler.expected_words);
    let fine = limits.nominal_force.value.get() < words::FINE_BELOW;
    match quantity {
        Quantity::ClampForce => {
            let uprights = [
                (RulerLimit::Stop, limits.stop_limit_force(), "stop limit"),
                (RulerLimit::Service, limits.service_limit_force(), "service limit"),
            ];
            for (limit, force, name) in uprights {
                let shown = figure(force.get(), unit, fine);
                ruler.limits.push((limit, unit.from_base(force.get()), format!("{name} {shown}")));
            }
        }
        Quantity::SettingDimension => {
            if let Some((aimed, tolerance)) = limits.setting() {
                for base in [aimed - tolerance, aimed + tolerance] {
                    let shown = figure(base.get(), unit, false);
                    ruler.limits.push((RulerLimit::Tolerance, unit.from_base(base.get()), shown));
                }
            }
        }
    }
    let limits: Vec<&str> = ruler.limits.iter().map(|(_, _, words)| words.as_str()).collect();
    ruler.sentence = format!("Ruler in {unit}: {}; {}", limits.join(", "), expected_words(band, unit));
    ruler
}

/// The gauges for a quantity, with what each shows and when its calibration is due.
#[must_use]
pub fn gauge_offers(shop: &Shop, quantity: Quantity, day: NaiveDate) -> Vec<Offer> {
    let fits = shop.gauges.iter().filter(|gauge| gauge.quantity == quantity);
    fits.map(|gauge| {
        let shows = gauge.unit.map(|unit| format!("shows {unit}; ")).unwrap_or_default();
        Offer::new(gauge.name.clone(), format!("{shows}{}", calibration_words(shop, &gauge.name, day, day)))
    })
    .collect()
}

/// When the calibration of a gauge is due, or since when it was overdue on a day; the year is said
/// where it is not that of `as_of`.
#[must_use]
pub fn calibration_words(shop: &Shop, gauge: &str, day: NaiveDate, as_of: NaiveDate) -> String {
    let Some(gauge) = shop.gauge_named(gauge) else { return String::new() };
    match gauge.calibration_due {
        Some(due) if gauge.is_overdue_on(day) => format!("calibration overdue since {}", words::date_long(due, as_of)),
        Some(due) => format!("calibration due {}", words::date_long(due, as_of)),
        None => "no calibration date".to_owned(),
    }
}

/// The sentence to act on where the calibration of the named gauge had run out on that day.
#[must_use]
pub fn overdue_warning(shop: &Shop, gauge: &str, day: NaiveDate) -> Option<String> {
    let found = shop.gauge_named(gauge.trim())?;
    let due = found.calibration_due.filter(|_| found.is_overdue_on(day))?;
    let due = words::date_long(due, day);
    Some(format!(
        "Calibration of {} was due on {due}: take another gauge, or note it and have it calibrated.",
        found.name
    ))
}

/// The crew.
#[must_use]
pub fn technician_offers(shop: &Shop) -> Vec<Offer> {
    shop.technicians
        .iter()
        .map(|technician| {
            let skills: Vec<&str> = technician.skills.iter().map(|kind| kind.key()).collect();
            Offer::new(technician.name.clone(), skills.join(", "))
        })
        .collect()
}

/// In which unit readings of a quantity are typed unless something else is said: that of the
/// gauge, of the last reading, else of the shop.
#[must_use]
pub fn usual_unit(shop: &Shop, gauge: Option<&str>, last: Option<&Reading>, quantity: Quantity) -> Unit {
    let by_gauge = gauge.and_then(|name| shop.gauge_named(name)).and_then(|gauge| gauge.unit);
    let by_shop = match quantity {
        Quantity::ClampForce => shop.settings.force_unit,
        Quantity::SettingDimension => shop.settings.length_unit,
    };
    let fits = |unit: &Unit| unit.quantity() == quantity;
    by_gauge.filter(fits).or_else(|| last.map(|reading| reading.unit)).filter(fits).unwrap_or(by_shop)
}

/// The units of a quantity.
#[must_use]
pub fn units_of(quantity: Quantity) -> Vec<&'static str> {
    Unit::ALL.into_iter().filter(|unit| unit.quantity() == quantity).map(Unit::symbol).collect()
}
