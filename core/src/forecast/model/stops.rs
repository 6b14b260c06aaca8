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

/// What stops may do to one segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stops {
    /// How likely there is none.
    pub(super) none: f64,
    /// Short ones and long ones: how likely, and the share of the working days that is left.
    pub(super) kinds: [(f64, f64); 2],
}

impl Stops {
    /// How many are expected in a segment.
    pub(super) fn expected(segment: &Segment, par: &UsageParameters) -> f64 {
        if par.has_stops() { par.stops_per_year * segment.years() } else { 0.0 }
    }

    /// Where there is any with this chance: that of one event or more of a Poisson process, of which
    /// [`Stops::expected`] are expected.
    pub(super) fn of(segment: &Segment, par: &UsageParameters, any: f64) -> Self {
        let kinds = LOST
            .map(|(lost, weight)| (any * weight, (1.0 - lost * par.stop_days / segment.work.max(1.0)).max(LEAST_RUN)));
        Self { none: 1.0 - any, kinds }
    }

    /// Share of the working days that is lost in the mean.
    pub(super) fn lost(&self) -> f64 {
        self.kinds.iter().map(|(chance, runs)| chance * (1.0 - runs)).sum()
    }
}

impl Segment {
    fn years(&self) -> f64 {
        (self.to - self.from) / DAYS_PER_YEAR
    }
}

#[cfg(test)]
mod tests {
    use super::super::improvements::Improvements;
    use super::*;

    fn law() -> UsageParameters {
        UsageParameters { stops_per_year: 0.5, stop_days: 10.0, ..UsageParameters::weak().with(Improvements::all()) }
    }

    fn stops(segment: &Segment, par: &UsageParameters) -> Stops {
        Stops::of(segment, par, 1.0 - (-Stops::expected(segment, par)).exp())
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
            let stops = stops(&segment, &law());
            let sum = stops.none + stops.kinds.iter().map(|(chance, _)| chance).sum::<f64>();
            assert!((sum - 1.0).abs() < 1e-12);
            assert!((stops.none - (-0.5 * days / 365.0).exp()).abs() < 1e-12);
            assert!(stops.kinds.iter().all(|(_, runs)| (LEAST_RUN..1.0).contains(runs)), "{stops:?}");
        }
    }

    #[test]
    fn what_is_lost_in_the_mean() {
        // ten of 50 working days in a stop, of which there are 0.1 in a segment
        let segment = Segment { from: 0.0, to: 73.0, work: 50.0, level: 8.0 };
        let lost = stops(&segment, &law()).lost();
        assert!((lost - (1.0 - (-0.1_f64).exp()) * 0.2).abs() < 1e-12, "{lost}");
        // a segment loses its own days at most
        let endless = UsageParameters { stops_per_year: 1e9, stop_days: 1e9, ..law() };
        assert!((stops(&segment, &endless).lost() - (1.0 - LEAST_RUN)).abs() < 1e-12);
        let none = stops(&segment, &law().with(Improvements::none()));
        assert_eq!((none.lost().to_bits(), none.none.to_bits()), (0.0_f64.to_bits(), 1.0_f64.to_bits()));
    }
}
