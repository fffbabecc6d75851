//! The two advisory locks of a site: one that a server holds as long as it is connected, and one that each commit holds.
//! Advisory locks belong to a database, so the same site in two databases does not meet.

use sha2::{Digest as _, Sha256};
use sqlx::{PgConnection, Row as _};

/// Name of an advisory lock, as PostgreSQL takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Key(pub i32, pub i32);

/// First half of the lock that a server holds: "STPD".
const SERVER: i32 = 0x5354_5044;
/// First half of the lock that a commit holds.
const COMMIT: i32 = SERVER + 1;

const TAKE: &str = "select pg_try_advisory_lock($1, $2)";
const HOLDER: &str = "select pid from pg_locks where locktype = 'advisory' and granted and objsubid = 2 \
    and database = (select oid from pg_database where datname = current_database()) \
    and classid::bigint = $1::bigint and objid::bigint = $2::bigint & 4294967295";
const END: &str = "select pg_terminate_backend($1)";

/// What a server holds of a site.
pub(super) fn server(site: &str) -> Key {
    Key(SERVER, half(site))
}

/// What a commit holds of a site.
pub(super) fn commit(site: &str) -> Key {
    Key(COMMIT, half(site))
}

/// Two sites whose halves are alike would wait for each other; that is all.
fn half(site: &str) -> i32 {
    let digest: [u8; 32] = Sha256::digest(site).into();
    i32::from_be_bytes([digest[0], digest[1], digest[2], digest[3]])
}

/// Takes a lock until the connection ends; says whether it was free.
pub(super) async fn take(connection: &mut PgConnection, key: Key) -> Result<bool, sqlx::Error> {
    sqlx::query(TAKE).bind(key.0).bind(key.1).fetch_one(connection).await?.try_get(0)
}

/// Process of the database that holds a lock for a connection.
pub(super) async fn holder(connection: &mut PgConnection, key: Key) -> Result<Option<i32>, sqlx::Error> {
    let row = sqlx::query(HOLDER).bind(i64::from(key.0)).bind(i64::from(key.1));
    row.fetch_optional(connection).await?.map(|row| row.try_get(0)).transpose()
}

/// Ends a process of the database. It may have ended by itself.
pub(super) async fn end(connection: &mut PgConnection, process: i32) -> Result<(), sqlx::Error> {
    sqlx::query(END).bind(process).execute(connection).await.map(drop)
}
