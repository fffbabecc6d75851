//! The journal trait: append and reads, nothing else. The server calls it through `dyn Journal`.

use crate::entry::{Appended, EntryId, Epoch, Head, JobId, JobNumber, JobRow, NewEntry, StoredEntry};
use crate::error::StoreError;
use crate::tree::Hash;
use crate::verify::{Inspect, VerifyReport};
use async_trait::async_trait;
use std::ops::RangeInclusive;
use tokio::sync::oneshot;

/// Most rows one page holds; a larger limit is capped, never refused.
pub const PAGE_ROWS_MAX: usize = 1_000;

/// Most entries a job may have, unless a store is opened with another limit.
pub const JOB_ENTRIES_MAX: u64 = 10_000;

/// The journal of one site.
///
/// Sequence numbers start at 1, have no gaps and are given in commit order. An answer to an append means that the
/// entry is durable. Appending the same id with the same bytes again gives the first answer, however late.
#[async_trait]
pub trait Journal: Send + Sync {
    /// Queues an entry; entries queued by one caller are stored in that order. Waits only for space in the queue.
    ///
    /// # Errors
    /// Fails at once if the journal takes nothing more; every other refusal is in the answer.
    async fn submit(&self, entry: NewEntry) -> Result<PendingAppend, StoreError>;

    /// Queues an entry and waits for its answer.
    ///
    /// # Errors
    /// [`StoreError::EntryIdReused`], [`StoreError::JobUnknown`], [`StoreError::JobFull`],
    /// [`StoreError::NoJobToOpen`] and [`StoreError::OutOfRange`] for the entry; nothing is stored then.
    async fn append(&self, entry: NewEntry) -> Result<Appended, StoreError> {
        self.submit(entry).await?.answer().await
    }

    /// Entries from a sequence on, in order, at most [`PAGE_ROWS_MAX`].
    async fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError>;

    /// Site entries (those without a job) from a sequence on, in order, at most [`PAGE_ROWS_MAX`].
    async fn read_site(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError>;

    /// All entries of a job in order; empty if the job is not known.
    async fn read_job(&self, job: JobId) -> Result<Vec<StoredEntry>, StoreError>;

    /// One entry by its id.
    async fn entry(&self, entry_id: EntryId) -> Result<Option<StoredEntry>, StoreError>;

    /// One job by its id.
    async fn job(&self, job: JobId) -> Result<Option<JobRow>, StoreError>;

    /// One job by its printed number.
    async fn job_by_number(&self, number: JobNumber) -> Result<Option<JobRow>, StoreError>;

    /// Jobs with a smaller number than `before`, newest first, at most [`PAGE_ROWS_MAX`].
    async fn jobs(&self, before: Option<JobNumber>, limit: usize) -> Result<Vec<JobRow>, StoreError>;

    /// Waits until the journal reaches beyond an entry, and says how far; at once if it does already.
    ///
    /// # Errors
    /// Why it takes nothing more, once it has stopped.
    async fn grown_beyond(&self, seq: u64) -> Result<u64, StoreError>;

    /// How far the journal reaches.
    async fn head(&self) -> Result<Head, StoreError>;

    /// SHA-256 over the leaf hashes of a job in order; `None` if the job is not known.
    async fn job_digest(&self, job: JobId) -> Result<Option<Hash>, StoreError>;

    /// Root of the tree over the first `size` entries; `None` if there are not so many.
    async fn root_at(&self, size: u64) -> Result<Option<Hash>, StoreError>;

    /// Inclusion proof of entry `seq` in the tree of `size` entries; `None` unless 1 <= seq <= size <= head.
    async fn inclusion_proof(&self, seq: u64, size: u64) -> Result<Option<Vec<Hash>>, StoreError>;

    /// Consistency proof between two sizes; `None` unless old <= new <= head.
    async fn consistency_proof(&self, old: u64, new: u64) -> Result<Option<Vec<Hash>>, StoreError>;

    /// Numbers missing between 1 and the highest one received from a station epoch, at most [`PAGE_ROWS_MAX`] ranges.
    async fn station_gaps(&self, station: &str, epoch: Epoch)
    -> Result<Vec<RangeInclusive<u64>>, StoreError>;

    /// Highest number received from a station epoch; 0 if none was.
    async fn station_last_number(&self, station: &str, epoch: Epoch) -> Result<u64, StoreError>;

    /// Reads everything once and names what is damaged. `inspect` may object to an entry, for example because its
    /// payload disagrees with the row around it; it returns what is wrong.
    ///
    /// # Errors
    /// Only if the check itself cannot run; damage is in the report.
    async fn verify(&self, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError>;

    /// Whether the journal can take entries: `Err` says why not.
    fn health(&self) -> Result<(), StoreError>;

    /// Answers what is queued, then takes nothing more and lets the database go.
    async fn close(&self) -> Result<(), StoreError>;
}

/// An entry that was queued and is not yet answered.
#[derive(Debug)]
pub struct PendingAppend(oneshot::Receiver<Result<Appended, StoreError>>);

impl PendingAppend {
    /// The receiving end of an answer that some writer will send.
    pub(crate) fn new(receiver: oneshot::Receiver<Result<Appended, StoreError>>) -> Self {
        Self(receiver)
    }

    /// Waits until the entry is durable or refused. Dropping this does not take the entry back.
    ///
    /// # Errors
    /// See [`Journal::append`].
    pub async fn answer(self) -> Result<Appended, StoreError> {
        self.0.await.unwrap_or(Err(StoreError::Closed))
    }
}
