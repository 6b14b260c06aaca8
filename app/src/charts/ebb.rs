//! The ebb of a row: its reserve running out on the shared calendar, as corners and marks.
//!
//! The base line is the service limit; full height is a reserve of 10 % or more. Pure mapping;
//! `ebb_paint` paints it.

use almanac_core::due::{DueRow, Mark};
use almanac_core::forecast::{FanDay, GoverningLimit, SpindleForecast, SpindleState};
use almanac_core::units::Kilonewtons;
use chrono::NaiveDate;

/// Reserve in percent of nominal that fills the height.
pub const FULL_RESERVE: f64 = 10.0;
/// Index of the 90 % path in the quantiles of the fan: what one may get.
const LIKELY: usize = 5;

/// A corner of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Days after today; below zero before it.
    pub days: f32,
    /// Reserve as a share of the height, 0 to 1.
    pub height: f32,
}

/// Which limit ends the ebb.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Force: the dark path comes to a point; a tick stands there.
    Point,
    /// A fixed date: hours, cycles, calendar.
    Bar,
    /// The tolerance of the setting dimension.
    Notch,
}

/// How long a limit has been passed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Over {
    /// Since when, days after today (zero or below).
    pub from: f32,
    /// How long it goes on, up to the booking; `None`: nothing is booked.
    pub until: Option<f32>,
}

/// All that the ebb of one row shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ebb {
    /// Due inside the booking horizon: full ink; else pale.
    pub is_near: bool,
    /// Never measured: dashed outlines, no fill.
    pub is_outline: bool,
    /// Top edge of the dark part: what one may count on.
    pub counted: Vec<Corner>,
    /// Top edge of the light part: what one may get.
    pub likely: Vec<Corner>,
    /// The limit that ends it, and when.
    pub end: Option<(End, f32)>,
    /// How long past the limit.
    pub over: Option<Over>,
    /// The booked day.
    pub booked: Option<f32>,
    /// It is booked after service-by.
    pub is_booked_late: bool,
    /// What is there again after the booked service.
    pub restored: Vec<Corner>,
    /// The last downtime window before service-by, where nothing is booked.
    pub last_window: Option<f32>,
}

/// The ebb of a row, seen from a day.
#[must_use]
pub fn ebb(row: &DueRow, as_of: NaiveDate, is_near: bool) -> Ebb {
    let forecast = &*row.forecast;
    // out of service nothing ebbs away; one that merely must not run stays as it is
    if forecast.state == SpindleState::NotMounted || row.mark == Mark::OutOfService {
        return Ebb::default();
    }
    let days = |day: NaiveDate| (day - as_of).num_days() as f32;
    // a day that is over restored nothing: the path goes on as if nothing were booked
    let booked = row.booking.as_ref().and_then(|booking| booking.day).filter(|day| as_of <= *day).map(days);
    let is_placed = row.booking.as_ref().is_some_and(|b| b.day.is_some() && !b.is_overdue(as_of));
    let service_by = forecast.service_by.map(days);
    let is_force = forecast.governing == Some(GoverningLimit::Force);
    let passed_at = forecast.is_passed.then(|| forecast.passed_since.map_or(0.0, days).min(0.0));
    let ends_at = passed_at.or(service_by);

    let (counted, likely) = paths(forecast, as_of);
    let is_outline = !forecast.force_measured;
    let dark_end = earliest(ends_at, booked);
    // force may hold longer than what one may count on; a fixed date ends both
    let light_end = if is_force && passed_at.is_none() { booked } else { dark_end };
    let mut counted = cut(&counted, dark_end);
    if is_force && passed_at.is_none() && !is_outline && dark_end == service_by {
        come_to_a_point(&mut counted, service_by);
    }
    let likely = cut(&likely, light_end);
    Ebb {
        is_near,
        is_outline,
        counted: if is_outline { floored(&counted) } else { above_limit(&counted) },
        likely: if is_outline { floored(&likely) } else { above_limit(&likely) },
        end: ends_at.and_then(|at| end_of(forecast, passed_at.is_some()).map(|end| (end, at))),
        over: passed_at.map(|from| Over { from, until: booked.filter(|day| *day > 0.0) }),
        booked,
        is_booked_late: passed_at.is_none() && booked.zip(service_by).is_some_and(|(day, by)| day > by),
        restored: booked.map(|day| restored(forecast, as_of, day)).unwrap_or_default(),
        last_window: row.last_window.filter(|_| !is_placed && shows_window(row.mark)).map(days),
    }
}

fn shows_window(mark: Mark) -> bool {
    mark.needs_action() || mark == Mark::NoReading
}

fn earliest(a: Option<f32>, b: Option<f32>) -> Option<f32> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}

/// A limit of force leaves a tick only ahead; a fixed date or a tolerance leaves its mark behind too.
fn end_of(forecast: &SpindleForecast, is_passed: bool) -> Option<End> {
    match forecast.governing? {
        GoverningLimit::Force => (!is_passed).then_some(End::Point),
        GoverningLimit::SettingDimension => Some(End::Notch),
        GoverningLimit::RunHours | GoverningLimit::ClampCycles | GoverningLimit::Calendar => Some(End::Bar),
    }
}

fn height(forecast: &SpindleForecast, force: Kilonewtons) -> f32 {
    let limits = &forecast.limits;
    let reserve = force.percent_of(limits.nominal_force.value) - limits.service_limit.value;
    (reserve.get() / FULL_RESERVE) as f32
}

/// Dark and light path, not yet cut: the known past, shifted by today's uncertainty, then the fan.
fn paths(forecast: &SpindleForecast, as_of: NaiveDate) -> (Vec<Corner>, Vec<Corner>) {
    let days = |day: NaiveDate| (day - as_of).num_days() as f32;
    let at_risk = |day: &FanDay| height(forecast, day.at_risk);
    let may_get = |day: &FanDay| height(forecast, day.force.get(LIKELY).copied().unwrap_or(day.at_risk));
    let now = height(forecast, forecast.force_now.mean);
    let (mut below, mut above) = (0.0, 0.0);
    if let Some(today) = forecast.fan.first() {
        (below, above) = (at_risk(today) - now, may_get(today) - now);
    }
    let past = forecast.past.iter().filter(|point| point.day < as_of);
    let past: Vec<Corner> =
        past.map(|point| Corner { days: days(point.day), height: height(forecast, point.force) }).collect();
    let shifted = |by: f32| past.iter().map(move |corner| Corner { height: corner.height + by, ..*corner });
    let ahead = || forecast.fan.iter().filter(|day| day.day >= as_of);
    let counted =
        shifted(below).chain(ahead().map(|day| Corner { days: days(day.day), height: at_risk(day) })).collect();
    let likely =
        shifted(above).chain(ahead().map(|day| Corner { days: days(day.day), height: may_get(day) })).collect();
    (counted, likely)
}

fn restored(forecast: &SpindleForecast, as_of: NaiveDate, booked: f32) -> Vec<Corner> {
    let corners: Vec<Corner> = forecast
        .after_booked
        .iter()
        .map(|point| Corner { days: (point.day - as_of).num_days() as f32, height: height(forecast, point.force) })
        .filter(|corner| corner.days >= booked)
        .collect();
    let mut corners = above_limit(&corners);
    if let Some(first) = corners.first().copied() {
        corners.insert(0, Corner { days: booked, height: first.height });
        corners.insert(0, Corner { days: booked, height: 0.0 });
    }
    corners
}

/// The path up to a day, with a corner on it.
fn cut(path: &[Corner], at: Option<f32>) -> Vec<Corner> {
    let Some(at) = at else { return path.to_vec() };
    let mut kept: Vec<Corner> = path.iter().copied().take_while(|corner| corner.days <= at).collect();
    if let (Some(last), Some(next)) = (kept.last().copied(), path.get(kept.len()))
        && last.days < at
    {
        kept.push(between(last, *next, (at - last.days) / (next.days - last.days)));
    }
    kept
}

fn between(from: Corner, to: Corner, share: f32) -> Corner {
    Corner { days: from.days + (to.days - from.days) * share, height: from.height + (to.height - from.height) * share }
}

/// The dark path ends at service-by: the last weekly corners give way to the point on the limit.
fn come_to_a_point(path: &mut Vec<Corner>, service_by: Option<f32>) {
    let Some(at) = service_by else { return };
    if path.last().is_some_and(|last| last.height <= 0.0) {
        return;
    }
    while path.last().is_some_and(|last| last.days > (at - 6.0).max(0.0)) {
        path.pop();
    }
    if !path.is_empty() {
        path.push(Corner { days: at, height: 0.0 });
    }
}

/// Cut off at full height, with a corner where it gets there.
fn capped(path: &[Corner]) -> Vec<Corner> {
    crossing(path, 1.0).into_iter().map(|corner| Corner { height: corner.height.min(1.0), ..corner }).collect()
}

/// Never under the limit, going on along it.
fn floored(path: &[Corner]) -> Vec<Corner> {
    let path = crossing(&capped(path), 0.0);
    path.into_iter().map(|corner| Corner { height: corner.height.max(0.0), ..corner }).collect()
}

/// The last stretch above the limit: what lies before a service that lifted it is left out only
/// where it was under the limit.
fn above_limit(path: &[Corner]) -> Vec<Corner> {
    let path = floored(path);
    let Some(last) = path.iter().rposition(|corner| corner.height > 0.0) else { return Vec::new() };
    path.get(..(last + 2).min(path.len())).map(<[Corner]>::to_vec).unwrap_or_default()
}

/// The path with a corner wherever it crosses a height.
fn crossing(path: &[Corner], at: f32) -> Vec<Corner> {
    let mut corners = Vec::with_capacity(path.len() + 2);
    for (index, corner) in path.iter().enumerate() {
        if let Some(before) = index.checked_sub(1).and_then(|before| path.get(before))
            && (before.height - at) * (corner.height - at) < 0.0
        {
            let share = (at - before.height) / (corner.height - before.height);
            corners.push(Corner { height: at, ..between(*before, *corner, share) });
        }
        corners.push(*corner);
    }
    corners
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(corners: &[(f32, f32)]) -> Vec<Corner> {
        corners.iter().map(|(days, height)| Corner { days: *days, height: *height }).collect()
    }

    #[test]
    fn a_path_is_cut_between_its_corners() {
        let line = path(&[(0.0, 1.0), (7.0, 0.5), (14.0, 0.0)]);
        assert_eq!(cut(&line, Some(3.5)), path(&[(0.0, 1.0), (3.5, 0.75)]));
        assert_eq!(cut(&line, Some(7.0)), path(&[(0.0, 1.0), (7.0, 0.5)]));
        assert_eq!(cut(&line, Some(30.0)), line);
        assert_eq!(cut(&line, None), line);
    }

    #[test]
    fn full_height_and_limit_get_their_own_corners() {
        let line = path(&[(0.0, 1.5), (10.0, 0.5), (20.0, -0.5)]);
        assert_eq!(above_limit(&line), path(&[(0.0, 1.0), (5.0, 1.0), (10.0, 0.5), (15.0, 0.0)]));
        assert_eq!(floored(&line), path(&[(0.0, 1.0), (5.0, 1.0), (10.0, 0.5), (15.0, 0.0), (20.0, 0.0)]));
        assert!(above_limit(&path(&[(0.0, -0.2), (7.0, -0.3)])).is_empty());
    }

    #[test]
    fn dark_comes_to_a_point_at_service_by() {
        let mut line = path(&[(0.0, 0.5), (7.0, 0.3), (14.0, 0.1), (15.0, 0.08)]);
        come_to_a_point(&mut line, Some(15.0));
        assert_eq!(line, path(&[(0.0, 0.5), (7.0, 0.3), (15.0, 0.0)]));
        let mut already = path(&[(0.0, 0.5), (7.0, 0.0)]);
        come_to_a_point(&mut already, Some(9.0));
        assert_eq!(already.len(), 2);
    }
}
