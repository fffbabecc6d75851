//! One entry: taken once, answered the same for ever, refused in a sentence.

use super::{as_station, everything, stop, workshop};
use prost::Message as _;
use standpipe_proto::v1::{self, append_stream_response::Answer};
use standpipe_server::{Role, RunningServer};
use standpipe_tests::clock::Hand;
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{JournalClient, Site, append};
use standpipe_tests::told::{info, reason};
use std::collections::BTreeSet;
use tonic::Code;

/// 31 December 2026, 23:00 UTC, which is the same in the time zone of the site.
const NEW_YEARS_EVE_US: i64 = 1_798_758_000_000_000;

#[tokio::test]
async fn the_same_entry_again_gets_the_first_answer_also_after_a_restart() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let arrival = sealer.seal(&job, facts::arrival("PH 482 K"));
    let drained = sealer.seal(&job, facts::drained(3.05));
    let first = [append(&mut bay, &arrival).await.unwrap(), append(&mut bay, &drained).await.unwrap()];
    assert!(first.iter().all(|answer| !answer.repeated && answer.job_number == "HL-26-0001"), "{first:?}");
    assert_eq!(first[1].seq, first[0].seq + 1);
    let again = v1::Acknowledgement { repeated: true, ..first[0].clone() };
    assert_eq!(append(&mut bay, &arrival).await.unwrap(), again);
    stop(server).await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    assert_eq!(append(&mut bay, &arrival).await.unwrap(), again);
    let again = v1::Acknowledgement { repeated: true, ..first[1].clone() };
    assert_eq!(append(&mut bay, &drained).await.unwrap(), again);
    assert_eq!(everything(&mut bay, &job).await.0.len(), 2);
}

#[tokio::test]
async fn the_same_id_with_other_bytes_is_refused_and_the_first_bytes_stay() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let arrival = sealer.seal(&job, facts::arrival("PH 482 K"));
    let taken = append(&mut bay, &arrival).await.unwrap();
    let mut other = v1::Entry::decode(&*arrival.bytes).unwrap();
    other.fact = Some(v1::Fact { kind: Some(facts::arrival("PH 482 L")) });
    let other = Sealed { bytes: other.encode_to_vec().into(), ..arrival.clone() };
    let refused = append(&mut bay, &other).await.unwrap_err();
    assert_eq!(refused.code(), Code::AlreadyExists);
    let told = info(&refused).unwrap();
    assert_eq!(told.reason, "ENTRY_ID_REUSED");
    assert_eq!(told.metadata["entry_id"], arrival.entry_id);
    assert_eq!(told.metadata["seq"], taken.seq.to_string());
    assert!(refused.message().contains(&arrival.entry_id), "{}", refused.message());
    let (entries, _) = everything(&mut bay, &job).await;
    assert_eq!(entries.iter().map(|entry| entry.entry.clone()).collect::<Vec<_>>(), [arrival.bytes]);
}

#[tokio::test]
async fn an_entry_for_a_job_that_nobody_opened_is_refused_and_taken_once_it_is_open() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let drained = sealer.seal(&job, facts::drained(3.05));
    let refused = append(&mut bay, &drained).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::NotFound, "JOB_UNKNOWN"));
    assert_eq!(info(&refused).unwrap().metadata["job"], job);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    assert!(!append(&mut bay, &drained).await.unwrap().repeated, "a refused entry leaves nothing behind");
}

#[tokio::test]
async fn job_numbers_have_no_gap_although_three_stations_open_jobs_at_once_and_some_are_refused() {
    let site = Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve_on(Hand::at(NEW_YEARS_EVE_US)).await;
    let mut opening = Vec::new();
    for (seed, station) in ["bay-1", "bay-2", "office"].into_iter().enumerate() {
        let client = as_station(&site, &server, station).await;
        opening.push(tokio::spawn(open_twenty(client, Sealer::new(station, seed as u64 + 1))));
    }
    let mut numbers = BTreeSet::new();
    for opened in opening {
        numbers.extend(opened.await.unwrap());
    }
    let expected: BTreeSet<String> = (1..=60).map(|number| format!("HL-26-{number:04}")).collect();
    assert_eq!(numbers, expected);
}

/// Opens twenty jobs; between them an opening is sent again and an entry is refused.
async fn open_twenty(mut client: JournalClient, mut sealer: Sealer) -> Vec<String> {
    let mut numbers = Vec::new();
    for number in 1..=20 {
        let opening = sealer.seal(&sealer.job(number), facts::arrival("PH 482 K"));
        let taken = append(&mut client, &opening).await.unwrap();
        assert_eq!(append(&mut client, &opening).await.unwrap().job_number, taken.job_number);
        let unopened = sealer.seal(&sealer.job(1_000 + number), facts::closing());
        assert!(append(&mut client, &unopened).await.is_err());
        numbers.push(taken.job_number);
    }
    numbers
}

#[tokio::test]
async fn numbers_begin_anew_with_the_year_of_the_site_and_a_job_keeps_its_own() {
    let site = workshop().await;
    let clock = Hand::at(NEW_YEARS_EVE_US);
    let server = site.serve_on(clock.clone()).await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let (old, new) = (sealer.job(1), sealer.job(2));
    let opened = append(&mut bay, &sealer.seal(&old, facts::arrival("PH 482 K"))).await.unwrap();
    assert_eq!(opened.job_number, "HL-26-0001");
    clock.forward(3_600_000_000);
    let opened = append(&mut bay, &sealer.seal(&new, facts::arrival("PH 483 K"))).await.unwrap();
    assert_eq!((opened.job_number.as_str(), opened.plate.as_str()), ("HL-27-0001", "PH 483 K"));
    let later = append(&mut bay, &sealer.seal(&old, facts::drained(3.05))).await.unwrap();
    assert_eq!((later.job_number.as_str(), later.plate.as_str()), ("HL-26-0001", "PH 482 K"));
}

#[tokio::test]
async fn a_station_number_used_twice_is_kept_and_told() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let opening = sealer.seal(&job, facts::arrival("PH 482 K"));
    assert!(!append(&mut bay, &opening).await.unwrap().station_number_reused);
    let mut copied = Sealer::new("bay-1", 2);
    copied.epoch.clone_from(&sealer.epoch);
    let mut entry = copied.entry(v1::header::Subject::JobId(job.clone()), facts::drained(3.05), &[]);
    entry.header.as_mut().unwrap().entry_id = standpipe_tests::sealed::uuid_v7(77, 1);
    let entry_id = entry.header.as_ref().unwrap().entry_id.clone();
    let copied = Sealed { entry_id, bytes: entry.encode_to_vec().into() };
    assert!(append(&mut bay, &copied).await.unwrap().station_number_reused);
    assert!(append(&mut bay, &copied).await.unwrap().station_number_reused, "the first answer again");
    assert!(!append(&mut bay, &opening).await.unwrap().station_number_reused, "the first answer again");
    let fresh_epoch = Sealer::new("bay-1", 3).seal(&job, facts::drained(3.0));
    assert!(
        !append(&mut bay, &fresh_epoch).await.unwrap().station_number_reused,
        "another epoch counts anew"
    );
    assert_eq!(everything(&mut bay, &job).await.0.len(), 3, "nothing is dropped");
}

#[tokio::test]
async fn an_answer_and_its_repetition_are_the_same_by_stream_and_by_call() {
    let site = workshop().await;
    let server: RunningServer = site.serve().await;
    let mut bay = as_station(&site, &server, "bay-1").await;
    let mut sealer = Sealer::new("bay-1", 1);
    let opening = sealer.seal(&sealer.job(1), facts::arrival("PH 482 K"));
    let twice =
        [opening.clone(), opening.clone()].map(|entry| v1::AppendStreamRequest { entry: entry.bytes });
    let mut answers = bay.append_stream(tokio_stream::iter(twice)).await.unwrap().into_inner();
    let mut taken = Vec::new();
    while let Some(answer) = answers.message().await.unwrap() {
        let Some(Answer::Acknowledgement(acknowledgement)) = answer.answer else { panic!("{answer:?}") };
        taken.push(acknowledgement);
    }
    let by_call = append(&mut bay, &opening).await.unwrap();
    assert_eq!(taken[1], by_call);
    assert_eq!(taken[0], v1::Acknowledgement { repeated: false, ..by_call });
}
