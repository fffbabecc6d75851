//! What an honest batch becomes, and that nothing else is taken for one.

use super::*;
use crate::tests::job_id;
use crate::tests::source::{SITE, Source, header};
use proptest::prelude::*;
use standpipe_proto::v1::{Fact, fact};
use standpipe_store::Journal as _;
use standpipe_store::tree::entry_leaf_hash;

async fn honest(count: u64) -> (Source, ForwardEntriesRequest) {
    let mut source = Source::new();
    source.grow(count).await;
    let request = source.batch(1, 1_000).await;
    (source, request)
}

#[tokio::test]
async fn an_honest_batch_gives_the_rows_that_its_own_server_has() {
    let (source, request) = honest(12).await;
    let brought = read(request).unwrap();
    assert_eq!((brought.unreadable.len(), brought.adopts), (0, false));
    for (one, stored) in brought.batch.entries.iter().zip(source.store.read(1, 99).await.unwrap()) {
        let entry = &one.entry;
        assert_eq!((entry.entry_id, entry.job), (stored.entry_id, stored.job));
        assert_eq!((&entry.station, entry.station_number), (&stored.station, stored.station_number));
        assert_eq!((entry.received_us, &entry.bytes), (stored.received_us, &stored.bytes));
        let row = match stored.job {
            Some(job) => source.store.job(job).await.unwrap().filter(|row| row.first_seq == stored.seq),
            None => None,
        };
        assert_eq!(one.number, row.map(|row| row.number));
        assert_eq!(entry.opens_job, one.number.is_some());
    }
    assert_eq!(brought.batch.entries.len(), 12);
}

#[tokio::test]
async fn an_entry_that_cannot_be_read_is_a_leaf_all_the_same_and_is_named() {
    let (source, _) = honest(4).await;
    let newer = Entry {
        header: Some(header(900, Subject::JobId(job_id(1)))),
        // As a kind looks that this version does not know.
        fact: Some(Fact { kind: None }),
    };
    source.append(900, Some(1), false, newer.encode_to_vec()).await;
    source.append(901, None, false, b"\xff\xffno message at all".to_vec()).await;
    let brought = read(source.batch(1, 99).await).unwrap();
    assert_eq!(brought.unreadable, [5, 6]);
    for (one, stored) in brought.batch.entries.iter().zip(source.store.read(1, 99).await.unwrap()) {
        let leaf = entry_leaf_hash(stored.seq, one.entry.received_us, &one.entry.bytes);
        assert_eq!(leaf, stored.leaf_hash);
    }
    let [known, unknown] = &brought.batch.entries[4..] else { panic!() };
    assert_eq!(known.entry.job.map(|job| job.to_string()), Some(job_id(1)), "it stays with its job");
    assert_eq!((unknown.entry.job, unknown.entry.station.as_str()), (None, NO_STATION));
    let again = read(source.batch(6, 1).await).unwrap();
    assert_eq!(again.batch.entries[0].entry.entry_id, unknown.entry.entry_id, "the same each time");
}

#[tokio::test]
async fn whatever_no_journal_can_hold_is_refused_by_field_and_bound() {
    type Change = fn(&mut ForwardEntriesRequest);
    let cases: [(Change, &str); 14] = [
        (|it| it.epoch.truncate(15), "epoch: has 15 bytes; 16 are needed"),
        (|it| it.root_before.push(0), "root_before: has 33 bytes; 32 are needed"),
        (|it| it.root_after.clear(), "root_after: has 0 bytes"),
        (|it| it.first_seq = -1, "first_seq: is below 1"),
        (|it| it.first_seq = i64::MAX, "first_seq: is beyond"),
        (|it| it.entries[2].received_time = None, "entries[2].received_time: is missing"),
        (|it| it.entries[2].received_time.as_mut().unwrap().nanos = 1, "entries[2].received_time: has 1 ns"),
        (|it| it.entries[2].received_time.as_mut().unwrap().seconds = i64::MAX, "64 bits of"),
        (
            |it| it.entries[0].job_year = 2025,
            "entries[0].job_year: is 2025, but the entry was received in another year",
        ),
        (|it| it.entries[0].job_year = 0, "entries[0].job_year: is 0 with a place of 1"),
        (|it| it.entries[0].job_ordinal = -4, "entries[0].job_year: is 2026 with a place of 0"),
        (|it| it.entries[1].job_year = 2026, "entries[1].job_year: is 2026 with a place of 0"),
        (
            |it| (it.entries[1].job_year, it.entries[1].job_ordinal) = (2026, 2),
            "entries[1].job_ordinal: numbers a job, but the entry belongs to none",
        ),
        (
            |it| (it.entries[2].job_year, it.entries[2].job_ordinal) = (2026, 2),
            "entries[2].job_ordinal: numbers a job, but the entry is no arrival",
        ),
    ];
    let (_, request) = honest(6).await;
    for (change, part) in cases {
        let mut request = request.clone();
        change(&mut request);
        let told = read(request).unwrap_err().to_string();
        assert!(told.contains(part), "{told}");
    }
    let other = ForwardEntriesRequest { site_id: "quarry-road".into(), ..request.clone() };
    let told = read(other).unwrap_err().to_string();
    assert!(told.contains("entries[1].entry.header.site_id: names the site 'mill-street'"), "{told}");
    let mut large = request;
    large.entries = vec![ForwardedEntry { entry: vec![0; 60_000].into(), ..large.entries[1].clone() }; 18];
    let told = read(large).unwrap_err().to_string();
    assert!(told.contains("have 1080000 bytes together; 1048576 are the most at once"), "{told}");
}

#[test]
fn a_clock_that_was_wrong_makes_no_entry_that_cannot_cross() {
    let arrived = Entry {
        header: Some(header(7, Subject::JobId(job_id(1)))),
        fact: Some(Fact { kind: Some(crate::tests::arrival("MS 7")) }),
    };
    // From the start of the clock of a machine without a battery to beyond all calendars.
    for (us, year) in
        [(0, 1970), (-1, 1969), (-5_000_000_000_000_000, 1811), (i64::MAX, 1970), (i64::MIN, 1969)]
    {
        let seconds = us.div_euclid(1_000_000);
        let entry = ForwardedEntry {
            received_time: Some(timestamp(us)),
            entry: arrived.encode_to_vec().into(),
            job_year: year,
            job_ordinal: 1,
        };
        let request = ForwardEntriesRequest {
            site_id: SITE.into(),
            epoch: vec![1; 16],
            first_seq: 5,
            root_before: vec![0; 32],
            root_after: vec![0; 32],
            entries: vec![entry],
        };
        if seconds.checked_mul(1_000_000).is_none() {
            // The last second of all has no beginning that 64 bits hold.
            continue;
        }
        let mut other = request.clone();
        let brought = read(request).unwrap();
        assert_eq!((brought.untimely, brought.unreadable.len()), (vec![5], 0), "{us}");
        assert_eq!(brought.batch.entries[0].entry.received_us, us);
        other.entries[0].job_year = 2026;
        let told = read(other).unwrap_err().to_string();
        assert!(told.contains("received in another year"), "{told}");
    }
}

#[test]
fn what_no_station_can_be_called_comes_into_no_column() {
    for name in ["ä".repeat(5_000), "b".repeat(41), String::new(), "bay\0one".into(), "Bay 1".into()] {
        let odd = Entry {
            header: Some(standpipe_proto::v1::Header {
                station_id: name,
                ..header(7, Subject::JobId(job_id(1)))
            }),
            fact: Some(Fact { kind: Some(fact::Kind::Closing(standpipe_proto::v1::Closing::default())) }),
        };
        let entry = ForwardedEntry {
            received_time: Some(timestamp(1_773_831_600_000_000)),
            entry: odd.encode_to_vec().into(),
            ..ForwardedEntry::default()
        };
        let one = At { index: 0, seq: 5, site: SITE }.read(entry).ok().unwrap();
        let placed = one.entry.entry;
        assert!(!one.readable && placed.job.is_some(), "it stays with its job");
        assert_eq!((placed.station.as_str(), placed.station_number), (NO_STATION, 5));
    }
}

proptest! {
    #[test]
    fn no_bytes_are_taken_for_a_batch_that_says_something_else(
        bytes in proptest::collection::vec(any::<u8>(), 0..400),
        times in proptest::collection::vec((any::<i64>(), any::<i32>(), any::<i32>(), any::<i32>()), 0..4),
    ) {
        // Whatever decodes, and whatever stands in the fields around the entries, is read without a panic; what comes out
        // holds the very bytes and times.
        if let Ok(request) = ForwardEntriesRequest::decode(bytes.as_slice()) {
            let _ = read(request);
        }
        let entries: Vec<_> = times.iter().map(|(seconds, nanos, job_year, job_ordinal)| ForwardedEntry {
            received_time: Some(prost_types::Timestamp { seconds: *seconds, nanos: *nanos }),
            entry: bytes.clone().into(),
            job_year: *job_year,
            job_ordinal: *job_ordinal,
        }).collect();
        let request = ForwardEntriesRequest {
            site_id: SITE.into(), epoch: vec![1; 16], first_seq: 1,
            root_before: vec![0; 32], root_after: vec![0; 32], entries,
        };
        if let Ok(brought) = read(request) {
            for (one, (seconds, nanos, ..)) in brought.batch.entries.iter().zip(&times) {
                prop_assert_eq!(&one.entry.bytes[..], bytes.as_slice());
                prop_assert_eq!(one.entry.received_us, seconds * 1_000_000 + i64::from(*nanos) / 1_000);
            }
        }
    }
}
