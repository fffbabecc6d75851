//! What a full check of a journal reports, and the checker both stores feed their rows to. No I/O: rows come in
//! journal order, one at a time, and nothing is kept of them but the tree's frontier and what is damaged.

use crate::entry::{Epoch, JobId, JobNumber, StoredEntry};
use crate::tree::{Frontier, Hash, entry_leaf_hash};
use sha2::{Digest as _, Sha256};
use std::fmt;

/// May object to an entry by returning what is wrong with it.
pub type Inspect<'a> = &'a mut (dyn FnMut(&StoredEntry) -> Option<String> + Send);

/// Most damages a report lists; all are counted.
const DAMAGES_LISTED_MAX: usize = 100;

/// Guards name and epoch of a site, which stand nowhere else in a database.
pub(crate) fn identity(site: &str, epoch: Epoch) -> Hash {
    Sha256::new().chain_update(epoch).chain_update(site).finalize().into()
}

/// Outcome of a full check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifyReport {
    /// Name of the site.
    pub site: String,
    /// The journal's epoch.
    pub epoch: Epoch,
    /// Entries read.
    pub entries: u64,
    /// Jobs read.
    pub jobs: u64,
    /// Root computed again from the entries.
    pub root: Hash,
    /// The first damages, in the order they were met.
    pub damage: Vec<Damage>,
    /// How many there are in all.
    pub damage_count: u64,
}

/// One thing that is not as it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The entry, if it can be told.
    pub seq: Option<u64>,
    /// Its job, if it can be told.
    pub job: Option<(JobId, JobNumber)>,
    /// What is wrong.
    pub kind: DamageKind,
}

/// Kinds of damage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DamageKind {
    /// Bytes, time or place of the entry do not give its leaf hash.
    LeafHash,
    /// Entries are missing from this place on.
    Missing {
        /// How many.
        count: u64,
    },
    /// The row cannot be read.
    Unreadable(String),
    /// The entry names a job or a station that is not there, or stands before its job was opened.
    Reference(&'static str),
    /// The job's number does not follow the one before it, or its first entry is not its own.
    JobNumber(&'static str),
    /// The root over the entries is not the one stored with the site.
    Root,
    /// The site row does not count as many entries as there are.
    Size {
        /// What the site row says.
        stored: u64,
    },
    /// A table, index or trigger is not as it was created.
    Schema(String),
    /// The database's own check complains.
    Structure(String),
    /// The caller's inspection objected.
    Inspection(String),
}

impl VerifyReport {
    /// Whether nothing is damaged.
    pub fn is_sound(&self) -> bool {
        self.damage_count == 0
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.seq {
            Some(seq) => write!(f, "entry {seq}")?,
            None => f.write_str("journal")?,
        }
        if let Some((id, number)) = &self.job {
            write!(f, ", job {number} ({id})")?;
        }
        write!(f, ": {}", self.kind)
    }
}

impl fmt::Display for DamageKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::LeafHash => f.write_str("its bytes, time or place do not match its leaf hash"),
            Self::Missing { count } => write!(f, "{count} entries are missing from here on"),
            Self::Unreadable(cause) => write!(f, "it cannot be read ({cause})"),
            Self::Reference(what) | Self::JobNumber(what) => f.write_str(what),
            Self::Root => f.write_str("the root over all entries is not the stored one"),
            Self::Size { stored } => write!(f, "the site row counts {stored} entries"),
            Self::Schema(what) => write!(f, "{what} is not as it was created"),
            Self::Structure(what) => write!(f, "the database's own check says: {what}"),
            Self::Inspection(what) => f.write_str(what),
        }
    }
}

/// An entry's row with what the row says about its job.
#[derive(Debug, Clone)]
pub(crate) struct AuditRow {
    /// The entry; its leaf hash has not been compared.
    pub entry: StoredEntry,
    /// Sequence of the entry that opened its job, as the row says.
    pub job_first_seq: Option<u64>,
    /// The job's number, if the job is there.
    pub job_number: Option<JobNumber>,
    /// Whether the station's row is there.
    pub station_known: bool,
}

/// The checker. Feed entries in order, then jobs in the order of their numbers, then finish.
pub(crate) struct Audit<'a> {
    inspect: Inspect<'a>,
    frontier: Frontier,
    entries: u64,
    next_seq: u64,
    jobs: u64,
    last_job: Option<(JobNumber, u64)>,
    damage: Vec<Damage>,
    damage_count: u64,
}

impl<'a> Audit<'a> {
    pub(crate) fn new(inspect: Inspect<'a>) -> Self {
        Self {
            inspect,
            frontier: Frontier::default(),
            entries: 0,
            next_seq: 1,
            jobs: 0,
            last_job: None,
            damage: Vec::new(),
            damage_count: 0,
        }
    }

    /// Notes a damage.
    pub(crate) fn note(&mut self, seq: Option<u64>, job: Option<(JobId, JobNumber)>, kind: DamageKind) {
        self.damage_count += 1;
        if self.damage.len() < DAMAGES_LISTED_MAX {
            self.damage.push(Damage { seq, job, kind });
        }
    }

    /// Checks one entry.
    pub(crate) fn entry(&mut self, row: &AuditRow) {
        let entry = &row.entry;
        let job = entry.job.zip(row.job_number);
        self.step_to(entry.seq);
        let leaf = entry_leaf_hash(entry.seq, entry.received_us, &entry.bytes);
        if leaf != entry.leaf_hash {
            self.note(Some(entry.seq), job, DamageKind::LeafHash);
        }
        self.frontier.append(leaf);
        match row.job_first_seq {
            Some(_) if job.is_none() => {
                self.note(Some(entry.seq), None, DamageKind::Reference("it names a job that is not there"));
            }
            Some(first) if first > entry.seq => {
                self.note(Some(entry.seq), job, DamageKind::Reference("it stands before its job was opened"));
            }
            _ => {}
        }
        if !row.station_known {
            self.note(Some(entry.seq), job, DamageKind::Reference("it names a station that is not there"));
        }
        if let Some(objection) = (self.inspect)(entry) {
            self.note(Some(entry.seq), job, DamageKind::Inspection(objection));
        }
        self.entries += 1;
    }

    /// Notes an entry that is there but cannot be read.
    pub(crate) fn unreadable(&mut self, seq: u64, job: Option<(JobId, JobNumber)>, cause: String) {
        self.step_to(seq);
        self.entries += 1;
        self.note(Some(seq), job, DamageKind::Unreadable(cause));
    }

    /// Checks one job; `opens_itself` says whether its first entry is its own.
    pub(crate) fn job(&mut self, job: JobId, number: JobNumber, first_seq: u64, opens_itself: bool) {
        let expected = match self.last_job {
            Some((last, _)) if last.year == number.year => last.ordinal + 1,
            _ => 1,
        };
        let named = Some((job, number));
        if number.ordinal != expected {
            self.note(
                Some(first_seq),
                named,
                DamageKind::JobNumber("its number does not follow the one before it"),
            );
        }
        let disordered = self
            .last_job
            .is_some_and(|(last, last_first)| last.year == number.year && last_first >= first_seq);
        if disordered {
            self.note(
                Some(first_seq),
                named,
                DamageKind::JobNumber("it was opened before the job with a lower number"),
            );
        }
        if !opens_itself {
            self.note(
                Some(first_seq),
                named,
                DamageKind::JobNumber("its first entry is not there or not its own"),
            );
        }
        self.last_job = Some((number, first_seq));
        self.jobs += 1;
    }

    /// Compares with what the site row says (`None` if it cannot be read) and reports.
    pub(crate) fn finish(mut self, site: String, epoch: Epoch, stored: Option<(u64, Hash)>) -> VerifyReport {
        let root = self.frontier.root();
        match stored {
            Some((size, stored_root)) => {
                if size >= self.next_seq {
                    let count = size - (self.next_seq - 1);
                    self.note(Some(self.next_seq), None, DamageKind::Missing { count });
                } else if size + 1 < self.next_seq {
                    self.note(None, None, DamageKind::Size { stored: size });
                }
                if stored_root != root {
                    self.note(None, None, DamageKind::Root);
                }
            }
            None => self.note(None, None, DamageKind::Unreadable("site row".into())),
        }
        VerifyReport {
            site,
            epoch,
            entries: self.entries,
            jobs: self.jobs,
            root,
            damage: self.damage,
            damage_count: self.damage_count,
        }
    }

    /// Notes what is missing before `seq` and expects the one after it next.
    fn step_to(&mut self, seq: u64) {
        if seq > self.next_seq {
            self.note(Some(self.next_seq), None, DamageKind::Missing { count: seq - self.next_seq });
        }
        self.next_seq = seq.saturating_add(1);
    }
}
