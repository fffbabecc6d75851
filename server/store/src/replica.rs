//! A journal that is a copy of one that is written elsewhere: the owner's server keeps one for each workshop. Entries are
//! put at their places as they stand there; each leaf, the root and each printed number are made anew and must come out
//! the same. The server calls it through `dyn Replica`; what was shown by proofs before is the server's.

mod judge;

pub(crate) use judge::{Copied, Known};

use crate::entry::{Epoch, Head, JobNumber, NewEntry};
use crate::error::StoreError;
use crate::tree::Hash;
use async_trait::async_trait;

/// Entries of the other copy, without gaps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReplicaBatch {
    /// Epoch of the journal that they are from; the copy takes it on.
    pub epoch: Epoch,
    /// Place of the first of them, from 1.
    pub first_seq: u64,
    /// Root before the first of them.
    pub root_before: Hash,
    /// The entries.
    pub entries: Vec<ReplicaEntry>,
    /// Root after the last of them.
    pub root_after: Hash,
}

/// One of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReplicaEntry {
    /// The entry; `year` and `opens_job` as they were when it was appended there.
    pub entry: NewEntry,
    /// Printed number of the job that it opened; `None` if it opened none.
    pub number: Option<JobNumber>,
}

/// What was done with a batch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replicated {
    /// How far the copy reaches now; durable.
    pub head: Head,
    /// How many of the entries were new.
    pub new: u64,
}

/// A store whose journal is such a copy.
#[async_trait]
pub trait Replica: Send + Sync {
    /// Puts entries at their places, all of them or none, in one transaction with the epoch. Those that are there already
    /// are compared by their leaves and passed over. A batch without entries takes the epoch on where both roots are that
    /// of this journal at `first_seq - 1`. However many entries a job may have, none is refused for it.
    ///
    /// # Errors
    /// [`StoreError::AnotherPast`] when a root, a leaf or a number does not come out the same; [`StoreError::Gap`] when the
    /// batch begins beyond the end; nothing is kept then. Otherwise as an append.
    async fn replicate(&self, batch: ReplicaBatch) -> Result<Replicated, StoreError>;
}

/// A journal that went on differently from what is known here; written down, never merged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fork {
    /// Site whose journal it is.
    pub site: String,
    /// When it was seen first, unix microseconds.
    pub first_us: i64,
    /// When it was seen last, unix microseconds.
    pub last_us: i64,
    /// Station that brought it.
    pub station: String,
    /// How far the journal here reached when it was seen first, and its root.
    pub here: (u64, Hash),
    /// What was claimed: epoch, size and root.
    pub claimed: (Epoch, u64, Hash),
    /// When the site was in order again, unix microseconds; `None` while the fork stands.
    pub settled_us: Option<i64>,
}

/// What an owner's server keeps of those who forward. Answers mean: durable.
#[async_trait]
pub trait ForkBook: Send + Sync {
    /// Writes a fork down; the same claim of a site that was seen before only gets a later `last_us`, and one that was over
    /// stands anew, as it is seen now. At most
    /// [`FORKS_OF_SITE_MAX`] are kept of a site; those go that were seen last the longest ago.
    async fn note_fork(&self, fork: Fork) -> Result<(), StoreError>;

    /// Every fork, the latest seen first.
    async fn forks(&self) -> Result<Vec<Fork>, StoreError>;

    /// Notes that the forks of a site that stand and were not seen since a time are over, since its journal was shown to be
    /// the one known here.
    async fn settle_forks(&self, site: &str, seen_before_us: i64, at_us: i64) -> Result<(), StoreError>;

    /// Says whose journal a station brings; the first site that was said stays.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn put_station_site(&self, station_id: &str, site: &str) -> Result<(), StoreError>;

    /// Whose journal each station brings, by station.
    async fn station_sites(&self) -> Result<std::collections::BTreeMap<String, String>, StoreError>;
}

/// Most forks that are kept of one site.
pub const FORKS_OF_SITE_MAX: usize = 100;
