//! The planner against the reference store: any entries, cut into any batches, must be answered as if they had come
//! one at a time.

use super::*;
use crate::conformance::{EPOCH, SITE, entry_id, job_id};
use crate::{Journal, MemoryStore, StoredEntry};
use proptest::prelude::*;
use std::future::Future;
use std::pin::pin;
use std::task::{Context, Poll, Waker};

/// The reference store never waits, so one poll answers.
fn now<T>(future: impl Future<Output = T>) -> T {
    match pin!(future).poll(&mut Context::from_waker(Waker::noop())) {
        Poll::Ready(value) => value,
        Poll::Pending => panic!("the reference store waited"),
    }
}

/// Answers questions from the entries of the reference store.
fn look_up(store: &MemoryStore, questions: &Questions) -> Facts {
    let stored: Vec<StoredEntry> = now(store.read(1, 1_000)).unwrap();
    let jobs = now(store.jobs(None, 1_000)).unwrap();
    let mut facts = Facts::default();
    let same_stream = |entry: &StoredEntry, stream: &Stream| {
        entry.station == stream.station && entry.station_epoch == stream.epoch
    };
    for entry in stored.iter().filter(|entry| questions.entries.contains(&entry.entry_id)) {
        let stream = Stream { station: entry.station.clone(), epoch: entry.station_epoch };
        let reused = |other: &StoredEntry| {
            other.seq < entry.seq
                && other.station_number == entry.station_number
                && same_stream(other, &stream)
        };
        let answer = Appended {
            seq: entry.seq,
            received_us: entry.received_us,
            job_number: jobs.iter().find(|job| Some(job.job_id) == entry.job).map(|job| job.number),
            repeated: false,
            station_number_reused: stored.iter().any(reused),
        };
        facts.entries.insert(entry.entry_id, EntryFact { answer, leaf_hash: entry.leaf_hash });
    }
    for job in jobs.iter().filter(|job| questions.jobs.contains(&job.job_id)) {
        let fact = JobFact { first_seq: job.first_seq, number: job.number, entries: job.entries };
        facts.jobs.insert(job.job_id, fact);
    }
    for stream in &questions.streams {
        let own: Vec<&StoredEntry> = stored.iter().filter(|entry| same_stream(entry, stream)).collect();
        if let Some(first) = own.first() {
            let highest = own.iter().map(|entry| entry.station_number).max().unwrap();
            facts.streams.insert(stream.clone(), StreamFact { first_seq: first.seq, highest });
        }
    }
    for (stream, number) in &questions.numbers {
        if stored.iter().any(|entry| same_stream(entry, stream) && entry.station_number == *number) {
            facts.numbers.insert((stream.clone(), *number));
        }
    }
    for year in &questions.years {
        if let Some(last) = jobs.iter().map(|job| job.number).filter(|number| number.year == *year).max() {
            facts.years.insert(*year, last.ordinal);
        }
    }
    facts
}

/// Whether a plan would meet the unique index: it stores an id that is stored already.
fn meets_known_id(store: &MemoryStore, batch: &[NewEntry], plan: &Plan) -> bool {
    plan.rows.iter().any(|row| now(store.entry(batch[row.at].entry_id)).unwrap().is_some())
}

fn any_entry() -> impl Strategy<Value = NewEntry> {
    let place = (0..12_u64, 0..4_u64, 0..6_u64, 0..2_u8, 0..2_u8);
    (place, any::<bool>(), 2026..2028_i16, 0..3_u8).prop_map(
        |((id, job, number, station, epoch), opens, year, bytes)| {
            NewEntry {
                entry_id: entry_id(id),
                job: (job > 0).then(|| job_id(job)),
                opens_job: opens,
                station: format!("bay-{station}"),
                station_epoch: [epoch; 16],
                station_number: number,
                received_us: 1_000 + i64::from(bytes),
                year,
                // Mostly the same bytes for the same id.
                bytes: format!("{id} {}", bytes / 2).into(),
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn batches_are_answered_as_one_entry_after_another(
        batches in prop::collection::vec(prop::collection::vec(any_entry(), 1..9), 1..7),
    ) {
        let store = MemoryStore::new(SITE, EPOCH).with_job_entries_max(4);
        let mut ledger = Ledger::new(Frontier::default(), 4, Faults::default());
        for batch in batches {
            let mut facts = look_up(&store, &ledger.questions(&batch, LookUp::Suspects));
            ledger.learn(&mut facts);
            let mut plan = ledger.plan(&batch, &facts);
            if plan.refuses_any() || meets_known_id(&store, &batch, &plan) {
                let mut facts = look_up(&store, &ledger.questions(&batch, LookUp::All));
                ledger.learn(&mut facts);
                plan = ledger.plan(&batch, &facts);
            }
            let rows = plan.rows.clone();
            let answers = ledger.committed(plan);
            for (entry, answer) in batch.iter().zip(&answers) {
                let expected = now(store.append(entry.clone()));
                prop_assert_eq!(answer, &expected);
            }
            let head = now(store.head()).unwrap();
            prop_assert_eq!(ledger.frontier().size(), head.seq);
            prop_assert_eq!(ledger.frontier().root(), head.root);
            for row in rows {
                let stored = now(store.read(row.seq, 1)).unwrap().remove(0);
                prop_assert_eq!(stored.leaf_hash, row.leaf_hash);
                prop_assert_eq!(stored.entry_id, batch[row.at].entry_id);
            }
        }
    }
}

#[test]
fn a_station_that_counts_on_needs_no_looking_up() {
    let mut ledger = Ledger::new(Frontier::default(), 10, Faults::default());
    let opens = crate::conformance::arrival(1, job_id(1));
    let plan = ledger.plan(std::slice::from_ref(&opens), &Facts::default());
    ledger.committed(plan);
    let next = [crate::conformance::entry(2, Some(job_id(1))), crate::conformance::entry(3, None)];
    assert!(ledger.questions(&next, LookUp::Suspects).is_empty());
    assert!(!ledger.questions(&[opens], LookUp::Suspects).is_empty());
}
