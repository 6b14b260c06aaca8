//! One spindle: from the model to everything a screen shows of it.

use super::basis;
use super::explain::{Explained, explain};
use super::fan::Canvas;
use super::fits::ShopFits;
use super::full::{ModelBasis, Modelled};
use super::history::History;
use super::interval_dates::{Counted, IntervalEnds, Span};
use super::learnt::loss_between_spindles;
use super::limit_dates::{Passed, ServiceBy};
use super::model::observed::Clock;
use super::observe::DayNumbers;
use super::setting::Setting;
use super::verdict::{LowReading, as_left, findings, under_stop_limit};
use super::{
    CrossedBy, Crossing, Estimate, ForecastConfig, GoverningLimit, SpindleForecast, SpindleState, UnderStopLimit,
};
use crate::exposure::{ExposureBook, SpindleExposure};
use crate::ids::SpindleId;
use crate::limits::Limits;
use crate::moment::Moment;
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{ClampCycles, Kilonewtons, Percent, RunHours};
use crate::words;
use chrono::{Days, NaiveDate};

/// What all spindles of a shop share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surroundings<'a> {
    pub(super) shop: &'a Shop,
    pub(super) book: &'a ExposureBook,
    pub(super) days: &'a DayNumbers,
    pub(super) fits: &'a ShopFits,
    pub(super) config: ForecastConfig,
    /// Standard normal quantile of one less the accepted risk.
    pub(super) safe: f64,
}

/// One spindle with what was gathered about it.
pub(super) struct Subject<'a> {
    pub(super) id: SpindleId,
    pub(super) spindle: &'a Spindle,
    pub(super) limits: Limits,
    pub(super) exposure: &'a SpindleExposure,
    /// Start and kind of its open order.
    pub(super) booked: Option<(Moment, Kind)>,
}

/// Projects one spindle.
pub(super) fn project(around: Surroundings<'_>, subject: &Subject<'_>) -> Option<SpindleForecast> {
    let Surroundings { shop, book, days, fits, config, safe } = around;
    let Subject { id, spindle, limits, exposure, booked } = subject;
    let as_of = book.as_of;
    let risk = config.accepted_risk;
    let last = as_of.checked_add_days(Days::new(u64::from(config.horizon_days))).unwrap_or(NaiveDate::MAX);
    let models = ModelBasis::sharing(shop, fits, book, days, config);
    let model = models.run(*id)?;
    let history = History::of(shop, *id, spindle, limits, exposure, book);
    let is_mounted = exposure.position.is_some();
    let [now, _, _, restorable, _] = model.trace.filter.mean;
    let (service_limit, stop_limit) = (limits.service_limit.value.get(), limits.stop_limit.value.get());

    let set_aside = model.setting.as_ref().map(|setting| setting.set_aside.as_slice()).unwrap_or_default();
    let found = findings(shop, *id, limits, model.fit.parameters.ss, (&model.readings, set_aside), as_of);
    let mut warnings = exposure.warnings.clone();
    basis::say_usage(exposure, &model, &spindle.interface, &mut warnings);
    warnings.extend(found.warnings);
    basis::say_force(&history, found.force_measured, fits, &spindle.interface, as_of, &mut warnings);
    let setting = Setting::of(&model, limits, history.current(), history.settings());
    if limits.setting().is_some() && history.current().setting.is_empty() {
        warnings.push(no_setting(&history, as_of));
    }

    let (hours, cycles) = counted(&model, exposure, book);
    let start = count_from(spindle, exposure, &history, as_of, limits, &mut warnings);
    let ends = if is_mounted {
        let span = Span { calendar: &book.calendar, start, as_of, last };
        IntervalEnds::of(limits, hours.as_ref(), cycles.as_ref(), span, safe)
    } else {
        IntervalEnds::default()
    };
    missing_meters(limits, exposure, &mut warnings);
    let low = under_stop_limit(shop, *id, limits, model.fit.parameters.ss, &model.readings);
    let is_under_by_estimate = found.force_measured && now < stop_limit;
    let last_service = history.last_service();
    let standing = low.filter(|low| last_service.is_none_or(|day| !low.is_before_service(day)));
    let passed = passed_limits(&model, found.force_measured, (service_limit, standing), setting.as_ref(), &ends);
    let by = if is_mounted { ServiceBy::of(&model, &ends, &passed, as_of, risk) } else { ServiceBy::default() };
    let state = if spindle.is_out_on(as_of) {
        SpindleState::OutOfService
    } else if !is_mounted {
        SpindleState::NotMounted
    } else if low.is_some() {
        SpindleState::OutOfService
    } else {
        SpindleState::InService
    };
    let is_worn =
        passed.iter().any(|passed| matches!(passed.limit, GoverningLimit::Force | GoverningLimit::SettingDimension));
    let under_stop_limit = match low {
        Some(low) => Some(UnderStopLimit::Read(low.at.date)),
        None => is_under_by_estimate.then_some(UnderStopLimit::Estimated),
    };
    let interval_end = ends.all().map(|(_, end)| end.day).min();
    let crossed = if is_mounted {
        CrossedBy::of(&model, is_worn, under_stop_limit.is_some(), interval_end, config.horizon_days)
    } else {
        CrossedBy::default()
    };
    let canvas = Canvas {
        calendar: &book.calendar,
        as_of,
        model: &model,
        hours: hours.as_ref(),
        cycles: cycles.as_ref(),
        nominal: limits.nominal_force.value,
    };
    let known_start = history.last_service().or(spindle.installed_on);
    let since = |now: Option<f64>, then: Option<f64>| Some((now? - then?).max(0.0));
    let run_hours = canvas.hours(as_of);
    let clamp_cycles = canvas.cycles(as_of);
    let hours_then = known_start.and_then(|day| canvas.hours(day));
    let cycles_then = known_start.and_then(|day| canvas.cycles(day));
    let runs = |counted: Option<&Counted>| counted.filter(|counted| counted.track.runs()).map(|c| c.usage.ahead);
    let after_booked = booked
        .filter(|(start, _)| is_mounted && as_of <= start.date)
        .map(|(start, kind)| canvas.after_booked(kind, start.date));
    let percent = |value: f64| Percent::new(value).unwrap_or_default();
    let [major_early, major_by, major_late] = model.major.map(|moment| model.day(moment));
    let interface_fit = fits.interfaces.get(&spindle.interface);
    let (loss, loss_sd) = model.loss_per_1000_h();
    let mut forecast = SpindleForecast {
        spindle: *id,
        state,
        run_hours,
        clamp_cycles,
        hours_per_day: runs(hours.as_ref()).and_then(RunHours::new),
        cycles_per_day: runs(cycles.as_ref()).and_then(ClampCycles::new),
        hours_since_service: since(run_hours.map(RunHours::get), hours_then.map(RunHours::get)).and_then(RunHours::new),
        cycles_since_service: since(clamp_cycles.map(ClampCycles::get), cycles_then.map(ClampCycles::get))
            .and_then(ClampCycles::new),
        last_service: history.last_service(),
        force_now: Estimate {
            mean: canvas.force(now),
            sd: Kilonewtons::from_percent(percent(model.service.now_sd), limits.nominal_force.value),
        },
        force_measured: found.force_measured,
        under_stop_limit,
        setting_now: setting.as_ref().map(|setting| setting.now),
        setting_drift_per_1000_h: setting.as_ref().and_then(|setting| setting.drift),
        setting_out_of_tolerance: setting.as_ref().is_some_and(|setting| setting.is_out),
        reserve: percent(now.max(0.0) - service_limit),
        cross_service_limit: Some(model.crossing(&model.service_moments)),
        cross_stop_limit: Some(model.crossing(&model.stop_moments)),
        // in force but never read: its days are unknown
        cross_setting_dimension: limits
            .setting()
            .map(|_| model.setting.as_ref().map_or_else(Crossing::default, |setting| model.setting_crossing(setting))),
        crossed,
        due_calendar: ends.calendar.map(|end| end.day),
        due_run_hours: ends.run_hours.map(|end| end.day),
        due_clamp_cycles: ends.clamp_cycles.map(|end| end.day),
        service_by: by.day,
        is_passed: is_mounted && !passed.is_empty(),
        passed_since: passed.first().and_then(|passed| passed.since).filter(|_| is_mounted),
        governing: by.governing,
        reason: String::new(),
        recoverable_loss: Some(percent((restorable - now).max(0.0))),
        lasting_loss: Some(percent((model.fit.parameters.a0 - restorable).max(0.0))),
        major_service_by: major_by,
        major_service_between: [major_early, major_late],
        loss_per_1000_h: (found.force_measured && exposure.hours.is_some())
            .then(|| Estimate { mean: percent(loss), sd: percent(loss_sd) }),
        interface_loss_per_1000_h: interface_fit.map(|fit| loss_between_spindles(fit).map(percent)),
        interface_spindles: interface_fit.map_or(0, |fit| fit.spindles),
        warnings,
        left_out: found.left_out,
        readings: model.readings.clone(),
        intervals: canvas.intervals(&history),
        restored: canvas.restored(&as_left(shop, *id, &model.readings)),
        steps: found.steps,
        unlogged: found.unlogged,
        fan: if is_mounted { canvas.fan(service_limit, stop_limit, risk) } else { Vec::new() },
        past: canvas.past(&history),
        after_booked: after_booked.unwrap_or_default(),
        limits: limits.clone(),
    };
    forecast.reason = explain(&Explained {
        forecast: &forecast,
        spindle,
        place: place_of(shop, *id, as_of),
        as_of,
        risk,
        last,
        ends: &ends,
        start,
        length_unit: shop.settings.length_unit,
        force_unit: shop.settings.force_unit,
    });
    Some(forecast)
}

/// Its own run hours and clamp cycles, carried on by the usage of the model.
fn counted(
    model: &Modelled<'_>,
    exposure: &SpindleExposure,
    book: &ExposureBook,
) -> (Option<Counted>, Option<Counted>) {
    let of = |track: Option<&crate::exposure::Track>, clock: Clock| {
        let track = track?;
        let usage = model.usage(clock);
        let track = track.carried_on(&book.calendar, book.as_of, usage.measured, usage.ahead);
        Some(Counted { track, usage })
    };
    (of(exposure.hours.as_ref(), Clock::Hours), of(exposure.cycles.as_ref(), Clock::Cycles))
}

/// The day from which intervals count.
fn count_from(
    spindle: &Spindle,
    exposure: &SpindleExposure,
    history: &History,
    as_of: NaiveDate,
    limits: &Limits,
    warnings: &mut Vec<String>,
) -> NaiveDate {
    if let Some(day) = history.last_service().or(spindle.installed_on) {
        return day;
    }
    let day = exposure.first_record.unwrap_or(as_of).min(as_of);
    let any = limits.every_months.is_some() || limits.every_hours.is_some() || limits.every_cycles.is_some();
    if any {
        let day = words::date_long(day, as_of);
        warnings
            .push(format!("no service and no installation on record: intervals count from the first record, {day}"));
    }
    day
}

/// Position and the day since when it sits there.
fn place_of(shop: &Shop, id: SpindleId, as_of: NaiveDate) -> Option<(String, NaiveDate)> {
    let mounting = shop.mountings_of(id).iter().find(|mounting| mounting.covers(as_of))?;
    Some((shop.position_label(mounting.position), mounting.mounted_on))
}

/// What is missing of a setting dimension that is in force.
fn no_setting(history: &History, as_of: NaiveDate) -> String {
    let is_read = history.settings() > 0;
    match history.current().began_with {
        Some(_) if is_read => {
            let day = words::date_long(history.current().from, as_of);
            format!("setting dimension not measured since the service of {day}")
        }
        _ => "setting dimension never measured".to_owned(),
    }
}

fn missing_meters(limits: &Limits, exposure: &SpindleExposure, warnings: &mut Vec<String>) {
    if limits.every_hours.is_some() && exposure.hours.is_none() {
        warnings.push("its interval in run hours cannot be counted: no meter of run hours".to_owned());
    }
    if limits.every_cycles.is_some() && exposure.cycles.is_none() {
        warnings.push("its interval in clamp cycles cannot be counted: no meter of clamp cycles".to_owned());
    }
}

/// Limits already passed, in the order in which they count. Figures of the group alone do not pass
/// a limit: they make a service due, not overdue. A reading under the stop limit that no service came
/// after passes it whatever the model makes of the reading.
fn passed_limits(
    model: &Modelled<'_>,
    force_measured: bool,
    (service_limit, read_under_stop_limit): (f64, Option<LowReading>),
    setting: Option<&Setting>,
    ends: &IntervalEnds,
) -> Vec<Passed> {
    let mut passed = Vec::new();
    let [now, ..] = model.trace.filter.mean;
    if force_measured && now < service_limit {
        let since = model.trace.below_since(service_limit, model.over()).and_then(|day| model.date(day));
        passed.push(Passed { limit: GoverningLimit::Force, since });
    } else if let Some(low) = read_under_stop_limit {
        passed.push(Passed { limit: GoverningLimit::Force, since: Some(low.at.date) });
    }
    if let Some(setting) = setting.filter(|setting| setting.is_out) {
        passed.push(Passed { limit: GoverningLimit::SettingDimension, since: setting.out_since });
    }
    passed.extend(
        ends.all()
            .filter(|(_, end)| end.is_over)
            .map(|(limit, end)| Passed { limit, since: end.expected.or(Some(end.day)) }),
    );
    passed
}
