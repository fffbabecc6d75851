//! What the journal promises.

use super::{
    EPOCH, Maker, SITE, append, arrival, assert_sound, entry, entry_id, fresh, job_id, refusal, reopened,
};
use crate::tree::{self, verify_consistency, verify_inclusion};
use crate::{Appended, JobNumber, Journal, NewEntry, PAGE_ROWS_MAX, StoreError};
use std::collections::BTreeSet;
use std::sync::Arc;

pub(super) async fn run<M: Maker>(maker: &M) {
    an_empty_journal_has_an_empty_tree(maker).await;
    sequences_are_gapless_and_entries_come_back_as_they_were(maker).await;
    repeating_gives_the_first_answer_for_ever(maker).await;
    an_id_with_other_bytes_is_refused(maker).await;
    refused_entries_leave_nothing(maker).await;
    job_numbers_count_from_one_in_each_year(maker).await;
    a_job_holds_as_many_entries_as_it_may(maker).await;
    pages_join_without_gap_or_overlap(maker).await;
    a_reused_station_number_is_stored_and_named(maker).await;
    missing_station_numbers_are_listed(maker).await;
    proofs_check_against_the_heads(maker).await;
    many_producers_at_once_get_unique_gapless_answers(maker).await;
    one_caller_keeps_its_order(maker).await;
    verify_reports_what_an_inspection_objects_to(maker).await;
    who_waits_for_the_journal_to_grow_is_told(maker).await;
    a_closed_journal_takes_nothing(maker).await;
}

async fn who_waits_for_the_journal_to_grow_is_told<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    // The waiting one is asked first, so it waits before the entry is there.
    let first = entry(1, None);
    let (grown, _) = tokio::join!(biased; store.grown_beyond(0), append(&*store, &first));
    assert_eq!(grown, Ok(1));
    assert_eq!(store.grown_beyond(0).await, Ok(1));
    let (stopped, closed) = tokio::join!(biased; store.grown_beyond(1), store.close());
    assert_eq!((stopped, closed), (Err(StoreError::Closed), Ok(())));
    assert_eq!(store.grown_beyond(0).await, Ok(1), "what is there is told all the same");
}

async fn an_empty_journal_has_an_empty_tree<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let head = store.head().await.expect("head");
    assert_eq!((head.seq, head.epoch, head.site.as_str()), (0, EPOCH, SITE));
    assert_eq!(head.root, tree::root_of(&[]));
    assert_eq!(store.read(1, 10).await, Ok(vec![]));
    assert_eq!(store.jobs(None, 10).await, Ok(vec![]));
    assert_eq!(store.root_at(0).await, Ok(Some(tree::root_of(&[]))));
    assert_eq!(store.root_at(1).await, Ok(None));
    assert_eq!(store.inclusion_proof(0, 0).await, Ok(None));
    assert_eq!(store.consistency_proof(0, 0).await, Ok(Some(vec![])));
    assert_sound(&*store).await;
}

async fn sequences_are_gapless_and_entries_come_back_as_they_were<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let sent = [arrival(1, job_id(1)), entry(2, Some(job_id(1))), entry(3, None), arrival(4, job_id(2))];
    for (entry, seq) in sent.iter().zip(1..) {
        let answer = append(&*store, entry).await;
        assert_eq!((answer.seq, answer.received_us, answer.repeated), (seq, entry.received_us, false));
        assert!(!answer.station_number_reused);
    }
    let stored = store.read(1, 10).await.expect("read");
    assert_eq!(stored.len(), sent.len());
    for ((sent, stored), seq) in sent.iter().zip(&stored).zip(1..) {
        assert_eq!(stored.seq, seq);
        assert_eq!((stored.entry_id, stored.job, &stored.bytes), (sent.entry_id, sent.job, &sent.bytes));
        assert_eq!((&stored.station, stored.station_epoch), (&sent.station, sent.station_epoch));
        assert_eq!((stored.station_number, stored.received_us), (sent.station_number, sent.received_us));
        assert_eq!(stored.leaf_hash, tree::entry_leaf_hash(seq, sent.received_us, &sent.bytes));
        assert_eq!(store.entry(sent.entry_id).await, Ok(Some(stored.clone())));
    }
    assert_eq!(store.read_job(job_id(1)).await.expect("job"), stored[..2]);
    assert_eq!(store.read_site(1, 10).await.expect("site"), stored[2..3]);
    assert_eq!(store.read_job(job_id(9)).await, Ok(vec![]));
    assert_eq!(store.entry(entry_id(9)).await, Ok(None));
    let leaves: Vec<_> = stored.iter().map(|entry| entry.leaf_hash).collect();
    assert_eq!(store.head().await.expect("head").root, tree::root_of(&leaves));
    assert_eq!(store.job_digest(job_id(1)).await, Ok(Some(tree::job_digest(&leaves[..2]))));
    assert_eq!(store.job_digest(job_id(9)).await, Ok(None));
    assert_sound(&*store).await;
}

async fn repeating_gives_the_first_answer_for_ever<M: Maker>(maker: &M) {
    let mut store = fresh(maker).await;
    let sent = [arrival(1, job_id(1)), entry(2, Some(job_id(1))), entry(3, None)];
    let mut first = Vec::new();
    for entry in &sent {
        first.push(append(&*store, entry).await);
    }
    for _ in 0..2 {
        for (entry, first) in sent.iter().zip(&first) {
            // The second receipt has another time; the stored one counts.
            let later = NewEntry { received_us: entry.received_us + 5_000_000, ..entry.clone() };
            assert_eq!(append(&*store, &later).await, Appended { repeated: true, ..first.clone() });
        }
        assert_eq!(store.head().await.expect("head").seq, 3);
        store = reopened(maker, store).await;
    }
    // The numbering goes on where it stopped.
    assert_eq!(append(&*store, &arrival(4, job_id(2))).await.job_number, number(2026, 2));
    assert_sound(&*store).await;
}

async fn an_id_with_other_bytes_is_refused<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    append(&*store, &entry(1, None)).await;
    let other = NewEntry { bytes: "other bytes".into(), ..entry(1, None) };
    let renumbered = NewEntry { station_number: 2, ..other.clone() };
    for attempt in [&other, &renumbered, &other] {
        let expected = StoreError::EntryIdReused { entry_id: entry_id(1), seq: 1 };
        assert_eq!(refusal(&*store, attempt).await, expected);
        assert!(expected.is_permanent());
    }
    // The id also counts when it comes back under a fresh station number.
    let copied = NewEntry { station_number: 7, ..entry(1, None) };
    assert!(append(&*store, &copied).await.repeated);
    let stored = store.read(1, 10).await.expect("read");
    assert_eq!(stored.iter().map(|entry| &entry.bytes[..]).collect::<Vec<_>>(), [b"sealed entry 1"]);
}

async fn refused_entries_leave_nothing<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let unknown = entry(1, Some(job_id(1)));
    assert_eq!(refusal(&*store, &unknown).await, StoreError::JobUnknown { job: job_id(1) });
    let nameless = NewEntry { opens_job: true, ..entry(2, None) };
    assert_eq!(refusal(&*store, &nameless).await, StoreError::NoJobToOpen { entry_id: entry_id(2) });
    let beyond = NewEntry { station_number: u64::MAX, ..arrival(3, job_id(3)) };
    assert!(matches!(refusal(&*store, &beyond).await, StoreError::OutOfRange { value: u64::MAX, .. }));
    assert_eq!(store.head().await.expect("head").seq, 0);
    assert_eq!(store.jobs(None, 10).await, Ok(vec![]));
    // The refused entry is accepted once its job is there, and takes the next number.
    assert_eq!(append(&*store, &arrival(4, job_id(1))).await.seq, 1);
    assert_eq!(append(&*store, &unknown).await.seq, 2);
    assert_sound(&*store).await;
}

fn number(year: i16, ordinal: u32) -> Option<JobNumber> {
    Some(JobNumber { year, ordinal })
}

async fn job_numbers_count_from_one_in_each_year<M: Maker>(maker: &M) {
    let mut store = fresh(maker).await;
    for (at, (year, ordinal)) in (1..).zip([(2026, 1), (2026, 2), (2027, 1), (2026, 3), (2027, 2)]) {
        let opens = NewEntry { year, ..arrival(at, job_id(at)) };
        assert_eq!(append(&*store, &opens).await.job_number, number(year, ordinal));
    }
    // A second opening entry is one more entry of the job, whatever its year.
    let again = NewEntry { year: 2027, ..arrival(6, job_id(1)) };
    assert_eq!(append(&*store, &again).await.job_number, number(2026, 1));
    store = reopened(maker, store).await;
    assert_eq!(append(&*store, &arrival(7, job_id(7))).await.job_number, number(2026, 4));
    let first = store.job(job_id(1)).await.expect("job").expect("job 1 is there");
    assert_eq!((first.first_seq, first.last_seq, first.entries), (1, 6, 2));
    assert_eq!(store.job_by_number(first.number).await, Ok(Some(first)));
    assert_eq!(store.job_by_number(JobNumber { year: 2028, ordinal: 1 }).await, Ok(None));
    assert_eq!(store.job(job_id(99)).await, Ok(None));
    assert_sound(&*store).await;
}

async fn a_job_holds_as_many_entries_as_it_may<M: Maker>(maker: &M) {
    let store = maker.make(SITE, EPOCH, 3).await;
    let first = arrival(1, job_id(1));
    append(&*store, &first).await;
    append(&*store, &entry(2, Some(job_id(1)))).await;
    append(&*store, &entry(3, Some(job_id(1)))).await;
    let full = StoreError::JobFull { job: job_id(1), limit: 3 };
    assert_eq!(refusal(&*store, &entry(4, Some(job_id(1)))).await, full);
    // Repeats, other jobs and site entries are not held up.
    assert!(append(&*store, &first).await.repeated);
    assert!(append(&*store, &NewEntry { station_number: 8, ..first }).await.repeated);
    append(&*store, &arrival(5, job_id(2))).await;
    append(&*store, &entry(6, None)).await;
    let store = maker.reopen(store, 3).await;
    assert!(matches!(refusal(&*store, &entry(7, Some(job_id(1)))).await, StoreError::JobFull { .. }));
}

async fn pages_join_without_gap_or_overlap<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for at in 1..=25 {
        append(&*store, &arrival(at, job_id(at))).await;
    }
    let mut seqs = Vec::new();
    let mut from = 1;
    loop {
        let page = store.read(from, 4).await.expect("read");
        let Some(last) = page.last() else { break };
        from = last.seq + 1;
        seqs.extend(page.iter().map(|entry| entry.seq));
    }
    assert_eq!(seqs, (1..=25).collect::<Vec<_>>());
    assert_eq!(store.read(1, usize::MAX).await.expect("read").len(), 25.min(PAGE_ROWS_MAX));
    let mut ordinals = Vec::new();
    let mut before = None;
    loop {
        let page = store.jobs(before, 4).await.expect("jobs");
        let Some(last) = page.last() else { break };
        before = Some(last.number);
        ordinals.extend(page.iter().map(|job| job.number.ordinal));
    }
    assert_eq!(ordinals, (1..=25).rev().collect::<Vec<_>>());
}

async fn a_reused_station_number_is_stored_and_named<M: Maker>(maker: &M) {
    let mut store = fresh(maker).await;
    append(&*store, &entry(1, None)).await;
    let copied = NewEntry { station_number: 1, ..entry(2, None) };
    let answer = append(&*store, &copied).await;
    assert_eq!((answer.seq, answer.station_number_reused), (2, true));
    // The same number of another station, or under another epoch, is a different number.
    let elsewhere = NewEntry { station: "bay-2".into(), station_number: 1, ..entry(3, None) };
    let renewed = NewEntry { station_epoch: [2; 16], station_number: 1, ..entry(4, None) };
    assert!(!append(&*store, &elsewhere).await.station_number_reused);
    assert!(!append(&*store, &renewed).await.station_number_reused);
    store = reopened(maker, store).await;
    assert!(append(&*store, &copied).await.station_number_reused, "the first answer names it for ever");
    assert!(!append(&*store, &entry(1, None)).await.station_number_reused, "the first of both never did");
    let once_more = NewEntry { station_number: 1, ..entry(5, None) };
    assert!(append(&*store, &once_more).await.station_number_reused);
    assert_sound(&*store).await;
}

async fn missing_station_numbers_are_listed<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    for number in [3, 4, 9, 6, 6] {
        let id = store.head().await.expect("head").seq + 100;
        append(&*store, &NewEntry { station_number: number, ..entry(id, None) }).await;
    }
    let gaps = store.station_gaps("bay-1", [1; 16]).await;
    assert_eq!(gaps, Ok(vec![1..=2, 5..=5, 7..=8]));
    assert_eq!(store.station_gaps("bay-1", [2; 16]).await, Ok(vec![]));
    assert_eq!(store.station_gaps("bay-2", [1; 16]).await, Ok(vec![]));
    assert_eq!(store.station_last_number("bay-1", [1; 16]).await, Ok(9));
    assert_eq!(store.station_last_number("bay-1", [2; 16]).await, Ok(0));
}

async fn proofs_check_against_the_heads<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let mut roots = vec![store.head().await.expect("head").root];
    for at in 1..=13 {
        append(&*store, &entry(at, None)).await;
        roots.push(store.head().await.expect("head").root);
    }
    let leaves: Vec<_> =
        store.read(1, 100).await.expect("read").iter().map(|entry| entry.leaf_hash).collect();
    for (new, new_root) in (0_u64..).zip(&roots) {
        assert_eq!(store.root_at(new).await, Ok(Some(*new_root)));
        for (old, old_root) in (0..=new).zip(&roots) {
            let proof = store.consistency_proof(old, new).await.expect("proof").expect("old <= new");
            assert!(verify_consistency(old, new, old_root, new_root, &proof), "{old} in {new}");
        }
        for (seq, leaf) in (1..=new).zip(&leaves) {
            let proof = store.inclusion_proof(seq, new).await.expect("proof").expect("seq <= size");
            assert!(verify_inclusion(leaf, seq - 1, new, &proof, new_root), "{seq} in {new}");
        }
    }
    assert_eq!(store.inclusion_proof(14, 14).await, Ok(None));
    assert_eq!(store.inclusion_proof(0, 13).await, Ok(None));
    assert_eq!(store.consistency_proof(1, 14).await, Ok(None));
    assert_eq!(store.consistency_proof(9, 8).await, Ok(None));
}

const PRODUCERS: u64 = 50;
const ENTRIES_EACH: u64 = 40;

async fn many_producers_at_once_get_unique_gapless_answers<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let tasks: Vec<_> =
        (0..PRODUCERS).map(|producer| tokio::spawn(produce(store.clone(), producer))).collect();
    let mut seqs = BTreeSet::new();
    let mut ordinals = BTreeSet::new();
    for task in tasks {
        let (own_seqs, ordinal) = task.await.expect("no producer fails");
        assert!(own_seqs.is_sorted(), "each producer's order is kept");
        ordinals.insert(ordinal);
        for seq in own_seqs {
            assert!(seqs.insert(seq), "sequence {seq} was given twice");
        }
    }
    assert_eq!(seqs, (1..=PRODUCERS * ENTRIES_EACH).collect());
    assert_eq!(ordinals, (1..=u32::try_from(PRODUCERS).expect("fits")).collect());
    assert_eq!(store.head().await.expect("head").seq, PRODUCERS * ENTRIES_EACH);
    assert_sound(&*store).await;
}

/// Appends a job's entries one after another, every third one twice; returns sequences and job ordinal.
async fn produce<S: Journal>(store: Arc<S>, producer: u64) -> (Vec<u64>, u32) {
    let job = job_id(producer + 1);
    let mut seqs = Vec::new();
    let mut ordinal = 0;
    for at in 1..=ENTRIES_EACH {
        let own =
            |entry: NewEntry| NewEntry { station: format!("bay-{producer}"), station_number: at, ..entry };
        let id = producer * 1_000 + at;
        let new = own(if at == 1 { arrival(id, job) } else { entry(id, Some(job)) });
        let answer = append(&*store, &new).await;
        if at % 3 == 0 {
            assert_eq!(append(&*store, &new).await, Appended { repeated: true, ..answer.clone() });
        }
        ordinal = answer.job_number.expect("an entry of a job has its number").ordinal;
        seqs.push(answer.seq);
    }
    (seqs, ordinal)
}

async fn one_caller_keeps_its_order<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    let mut pending = Vec::new();
    for at in 1..=200 {
        // The same id twice and an id with other bytes may meet in one commit.
        pending.push((at, false, store.submit(entry(at, None)).await.expect("queued")));
        let other = NewEntry { bytes: "other bytes".into(), ..entry(at, None) };
        pending.push((at, true, store.submit(other).await.expect("queued")));
        pending.push((at, false, store.submit(entry(at, None)).await.expect("queued")));
    }
    for (at, other_bytes, answer) in pending {
        match answer.answer().await {
            Ok(answer) => assert_eq!((answer.seq, other_bytes), (at, false)),
            Err(error) => {
                assert!(other_bytes);
                assert_eq!(error, StoreError::EntryIdReused { entry_id: entry_id(at), seq: at });
            }
        }
    }
    assert_sound(&*store).await;
}

async fn verify_reports_what_an_inspection_objects_to<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    append(&*store, &arrival(1, job_id(1))).await;
    append(&*store, &entry(2, Some(job_id(1)))).await;
    let mut objects =
        |entry: &crate::StoredEntry| (entry.seq == 2).then(|| "its header says another job".to_string());
    let report = store.verify(&mut objects).await.expect("verify");
    assert_eq!((report.entries, report.jobs, report.damage_count, report.is_sound()), (2, 1, 1, false));
    assert_eq!(report.root, store.head().await.expect("head").root);
    let text = report.damage[0].to_string();
    assert!(
        text.starts_with("entry 2, job 26-0001") && text.ends_with("its header says another job"),
        "{text}"
    );
}

async fn a_closed_journal_takes_nothing<M: Maker>(maker: &M) {
    let store = fresh(maker).await;
    append(&*store, &entry(1, None)).await;
    assert_eq!(store.health(), Ok(()));
    store.close().await.expect("close");
    assert_eq!(store.health(), Err(StoreError::Closed));
    assert_eq!(refusal(&*store, &entry(2, None)).await, StoreError::Closed);
    store.close().await.expect("closing twice does no harm");
    let store = reopened(maker, store).await;
    assert_eq!(append(&*store, &entry(2, None)).await.seq, 2);
}
