//! What a station may say and see: its own entries, its own site, jobs that were closed lately.

use prost::Message as _;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::tally_service_client::TallyServiceClient;
use standpipe_proto::v1::{
    self, GetRequest, ListRequest, MayRequest, ReadRequest, fact::Kind, header::Subject,
};
use standpipe_server::Role;
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealed, Sealer};
use standpipe_tests::site::{Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use tonic::{Code, Status};

async fn workshop() -> Site {
    Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await
}

fn sealed(entry: &v1::Entry) -> Sealed {
    let entry_id = entry.header.as_ref().map(|header| header.entry_id.clone()).unwrap_or_default();
    Sealed { entry_id, bytes: entry.encode_to_vec().into() }
}

fn told(status: &Status) -> (Code, String) {
    (status.code(), reason(status))
}

#[tokio::test]
async fn a_bay_sees_a_closed_job_for_seven_days_to_the_microsecond_and_the_office_always() {
    let site = workshop().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let (closed, open) = (sealer.job(1), sealer.job(2));
    let facts = [
        (&closed, facts::arrival("PH 482 K")),
        (&closed, facts::closing()),
        (&open, facts::arrival("PH 483 K")),
    ];
    for (job, kind) in facts {
        append(&mut bay, &sealer.seal(job, kind)).await.unwrap();
    }
    let mut in_bay = JobServiceClient::new(shown(server.addr, site.token("bay-2")).await);
    let mut in_office = JobServiceClient::new(shown(server.addr, site.token("office")).await);
    let plates = |list: v1::ListResponse| list.jobs.into_iter().map(|job| job.plate).collect::<Vec<_>>();
    let get = || GetRequest { job: "HL-26-0001".into() };
    clock.forward(7 * DAY_US);
    assert_eq!(
        plates(in_bay.list(ListRequest::default()).await.unwrap().into_inner()),
        ["PH 483 K", "PH 482 K"]
    );
    assert!(in_bay.get(get()).await.is_ok());
    clock.forward(1);
    assert_eq!(plates(in_bay.list(ListRequest::default()).await.unwrap().into_inner()), ["PH 483 K"]);
    let search = ListRequest { search: "482".into(), ..ListRequest::default() };
    assert!(in_bay.list(search.clone()).await.unwrap().into_inner().jobs.is_empty());
    let refused = [
        in_bay.get(get()).await.unwrap_err(),
        in_bay.get(GetRequest { job: closed.clone() }).await.unwrap_err(),
        in_bay.may(MayRequest { job: "1".into(), gate: "refill".into() }).await.unwrap_err(),
        bay.read(ReadRequest { job: closed.clone(), ..ReadRequest::default() }).await.unwrap_err(),
    ];
    for status in &refused {
        assert_eq!(told(status), (Code::PermissionDenied, "CLOSED_LONG_AGO".into()));
        let metadata = info(status).unwrap().metadata;
        assert_eq!((metadata["job"].as_str(), metadata["days"].as_str()), ("HL-26-0001", "7"));
    }
    assert_eq!(plates(in_office.list(search).await.unwrap().into_inner()), ["PH 482 K"]);
    assert!(in_office.get(get()).await.is_ok());
    // A fact is never refused for being late; the job stays out of the bay's sight all the same.
    append(&mut bay, &sealer.seal(&closed, facts::temperature(20.0))).await.unwrap();
    assert_eq!(told(&in_bay.get(get()).await.unwrap_err()).1, "CLOSED_LONG_AGO");
    // Open jobs are seen however old they are.
    clock.forward(400 * DAY_US);
    assert_eq!(plates(in_bay.list(ListRequest::default()).await.unwrap().into_inner()), ["PH 483 K"]);
}

#[tokio::test]
async fn a_tally_and_a_code_show_a_bay_no_job_that_it_no_longer_sees() {
    let site = workshop().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    for (number, plate) in [(1, "PH 482 K"), (2, "WR 118 T")] {
        let job = sealer.job(number);
        let pushed = facts::pushed(4.0, None, None, true);
        for kind in [facts::arrival(plate), facts::container("LN-847", "L-2209"), pushed] {
            append(&mut bay, &sealer.seal(&job, kind)).await.unwrap();
        }
    }
    append(&mut bay, &sealer.seal(&sealer.job(1), facts::closing())).await.unwrap();
    let mut in_bay = TallyServiceClient::new(shown(server.addr, site.token("bay-2")).await);
    let mut in_office = TallyServiceClient::new(shown(server.addr, site.token("office")).await);
    let lot = || v1::GetTallyRequest {
        tally: "lot".to_owned(),
        about: "L-2209".to_owned(),
        ..v1::GetTallyRequest::default()
    };
    let code = || v1::FindCodeRequest { code: "PH 482 K".to_owned(), job: String::new() };
    let jobs = |sheet: &v1::Sheet| {
        let rows = sheet.tables.iter().flat_map(|table| &table.rows);
        rows.filter(|row| !row.job.is_empty()).map(|row| row.job.clone()).collect::<Vec<_>>()
    };
    let both = ["HL-26-0001", "HL-26-0002"];
    let sheet = in_bay.get_tally(lot()).await.unwrap().into_inner().sheet.unwrap();
    assert_eq!(jobs(&sheet), both);
    let notes = sheet.notes.len();
    assert_eq!(in_bay.find_code(code()).await.unwrap().into_inner().found.len(), 1);
    // Just not seen any more, and so long ago that the account alone tells.
    for days in [7, 400] {
        clock.forward(days * DAY_US + 1);
        let sheet = in_bay.get_tally(lot()).await.unwrap().into_inner().sheet.unwrap();
        assert_eq!(jobs(&sheet), ["HL-26-0002"], "{days}");
        assert!(!format!("{sheet:?}").contains("PH 482 K"), "{sheet:?}");
        assert_eq!(sheet.notes.len(), notes + 1, "{:?}", sheet.notes);
        assert!(sheet.notes[notes].contains("One line is not shown here"), "{:?}", sheet.notes);
        assert_eq!(in_bay.find_code(code()).await.unwrap().into_inner().found, []);
        let sheet = in_office.get_tally(lot()).await.unwrap().into_inner().sheet.unwrap();
        assert_eq!((jobs(&sheet), sheet.notes.len()), (both.map(str::to_owned).into(), notes));
        assert_eq!(in_office.find_code(code()).await.unwrap().into_inner().found.len(), 1);
    }
}

#[tokio::test]
async fn a_station_sends_its_own_entries_of_its_own_site_and_no_facts_of_the_site() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut admin = journal(server.addr, &site.admin).await;
    let size = async |admin: &mut standpipe_tests::site::JournalClient| {
        admin.read(ReadRequest::default()).await.unwrap().into_inner().tree_size
    };
    let before = size(&mut admin).await;
    let mut other = Sealer::new("bay-2", 2);
    let job = other.job(1);
    let entry = other.seal(&job, facts::arrival("PH 482 K"));
    let refused = append(&mut bay, &entry).await.unwrap_err();
    assert_eq!(told(&refused), (Code::PermissionDenied, "STATION_MISMATCH".into()));
    let metadata = info(&refused).unwrap().metadata;
    assert_eq!((metadata["named"].as_str(), metadata["station"].as_str()), ("bay-2", "bay-1"));
    let listed = || Kind::PersonListed(v1::PersonListed { listed_person_code: "B".into(), removed: false });
    for (station, token) in [("bay-1", site.token("bay-1")), ("admin", site.admin.as_str())] {
        let mut client = journal(server.addr, token).await;
        let mut sealer = Sealer::new(station, 7);
        let of = |sealer: &mut Sealer, site: &str, kind| {
            sealed(&sealer.entry(Subject::SiteId(site.into()), kind, &[]))
        };
        let refused = append(&mut client, &of(&mut sealer, "mill-street", listed())).await.unwrap_err();
        assert_eq!(told(&refused), (Code::PermissionDenied, "SITE_MISMATCH".into()));
        let metadata = info(&refused).unwrap().metadata;
        assert_eq!((metadata["named"].as_str(), metadata["site"].as_str()), ("mill-street", "harbour-lane"));
        let refused = append(&mut client, &of(&mut sealer, "harbour-lane", listed())).await.unwrap_err();
        assert_eq!(told(&refused), (Code::PermissionDenied, "KIND_NOT_PERMITTED".into()));
        assert_eq!(info(&refused).unwrap().metadata["kind"], "person_listed");
        // A kind of a job is not taken for the site, nor one of the site for a job.
        let refused =
            append(&mut client, &of(&mut sealer, "harbour-lane", facts::closing())).await.unwrap_err();
        assert_eq!(told(&refused), (Code::InvalidArgument, "OUTSIDE_BOUNDS".into()));
        let for_job = sealed(&sealer.entry(Subject::JobId(job.clone()), listed(), &[]));
        let refused = append(&mut client, &for_job).await.unwrap_err();
        assert_eq!(told(&refused), (Code::InvalidArgument, "OUTSIDE_BOUNDS".into()));
    }
    assert_eq!(size(&mut admin).await, before, "nothing of all this was kept");
}

#[tokio::test]
async fn a_bay_reads_jobs_and_not_the_whole_site() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let refused = bay.read(ReadRequest::default()).await.unwrap_err();
    assert_eq!(told(&refused), (Code::PermissionDenied, "ROLE_NOT_PERMITTED".into()));
    for token in [site.token("office"), &site.admin] {
        let mut client = journal(server.addr, token).await;
        assert!(client.read(ReadRequest::default()).await.is_ok());
    }
}
