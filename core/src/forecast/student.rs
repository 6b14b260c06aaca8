//! Student's t: quantiles looked up once per degree of freedom, chances computed.

use super::QUANTILES;
use statrs::distribution::{ContinuousCDF as _, Normal, StudentsT};

/// With more degrees of freedom it is taken as with so many.
pub(super) const MOST_FREEDOM: usize = 60;

/// The quantiles of one degree of freedom that a forecast needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Quantiles {
    /// At [`QUANTILES`].
    pub(super) shares: [f64; 7],
    /// At the accepted risk.
    pub(super) risk: f64,
}

/// Quantiles of all degrees of freedom, for one accepted risk.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct StudentTable {
    by_freedom: Vec<Quantiles>,
    /// Standard normal quantile of one less the accepted risk.
    pub(super) normal_safe: f64,
}

impl StudentTable {
    pub(super) fn new(risk: f64) -> Self {
        let by_freedom = (1..=MOST_FREEDOM)
            .map(|freedom| Quantiles {
                shares: QUANTILES.map(|share| quantile(freedom, share)),
                risk: quantile(freedom, risk),
            })
            .collect();
        let normal_safe = Normal::new(0.0, 1.0).map_or(0.0, |normal| normal.inverse_cdf(1.0 - risk));
        Self { by_freedom, normal_safe }
    }

    pub(super) fn of(&self, freedom: usize) -> Quantiles {
        let index = freedom.clamp(1, MOST_FREEDOM) - 1;
        self.by_freedom.get(index).copied().unwrap_or(Quantiles { shares: [0.0; 7], risk: 0.0 })
    }
}

fn distribution(freedom: usize) -> Option<StudentsT> {
    StudentsT::new(0.0, 1.0, freedom.clamp(1, MOST_FREEDOM) as f64).ok()
}

/// The value below which that share lies.
fn quantile(freedom: usize, share: f64) -> f64 {
    // near the middle the library's inverse loses digits; the middle itself is exact by symmetry
    if (share - 0.5).abs() < 1e-12 {
        return 0.0;
    }
    distribution(freedom).map_or(0.0, |t| t.inverse_cdf(share))
}

/// The share that lies below a value.
pub(super) fn share_below(freedom: usize, value: f64) -> f64 {
    if value.is_nan() {
        return 0.5;
    }
    distribution(freedom).map_or(0.5, |t| t.cdf(value.clamp(-1e6, 1e6)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_the_printed_tables() {
        // NIST/SEMATECH e-Handbook 1.3.6.7.2, critical values of Student's t: 0.90 and 0.95
        for (freedom, ninety, ninety_five) in
            [(1, 3.078, 6.314), (5, 1.476, 2.015), (10, 1.372, 1.812), (60, 1.296, 1.671)]
        {
            let found = StudentTable::new(0.10).of(freedom);
            assert!((found.shares[5] - ninety).abs() < 6e-4, "{found:?}");
            assert!((found.shares[6] - ninety_five).abs() < 6e-4, "{found:?}");
            assert!((found.risk + ninety).abs() < 6e-4, "{found:?}");
            assert!((share_below(freedom, found.shares[5]) - 0.9).abs() < 1e-6);
        }
    }
}
