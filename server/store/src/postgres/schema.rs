//! The migrations of migrations/postgres, in order, and what guards the tables after them. All tables stand in a schema
//! of our own, so that the database may hold other things too.

use sqlx::migrate::{MigrateError, Migration, MigrationType, Migrator};
use sqlx::{PgConnection, SqlSafeStr};

/// The schema all tables stand in.
pub(super) const SCHEMA: &str = "standpipe";
pub(super) const HAS_SCHEMA: &str = "select to_regnamespace('standpipe') is not null";
pub(super) const CREATE_SCHEMA: &str = "create schema if not exists standpipe";

/// Name and text of each migration; an applied one is never edited. Numbers and names are those of the SQLite store.
const MIGRATIONS: [(&str, &str); 20] = [
    ("site", include_str!("../../../../migrations/postgres/0001_site.sql")),
    ("job", include_str!("../../../../migrations/postgres/0002_job.sql")),
    ("station_stream", include_str!("../../../../migrations/postgres/0003_station_stream.sql")),
    ("entry", include_str!("../../../../migrations/postgres/0004_entry.sql")),
    ("station", include_str!("../../../../migrations/postgres/0005_station.sql")),
    ("person", include_str!("../../../../migrations/postgres/0006_person.sql")),
    ("job_summary", include_str!("../../../../migrations/postgres/0007_job_summary.sql")),
    ("setting", include_str!("../../../../migrations/postgres/0008_setting.sql")),
    ("customer", include_str!("../../../../migrations/postgres/0009_customer.sql")),
    ("person_pin", include_str!("../../../../migrations/postgres/0010_person_pin.sql")),
    ("job_summary_rank", include_str!("../../../../migrations/postgres/0011_job_summary_rank.sql")),
    ("job_summary_vehicle", include_str!("../../../../migrations/postgres/0012_job_summary_vehicle.sql")),
    ("job_summary_account", include_str!("../../../../migrations/postgres/0013_job_summary_account.sql")),
    ("joining", include_str!("../../../../migrations/postgres/0014_joining.sql")),
    ("access", include_str!("../../../../migrations/postgres/0015_access.sql")),
    ("photo_extract", include_str!("../../../../migrations/postgres/0016_photo_extract.sql")),
    ("tally", include_str!("../../../../migrations/postgres/0017_tally.sql")),
    ("forwarded", include_str!("../../../../migrations/postgres/0018_forwarded.sql")),
    ("tally_held", include_str!("../../../../migrations/postgres/0019_tally_held.sql")),
    ("tally_month", include_str!("../../../../migrations/postgres/0020_tally_month.sql")),
];

/// Highest schema number this program knows.
pub(super) const SCHEMA_NUMBER: i64 = MIGRATIONS.len() as i64;

/// Parts of the table of entries.
const PARTS: u32 = 16;

/// Every guard of the journal: table and trigger.
pub(super) fn guards() -> Vec<(String, &'static str)> {
    let mut guards = vec![("site".to_owned(), "site_only_grows"), ("site".to_owned(), "site_stays")];
    guards.push(("site".to_owned(), "site_not_emptied"));
    let of_job = ["job_never_updated", "job_never_deleted", "job_never_emptied"];
    guards.extend(of_job.map(|trigger| ("job".to_owned(), trigger)));
    let of_stream =
        ["station_stream_never_updated", "station_stream_never_deleted", "station_stream_never_emptied"];
    guards.extend(of_stream.map(|trigger| ("station_stream".to_owned(), trigger)));
    let tables = std::iter::once("entry".to_owned()).chain((0..PARTS).map(|part| format!("entry_{part}")));
    for table in tables {
        let of_entry = ["entry_never_updated", "entry_never_deleted", "entry_never_emptied"];
        guards.extend(of_entry.map(|trigger| (table.clone(), trigger)));
    }
    guards
}

/// Applies the migrations that are missing, each in its own transaction, and checks that applied ones are unchanged.
/// Servers of other sites in the same database wait meanwhile.
pub(super) async fn migrate(connection: &mut PgConnection) -> Result<(), MigrateError> {
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

#[cfg(test)]
mod tests {
    use super::MIGRATIONS;

    #[test]
    fn both_stores_have_the_same_migrations_by_number_and_name() {
        let names = |folder: &str| {
            let folder =
                std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../migrations").join(folder);
            let files = std::fs::read_dir(folder).unwrap();
            let mut names: Vec<String> =
                files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
            names.sort();
            names
        };
        assert_eq!(
            names("postgres"),
            names("sqlite"),
            "a migration needs a file of its name in both folders"
        );
        let known = MIGRATIONS.iter().zip(1..).map(|((name, _), number)| format!("{number:04}_{name}.sql"));
        assert_eq!(known.collect::<Vec<_>>(), names("postgres"));
    }
}
