//! The list of jobs after a start that found no line of it, as after a restore.

use super::*;
use crate::lines;
use crate::site::written;
use crate::status::Cause;
use standpipe_store::{EntryId, JobId, NewEntry, SummaryFilter};

fn id(text: &str) -> [u8; 16] {
    uuid::Uuid::try_parse(text).unwrap().into_bytes()
}

/// So many jobs in the journal, and no line of any.
async fn jobs(shop: &Shop, workshop: &Workshop, count: u64) {
    for number in 1..=count {
        let bytes = shop.seal("bay-1", &job_id(number), arrival("AB 123"));
        let header = Entry::decode(bytes.clone()).unwrap().header.unwrap();
        let entry = NewEntry {
            entry_id: EntryId(id(&header.entry_id)),
            job: Some(JobId(id(&job_id(number)))),
            opens_job: true,
            station: "bay-1".into(),
            station_epoch: [0; 16],
            station_number: u64::try_from(header.station_number).unwrap(),
            received_us: START_US,
            year: 2026,
            bytes,
        };
        workshop.journal.append(entry).await.unwrap();
    }
}

#[tokio::test]
async fn nothing_is_answered_on_some_of_the_jobs_until_all_are_read_in_batches() {
    let shop = Shop::found().await;
    let workshop = shop.workshop().await;
    jobs(&shop, &workshop, 120).await;
    for _ in 0..2 {
        let refused = workshop.require_whole_site().await.unwrap_err();
        assert!(matches!(refused, Cause::ListIncomplete), "{refused}");
        assert!(!refused.is_permanent());
    }
    workshop.require_whole_site().await.unwrap();
    let site = workshop.site().await.unwrap();
    assert!(site.complete && site.left_out.is_empty());
    assert_eq!(workshop.site.number_of(&job_id(120)), Some("HL-26-0120".to_owned()));
}

#[tokio::test]
async fn an_acknowledgement_has_its_plate_while_the_list_is_put_together() {
    let shop = Shop::found().await;
    let workshop = shop.workshop().await;
    jobs(&shop, &workshop, 1).await;
    let _listing = workshop.listing.lock().await;
    let label = workshop.label(JobId(id(&job_id(1)))).await.unwrap();
    assert_eq!((label.number.as_str(), label.plate.as_str()), ("HL-26-0001", "AB 123"));
}

#[tokio::test]
async fn an_account_that_another_version_wrote_is_computed_again() {
    let shop = Shop::found().await;
    let workshop = shop.workshop().await;
    jobs(&shop, &workshop, 1).await;
    assert!(lines::refresh(&workshop).await.unwrap());
    let account = workshop.site.account(&job_id(1)).unwrap();
    let whole = written(&account).unwrap();
    let mut line = workshop.beside.summaries(&SummaryFilter::default(), 1).await.unwrap().remove(0);
    assert_eq!(line.account, whole);
    line.account = r#"{"number":"of another version"}"#.to_owned();
    workshop.beside.put_summary(line).await.unwrap();
    let again = shop.workshop().await;
    again.require_whole_site().await.ok();
    again.require_whole_site().await.unwrap();
    assert_eq!(again.site.account(&job_id(1)), Some(account));
    let line = again.beside.summaries(&SummaryFilter::default(), 1).await.unwrap().remove(0);
    assert_eq!(line.account, whole);
}
