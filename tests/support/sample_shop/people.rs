//! Who and with what: the shop's settings, its technicians and its gauges.

use super::csv::fixed;

/// `shop.csv`.
pub(super) fn shop() -> String {
    fixed(
        "key,value",
        &[
            &["name", "Ottermere Pattern & Joinery"],
            &["as_of", "2026-03-02"],
            &["accepted_risk", "0.10"],
            &["length_unit", "mm"],
            &["force_unit", "kN"],
            &["currency", "EUR"],
            &["booking_horizon_days", "60"],
            &["weekday_weights", "1;1;1;1;1;0;0"],
            &["day_begins", "00:00"],
            &["order_pattern", "YY-NNN"],
            &["labour_per_hour", "52"],
            &["lockout_min", "30"],
            &["visit_cost", "40"],
            &["move_cost_per_week", "40"],
            &["left_cost", "2000"],
        ],
    )
}

/// `crew.csv`: four invented technicians.
pub(super) fn crew() -> String {
    fixed(
        "technician,skills,shifts,hours_per_day,absent",
        &[
            &["Brook", "minor;major", "Mon-Fri 06:00-14:00; Sat 07:00-13:00", "6", "2026-04-20/2026-04-24"],
            &["Thorne", "minor;major", "Mon-Fri 06:00-14:00; Sat 07:00-13:00", "6", "2026-06-01/2026-06-12"],
            &["Marlow", "minor;major", "Mon-Fri 10:00-18:00; Sat 07:00-11:00", "5", "2026-03-23/2026-03-29"],
            &[
                "Aldous",
                "minor",
                "Mon-Thu 07:00-15:00; Sat 07:00-13:00",
                "5",
                "2026-05-18/2026-05-22;2026-07-06/2026-07-10",
            ],
        ],
    )
}

/// `gauges.csv`: three for force (one of them shows lbf), two for the setting dimension (one in inches).
pub(super) fn gauges() -> String {
    fixed(
        "gauge,quantity,range_max,unit,resolution,calibrated_on,calibration_due,certificate,services_per_day,out",
        &[
            &["G-01", "clamp_force", "60", "kN", "0.05", "2025-01-30", "2026-01-31", "OPJ-K-2025-004", "3", ""],
            &[
                "G-02",
                "clamp_force",
                "60",
                "kN",
                "0.05",
                "2025-04-28",
                "2026-04-30",
                "OPJ-K-2025-019",
                "3",
                "2026-04-27/2026-05-08",
            ],
            &["G-03", "clamp_force", "15000", "lbf", "10", "2025-06-16", "2026-06-30", "OPJ-K-2025-027", "2", ""],
            &["D-01", "setting_dimension", "150", "mm", "0.01", "2025-09-08", "2026-09-30", "OPJ-L-2025-011", "", ""],
            &["D-02", "setting_dimension", "6", "in", "0.0005", "2025-09-08", "2026-09-30", "OPJ-L-2025-012", "", ""],
        ],
    )
}
