//! Plain loops over several figures at once, by fours where the processor can.

use fearless_simd::{Level, dispatch};
use std::sync::OnceLock;

/// Works something out with the widest registers that the processor at hand has.
///
/// The loops in it are the same ones whatever the registers: no two operations are joined into one with another
/// rounding, so the figures are the same to the last digit. It serves only what is inlined into `work`.
#[inline(always)]
pub(super) fn wide<R>(work: impl FnOnce() -> R) -> R {
    static LEVEL: OnceLock<Level> = OnceLock::new();
    dispatch!(*LEVEL.get_or_init(Level::new), _simd => work())
}
