//! Scores of forecasts: shares inside bands, bias, CRPS.

use super::{ScoredReading, TrackRecord};
use crate::exposure::usage::median;
use crate::forecast::model::normal;
use crate::units::Percent;
use chrono::NaiveDate;
use std::f64::consts::PI;

/// A central band of the forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The share that it should hold, in percent.
    pub percent: u8,
    /// Half its width in standard deviations: quantile of the standard normal law.
    half_width: f64,
}

/// The bands that are scored.
pub const BANDS: [Band; 3] = [
    Band { percent: 50, half_width: 0.674_489_750_196_082 },
    Band { percent: 80, half_width: 1.281_551_565_544_601 },
    Band { percent: 90, half_width: 1.644_853_626_951_473 },
];

impl ScoredReading {
    /// Lower and upper end of a band, in percent of nominal.
    #[must_use]
    pub fn ends(&self, band: Band) -> (Percent, Percent) {
        let half = Percent::new(band.half_width * self.sd.get()).unwrap_or_default();
        (self.forecast - half, self.forecast + half)
    }

    /// Whether the reading lies inside a band, its ends included.
    #[must_use]
    pub fn is_inside(&self, band: Band) -> bool {
        let (low, high) = self.ends(band);
        low <= self.read && self.read <= high
    }

    /// Reading less forecast, in percent of nominal.
    #[must_use]
    pub fn miss(&self) -> Percent {
        self.read - self.forecast
    }

    /// Continuous ranked probability score, in percent of nominal; smaller is better.
    #[must_use]
    pub fn crps(&self) -> Percent {
        Percent::new(normal_crps(self.miss().get(), self.sd.get())).unwrap_or_default()
    }

    /// The same of the naive line, a forecast of one figure: its absolute error.
    #[must_use]
    pub fn naive_crps(&self) -> Option<Percent> {
        Percent::new((self.read - self.naive?).get().abs())
    }
}

/// CRPS of a normal forecast that missed by so much: closed form of Gneiting and Raftery (2007),
/// Strictly proper scoring rules, JASA 102, 359-378, equation 21, there with the opposite sign.
fn normal_crps(miss: f64, sd: f64) -> f64 {
    if sd <= 0.0 {
        return miss.abs();
    }
    let z = miss / sd;
    let density = (-0.5 * z * z).exp() / (2.0 * PI).sqrt();
    sd * (z * (2.0 * normal::cdf(z) - 1.0) + 2.0 * density - 1.0 / PI.sqrt())
}

/// The track record in figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Readings that were scored.
    pub scored: usize,
    /// How many of them lay inside each of [`BANDS`].
    pub inside: [usize; 3],
    /// Mean of reading less forecast, in percent of nominal; `None` without any.
    pub bias: Option<Percent>,
    /// Mean CRPS, in percent of nominal.
    pub crps: Option<Percent>,
    /// Readings for which the naive line had an answer.
    pub naive_scored: usize,
    /// Mean CRPS of the naive line over these.
    pub naive_crps: Option<Percent>,
    /// Mean CRPS of the forecast over the same ones.
    pub crps_beside_naive: Option<Percent>,
    /// Half of the forecasts missed the reading by no more, in percent of nominal.
    pub median_miss: Option<Percent>,
    /// The same of the naive line.
    pub naive_median_miss: Option<Percent>,
    /// Past crossings of the service limit.
    pub crossings: usize,
    /// How many the service-by date caught.
    pub caught: usize,
    /// How many the naive line caught.
    pub naive_caught: usize,
    /// Day of the first scored reading.
    pub since: Option<NaiveDate>,
}

impl TrackRecord {
    /// The record in figures.
    #[must_use]
    pub fn summary(&self) -> Summary {
        let all = &self.readings;
        let beside: Vec<(Percent, Percent)> =
            all.iter().filter_map(|scored| Some((scored.naive_crps()?, scored.crps()))).collect();
        Summary {
            scored: all.len(),
            inside: BANDS.map(|band| all.iter().filter(|scored| scored.is_inside(band)).count()),
            bias: mean(all.iter().map(ScoredReading::miss)),
            crps: mean(all.iter().map(ScoredReading::crps)),
            naive_scored: beside.len(),
            naive_crps: mean(beside.iter().map(|(naive, _)| *naive)),
            crps_beside_naive: mean(beside.iter().map(|(_, own)| *own)),
            median_miss: middle(all.iter().map(|scored| scored.miss().get().abs())),
            naive_median_miss: middle(all.iter().filter_map(|scored| Some(scored.naive_crps()?.get()))),
            crossings: self.crossings.len(),
            caught: self.crossings.iter().filter(|crossing| crossing.is_caught()).count(),
            naive_caught: self.crossings.iter().filter(|crossing| crossing.is_caught_by_naive()).count(),
            since: all.first().map(|scored| scored.day),
        }
    }
}

fn middle(values: impl Iterator<Item = f64>) -> Option<Percent> {
    Percent::new(median(&mut values.collect::<Vec<f64>>())?)
}

fn mean(values: impl ExactSizeIterator<Item = Percent>) -> Option<Percent> {
    let count = values.len();
    let sum: f64 = values.map(Percent::get).sum();
    if count == 0 { None } else { Percent::new(sum / count as f64) }
}

#[cfg(test)]
mod tests {
    use super::super::ScoredCrossing;
    use super::*;
    use crate::ids::{ReadingId, SpindleId};
    use crate::reading::Phase;

    fn day(text: &str) -> NaiveDate {
        crate::moment::parse_iso_date(text).unwrap()
    }

    fn scored(read: f64, forecast: f64, sd: f64, naive: Option<f64>) -> ScoredReading {
        let percent = |value| Percent::new(value).unwrap();
        ScoredReading {
            spindle: SpindleId::from_row(1),
            reading: ReadingId::from_row(1),
            day: day("2025-03-02"),
            from: day("2025-03-01"),
            phase: Phase::Routine,
            read: percent(read),
            forecast: percent(forecast),
            sd: percent(sd),
            naive: naive.map(percent),
        }
    }

    #[test]
    fn the_half_widths_are_normal_quantiles() {
        for band in BANDS {
            let held = normal::cdf(band.half_width) - normal::cdf(-band.half_width);
            assert!((held - f64::from(band.percent) / 100.0).abs() < 1e-9, "{band:?}: {held}");
        }
    }

    #[test]
    fn crps_by_hand_and_by_its_definition() {
        // no miss: 2 x 0.398942 - 0.564190 = 0.233695 of the sd; one sd off: 0.682689 + 2 x 0.241971 - 0.564190
        assert!((normal_crps(0.0, 1.0) - 0.233_695).abs() < 1e-6);
        assert!((normal_crps(-2.0, 2.0) - 2.0 * 0.602_441).abs() < 2e-6);
        assert!((normal_crps(-3.0, 0.0) - 3.0).abs() < 1e-12, "a forecast of one figure: its absolute error");
        // integral of (F(x) - 1 where x >= y)^2, midpoints of 1/1000
        for (miss, sd) in [(0.7, 1.3), (-2.5, 0.8), (4.0, 2.0)] {
            let (width, half) = (1e-3, 20_000);
            let sum: f64 = (-half..half)
                .map(|i| {
                    let x = (f64::from(i) + 0.5) * width;
                    (normal::cdf(x / sd) - if x >= miss { 1.0 } else { 0.0 }).powi(2) * width
                })
                .sum();
            assert!((normal_crps(miss, sd) - sum).abs() < 1e-3, "{miss} {sd}: {sum}");
        }
    }

    #[test]
    fn a_small_record_by_hand() {
        // sd 2: the bands reach 1.349, 2.563 and 3.290 from the forecast
        let readings = vec![
            scored(91.0, 90.0, 2.0, Some(93.0)),
            scored(88.0, 90.0, 2.0, Some(90.5)),
            scored(87.0, 90.0, 2.0, None),
            scored(94.0, 90.0, 2.0, Some(94.0)),
        ];
        let crossing = |service_by: Option<&str>, naive: Option<&str>| ScoredCrossing {
            spindle: SpindleId::from_row(1),
            after: day("2025-05-01"),
            by: day("2025-08-01"),
            day: day("2025-06-15"),
            from: day("2025-04-16"),
            service_by: service_by.map(day),
            naive: naive.map(day),
        };
        let crossings = vec![
            crossing(Some("2025-06-15"), Some("2025-06-16")),
            crossing(Some("2025-06-16"), None),
            crossing(None, Some("2025-04-16")),
            crossing(Some("2025-04-16"), Some("2025-06-01")),
        ];
        let record = TrackRecord { as_of: day("2026-01-01"), readings, crossings, doubted: 0, too_soon: 0 };
        let summary = record.summary();
        assert_eq!((summary.scored, summary.inside), (4, [1, 2, 3]));
        assert!((summary.bias.unwrap().get() - (1.0 - 2.0 - 3.0 + 4.0) / 4.0).abs() < 1e-12);
        // absolute errors of the line: 2, 2.5, none, 0
        assert_eq!(summary.naive_scored, 3);
        assert!((summary.naive_crps.unwrap().get() - 1.5).abs() < 1e-12);
        assert!((summary.naive_median_miss.unwrap().get() - 2.0).abs() < 1e-12);
        assert!((summary.median_miss.unwrap().get() - 2.5).abs() < 1e-12);
        let crps = |miss: f64| normal_crps(miss, 2.0);
        assert!((summary.crps.unwrap().get() - (crps(1.0) + crps(2.0) + crps(3.0) + crps(4.0)) / 4.0).abs() < 1e-12);
        let beside = summary.crps_beside_naive.unwrap().get();
        assert!((beside - (crps(1.0) + crps(2.0) + crps(4.0)) / 3.0).abs() < 1e-12);
        assert_eq!((summary.crossings, summary.caught, summary.naive_caught), (4, 2, 2));
        assert_eq!(summary.since, Some(day("2025-03-02")));
    }
}
