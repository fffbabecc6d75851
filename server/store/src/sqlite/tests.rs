//! What only the SQLite store must withstand: foreign hands, damaged files, full disks, copies taken in mid-stream.

mod attacks;
mod copies;
#[cfg(feature = "broken")]
mod faults;
mod files;
mod flips;
mod trouble;

use crate::conformance::{self, EPOCH, Maker, SITE, arrival, entry, job_id};
use crate::{Epoch, Journal, SqliteOptions, SqliteStore, VerifyReport};
use async_trait::async_trait;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Executor, Row, SqliteConnection};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use tempfile::TempDir;

/// A folder with room for one journal.
fn folder() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("standpipe.db");
    (folder, path)
}

/// A journal with three jobs of four entries each, two site entries, and three names beside it.
async fn filled(path: &Path) -> SqliteStore {
    let store = SqliteStore::create(path, SITE, EPOCH).await.unwrap();
    for at in 1..=12 {
        let job = job_id(at % 3);
        store.append(if at <= 3 { arrival(at, job) } else { entry(at, Some(job)) }).await.unwrap();
    }
    store.append(entry(13, None)).await.unwrap();
    store.append(entry(14, None)).await.unwrap();
    store
}

/// A connection of a foreign program: SQLite's own settings, none of ours.
async fn foreign(path: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(path).foreign_keys(false).connect().await.unwrap()
}

async fn verified(store: &SqliteStore) -> VerifyReport {
    store.verify(&mut |_| None).await.unwrap()
}

struct Files {
    folder: TempDir,
    made: AtomicU32,
}

#[async_trait]
impl Maker for Files {
    type Store = SqliteStore;

    async fn make(&self, site: &str, epoch: Epoch, job_entries_max: u64) -> Arc<SqliteStore> {
        let number = self.made.fetch_add(1, Ordering::Relaxed);
        let path = self.folder.path().join(format!("{number}.db"));
        let options = SqliteOptions { job_entries_max, ..SqliteOptions::default() };
        Arc::new(SqliteStore::create_with(&path, site, epoch, options).await.unwrap())
    }

    async fn reopen(&self, store: Arc<SqliteStore>, job_entries_max: u64) -> Arc<SqliteStore> {
        store.close().await.unwrap();
        let options = SqliteOptions { job_entries_max, ..SqliteOptions::default() };
        Arc::new(SqliteStore::open_with(store.path(), options).await.unwrap())
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_sqlite_store_keeps_the_promises() {
    conformance::run(&Files { folder: tempfile::tempdir().unwrap(), made: AtomicU32::new(0) }).await;
}

async fn pragma(connection: &mut SqliteConnection, name: &str) -> String {
    let row = connection.fetch_one(AssertSqlSafe(format!("pragma {name}"))).await.unwrap();
    row.try_get::<i64, _>(0).map_or_else(|_| row.get(0), |number| number.to_string())
}

#[tokio::test]
async fn the_connection_that_writes_syncs_every_commit() {
    use super::open::connection_options;
    use sqlx::sqlite::SqliteSynchronous;
    let (_folder, path) = folder();
    let store = filled(&path).await;
    // 2 is "full": https://sqlite.org/pragma.html#pragma_synchronous
    let mut journal = super::open::journal_connection(&path, &SqliteOptions::default()).await.unwrap();
    for (name, value) in
        [("synchronous", "2"), ("journal_mode", "wal"), ("recursive_triggers", "1"), ("foreign_keys", "1")]
    {
        assert_eq!(pragma(&mut journal, name).await, value, "pragma {name}");
    }
    let mut derived = connection_options(&path, SqliteSynchronous::Normal).connect().await.unwrap();
    assert_eq!(pragma(&mut derived, "synchronous").await, "1");
    assert_eq!(pragma(&mut derived, "recursive_triggers").await, "1");
    let mut reader = store.readers.acquire().await.unwrap();
    assert_eq!(pragma(&mut reader, "query_only").await, "1");
    assert_eq!(pragma(&mut reader, "application_id").await, super::schema::APPLICATION_ID.to_string());
    assert_eq!(pragma(&mut reader, "user_version").await, super::schema::SCHEMA_NUMBER.to_string());
}

#[tokio::test]
async fn large_batches_and_every_size_below_are_stored_alike() {
    let (_folder, path) = folder();
    let store = SqliteStore::create(&path, SITE, EPOCH).await.unwrap();
    let mut next = 1;
    for size in [1, 2, 63, 64, 65, 127, 128, 129, 300, 1_024, 2_000] {
        let mut pending = Vec::new();
        for _ in 0..size {
            pending.push((next, store.submit(entry(next, None)).await.unwrap()));
            next += 1;
        }
        for (number, answer) in pending {
            assert_eq!(answer.answer().await.unwrap().seq, number);
        }
    }
    let report = verified(&store).await;
    assert_eq!((report.damage, report.entries), (vec![], next - 1));
}
