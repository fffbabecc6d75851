//! Copies of many journals over links that come and go, at an owner's store that is closed and opened again meanwhile:
//! nothing lost or doubled, and a journal that went its own way is refused wherever it is tried.

use super::origin::{Origin, STEP};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_store::{
    Fork, Journal as _, PostgresAddress, PostgresStore, Replicated, SqliteStore, Store, StoreError,
};
use standpipe_tests::postgres;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Entries of one batch at most.
const BATCH_MOST: u64 = 10 * STEP;
/// Each of so many sites is restored from a backup once and goes its own way.
const RESTORED_EVERY: u64 = 8;

fn full() -> bool {
    std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|campaign| campaign == "full")
}

/// Where the copy of a site is kept.
enum Place {
    File(PathBuf),
    Database(PostgresAddress),
}

impl Place {
    async fn create(&self, origin: &Origin) -> Arc<dyn Store> {
        // A copy is founded before anything is known of the journal, also of its epoch.
        match self {
            Self::File(path) => Arc::new(SqliteStore::create(path, &origin.site, [0; 16]).await.unwrap()),
            Self::Database(address) => {
                Arc::new(PostgresStore::create(address, &origin.site, [0; 16]).await.unwrap())
            }
        }
    }

    async fn open(&self, site: &str) -> Arc<dyn Store> {
        match self {
            Self::File(path) => Arc::new(SqliteStore::open(path).await.unwrap()),
            Self::Database(address) => Arc::new(PostgresStore::open(address, site).await.unwrap()),
        }
    }
}

/// One site, its link, and its copy.
struct Link {
    place: Place,
    copy: Arc<dyn Store>,
    origin: Origin,
    /// What the site believes is kept.
    believed: u64,
    random: ChaCha8Rng,
}

impl Link {
    fn drawn(&mut self, most: u64) -> u64 {
        self.random.next_u64() % most
    }

    async fn kept(&self) -> u64 {
        self.copy.head().await.unwrap().seq
    }

    /// Sends a batch, and requires that what is said is what was done.
    async fn send(&self, after: u64, count: u64) -> Result<Replicated, StoreError> {
        let before = self.kept().await;
        let batch = self.origin.batch(after, count);
        let last = after + batch.entries.len() as u64;
        let done = self.copy.replicate(batch).await;
        match &done {
            Ok(done) => {
                assert_eq!((done.head.seq, done.new), (before.max(last), last.saturating_sub(before)));
                assert_eq!(done.head.epoch, self.origin.epoch);
            }
            Err(_) => assert_eq!(self.kept().await, before, "what is refused leaves nothing"),
        }
        done
    }

    /// What happens next on the link.
    async fn step(&mut self) {
        let (believed, count) = (self.believed, STEP * (1 + self.drawn(BATCH_MOST / STEP)));
        match self.drawn(10) {
            // Lost on the way.
            0 => {}
            // Arrived, but the answer was lost.
            1 => drop(self.send(believed, count).await.unwrap()),
            // Arrived twice.
            2 => {
                self.send(believed, count).await.unwrap();
                self.believed = self.send(believed, count).await.unwrap().head.seq;
            }
            // Overtaken by a later one, which must wait.
            3 => {
                let kept = self.kept().await;
                if kept + count < self.origin.size() {
                    let gap = self.send(kept + count, STEP).await.unwrap_err();
                    assert_eq!(gap, StoreError::Gap { first_seq: kept + count + 1, here: kept });
                }
            }
            // The site begins anew and asks how far the copy reaches.
            4 => self.believed = self.kept().await,
            // The owner's server ends and comes back.
            5 if self.drawn(4) == 0 => {
                self.copy.close().await.unwrap();
                self.copy = self.place.open(&self.origin.site).await;
            }
            _ => self.believed = self.send(believed, count).await.unwrap().head.seq,
        }
    }

    async fn until(&mut self, size: u64) {
        while self.kept().await < size {
            self.step().await;
        }
    }

    /// The site comes back from a backup and goes its own way: whatever it brings of that is refused and written down.
    async fn restored(&mut self) {
        let kept = self.kept().await;
        let back_to = kept / STEP / 2 * STEP;
        let mut other = self.origin.restored(back_to);
        // As long as it brings only what is known, it is the same journal with another epoch.
        let same = self.copy.replicate(other.batch(0, back_to)).await.unwrap();
        assert_eq!((same.head.seq, same.head.epoch, same.new), (kept, other.epoch, 0));
        other.grow(self.origin.size());
        let head = self.copy.head().await.unwrap();
        for after in (back_to..other.size()).step_by(usize::try_from(2 * STEP).unwrap()) {
            let refused = self.copy.replicate(other.batch(after, BATCH_MOST)).await.unwrap_err();
            match refused {
                // Within what is here the very first entry differs; beyond, the root before it.
                StoreError::AnotherPast { seq, .. } => assert_eq!(seq, after + 1),
                StoreError::Gap { .. } => assert!(after > kept, "{refused}"),
                other => panic!("{other}"),
            }
            assert_eq!(self.copy.head().await.unwrap(), head);
            let fork = Fork {
                site: self.origin.site.clone(),
                first_us: 1,
                last_us: i64::try_from(after).unwrap(),
                station: "link-1".into(),
                here: (head.seq, head.root),
                claimed: (other.epoch, other.size(), other.root_at(other.size())),
                settled_us: None,
            };
            self.copy.note_fork(fork).await.unwrap();
        }
        let forks = self.copy.forks().await.unwrap();
        assert_eq!(forks.len(), 1, "the same claim is one fork");
        self.copy.settle_forks(&self.origin.site, i64::MAX, 9).await.unwrap();
        self.believed = 0;
    }

    /// Everything is there once, in its place.
    async fn assert_whole(&self) {
        let size = self.origin.size();
        let head = self.copy.head().await.unwrap();
        assert_eq!((head.seq, head.root, head.epoch), (size, self.origin.root_at(size), self.origin.epoch));
        let report = self.copy.verify(&mut |_| None).await.unwrap();
        assert_eq!((report.damage, report.entries, report.jobs), (vec![], size, self.origin.jobs()));
        assert_eq!(report.root, head.root);
    }
}

async fn forwarded(number: u64, entries: u64, place: Place) {
    let mut origin = Origin::new(number);
    origin.grow(entries);
    let copy = place.create(&origin).await;
    let random = ChaCha8Rng::seed_from_u64(number);
    let mut link = Link { place, copy, origin, believed: 0, random };
    if number.is_multiple_of(RESTORED_EVERY) {
        link.until(entries / 2).await;
        link.restored().await;
    }
    link.until(entries).await;
    link.assert_whole().await;
    link.copy.close().await.unwrap();
}

/// Sites one after another on two threads, each with a place of its own.
async fn campaign(sites: u64, entries: u64, place: impl Fn(u64) -> Place) {
    let mut two = [tokio::task::JoinSet::new(), tokio::task::JoinSet::new()];
    for number in 1..=sites {
        let tasks = &mut two[usize::try_from(number % 2).unwrap()];
        while let Some(done) = tasks.join_next().await {
            done.unwrap();
        }
        tasks.spawn(forwarded(number, entries, place(number)));
    }
    for tasks in &mut two {
        while let Some(done) = tasks.join_next().await {
            done.unwrap();
        }
    }
}

fn file(folder: &Path, number: u64) -> Place {
    Place::File(folder.join(format!("{number}.db")))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn forwarding_of_many_sites_is_whole_over_links_that_come_and_go() {
    let folder = tempfile::tempdir().unwrap();
    let sites = if full() { 500 } else { 50 };
    campaign(sites, 10_000, |number| file(folder.path(), number)).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn forwarding_of_many_sites_is_whole_in_one_database_too() {
    let Some(database) = postgres::database() else { return };
    let address: PostgresAddress = database.create().parse().unwrap();
    // The owner's own site is there first and makes the tables.
    PostgresStore::create(&address, "owner", [9; 16]).await.unwrap().close().await.unwrap();
    let (sites, entries) = if full() { (50, 10_000) } else { (16, 1_000) };
    campaign(sites, entries, |_| Place::Database(address.clone())).await;
}
