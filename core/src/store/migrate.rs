//! The schema of a shop file and how older files get to it.

use super::StoreError;
use rusqlite::Connection;
use rusqlite_migration::{M, Migrations};

/// Marks a file as a shop of this program: the letters `DrAl`.
pub const APPLICATION_ID: i64 = 0x4472_416c;

/// The schema changes in their order; released ones are never edited.
pub(super) const ALL: &[&str] = &[
    include_str!("../../../migrations/0001_registers.sql"),
    include_str!("../../../migrations/0002_records.sql"),
    include_str!("../../../migrations/0003_steps.sql"),
    include_str!("../../../migrations/0004_fits.sql"),
    include_str!("../../../migrations/0005_order_notes.sql"),
    include_str!("../../../migrations/0006_ready_days.sql"),
];

/// The newest schema version that this program knows.
#[must_use]
pub const fn latest_version() -> i64 {
    ALL.len() as i64
}

/// Brings a connection to the newest schema, all pending changes or none.
pub(super) fn to_latest(connection: &mut Connection, migrations: &[&str]) -> Result<(), StoreError> {
    let migrations = Migrations::new(migrations.iter().map(|sql| M::up(sql)).collect());
    migrations.to_latest(connection).map_err(|error| match error {
        rusqlite_migration::Error::RusqliteError { err, .. } => match StoreError::from(err) {
            StoreError::Sqlite(cause) => StoreError::Upgrade(cause.to_string()),
            other => other,
        },
        other => StoreError::Upgrade(other.to_string()),
    })
}
