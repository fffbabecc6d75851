//! For tests: the journal of a workshop as its server has it, and what it brings of it. Kept by the store that stations
//! append to, so that what a copy makes of a batch is held against something that was not copied.

use super::{arrival, closing, entry_id, job_id};
use crate::forwarding::{intake, standing};
use prost::Message as _;
use standpipe_proto::v1::{
    CompareJournalRequest, Entry, Fact, ForwardEntriesRequest, Header, PersonListed, fact::Kind,
    header::Subject,
};
use standpipe_store::tree::Hash;
use standpipe_store::{EntryId, JobId, Journal as _, MemoryStore, NewEntry};

pub(crate) const SITE: &str = "mill-street";
pub(crate) const EPOCH: [u8; 16] = [5; 16];
/// 18 March 2026, 11:00 UTC.
const SOURCE_START_US: i64 = 1_773_831_600_000_000;

pub(crate) struct Source {
    pub(crate) store: MemoryStore,
    pub(crate) epoch: [u8; 16],
    made: u64,
}

impl Source {
    pub(crate) fn new() -> Self {
        Self { store: MemoryStore::new(SITE, EPOCH), epoch: EPOCH, made: 0 }
    }

    /// One that goes its own way from here on.
    pub(crate) fn parts(&mut self) {
        self.made += 999_999;
    }

    /// A job that arrives, a fact of the site, a job that is closed, and so on.
    pub(crate) async fn grow(&mut self, count: u64) {
        for _ in 0..count {
            self.made += 1;
            let number = self.made;
            let (job, kind) = match number % 3 {
                1 => (Some(number), arrival(&format!("MS {number}"))),
                2 => (
                    None,
                    Kind::PersonListed(PersonListed { listed_person_code: "A".into(), removed: false }),
                ),
                _ => (Some(number - 2), closing()),
            };
            self.state(job, kind).await;
        }
    }

    pub(crate) async fn state(&self, job: Option<u64>, kind: Kind) {
        let opens_job = matches!(kind, Kind::Arrival(_));
        let subject = match job {
            Some(job) => Subject::JobId(job_id(job)),
            None => Subject::SiteId(SITE.into()),
        };
        let seq = self.store.head().await.unwrap().seq + 1;
        let header = header(seq + self.made * 1_000, subject);
        let sealed = Entry { header: Some(header), fact: Some(Fact { kind: Some(kind) }) }.encode_to_vec();
        self.append(seq + self.made * 1_000, job, opens_job, sealed).await;
    }

    /// Appends bytes whatever they are, as a server of another version might.
    pub(crate) async fn append(&self, id: u64, job: Option<u64>, opens_job: bool, sealed: Vec<u8>) {
        let received_us = SOURCE_START_US + i64::try_from(id).unwrap();
        self.put(id, job, opens_job, (received_us, 2026), sealed).await;
    }

    async fn put(&self, id: u64, job: Option<u64>, opens_job: bool, at: (i64, i16), sealed: Vec<u8>) {
        let id_of = |text: &str| uuid::Uuid::try_parse(text).unwrap().into_bytes();
        let new = NewEntry {
            entry_id: EntryId(id_of(&entry_id(id))),
            job: job.map(|job| JobId(id_of(&job_id(job)))),
            opens_job,
            station: "bay-1".into(),
            station_epoch: [0; 16],
            station_number: id,
            received_us: at.0,
            year: at.1,
            bytes: sealed.into(),
        };
        self.store.append(new).await.unwrap();
    }

    /// A job that arrives while the clock of the server is at its start.
    pub(crate) async fn arrive_in_1970(&self, number: u64) {
        let subject = Subject::JobId(job_id(number));
        let fact = Fact { kind: Some(arrival("MS 70")) };
        let bytes = Entry { header: Some(header(number, subject)), fact: Some(fact) }.encode_to_vec();
        self.put(number, Some(number), true, (5_000_000, 1970), bytes).await;
    }

    pub(crate) async fn size(&self) -> u64 {
        self.store.head().await.unwrap().seq
    }

    pub(crate) async fn root(&self, size: u64) -> Hash {
        self.store.root_at(size).await.unwrap().unwrap()
    }

    /// What the server of the site says first, or with its proof.
    pub(crate) async fn compare(&self, proof_from: u64) -> CompareJournalRequest {
        let size = self.size().await;
        let proof = match proof_from {
            0 => Vec::new(),
            from => self.store.consistency_proof(from, size).await.unwrap().unwrap_or_default(),
        };
        let here = standing::Point { epoch: self.epoch, size, root: self.root(size).await };
        CompareJournalRequest {
            site_id: SITE.into(),
            site_name: "Mill Street".into(),
            here: Some(intake::point_told(&here)),
            proof_from: i64::try_from(proof_from).unwrap(),
            proof: proof.iter().map(|hash| hash.to_vec()).collect(),
            founding: if size > 0 { self.root(1).await.to_vec() } else { Vec::new() },
        }
    }

    /// Some of its entries as it brings them.
    pub(crate) async fn batch(&self, first_seq: u64, count: usize) -> ForwardEntriesRequest {
        let stored = self.store.read(first_seq, count).await.unwrap();
        let last = stored.last().map_or(first_seq - 1, |entry| entry.seq);
        let mut entries = Vec::new();
        for entry in stored {
            let row = match entry.job {
                Some(job) => self.store.job(job).await.unwrap().filter(|row| row.first_seq == entry.seq),
                None => None,
            };
            entries.push(intake::forwarded(entry, row.map(|row| row.number)));
        }
        ForwardEntriesRequest {
            site_id: SITE.into(),
            epoch: self.epoch.to_vec(),
            first_seq: i64::try_from(first_seq).unwrap(),
            root_before: self.root(first_seq - 1).await.to_vec(),
            entries,
            root_after: self.root(last).await.to_vec(),
        }
    }
}

pub(crate) fn header(number: u64, subject: Subject) -> Header {
    Header {
        entry_id: entry_id(number),
        subject: Some(subject),
        station_id: "bay-1".into(),
        station_epoch: "0".repeat(32),
        station_number: i64::try_from(number).unwrap(),
        person_code: "A".into(),
        station_time: Some(crate::convert::timestamp(SOURCE_START_US)),
        boot_id: "0".repeat(32),
        ..Header::default()
    }
}
