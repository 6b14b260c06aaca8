//! What the drift chart shows: readings, services, fitted lines and the fan, placed on an axis.
//!
//! Pure: no painting, no screen. Forces are in kN throughout; the axis is days, hours or cycles.

use super::clock::{Axis, Clock};
use super::dates::{day_number, moment_number};
use almanac_core::due::Booking;
use almanac_core::forecast::{PathPoint, SpindleForecast, StepDrop};
use almanac_core::ids::{ReadingId, ServiceId, SpindleId};
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{Quantity, Unit};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// One force reading in the chart.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingPoint {
    /// Which.
    pub id: ReadingId,
    /// Where on the axis.
    pub x: f64,
    /// Mean of the strokes in kN.
    pub force: f64,
    /// Single strokes in kN.
    pub strokes: Vec<f64>,
    /// One standard uncertainty of the mean in kN, where several strokes tell it.
    pub uncertainty: Option<f64>,
    /// Occasion.
    pub phase: Phase,
    /// Why it is doubted, by a person or by the model.
    pub doubt: Option<String>,
    /// A correction took its place, or it was withdrawn.
    pub is_replaced: bool,
}

/// One service in the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ServicePoint {
    /// Which.
    pub id: ServiceId,
    /// Where on the axis.
    pub x: f64,
    /// A major one: parts changed.
    pub is_major: bool,
}

/// A drop of the force at once, such as from a broken disc spring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepPoint {
    /// Where on the axis: last reading before it, first after it.
    pub between: (f64, f64),
    /// Day of the first reading after it.
    pub day: NaiveDate,
    /// Force in kN before and after it.
    pub force: (f64, f64),
    /// How much, in percent of nominal.
    pub percent: f64,
}

/// The fan at one place of the axis: forces in kN, ascending as the quantiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanPoint {
    /// Where on the axis.
    pub x: f64,
    /// By quantile.
    pub force: [f64; 7],
}

/// What is in force beside pretended figures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct InForce {
    /// The middle of the fan.
    pub median: Vec<(f64, f64)>,
    /// Service-by.
    pub service_by: Option<(f64, NaiveDate)>,
    /// Service limit in kN.
    pub service_limit: f64,
}

/// Everything that the drift chart of one spindle shows on one axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// The axis.
    pub axis: Axis,
    /// Force readings by place.
    pub readings: Vec<ReadingPoint>,
    /// Services by place.
    pub services: Vec<ServicePoint>,
    /// Drops at once.
    pub steps: Vec<StepPoint>,
    /// Fitted lines, one per stretch.
    pub fits: Vec<Vec<(f64, f64)>>,
    /// The fan, from today on.
    pub fan: Vec<FanPoint>,
    /// Force after the booked service.
    pub after_booked: Vec<(f64, f64)>,
    /// What services restored, extended to the end of the fan.
    pub restored: Vec<(f64, f64)>,
    /// Today, with the force before a booked service.
    pub today: Option<f64>,
    /// Service-by.
    pub service_by: Option<(f64, NaiveDate)>,
    /// Where the figures are pretended: those in force.
    pub in_force: Option<InForce>,
    /// The booked service.
    pub booked: Option<(f64, NaiveDate)>,
    /// Closures; only over dates.
    pub closures: Vec<(f64, f64)>,
    /// Nominal force in kN.
    pub nominal: f64,
    /// Service limit in kN.
    pub service_limit: f64,
    /// Stop limit in kN.
    pub stop_limit: f64,
    /// How the chart opens.
    pub opening: (f64, f64),
    /// As far as anything is known.
    pub extent: (f64, f64),
}

/// One standard uncertainty of the mean of strokes; `None` for a single one.
#[must_use]
pub fn uncertainty_of_mean(strokes: &[f64]) -> Option<f64> {
    if strokes.len() < 2 {
        return None;
    }
    let count = strokes.len() as f64;
    let mean = strokes.iter().sum::<f64>() / count;
    let variance = strokes.iter().map(|stroke| (stroke - mean).powi(2)).sum::<f64>() / (count - 1.0);
    Some((variance / count).sqrt())
}

/// Collects what the chart of a spindle shows.
///
/// `known` is the shop of the as-of day, `whole` gives what was replaced by then.
#[must_use]
pub fn collect(
    (known, whole): (&Shop, &Shop),
    spindle: SpindleId,
    forecast: &SpindleForecast,
    booking: Option<&Booking>,
    as_of: NaiveDate,
    (axis, clock): (Axis, &Clock),
) -> Drift {
    let place = |day: f64| clock.at(axis, day);
    let today = place(day_number(as_of));
    let readings = reading_points((whole, spindle, forecast), as_of, &place);
    let steps = step_points(forecast, &readings, &place);
    let services: Vec<ServicePoint> = known
        .services_of(spindle)
        .iter()
        .filter_map(|service| {
            let x = place(moment_number(service.at))?;
            Some(ServicePoint { id: service.id, x, is_major: service.kind == Kind::Major })
        })
        .collect();
    let along = |path: &[PathPoint]| -> Vec<(f64, f64)> {
        path.iter().filter_map(|point| Some((place(day_number(point.day))?, point.force.get()))).collect()
    };
    let fits = forecast.intervals.iter().map(|interval| along(&interval.line)).filter(|line| !line.is_empty());
    let fan: Vec<FanPoint> = forecast
        .fan
        .iter()
        .filter_map(|day| {
            Some(FanPoint {
                x: place(day_number(day.day))?,
                force: day.force.map(almanac_core::units::Kilonewtons::get),
            })
        })
        .collect();
    let closures = if axis == Axis::Date {
        known.closures.iter().map(|row| (day_number(row.days.first), day_number(row.days.last) + 1.0)).collect()
    } else {
        Vec::new()
    };
    let dated = |day: NaiveDate| Some((place(day_number(day))?, day));
    let mut drift = Drift {
        axis,
        readings,
        services,
        steps,
        fits: fits.collect(),
        after_booked: along(&forecast.after_booked),
        restored: extended(along(&forecast.restored), fan.last().map(|point| point.x)),
        fan,
        today,
        service_by: forecast.service_by.and_then(dated),
        in_force: None,
        booked: booking.and_then(|booking| booking.start).and_then(|start| dated(start.date)),
        closures,
        nominal: forecast.limits.nominal_force.value.get(),
        service_limit: forecast.limits.service_limit_force().get(),
        stop_limit: forecast.limits.stop_limit_force().get(),
        opening: (0.0, 1.0),
        extent: (0.0, 1.0),
    };
    drift.extent = drift.known_extent();
    drift.opening = drift.opening_span(&place, as_of);
    drift
}

fn reading_points(
    (whole, spindle, forecast): (&Shop, SpindleId, &SpindleForecast),
    as_of: NaiveDate,
    place: &impl Fn(f64) -> Option<f64>,
) -> Vec<ReadingPoint> {
    let left_out: BTreeMap<ReadingId, &String> = forecast.left_out.iter().map(|(id, why)| (*id, why)).collect();
    let mut points: Vec<ReadingPoint> = whole
        .readings_of(spindle)
        .iter()
        .filter(|row| row.quantity() == Quantity::ClampForce)
        .filter(|row| row.at.date <= as_of && row.recorded_on.is_none_or(|recorded| recorded <= as_of))
        .filter_map(|row| {
            let strokes: Vec<f64> = row.strokes.iter().map(|stroke| stroke.base).collect();
            Some(ReadingPoint {
                id: row.id,
                x: place(moment_number(row.at))?,
                force: row.mean_base(),
                uncertainty: uncertainty_of_mean(&strokes),
                strokes,
                phase: row.phase,
                doubt: row.doubt.clone().or_else(|| left_out.get(&row.id).map(|why| (*why).clone())),
                is_replaced: row.is_replaced_on(as_of),
            })
        })
        .collect();
    points.sort_by(|a, b| a.x.total_cmp(&b.x));
    points
}

/// Drops at once between two readings that count.
fn step_points(
    forecast: &SpindleForecast,
    readings: &[ReadingPoint],
    place: &impl Fn(f64) -> Option<f64>,
) -> Vec<StepPoint> {
    let step = |step: &StepDrop| {
        let between = (place(day_number(step.after))?, place(day_number(step.by))?);
        let counts = |point: &&ReadingPoint| point.doubt.is_none() && !point.is_replaced;
        let near = |x: f64| {
            let counted = readings.iter().filter(counts);
            let nearest = counted.min_by(|a, b| (a.x - x).abs().total_cmp(&(b.x - x).abs()));
            nearest.map(|point| point.force)
        };
        let force = (near(between.0)?, near(between.1)?);
        Some(StepPoint { between, day: step.by, force, percent: step.size.get() })
    };
    forecast.steps.iter().filter_map(step).collect()
}

/// Where the axis is expected to be on a day ahead.
fn clock_ahead(axis: Axis, day: &almanac_core::forecast::FanDay) -> Option<f64> {
    match axis {
        Axis::Date => Some(day_number(day.day)),
        Axis::RunHours => day.run_hours.map(almanac_core::units::RunHours::get),
        Axis::ClampCycles => day.clamp_cycles.map(almanac_core::units::ClampCycles::get),
    }
}

/// A line carried on straight to a place; a single point is no line.
fn extended(mut line: Vec<(f64, f64)>, to: Option<f64>) -> Vec<(f64, f64)> {
    if line.len() < 2 {
        return Vec::new();
    }
    if let (Some(first), Some(last), Some(to)) = (line.first().copied(), line.last().copied(), to)
        && to > last.0
        && last.0 > first.0
    {
        let slope = (last.1 - first.1) / (last.0 - first.0);
        line.push((to, last.1 + slope * (to - last.0)));
    }
    line
}

impl Drift {
    /// The same chart of pretended figures, with those in force beside them. Days ahead stand where
    /// each of the two expects the clock to be by then.
    #[must_use]
    pub fn beside(mut self, before: &SpindleForecast, after: &SpindleForecast) -> Self {
        let axis = self.axis;
        let ahead = |forecast: &SpindleForecast| -> Vec<(NaiveDate, f64, f64)> {
            let places =
                forecast.fan.iter().filter_map(|day| Some((day.day, clock_ahead(axis, day)?, day.force[3].get())));
            places.collect()
        };
        let place = |ahead: &[(NaiveDate, f64, f64)], day: NaiveDate| {
            let next = ahead.partition_point(|point| point.0 < day);
            let right = ahead.get(next)?;
            let left = next.checked_sub(1).and_then(|index| ahead.get(index)).unwrap_or(right);
            let days = (right.0 - left.0).num_days().max(1) as f64;
            Some(left.1 + (right.1 - left.1) * (day - left.0).num_days() as f64 / days)
        };
        let (in_force, pretended) = (ahead(before), ahead(after));
        if pretended.len() == self.fan.len() {
            for (point, (_, x, _)) in self.fan.iter_mut().zip(&pretended) {
                point.x = *x;
            }
        }
        let dated = |ahead: &[(NaiveDate, f64, f64)], day: Option<NaiveDate>| {
            day.and_then(|day| Some((place(ahead, day)?, day)))
        };
        self.service_by = dated(&pretended, after.service_by).or(self.service_by);
        self.in_force = Some(InForce {
            service_by: dated(&in_force, before.service_by),
            median: in_force.iter().map(|(_, x, force)| (*x, *force)).collect(),
            service_limit: before.limits.service_limit_force().get(),
        });
        self.extent = self.known_extent();
        self
    }

    /// A chart without anything in it.
    #[must_use]
    pub const fn empty(axis: Axis) -> Self {
        Self {
            axis,
            readings: Vec::new(),
            services: Vec::new(),
            steps: Vec::new(),
            fits: Vec::new(),
            fan: Vec::new(),
            after_booked: Vec::new(),
            restored: Vec::new(),
            today: None,
            service_by: None,
            in_force: None,
            booked: None,
            closures: Vec::new(),
            nominal: 1.0,
            service_limit: 0.8,
            stop_limit: 0.7,
            opening: (0.0, 1.0),
            extent: (0.0, 1.0),
        }
    }

    fn known_extent(&self) -> (f64, f64) {
        let places = self
            .readings
            .iter()
            .map(|point| point.x)
            .chain(self.services.iter().map(|service| service.x))
            .chain(self.fits.iter().flatten().map(|point| point.0))
            .chain(self.fan.iter().map(|point| point.x))
            .chain(self.today);
        let (low, high) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        if low < high { (low, high) } else { (low.min(0.0), low.min(0.0) + 1.0) }
    }

    /// The last three stretches between services before the one that runs, and nine months ahead.
    fn opening_span(&self, place: &impl Fn(f64) -> Option<f64>, as_of: NaiveDate) -> (f64, f64) {
        const BACK: usize = 4;
        const DAYS_AHEAD: f64 = 274.0;
        let today = day_number(as_of);
        let now = self.today.unwrap_or(self.extent.1);
        let end = (0..=39)
            .rev()
            .find_map(|week| place(today + DAYS_AHEAD * f64::from(week) / 39.0))
            .unwrap_or(self.extent.1)
            .max(now);
        let started = self.services.len().checked_sub(BACK).and_then(|index| self.services.get(index));
        let start = started.map_or(self.extent.0, |service| service.x).min(now);
        // with nothing behind, the fan still starts away from the edge
        let start = start.min(now - 0.25 * (end - now));
        let width = (end - start).max(1e-6);
        // where nothing lies ahead, what stands at today still has room
        (start - 0.015 * width, end.max(now + 0.03 * width))
    }

    /// The middle of the fan at the place of a point.
    #[must_use]
    pub fn median_at(&self, point: Option<&(f64, f64)>) -> Option<f64> {
        let x = point?.0;
        let after = self.fan.partition_point(|day| day.x < x);
        let right = self.fan.get(after)?;
        let left = after.checked_sub(1).and_then(|index| self.fan.get(index)).unwrap_or(right);
        let share = if right.x > left.x { (x - left.x) / (right.x - left.x) } else { 0.0 };
        Some(left.force[3] + (right.force[3] - left.force[3]) * share)
    }

    /// Lowest and highest force in kN to be shown: limits, what counts in the span, and what was restored.
    #[must_use]
    pub fn force_span(&self, from: f64, to: f64) -> (f64, f64) {
        let inside = |x: f64| from <= x && x <= to;
        let counted = self
            .readings
            .iter()
            .filter(|point| inside(point.x) && point.doubt.is_none() && !point.is_replaced)
            .flat_map(|point| point.strokes.iter().copied());
        let lines = self.fits.iter().flatten().chain(&self.after_booked).filter(|point| inside(point.0));
        let fan_top = self.fan.iter().filter(|point| inside(point.x)).map(|point| point.force[6]);
        // where nothing was read the fan is all there is: to be seen whole
        let is_unread = self.readings.iter().all(|point| point.doubt.is_some() || point.is_replaced);
        let fan_bottom = self.fan.iter().filter(|point| is_unread && inside(point.x)).map(|point| point.force[0]);
        let (low, high) = counted
            .chain(lines.map(|point| point.1))
            .chain(fan_top)
            .chain(fan_bottom)
            .fold((self.stop_limit, self.service_limit), |(low, high), force| (low.min(force), high.max(force)));
        let unit = self.nominal.max(1e-6);
        // a line under the stop limit always leaves room for its ground
        ((low - 0.045 * unit).max(0.0), high.max(self.nominal) + 0.022 * unit)
    }
}

/// The figures at which the force axis is marked, in kN with their words, for a unit.
#[must_use]
pub fn force_marks(low: f64, high: f64, unit: Unit, most: usize) -> Vec<(f64, String)> {
    use super::scale::{decimals_of, marks, step_of};
    let (from, to) = (unit.from_base(low), unit.from_base(high));
    let step = step_of(from, to, most);
    marks(from, to, step)
        .into_iter()
        .map(|mark| (unit.to_base(mark), almanac_core::words::number(mark, decimals_of(step))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_strokes_has_an_uncertainty_only_with_several() {
        assert_eq!(uncertainty_of_mean(&[14.9]), None);
        // s of 14.9 15.1 15.0 14.9 is 0.09574, of the mean half of that
        let sd = uncertainty_of_mean(&[14.9, 15.1, 15.0, 14.9]).unwrap();
        assert!((sd - 0.047_871).abs() < 1e-5, "{sd}");
    }

    #[test]
    fn an_unread_fan_is_seen_whole() {
        let fan = vec![FanPoint { x: 0.5, force: [8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 21.0] }];
        let mut drift = Drift { fan, nominal: 20.0, service_limit: 16.0, stop_limit: 14.0, ..Drift::empty(Axis::Date) };
        let (low, high) = drift.force_span(0.0, 1.0);
        assert!(low < 8.0 && 21.0 < high, "{low} to {high}");
        let reading = ReadingPoint {
            id: ReadingId::from_row(1),
            x: 0.2,
            force: 17.0,
            strokes: vec![17.0],
            uncertainty: None,
            phase: Phase::Routine,
            doubt: None,
            is_replaced: false,
        };
        drift.readings.push(reading);
        assert!(12.0 < drift.force_span(0.0, 1.0).0, "a measured one keeps its readings large");
    }

    #[test]
    fn a_restored_line_is_carried_on_straight() {
        assert_eq!(extended(vec![(0.0, 17.0), (10.0, 16.0)], Some(30.0)).last(), Some(&(30.0, 14.0)));
        assert!(extended(vec![(0.0, 17.0)], Some(30.0)).is_empty());
    }

    #[test]
    fn the_force_axis_speaks_the_unit_of_the_shop() {
        let words = |unit| force_marks(11.8, 18.4, unit, 8).into_iter().map(|mark| mark.1).collect::<Vec<_>>();
        assert_eq!(words(Unit::Kilonewton), ["12", "13", "14", "15", "16", "17", "18"]);
        // 11.8 kN are 2,653 lbf, 18.4 kN are 4,136 lbf
        assert_eq!(words(Unit::PoundForce).first().map(String::as_str), Some("2,800"));
        assert_eq!(words(Unit::PoundForce).last().map(String::as_str), Some("4,000"));
    }
}
