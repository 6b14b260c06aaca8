//! The invented shop that comes with the program: the files of `sample-shop/`, part of the program
//! itself, so that it can be tried wherever the program runs.

use almanac_core::import::Source;

/// Name and content of each file.
const FILES: [(&str, &[u8]); 17] = [
    ("closures.csv", include_bytes!("../../../sample-shop/closures.csv")),
    ("crew.csv", include_bytes!("../../../sample-shop/crew.csv")),
    ("deliveries.csv", include_bytes!("../../../sample-shop/deliveries.csv")),
    ("downtime.csv", include_bytes!("../../../sample-shop/downtime.csv")),
    ("gauges.csv", include_bytes!("../../../sample-shop/gauges.csv")),
    ("kits.csv", include_bytes!("../../../sample-shop/kits.csv")),
    ("limits.csv", include_bytes!("../../../sample-shop/limits.csv")),
    ("machines.csv", include_bytes!("../../../sample-shop/machines.csv")),
    ("meters.csv", include_bytes!("../../../sample-shop/meters.csv")),
    ("mountings.csv", include_bytes!("../../../sample-shop/mountings.csv")),
    ("orders.csv", include_bytes!("../../../sample-shop/orders.csv")),
    ("parts.csv", include_bytes!("../../../sample-shop/parts.csv")),
    ("readings.csv", include_bytes!("../../../sample-shop/readings.csv")),
    ("service_kinds.csv", include_bytes!("../../../sample-shop/service_kinds.csv")),
    ("services.csv", include_bytes!("../../../sample-shop/services.csv")),
    ("shop.csv", include_bytes!("../../../sample-shop/shop.csv")),
    ("spindles.csv", include_bytes!("../../../sample-shop/spindles.csv")),
];

/// The files as sources of an import.
pub(super) fn sources() -> Vec<Source> {
    FILES.iter().map(|(name, content)| Source::from_bytes(name, *content)).collect()
}
