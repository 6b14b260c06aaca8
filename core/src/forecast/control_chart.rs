//! Control chart: whether readings keep coming in on one side of what was expected.
//!
//! An exponentially weighted moving average of the standardised innovations z of readings that were
//! called ordinary: w = 0.2 z + 0.8 w before, from 0. Roberts 1959, Control chart tests based on
//! geometric moving averages, Technometrics 1. It is out beyond 2.7 steady-state standard
//! deviations, which for z of variance 1 are sqrt(0.2 / (2 - 0.2)) = 1/3 each. It points out slow
//! misfit, which no single reading shows.

use super::{SpindleForecast, Verdict, WeighedReading};
use crate::ids::ReadingId;
use crate::words;
use chrono::NaiveDate;

/// Weight of the newest reading.
const LAMBDA: f64 = 0.2;
/// How many steady-state standard deviations are usual.
const SIGMAS: f64 = 2.7;
/// Fewer ordinary readings than this show no drift: from experience, to be confirmed.
pub const LEAST_READINGS: usize = 4;

/// One reading on the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlPoint {
    /// The reading.
    pub reading: ReadingId,
    /// Its day.
    pub day: NaiveDate,
    /// How far off what was expected it was, in standard deviations.
    pub z: f64,
    /// What it was taken for.
    pub verdict: Verdict,
    /// The moving average with it; as it was before where it was not called ordinary.
    pub average: f64,
    /// The average is beyond its limit.
    pub is_out: bool,
}

/// Where the moving average stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ControlState {
    /// Too few ordinary readings to say.
    TooFew,
    /// Within its limits.
    Within,
    /// Beyond its lower limit since that reading: the force comes in lower than expected.
    Lower(NaiveDate),
    /// Beyond its upper limit since that reading: the force comes in higher than expected.
    Higher(NaiveDate),
}

/// The control chart of a spindle.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlChart {
    /// Oldest first.
    pub points: Vec<ControlPoint>,
}

impl ControlChart {
    /// The limit of the average on either side, in standard deviations of a reading.
    #[must_use]
    pub fn limit() -> f64 {
        SIGMAS * (LAMBDA / (2.0 - LAMBDA)).sqrt()
    }

    /// Of weighed readings, oldest first.
    #[must_use]
    pub fn of(readings: &[WeighedReading]) -> Self {
        let limit = Self::limit();
        let mut average = 0.0;
        let points = readings
            .iter()
            .map(|reading| {
                if reading.verdict == Verdict::Ok {
                    average = LAMBDA * reading.z + (1.0 - LAMBDA) * average;
                }
                ControlPoint {
                    reading: reading.reading,
                    day: reading.day,
                    z: reading.z,
                    verdict: reading.verdict,
                    average,
                    is_out: f64::abs(average) > limit,
                }
            })
            .collect();
        Self { points }
    }

    /// Where it stands after the last reading.
    #[must_use]
    pub fn state(&self) -> ControlState {
        let ordinary = self.points.iter().filter(|point| point.verdict == Verdict::Ok).count();
        if ordinary < LEAST_READINGS {
            return ControlState::TooFew;
        }
        let run = self.points.iter().rev().take_while(|point| point.is_out);
        match run.last() {
            None => ControlState::Within,
            Some(first) if first.average < 0.0 => ControlState::Lower(first.day),
            Some(first) => ControlState::Higher(first.day),
        }
    }

    /// What there is to say of it.
    #[must_use]
    pub fn sentence(&self, as_of: NaiveDate) -> String {
        match self.state() {
            ControlState::TooFew => {
                format!("Fewer than {} ordinary readings: nothing to say yet.", words::count_words(LEAST_READINGS))
            }
            ControlState::Within => "The readings follow what was expected of them.".to_owned(),
            ControlState::Lower(since) => format!(
                "Since {} the force keeps coming in lower than expected: it loses more than its dates assume.",
                words::date_long(since, as_of)
            ),
            ControlState::Higher(since) => format!(
                "Since {} the force keeps coming in higher than expected: it loses less than its dates assume, \
                 or the gauge reads high.",
                words::date_long(since, as_of)
            ),
        }
    }
}

impl SpindleForecast {
    /// The control chart of its readings.
    #[must_use]
    pub fn control_chart(&self) -> ControlChart {
        ControlChart::of(&self.readings)
    }
}

#[cfg(test)]
mod tests {
    use super::super::VerdictWeights;
    use super::*;
    use crate::units::Percent;

    fn day(number: u64) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + chrono::Days::new(number)
    }

    fn read(number: u64, z: f64, verdict: Verdict) -> WeighedReading {
        WeighedReading {
            reading: ReadingId::from_row(number as i64),
            day: day(number),
            read: Percent::default(),
            expected: Percent::default(),
            z,
            weights: VerdictWeights { ok: 1.0, doubtful: 0.0, step_drop: 0.0, unlogged_service: 0.0 },
            verdict,
        }
    }

    #[test]
    fn the_average_is_worked_by_hand() {
        let readings = [read(1, 1.0, Verdict::Ok), read(2, -9.0, Verdict::Doubtful), read(3, -2.0, Verdict::Ok)];
        let chart = ControlChart::of(&readings);
        let averages: Vec<f64> = chart.points.iter().map(|point| point.average).collect();
        // 0.2; unchanged by the doubtful one; 0.2 (-2) + 0.8 0.2
        for (found, by_hand) in averages.iter().zip([0.2, 0.2, -0.24]) {
            assert!((found - by_hand).abs() < 1e-12, "{averages:?}");
        }
        assert!((ControlChart::limit() - 0.9).abs() < 1e-12);
        assert_eq!(chart.state(), ControlState::TooFew);
    }

    #[test]
    fn a_slow_misfit_shows_that_no_single_reading_shows() {
        // 1.6 standard deviations low each time: 1.6 (1 - 0.8^n) passes 0.9 at n = 4
        let readings: Vec<_> = (1..=6).map(|number| read(number, -1.6, Verdict::Ok)).collect();
        let chart = ControlChart::of(&readings);
        assert_eq!(chart.state(), ControlState::Lower(day(4)));
        assert!(chart.sentence(day(9)).contains("5 January"), "{}", chart.sentence(day(9)));
        let quiet: Vec<_> = (1..=6).map(|n| read(n, if n % 2 == 0 { -1.6 } else { 1.6 }, Verdict::Ok)).collect();
        assert_eq!(ControlChart::of(&quiet).state(), ControlState::Within);
        let high: Vec<_> = (1..=6).map(|number| read(number, 1.6, Verdict::Ok)).collect();
        assert_eq!(ControlChart::of(&high).state(), ControlState::Higher(day(4)));
    }
}
