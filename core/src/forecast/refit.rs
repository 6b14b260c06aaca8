//! When what a shop taught has to be learnt anew.

use super::fits::{LEAST_SPINDLES, ShopFits};
use crate::ids::{Row, SpindleId};
use crate::interface::Interface;
use crate::shop::Shop;
use chrono::{Months, NaiveDate};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// A tenth more or fewer readings teach something else: from experience, to be confirmed.
const CHANGED_TENTHS: usize = 1;
/// A fit serves so long: from experience, to be confirmed.
const MONTHS: Months = Months::new(1);

/// Why a shop is fitted anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RefitReason {
    /// A tenth more readings are known, or a tenth fewer.
    Readings {
        /// How many the fit rests on.
        then: usize,
        /// How many are known now.
        now: usize,
    },
    /// A month passed since that day.
    MonthPassed(NaiveDate),
    /// So many spindles of an interface were measured that it can be told from the others.
    InterfaceAppeared(Interface),
    /// Spindles have another interface, another nominal force or another setting dimension.
    Registers,
}

impl fmt::Display for RefitReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Readings { then, now } => write!(f, "it rests on {then} readings, and {now} are known"),
            Self::MonthPassed(day) => write!(f, "a month passed since {day}"),
            Self::InterfaceAppeared(interface) => write!(f, "{interface} has enough spindles now to be told apart"),
            Self::Registers => f.write_str("interfaces or nominal forces of spindles were changed"),
        }
    }
}

/// Which spindles were taken together, and what their readings were set in relation to.
///
/// Service and stop limits are no part of it: no fit depends on them. Neither are spindles that
/// came later: they count once they teach something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Grouping {
    /// Row of the last spindle that is covered.
    last: i64,
    /// Of the interfaces, nominal forces and setting dimensions of all up to it.
    digest: u64,
}

impl Default for Grouping {
    /// That of no spindles.
    fn default() -> Self {
        Self { last: 0, digest: Digest::new().0 }
    }
}

impl Grouping {
    /// That of all spindles of a shop.
    #[must_use]
    pub fn of(shop: &Shop) -> Self {
        Self::up_to(shop, shop.spindles.keys().next_back().map_or(0, |id| id.row()))
    }

    fn up_to(shop: &Shop, last: i64) -> Self {
        let mut digest = Digest::new();
        for (id, spindle) in shop.spindles.range(..=SpindleId::from_row(last)) {
            digest.take(&id.row().to_le_bytes());
            let limits = shop.limits_of(spindle);
            digest.take(&limits.nominal_force.value.get().to_bits().to_le_bytes());
            let setting = limits.setting().map_or([0.0; 2], |(aim, tolerance)| [aim.get(), tolerance.get()]);
            for length in setting {
                digest.take(&length.to_bits().to_le_bytes());
            }
            digest.take(spindle.interface.as_str().to_uppercase().as_bytes());
            digest.take(&[0]);
        }
        Self { last, digest: digest.0 }
    }

    /// Whether the same spindles still belong together.
    #[must_use]
    pub fn still_holds(self, shop: &Shop) -> bool {
        Self::up_to(shop, self.last) == self
    }
}

/// FNV-1a with 64 bits (Fowler, Noll, Vo; RFC 9923): the same on every machine and in every version.
struct Digest(u64);

impl Digest {
    const fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn take(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
}

/// Whether a fit no longer does for a shop as known on a day ([`Shop::known_on`]), and why: the
/// number of readings changed by a tenth, a month passed, an interface has enough measured spindles
/// for the first time, or the registers group the spindles in another way.
#[must_use]
pub fn needs_refit(fits: &ShopFits, known: &Shop, as_of: NaiveDate) -> Option<RefitReason> {
    if !fits.grouping.still_holds(known) {
        return Some(RefitReason::Registers);
    }
    let (then, now) = (fits.readings, known.readings.len());
    if now != then && 10 * now.abs_diff(then) >= CHANGED_TENTHS * then {
        return Some(RefitReason::Readings { then, now });
    }
    if let Some(interface) = appeared(fits, known) {
        return Some(RefitReason::InterfaceAppeared(interface));
    }
    let until = fits.fitted_on.checked_add_months(MONTHS)?;
    (until <= as_of).then_some(RefitReason::MonthPassed(fits.fitted_on))
}

/// The first interface with enough measured spindles that has no fit of its own.
fn appeared(fits: &ShopFits, known: &Shop) -> Option<Interface> {
    let mut measured: BTreeMap<&Interface, usize> = BTreeMap::new();
    for (id, spindle) in known.spindles.iter() {
        if !fits.interfaces.contains_key(&spindle.interface) && is_measured(known, *id) {
            *measured.entry(&spindle.interface).or_default() += 1;
        }
    }
    measured.into_iter().find(|(_, spindles)| *spindles >= LEAST_SPINDLES).map(|(interface, _)| interface.clone())
}

fn is_measured(known: &Shop, id: SpindleId) -> bool {
    let is_force = |row: &Row<_, crate::reading::Reading>| row.quantity() == crate::units::Quantity::ClampForce;
    known.readings_of(id).iter().any(is_force)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_is_the_published_one() {
        // a test vector of RFC 9923: FNV-1a, 64 bits, of "foobar"
        let mut digest = Digest::new();
        digest.take(b"foobar");
        assert_eq!(digest.0, 0x8594_4171_f739_67e8);
    }
}
