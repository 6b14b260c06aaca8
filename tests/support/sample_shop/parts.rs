//! The store: parts, what is on order, and what each service takes.

use super::csv::{Table, fixed};

/// `parts.csv`.
pub(super) fn parts() -> String {
    fixed(
        "part,description,on_hand,unit,lead_time_days,price,reorder_point",
        &[
            &["service set HSK-E40", "seal ring, O-rings, lock screw", "0", "set", "35", "48.50", "1"],
            &["service set HSK-F63", "seal ring, O-rings, lock screw", "7", "set", "21", "62.00", "4"],
            &["service set HSK-A63", "seal ring, O-rings, lock screw", "1", "set", "28", "66.00", "3"],
            &["service set HSK-A100", "seal ring, O-rings, lock screw", "4", "set", "28", "94.00", "2"],
            &["service set 7/24 50", "seal ring, tab washer, lock nut", "3", "set", "21", "71.00", "2"],
            &["service set PSC 63", "seal ring, O-rings, lock screw", "3", "set", "28", "88.00", "2"],
            &["gripper HSK-E40", "gripper, 6 segments", "1", "piece", "49", "410.00", "0"],
            &["gripper HSK-F63", "gripper, 6 segments", "1", "piece", "42", "520.00", "1"],
            &["gripper HSK-A63", "gripper, 6 segments", "2", "piece", "42", "560.00", "1"],
            &["gripper HSK-A100", "gripper, 8 segments", "1", "piece", "56", "890.00", "0"],
            &["gripper 7/24 50", "gripper, 4 fingers", "1", "piece", "42", "480.00", "0"],
            &["gripper PSC 63", "gripper, segments with cone", "1", "piece", "56", "940.00", "0"],
            &["spring pack HSK-E40", "disc springs, paired and stacked", "0", "pack", "56", "260.00", "0"],
            &["spring pack HSK-F63", "disc springs, paired and stacked", "1", "pack", "42", "310.00", "1"],
            &["spring pack HSK-A63", "disc springs, paired and stacked", "1", "pack", "42", "330.00", "1"],
            &["spring pack HSK-A100", "disc springs, paired and stacked", "1", "pack", "63", "520.00", "0"],
            &["spring pack 7/24 50", "disc springs, paired and stacked", "1", "pack", "42", "290.00", "0"],
            &["spring pack PSC 63", "disc springs, paired and stacked", "1", "pack", "63", "540.00", "0"],
            &["gripper grease", "the grease the spindle builder names, \"small tin\"", "840", "g", "10", "0.42", "250"],
            &["solvent", "for resin and old grease", "12", "l", "5", "6.80", "4"],
        ],
    )
}

/// `deliveries.csv`.
pub(super) fn deliveries() -> String {
    fixed(
        "part,expected_on,quantity,note",
        &[
            &["service set HSK-A63", "2026-03-26", "4", "confirmed by phone, was due on 5 March"],
            &["service set HSK-E40", "2026-05-12", "3", ""],
            &["service set HSK-F63", "2026-04-20", "6", ""],
            &["gripper HSK-A63", "2026-05-04", "1", "for M-05"],
            &["spring pack HSK-A63", "2026-05-04", "1", "for M-05"],
            &["spring pack HSK-E40", "2026-06-22", "1", ""],
        ],
    )
}

/// Interface, grease of a minor service in g.
const INTERFACES: [(&str, u32); 6] =
    [("7/24 50", 18), ("HSK-A100", 18), ("HSK-A63", 12), ("HSK-E40", 8), ("HSK-F63", 12), ("PSC 63", 16)];

/// `kits.csv`.
pub(super) fn kits() -> String {
    let mut table = Table::new("interface,kind,part,quantity");
    for (interface, grease) in INTERFACES {
        let grease = grease.to_string();
        table.row(&[interface, "minor", &format!("service set {interface}"), "1"]);
        table.row(&[interface, "minor", "gripper grease", &grease]);
        table.row(&[interface, "major", &format!("service set {interface}"), "1"]);
        table.row(&[interface, "major", &format!("gripper {interface}"), "1"]);
        table.row(&[interface, "major", &format!("spring pack {interface}"), "1"]);
        table.row(&[interface, "major", "gripper grease", &grease]);
    }
    table.finish()
}

/// `service_kinds.csv`: planned minutes without the lockout.
pub(super) fn service_kinds() -> String {
    let mut table = Table::new("interface,kind,minutes,crew,gauge_quantity");
    for (interface, _) in INTERFACES {
        let (minor, major) = super::orders::minutes_of(interface);
        table.row(&[interface, "minor", &minor, "1", "clamp_force"]);
        table.row(&[interface, "major", &major, if interface == "HSK-A100" { "2" } else { "1" }, "clamp_force"]);
    }
    table.finish()
}
