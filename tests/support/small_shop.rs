//! A shop of two machines and three spindles, and files to be imported into it.

use almanac_core::forecast::NoProgress;
use almanac_core::import::{ImportOutcome, Source, import};
use almanac_core::shop::Shop;
use chrono::NaiveDate;

/// Its machines.
pub const MACHINES: &str = "machine,hall,spindle_positions\nR-04,Router hall,1\nR-07,Router hall,2\n";
/// Its spindles.
pub const SPINDLES: &str = "spindle,interface,nominal_force_kn,installed_on\n\
                        S-0117,HSK-A63,18,\nS-0118,HSK-A63,18,2024-05-01\nS-0119,7/24 40,10,\n";
/// A header of readings.
pub const READINGS: &str = "spindle,date,phase,quantity,unit,stroke_1,stroke_2,run_hours,doubt\n";
/// A header of mountings.
pub const MOUNTINGS: &str = "spindle,machine,position,mounted_on,removed_on\n";
/// A header of meters.
pub const METERS: &str = "spindle,machine,position,date,run_hours,clamp_cycles,meter_replaced\n";

/// Its present.
#[must_use]
pub fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap_or_default()
}

/// What an import of these files into a shop finds.
#[must_use]
pub fn run(files: &[(&str, &[u8])], shop: &Shop) -> ImportOutcome {
    let sources: Vec<Source> = files.iter().map(|(name, bytes)| Source::from_bytes(name, *bytes)).collect();
    import(&sources, shop, today(), &NoProgress).unwrap_or_default()
}

/// The shop.
#[must_use]
pub fn shop() -> Shop {
    let outcome =
        run(&[("machines.csv", MACHINES.as_bytes()), ("spindles.csv", SPINDLES.as_bytes())], &Shop::default());
    assert_eq!(outcome.report.refused, []);
    outcome.batch.apply_to(&Shop::default())
}
