//! The stretches between services laid over one another, and whether one stands out.

use super::clock::{Axis, Clock};
use super::dates::day_number;
use almanac_core::forecast::IntervalFit;
use almanac_core::units::Kilonewtons;
use chrono::NaiveDate;

/// One stretch from zero on.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Its first day.
    pub from: NaiveDate,
    /// Its last day; `None`: it still runs.
    pub to: Option<NaiveDate>,
    /// Exposure since its start, and force in percent of nominal.
    pub points: Vec<(f64, f64)>,
}

/// The stretches that have a line, oldest first. Over dates and without a meter they run over days.
#[must_use]
pub fn stretches(intervals: &[IntervalFit], nominal: Kilonewtons, clock: &Clock, axis: Axis) -> Vec<Stretch> {
    intervals
        .iter()
        .filter_map(|interval| {
            let zero = clock.at(axis, day_number(interval.from))?;
            let points: Vec<(f64, f64)> = interval
                .line
                .iter()
                .filter_map(|point| {
                    let x = clock.at(axis, day_number(point.day))? - zero;
                    Some((x.max(0.0), point.force.percent_of(nominal).get()))
                })
                .collect();
            (points.len() > 1).then_some(Stretch { from: interval.from, to: interval.to, points })
        })
        .collect()
}

/// A stretch that lost force clearly faster or slower than the others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outlier {
    /// Its place among the intervals.
    pub index: usize,
    /// Faster, or slower.
    pub is_faster: bool,
}

/// The stretch that stands out most: further than two standard uncertainties and a fifth from the
/// middle of the others. Needs three others, or nothing can be said.
#[must_use]
pub fn stands_out(intervals: &[IntervalFit]) -> Option<Outlier> {
    let rates: Vec<(usize, f64, f64)> = intervals
        .iter()
        .enumerate()
        .filter_map(|(index, interval)| interval.loss_per_1000_h.map(|loss| (index, loss.mean.get(), loss.sd.get())))
        .collect();
    if rates.len() < 4 {
        return None;
    }
    let mut worst: Option<(f64, Outlier)> = None;
    for (index, rate, sd) in &rates {
        let mut others: Vec<f64> = rates.iter().filter(|other| other.0 != *index).map(|other| other.1).collect();
        others.sort_by(f64::total_cmp);
        let middle = others.get(others.len() / 2).copied().unwrap_or_default();
        let spread = others.iter().map(|other| (other - middle).abs()).sum::<f64>() / others.len() as f64;
        let off = rate - middle;
        // 1.25 turns a mean distance into a standard deviation (normal law)
        let scale = (sd.powi(2) + (1.25 * spread).powi(2)).sqrt().max(1e-9);
        let is_clear = off.abs() > 2.0 * scale && off.abs() > 0.2 * middle.abs();
        let distance = off.abs() / scale;
        if is_clear && worst.is_none_or(|(most, _)| distance > most) {
            worst = Some((distance, Outlier { index: *index, is_faster: off > 0.0 }));
        }
    }
    worst.map(|(_, outlier)| outlier)
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::forecast::Estimate;
    use almanac_core::units::Percent;

    fn interval(rate: f64, sd: f64) -> IntervalFit {
        let percent = |value| Percent::new(value).unwrap();
        IntervalFit {
            from: NaiveDate::from_ymd_opt(2024, 8, 3).unwrap(),
            to: None,
            run_hours: None,
            clamp_cycles: None,
            readings: 5,
            loss_per_1000_h: Some(Estimate { mean: percent(rate), sd: percent(sd) }),
            line: Vec::new(),
        }
    }

    #[test]
    fn a_fast_stretch_stands_out() {
        let rates = [5.0, 4.8, 5.1, 7.9, 5.2].map(|rate| interval(rate, 0.4));
        assert_eq!(stands_out(&rates), Some(Outlier { index: 3, is_faster: true }));
    }

    #[test]
    fn ordinary_or_few_stretches_do_not() {
        let ordinary = [5.0, 4.8, 5.1, 5.6, 5.2].map(|rate| interval(rate, 0.4));
        assert_eq!(stands_out(&ordinary), None);
        let few = [5.0, 9.0, 5.1].map(|rate| interval(rate, 0.1));
        assert_eq!(stands_out(&few), None);
        let unsure = [5.0, 4.8, 5.1, 7.9, 5.2].map(|rate| interval(rate, 2.0));
        assert_eq!(stands_out(&unsure), None);
    }
}
