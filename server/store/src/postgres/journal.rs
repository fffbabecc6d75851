//! The journal trait on one site of a PostgreSQL database: appends go to the writer, reads to the reading connections.

use super::cause::failed;
use super::read::{self, DOING};
use super::writer::Command;
use super::{PostgresStore, Published, audit};
use crate::entry::{EntryId, Epoch, Head, JobId, JobNumber, JobRow, NewEntry, StoredEntry};
use crate::error::StoreError;
use crate::journal::{Journal, PAGE_ROWS_MAX, PendingAppend};
use crate::replica::{Copied, Replica, ReplicaBatch, Replicated};
use crate::row::{self, ascending, signed, unsigned};
use crate::tree::{self, Hash, consistency_ranges, inclusion_ranges};
use crate::verify::{Inspect, VerifyReport};
use async_trait::async_trait;
use std::ops::RangeInclusive;
use tokio::sync::oneshot;

const GAPS: &str = "select previous + 1, station_number - 1 from \
    (select station_number, lag(station_number, 1, 0::bigint) over (order by station_number) as previous from entry \
        where site = $1 and stream_first_seq = \
            (select first_seq from station_stream where site = $1 and station = $2 and station_epoch = $3)) numbers \
    where station_number > previous + 1 order by station_number limit $4";
const LAST_NUMBER: &str = "select coalesce(max(station_number), 0)::bigint from entry \
    where site = $1 and stream_first_seq = \
        (select first_seq from station_stream where site = $1 and station = $2 and station_epoch = $3)";

/// A page's row limit as SQL takes it.
pub(super) fn capped(limit: usize) -> i64 {
    i64::try_from(limit.min(PAGE_ROWS_MAX)).unwrap_or(i64::MAX)
}

#[async_trait]
impl Replica for PostgresStore {
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
impl Journal for PostgresStore {
    async fn submit(&self, entry: NewEntry) -> Result<PendingAppend, StoreError> {
        self.health()?;
        let commands = self.commands.as_ref().ok_or(StoreError::OpenedForReading)?;
        let (answer, receiver) = oneshot::channel();
        commands.send(Command::Append { entry, answer }).await.map_err(|_| StoreError::Closed)?;
        Ok(PendingAppend::new(receiver))
    }

    async fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        let query = self.of_site(read::ENTRIES_FROM).bind(signed(from_seq)).bind(capped(limit));
        ascending(self.entries(query).await?, from_seq)
    }

    async fn read_site(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        let query = self.of_site(read::SITE_ENTRIES_FROM).bind(signed(from_seq)).bind(capped(limit));
        ascending(self.entries(query).await?, from_seq)
    }

    async fn read_job(&self, job: JobId) -> Result<Vec<StoredEntry>, StoreError> {
        let query = self.of_site(read::ENTRIES_OF_JOB).bind(job.0);
        row::of_job(ascending(self.entries(query).await?, 1)?, job)
    }

    async fn entry(&self, entry_id: EntryId) -> Result<Option<StoredEntry>, StoreError> {
        Ok(self.entries(self.of_site(read::ENTRY_BY_ID).bind(entry_id.0)).await?.pop())
    }

    async fn job(&self, job: JobId) -> Result<Option<JobRow>, StoreError> {
        Ok(self.job_rows(self.of_site(read::JOB_BY_ID).bind(job.0)).await?.pop())
    }

    async fn job_by_number(&self, number: JobNumber) -> Result<Option<JobRow>, StoreError> {
        let query = self.of_site(read::JOB_BY_NUMBER);
        let query = query.bind(i64::from(number.year)).bind(i64::from(number.ordinal));
        Ok(self.job_rows(query).await?.pop())
    }

    async fn jobs(&self, before: Option<JobNumber>, limit: usize) -> Result<Vec<JobRow>, StoreError> {
        let query = match before {
            Some(number) => {
                let query = self.of_site(read::JOBS_BEFORE);
                query.bind(i64::from(number.year)).bind(i64::from(number.ordinal))
            }
            None => self.of_site(read::JOBS_NEWEST),
        };
        self.job_rows(query.bind(capped(limit))).await
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
        let leaves = self.job_leaves(job).await?;
        Ok((!leaves.is_empty()).then(|| tree::job_digest(&leaves)))
    }

    async fn root_at(&self, size: u64) -> Result<Option<Hash>, StoreError> {
        if size > self.published.borrow().head.seq {
            return Ok(None);
        }
        let whole = std::iter::once(0..size).collect();
        Ok(self.range_roots(whole).await?.pop())
    }

    async fn inclusion_proof(&self, seq: u64, size: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        let there = size <= self.published.borrow().head.seq;
        let ranges = seq.checked_sub(1).filter(|_| there).and_then(|index| inclusion_ranges(index, size));
        match ranges {
            Some(ranges) => Ok(Some(self.range_roots(ranges).await?)),
            None => Ok(None),
        }
    }

    async fn consistency_proof(&self, old: u64, new: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        let there = new <= self.published.borrow().head.seq;
        match consistency_ranges(old, new).filter(|_| there) {
            Some(ranges) => Ok(Some(self.range_roots(ranges).await?)),
            None => Ok(None),
        }
    }

    async fn station_gaps(
        &self,
        station: &str,
        epoch: Epoch,
    ) -> Result<Vec<RangeInclusive<u64>>, StoreError> {
        let query = self.of_site(GAPS).bind(station.to_owned()).bind(epoch).bind(capped(PAGE_ROWS_MAX));
        let failed = |error: sqlx::Error| failed(DOING, &error);
        let rows = self.fetch(DOING, query).await?;
        rows.iter()
            .map(|row| Ok(unsigned(row, 0).map_err(failed)?..=unsigned(row, 1).map_err(failed)?))
            .collect()
    }

    async fn station_last_number(&self, station: &str, epoch: Epoch) -> Result<u64, StoreError> {
        let query = self.of_site(LAST_NUMBER).bind(station.to_owned()).bind(epoch);
        let rows = self.fetch(DOING, query).await?;
        let last = rows.first().map(|row| unsigned(row, 0)).transpose();
        Ok(last.map_err(|error| failed(DOING, &error))?.unwrap_or(0))
    }

    async fn verify(&self, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError> {
        audit::verify(self, inspect).await
    }

    fn health(&self) -> Result<(), StoreError> {
        self.published.borrow().health()
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
