//! Steps, editions of the record, work sheets.

use super::network::{append, reason};
use super::*;
use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{
    BaySheetRequest, GetRequest, IssueRequest, IssueResponse, NextRequest, ReadRequest, RecordIssued,
    RenderRequest,
};
use tonic::Code;

type Records = RecordServiceClient<Bearer>;

/// A site with one open job, number 1.
async fn open_job() -> (Shop, RunningServer) {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    (shop, server)
}

/// The same, closed, so that its record can be issued.
async fn closed_job() -> (Shop, RunningServer) {
    let (shop, server) = open_job().await;
    state(&shop, &server, closing()).await;
    (shop, server)
}

async fn state(shop: &Shop, server: &RunningServer, kind: Kind) {
    let mut bay = shop.journal(server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), kind)).await.unwrap();
}

async fn records(shop: &Shop, server: &RunningServer, station: &str) -> Records {
    RecordServiceClient::new(shop.bearer(server, station).await)
}

fn request(number: u64) -> IssueRequest {
    IssueRequest { job: "1".into(), request_id: entry_id(0xA000 + number), person_code: "A".into() }
}

async fn issue(records: &mut Records, number: u64) -> IssueResponse {
    records.issue(request(number)).await.unwrap().into_inner()
}

fn render(edition: i32) -> RenderRequest {
    RenderRequest { job: "1".into(), edition, annex: false }
}

#[tokio::test]
async fn the_steps_that_remain_come_in_the_order_of_the_work_and_shrink() {
    let (shop, server) = open_job().await;
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    let next = jobs.next(NextRequest { job: "1".into() }).await.unwrap().into_inner();
    assert_eq!((next.summary.unwrap().number.as_str(), next.last_seq), ("HL-26-0001", 6));
    let names: Vec<_> = next.steps.iter().map(|step| step.name.as_str()).collect();
    assert!(
        names.len() > 5 && next.steps.iter().all(|step| !step.question.is_empty() && !step.kind.is_empty())
    );
    assert!(next.steps.iter().flat_map(|step| &step.fields).all(|field| field.input != 0));
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    let next = jobs.next(NextRequest { job: "1".into() }).await.unwrap().into_inner();
    assert_eq!((next.steps.len(), next.last_seq), (0, 7));
    let unknown = jobs.next(NextRequest { job: "9".into() }).await.unwrap_err();
    assert_eq!(reason(&unknown), "JOB_UNKNOWN");
}

#[tokio::test]
async fn an_edition_is_reprinted_byte_for_byte_whatever_comes_after_it() {
    let (shop, server) = closed_job().await;
    let mut office = records(&shop, &server, "office").await;
    let first = issue(&mut office, 1).await;
    assert_eq!((first.edition, first.file_name.as_str()), (1, "HL-26-0001-1.pdf"));
    assert!(first.pdf.starts_with(b"%PDF-") && first.check_value.len() == 16);
    state(&shop, &server, corrected_plate(&entry_id(1), "XY 999")).await;
    let again = office.render(render(1)).await.unwrap().into_inner();
    assert_eq!((&again.pdf, &again.check_value), (&first.pdf, &first.check_value));
    let second = issue(&mut office, 2).await;
    assert_eq!(second.edition, 2);
    assert!(second.pdf != first.pdf && second.check_value != first.check_value);
    server.shutdown();
    server.join().await.unwrap();
    let server = shop.serve().await;
    let mut office = records(&shop, &server, "office").await;
    assert_eq!(office.render(render(1)).await.unwrap().into_inner().pdf, first.pdf);
    state(&shop, &server, corrected_plate(&entry_id(1), "XY 998")).await;
    // The server's own station goes on with its numbers after a start.
    assert_eq!(issue(&mut office, 3).await.edition, 3);
    let unknown = office.render(render(4)).await.unwrap_err();
    assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "EDITION_UNKNOWN"));
    let annex = RenderRequest { annex: true, ..render(1) };
    assert_eq!(office.render(annex).await.unwrap_err().code(), Code::InvalidArgument);
    let verified = crate::verify(&shop.dir).await.unwrap();
    assert!(verified.is_sound(), "{verified:?}");
}

#[tokio::test]
async fn the_same_request_is_issued_once() {
    let (shop, server) = closed_job().await;
    let mut office = records(&shop, &server, "office").await;
    let mut bay = records(&shop, &server, "bay-1").await;
    let first = issue(&mut office, 1).await;
    assert_eq!(issue(&mut bay, 1).await, first);
    state(&shop, &server, corrected_plate(&entry_id(1), "XY 999")).await;
    let (one, other) = tokio::join!(office.issue(request(2)), bay.issue(request(2)));
    assert_eq!(one.unwrap().into_inner(), other.unwrap().into_inner());
    state(&shop, &server, corrected_plate(&entry_id(1), "XY 998")).await;
    assert_eq!(issue(&mut office, 3).await.edition, 3);
    let mut journal = shop.journal(&server, "bay-1").await;
    append(&mut journal, shop.seal("bay-1", &job_id(2), arrival("CD 456"))).await.unwrap();
    let other_job = IssueRequest { job: "2".into(), ..request(1) };
    assert_eq!(reason(&office.issue(other_job).await.unwrap_err()), "ENTRY_ID_REUSED");
    let taken = IssueRequest { request_id: entry_id(1), ..request(1) };
    assert_eq!(reason(&office.issue(taken).await.unwrap_err()), "ENTRY_ID_REUSED");
}

#[tokio::test]
async fn a_record_is_issued_when_the_job_is_closed_and_again_only_after_a_change() {
    let (shop, server) = open_job().await;
    let mut office = records(&shop, &server, "office").await;
    let open = office.issue(request(1)).await.unwrap_err();
    assert_eq!((open.code(), reason(&open).as_str()), (Code::FailedPrecondition, "JOB_NOT_CLOSED"));
    let sentence =
        "job HL-26-0001 is not closed; close it, then issue its record (a draft can be printed at any time)";
    assert_eq!(open.message(), sentence);
    assert!(office.render(render(0)).await.is_ok());
    state(&shop, &server, closing()).await;
    // What was refused can be asked for again, by the same identity.
    let first = issue(&mut office, 1).await;
    state(&shop, &server, Kind::Handover(v1::Handover { edition: 1 })).await;
    let same = office.issue(request(2)).await.unwrap_err();
    assert_eq!((same.code(), reason(&same).as_str()), (Code::FailedPrecondition, "RECORD_UNCHANGED"));
    assert!(same.message().contains("has not changed since edition 1 of its record"), "{}", same.message());
    assert_eq!(issue(&mut office, 1).await, first);
    let mut customers = CustomerServiceClient::new(shop.bearer(&server, "office").await);
    let customer = Some(v1::Customer { name: "Customer Wren".into(), telephone: String::new() });
    customers.put_customer(v1::PutCustomerRequest { job: "1".into(), customer }).await.unwrap();
    assert_eq!(issue(&mut office, 2).await.edition, 2, "it names whom it is for");
    assert_eq!(reason(&office.issue(request(3)).await.unwrap_err()), "RECORD_UNCHANGED");
}

#[tokio::test]
async fn an_issued_edition_names_the_tree_it_was_printed_from() {
    let (shop, server) = closed_job().await;
    let mut office = records(&shop, &server, "office").await;
    let before =
        shop.journal(&server, "office").await.read(ReadRequest::default()).await.unwrap().into_inner();
    let edition = issue(&mut office, 1).await;
    let after =
        shop.journal(&server, "office").await.read(ReadRequest::default()).await.unwrap().into_inner();
    let entry = Entry::decode(after.entries.last().unwrap().entry.clone()).unwrap();
    let header = entry.header.unwrap();
    assert_eq!((header.station_id.as_str(), header.person_code.as_str()), ("server", "A"));
    assert_eq!(header.entry_id, request(1).request_id);
    let Some(Kind::RecordIssued(issued)) = entry.fact.unwrap().kind else { panic!("not issued") };
    assert_eq!(issued.tree_size, before.tree_size);
    assert_eq!(issued.tree_root, crate::clock::hex(&before.root));
    assert_eq!(issued.blob_digest, crate::blob::digest_of(&edition.pdf));
}

#[tokio::test]
async fn a_station_cannot_state_that_a_record_was_issued() {
    let (shop, server) = open_job().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let issued = || {
        Kind::RecordIssued(RecordIssued {
            edition: 1,
            blob_digest: "0".repeat(64),
            tree_size: 1,
            tree_root: "0".repeat(64),
            engine_version: "0.1.0".into(),
            language: "en".into(),
            ..RecordIssued::default()
        })
    };
    let refused = append(&mut bay, shop.seal("bay-1", &job_id(1), issued())).await.unwrap_err();
    assert_eq!(reason(&refused), "KIND_NOT_PERMITTED");
    let corrected = Kind::Correction(Box::new(Correction {
        corrected_entry_id: entry_id(1),
        reason: "misread".into(),
        outcome: Some(v1::correction::Outcome::Replacement(Box::new(Fact { kind: Some(issued()) }))),
    }));
    let refused = append(&mut bay, shop.seal("bay-1", &job_id(1), corrected)).await.unwrap_err();
    assert_eq!(reason(&refused), "KIND_NOT_PERMITTED");
}

#[tokio::test]
async fn a_lost_edition_is_named_and_never_printed_anew() {
    let (shop, server) = closed_job().await;
    let mut office = records(&shop, &server, "office").await;
    let digest = crate::blob::digest_of(&issue(&mut office, 1).await.pdf);
    let file = shop.dir.join("blobs").join(&digest[..2]).join(&digest);
    std::fs::remove_file(file).unwrap();
    let lost = office.render(render(1)).await.unwrap_err();
    assert_eq!((lost.code(), reason(&lost).as_str()), (Code::DataLoss, "BLOB_DAMAGED"));
    assert!(!crate::verify(&shop.dir).await.unwrap().is_sound());
}

#[tokio::test]
async fn a_bay_issues_while_it_sees_the_job_and_prints_a_sheet() {
    let (shop, server) = open_job().await;
    let mut bay = records(&shop, &server, "bay-1").await;
    let sheet = bay.bay_sheet(BaySheetRequest { job: "1".into() }).await.unwrap().into_inner();
    assert!(sheet.pdf.starts_with(b"%PDF-") && sheet.file_name == "HL-26-0001-sheet.pdf");
    let mut journal = shop.journal(&server, "bay-1").await;
    append(&mut journal, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    shop.clock.forward(7 * DAY_US + 1);
    assert_eq!(reason(&bay.issue(request(1)).await.unwrap_err()), "CLOSED_LONG_AGO");
    let mut office = records(&shop, &server, "office").await;
    issue(&mut office, 1).await;
    assert_eq!(reason(&bay.render(render(1)).await.unwrap_err()), "CLOSED_LONG_AGO");
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "office").await);
    assert!(jobs.get(GetRequest { job: "1".into() }).await.is_ok());
}

#[tokio::test]
async fn an_edition_is_issued_once_though_whoever_asked_went_away() {
    let (shop, server) = closed_job().await;
    server.shutdown();
    server.join().await.unwrap();
    let workshop = shop.workshop().await;
    let row = workshop.find("1").await.unwrap();
    let reached = workshop.journal.head().await.unwrap().seq;
    let request = standpipe_store::EntryId(entry_id(0xA001).parse::<uuid::Uuid>().unwrap().into_bytes());
    let issue = || crate::record::issue(&workshop, &row, request, "A", crate::record::Reader::Office);
    tokio::select! {
        biased;
        _ = issue() => panic!("it was waited for"),
        () = tokio::task::yield_now() => {}
    }
    assert_eq!(workshop.journal.grown_beyond(reached).await.unwrap(), reached + 1);
    assert_eq!(issue().await.unwrap().edition, 1);
    assert_eq!(workshop.journal.head().await.unwrap().seq, reached + 1);
    workshop.journal.close().await.unwrap();
}

#[tokio::test]
async fn an_earlier_job_that_turns_out_to_be_of_the_same_vehicle_is_looked_back_at() {
    let (shop, server) = open_job().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(2), arrival("XY 999"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    let get = || GetRequest { job: "2".into() };
    let alone = jobs.get(get()).await.unwrap().into_inner().job.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(1), corrected_plate(&entry_id(1), "XY 999"))).await.unwrap();
    let after = jobs.get(get()).await.unwrap().into_inner().job.unwrap();
    assert_ne!(after.history, alone.history);
    append(&mut bay, shop.seal("bay-1", &job_id(2), closing())).await.unwrap();
    let kept = jobs.get(get()).await.unwrap().into_inner();
    server.shutdown();
    server.join().await.unwrap();
    let server = shop.serve().await;
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    assert_eq!(jobs.get(get()).await.unwrap().into_inner(), kept);
}
