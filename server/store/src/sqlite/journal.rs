//! The journal trait on one SQLite file: appends go to the writer, reads to the reading connections.

use super::cause::failed;
use super::insert::signed;
use super::read::{self, unsigned};
use super::writer::Command;
use super::{Published, SqliteStore, audit};
use crate::entry::{EntryId, Epoch, Head, JobId, JobNumber, JobRow, NewEntry, StoredEntry};
use crate::error::StoreError;
use crate::journal::{Journal, PAGE_ROWS_MAX, PendingAppend};
use crate::replica::{Copied, Replica, ReplicaBatch, Replicated};
use crate::row;
use crate::tree::{self, Hash, consistency_ranges, inclusion_ranges};
use crate::verify::{Inspect, VerifyReport};
use async_trait::async_trait;
use std::ops::RangeInclusive;
use tokio::sync::oneshot;

const GAPS: &str = "select previous + 1, station_number - 1 from \
    (select station_number, lag(station_number, 1, 0) over (order by station_number) as previous from entry \
        where stream_first_seq = (select first_seq from station_stream where station = ? and station_epoch = ?)) \
    where station_number > previous + 1 order by station_number limit ?";
const LAST_NUMBER: &str = "select coalesce(max(station_number), 0) from entry \
    where stream_first_seq = (select first_seq from station_stream where station = ? and station_epoch = ?)";

/// A page's row limit as SQL takes it.
fn capped(limit: usize) -> i64 {
    i64::try_from(limit.min(PAGE_ROWS_MAX)).unwrap_or(i64::MAX)
}

#[async_trait]
impl Replica for SqliteStore {
    async fn replicate(&self, batch: ReplicaBatch) -> Result<Replicated, StoreError> {
        self.health()?;
        let commands = self.commands.as_ref().ok_or(StoreError::OpenedForReading)?;
        let (answer, receiver) = oneshot::channel();
        let command = Command::Replicate { copied: Copied::of(batch), answer };
        commands.send(command).await.map_err(|_| StoreError::Closed)?;
        receiver.await.unwrap_or(Err(StoreError::Closed))
    }
}

#[async_trait]
impl Journal for SqliteStore {
    async fn submit(&self, entry: NewEntry) -> Result<PendingAppend, StoreError> {
        self.health()?;
        let commands = self.commands.as_ref().ok_or(StoreError::OpenedForReading)?;
        let (answer, receiver) = oneshot::channel();
        commands.send(Command::Append { entry, answer }).await.map_err(|_| StoreError::Closed)?;
        Ok(PendingAppend::new(receiver))
    }

    async fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        let query = sqlx::query(read::ENTRIES_FROM).bind(signed(from_seq)).bind(capped(limit));
        read::ascending(read::entries(&self.readers, query).await?, from_seq)
    }

    async fn read_site(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        let query = sqlx::query(read::SITE_ENTRIES_FROM).bind(signed(from_seq)).bind(capped(limit));
        read::ascending(read::entries(&self.readers, query).await?, from_seq)
    }

    async fn read_job(&self, job: JobId) -> Result<Vec<StoredEntry>, StoreError> {
        let query = sqlx::query(read::ENTRIES_OF_JOB).bind(job.0.to_vec());
        row::of_job(read::ascending(read::entries(&self.readers, query).await?, 1)?, job)
    }

    async fn entry(&self, entry_id: EntryId) -> Result<Option<StoredEntry>, StoreError> {
        let query = sqlx::query(read::ENTRY_BY_ID).bind(entry_id.0.to_vec());
        Ok(read::entries(&self.readers, query).await?.pop())
    }

    async fn job(&self, job: JobId) -> Result<Option<JobRow>, StoreError> {
        let query = sqlx::query(read::JOB_BY_ID).bind(job.0.to_vec());
        Ok(read::jobs(&self.readers, query).await?.pop())
    }

    async fn job_by_number(&self, number: JobNumber) -> Result<Option<JobRow>, StoreError> {
        let query = sqlx::query(read::JOB_BY_NUMBER).bind(number.year).bind(number.ordinal);
        Ok(read::jobs(&self.readers, query).await?.pop())
    }

    async fn jobs(&self, before: Option<JobNumber>, limit: usize) -> Result<Vec<JobRow>, StoreError> {
        let query = match before {
            Some(number) => sqlx::query(read::JOBS_BEFORE).bind(number.year).bind(number.ordinal),
            None => sqlx::query(read::JOBS_NEWEST),
        };
        read::jobs(&self.readers, query.bind(capped(limit))).await
    }

    async fn grown_beyond(&self, seq: u64) -> Result<u64, StoreError> {
        let mut published = self.published.clone();
        let wanted = |published: &Published| published.head.seq > seq || published.stopped.is_some();
        let published = published.wait_for(wanted).await.map_err(|_| StoreError::Closed)?;
        match &published.stopped {
            Some(stopped) if published.head.seq <= seq => Err(stopped.clone()),
            _ => Ok(published.head.seq),
        }
    }

    async fn head(&self) -> Result<Head, StoreError> {
        Ok(self.published.borrow().head.clone())
    }

    async fn job_digest(&self, job: JobId) -> Result<Option<Hash>, StoreError> {
        let leaves = read::job_leaves(&self.readers, job).await?;
        Ok((!leaves.is_empty()).then(|| tree::job_digest(&leaves)))
    }

    async fn root_at(&self, size: u64) -> Result<Option<Hash>, StoreError> {
        if size > self.published.borrow().head.seq {
            return Ok(None);
        }
        let whole = std::iter::once(0..size).collect();
        Ok(read::range_roots(&self.readers, whole).await?.pop())
    }

    async fn inclusion_proof(&self, seq: u64, size: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        let there = size <= self.published.borrow().head.seq;
        let ranges = seq.checked_sub(1).filter(|_| there).and_then(|index| inclusion_ranges(index, size));
        match ranges {
            Some(ranges) => Ok(Some(read::range_roots(&self.readers, ranges).await?)),
            None => Ok(None),
        }
    }

    async fn consistency_proof(&self, old: u64, new: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        let there = new <= self.published.borrow().head.seq;
        match consistency_ranges(old, new).filter(|_| there) {
            Some(ranges) => Ok(Some(read::range_roots(&self.readers, ranges).await?)),
            None => Ok(None),
        }
    }

    async fn station_gaps(
        &self,
        station: &str,
        epoch: Epoch,
    ) -> Result<Vec<RangeInclusive<u64>>, StoreError> {
        let query = sqlx::query(GAPS).bind(station).bind(epoch.to_vec()).bind(capped(PAGE_ROWS_MAX));
        let failed = |error: sqlx::Error| failed("reading the journal", &error);
        let rows = query.fetch_all(&self.readers).await.map_err(failed)?;
        rows.iter()
            .map(|row| Ok(unsigned(row, 0).map_err(failed)?..=unsigned(row, 1).map_err(failed)?))
            .collect()
    }

    async fn station_last_number(&self, station: &str, epoch: Epoch) -> Result<u64, StoreError> {
        let query = sqlx::query(LAST_NUMBER).bind(station).bind(epoch.to_vec());
        let failed = |error: sqlx::Error| failed("reading the journal", &error);
        let row = query.fetch_one(&self.readers).await.map_err(failed)?;
        unsigned(&row, 0).map_err(failed)
    }

    async fn verify(&self, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError> {
        audit::verify(self, inspect).await
    }

    fn health(&self) -> Result<(), StoreError> {
        self.published.borrow().stopped.clone().map_or(Ok(()), Err)
    }

    async fn close(&self) -> Result<(), StoreError> {
        let Some(commands) = &self.commands else {
            self.readers.close().await;
            return Ok(());
        };
        let (done, receiver) = oneshot::channel();
        // A writer that is gone has closed everything already.
        if commands.send(Command::Close { done }).await.is_ok() {
            return receiver.await.unwrap_or(Ok(()));
        }
        Ok(())
    }
}
