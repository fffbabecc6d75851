//! Calls over the network and their answers.

use super::*;
use standpipe_proto::METHODS;
use standpipe_proto::limits::STREAM_WINDOW_MAX;
use standpipe_proto::v1::append_stream_response::Answer;
use standpipe_proto::v1::catalogue_service_client::CatalogueServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{
    Acknowledgement, AppendRequest, AppendStreamRequest, DescribeRequest, GetRequest, GetRevisionRequest,
    ListPersonsRequest, ListRequest, ListVariantsRequest, MayRequest, ReadRequest, RenderRequest,
};
use std::path::Path;
use tokio_stream::StreamExt as _;
use tonic::Code;
use tonic_types::StatusExt as _;

pub(super) async fn append(
    client: &mut JournalServiceClient<Bearer>,
    entry: Bytes,
) -> Result<Acknowledgement, Status> {
    let answer = client.append(AppendRequest { entry }).await?;
    Ok(answer.into_inner().acknowledgement.unwrap())
}

pub(super) fn reason(status: &Status) -> String {
    status.get_details_error_info().map(|info| info.reason).unwrap_or_default()
}

fn get(job: &str) -> GetRequest {
    GetRequest { job: job.into() }
}

#[tokio::test]
async fn an_entry_is_acknowledged_with_number_and_plate_and_again_the_same() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let sealed = shop.seal("bay-1", &job_id(1), arrival("AB 123"));
    let first = append(&mut bay, sealed.clone()).await.unwrap();
    assert_eq!(
        (first.job_number.as_str(), first.plate.as_str(), first.repeated),
        ("HL-26-0001", "AB 123", false)
    );
    let again = append(&mut bay, sealed).await.unwrap();
    assert_eq!(again, Acknowledgement { repeated: true, ..first.clone() });
    let corrected = corrected_plate(&first.entry_id, "XY 999");
    let after = append(&mut bay, shop.seal("bay-1", &job_id(1), corrected)).await.unwrap();
    assert_eq!(after.plate, "XY 999");
    server.shutdown();
    server.join().await.unwrap();
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-2").await;
    let later = append(&mut bay, shop.seal("bay-2", &job_id(1), closing())).await.unwrap();
    assert_eq!((later.job_number.as_str(), later.plate.as_str()), ("HL-26-0001", "XY 999"));
}

#[tokio::test]
async fn what_a_station_may_not_send_is_refused_and_nothing_is_kept() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let refused = append(&mut bay, shop.seal("bay-2", &job_id(1), arrival("AB 123"))).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::PermissionDenied, "STATION_MISMATCH"));
    let unknown = append(&mut bay, shop.seal("bay-1", &job_id(9), closing())).await.unwrap_err();
    assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "JOB_UNKNOWN"));
    let empty = append(&mut bay, Bytes::new()).await.unwrap_err();
    assert_eq!(empty.code(), Code::InvalidArgument);
    assert!(!empty.get_details_bad_request().unwrap().field_violations.is_empty());
    let giant = append(&mut bay, vec![0; 2 * 1024 * 1024].into()).await.unwrap_err();
    assert_eq!((giant.code(), reason(&giant).as_str()), (Code::InvalidArgument, "MESSAGE_TOO_LARGE"));
    let listed = v1::PersonListed { listed_person_code: "B".into(), removed: false };
    let mut of_site = Entry::decode(shop.seal("bay-1", "x", Kind::PersonListed(listed))).unwrap();
    let mut for_site = |site: &str| {
        of_site.header.as_mut().unwrap().subject = Some(Subject::SiteId(site.into()));
        Bytes::from(of_site.encode_to_vec())
    };
    let kind = append(&mut bay, for_site("harbour-lane")).await.unwrap_err();
    assert_eq!(reason(&kind), "KIND_NOT_PERMITTED");
    let site = append(&mut bay, for_site("mill-street")).await.unwrap_err();
    assert_eq!(reason(&site), "SITE_MISMATCH");
    let mut office = shop.journal(&server, "office").await;
    let read = office.read(ReadRequest::default()).await.unwrap().into_inner();
    // The admin's and three stations' enrolment and one person.
    assert_eq!((read.entries.len(), read.tree_size), (5, 5));
}

#[tokio::test]
async fn a_stream_answers_in_order_and_goes_on_after_a_refusal() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    let mut entries = vec![shop.seal("bay-1", &job_id(1), arrival("AB 123"))];
    entries.extend((0..STREAM_WINDOW_MAX * 3).map(|_| shop.seal("bay-1", &job_id(1), closing())));
    entries.insert(2, Bytes::from_static(b"\xff\xff"));
    entries.insert(3, shop.seal("bay-1", &job_id(7), closing()));
    let count = entries.len();
    let requests = tokio_stream::iter(entries.into_iter().map(|entry| AppendStreamRequest { entry }));
    let answers = bay.append_stream(requests).await.unwrap().into_inner();
    let answers: Vec<_> = answers.map(|answer| answer.unwrap().answer.unwrap()).collect().await;
    assert_eq!(answers.len(), count);
    let mut last_seq = 0;
    for (at, answer) in answers.into_iter().enumerate() {
        match answer {
            Answer::Acknowledgement(acknowledged) => {
                assert!(acknowledged.seq > last_seq && acknowledged.job_number == "HL-26-0001");
                last_seq = acknowledged.seq;
            }
            Answer::Refusal(refusal) if at == 2 => assert_eq!(refusal.reason, "ENTRY_UNREADABLE"),
            Answer::Refusal(refusal) => {
                assert_eq!((at, refusal.reason.as_str()), (3, "JOB_UNKNOWN"));
                assert_eq!(refusal.entry_id.len(), 36);
            }
        }
    }
}

#[tokio::test]
async fn a_job_is_found_by_identity_number_and_short_number() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "bay-2").await);
    for name in [job_id(1).as_str(), "HL-26-0001", "26-0001", "1"] {
        let job = jobs.get(get(name)).await.unwrap().into_inner().job.unwrap();
        assert_eq!(job.summary.unwrap().number, "HL-26-0001", "{name}");
        assert_eq!((job.entry_count, job.check_value.len()), (1, 16));
    }
    for name in ["MS-26-0001", "2", "HL-25-0001", "nonsense"] {
        let unknown = jobs.get(get(name)).await.unwrap_err();
        assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "JOB_UNKNOWN"), "{name}");
    }
    let may = |gate: &str| MayRequest { job: "1".into(), gate: gate.into() };
    let answer = jobs.may(may("exchange")).await.unwrap().into_inner();
    assert!(!answer.yes && !answer.missing.is_empty() && answer.last_seq == 6);
    assert_eq!(reason(&jobs.may(may("fly")).await.unwrap_err()), "GATE_UNKNOWN");
}

#[tokio::test]
async fn lists_and_reads_go_page_by_page_without_a_gap() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    for number in 1..=5 {
        append(&mut bay, shop.seal("bay-1", &job_id(number), arrival(&format!("P {number}")))).await.unwrap();
    }
    let mut jobs = JobServiceClient::new(shop.bearer(&server, "office").await);
    let (mut plates, mut page_token) = (Vec::new(), String::new());
    loop {
        let request = ListRequest { page_size: 2, page_token, ..ListRequest::default() };
        let page = jobs.list(request).await.unwrap().into_inner();
        plates.extend(page.jobs.into_iter().map(|job| job.plate));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(plates, ["P 5", "P 4", "P 3", "P 2", "P 1"]);
    let search = |search: &str| ListRequest { search: search.into(), ..ListRequest::default() };
    for (text, found) in [("HL-26-0004", 1), ("p3", 1), ("P", 5), ("nothing", 0)] {
        assert_eq!(jobs.list(search(text)).await.unwrap().into_inner().jobs.len(), found, "{text}");
    }
    let mut office = shop.journal(&server, "office").await;
    let (mut seqs, mut page_token) = (Vec::new(), String::new());
    loop {
        let request = ReadRequest { page_size: 3, page_token, ..ReadRequest::default() };
        let page = office.read(request).await.unwrap().into_inner();
        seqs.extend(page.entries.into_iter().map(|entry| entry.seq));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(seqs, (1..=10).collect::<Vec<_>>());
    let foreign = ReadRequest { page_token: "3.0000000000000000".into(), ..ReadRequest::default() };
    assert_eq!(reason(&office.read(foreign).await.unwrap_err()), "PAGE_TOKEN_INVALID");
}

#[tokio::test]
async fn a_bay_sees_closed_jobs_for_a_week_and_never_the_whole_journal() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("OLD 1"))).await.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(1), closing())).await.unwrap();
    append(&mut bay, shop.seal("bay-1", &job_id(2), arrival("OPEN 2"))).await.unwrap();
    let mut bay_jobs = JobServiceClient::new(shop.bearer(&server, "bay-1").await);
    let mut office_jobs = JobServiceClient::new(shop.bearer(&server, "office").await);
    shop.clock.forward(7 * DAY_US);
    assert_eq!(bay_jobs.list(ListRequest::default()).await.unwrap().into_inner().jobs.len(), 2);
    shop.clock.forward(1);
    let seen = bay_jobs.list(ListRequest::default()).await.unwrap().into_inner().jobs;
    assert_eq!(seen.iter().map(|job| job.plate.as_str()).collect::<Vec<_>>(), ["OPEN 2"]);
    let old = bay_jobs.get(get("1")).await.unwrap_err();
    assert_eq!((old.code(), reason(&old).as_str()), (Code::PermissionDenied, "CLOSED_LONG_AGO"));
    assert!(bay.read(ReadRequest { job: "1".into(), ..ReadRequest::default() }).await.is_err());
    assert_eq!(bay.read(ReadRequest::default()).await.unwrap_err().code(), Code::PermissionDenied);
    assert!(office_jobs.get(get("1")).await.is_ok());
    // A remark on an old job does not bring it back into the bay.
    append(&mut bay, shop.seal("bay-1", &job_id(1), corrected_plate(&entry_id(1), "OLD 1"))).await.unwrap();
    assert_eq!(bay_jobs.list(ListRequest::default()).await.unwrap().into_inner().jobs.len(), 1);
}

#[tokio::test]
async fn every_role_may_what_the_table_says_and_strangers_only_see_health() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    for method in METHODS.iter().filter(|method| crate::rule(method) != Some(crate::Rule::Anybody)) {
        for (station, role) in [("bay-1", Role::Bay), ("office", Role::Office), ("admin", Role::Admin)] {
            let code = call(&mut shop.bearer(&server, station).await, method).await;
            let allowed =
                matches!(crate::rule(method), Some(crate::Rule::Stations(roles)) if roles.contains(&role));
            let refused = code == Code::PermissionDenied && *method != "/standpipe.v1.JournalService/Read";
            assert_eq!(allowed, !refused, "{method} for {station}: {code:?}");
        }
        for token in ["", "0", &"0".repeat(64)] {
            assert_eq!(
                call(&mut bearer(&server, token).await, method).await,
                Code::Unauthenticated,
                "{method}"
            );
        }
    }
    let other = "/standpipe.v1.JournalService/Delete";
    assert_eq!(call(&mut shop.bearer(&server, "admin").await, other).await, Code::PermissionDenied);
    let mut stranger = bearer(&server, "0").await;
    assert_eq!(call(&mut stranger, "/grpc.health.v1.Health/Check").await, Code::Ok);
}

/// Calls any method with an empty message and gives the status.
async fn call(bearer: &mut Bearer, method: &'static str) -> Code {
    let mut grpc = tonic::client::Grpc::new(bearer);
    grpc.ready().await.unwrap();
    let path = http::uri::PathAndQuery::from_static(method);
    let codec = tonic_prost::ProstCodec::<(), ()>::default();
    match grpc.unary(Request::new(()), path, codec).await {
        Ok(_) => Code::Ok,
        Err(status) => status.code(),
    }
}

#[tokio::test]
async fn a_station_learns_who_it_is_and_who_is_there() {
    let shop = Shop::found().await;
    let server = shop.serve().await;
    let mut stations = StationServiceClient::new(shop.bearer(&server, "bay-1").await);
    let described = stations.describe(DescribeRequest {}).await.unwrap().into_inner();
    assert_eq!(
        (described.site_id.as_str(), described.site_name.as_str()),
        ("harbour-lane", "Harbour Lane Transmissions")
    );
    assert_eq!(described.station.unwrap().name, "bay-1");
    let persons = stations.list_persons(ListPersonsRequest::default()).await.unwrap().into_inner().persons;
    assert_eq!((persons.len(), persons[0].name.as_str()), (1, "technician A"));
}

#[tokio::test]
async fn the_demonstration_catalogue_is_listed_and_its_record_printed() {
    let shop = Shop::found().await;
    let files = Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/catalogue");
    let mut desk = Desk::open(&shop.dir).await.unwrap();
    let imported = desk.import_catalogue(&files).await.unwrap();
    assert!(!imported.already_current && desk.import_catalogue(&files).await.unwrap().already_current);
    desk.close().await.unwrap();
    let server = shop.serve().await;
    let mut catalogue = CatalogueServiceClient::new(shop.bearer(&server, "office").await);
    let listed = catalogue.list_variants(ListVariantsRequest::default()).await.unwrap().into_inner();
    assert_eq!((listed.variants.len(), &listed.revision_id), (2, &imported.revision_id));
    let revision = catalogue.get_revision(GetRevisionRequest::default()).await.unwrap().into_inner();
    assert_eq!(
        revision.files.iter().map(|file| file.name.as_str()).collect::<Vec<_>>(),
        ["alder-8.toml", "workshop.toml"]
    );
    let mut bay = shop.journal(&server, "bay-1").await;
    append(&mut bay, shop.seal("bay-1", &job_id(1), arrival("AB 123"))).await.unwrap();
    let mut records = RecordServiceClient::new(shop.bearer(&server, "office").await);
    let request = || RenderRequest { job: "1".into(), ..RenderRequest::default() };
    let record = records.render(request()).await.unwrap().into_inner();
    assert!(record.pdf.starts_with(b"%PDF-") && record.file_name == "HL-26-0001.pdf");
    assert_eq!(records.render(request()).await.unwrap().into_inner().pdf, record.pdf);
}
