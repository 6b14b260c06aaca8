//! What the benches share: time of a piece of work, and the baseline that it is compared with.

use rusqlite::Connection;
use std::hint::black_box;
use std::path::Path;
use std::time::{Duration, Instant};

/// What this thread has used of a processor so far, where the system tells: waiting for others that
/// share the machine does not count.
fn used() -> Option<Duration> {
    // the count is brought up to date when the thread hands over
    std::thread::yield_now();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    Some(Duration::from_nanos(told.split_whitespace().next()?.parse().ok()?))
}

/// The shortest of several runs by the clock: of work that is spread over processors.
pub fn least_elapsed(runs: usize, mut work: impl FnMut()) -> Duration {
    let one = |_| {
        let start = Instant::now();
        work();
        start.elapsed()
    };
    (0..runs).map(one).min().unwrap_or_default()
}

fn times(runs: usize, mut work: impl FnMut()) -> Vec<Duration> {
    let mut times: Vec<Duration> = (0..runs)
        .map(|_| {
            let (start, used_before) = (Instant::now(), used());
            work();
            let elapsed = start.elapsed();
            match (used_before, used()) {
                (Some(before), Some(after)) => after.saturating_sub(before),
                _ => elapsed,
            }
        })
        .collect();
    times.sort();
    times
}

/// The median of several runs.
pub fn median_time(runs: usize, work: impl FnMut()) -> Duration {
    let times = times(runs, work);
    times.get(times.len() / 2).copied().unwrap_or_default()
}

/// The shortest of several runs: what the work takes where nothing else is in its way.
pub fn least_time(runs: usize, work: impl FnMut()) -> Duration {
    times(runs, work).first().copied().unwrap_or_default()
}

/// Every value of every row of the tables that hold the shop, read and dropped; how many they are.
///
/// # Errors
/// Those of the library, if the file is no shop.
pub fn read_rows(path: &Path) -> rusqlite::Result<usize> {
    let connection = Connection::open(path)?;
    let tables: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    let mut values = 0;
    for table in tables.iter().filter(|name| {
        !["step", "row_layout", "step_change", "step_range", "step_range_row", "fit"].contains(&name.as_str())
    }) {
        let mut statement = connection.prepare(&format!("SELECT * FROM {table}"))?;
        let columns = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                black_box(row.get_ref(column)?);
                values += 1;
            }
        }
    }
    Ok(values)
}

/// How busy the machine is: running and waiting work over the last minute, where it says so.
#[must_use]
pub fn load_average() -> Option<f64> {
    std::fs::read_to_string("/proc/loadavg").ok()?.split_whitespace().next()?.parse().ok()
}
