//! The time of the machine for files that want it in UTC.

use chrono::{Local, NaiveDateTime, TimeZone as _};

/// A local time of this machine in UTC. A time that clocks skip in spring, which no clock shows, is
/// taken as it is.
#[must_use]
pub fn in_utc(local: NaiveDateTime) -> NaiveDateTime {
    Local.from_local_datetime(&local).earliest().map_or(local, |moment| moment.naive_utc())
}
