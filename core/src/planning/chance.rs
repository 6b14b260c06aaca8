//! Repeatable chance in whole numbers: the same seed gives the same stream on every machine.

/// One step of splitmix64: scatters a number over all 64 bits.
#[must_use]
pub(crate) const fn scatter(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A stream of random whole numbers (splitmix64).
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    /// Starts the stream of a seed.
    pub(crate) const fn new(seed: u64) -> Self {
        Self(scatter(seed))
    }

    const fn bits(&mut self) -> u64 {
        let bits = scatter(self.0);
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        bits
    }

    /// Evenly from 0 to `below` - 1; 0 where `below` is 0.
    pub(crate) const fn below(&mut self, below: usize) -> usize {
        (((self.bits() >> 32) * below as u64) >> 32) as usize
    }

    /// True once in so many times.
    pub(crate) const fn one_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    /// Exponentially distributed with mean 1, in 1/1024: minus the logarithm of an even number, the
    /// logarithm straight between powers of two.
    pub(crate) const fn exponential(&mut self) -> i64 {
        let even = (self.bits() >> 32) | 1;
        let whole = 63 - even.leading_zeros() as i64;
        let between = ((even << 10) >> whole) as i64 - 1024;
        // 710/1024 is the natural logarithm of 2
        (((32 - whole) * 1024 - between) * 710) >> 10
    }

    /// Puts a list in random order.
    pub(crate) fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            let other = self.below(last + 1);
            list.swap(last, other);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exponential_numbers_have_mean_and_spread_of_one() {
        let mut chance = Chance::new(7);
        let drawn: Vec<f64> = (0..40_000).map(|_| chance.exponential() as f64 / 1024.0).collect();
        let mean = drawn.iter().sum::<f64>() / drawn.len() as f64;
        let spread = drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / drawn.len() as f64;
        assert!((mean - 1.0).abs() < 0.05, "{mean}");
        assert!((spread - 1.0).abs() < 0.1, "{spread}");
        assert!(drawn.iter().all(|x| *x >= 0.0));
    }

    #[test]
    fn every_number_below_comes_up_evenly() {
        let mut chance = Chance::new(1);
        let mut seen = [0_usize; 6];
        for _ in 0..60_000 {
            seen[chance.below(6)] += 1;
        }
        assert!(seen.iter().all(|n| n.abs_diff(10_000) < 500), "{seen:?}");
    }
}
