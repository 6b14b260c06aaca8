//! One spindle: from its history and its group to everything a screen shows of it.

use super::ahead::{Crossed, DaysAhead, Outlook};
use super::explain::{Explained, explain};
use super::fan::Canvas;
use super::groups::{GroupFigures, SlopeBasis, restored_point};
use super::history::History;
use super::interval_dates::IntervalEnds;
use super::lasting::Losses;
use super::limit_dates::{Passed, ServiceBy};
use super::pieces::Piece;
use super::setting::Setting;
use super::straight::Straight;
use super::student::StudentTable;
use super::{Crossing, Estimate, ForecastConfig, GoverningLimit, SpindleForecast, SpindleState, StepDrop};
use crate::exposure::{ExposureBook, SpindleExposure};
use crate::ids::SpindleId;
use crate::limits::Limits;
use crate::moment::Moment;
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{ClampCycles, Kilonewtons, Percent, RunHours};
use crate::words;
use chrono::NaiveDate;

/// How far below the group a spindle found mid-life is taken to start, in percent of nominal, and
/// its spread: from memory, to be confirmed.
const MID_LIFE_LOWER: f64 = 5.0;
const MID_LIFE_SD: f64 = 6.0;

/// What all spindles of a shop share.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surroundings<'a> {
    pub(super) shop: &'a Shop,
    pub(super) book: &'a ExposureBook,
    pub(super) days: &'a DaysAhead,
    pub(super) table: &'a StudentTable,
    pub(super) config: &'a ForecastConfig,
}

/// One spindle with what was gathered about it.
pub(super) struct Subject<'a> {
    pub(super) id: SpindleId,
    pub(super) spindle: &'a Spindle,
    pub(super) limits: Limits,
    pub(super) exposure: &'a SpindleExposure,
    pub(super) history: &'a History,
    pub(super) figures: &'a GroupFigures,
    /// Start and kind of its open order.
    pub(super) booked: Option<(Moment, Kind)>,
}

/// Projects one spindle.
pub(super) fn project(around: Surroundings<'_>, subject: &Subject<'_>) -> SpindleForecast {
    let Surroundings { shop, book, days, table, config } = around;
    let Subject { id, spindle, limits, exposure, history, figures, booked } = subject;
    let as_of = book.as_of;
    let mut warnings: Vec<String> = exposure.warnings.iter().chain(&history.warnings).cloned().collect();
    let canvas = Canvas { calendar: &book.calendar, as_of, exposure, nominal: limits.nominal_force.value };
    let pieces = canvas.pieces(history, figures);
    let current = pieces.last().map(Vec::as_slice).unwrap_or_default();
    let (line, basis) = force_line(subject, current.last(), as_of, &mut warnings);
    let outlook = outlook_of(around, exposure);
    let is_mounted = exposure.position.is_some();
    let quantiles = table.of(line.freedom);
    let service_limit = limits.service_limit.value.get();
    let stop_limit = limits.stop_limit.value.get();
    let (now, now_sd) = outlook.of_line(&line, 0.0);
    let setting = Setting::of(history, limits, &outlook);

    let start = count_from(spindle, exposure, history, as_of, limits, &mut warnings);
    let ends = if is_mounted {
        IntervalEnds::of(limits, exposure, &book.calendar, days, start, table.normal_safe)
    } else {
        IntervalEnds::default()
    };
    missing_meters(limits, exposure, &mut warnings);
    let clock_day = |k: f64| exposure.clock.day_of(&book.calendar, k * 1000.0, exposure.clock.usage().per_day);
    let passed = passed_limits(subject, &line, now, service_limit, setting.as_ref(), &ends, clock_day);
    let force_crossed = Crossed::below(&line, service_limit, &outlook);
    let stop_crossed = Crossed::below(&line, stop_limit, &outlook);
    let setting_crossed = setting.as_ref().map(|setting| Crossed::outside_one(&setting.line, &outlook));
    let crossing = |crossed: &Crossed, line: &Straight| {
        if is_mounted { crossed.crossing(days, &table.of(line.freedom)) } else { Crossing::default() }
    };
    let by = if is_mounted {
        let setting = setting_crossed.as_ref().zip(setting.as_ref());
        ServiceBy::of(
            (&force_crossed, quantiles.risk),
            setting.map(|(crossed, setting)| (crossed, table.of(setting.line.freedom).risk)),
            &ends,
            &passed,
            days,
            config.accepted_risk,
        )
    } else {
        ServiceBy::default()
    };
    let losses = Losses::of(history, spindle.installed_on.is_some(), current.first().map(|piece| &piece.line), now);
    let [quarter_below, middle, quarter_above] = figures.loss;
    let major_service_by =
        if is_mounted { losses.major_service_by(history, service_limit, middle, &outlook, clock_day) } else { None };
    let measured_under_stop_limit = is_under_stop_limit(history, service_limit, stop_limit);
    let state = if spindle.is_out_on(as_of) {
        SpindleState::OutOfService
    } else if !is_mounted {
        SpindleState::NotMounted
    } else if measured_under_stop_limit {
        SpindleState::OutOfService
    } else {
        SpindleState::InService
    };
    let known_start = history.last_service().or(spindle.installed_on);
    let since = |now: Option<f64>, then: Option<f64>| Some((now? - then?).max(0.0));
    let run_hours = canvas.hours(as_of);
    let clamp_cycles = canvas.cycles(as_of);
    let hours_then = known_start.and_then(|day| canvas.hours(day));
    let cycles_then = known_start.and_then(|day| canvas.cycles(day));
    let loss = Percent::new(-line.slope).zip(Percent::new(line.slope_sd())).filter(|_| basis == LineBasis::Readings);
    let after_booked = booked
        .filter(|(start, _)| is_mounted && as_of <= start.date)
        .map(|(start, kind)| canvas.after_booked(&line, losses.restored_by(kind, figures.restored), start.date));
    if setting.is_none() && limits.setting().is_some() {
        warnings.push(no_setting(history, as_of));
    }
    let mut forecast = SpindleForecast {
        spindle: *id,
        state,
        run_hours,
        clamp_cycles,
        hours_per_day: exposure.hours.as_ref().filter(|t| t.runs()).and_then(|t| RunHours::new(t.usage().per_day)),
        cycles_per_day: exposure.cycles.as_ref().filter(|t| t.runs()).and_then(|t| ClampCycles::new(t.usage().per_day)),
        hours_since_service: since(run_hours.map(RunHours::get), hours_then.map(RunHours::get)).and_then(RunHours::new),
        cycles_since_service: since(clamp_cycles.map(ClampCycles::get), cycles_then.map(ClampCycles::get))
            .and_then(ClampCycles::new),
        last_service: history.last_service(),
        force_now: Estimate {
            mean: canvas.force(now),
            sd: Kilonewtons::from_percent(Percent::new(now_sd).unwrap_or_default(), limits.nominal_force.value),
        },
        force_measured: history.force_measured,
        measured_under_stop_limit,
        setting_now: setting.as_ref().map(|setting| setting.now),
        setting_drift_per_1000_h: setting.as_ref().and_then(|setting| setting.drift),
        setting_out_of_tolerance: setting.as_ref().is_some_and(|setting| setting.is_out),
        reserve: Percent::new(now.max(0.0) - service_limit).unwrap_or_default(),
        cross_service_limit: Some(crossing(&force_crossed, &line)),
        cross_stop_limit: Some(crossing(&stop_crossed, &line)),
        // in force but never read: its days are unknown
        cross_setting_dimension: limits.setting().map(|_| {
            let read = setting_crossed.as_ref().zip(setting.as_ref());
            read.map(|(crossed, setting)| crossing(crossed, &setting.line)).unwrap_or_default()
        }),
        due_calendar: ends.calendar.map(|end| end.day),
        due_run_hours: ends.run_hours.map(|end| end.day),
        due_clamp_cycles: ends.clamp_cycles.map(|end| end.day),
        service_by: by.day,
        is_passed: is_mounted && !passed.is_empty(),
        passed_since: passed.iter().filter_map(|passed| passed.since).min().filter(|_| is_mounted),
        governing: by.governing,
        reason: String::new(),
        recoverable_loss: losses.recoverable.and_then(Percent::new),
        lasting_loss: losses.lasting.and_then(Percent::new),
        major_service_by,
        loss_per_1000_h: loss.map(|(mean, sd)| Estimate { mean, sd }).filter(|_| exposure.hours.is_some()),
        interface_loss_per_1000_h: (figures.spindles >= 3)
            .then(|| [quarter_below, middle, quarter_above].map(|loss| Percent::new(loss).unwrap_or_default())),
        interface_spindles: figures.spindles,
        warnings,
        left_out: history.left_out.clone(),
        intervals: canvas.intervals(history, &pieces),
        restored: canvas.restored(&losses.restored),
        steps: steps(history),
        fan: if is_mounted { canvas.fan(&line, &outlook, &quantiles) } else { Vec::new() },
        past: canvas.past(history, &pieces),
        after_booked: after_booked.unwrap_or_default(),
        limits: limits.clone(),
    };
    forecast.reason = explain(&Explained {
        forecast: &forecast,
        spindle,
        place: place_of(shop, *id, as_of),
        as_of,
        risk: config.accepted_risk,
        last: days.last(),
        ends: &ends,
        start,
        length_unit: shop.settings.length_unit,
        force_unit: shop.settings.force_unit,
    });
    forecast
}

/// What the force line of a spindle rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LineBasis {
    /// Readings since the last service.
    Readings,
    /// A level from elsewhere.
    Borrowed,
}

fn force_line(
    subject: &Subject<'_>,
    last_piece: Option<&Piece>,
    as_of: NaiveDate,
    warnings: &mut Vec<String>,
) -> (Straight, LineBasis) {
    let Subject { spindle, history, figures, .. } = subject;
    let current = history.current();
    let earlier = history.stretches.split_last().map(|(_, earlier)| earlier).unwrap_or_default();
    let (prior, slope_basis) = figures.slope_prior(earlier);
    let from = match slope_basis {
        SlopeBasis::OwnStretches => "its earlier intervals".to_owned(),
        SlopeBasis::Interface => format!("the {} spindles of this shop", spindle.interface),
        SlopeBasis::Shop => "the other spindles of this shop".to_owned(),
        SlopeBasis::Usual => "experience (from memory, to be confirmed)".to_owned(),
    };
    let since = history
        .last_service()
        .map_or_else(String::new, |day| format!(" since the service of {}", words::date_long(day, as_of)));
    if let Some(Piece { line, .. }) = last_piece {
        let readings = current.force.len();
        if readings < 3 {
            let count = words::count_words(readings);
            let readings = if readings == 1 { "reading" } else { "readings" };
            warnings.push(format!("only {count} force {readings}{since}: the loss is taken from {from}"));
        } else if line.slope >= 0.0 {
            warnings.push(format!("the force does not fall over its {readings} readings{since}"));
        }
        return (*line, LineBasis::Readings);
    }
    let own = earlier.iter().rev().find_map(restored_point).map(|(_, _, level)| level);
    let starts_fresh = current.began_with.is_some() || spindle.installed_on.is_some();
    let (level, sd) = match own {
        Some(level) if current.began_with.is_some() => (level, figures.restored_sd),
        _ if starts_fresh => (figures.restored, figures.restored_sd),
        _ => (figures.restored - MID_LIFE_LOWER, figures.restored_sd.hypot(MID_LIFE_SD)),
    };
    if history.force_measured {
        warnings.push(format!("no force reading{since}: level and loss are taken from {from}"));
    } else if figures.spindles > 0 {
        let count = words::count_words(figures.spindles);
        let noun = if figures.spindles == 1 { "spindle" } else { "spindles" };
        warnings.push(format!("force never measured: taken from {count} {} {noun} of this shop", spindle.interface));
    } else {
        warnings.push(format!("force never measured: taken from {from}"));
    }
    (Straight::from_level(current.k_from, level, sd, prior, figures.scatter), LineBasis::Borrowed)
}

fn outlook_of<'a>(around: Surroundings<'a>, exposure: &SpindleExposure) -> Outlook<'a> {
    let book = around.book;
    let clock = |day| exposure.clock.at(&book.calendar, day) / 1000.0;
    let k_now = clock(book.as_of);
    let k_read = exposure.clock.read_until().map_or(k_now, |day| clock(day.min(book.as_of)));
    let usage = exposure.clock.usage();
    Outlook {
        days: around.days,
        k_now,
        k_per_day: if exposure.clock.runs() { usage.per_day / 1000.0 } else { 0.0 },
        relative_sd: usage.relative_sd,
        k_unread: (k_now - k_read).max(0.0),
    }
}

/// Every drop at once that was found.
fn steps(history: &History) -> Vec<StepDrop> {
    let all = history.stretches.iter().flat_map(|stretch| &stretch.steps);
    all.map(|step| StepDrop { after: step.day_before, by: step.day, size: Percent::new(step.size).unwrap_or_default() })
        .collect()
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

/// Why nothing is known of a setting dimension that is in force.
fn no_setting(history: &History, as_of: NaiveDate) -> String {
    let is_read = history.stretches.iter().any(|stretch| !stretch.setting.is_empty());
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
/// a limit: they make a service due, not overdue.
fn passed_limits(
    subject: &Subject<'_>,
    line: &Straight,
    now: f64,
    service_limit: f64,
    setting: Option<&Setting>,
    ends: &IntervalEnds,
    clock_day: impl Fn(f64) -> Option<NaiveDate>,
) -> Vec<Passed> {
    let history = subject.history;
    let mut passed = Vec::new();
    if history.force_measured && now < service_limit {
        let current = history.current();
        let read = current.force.iter().rev().take_while(|point| point.y < service_limit).last().map(|point| point.day);
        let by_line = line.clock_at(service_limit).filter(|_| line.slope < 0.0).and_then(clock_day);
        let since = by_line.map(|day| day.max(current.from)).or(read);
        passed.push(Passed { limit: GoverningLimit::Force, since });
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

/// Once read under the stop limit it stays there until a reading is within limits again: not under
/// the service limit either.
fn is_under_stop_limit(history: &History, service_limit: f64, stop_limit: f64) -> bool {
    let mut is_under = false;
    for point in &history.forces {
        if point.y < stop_limit {
            is_under = true;
        } else if point.y >= service_limit {
            is_under = false;
        }
    }
    is_under
}
