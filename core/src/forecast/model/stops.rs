//! Stops: a spindle that stands still for days (repair, no orders) and runs on at its level.
//!
//! A segment with a stop in it shows less than the level, by the share of its working days that was lost.
//! Lost days follow the exponential law, taken at the two nodes of Gauss and Laguerre.

use super::meter::Segment;
use super::usage::{DAYS_PER_YEAR, UsageParameters};

/// Lost days over their mean, with weights: Gauss and Laguerre (Abramowitz and Stegun 25.4.45).
const LOST: [(f64, f64); 2] =
    [(0.585_786_437_626_905, 0.853_553_390_593_274), (3.414_213_562_373_095, 0.146_446_609_406_726)];
/// A segment shows at least this share of its level: one with less in it is an idle one.
const LEAST_RUN: f64 = 0.05;
/// Of a year a spindle stands still for less than this share.
const MOST_STOPPED: f64 = 0.5;

/// What stops may do to one segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stops {
    /// How likely there is none.
    pub(super) none: f64,
    /// Short ones and long ones: how likely, and the share of the working days that is left.
    pub(super) kinds: [(f64, f64); 2],
}

impl Stops {
    pub(super) fn of(segment: &Segment, par: &UsageParameters) -> Self {
        let expected = if par.improvements.stops { par.stops_per_year * segment.years() } else { 0.0 };
        let any = -(-expected).exp_m1();
        let kinds = LOST
            .map(|(lost, weight)| (any * weight, (1.0 - lost * par.stop_days / segment.work.max(1.0)).max(LEAST_RUN)));
        Self { none: 1.0 - any, kinds }
    }
}

impl Segment {
    fn years(&self) -> f64 {
        (self.to - self.from) / DAYS_PER_YEAR
    }
}

impl UsageParameters {
    /// Share of the working days that stops take in the long run, where so many working days fell on so many
    /// years.
    pub(super) fn stopped_share(&self, working_days: f64, years: f64) -> f64 {
        if !self.improvements.stops || working_days <= 0.0 {
            return 0.0;
        }
        (self.stops_per_year * self.stop_days * years / working_days).min(MOST_STOPPED)
    }
}

#[cfg(test)]
mod tests {
    use super::super::improvements::Improvements;
    use super::*;

    fn law() -> UsageParameters {
        UsageParameters { stops_per_year: 0.5, stop_days: 10.0, ..UsageParameters::weak().with(Improvements::all()) }
    }

    #[test]
    fn what_is_lost_has_the_mean_and_the_spread_of_the_exponential_law() {
        let moment = |power: i32| -> f64 { LOST.iter().map(|(lost, weight)| weight * lost.powi(power)).sum() };
        for (power, factorial) in [(0, 1.0), (1, 1.0), (2, 2.0), (3, 6.0)] {
            assert!((moment(power) - factorial).abs() < 1e-12, "moment {power}");
        }
    }

    #[test]
    fn chances_sum_to_one_and_never_all_is_lost() {
        for (days, work) in [(73.0, 50.0), (7.0, 5.0), (730.0, 500.0)] {
            let segment = Segment { from: 0.0, to: days, work, level: 8.0 };
            let stops = Stops::of(&segment, &law());
            let sum = stops.none + stops.kinds.iter().map(|(chance, _)| chance).sum::<f64>();
            assert!((sum - 1.0).abs() < 1e-12);
            assert!((stops.none - (-0.5 * days / 365.0).exp()).abs() < 1e-12);
            assert!(stops.kinds.iter().all(|(_, runs)| (LEAST_RUN..1.0).contains(runs)), "{stops:?}");
        }
    }

    #[test]
    fn the_share_that_is_lost_in_the_long_run() {
        // ten days every other year of 250
        assert!((law().stopped_share(2_500.0, 10.0) - 0.02).abs() < 1e-12);
        let endless = UsageParameters { stops_per_year: 1e9, ..law() };
        assert!(endless.stopped_share(2_500.0, 10.0) <= MOST_STOPPED);
        assert!(law().with(Improvements::none()).stopped_share(2_500.0, 10.0) <= 0.0);
    }
}
