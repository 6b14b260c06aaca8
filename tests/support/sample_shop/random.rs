//! Repeatable chance: splitmix64, seeded by a label, so that a change to one spindle's story leaves every other row as it was.

/// A stream of random numbers; the same label gives the same stream on every machine.
pub(super) struct Random(u64);

impl Random {
    /// Starts the stream of a label (FNV-1a of its bytes).
    pub(super) fn new(label: &str) -> Self {
        let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
        for byte in label.bytes() {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
        Self(hash)
    }

    /// The next 64 bits (splitmix64).
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly between 0 and 1, 1 excluded.
    pub(super) fn unit(&mut self) -> f64 {
        // 32 bits are plenty and convert without rounding.
        f64::from((self.bits() >> 32) as u32) / 4_294_967_296.0
    }

    /// Evenly between two values.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number between two, both included.
    pub(super) fn whole(&mut self, low: i32, high: i32) -> i32 {
        let span = f64::from(high - low + 1);
        low + (self.unit() * span) as i32
    }

    /// True with this chance.
    pub(super) fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// Bell-shaped, mean 0, sd 1: twelve even numbers summed, so that no library's last digit matters.
    pub(super) fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }

    /// One of several texts.
    pub(super) fn pick(&mut self, from: &[&'static str]) -> &'static str {
        let last = from.len().saturating_sub(1) as i32;
        from[self.whole(0, last) as usize]
    }
}
