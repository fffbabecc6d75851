//! The reference store: one site in plain lists, searched from end to end, with the tree computed by definition. It
//! shares no code with the other stores' writers, so that comparing them means something. For tests and trials; what
//! it holds is gone when it is dropped.

mod audit_book;
mod beside;
mod replica;
mod tallies;
mod tokens;

use crate::entry::{Appended, EntryId, Epoch, Head, JobId, JobNumber, JobRow, NewEntry, StoredEntry};
use crate::error::StoreError;
use crate::journal::{JOB_ENTRIES_MAX, Journal, PAGE_ROWS_MAX, PendingAppend};
use crate::tree::{self, Hash};
use crate::verify::{Audit, AuditRow, Inspect, VerifyReport};
use async_trait::async_trait;
use audit_book::KeptAudit;
use beside::Kept;
use replica::KeptForwarded;
use std::ops::RangeInclusive;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tallies::KeptTallies;
use tokio::sync::{oneshot, watch};

/// One site in memory.
#[derive(Debug)]
pub struct MemoryStore {
    site: String,
    job_entries_max: u64,
    state: Mutex<State>,
    /// Entries, and whether it is closed, for those who wait.
    reach: watch::Sender<(u64, bool)>,
}

#[derive(Debug, Default)]
struct State {
    entries: Vec<StoredEntry>,
    jobs: Vec<(JobId, JobNumber)>,
    closed: bool,
    epoch: Epoch,
    kept: Kept,
    audit: KeptAudit,
    forwarded: KeptForwarded,
    tallies: KeptTallies,
}

impl MemoryStore {
    /// An empty journal.
    pub fn new(site: impl Into<String>, epoch: Epoch) -> Self {
        Self {
            site: site.into(),
            job_entries_max: JOB_ENTRIES_MAX,
            state: Mutex::new(State { epoch, ..State::default() }),
            reach: watch::Sender::new((0, false)),
        }
    }

    /// The same with another limit of entries a job, at least 1.
    pub fn with_job_entries_max(mut self, limit: u64) -> Self {
        self.job_entries_max = limit.max(1);
        self
    }

    /// Takes entries again after [`Journal::close`], as opening a file again would.
    pub fn reopen(&self) {
        self.state().closed = false;
        self.tell();
    }

    fn tell(&self) {
        let state = self.state();
        self.reach.send_replace((state.entries.len() as u64, state.closed));
    }

    fn state(&self) -> MutexGuard<'_, State> {
        // A panic elsewhere leaves no half-made change behind: each append pushes only at its end.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn append(&mut self, new: NewEntry, job_entries_max: u64) -> Result<Appended, StoreError> {
        if let Some(first) = self.entries.iter().find(|stored| stored.entry_id == new.entry_id) {
            if first.bytes != new.bytes {
                return Err(StoreError::EntryIdReused { entry_id: new.entry_id, seq: first.seq });
            }
            return Ok(Appended { repeated: true, ..self.answer(first) });
        }
        if new.station_number > i64::MAX as u64 {
            let greatest = i64::MAX as u64;
            return Err(StoreError::OutOfRange {
                field: "station_number",
                value: new.station_number,
                least: 0,
                greatest,
            });
        }
        match new.job {
            None if new.opens_job => return Err(StoreError::NoJobToOpen { entry_id: new.entry_id }),
            None => {}
            Some(job) if self.number(job).is_some() => {
                let entries = self.entries.iter().filter(|stored| stored.job == Some(job)).count() as u64;
                if entries >= job_entries_max {
                    return Err(StoreError::JobFull { job, limit: job_entries_max });
                }
            }
            Some(job) if new.opens_job => {
                let earlier = self.jobs.iter().filter(|(_, number)| number.year == new.year).count() as u32;
                self.jobs.push((job, JobNumber { year: new.year, ordinal: earlier + 1 }));
            }
            Some(job) => return Err(StoreError::JobUnknown { job }),
        }
        let seq = self.entries.len() as u64 + 1;
        let stored = StoredEntry {
            seq,
            entry_id: new.entry_id,
            job: new.job,
            station: new.station,
            station_epoch: new.station_epoch,
            station_number: new.station_number,
            received_us: new.received_us,
            leaf_hash: tree::entry_leaf_hash(seq, new.received_us, &new.bytes),
            bytes: new.bytes,
        };
        let answer = self.answer(&stored);
        self.entries.push(stored);
        Ok(answer)
    }

    /// The first answer of an entry that is stored or about to be.
    fn answer(&self, stored: &StoredEntry) -> Appended {
        let same_place = |other: &StoredEntry| {
            other.seq < stored.seq
                && other.station == stored.station
                && other.station_epoch == stored.station_epoch
                && other.station_number == stored.station_number
        };
        Appended {
            seq: stored.seq,
            received_us: stored.received_us,
            job_number: stored.job.and_then(|job| self.number(job)),
            repeated: false,
            station_number_reused: self.entries.iter().any(same_place),
        }
    }

    fn number(&self, job: JobId) -> Option<JobNumber> {
        self.jobs.iter().find(|(known, _)| *known == job).map(|(_, number)| *number)
    }

    fn job(&self, job: JobId) -> Option<JobRow> {
        let number = self.number(job)?;
        let entries: Vec<u64> = self.entries.iter().filter(|e| e.job == Some(job)).map(|e| e.seq).collect();
        Some(JobRow {
            job_id: job,
            number,
            first_seq: *entries.first()?,
            last_seq: *entries.last()?,
            entries: entries.len() as u64,
        })
    }

    fn leaves(&self, size: u64) -> Option<Vec<Hash>> {
        let size = usize::try_from(size).ok()?;
        Some(self.entries.get(..size)?.iter().map(|entry| entry.leaf_hash).collect())
    }

    fn page(&self, from_seq: u64, limit: usize, wanted: impl Fn(&StoredEntry) -> bool) -> Vec<StoredEntry> {
        let later = self.entries.iter().filter(|entry| entry.seq >= from_seq && wanted(entry));
        later.take(limit.min(PAGE_ROWS_MAX)).cloned().collect()
    }
}

#[async_trait]
impl Journal for MemoryStore {
    async fn submit(&self, entry: NewEntry) -> Result<PendingAppend, StoreError> {
        self.health()?;
        let (answer, receiver) = oneshot::channel();
        // The caller holds the receiver, so the answer always arrives.
        let _ = answer.send(self.state().append(entry, self.job_entries_max));
        self.tell();
        Ok(PendingAppend::new(receiver))
    }

    async fn read(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        Ok(self.state().page(from_seq, limit, |_| true))
    }

    async fn read_site(&self, from_seq: u64, limit: usize) -> Result<Vec<StoredEntry>, StoreError> {
        Ok(self.state().page(from_seq, limit, |entry| entry.job.is_none()))
    }

    async fn read_job(&self, job: JobId) -> Result<Vec<StoredEntry>, StoreError> {
        Ok(self.state().entries.iter().filter(|entry| entry.job == Some(job)).cloned().collect())
    }

    async fn entry(&self, entry_id: EntryId) -> Result<Option<StoredEntry>, StoreError> {
        Ok(self.state().entries.iter().find(|entry| entry.entry_id == entry_id).cloned())
    }

    async fn job(&self, job: JobId) -> Result<Option<JobRow>, StoreError> {
        Ok(self.state().job(job))
    }

    async fn job_by_number(&self, number: JobNumber) -> Result<Option<JobRow>, StoreError> {
        let state = self.state();
        let job = state.jobs.iter().find(|(_, known)| *known == number);
        Ok(job.and_then(|(job, _)| state.job(*job)))
    }

    async fn jobs(&self, before: Option<JobNumber>, limit: usize) -> Result<Vec<JobRow>, StoreError> {
        let state = self.state();
        let mut jobs: Vec<JobRow> = state.jobs.iter().filter_map(|(job, _)| state.job(*job)).collect();
        jobs.retain(|job| before.is_none_or(|before| job.number < before));
        jobs.sort_by_key(|job| std::cmp::Reverse(job.number));
        jobs.truncate(limit.min(PAGE_ROWS_MAX));
        Ok(jobs)
    }

    async fn grown_beyond(&self, seq: u64) -> Result<u64, StoreError> {
        let mut reach = self.reach.subscribe();
        // The sender lives as long as the store, so waiting ends only by growing or closing.
        let reached = reach.wait_for(|(reached, closed)| *reached > seq || *closed).await;
        match reached.map(|reached| *reached) {
            Ok((reached, _)) if reached > seq => Ok(reached),
            _ => Err(StoreError::Closed),
        }
    }

    async fn head(&self) -> Result<Head, StoreError> {
        let state = self.state();
        let seq = state.entries.len() as u64;
        let root = tree::root_of(&state.leaves(seq).unwrap_or_default());
        Ok(Head { seq, root, epoch: state.epoch, site: self.site.clone() })
    }

    async fn job_digest(&self, job: JobId) -> Result<Option<Hash>, StoreError> {
        let state = self.state();
        let leaves =
            state.entries.iter().filter(|entry| entry.job == Some(job)).map(|entry| &entry.leaf_hash);
        Ok(state.number(job).map(|_| tree::job_digest(leaves)))
    }

    async fn root_at(&self, size: u64) -> Result<Option<Hash>, StoreError> {
        Ok(self.state().leaves(size).map(|leaves| tree::root_of(&leaves)))
    }

    async fn inclusion_proof(&self, seq: u64, size: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        let leaves = self.state().leaves(size);
        Ok(leaves.zip(seq.checked_sub(1)).and_then(|(leaves, index)| tree::inclusion_proof(&leaves, index)))
    }

    async fn consistency_proof(&self, old: u64, new: u64) -> Result<Option<Vec<Hash>>, StoreError> {
        Ok(self.state().leaves(new).and_then(|leaves| tree::consistency_proof(&leaves, old)))
    }

    async fn station_gaps(
        &self,
        station: &str,
        epoch: Epoch,
    ) -> Result<Vec<RangeInclusive<u64>>, StoreError> {
        let state = self.state();
        let own =
            state.entries.iter().filter(|entry| entry.station == station && entry.station_epoch == epoch);
        let mut numbers: Vec<u64> = own.map(|entry| entry.station_number).collect();
        numbers.sort_unstable();
        let mut gaps = Vec::new();
        let mut last = 0;
        for number in numbers {
            if number > last + 1 && gaps.len() < PAGE_ROWS_MAX {
                gaps.push(last + 1..=number - 1);
            }
            last = number;
        }
        Ok(gaps)
    }

    async fn station_last_number(&self, station: &str, epoch: Epoch) -> Result<u64, StoreError> {
        let state = self.state();
        let own =
            state.entries.iter().filter(|entry| entry.station == station && entry.station_epoch == epoch);
        Ok(own.map(|entry| entry.station_number).max().unwrap_or(0))
    }

    async fn verify(&self, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError> {
        let head = self.head().await?;
        let state = self.state();
        let mut audit = Audit::new(inspect);
        for entry in &state.entries {
            let job = entry.job.and_then(|job| state.job(job));
            audit.entry(&AuditRow {
                entry: entry.clone(),
                job_first_seq: job.as_ref().map(|job| job.first_seq),
                job_number: job.map(|job| job.number),
                station_known: true,
            });
        }
        let mut jobs: Vec<JobRow> = state.jobs.iter().filter_map(|(job, _)| state.job(*job)).collect();
        jobs.sort_by_key(|job| job.number);
        for job in jobs {
            audit.job(job.job_id, job.number, job.first_seq, true);
        }
        Ok(audit.finish(self.site.clone(), state.epoch, Some((head.seq, head.root))))
    }

    fn health(&self) -> Result<(), StoreError> {
        if self.state().closed { Err(StoreError::Closed) } else { Ok(()) }
    }

    async fn close(&self) -> Result<(), StoreError> {
        self.state().closed = true;
        self.tell();
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conformance::{self, Maker};
    use std::sync::Arc;

    struct InMemory;

    #[async_trait]
    impl Maker for InMemory {
        type Store = MemoryStore;

        async fn make(&self, site: &str, epoch: Epoch, job_entries_max: u64) -> Arc<MemoryStore> {
            Arc::new(MemoryStore::new(site, epoch).with_job_entries_max(job_entries_max))
        }

        async fn reopen(&self, store: Arc<MemoryStore>, _job_entries_max: u64) -> Arc<MemoryStore> {
            store.reopen();
            store
        }
    }

    #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
    async fn the_memory_store_keeps_the_promises() {
        conformance::run(&InMemory).await;
    }
}
