//! What only the PostgreSQL store must withstand: foreign hands, a second server, databases that go away.

mod attacks;
mod away;
mod copies;

use crate::conformance::{self, EPOCH, Maker, SITE, arrival, entry, job_id};
use crate::{
    Epoch, Journal, MemoryStore, PostgresAddress, PostgresOptions, PostgresStore, SqliteStore, StoreError,
    VerifyReport,
};
use async_trait::async_trait;
use std::sync::Arc;

use crate::postgres::database::{self, Database};

/// An address of an empty database.
fn address(database: &Database) -> PostgresAddress {
    database.create().parse().unwrap()
}

/// A journal with three jobs of four entries each, and two site entries.
async fn filled(address: &PostgresAddress, site: &str) -> PostgresStore {
    let store = PostgresStore::create(address, site, EPOCH).await.unwrap();
    fill(&store).await;
    store
}

async fn fill(store: &impl Journal) {
    for at in 1..=12 {
        let job = job_id(at % 3);
        store.append(if at <= 3 { arrival(at, job) } else { entry(at, Some(job)) }).await.unwrap();
    }
    store.append(entry(13, None)).await.unwrap();
    store.append(entry(14, None)).await.unwrap();
}

async fn verified(store: &PostgresStore) -> VerifyReport {
    store.verify(&mut |_| None).await.unwrap()
}

/// Each store in a database of its own, copied from one that has the tables.
struct Databases {
    database: Database,
    template: String,
}

impl Databases {
    async fn new(database: Database) -> Self {
        let template = database.create();
        let store = PostgresStore::create(&template.parse().unwrap(), "template", EPOCH).await.unwrap();
        store.close().await.unwrap();
        Self { database, template }
    }
}

#[async_trait]
impl Maker for Databases {
    type Store = PostgresStore;

    async fn make(&self, site: &str, epoch: Epoch, job_entries_max: u64) -> Arc<PostgresStore> {
        let options = PostgresOptions { job_entries_max, ..PostgresOptions::default() };
        let address = self.database.copy(&self.template).parse().unwrap();
        Arc::new(PostgresStore::create_with(&address, site, epoch, options).await.unwrap())
    }

    async fn reopen(&self, store: Arc<PostgresStore>, job_entries_max: u64) -> Arc<PostgresStore> {
        store.close().await.unwrap();
        let options = PostgresOptions { job_entries_max, ..PostgresOptions::default() };
        Arc::new(PostgresStore::open_with(store.address(), SITE, options).await.unwrap())
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_postgresql_store_keeps_the_promises() {
    let Some(database) = database::database() else { return };
    conformance::run(&Databases::new(database).await).await;
}

#[tokio::test]
async fn the_same_entries_give_the_same_tree_and_digests_in_all_stores() {
    let Some(database) = database::database() else { return };
    let folder = tempfile::tempdir().unwrap();
    let memory = MemoryStore::new(SITE, EPOCH);
    fill(&memory).await;
    let sqlite = SqliteStore::create(&folder.path().join("standpipe.db"), SITE, EPOCH).await.unwrap();
    fill(&sqlite).await;
    let url = database.create();
    let postgres = filled(&url.parse().unwrap(), SITE).await;
    let head = memory.head().await.unwrap();
    assert_eq!(sqlite.head().await.unwrap(), head);
    assert_eq!(postgres.head().await.unwrap(), head);
    assert_eq!(postgres.read(1, 100).await, memory.read(1, 100).await);
    for job in (0..3).map(job_id) {
        let digest = memory.job_digest(job).await.unwrap();
        assert!(digest.is_some());
        assert_eq!(sqlite.job_digest(job).await.unwrap(), digest);
        assert_eq!(postgres.job_digest(job).await.unwrap(), digest);
        assert_eq!(postgres.job(job).await, memory.job(job).await);
    }
    let report = verified(&postgres).await;
    assert_eq!((report.damage, report.entries, report.jobs, report.root), (vec![], 14, 3, head.root));
    // The leaves once more by the database's own SHA-256, from the description of a leaf alone.
    let leaves = "select count(*) from standpipe.entry where leaf_hash = \
        sha256('\\x0001'::bytea || int8send(seq) || int8send(received_us) || bytes)";
    assert_eq!(database.psql(&url, leaves), "14");
}

#[tokio::test]
async fn several_sites_in_one_database_know_nothing_of_each_other() {
    let Some(database) = database::database() else { return };
    let address = address(&database);
    let one = filled(&address, "Mill Street").await;
    let other = PostgresStore::create(&address, "Quarry Road", [9; 16]).await.unwrap();
    assert_eq!(other.append(arrival(1, job_id(1))).await.unwrap().seq, 1);
    assert_eq!(one.append(entry(15, None)).await.unwrap().seq, 15);
    assert_eq!(other.append(entry(15, None)).await.unwrap().seq, 2);
    assert_eq!((verified(&one).await.entries, verified(&other).await.entries), (15, 2));
    assert_eq!((verified(&one).await.damage, verified(&other).await.damage), (vec![], vec![]));
    assert_eq!(other.jobs(None, 10).await.unwrap().len(), 1);
    let there = PostgresStore::create(&address, "Mill Street", EPOCH).await.unwrap_err();
    assert!(matches!(there, StoreError::SiteThere { .. }), "{there}");
    let missing = PostgresStore::open(&address, "Harbour Lane").await.unwrap_err();
    assert!(matches!(missing, StoreError::SiteMissing { .. }), "{missing}");
}

#[tokio::test]
async fn large_batches_and_every_size_below_are_stored_alike() {
    let Some(database) = database::database() else { return };
    let store = PostgresStore::create(&address(&database), SITE, EPOCH).await.unwrap();
    let mut next = 1;
    for size in [1, 2, 63, 64, 65, 1_024, 2_000] {
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
