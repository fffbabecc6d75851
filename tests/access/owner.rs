//! What an owner's station reads, what it never sees, and jobs of another site.

use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{
    self, GetRequest, IssueRequest, ListRequest, MayRequest, NextRequest, PlanRequest, PutCustomerRequest,
    ReadRequest, RenderRequest, SignRequest, WatchRequest,
};
use standpipe_server::Role;
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealer, uuid_v7};
use standpipe_tests::site::{Site, append, journal, shown};
use standpipe_tests::told::{call, info, reason};
use tonic::{Code, Status};

async fn site() -> Site {
    Site::with(&[("bay-1", Role::Bay), ("office", Role::Office), ("owner", Role::Owner)]).await
}

#[tokio::test]
async fn an_owner_reads_every_job_and_learns_no_customer() {
    let site = site().await;
    let clock = Hand::at(START_US);
    let server = site.serve_on(clock.clone()).await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    for kind in [facts::arrival("PH 482 K"), facts::closing()] {
        append(&mut bay, &sealer.seal(&job, kind)).await.unwrap();
    }
    let customer = v1::Customer { name: "Customer Ägir".into(), telephone: "555 0142".into() };
    let mut customers = CustomerServiceClient::new(shown(server.addr, site.token("office")).await);
    let put = PutCustomerRequest { job: job.clone(), customer: Some(customer) };
    customers.put_customer(put).await.unwrap();
    let mut office = RecordServiceClient::new(shown(server.addr, site.token("office")).await);
    let issue = IssueRequest { job: job.clone(), request_id: uuid_v7(9, 9), person_code: "A".into() };
    office.issue(issue).await.unwrap();
    clock.forward(400 * DAY_US / 4);

    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("owner")).await);
    let find = async |jobs: &mut JobServiceClient<_>, search: &str| {
        let request = ListRequest { search: search.to_owned(), ..ListRequest::default() };
        jobs.list(request).await.unwrap().into_inner().jobs.len()
    };
    assert_eq!(find(&mut jobs, "482").await, 1, "closed long ago and seen all the same");
    assert_eq!(find(&mut jobs, "ägir").await, 0, "no search finds a customer");
    let told = jobs.get(GetRequest { job: job.clone() }).await.unwrap().into_inner();
    assert!(!format!("{told:?}").contains("Ägir"));
    let mut whole = journal(server.addr, site.token("owner")).await;
    assert!(whole.read(ReadRequest::default()).await.unwrap().into_inner().tree_size > 2);

    let mut records = RecordServiceClient::new(shown(server.addr, site.token("owner")).await);
    let render = |edition| RenderRequest { job: job.clone(), edition, ..RenderRequest::default() };
    records.render(render(0)).await.unwrap();
    let refused = records.render(render(1)).await.unwrap_err();
    assert_eq!(reason(&refused), "RECORD_NAMES_CUSTOMER");
    let refused = append(&mut whole, &sealer.seal(&job, facts::temperature(20.0))).await.unwrap_err();
    assert_eq!(reason(&refused), "ROLE_NOT_PERMITTED");
}

/// A request of each method that names a job.
fn about(job: &str) -> Vec<(&'static str, Bytes)> {
    let job = || job.to_owned();
    let request_id = uuid_v7(3, 3);
    let (person_code, pin) = ("A".to_owned(), "4711".to_owned());
    vec![
        ("JournalService/Read", ReadRequest { job: job(), ..ReadRequest::default() }.encode_to_vec()),
        ("JobService/Get", GetRequest { job: job() }.encode_to_vec()),
        ("JobService/May", MayRequest { job: job(), gate: "refill".into() }.encode_to_vec()),
        ("JobService/Next", NextRequest { job: job() }.encode_to_vec()),
        ("JobService/Plan", PlanRequest { job: job(), kit_litres: None }.encode_to_vec()),
        ("JobService/Watch", WatchRequest { job: job(), ..WatchRequest::default() }.encode_to_vec()),
        ("RecordService/Render", RenderRequest { job: job(), ..RenderRequest::default() }.encode_to_vec()),
        (
            "RecordService/Issue",
            IssueRequest { job: job(), request_id, person_code: person_code.clone() }.encode_to_vec(),
        ),
        ("RecordService/BaySheet", v1::BaySheetRequest { job: job() }.encode_to_vec()),
        ("CustomerService/GetCustomer", v1::GetCustomerRequest { job: job() }.encode_to_vec()),
        ("CustomerService/EraseCustomer", v1::EraseCustomerRequest { job: job() }.encode_to_vec()),
        (
            "StationService/Sign",
            SignRequest { job: job(), person_code, pin, entry_ids: Vec::new() }.encode_to_vec(),
        ),
    ]
    .into_iter()
    .map(|(method, bytes)| (method, Bytes::from(bytes)))
    .collect()
}

#[tokio::test]
async fn a_job_of_another_site_is_as_unknown_as_one_that_nobody_has() {
    let (own, other) = (site().await, site().await);
    let (server, elsewhere) = (own.serve().await, other.serve().await);
    let mut sealer = Sealer::new("bay-1", 1);
    let foreign = sealer.job(1);
    let mut bay = journal(elsewhere.addr, other.token("bay-1")).await;
    append(&mut bay, &sealer.seal(&foreign, facts::arrival("PH 482 K"))).await.unwrap();
    let nobodys = uuid_v7(77, 77);
    let told = |status: &Status, job: &str| {
        let info = info(status).unwrap();
        (
            status.code(),
            info.reason,
            status.message().replace(job, "JOB"),
            info.metadata["job"].replace(job, "JOB"),
        )
    };
    for (role, token) in
        [("bay-1", own.token("bay-1")), ("office", own.token("office")), ("owner", own.token("owner"))]
    {
        let mut asked = 0;
        for ((method, of_foreign), (_, of_nobody)) in about(&foreign).into_iter().zip(about(&nobodys)) {
            let path = format!("/standpipe.v1.{method}");
            let foreign_told = call(shown(server.addr, token).await, &path, of_foreign).await.unwrap_err();
            if reason(&foreign_told) == "ROLE_NOT_PERMITTED" {
                continue;
            }
            let unknown = call(shown(server.addr, token).await, &path, of_nobody).await.unwrap_err();
            let (one, another) = (told(&foreign_told, &foreign), told(&unknown, &nobodys));
            assert_eq!(one, another, "{method} by {role}");
            assert_eq!((one.0, one.1.as_str()), (Code::NotFound, "JOB_UNKNOWN"), "{method} by {role}");
            asked += 1;
        }
        assert!(asked >= 8, "{role} asked {asked}");
    }
    drop(elsewhere);
}
