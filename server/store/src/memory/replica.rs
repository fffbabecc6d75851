//! A copy of a journal in plain lists, and what is kept of those who forward: the root is made by definition before and
//! after, and what does not come out the same is cut off again.

use super::{MemoryStore, State};
use crate::entry::{Head, JobNumber};
use crate::error::StoreError;
use crate::replica::{FORKS_OF_SITE_MAX, Fork, ForkBook, Replica, ReplicaBatch, ReplicaEntry, Replicated};
use crate::tree;
use async_trait::async_trait;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// What is kept of those who forward.
#[derive(Debug, Default)]
pub(super) struct KeptForwarded {
    forks: Vec<Fork>,
    station_sites: BTreeMap<String, String>,
}

impl State {
    fn replicate(&mut self, batch: &ReplicaBatch) -> Result<(), StoreError> {
        let here = self.entries.len() as u64;
        if batch.first_seq == 0 {
            let greatest = i64::MAX as u64;
            return Err(StoreError::OutOfRange { field: "first_seq", value: 0, least: 1, greatest });
        }
        let before = self.leaves(batch.first_seq - 1);
        let before = before.ok_or(StoreError::Gap { first_seq: batch.first_seq, here })?;
        let another = |seq, what| Err(StoreError::AnotherPast { seq, what });
        if tree::root_of(&before) != batch.root_before {
            return another(batch.first_seq, "the root before it");
        }
        for (one, seq) in batch.entries.iter().zip(batch.first_seq..) {
            self.replicate_one(one, seq)?;
        }
        let last = batch.first_seq - 1 + batch.entries.len() as u64;
        if self.leaves(last).map(|leaves| tree::root_of(&leaves)) != Some(batch.root_after) {
            return another(last, "the root after it");
        }
        self.epoch = batch.epoch;
        Ok(())
    }

    fn replicate_one(&mut self, one: &ReplicaEntry, seq: u64) -> Result<(), StoreError> {
        let another = |what| Err(StoreError::AnotherPast { seq, what });
        let entry = &one.entry;
        let known = usize::try_from(seq - 1).ok().and_then(|at| self.entries.get(at));
        if let Some(known) = known {
            if tree::entry_leaf_hash(seq, entry.received_us, &entry.bytes) != known.leaf_hash {
                return another("its leaf");
            }
            if known.entry_id != entry.entry_id {
                return another("its id");
            }
        } else {
            match self.append(entry.clone(), u64::MAX) {
                Ok(answer) if answer.repeated => return another("its id"),
                Err(StoreError::EntryIdReused { .. }) => return another("its id"),
                Err(refused) => return Err(refused),
                Ok(_) => {}
            }
        }
        if self.opened_at(seq) != one.number {
            return another("the number of its job");
        }
        Ok(())
    }

    /// Number of the job that an entry opened.
    fn opened_at(&self, seq: u64) -> Option<JobNumber> {
        let job = usize::try_from(seq - 1).ok().and_then(|at| self.entries.get(at))?.job?;
        self.job(job).filter(|job| job.first_seq == seq).map(|job| job.number)
    }
}

#[async_trait]
impl Replica for MemoryStore {
    async fn replicate(&self, batch: ReplicaBatch) -> Result<Replicated, StoreError> {
        let replicated = {
            let mut state = self.state();
            if state.closed {
                return Err(StoreError::Closed);
            }
            let (entries, jobs) = (state.entries.len(), state.jobs.len());
            if let Err(refused) = state.replicate(&batch) {
                state.entries.truncate(entries);
                state.jobs.truncate(jobs);
                return Err(refused);
            }
            let seq = state.entries.len() as u64;
            let root = tree::root_of(&state.leaves(seq).unwrap_or_default());
            let head = Head { seq, root, epoch: state.epoch, site: self.site.clone() };
            Replicated { head, new: seq - entries as u64 }
        };
        self.tell();
        Ok(replicated)
    }
}

#[async_trait]
impl ForkBook for MemoryStore {
    async fn note_fork(&self, fork: Fork) -> Result<(), StoreError> {
        let forks = &mut self.state().forwarded.forks;
        let same = |known: &&mut Fork| known.site == fork.site && known.claimed == fork.claimed;
        forks.retain(|known| {
            known.settled_us.is_none() || known.site != fork.site || known.claimed != fork.claimed
        });
        if let Some(known) = forks.iter_mut().find(same) {
            known.last_us = known.last_us.max(fork.last_us);
        } else {
            forks.push(fork.clone());
        }
        forks.sort_by_key(|fork| Reverse((fork.last_us, fork.first_us, fork.site.clone(), fork.claimed)));
        let mut of_site = 0;
        forks.retain(|known| {
            of_site += usize::from(known.site == fork.site);
            known.site != fork.site || of_site <= FORKS_OF_SITE_MAX
        });
        Ok(())
    }

    async fn forks(&self) -> Result<Vec<Fork>, StoreError> {
        Ok(self.state().forwarded.forks.clone())
    }

    async fn settle_forks(&self, site: &str, seen_before_us: i64, at_us: i64) -> Result<(), StoreError> {
        let forks = &mut self.state().forwarded.forks;
        let over = |fork: &&mut Fork| {
            fork.site == site && fork.last_us < seen_before_us && fork.settled_us.is_none()
        };
        for fork in forks.iter_mut().filter(over) {
            fork.settled_us = Some(at_us);
        }
        Ok(())
    }

    async fn put_station_site(&self, station_id: &str, site: &str) -> Result<(), StoreError> {
        let state = &mut self.state();
        if !state.kept.stations.contains_key(station_id) {
            return Err(StoreError::StationUnknown { id: station_id.into() });
        }
        let said = state.forwarded.station_sites.entry(station_id.into());
        said.or_insert_with(|| site.into());
        Ok(())
    }

    async fn station_sites(&self) -> Result<BTreeMap<String, String>, StoreError> {
        Ok(self.state().forwarded.station_sites.clone())
    }
}
