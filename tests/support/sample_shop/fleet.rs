//! The machines and spindles of the invented shop, each with the figures from which its history is made.

use super::csv::{Table, fixed};
use super::day::{AS_OF, Day, START, day};

/// One machine: where it stands, what a stop costs and how it is used.
pub(super) struct Machine {
    pub(super) name: &'static str,
    pub(super) hall: &'static str,
    pub(super) what: &'static str,
    pub(super) line: &'static str,
    /// EUR per hour.
    pub(super) stop_cost: u32,
    pub(super) positions: usize,
    /// First day on which it ran (or the first day of the records).
    pub(super) since: Day,
    /// Run hours on an ordinary working day of today.
    pub(super) hours: f64,
    /// Clamp cycles per run hour, by position.
    pub(super) cycles: &'static [f64],
    /// What the hour meter shows on the last day.
    pub(super) meter: f64,
    /// Earlier usage: until that day, so many times today's hours.
    pub(super) earlier: &'static [(Day, f64)],
}

const fn m(
    name: &'static str,
    what: &'static str,
    stop_cost: u32,
    hours: f64,
    cycles: &'static [f64],
    meter: f64,
) -> Machine {
    let hall = match name.as_bytes()[0] {
        b'R' => "Router hall",
        b'M' => "Mould hall",
        _ => "Turning hall",
    };
    let positions = cycles.len();
    Machine { name, hall, what, line: "", stop_cost, positions, since: START, hours, cycles, meter, earlier: &[] }
}

/// All machines, by hall and number.
pub(super) const MACHINES: &[Machine] = &[
    m("R-01", "3-axis router, large table", 110, 12.0, &[13.3], 14_206.0),
    m("R-02", "3-axis router", 95, 11.4, &[13.0], 13_871.0),
    Machine {
        line: "cell A",
        since: day(2022, 12, 5),
        ..m("R-03", "twin-spindle router, nesting", 140, 12.6, &[12.7, 12.4], 9_640.0)
    },
    Machine { earlier: &[(day(2023, 4, 3), 0.86)], ..m("R-04", "5-axis router", 130, 11.4, &[15.3], 15_012.0) },
    Machine {
        line: "cell A",
        since: day(2021, 11, 8),
        ..m("R-05", "3-axis router, loads R-03's nests", 105, 11.2, &[12.6], 11_958.0)
    },
    m("R-06", "3-axis router", 95, 11.6, &[12.8], 15_604.0),
    Machine {
        earlier: &[(day(2022, 9, 5), 0.9)],
        ..m("R-07", "twin-spindle router, doors", 120, 11.9, &[13.3, 12.9], 14_733.0)
    },
    m("R-08", "5-axis router, samples and repairs", 90, 5.6, &[12.9], 10_216.0),
    Machine { earlier: &[(day(2024, 3, 4), 0.82)], ..m("R-09", "5-axis router", 130, 11.0, &[17.9], 16_447.0) },
    Machine { since: day(2026, 1, 26), ..m("R-10", "5-axis router, new this winter", 125, 8.9, &[13.7], 212.0) },
    m("M-01", "portal mill, pattern plates", 210, 12.2, &[16.2], 21_930.0),
    m("M-02", "portal mill, mould halves", 205, 11.1, &[15.1], 20_377.0),
    Machine {
        // Second shift since autumn 2025.
        earlier: &[(day(2025, 10, 6), 0.58)],
        ..m("M-03", "portal mill, mould halves", 205, 12.4, &[14.4], 13_118.0)
    },
    m("M-04", "double-head finishing mill", 170, 10.0, &[22.5, 19.8], 15_660.0),
    m("M-05", "5-axis mill, core boxes", 190, 12.0, &[17.2], 18_204.0),
    m("M-06", "5-axis mill, core boxes", 185, 7.6, &[16.4], 12_377.0),
    Machine {
        // Second shift for two winters, short time between.
        earlier: &[(day(2023, 10, 2), 0.7), (day(2024, 9, 2), 1.0), (day(2025, 9, 1), 0.62)],
        ..m("M-07", "5-axis mill, small moulds", 175, 12.6, &[18.1], 3_022.0)
    },
    m("M-08", "5-axis mill, prototypes", 160, 9.8, &[20.3], 14_090.0),
    m("T-01", "turn-mill centre", 120, 8.0, &[12.4], 31_204.0),
    m("T-02", "turn-mill centre", 120, 9.6, &[13.1], 28_870.0),
    m("T-03", "turn-mill centre, long bed", 125, 7.0, &[12.2], 26_113.0),
    m("T-04", "turn-mill centre, rollers", 120, 8.2, &[14.6], 22_418.0),
    Machine {
        earlier: &[(day(2023, 6, 5), 1.25)],
        ..m("T-05", "turn-mill centre, rollers", 115, 9.4, &[15.5], 19_930.0)
    },
    m("T-06", "turn-mill centre", 120, 8.5, &[14.9], 17_206.0),
];

/// The setting dimension of a spindle: what is wanted, and how it wanders.
pub(super) struct Setting {
    /// mm.
    pub(super) wanted: f64,
    /// mm per 1,000 run hours; none: drawn by chance, small.
    pub(super) drift: Option<f64>,
}

/// A stay of a spindle in a machine: machine, position, first day, day of leaving.
pub(super) type Stay = (&'static str, usize, Day, Option<Day>);

/// One spindle and the figures of its story.
pub(super) struct Spindle {
    pub(super) name: &'static str,
    pub(super) interface: &'static str,
    /// New on that day; none: found mid-life.
    pub(super) new_on: Option<Day>,
    pub(super) stays: &'static [Stay],
    /// Mean loss in percent of nominal per 1,000 run hours.
    pub(super) rate: f64,
    /// Usual loss between two services, percent of nominal.
    pub(super) usual_loss: f64,
    /// What a service restores loses so much per 1,000 run hours, percent.
    pub(super) lasting: f64,
    /// Day of the last service in the records and the level it left, percent; none: never serviced.
    pub(super) last: Option<(Day, f64)>,
    /// Level on the last day (of the records, or in a machine), percent.
    pub(super) now: f64,
    /// Days of all services before the last, where the story wants them.
    pub(super) services: &'static [Day],
    /// An interval that lost force at a rate of its own: the service it began with, percent of nominal per 1,000 run hours.
    pub(super) fast: Option<(Day, f64)>,
    /// Which services were major, counted back from the last (1).
    pub(super) major: &'static [usize],
    /// A sudden drop: day and percent.
    pub(super) step: Option<(Day, f64)>,
    /// Months, hours, cycles of the spindle's own intervals, as typed.
    pub(super) every: [&'static str; 3],
    /// Its own limits, percent, as typed (service, stop), and where they come from.
    pub(super) own: [&'static str; 3],
    pub(super) drift: Option<f64>,
    pub(super) out_of_service: Option<Day>,
    pub(super) notes: &'static str,
}

const SHOP_RULE: &str = "shop practice since 2022, invented";

const fn s(
    name: &'static str,
    interface: &'static str,
    stays: &'static [Stay],
    rate: f64,
    last: Option<(Day, f64)>,
    now: f64,
) -> Spindle {
    Spindle {
        name,
        interface,
        new_on: None,
        stays,
        rate,
        usual_loss: 14.0,
        lasting: 0.16,
        last,
        now,
        services: &[],
        fast: None,
        major: &[],
        step: None,
        every: ["", "", ""],
        own: ["", "", ""],
        drift: None,
        out_of_service: None,
        notes: "",
    }
}

/// All spindles, by serial.
pub(super) const SPINDLES: &[Spindle] = &[
    Spindle {
        out_of_service: Some(day(2022, 11, 14)),
        major: &[1],
        notes: "taper fretted, not worth rebuilding; kept for its cover",
        ..s(
            "S-0101",
            "HSK-F63",
            &[("R-01", 1, START, Some(day(2022, 10, 24)))],
            9.4,
            Some((day(2022, 4, 23), 94.1)),
            81.0,
        )
    },
    Spindle {
        new_on: Some(day(2022, 10, 24)),
        ..s("S-0102", "HSK-F63", &[("R-01", 1, day(2022, 10, 24), None)], 8.6, Some((day(2025, 7, 26), 97.1)), 82.9)
    },
    s("S-0103", "HSK-F63", &[("R-02", 1, START, None)], 8.0, Some((day(2025, 10, 4), 97.0)), 88.4),
    Spindle {
        new_on: Some(day(2021, 11, 8)),
        ..s("S-0104", "HSK-F63", &[("R-05", 1, day(2021, 11, 8), None)], 8.2, Some((day(2025, 12, 6), 96.9)), 92.3)
    },
    Spindle {
        new_on: Some(day(2024, 3, 13)),
        ..s("S-0105", "HSK-F63", &[("R-06", 1, day(2024, 3, 13), None)], 8.8, Some((day(2025, 9, 20), 97.2)), 88.3)
    },
    Spindle {
        major: &[1],
        notes: "spare for Router hall, on the shelf since its rebuild",
        ..s(
            "S-0106",
            "HSK-F63",
            &[("R-06", 1, START, Some(day(2024, 3, 11)))],
            8.3,
            Some((day(2024, 9, 18), 97.9)),
            97.9,
        )
    },
    Spindle {
        new_on: Some(day(2022, 12, 5)),
        ..s("S-0107", "HSK-F63", &[("R-03", 1, day(2022, 12, 5), None)], 7.6, Some((day(2026, 1, 24), 97.5)), 95.3)
    },
    Spindle {
        new_on: Some(day(2022, 12, 5)),
        ..s("S-0108", "HSK-F63", &[("R-03", 2, day(2022, 12, 5), None)], 8.5, Some((day(2025, 9, 6), 96.8)), 84.05)
    },
    s("S-0109", "HSK-F63", &[("R-07", 1, START, None)], 7.6, Some((day(2025, 5, 10), 96.6)), 78.8),
    Spindle {
        major: &[4],
        ..s("S-0110", "HSK-F63", &[("R-07", 2, START, None)], 7.7, Some((day(2025, 10, 25), 97.0)), 89.6)
    },
    Spindle {
        usual_loss: 13.5,
        ..s("S-0111", "7/24 50", &[("T-01", 1, START, None)], 5.5, Some((day(2025, 1, 11), 97.0)), 85.4)
    },
    Spindle {
        drift: Some(0.085),
        usual_loss: 12.0,
        notes: "lock nut of the clamping unit creeps; setting dimension first on every round",
        ..s("S-0112", "7/24 50", &[("T-02", 1, START, None)], 5.9, Some((day(2025, 6, 14), 96.8)), 87.2)
    },
    Spindle {
        usual_loss: 9.6,
        ..s("S-0113", "7/24 50", &[("T-03", 1, START, None)], 3.9, Some((day(2024, 12, 14), 96.9)), 90.2)
    },
    Spindle {
        own: ["80", "70", "common practice, no source; confirmed 9 May 2022 by Aldous"],
        every: ["12", "", ""],
        services: &[day(2021, 10, 11), day(2022, 9, 24), day(2023, 9, 2), day(2024, 8, 3)],
        fast: Some((day(2024, 8, 3), 8.2)),
        lasting: 0.12,
        ..s(
            "S-0117",
            "HSK-A63",
            &[("R-08", 1, START, Some(day(2022, 5, 9))), ("R-04", 1, day(2022, 5, 9), None)],
            5.6,
            Some((day(2025, 4, 12), 94.9)),
            82.3,
        )
    },
    Spindle {
        new_on: Some(day(2022, 5, 16)),
        every: ["12", "", ""],
        usual_loss: 7.5,
        ..s("S-0118", "HSK-A63", &[("R-08", 1, day(2022, 5, 16), None)], 5.4, Some((day(2025, 6, 11), 97.2)), 91.8)
    },
    Spindle {
        every: ["", "", "25000"],
        own: ["", "", "25,000 cycles agreed with the shift leads, invented"],
        usual_loss: 10.0,
        ..s("S-0119", "HSK-A63", &[("R-09", 1, START, None)], 7.0, Some((day(2025, 10, 4), 97.0)), 88.4)
    },
    Spindle {
        major: &[2],
        services: &[day(2021, 10, 16), day(2022, 8, 24)],
        notes: "out for a second rebuild since June 2024, not back yet",
        ..s(
            "S-0120",
            "HSK-A63",
            &[("R-04", 1, START, Some(day(2022, 5, 9))), ("M-07", 1, day(2022, 9, 5), Some(day(2024, 6, 17)))],
            6.6,
            Some((day(2023, 9, 30), 96.1)),
            82.6,
        )
    },
    Spindle {
        notes: "as left comes back a little lower each time",
        services: &[day(2022, 1, 29), day(2022, 12, 10), day(2023, 11, 11), day(2024, 9, 14), day(2025, 5, 17)],
        lasting: 0.6,
        usual_loss: 12.0,
        ..s("S-0121", "HSK-A63", &[("M-05", 1, START, None)], 6.0, Some((day(2025, 12, 6), 90.6)), 85.9)
    },
    Spindle {
        every: ["12", "", ""],
        usual_loss: 10.2,
        ..s("S-0122", "HSK-A63", &[("M-06", 1, START, None)], 5.8, Some((day(2025, 3, 22), 97.1)), 86.9)
    },
    Spindle { ..s("S-0123", "HSK-E40", &[("M-04", 1, START, None)], 7.7, Some((day(2025, 9, 6), 97.0)), 87.6) },
    Spindle {
        major: &[3],
        ..s("S-0124", "HSK-E40", &[("M-04", 2, START, None)], 6.3, Some((day(2025, 11, 8), 96.8)), 92.2)
    },
    Spindle {
        every: ["18", "", ""],
        ..s("S-0125", "HSK-A63", &[("M-08", 1, START, None)], 5.9, Some((day(2026, 2, 21), 97.2)), 96.9)
    },
    Spindle {
        step: Some((day(2026, 2, 19), 9.1)),
        ..s("S-0126", "PSC 63", &[("T-04", 1, START, None)], 8.8, Some((day(2025, 1, 11), 96.8)), 68.4)
    },
    s("S-0127", "PSC 63", &[("T-05", 1, START, None)], 7.2, Some((day(2025, 8, 30), 97.0)), 88.1),
    Spindle {
        every: ["12", "", ""],
        usual_loss: 11.5,
        ..s("S-0128", "PSC 63", &[("T-06", 1, START, None)], 6.0, Some((day(2026, 1, 19), 98.0)), 96.4)
    },
    Spindle {
        major: &[1],
        notes: "spare for the portal mills, on the shelf",
        ..s(
            "S-0129",
            "HSK-A100",
            &[("M-02", 1, START, Some(day(2023, 8, 28)))],
            7.9,
            Some((day(2023, 12, 13), 98.2)),
            98.2,
        )
    },
    Spindle {
        major: &[5],
        ..s("S-0130", "HSK-A100", &[("M-01", 1, START, None)], 8.2, Some((day(2025, 8, 30), 97.0)), 84.65)
    },
    Spindle {
        new_on: Some(day(2023, 8, 28)),
        ..s("S-0131", "HSK-A100", &[("M-02", 1, day(2023, 8, 28), None)], 7.6, Some((day(2025, 5, 31), 97.0)), 81.7)
    },
    s("S-0132", "HSK-A100", &[("M-03", 1, START, None)], 6.9, Some((day(2025, 11, 8), 96.9)), 91.8),
    Spindle {
        major: &[3],
        services: &[day(2022, 1, 15), day(2024, 6, 5), day(2025, 1, 25)],
        ..s(
            "S-0133",
            "HSK-A63",
            &[("M-07", 1, START, Some(day(2022, 9, 5))), ("M-07", 1, day(2024, 6, 17), None)],
            6.4,
            Some((day(2025, 12, 6), 97.1)),
            92.9,
        )
    },
    Spindle {
        new_on: Some(day(2026, 1, 26)),
        every: ["6", "", ""],
        own: ["", "", "first service after half a year, then as the others; invented"],
        notes: "new with R-10; has a counter of its own",
        ..s("S-0144", "HSK-A63", &[("R-10", 1, day(2026, 1, 26), None)], 6.0, None, 98.0)
    },
];

/// Nominal clamp force of an interface in this shop, kN (invented limits, see `limits.csv`).
pub(super) fn nominal(interface: &str) -> f64 {
    match interface {
        "HSK-F63" => 11.0,
        "HSK-E40" => 6.8,
        "HSK-A100" | "PSC 63" => 45.0,
        "7/24 50" => 25.0,
        _ => 18.0,
    }
}

/// Setting dimension of a spindle whose interface has one here.
pub(super) fn setting(spindle: &Spindle) -> Option<Setting> {
    let drift = spindle.drift;
    match spindle.interface {
        "HSK-A63" | "HSK-F63" => Some(Setting { wanted: 10.5, drift }),
        "7/24 50" => Some(Setting { wanted: 65.4, drift }),
        _ => None,
    }
}

/// The day up to which a spindle has a story: the last of the records, or the day it left its last machine.
pub(super) fn end_of(spindle: &Spindle) -> Day {
    spindle.stays.last().and_then(|stay| stay.3).unwrap_or(AS_OF)
}

/// `machines.csv`.
pub(super) fn machines() -> String {
    let mut table = Table::new("machine,hall,description,line,stop_cost_per_hour,spindle_positions,day_below_cost");
    for machine in MACHINES {
        table.row(&[
            machine.name,
            machine.hall,
            machine.what,
            machine.line,
            &machine.stop_cost.to_string(),
            &machine.positions.to_string(),
            if machine.name == "M-01" { "60" } else { "" },
        ]);
    }
    table.finish()
}

/// `spindles.csv`.
pub(super) fn spindles() -> String {
    let mut table = Table::new(
        "spindle,interface,nominal_force_kn,service_limit_pct,stop_limit_pct,setting_dimension_mm,\
         setting_tolerance_mm,installed_on,service_every_months,service_every_hours,service_every_cycles,\
         out_of_service_on,limit_source,notes",
    );
    for spindle in SPINDLES {
        let date = |on: Option<Day>| on.map_or_else(String::new, |on| on.to_string());
        let [service, stop, source] = spindle.own;
        let [months, hours, cycles] = spindle.every;
        let source = if source.is_empty() && !(months.is_empty() && cycles.is_empty()) { SHOP_RULE } else { source };
        table.row(&[
            spindle.name,
            spindle.interface,
            &nominal(spindle.interface).to_string(),
            service,
            stop,
            "",
            "",
            &date(spindle.new_on),
            months,
            hours,
            cycles,
            &date(spindle.out_of_service),
            source,
            spindle.notes,
        ]);
    }
    table.finish()
}

/// `limits.csv`: the shop's own values per interface.
pub(super) fn limits() -> String {
    fixed(
        "interface,nominal_force_kn,service_limit_pct,stop_limit_pct,setting_dimension_mm,setting_tolerance_mm,\
         service_every_months,service_every_hours,service_every_cycles,limit_source",
        &[
            &["*", "", "80", "70", "", "", "", "", "", SHOP_RULE],
            &["7/24 50", "25", "", "", "65.4", "0.15", "", "2500", "", "shop practice since 2021, invented"],
            &["HSK-A63", "18", "", "", "10.5", "0.1", "18", "", "", SHOP_RULE],
            &["HSK-F63", "11", "", "", "10.5", "0.1", "", "", "", SHOP_RULE],
            &["HSK-E40", "6.8", "", "", "", "", "", "", "", "trial of spring 2023, invented"],
            &["HSK-A100", "45", "", "", "", "", "24", "", "", SHOP_RULE],
            &["PSC 63", "45", "", "", "", "", "24", "", "", SHOP_RULE],
        ],
    )
}

/// `mountings.csv`.
pub(super) fn mountings() -> String {
    let mut table = Table::new("spindle,machine,position,mounted_on,removed_on");
    for spindle in SPINDLES {
        for (machine, position, from, to) in spindle.stays {
            let to = to.map_or_else(String::new, |to| to.to_string());
            table.row(&[spindle.name, machine, &position.to_string(), &from.to_string(), &to]);
        }
    }
    table.finish()
}
