//! Quantities with their units as types, and the units a gauge may show.
//!
//! A figure cannot be NaN or infinite, so that ordering and sums are safe; the bare number is
//! only taken out (`get`) for arithmetic of the forecast, for drawing and for storing.

use std::fmt;

/// Declares a quantity: a finite `f64` with a unit.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            /// The unit's symbol as printed.
            pub const SYMBOL: &'static str = $symbol;
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            /// The quantity of that number; `None` for NaN and infinities.
            #[must_use]
            pub fn new(value: f64) -> Option<Self> {
                // adding zero turns -0.0 into 0.0, which no screen should show
                value.is_finite().then_some(Self(value + 0.0))
            }

            /// The bare number in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }

            /// The larger of two.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// The smaller of two.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// Total order; quantities are never NaN.
            #[must_use]
            pub fn total_cmp(&self, other: &Self) -> std::cmp::Ordering {
                self.0.total_cmp(&other.0)
            }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self((self.0 + other.0).clamp(f64::MIN, f64::MAX))
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self((self.0 - other.0).clamp(f64::MIN, f64::MAX))
            }
        }

        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                iter.fold(Self::ZERO, |total, item| total + item)
            }
        }

        impl fmt::Display for $name {
            /// The number as short as it can be without loss, a space, the unit.
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match f.precision() {
                    Some(decimals) => write!(f, "{:.*} {}", decimals, self.0, $symbol),
                    None => write!(f, "{} {}", self.0, $symbol),
                }
            }
        }
    };
}

quantity!(
    /// A clamp force in kilonewtons.
    Kilonewtons,
    "kN"
);
quantity!(
    /// A length, above all the setting dimension, in millimetres.
    Millimetres,
    "mm"
);
quantity!(
    /// Spindle run hours.
    RunHours,
    "h"
);
quantity!(
    /// Tool changes: one unclamp and clamp each.
    ClampCycles,
    "cycles"
);
quantity!(
    /// A share in percent; of nominal clamp force where nothing else is said.
    Percent,
    "%"
);
quantity!(
    /// An amount in the shop's currency.
    Money,
    ""
);
quantity!(
    /// Working time in minutes.
    Minutes,
    "min"
);

impl Kilonewtons {
    /// This force in percent of the spindle's nominal force (which is above zero).
    #[must_use]
    pub fn percent_of(self, nominal: Self) -> Percent {
        Percent((self.0 / nominal.0 * 100.0).clamp(f64::MIN, f64::MAX))
    }

    /// This share of a nominal force.
    #[must_use]
    pub fn from_percent(share: Percent, nominal: Self) -> Self {
        Self((nominal.0 * share.0 / 100.0).clamp(f64::MIN, f64::MAX))
    }
}

/// Newtons in one pound-force: 0.45359237 kg x 9.80665 m/s2, exact by the 1959 international
/// pound and standard gravity (NIST SP 811).
pub const NEWTONS_PER_POUND_FORCE: f64 = 4.448_221_615_260_5;
/// Millimetres in one inch, exact (1959 international yard; NIST SP 811).
pub const MILLIMETRES_PER_INCH: f64 = 25.4;

/// What a gauge measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// The force with which the tool is pulled into the taper.
    ClampForce,
    /// How far the clamping unit stands from the gauge face when unclamped.
    SettingDimension,
}

impl Quantity {
    /// Both, in the order of the files.
    pub const ALL: [Self; 2] = [Self::ClampForce, Self::SettingDimension];

    /// The word of the files: `clamp_force`, `setting_dimension`.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::ClampForce => "clamp_force",
            Self::SettingDimension => "setting_dimension",
        }
    }

    /// The words on the screen.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ClampForce => "clamp force",
            Self::SettingDimension => "setting dimension",
        }
    }

    /// The quantity of that word of the files; case and `_` or space do not matter.
    #[must_use]
    pub fn from_key(text: &str) -> Option<Self> {
        let text = text.trim().to_ascii_lowercase().replace(' ', "_");
        Self::ALL.into_iter().find(|quantity| quantity.key() == text)
    }
}

/// A unit in which a reading may be typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Kilonewton.
    Kilonewton,
    /// Pound-force.
    PoundForce,
    /// Newton.
    Newton,
    /// Millimetre.
    Millimetre,
    /// Inch.
    Inch,
}

impl Unit {
    /// All units, as the files list them.
    pub const ALL: [Self; 5] = [Self::Kilonewton, Self::PoundForce, Self::Newton, Self::Millimetre, Self::Inch];

    /// The symbol of the files and of the screen.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Kilonewton => "kN",
            Self::PoundForce => "lbf",
            Self::Newton => "N",
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    /// The unit of that symbol; case does not matter.
    #[must_use]
    pub fn from_symbol(text: &str) -> Option<Self> {
        let text = text.trim();
        Self::ALL.into_iter().find(|unit| unit.symbol().eq_ignore_ascii_case(text))
    }

    /// What is measured in this unit.
    #[must_use]
    pub const fn quantity(self) -> Quantity {
        match self {
            Self::Kilonewton | Self::PoundForce | Self::Newton => Quantity::ClampForce,
            Self::Millimetre | Self::Inch => Quantity::SettingDimension,
        }
    }

    /// A figure typed in this unit, in the stored unit of its quantity (kN or mm).
    ///
    /// The exact relations of NIST SP 811.
    #[must_use]
    pub fn to_base(self, typed: f64) -> f64 {
        match self {
            Self::Kilonewton | Self::Millimetre => typed,
            Self::PoundForce => typed * NEWTONS_PER_POUND_FORCE / 1000.0,
            Self::Newton => typed / 1000.0,
            Self::Inch => typed * MILLIMETRES_PER_INCH,
        }
    }

    /// A figure in kN or mm, in this unit: the inverse of [`Unit::to_base`].
    #[must_use]
    pub fn from_base(self, base: f64) -> f64 {
        match self {
            Self::Kilonewton | Self::Millimetre => base,
            Self::PoundForce => base * 1000.0 / NEWTONS_PER_POUND_FORCE,
            Self::Newton => base * 1000.0,
            Self::Inch => base / MILLIMETRES_PER_INCH,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
