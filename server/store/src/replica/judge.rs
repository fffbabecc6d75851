//! Whether a batch of another copy of the journal goes on from what is here: a state machine without I/O. A writer hands in
//! what it read of the places that the batch covers, then the plan of what is new; both must give what the batch says of
//! itself. The writers of both databases call it; the reference store has its own.

use super::ReplicaBatch;
use crate::batch::Plan;
use crate::entry::{EntryId, Epoch, JobNumber, NewEntry};
use crate::error::StoreError;
use crate::tree::{Frontier, Hash, entry_leaf_hash};
use std::collections::HashMap;

/// A batch with its entries as the planner takes them.
#[derive(Debug)]
pub(crate) struct Copied {
    pub epoch: Epoch,
    pub first_seq: u64,
    pub entries: Vec<NewEntry>,
    root_before: Hash,
    root_after: Hash,
    /// Printed numbers of the jobs that the entries opened.
    numbers: Vec<Option<JobNumber>>,
}

/// An entry that is here already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Known {
    pub entry_id: EntryId,
    pub leaf_hash: Hash,
    /// Printed number of the job that it opened.
    pub number: Option<JobNumber>,
}

impl Copied {
    pub(crate) fn of(batch: ReplicaBatch) -> Self {
        let ReplicaBatch { epoch, first_seq, root_before, entries, root_after } = batch;
        let (entries, numbers) = entries.into_iter().map(|one| (one.entry, one.number)).unzip();
        Self { epoch, first_seq, entries, root_before, root_after, numbers }
    }

    /// Entries before the first of them.
    pub(crate) fn before(&self) -> u64 {
        self.first_seq.saturating_sub(1)
    }

    /// How many of them are among the first `here` entries.
    pub(crate) fn overlap(&self, here: u64) -> Result<usize, StoreError> {
        if self.first_seq == 0 {
            let greatest = i64::MAX as u64;
            return Err(StoreError::OutOfRange { field: "first_seq", value: 0, least: 1, greatest });
        }
        let there =
            here.checked_sub(self.before()).ok_or(StoreError::Gap { first_seq: self.first_seq, here })?;
        Ok(usize::try_from(there).unwrap_or(usize::MAX).min(self.entries.len()))
    }

    /// Entries that are not here yet.
    pub(crate) fn new_entries(&self, overlap: usize) -> &[NewEntry] {
        self.entries.get(overlap..).unwrap_or_default()
    }

    /// Compares what is here with its first entries; gives the tree after them.
    pub(crate) fn compare(&self, before: Frontier, known: &[Known]) -> Result<Frontier, StoreError> {
        if before.root() != self.root_before {
            return Err(another_past(self.first_seq, "the root before it"));
        }
        let mut tree = before;
        for ((entry, number), known) in self.entries.iter().zip(&self.numbers).zip(known) {
            let seq = tree.size() + 1;
            let leaf_hash = entry_leaf_hash(seq, entry.received_us, &entry.bytes);
            if leaf_hash != known.leaf_hash {
                return Err(another_past(seq, "its leaf"));
            }
            if entry.entry_id != known.entry_id {
                return Err(another_past(seq, "its id"));
            }
            if *number != known.number {
                return Err(another_past(seq, "the number of its job"));
            }
            tree.append(leaf_hash);
        }
        Ok(tree)
    }

    /// Requires that nothing new is refused, that each stands where it should, and that numbers and root come out the same.
    pub(crate) fn confirm(&self, overlap: usize, plan: &Plan) -> Result<(), StoreError> {
        let opened: HashMap<u64, JobNumber> =
            plan.new_jobs.iter().map(|job| (job.first_seq, job.number)).collect();
        let numbers = self.numbers.get(overlap..).unwrap_or_default();
        for ((answer, number), seq) in plan.answers.iter().zip(numbers).zip(self.first_seq + overlap as u64..)
        {
            match answer {
                Ok(answer) if answer.repeated || answer.seq != seq => {
                    return Err(another_past(seq, "its id"));
                }
                Err(StoreError::EntryIdReused { .. }) => return Err(another_past(seq, "its id")),
                Err(refused) => return Err(refused.clone()),
                Ok(_) if opened.get(&seq) != number.as_ref() => {
                    return Err(another_past(seq, "the number of its job"));
                }
                Ok(_) => {}
            }
        }
        self.confirm_root(&plan.frontier)
    }

    /// Requires the root after the last of them.
    pub(crate) fn confirm_root(&self, tree: &Frontier) -> Result<(), StoreError> {
        if tree.root() == self.root_after {
            return Ok(());
        }
        Err(another_past(self.before() + self.entries.len() as u64, "the root after it"))
    }
}

fn another_past(seq: u64, what: &'static str) -> StoreError {
    StoreError::AnotherPast { seq, what }
}
