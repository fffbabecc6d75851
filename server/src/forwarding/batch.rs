//! A batch for the owner's server: entries of the journal as they stand there, with the roots before and after, and the
//! catalogue revisions that they adopt.
//!
//! What crosses is what stands here and nothing else: sealed entries, times, places, printed numbers, files of catalogues.
//! Called by [`super::link`]. Never here: customers, names of persons, files beside the journal; no handle to them is held.

use super::intake::forwarded;
use crate::convert::signed;
use prost::Message as _;
use standpipe_proto::limits::{FORWARD_BYTES_MAX, FORWARD_ENTRIES_MAX};
use standpipe_proto::v1::{self, Entry, fact::Kind};
use standpipe_store::tree::Frontier;
use standpipe_store::{JobId, JobRow, Journal, StoreError, StoredEntry};
use std::collections::{BTreeSet, HashMap};

/// Entries that follow on another in a journal.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Batch {
    /// Ready to be sent.
    pub(crate) request: v1::ForwardEntriesRequest,
    /// Place of the last of them.
    pub(crate) last_seq: u64,
    /// Revisions that they adopt.
    pub(crate) revisions: BTreeSet<String>,
    /// The tree up to the last of them, for the batch after it.
    pub(crate) after: Frontier,
}

/// The entries from a place on, `most` of them or as many as fit into a batch; nothing if there are none. `before` is the
/// tree over what comes before them, as the batch before gave it; it is made from the journal where it is not that.
///
/// # Errors
/// When they cannot be read.
pub(crate) async fn batch(
    journal: &dyn Journal,
    first_seq: u64,
    most: usize,
    before: Option<Frontier>,
) -> Result<Option<Batch>, StoreError> {
    let head = journal.head().await?;
    let mut stored = journal.read(first_seq, most.clamp(1, FORWARD_ENTRIES_MAX)).await?;
    // A row can be read a moment before the journal says that it reaches so far, and no root is known there yet.
    stored.retain(|entry| entry.seq <= head.seq);
    stored.truncate(fitting(&stored));
    let Some(last_seq) = stored.last().map(|last| last.seq) else { return Ok(None) };
    let before = before.filter(|before| before.size() == first_seq.saturating_sub(1));
    let mut tree = match before {
        Some(before) => before,
        None => tree_before(journal, first_seq).await?,
    };
    let root_before = tree.root();
    for entry in &stored {
        tree.append(entry.leaf_hash);
    }
    let root_after = tree.root();
    let revisions = stored.iter().filter_map(adopted).collect();
    let mut jobs = HashMap::new();
    let mut entries = Vec::with_capacity(stored.len());
    for entry in stored {
        let opened = opened(journal, &mut jobs, &entry).await?;
        entries.push(forwarded(entry, opened.map(|job| job.number)));
    }
    let request = v1::ForwardEntriesRequest {
        site_id: head.site,
        epoch: head.epoch.to_vec(),
        first_seq: signed(first_seq),
        root_before: root_before.to_vec(),
        entries,
        root_after: root_after.to_vec(),
    };
    Ok(Some(Batch { request, last_seq, revisions, after: tree }))
}

/// How many entries fit into one batch; at least one, if there are any.
fn fitting(entries: &[StoredEntry]) -> usize {
    let mut bytes = 0;
    let fits = entries.iter().take_while(|entry| {
        bytes += entry.bytes.len();
        bytes <= FORWARD_BYTES_MAX
    });
    fits.count().max(1)
}

/// The tree over everything before an entry that is there. What proves that an entry is the last of a tree (RFC 6962
/// section 2.1.1) are the full subtrees before it, the smallest first.
async fn tree_before(journal: &dyn Journal, seq: u64) -> Result<Frontier, StoreError> {
    let size = seq.saturating_sub(1);
    let missing = || StoreError::Damaged {
        seq: Some(size),
        job_number: None,
        what: "the tree over the entries up to here cannot be read".to_owned(),
    };
    let mut subtrees = journal.inclusion_proof(seq, seq).await?.ok_or_else(missing)?;
    subtrees.reverse();
    Frontier::decode(size, &subtrees.concat()).ok_or_else(missing)
}

/// The job that an entry opened; nothing if it opened none.
async fn opened(
    journal: &dyn Journal,
    jobs: &mut HashMap<JobId, Option<JobRow>>,
    entry: &StoredEntry,
) -> Result<Option<JobRow>, StoreError> {
    let Some(id) = entry.job else { return Ok(None) };
    let job = match jobs.get(&id) {
        Some(job) => job.clone(),
        None => {
            let job = journal.job(id).await?;
            jobs.insert(id, job.clone());
            job
        }
    };
    Ok(job.filter(|job| job.first_seq == entry.seq))
}

/// The revision that an entry adopts.
fn adopted(entry: &StoredEntry) -> Option<String> {
    if entry.job.is_some() {
        return None;
    }
    // An entry that cannot be decoded adopts nothing, here as everywhere.
    match Entry::decode(&*entry.bytes).ok()?.fact?.kind? {
        Kind::CatalogueAdopted(adopted) => Some(adopted.revision_id),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_proto::Bytes;
    use standpipe_store::{EntryId, MemoryStore, NewEntry};

    fn new(number: u64, bytes: usize) -> NewEntry {
        let mut id = [0; 16];
        id[8..].copy_from_slice(&number.to_be_bytes());
        NewEntry {
            entry_id: EntryId(id),
            job: Some(JobId([u8::try_from(number % 3).unwrap(); 16])),
            opens_job: true,
            station: "bay-1".to_owned(),
            station_epoch: [1; 16],
            station_number: number,
            received_us: 1_773_820_800_000_000,
            year: 2026,
            bytes: Bytes::from(vec![7; bytes]),
        }
    }

    #[tokio::test]
    async fn forwarding_cuts_batches_by_entries_and_bytes_and_leaves_nothing_out() {
        for (entries, bytes) in [(2_500, 10), (40, 60_000), (1, 10)] {
            let journal = MemoryStore::new("harbour-lane", [9; 16]);
            for number in 1..=entries {
                journal.append(new(number, bytes)).await.unwrap();
            }
            let (mut next, mut opened, mut tree) = (1, Vec::new(), None);
            while let Some(batch) = batch(&journal, next, FORWARD_ENTRIES_MAX, tree.take()).await.unwrap() {
                let of = &batch.request.entries;
                assert!((1..=FORWARD_ENTRIES_MAX).contains(&of.len()));
                let together: usize = of.iter().map(|entry| entry.entry.len()).sum();
                assert!(together <= FORWARD_BYTES_MAX, "{together}");
                assert_eq!(of.len() as u64, batch.last_seq - next + 1);
                let before = journal.root_at(next - 1).await.unwrap().unwrap();
                let after = journal.root_at(batch.last_seq).await.unwrap().unwrap();
                assert_eq!(
                    (&*batch.request.root_before, &*batch.request.root_after),
                    (&before[..], &after[..])
                );
                opened.extend(of.iter().map(|entry| entry.job_ordinal).filter(|ordinal| *ordinal > 0));
                next = batch.last_seq + 1;
                tree = Some(batch.after);
            }
            assert_eq!(next, entries + 1);
            let jobs = i32::try_from(entries.min(3)).unwrap();
            assert_eq!(opened, (1..=jobs).collect::<Vec<_>>(), "each job's number goes with its first entry");
        }
    }

    #[tokio::test]
    async fn forwarding_makes_the_tree_before_a_batch_from_the_journal_where_it_lost_it() {
        let journal = MemoryStore::new("harbour-lane", [9; 16]);
        for number in 1..=70 {
            journal.append(new(number, 10)).await.unwrap();
        }
        for next in 1..=70 {
            // A tree of another place is none of this batch.
            let batch = batch(&journal, next, 3, Some(Frontier::default())).await.unwrap().unwrap();
            assert_eq!(batch.last_seq, (next + 2).min(70));
            let before = journal.root_at(next - 1).await.unwrap().unwrap();
            let after = journal.root_at(batch.last_seq).await.unwrap().unwrap();
            assert_eq!((&*batch.request.root_before, &*batch.request.root_after), (&before[..], &after[..]));
        }
        assert_eq!(batch(&journal, 71, 3, None).await.unwrap(), None);
    }
}
