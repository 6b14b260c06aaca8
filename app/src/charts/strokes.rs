//! How far the single strokes of force readings lie apart.

use super::dates::moment_number;
use almanac_core::ids::{ReadingId, Row};
use almanac_core::reading::Reading;
use almanac_core::units::{Kilonewtons, Quantity};
use std::collections::BTreeMap;

/// The strokes of one reading about their mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Which.
    pub id: ReadingId,
    /// Day as a number.
    pub day: f64,
    /// Each stroke minus the mean, in percent of nominal.
    pub about_mean: Vec<f64>,
    /// The gauge, where it was named.
    pub gauge: Option<String>,
}

impl Spread {
    /// Sum of squares and degrees of freedom.
    fn squares(&self) -> (f64, usize) {
        (self.about_mean.iter().map(|off| off.powi(2)).sum(), self.about_mean.len().saturating_sub(1))
    }

    /// From the lowest to the highest stroke.
    #[must_use]
    pub fn range(&self) -> f64 {
        let (low, high) =
            self.about_mean.iter().fold((0.0_f64, 0.0_f64), |(low, high), off| (low.min(*off), high.max(*off)));
        high - low
    }
}

/// The spreads of all force readings with several strokes that count, oldest first.
#[must_use]
pub fn spreads(readings: &[Row<ReadingId, Reading>], nominal: Kilonewtons) -> Vec<Spread> {
    let nominal = nominal.get().max(1e-9);
    readings
        .iter()
        .filter(|row| row.quantity() == Quantity::ClampForce && row.strokes.len() > 1)
        .map(|row| {
            let mean = row.mean_base();
            let about_mean = row.strokes.iter().map(|stroke| (stroke.base - mean) / nominal * 100.0).collect();
            Spread { id: row.id, day: moment_number(row.at), about_mean, gauge: row.gauge.clone() }
        })
        .collect()
}

/// The standard deviation of a single stroke, pooled over readings, in percent of nominal.
#[must_use]
pub fn pooled<'s>(spreads: impl Iterator<Item = &'s Spread>) -> Option<f64> {
    let (squares, freedom) = spreads
        .map(Spread::squares)
        .fold((0.0, 0), |(sum, count), (squares, freedom)| (sum + squares, count + freedom));
    (freedom > 0).then(|| (squares / freedom as f64).sqrt())
}

/// The same by gauge, with how many readings stand behind it; unnamed gauges last under an empty name.
#[must_use]
pub fn by_gauge(spreads: &[Spread]) -> Vec<(String, usize, f64)> {
    let mut groups: BTreeMap<(bool, String), Vec<&Spread>> = BTreeMap::new();
    for spread in spreads {
        let name = spread.gauge.clone().unwrap_or_default();
        groups.entry((name.is_empty(), name)).or_default().push(spread);
    }
    groups.into_iter().filter_map(|((_, name), group)| Some((name, group.len(), pooled(group.into_iter())?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(gauge: &str, about_mean: &[f64]) -> Spread {
        Spread { id: ReadingId::from_row(1), day: 0.0, about_mean: about_mean.to_vec(), gauge: Some(gauge.to_owned()) }
    }

    #[test]
    fn strokes_are_pooled_by_their_degrees_of_freedom() {
        let spreads = [spread("G-02", &[-0.1, 0.1]), spread("G-01", &[-0.3, 0.0, 0.3]), spread("G-02", &[-0.2, 0.2])];
        // squares 0.02 + 0.08 on two degrees of freedom
        let expected = (0.10_f64 / 2.0).sqrt();
        let groups = by_gauge(&spreads);
        assert_eq!(groups.iter().map(|group| group.0.as_str()).collect::<Vec<_>>(), ["G-01", "G-02"]);
        assert!((groups[1].2 - expected).abs() < 1e-12 && groups[1].1 == 2);
        assert!((groups[0].2 - 0.3).abs() < 1e-12);
        assert!((spreads[1].range() - 0.6).abs() < 1e-12);
        assert_eq!(pooled(std::iter::empty()), None);
    }
}
