//! When the shop runs and when machines may be stopped: closures of the past and the coming year, downtime windows for half a year ahead.

use super::csv::{Table, fixed};
use super::day::{Day, day};

/// Days on which the shop does not run, both ends included.
pub(super) const CLOSURES: &[(Day, Day, &str)] = &[
    (day(2021, 4, 2), day(2021, 4, 5), "Easter"),
    (day(2021, 8, 2), day(2021, 8, 20), "summer closure"),
    (day(2021, 12, 24), day(2022, 1, 3), "Christmas closure"),
    (day(2022, 4, 15), day(2022, 4, 18), "Easter"),
    (day(2022, 8, 1), day(2022, 8, 19), "summer closure"),
    (day(2022, 12, 23), day(2023, 1, 2), "Christmas closure"),
    (day(2023, 4, 7), day(2023, 4, 10), "Easter"),
    (day(2023, 5, 1), day(2023, 5, 1), "holiday"),
    (day(2023, 8, 7), day(2023, 8, 25), "summer closure"),
    (day(2023, 12, 22), day(2024, 1, 2), "Christmas closure"),
    (day(2024, 3, 29), day(2024, 4, 1), "Easter"),
    (day(2024, 5, 1), day(2024, 5, 1), "holiday"),
    (day(2024, 8, 5), day(2024, 8, 23), "summer closure"),
    (day(2024, 12, 23), day(2025, 1, 3), "Christmas closure"),
    (day(2025, 4, 18), day(2025, 4, 21), "Easter"),
    (day(2025, 5, 1), day(2025, 5, 1), "holiday"),
    (day(2025, 8, 4), day(2025, 8, 22), "summer closure"),
    (day(2025, 11, 14), day(2025, 11, 14), "stocktaking, all halls"),
    (day(2025, 12, 24), day(2026, 1, 2), "Christmas closure"),
    (day(2026, 4, 3), day(2026, 4, 6), "Easter shutdown"),
    (day(2026, 5, 1), day(2026, 5, 1), "holiday"),
    (day(2026, 8, 3), day(2026, 8, 21), "summer closure"),
    (day(2026, 12, 23), day(2027, 1, 3), "Christmas closure"),
];

/// Whether machines run on this day.
pub(super) fn works(on: Day) -> bool {
    on.weekday() < 5 && !closed(on)
}

/// Whether a closure covers this day.
pub(super) fn closed(on: Day) -> bool {
    CLOSURES.iter().any(|&(from, to, _)| from <= on && on <= to)
}

/// `closures.csv`.
pub(super) fn closures() -> String {
    let mut table = Table::new("start,end,what");
    for (from, to, what) in CLOSURES {
        table.row(&[from.to_string(), to.to_string(), (*what).to_owned()]);
    }
    table.finish()
}

/// `downtime.csv`: Saturdays by hall, single changeovers, the first week of the summer closure.
pub(super) fn downtime() -> String {
    fixed(
        "start,end,hall,machine,what,stop_factor,premium_per_hour,repeat",
        &[
            &["2026-03-02T08:00", "2026-03-02T14:00", "", "T-04", "running shift, machine stands anyway", "100", "0"],
            &["2026-03-07T07:00", "2026-03-07T13:00", "Router hall", "", "Saturday", "15", "14"],
            &[
                "2026-03-14T07:00",
                "2026-03-14T13:00",
                "Router hall",
                "",
                "every second Saturday",
                "15",
                "14",
                "FREQ=WEEKLY;INTERVAL=2;BYDAY=SA;UNTIL=20260829",
            ],
            &["2026-03-19T12:00", "2026-03-19T14:00", "Router hall", "", "changeover to garden range", "40", "0"],
            &[
                "2026-04-15T12:00",
                "2026-04-15T14:00",
                "Router hall",
                "",
                "changeover",
                "40",
                "0",
                "FREQ=WEEKLY;INTERVAL=4;BYDAY=WE;UNTIL=20260831",
            ],
            &[
                "2026-03-07T07:00",
                "2026-03-07T11:00",
                "Mould hall",
                "",
                "Saturday",
                "15",
                "14",
                "FREQ=WEEKLY;BYDAY=SA;UNTIL=20260321",
            ],
            &["2026-03-31T12:00", "2026-03-31T14:00", "Mould hall", "", "changeover", "40", "0"],
            &[
                "2026-04-11T07:00",
                "2026-04-11T11:00",
                "Mould hall",
                "",
                "every second Saturday",
                "15",
                "14",
                "FREQ=WEEKLY;INTERVAL=2;BYDAY=SA;UNTIL=20260829",
            ],
            &[
                "2026-03-28T07:00",
                "2026-03-28T11:00",
                "Turning hall",
                "",
                "every third Saturday",
                "15",
                "14",
                "FREQ=WEEKLY;INTERVAL=3;BYDAY=SA;UNTIL=20260829",
            ],
            &[
                "2026-05-12T06:00",
                "2026-05-12T14:00",
                "",
                "M-04",
                "retrofit of the dust hood, \"half shift\" agreed",
                "40",
                "0",
            ],
            &["2026-06-10T06:00", "2026-06-10T12:00", "", "T-06", "chuck overhaul", "40", "0"],
            &["2026-08-03T07:00", "2026-08-03T15:00", "", "", "summer shutdown", "5", "9"],
            &["2026-08-04T07:00", "2026-08-04T15:00", "", "", "summer shutdown", "5", "9"],
            &["2026-08-05T07:00", "2026-08-05T15:00", "", "", "summer shutdown", "5", "9"],
            &["2026-08-06T07:00", "2026-08-06T15:00", "", "", "summer shutdown", "5", "9"],
            &["2026-08-07T07:00", "2026-08-07T12:00", "", "", "summer shutdown", "5", "9"],
        ],
    )
}
