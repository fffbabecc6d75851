//! What a copy of another journal promises.

use super::{EPOCH, Maker, SITE, append, arrival, assert_sound, entry, fresh, job_id, reopened};
use crate::{
    Epoch, JobId, JobNumber, Journal, MemoryStore, NewEntry, Replica, ReplicaBatch, ReplicaEntry, StoreError,
};
use std::collections::HashMap;

const OTHER_EPOCH: Epoch = [0x77; 16];

pub(super) async fn run<M: Maker>(maker: &M) {
    batches_of_every_size_give_the_same_journal(maker).await;
    what_is_there_already_is_passed_over(maker).await;
    a_batch_beyond_the_end_waits_for_those_between(maker).await;
    another_past_is_refused_wherever_it_differs(maker).await;
    a_refused_batch_leaves_nothing(maker).await;
    the_epoch_is_taken_on(maker).await;
    no_limit_of_a_job_stops_a_copy(maker).await;
    who_waits_for_a_copy_to_grow_is_told(maker).await;
    a_closed_copy_takes_nothing(maker).await;
}

/// Entries of a journal as they are forwarded.
pub async fn batch_of(from: &dyn Journal, first_seq: u64, last_seq: u64) -> ReplicaBatch {
    let limit = usize::try_from(last_seq + 1 - first_seq).expect("few");
    let stored = from.read(first_seq, limit).await.expect("read");
    let mut entries = Vec::new();
    let mut jobs: HashMap<JobId, (u64, JobNumber)> = HashMap::new();
    for stored in stored {
        let opened = match stored.job {
            None => None,
            Some(id) => {
                let job = match jobs.get(&id) {
                    Some(job) => *job,
                    None => {
                        let job = from.job(id).await.expect("read").expect("the job of an entry is there");
                        (job.first_seq, job.number)
                    }
                };
                jobs.insert(id, job);
                (job.0 == stored.seq).then_some(job.1)
            }
        };
        let entry = NewEntry {
            entry_id: stored.entry_id,
            job: stored.job,
            opens_job: opened.is_some(),
            station: stored.station,
            station_epoch: stored.station_epoch,
            station_number: stored.station_number,
            received_us: stored.received_us,
            year: opened.map_or(0, |number| number.year),
            bytes: stored.bytes,
        };
        entries.push(ReplicaEntry { entry, number: opened });
    }
    let root = async |size| from.root_at(size).await.expect("read").expect("the journal reaches so far");
    ReplicaBatch {
        epoch: from.head().await.expect("head").epoch,
        first_seq,
        root_before: root(first_seq - 1).await,
        root_after: root(first_seq - 1 + entries.len() as u64).await,
        entries,
    }
}

/// A journal of a site: four jobs in two years, site entries between, and a number that came twice.
async fn origin(entries: u64) -> MemoryStore {
    let origin = MemoryStore::new(SITE, EPOCH);
    for number in 1..=entries {
        let year = 2025 + i16::try_from(number % 4 / 2).expect("small");
        let entry = match number {
            1..=4 => NewEntry { year, ..arrival(number, job_id(number % 4)) },
            number if number % 5 == 0 => entry(number, None),
            number => entry(number, Some(job_id(number % 4))),
        };
        let station = format!("bay-{}", number % 3);
        append(&origin, &NewEntry { station, ..entry }).await;
    }
    let again = NewEntry { station_number: 5, station: "bay-2".into(), ..entry(entries + 1, None) };
    append(&origin, &again).await;
    origin
}

async fn refused(copy: &impl Replica, batch: ReplicaBatch) -> StoreError {
    copy.replicate(batch).await.expect_err("this batch must be refused")
}

async fn assert_same(copy: &impl Journal, origin: &MemoryStore) {
    assert_eq!(copy.head().await, origin.head().await);
    assert_eq!(copy.read(1, 1_000).await, origin.read(1, 1_000).await);
    assert_eq!(copy.jobs(None, 1_000).await, origin.jobs(None, 1_000).await);
    for job in origin.jobs(None, 1_000).await.expect("jobs") {
        assert_eq!(copy.job_digest(job.job_id).await, origin.job_digest(job.job_id).await);
    }
    assert_sound(copy).await;
}

async fn batches_of_every_size_give_the_same_journal<M: Maker>(maker: &M) {
    let origin = origin(300).await;
    for size in [1, 7, 64, 301] {
        let mut copy = fresh(maker).await;
        let mut first = 1;
        while first <= 301 {
            let last = 301.min(first + size - 1);
            let done = copy.replicate(batch_of(&origin, first, last).await).await.expect("goes on");
            assert_eq!((done.head.seq, done.new), (last, last + 1 - first));
            assert_eq!(Ok(Some(done.head.root)), origin.root_at(last).await);
            if first == 1 {
                copy = reopened(maker, copy).await;
            }
            first = last + 1;
        }
        assert_same(&*copy, &origin).await;
        assert_same(&*reopened(maker, copy).await, &origin).await;
    }
}

async fn what_is_there_already_is_passed_over<M: Maker>(maker: &M) {
    let origin = origin(60).await;
    let copy = fresh(maker).await;
    copy.replicate(batch_of(&origin, 1, 30).await).await.expect("first");
    for (first, last, new) in [(1, 30, 0), (11, 20, 0), (30, 30, 0), (21, 40, 10), (1, 45, 5), (46, 61, 16)] {
        let done = copy.replicate(batch_of(&origin, first, last).await).await.expect("again");
        assert_eq!(done.new, new, "{first} to {last}");
    }
    let copy = reopened(maker, copy).await;
    // Nothing of it is remembered any more.
    assert_eq!(copy.replicate(batch_of(&origin, 17, 61).await).await.expect("again").new, 0);
    assert_same(&*copy, &origin).await;
}

async fn a_batch_beyond_the_end_waits_for_those_between<M: Maker>(maker: &M) {
    let origin = origin(20).await;
    let copy = fresh(maker).await;
    let gap = |first_seq, here| StoreError::Gap { first_seq, here };
    assert_eq!(refused(&*copy, batch_of(&origin, 2, 4).await).await, gap(2, 0));
    copy.replicate(batch_of(&origin, 1, 4).await).await.expect("first");
    assert_eq!(refused(&*copy, batch_of(&origin, 6, 9).await).await, gap(6, 4));
    let mut nowhere = batch_of(&origin, 1, 2).await;
    nowhere.first_seq = 0;
    let place = refused(&*copy, nowhere).await;
    assert!(matches!(place, StoreError::OutOfRange { field: "first_seq", .. }), "{place}");
    assert_eq!(copy.head().await.expect("head").seq, 4);
}

/// A way of going differently, with the place that is named.
type Difference = (&'static str, u64, fn(&mut ReplicaBatch));

/// Every way in which entries 5 to 8 can differ, as far as the copy can tell.
const DIFFERENCES: [Difference; 8] = [
    ("root before", 5, |batch| batch.root_before[0] ^= 1),
    ("root after", 8, |batch| batch.root_after[31] ^= 1),
    ("bytes", 6, |batch| batch.entries[1].entry.bytes = "other bytes".into()),
    ("time", 7, |batch| batch.entries[2].entry.received_us += 1),
    ("number given", 5, |batch| batch.entries[0].number = Some(JobNumber { year: 2026, ordinal: 1 })),
    ("number missing", 8, |batch| batch.entries[3].number = None),
    ("another number", 8, |batch| batch.entries[3].number = Some(JobNumber { year: 2026, ordinal: 2 })),
    ("one less", 7, |batch| drop(batch.entries.pop())),
];

/// Four jobs opened one by one, the last by entry 8.
async fn late_jobs() -> MemoryStore {
    let origin = MemoryStore::new(SITE, EPOCH);
    for number in 1..=8 {
        let job = job_id(number / 2);
        append(&origin, &if number % 2 == 0 { arrival(number, job) } else { entry(number, None) }).await;
    }
    origin
}

async fn another_past_is_refused_wherever_it_differs<M: Maker>(maker: &M) {
    let origin = late_jobs().await;
    for known in [4, 8] {
        let copy = fresh(maker).await;
        copy.replicate(batch_of(&origin, 1, known).await).await.expect("first");
        for (what, place, differ) in DIFFERENCES {
            let mut batch = batch_of(&origin, 5, 8).await;
            differ(&mut batch);
            let refusal = refused(&*copy, batch).await;
            // Before anything of it is here, a leaf that differs shows in the root alone.
            let leaf = known == 4 && matches!(what, "bytes" | "time");
            let place = if leaf { 8 } else { place };
            assert!(
                matches!(refusal, StoreError::AnotherPast { seq, .. } if seq == place),
                "{what}, {known} known: {refusal:?}"
            );
            assert_eq!(copy.head().await.expect("head").seq, known, "{what}");
        }
        // An id that stands elsewhere, with the same bytes and with others.
        for bytes in ["sealed entry 2", "others"] {
            let mut batch = batch_of(&origin, 5, 8).await;
            let entry = NewEntry { bytes: bytes.into(), ..super::entry(2, None) };
            batch.entries[1] = ReplicaEntry { entry, number: None };
            let refusal = refused(&*copy, batch).await;
            assert!(matches!(refusal, StoreError::AnotherPast { seq: 6, .. }), "{refusal:?}");
        }
        copy.replicate(batch_of(&origin, 5, 8).await).await.expect("the right one goes on");
        assert_same(&*copy, &origin).await;
    }
}

async fn a_refused_batch_leaves_nothing<M: Maker>(maker: &M) {
    let origin = origin(40).await;
    let copy = fresh(maker).await;
    copy.replicate(batch_of(&origin, 1, 2).await).await.expect("first");
    let before = copy.head().await;
    let mut batch = batch_of(&origin, 3, 41).await;
    batch.root_after = [0; 32];
    batch.epoch = OTHER_EPOCH;
    refused(&*copy, batch).await;
    let mut unknown = batch_of(&origin, 3, 41).await;
    unknown.entries[30].entry.job = Some(job_id(99));
    unknown.entries[30].entry.opens_job = false;
    refused(&*copy, unknown).await;
    let copy = reopened(maker, copy).await;
    assert_eq!(copy.head().await, before);
    assert_eq!(copy.jobs(None, 10).await.expect("jobs").len(), 2, "jobs of a refused batch are not there");
    copy.replicate(batch_of(&origin, 3, 41).await).await.expect("the right one goes on");
    assert_same(&*copy, &origin).await;
}

async fn the_epoch_is_taken_on<M: Maker>(maker: &M) {
    let origin = origin(20).await;
    let copy = fresh(maker).await;
    let of_epoch = async |first, last, epoch| ReplicaBatch { epoch, ..batch_of(&origin, first, last).await };
    let done = copy.replicate(of_epoch(1, 10, OTHER_EPOCH).await).await.expect("with entries");
    assert_eq!((done.head.epoch, done.new), (OTHER_EPOCH, 10));
    let copy = reopened(maker, copy).await;
    assert_eq!(copy.head().await.expect("head").epoch, OTHER_EPOCH);
    let mut empty = of_epoch(11, 11, [3; 16]).await;
    empty.entries.clear();
    let refusal = refused(&*copy, empty.clone()).await;
    assert!(matches!(refusal, StoreError::AnotherPast { seq: 10, .. }), "{refusal:?}");
    empty.root_after = empty.root_before;
    let done = copy.replicate(empty.clone()).await.expect("without entries");
    assert_eq!((done.head.epoch, done.head.seq, done.new), ([3; 16], 10, 0));
    empty.epoch = [4; 16];
    empty.root_before[0] ^= 1;
    let refusal = refused(&*copy, empty).await;
    assert!(matches!(refusal, StoreError::AnotherPast { seq: 11, .. }), "{refusal:?}");
    let done = copy.replicate(of_epoch(5, 10, [5; 16]).await).await.expect("with known entries");
    assert_eq!((done.head.epoch, done.new), ([5; 16], 0));
    let copy = reopened(maker, copy).await;
    assert_eq!(copy.head().await.expect("head").epoch, [5; 16]);
    copy.replicate(batch_of(&origin, 11, 21).await).await.expect("goes on");
    assert_same(&*copy, &origin).await;
}

async fn no_limit_of_a_job_stops_a_copy<M: Maker>(maker: &M) {
    let origin = MemoryStore::new(SITE, EPOCH);
    append(&origin, &arrival(1, job_id(1))).await;
    for number in 2..=12 {
        append(&origin, &entry(number, Some(job_id(1)))).await;
    }
    let copy = maker.make(SITE, EPOCH, 3).await;
    copy.replicate(batch_of(&origin, 1, 5).await).await.expect("more than 3 at once");
    copy.replicate(batch_of(&origin, 6, 12).await).await.expect("and more");
    assert_same(&*copy, &origin).await;
}

async fn who_waits_for_a_copy_to_grow_is_told<M: Maker>(maker: &M) {
    let origin = origin(8).await;
    let copy = fresh(maker).await;
    let batch = batch_of(&origin, 1, 8).await;
    let (grown, done) = tokio::join!(biased; copy.grown_beyond(0), copy.replicate(batch));
    assert_eq!((grown, done.map(|done| done.new)), (Ok(8), Ok(8)));
}

async fn a_closed_copy_takes_nothing<M: Maker>(maker: &M) {
    let origin = origin(8).await;
    let copy = fresh(maker).await;
    copy.close().await.expect("close");
    assert_eq!(refused(&*copy, batch_of(&origin, 1, 8).await).await, StoreError::Closed);
}
