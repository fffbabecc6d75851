//! The migrations of migrations/sqlite, in order, and what a database must look like after them.

use sqlx::migrate::{MigrateError, Migration, MigrationType, Migrator};
use sqlx::{SqlSafeStr, SqliteConnection};

/// Marks a file as a journal of ours: "STPD". The first migration writes it.
pub(super) const APPLICATION_ID: u32 = 0x5354_5044;

/// Name and text of each migration; an applied one is never edited.
const MIGRATIONS: [(&str, &str); 20] = [
    ("site", include_str!("../../../../migrations/sqlite/0001_site.sql")),
    ("job", include_str!("../../../../migrations/sqlite/0002_job.sql")),
    ("station_stream", include_str!("../../../../migrations/sqlite/0003_station_stream.sql")),
    ("entry", include_str!("../../../../migrations/sqlite/0004_entry.sql")),
    ("station", include_str!("../../../../migrations/sqlite/0005_station.sql")),
    ("person", include_str!("../../../../migrations/sqlite/0006_person.sql")),
    ("job_summary", include_str!("../../../../migrations/sqlite/0007_job_summary.sql")),
    ("setting", include_str!("../../../../migrations/sqlite/0008_setting.sql")),
    ("customer", include_str!("../../../../migrations/sqlite/0009_customer.sql")),
    ("person_pin", include_str!("../../../../migrations/sqlite/0010_person_pin.sql")),
    ("job_summary_rank", include_str!("../../../../migrations/sqlite/0011_job_summary_rank.sql")),
    ("job_summary_vehicle", include_str!("../../../../migrations/sqlite/0012_job_summary_vehicle.sql")),
    ("job_summary_account", include_str!("../../../../migrations/sqlite/0013_job_summary_account.sql")),
    ("joining", include_str!("../../../../migrations/sqlite/0014_joining.sql")),
    ("access", include_str!("../../../../migrations/sqlite/0015_access.sql")),
    ("photo_extract", include_str!("../../../../migrations/sqlite/0016_photo_extract.sql")),
    ("tally", include_str!("../../../../migrations/sqlite/0017_tally.sql")),
    ("forwarded", include_str!("../../../../migrations/sqlite/0018_forwarded.sql")),
    ("tally_held", include_str!("../../../../migrations/sqlite/0019_tally_held.sql")),
    ("tally_month", include_str!("../../../../migrations/sqlite/0020_tally_month.sql")),
];

/// Highest schema number this program knows.
pub(super) const SCHEMA_NUMBER: i64 = MIGRATIONS.len() as i64;

/// Applies the migrations that are missing, each in its own transaction, and checks that applied ones are unchanged.
pub(super) async fn migrate(connection: &mut SqliteConnection) -> Result<(), MigrateError> {
    // Not `run`: its future is only general enough for callers that never spawn it.
    migrator().run_direct(None, connection, false).await
}

/// The migrations, numbered from 1.
fn migrator() -> Migrator {
    let numbered = MIGRATIONS.into_iter().zip(1_i64..);
    let migrations = numbered.map(|((name, text), number)| {
        Migration::new(number, name.into(), MigrationType::Simple, text.into_sql_str(), false)
    });
    Migrator::with_migrations(migrations.collect())
}
