//! The history of one spindle on its wear clock, cut into the stretches between services.

use super::doubted::{self, Doubted, Reach, Verdict, weigh};
use super::screen::{Step, screen};
use crate::exposure::{ExposureBook, SpindleExposure};
use crate::ids::{ReadingId, SpindleId};
use crate::limits::Limits;
use crate::reading::{Phase, Reading};
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::Quantity;
use crate::words;
use chrono::NaiveDate;

/// Figures beyond this, in percent of nominal, say nothing more; it keeps absurd ones finite.
const MOST_PERCENT: f64 = 1000.0;
/// The same for a deviation from the setting dimension, in tolerances.
const MOST_TOLERANCES: f64 = 1000.0;

/// A reading on the wear clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) id: ReadingId,
    pub(super) day: NaiveDate,
    pub(super) phase: Phase,
    /// Wear clock, 1,000 run hours.
    pub(super) k: f64,
    /// Percent of nominal, or deviation in tolerances.
    pub(super) y: f64,
}

/// A stretch between services.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub(super) from: NaiveDate,
    pub(super) to: Option<NaiveDate>,
    /// Wear clock at its start.
    pub(super) k_from: f64,
    /// What kind of service began it; `None`: installation or first record.
    pub(super) began_with: Option<Kind>,
    pub(super) force: Vec<Point>,
    /// Drops at once, between readings of `force`.
    pub(super) steps: Vec<Step>,
    pub(super) setting: Vec<Point>,
}

/// The history of one spindle, as known on the as-of day.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct History {
    /// Oldest first; the last one still runs. Never empty.
    pub(super) stretches: Vec<Stretch>,
    /// Logged services by day, oldest first; two of one day are one, major if either is.
    pub(super) services: Vec<(NaiveDate, Kind)>,
    /// Whether a force was ever read that counts.
    pub(super) force_measured: bool,
    /// Percent of nominal of all undoubted forces, oldest first.
    pub(super) forces: Vec<Point>,
    pub(super) warnings: Vec<String>,
    /// Readings that do not count, with the reason, by id.
    pub(super) left_out: Vec<(ReadingId, String)>,
}

impl History {
    pub(super) fn of(
        shop: &Shop,
        id: SpindleId,
        spindle: &Spindle,
        limits: &Limits,
        exposure: &SpindleExposure,
        book: &ExposureBook,
    ) -> Self {
        let warnings = Vec::new();
        let clock = |day| exposure.clock.at(&book.calendar, day) / 1000.0;
        let (mut forces, mut settings) = (Vec::new(), Vec::new());
        let (mut doubted_forces, mut doubted_settings) = (Vec::new(), Vec::new());
        for (reading_id, reading) in in_order(shop, id) {
            let share = |base: f64| share_of(limits, reading.quantity(), base);
            let (points, doubted) = match reading.quantity() {
                Quantity::ClampForce => (&mut forces, &mut doubted_forces),
                Quantity::SettingDimension => (&mut settings, &mut doubted_settings),
            };
            let Some(y) = share(reading.mean_base()) else { continue };
            let day = reading.at.date;
            let point = Point { id: reading_id, day, phase: reading.phase, k: clock(day), y };
            let Some(doubt) = &reading.doubt else {
                points.push(point);
                continue;
            };
            let what = format!("{} of {}", reading.quantity().label(), words::date_long(day, book.as_of));
            let strokes = reading.strokes.iter().filter_map(|stroke| share(stroke.base)).collect();
            doubted.push(Doubted { point, strokes, doubt: doubt.clone(), what });
        }
        let services = services_by_day(shop, id);
        let mut stretches = cut(spindle, exposure, book, &services);
        assign(&mut stretches, &forces, |stretch| &mut stretch.force);
        let mut said = Said { warnings, left_out: Vec::new() };
        let any_kept = weighed(&mut stretches, &doubted_forces, doubted::FORCE, |s| &mut s.force, &mut said);
        let mut stretches = screened(stretches, book.as_of, &mut said);
        assign(&mut stretches, &settings, |stretch| &mut stretch.setting);
        weighed(&mut stretches, &doubted_settings, doubted::SETTING, |s| &mut s.setting, &mut said);
        let Said { warnings, mut left_out } = said;
        left_out.sort();
        for stretch in &mut stretches {
            stretch.k_from = clock(stretch.from);
        }
        let force_measured = !forces.is_empty() || any_kept;
        Self { stretches, services, force_measured, forces, warnings, left_out }
    }

    /// The stretch that still runs.
    pub(super) fn current(&self) -> &Stretch {
        // `cut` always makes one
        self.stretches.last().unwrap_or(&EMPTY)
    }

    /// Day of the last logged service.
    pub(super) fn last_service(&self) -> Option<NaiveDate> {
        self.services.last().map(|(day, _)| *day)
    }
}

static EMPTY: Stretch = Stretch {
    from: NaiveDate::MIN,
    to: None,
    k_from: 0.0,
    began_with: None,
    force: Vec::new(),
    steps: Vec::new(),
    setting: Vec::new(),
};

/// Readings oldest first. Same day: routine, as found, as left; equal ones by time, then the larger
/// first.
pub(super) fn in_order(shop: &Shop, id: SpindleId) -> Vec<(ReadingId, &Reading)> {
    let mut readings: Vec<(ReadingId, &Reading)> =
        shop.readings_of(id).iter().map(|row| (row.id, &row.value)).collect();
    readings.sort_by(|(_, a), (_, b)| {
        (a.at.date, a.phase, a.at.time)
            .cmp(&(b.at.date, b.phase, b.at.time))
            .then_with(|| b.mean_base().total_cmp(&a.mean_base()))
    });
    readings
}

fn services_by_day(shop: &Shop, id: SpindleId) -> Vec<(NaiveDate, Kind)> {
    let mut services: Vec<(NaiveDate, Kind)> = shop.services_of(id).iter().map(|row| (row.at.date, row.kind)).collect();
    services.sort_unstable();
    // major sorts last, so of one day the later entry counts
    services.reverse();
    services.dedup_by_key(|(day, _)| *day);
    services.reverse();
    services
}

/// The stretches by their first days: installation or first record, then logged services.
fn cut(
    spindle: &Spindle,
    exposure: &SpindleExposure,
    book: &ExposureBook,
    services: &[(NaiveDate, Kind)],
) -> Vec<Stretch> {
    let first =
        spindle.installed_on.into_iter().chain(exposure.first_record).min().unwrap_or(book.as_of).min(book.as_of);
    let mut starts: Vec<(NaiveDate, Option<Kind>)> = services.iter().map(|(day, kind)| (*day, Some(*kind))).collect();
    if starts.first().is_none_or(|(day, _)| first < *day) {
        starts.insert(0, (first, None));
    }
    let ends: Vec<Option<NaiveDate>> =
        starts.iter().skip(1).map(|(day, _)| Some(*day)).chain(std::iter::once(None)).collect();
    starts
        .into_iter()
        .zip(ends)
        .map(|((from, began_with), to)| Stretch { from, to, began_with, ..EMPTY.clone() })
        .collect()
}

/// The stretches with their readings looked through; a service that nobody logged ends one.
fn screened(stretches: Vec<Stretch>, as_of: NaiveDate, said: &mut Said) -> Vec<Stretch> {
    let mut all = Vec::with_capacity(stretches.len());
    for mut stretch in stretches {
        loop {
            let found = screen(&stretch.force, as_of);
            said.warnings.extend(found.warnings);
            said.left_out.extend(found.left_out);
            stretch.force = found.kept;
            stretch.steps = found.steps;
            let Some((day, rest)) = found.unlogged else { break };
            let after =
                Stretch { from: day, to: stretch.to, began_with: Some(Kind::Minor), force: rest, ..EMPTY.clone() };
            stretch.to = Some(day);
            all.push(std::mem::replace(&mut stretch, after));
        }
        all.push(stretch);
    }
    all
}

/// Puts points into their stretches: on the day of a start, only what was read as left belongs to
/// the new one.
fn assign(stretches: &mut [Stretch], points: &[Point], mut list: impl FnMut(&mut Stretch) -> &mut Vec<Point>) {
    for point in points {
        if let Some(stretch) = stretch_of(stretches, point) {
            list(stretch).push(*point);
        }
    }
}

fn stretch_of<'s>(stretches: &'s mut [Stretch], point: &Point) -> Option<&'s mut Stretch> {
    let began = stretches.partition_point(|stretch| {
        let takes_all = stretch.began_with.is_none() || point.phase == Phase::AsLeft;
        stretch.from < point.day || (stretch.from == point.day && takes_all)
    });
    stretches.get_mut(began.saturating_sub(1))
}

/// What is told of readings that do not count as they are.
struct Said {
    warnings: Vec<String>,
    left_out: Vec<(ReadingId, String)>,
}

/// Puts what fits of doubted readings into their stretches; whether any did. They are weighed
/// against readings that nobody doubts, not against each other.
fn weighed(
    stretches: &mut [Stretch],
    doubted: &[Doubted],
    reach: Reach,
    mut list: impl FnMut(&mut Stretch) -> &mut Vec<Point>,
    said: &mut Said,
) -> bool {
    let mut kept: Vec<Point> = Vec::new();
    for reading in doubted {
        let Some(stretch) = stretch_of(stretches, &reading.point) else { continue };
        match weigh(reading, list(stretch), reach) {
            Verdict::Kept(point, words) => {
                kept.push(point);
                said.warnings.push(words);
            }
            Verdict::LeftOut(id, why, words) => {
                said.left_out.push((id, why));
                said.warnings.push(words);
            }
        }
    }
    assign(stretches, &kept, &mut list);
    for stretch in stretches {
        list(stretch).sort_by_key(|point| (point.day, point.phase));
    }
    !kept.is_empty()
}

/// Percent of nominal, or deviation from the setting dimension in tolerances; `None` where no
/// dimension is in force or it is not a number.
fn share_of(limits: &Limits, quantity: Quantity, base: f64) -> Option<f64> {
    let (share, most) = match quantity {
        Quantity::ClampForce => (base / limits.nominal_force.value.get() * 100.0, MOST_PERCENT),
        Quantity::SettingDimension => {
            let (aim, tolerance) = limits.setting()?;
            ((base - aim.get()) / tolerance.get(), MOST_TOLERANCES)
        }
    };
    share.is_finite().then(|| share.clamp(-most, most))
}
