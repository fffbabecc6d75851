//! Journals of invented workshops, made by the description of a leaf and of the tree alone, without any store: what copies
//! of them must come out as.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_store::tree::{Frontier, Hash, entry_leaf_hash};
use standpipe_store::{EntryId, Epoch, JobId, JobNumber, NewEntry, ReplicaBatch, ReplicaEntry};

/// Batches begin and end at multiples of this.
pub const STEP: u64 = 50;

/// A journal as its site has it.
#[derive(Clone)]
pub struct Origin {
    pub site: String,
    pub epoch: Epoch,
    entries: Vec<ReplicaEntry>,
    /// Root at each multiple of [`STEP`].
    roots: Vec<Hash>,
    tree: Frontier,
    /// Jobs opened so far.
    jobs: u64,
    random: ChaCha8Rng,
    /// Tells entries of one life of the journal from those of another.
    life: u64,
}

impl Origin {
    /// An empty journal.
    pub fn new(number: u64) -> Self {
        let tree = Frontier::default();
        Self {
            site: format!("site-{number}"),
            epoch: id(number, 0, 0),
            entries: Vec::new(),
            roots: vec![tree.root()],
            tree,
            jobs: 0,
            random: ChaCha8Rng::seed_from_u64(number),
            life: 0,
        }
    }

    /// Goes on until it has so many entries.
    pub fn grow(&mut self, size: u64) {
        while self.size() < size {
            let seq = self.size() + 1;
            let entry = self.next(seq);
            self.tree.append(entry_leaf_hash(seq, entry.entry.received_us, &entry.entry.bytes));
            self.entries.push(entry);
            if seq.is_multiple_of(STEP) {
                self.roots.push(self.tree.root());
            }
        }
    }

    fn next(&mut self, seq: u64) -> ReplicaEntry {
        let drawn = self.random.next_u64();
        let number_of_site = u64::from_be_bytes(self.epoch[..8].try_into().unwrap());
        let opens = self.jobs == 0 || drawn.is_multiple_of(20);
        let job = match drawn % 9 {
            _ if opens => Some(self.jobs + 1),
            0 => None,
            // Most entries belong to one of the last jobs.
            _ => Some(self.jobs - (drawn >> 8) % self.jobs.min(12)),
        };
        self.jobs += u64::from(opens);
        let number = opens.then(|| JobNumber { year: 2026, ordinal: u32::try_from(self.jobs).unwrap() });
        let entry = NewEntry {
            entry_id: EntryId(id(number_of_site, self.life, seq)),
            job: job.map(|job| JobId(id(number_of_site, 1 << 32, job))),
            opens_job: opens,
            station: format!("bay-{}", drawn >> 16 & 7),
            station_epoch: [1; 16],
            station_number: seq,
            received_us: 1_780_000_000_000_000 + i64::try_from(seq * 1_000 + self.life).unwrap(),
            year: 2026,
            bytes: drawn.to_be_bytes().repeat(usize::try_from(4 + drawn % 24).unwrap()).into(),
        };
        ReplicaEntry { entry, number }
    }

    pub fn size(&self) -> u64 {
        self.tree.size()
    }

    pub fn jobs(&self) -> u64 {
        self.jobs
    }

    /// Root at a multiple of [`STEP`].
    pub fn root_at(&self, size: u64) -> Hash {
        self.roots[usize::try_from(size / STEP).unwrap()]
    }

    /// What is forwarded of it after an entry; both are multiples of [`STEP`].
    pub fn batch(&self, after: u64, count: u64) -> ReplicaBatch {
        let last = self.size().min(after + count);
        let places = usize::try_from(after).unwrap()..usize::try_from(last).unwrap();
        ReplicaBatch {
            epoch: self.epoch,
            first_seq: after + 1,
            root_before: self.root_at(after),
            entries: self.entries[places].to_vec(),
            root_after: self.root_at(last),
        }
    }

    /// The journal restored from a backup of so many entries: another epoch, and what comes from now on is different.
    pub fn restored(&self, size: u64) -> Self {
        let mut restored = Self::new(u64::from_be_bytes(self.epoch[..8].try_into().unwrap()));
        restored.grow(size);
        restored.life = 1;
        restored.epoch[15] += 1;
        restored
    }
}

fn id(major: u64, middle: u64, minor: u64) -> [u8; 16] {
    ((u128::from(major) << 64) | u128::from(middle << 24 | minor)).to_be_bytes()
}
