//! The registers, one file for each noun or pair of nouns.

pub mod closures;
pub mod crew;
pub mod gauges;
pub mod kits;
pub mod limits;
pub mod machines;
pub mod mountings;
pub mod orders;
pub mod parts;
pub mod settings;
pub mod spindles;

use super::register::Register;

/// Which register.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum RegisterKind {
    /// Halls and machines.
    #[default]
    Machines,
    /// Spindles.
    Spindles,
    /// Mountings.
    Mountings,
    /// Limits per interface.
    Limits,
    /// How each interface drifts, as learnt.
    Drift,
    /// Gauges.
    Gauges,
    /// Crew.
    Crew,
    /// Parts.
    Parts,
    /// Deliveries.
    Deliveries,
    /// Kits.
    Kits,
    /// Service times.
    ServiceKinds,
    /// Closures.
    Closures,
    /// Downtime windows.
    Windows,
    /// Work orders.
    Orders,
    /// Meter readings.
    Meters,
    /// Settings.
    Settings,
    /// The journal.
    Journal,
}

impl RegisterKind {
    /// In groups, as the list at the left shows them.
    pub const GROUPS: [&'static [Self]; 5] = [
        &[Self::Machines, Self::Spindles, Self::Mountings, Self::Limits, Self::Drift],
        &[Self::Meters, Self::Gauges, Self::Crew],
        &[Self::Parts, Self::Deliveries, Self::Kits, Self::ServiceKinds],
        &[Self::Closures, Self::Windows, Self::Orders],
        &[Self::Settings, Self::Journal],
    ];

    /// The register; `None` for what was learnt and the journal, which nobody edits, and for meter
    /// readings, which are corrected as records.
    #[must_use]
    pub fn register(self) -> Option<&'static dyn Register> {
        Some(match self {
            Self::Machines => &machines::Machines,
            Self::Spindles => &spindles::Spindles,
            Self::Mountings => &mountings::Mountings,
            Self::Limits => &limits::ShopLimits,
            Self::Gauges => &gauges::Gauges,
            Self::Crew => &crew::Crew,
            Self::Parts => &parts::Parts,
            Self::Deliveries => &parts::Deliveries,
            Self::Kits => &kits::Kits,
            Self::ServiceKinds => &kits::ServiceKinds,
            Self::Closures => &closures::Closures,
            Self::Windows => &closures::Windows,
            Self::Orders => &orders::Orders,
            Self::Settings => &settings::Settings,
            Self::Drift | Self::Meters | Self::Journal => return None,
        })
    }

    /// The kind before or after it in the list; itself at the ends.
    #[must_use]
    pub fn beside(self, after: bool) -> Self {
        let all: Vec<Self> = Self::GROUPS.into_iter().flatten().copied().collect();
        let here = all.iter().position(|kind| *kind == self).unwrap_or(0);
        let to = if after { here + 1 } else { here.saturating_sub(1) };
        all.get(to).copied().unwrap_or(self)
    }

    /// Its word in the list at the left.
    #[must_use]
    pub fn word(self) -> &'static str {
        let without = match self {
            Self::Drift => "drift by interface",
            Self::Meters => "meter readings",
            _ => "journal",
        };
        self.register().map_or(without, |register| register.word())
    }
}
