//! What one more reading would be worth: preposterior analysis (Raiffa and Schlaifer 1961, Applied
//! Statistical Decision Theory).
//!
//! The filter is moved to the day of the reading by the exposure that is expected until then; the
//! readings that may come are drawn as points of its own predictive law ([`super::predicted`]); the
//! filter takes each of them like a real one; the crossing law follows anew; and what is asked of
//! it is averaged over the points. The meter is taken to be read along with it and to show what is
//! expected, so what it would teach about usage is not counted.
//!
//! **Band**: width in days of the middle 80 % of the crossing date (10 % to 90 %).
//!
//! **Cost of acting**: a service on day d costs `early` for each day of life that is given away and
//! `below` for each day below the limit before it (the newsvendor; Arrow, Harris and Marschak
//! 1951), and `stopped` for each day below the stop limit, on which the machine must stand. With
//! F(t) the chance of having crossed any limit by t and S(t) the same of the stop limit, that is,
//! but for a part that no d changes, the integral of h = (early + below) F + stopped S - early up
//! to d. h rises, so the cheapest day is where it passes zero, and the cost there is the integral
//! of min(h, 0). Today's cheapest cost takes the mean of h over the points, the reading's takes
//! each point's own: the saving is never below zero, since min(h, 0) is concave (Jensen 1906).

use super::filter::{Event, Filter, Occasion};
use super::observed::Built;
use super::parameters::Parameters;
use super::predicted::{dimension_readings, force_readings};
use super::setting_dimension::{DimensionFilter, DimensionParameters};
use super::spindle::{Asked, LimitForecast, dimension_forecast, limit_forecast, limit_forecasts};
use super::working_days::WorkingDays;

/// What acting too early and too late costs, in any currency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActingCost {
    /// A day of service life given away.
    pub early: f64,
    /// A day below a limit.
    pub below: f64,
    /// A day below the stop limit, besides.
    pub stopped: f64,
}

/// All that is known of a spindle that bears on its service.
#[derive(Debug, Clone, Copy)]
pub struct Outlook<'a> {
    /// Of its group.
    pub parameters: &'a Parameters,
    /// After all its readings, at as-of.
    pub filter: &'a Filter<'a>,
    /// Its usage and exposure.
    pub built: &'a Built,
    /// The working calendar.
    pub calendar: &'a WorkingDays,
    /// From when, and how far.
    pub asked: Asked,
    /// Percent of nominal.
    pub service_limit: f64,
    /// Percent of nominal.
    pub stop_limit: f64,
    /// Its setting dimension, where it was ever read.
    pub dimension: Option<(&'a DimensionParameters, &'a DimensionFilter)>,
    /// The day number by which an interval runs out.
    pub hard_day: Option<f64>,
    /// What acting costs.
    pub cost: ActingCost,
}

/// What a reading would bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Width of the band now, in days.
    pub band_now: f64,
    /// Expected width after the reading.
    pub band_then: f64,
    /// Expected cost of acting that it saves; what taking it costs is not taken off.
    pub saved: f64,
}

/// Strokes of a reading where none was taken before (common practice, no source).
const USUAL_STROKES: f64 = 3.0;
/// Steps of the integral over days; they are shorter near the reading.
const STEPS: usize = 40;
/// Edges of the band.
const BAND: [f64; 2] = [0.1, 0.9];

impl Outlook<'_> {
    /// What a force reading on a day would bring; `None` where nothing can be said.
    #[must_use]
    pub fn force_reading(&self, day: i64) -> Option<Gain> {
        let (filter, built, asked) = self.moved(day)?;
        let strokes = self.usual_strokes();
        let points = force_readings(&filter, strokes, Occasion::Routine);
        let [low, high] =
            limit_forecast(self.parameters, self.filter, self.built, self.calendar, self.asked, self.service_limit)
                .quantiles(&BAND);
        let band_now = self.width(low, high)?;
        let dimension = self.moved_dimension(day);
        let mut then = Vec::with_capacity(points.len());
        let mut end = day as f64;
        let mut band_then = 0.0;
        for point in &points {
            let mut read = filter.clone();
            read.apply(&Event::Read { y: point.y, strokes, occasion: Occasion::Routine });
            let (law, stop) = if 0.0 < self.cost.stopped {
                let both = [self.service_limit, self.stop_limit];
                let [law, stop] = limit_forecasts(self.parameters, &read, &built, self.calendar, asked, both);
                (law, Some(stop))
            } else {
                (self.limit(&read, &built, asked, self.service_limit), None)
            };
            let [low, high, act] = law.quantiles(&[BAND[0], BAND[1], self.risk()]);
            band_then += point.chance * self.width(low, high).unwrap_or(band_now);
            end = f64::max(end, act.unwrap_or_else(|| self.end()));
            then.push((point.chance, law, stop));
        }
        let days = self.grid(day, end);
        let beside = self.outside(dimension.as_ref(), &built, day, &days);
        let costs = then.iter().map(|(chance, law, stop)| {
            let force = days.map(|t| law.probability(t));
            let stopped = stop.as_ref().map_or([0.0; STEPS + 1], |law| days.map(|t| law.probability(t)));
            (*chance, self.slopes(&days, &force, &beside, &stopped))
        });
        Some(Gain { band_now, band_then, saved: saving(&days, costs) })
    }

    /// What a reading of the setting dimension on a day would bring; `None` where none was ever
    /// taken.
    #[must_use]
    pub fn dimension_reading(&self, day: i64) -> Option<Gain> {
        let (parameters, now) = self.dimension?;
        let (filter, built, asked) = self.moved(day)?;
        let before = self.moved_dimension(day)?;
        let shares = [BAND[0], BAND[1], self.risk()];
        let days_of = |filter: &DimensionFilter, built: &Built, asked: Asked| {
            let days = dimension_forecast(parameters, filter, built, self.calendar, asked, &shares);
            [0, 1, 2].map(|i| days.get(i).copied().flatten())
        };
        let [low, high, _] = days_of(now, self.built, self.asked);
        let band_now = self.width(low, high)?;
        let force = self.limit(&filter, &built, asked, self.service_limit);
        let stop = self.limit(&filter, &built, asked, self.stop_limit);
        let mut end = day as f64;
        let mut band_then = 0.0;
        let mut then = Vec::new();
        for point in dimension_readings(&before, parameters) {
            let mut read = before.clone();
            let event = Event::Read { y: point.y, strokes: 1.0, occasion: Occasion::Routine };
            read.apply(&event, parameters);
            let [low, high, act] = days_of(&read, &built, asked);
            band_then += point.chance * self.width(low, high).unwrap_or(band_now);
            end = f64::max(end, act.unwrap_or_else(|| self.end()));
            then.push((point.chance, read));
        }
        // no service waits longer than the force allows
        end = end.min(force.quantile(self.risk()).unwrap_or_else(|| self.end()));
        let days = self.grid(day, end);
        let beside = days.map(|t| force.probability(t));
        let stopped = if 0.0 < self.cost.stopped { days.map(|t| stop.probability(t)) } else { [0.0; STEPS + 1] };
        let costs = then.iter().map(|(chance, read)| {
            let outside = self.outside(Some(read), &built, day, &days);
            (*chance, self.slopes(&days, &beside, &outside, &stopped))
        });
        Some(Gain { band_now, band_then, saved: saving(&days, costs) })
    }

    /// The filter just before a reading on a day, what was built then, and what is asked from there.
    fn moved(&self, day: i64) -> Option<(Filter<'_>, Built, Asked)> {
        let later = day - self.asked.as_of;
        if later < 0 || later > self.asked.horizon_days {
            return None;
        }
        let (from, to) = self.exposure(day);
        let mut filter = self.filter.clone();
        filter.log = Vec::new();
        filter.apply(&Event::Move { from, to });
        let built = Built {
            events: Vec::new(),
            days: Vec::new(),
            dimension_events: Vec::new(),
            usage_law: self.built.usage_law.clone(),
            since_service: to,
            unread: 0.0,
            ..*self.built
        };
        Some((filter, built, Asked { as_of: day, horizon_days: self.asked.horizon_days - later }))
    }

    fn moved_dimension(&self, day: i64) -> Option<DimensionFilter> {
        let (parameters, filter) = self.dimension?;
        let (from, to) = self.exposure(day);
        let mut filter = filter.clone();
        filter.apply(&Event::Move { from, to }, parameters);
        Some(filter)
    }

    /// Exposure since the service: now, and as expected on a day.
    fn exposure(&self, day: i64) -> (f64, f64) {
        let work = self.calendar.until(day as f64) - self.calendar.until(self.asked.as_of as f64);
        (self.built.since_service, self.built.since_service + self.built.usage * work)
    }

    fn usual_strokes(&self) -> f64 {
        let last = self.built.events.iter().rev().find_map(|event| match event {
            Event::Read { strokes, .. } => Some(strokes.max(1.0)),
            _ => None,
        });
        last.unwrap_or(USUAL_STROKES)
    }

    fn limit(&self, filter: &Filter<'_>, built: &Built, asked: Asked, limit: f64) -> LimitForecast<'_> {
        limit_forecast(self.parameters, filter, built, self.calendar, asked, limit)
    }

    /// The last day that is looked at.
    fn end(&self) -> f64 {
        (self.asked.as_of + self.asked.horizon_days) as f64
    }

    /// The chance of having crossed at which acting is cheapest.
    fn risk(&self) -> f64 {
        (self.cost.early / (self.cost.early + self.cost.below)).clamp(1e-4, 0.5)
    }

    /// Width of a band that ends at the horizon; `None` where it begins beyond.
    fn width(&self, low: Option<f64>, high: Option<f64>) -> Option<f64> {
        Some(high.unwrap_or_else(|| self.end()) - low?)
    }

    /// Days from the reading to the last that may be cheapest.
    fn grid(&self, day: i64, end: f64) -> [f64; STEPS + 1] {
        let end = self.hard_day.map_or(end, |hard| hard.min(end));
        let span = (end - day as f64).max(0.0);
        std::array::from_fn(|i| day as f64 + span * (i as f64 / STEPS as f64).powi(2))
    }

    /// The chance that the setting dimension has left its tolerance, at each day of a grid.
    fn outside(
        &self,
        filter: Option<&DimensionFilter>,
        built: &Built,
        from: i64,
        days: &[f64; STEPS + 1],
    ) -> [f64; STEPS + 1] {
        let (Some((parameters, _)), Some(filter)) = (self.dimension, filter) else { return [0.0; STEPS + 1] };
        let law = filter.crossing(parameters.q, built.usage_variance + built.usage_growth / 3.0);
        let done = self.calendar.until(from as f64);
        let mut highest: f64 = 0.0;
        days.map(|t| {
            highest = highest.max(law.outside(built.usage * (self.calendar.until(t) - done)));
            highest
        })
    }

    /// h at each day of a grid. Limits count as independent.
    fn slopes(
        &self,
        days: &[f64; STEPS + 1],
        one: &[f64; STEPS + 1],
        other: &[f64; STEPS + 1],
        stopped: &[f64; STEPS + 1],
    ) -> [f64; STEPS + 1] {
        let ActingCost { early, below, stopped: standing } = self.cost;
        std::array::from_fn(|i| {
            let crossed = match self.hard_day {
                Some(hard) if hard < days[i] => 1.0,
                _ => 1.0 - (1.0 - one[i]) * (1.0 - other[i]),
            };
            (early + below) * crossed + standing * stopped[i] - early
        })
    }
}

/// Expected cost of the best day for the mean of all points, less that of each point's own.
fn saving(days: &[f64; STEPS + 1], costs: impl Iterator<Item = (f64, [f64; STEPS + 1])>) -> f64 {
    let mut mean = [0.0; STEPS + 1];
    let mut each = 0.0;
    for (chance, slopes) in costs {
        for (mean, slope) in mean.iter_mut().zip(slopes) {
            *mean += chance * slope;
        }
        each += chance * gained(days, &slopes);
    }
    (gained(days, &mean) - each).max(0.0)
}

/// Integral of min(h, 0), h running straight between the days.
fn gained(days: &[f64; STEPS + 1], slopes: &[f64; STEPS + 1]) -> f64 {
    let mut total = 0.0;
    for (pair, h) in days.windows(2).zip(slopes.windows(2)) {
        let (&[from, to], &[a, b]) = (pair, h) else { continue };
        let below = match (a < 0.0, b < 0.0) {
            (true, true) => 0.5 * (a + b),
            (true, false) => 0.5 * a * a / (a - b),
            (false, true) => 0.5 * b * b / (b - a),
            (false, false) => 0.0,
        };
        total += (to - from) * below;
    }
    total
}
