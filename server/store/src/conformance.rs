//! One suite for every store: what the traits promise, as a caller sees it. Panics with the broken promise. A new
//! store passes by implementing [`Maker`] and calling [`run`].

#![allow(clippy::expect_used, clippy::indexing_slicing, clippy::missing_panics_doc)] // a test suite: failing is its purpose

mod audit_book;
mod beside;
mod forwarded;
mod journal;
mod replica;
mod tallies;
mod tokens;

pub use replica::batch_of;

use crate::{
    Appended, AuditBook, Beside, EntryId, Epoch, ForkBook, JobId, Journal, NewEntry, Replica, StoreError,
    Tallies,
};
use async_trait::async_trait;
use std::sync::Arc;

/// Makes stores for the suite.
#[async_trait]
pub trait Maker: Sync {
    /// The store under test.
    type Store: Journal + Beside + AuditBook + Replica + ForkBook + Tallies + 'static;

    /// An empty journal.
    async fn make(&self, site: &str, epoch: Epoch, job_entries_max: u64) -> Arc<Self::Store>;

    /// The same journal after closing it and opening it again with this limit.
    async fn reopen(&self, store: Arc<Self::Store>, job_entries_max: u64) -> Arc<Self::Store>;
}

/// Epoch of every journal of the suite.
pub const EPOCH: Epoch = [0x5a; 16];

/// Site of every journal of the suite.
pub const SITE: &str = "Harbour Lane";

/// Most entries a job may have, unless a case says otherwise.
const JOB_ENTRIES: u64 = 10_000;

/// Runs everything.
pub async fn run<M: Maker>(maker: &M) {
    journal::run(maker).await;
    beside::run(maker).await;
    tokens::run(maker).await;
    audit_book::run(maker).await;
    replica::run(maker).await;
    forwarded::run(maker).await;
    tallies::run(maker).await;
}

/// A number as an entry id.
pub fn entry_id(number: u64) -> EntryId {
    EntryId(u128::from(number).to_be_bytes())
}

/// A number as a job id.
pub fn job_id(number: u64) -> JobId {
    JobId((u128::from(number) | 1 << 127).to_be_bytes())
}

/// An entry of station `bay-1` with this number, which is also its id; it belongs to a job if one is given.
pub fn entry(number: u64, job: Option<JobId>) -> NewEntry {
    NewEntry {
        entry_id: entry_id(number),
        job,
        opens_job: false,
        station: "bay-1".into(),
        station_epoch: [1; 16],
        station_number: number,
        received_us: 1_780_000_000_000_000 + i64::try_from(number).expect("the suite's numbers are small"),
        year: 2026,
        bytes: format!("sealed entry {number}").into(),
    }
}

/// The entry that opens a job.
pub fn arrival(number: u64, job: JobId) -> NewEntry {
    NewEntry { opens_job: true, ..entry(number, Some(job)) }
}

async fn fresh<M: Maker>(maker: &M) -> Arc<M::Store> {
    maker.make(SITE, EPOCH, JOB_ENTRIES).await
}

async fn reopened<M: Maker>(maker: &M, store: Arc<M::Store>) -> Arc<M::Store> {
    maker.reopen(store, JOB_ENTRIES).await
}

async fn append(store: &impl Journal, entry: &NewEntry) -> Appended {
    store.append(entry.clone()).await.expect("this entry must be accepted")
}

async fn refusal(store: &impl Journal, entry: &NewEntry) -> StoreError {
    store.append(entry.clone()).await.expect_err("this entry must be refused")
}

async fn assert_sound(store: &impl Journal) {
    let report = store.verify(&mut |_| None).await.expect("the check must run");
    assert_eq!(report.damage, [], "a journal that nobody damaged is sound");
}
