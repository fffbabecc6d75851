//! Who a job is for: known to the office alone, printed there, and erased without a trace in the journal.

use crate::blobs::{all_bytes, holds};
use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{
    Customer, EraseCustomerRequest, GetCustomerRequest, ListRequest, PutCustomerRequest, ReadRequest,
    RenderRequest,
};
use standpipe_server::{Role, RunningServer};
use standpipe_tests::facts;
use standpipe_tests::process::server as program;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Shown, Site, append, journal, shown};
use standpipe_tests::told::{info, reason};
use tonic::Code;

const NAME: &str = "Customer Wren of the Long Quay";
const TELEPHONE: &str = "0555 0177";

/// A site with one job, number 1.
async fn open_job() -> (Site, RunningServer) {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let server = site.serve().await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    (site, server)
}

async fn customers(server: &RunningServer, token: &str) -> CustomerServiceClient<Shown> {
    CustomerServiceClient::new(shown(server.addr, token).await)
}

fn put() -> PutCustomerRequest {
    let customer = Customer { name: NAME.into(), telephone: TELEPHONE.into() };
    PutCustomerRequest { job: "1".into(), customer: Some(customer) }
}

fn asked() -> GetCustomerRequest {
    GetCustomerRequest { job: "HL-26-0001".into() }
}

async fn found(server: &RunningServer, token: &str, search: &str) -> usize {
    let mut jobs = JobServiceClient::new(shown(server.addr, token).await);
    let request = ListRequest { search: search.into(), ..ListRequest::default() };
    jobs.list(request).await.unwrap().into_inner().jobs.len()
}

async fn draft(server: &RunningServer, token: &str) -> Vec<u8> {
    let mut records = RecordServiceClient::new(shown(server.addr, token).await);
    let request = RenderRequest { job: "1".into(), ..RenderRequest::default() };
    records.render(request).await.unwrap().into_inner().pdf
}

async fn root(server: &RunningServer, site: &Site) -> (i64, Vec<u8>) {
    let mut admin = journal(server.addr, &site.admin).await;
    let head = admin.read(ReadRequest::default()).await.unwrap().into_inner();
    (head.tree_size, head.root)
}

#[tokio::test]
async fn the_office_notes_a_customer_and_a_bay_neither_writes_nor_reads_nor_finds_one() {
    let (site, server) = open_job().await;
    let before = root(&server, &site).await;
    let mut office = customers(&server, site.token("office")).await;
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, None);
    office.put_customer(put()).await.unwrap();
    office.put_customer(put()).await.unwrap();
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, put().customer);
    let mut admin = customers(&server, &site.admin).await;
    assert_eq!(admin.get_customer(asked()).await.unwrap().into_inner().customer, put().customer);
    assert_eq!(root(&server, &site).await, before, "a customer is no entry");

    let mut bay = customers(&server, site.token("bay-1")).await;
    let refused = [
        bay.put_customer(put()).await.unwrap_err(),
        bay.get_customer(asked()).await.unwrap_err(),
        bay.erase_customer(EraseCustomerRequest { job: "1".into() }).await.unwrap_err(),
    ];
    for status in &refused {
        assert_eq!((status.code(), reason(status).as_str()), (Code::PermissionDenied, "ROLE_NOT_PERMITTED"));
        assert_eq!(info(status).unwrap().metadata["role"], "bay");
    }
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, put().customer);
    for (search, by_office, by_bay) in [("wren", 1, 0), ("LONG QUAY", 1, 0), ("0177", 1, 0), ("482", 1, 1)] {
        assert_eq!(found(&server, site.token("office"), search).await, by_office, "{search}");
        assert_eq!(found(&server, site.token("bay-1"), search).await, by_bay, "{search}");
    }
    let unknown = office.get_customer(GetCustomerRequest { job: "9".into() }).await.unwrap_err();
    assert_eq!((unknown.code(), reason(&unknown).as_str()), (Code::NotFound, "JOB_UNKNOWN"));
}

#[tokio::test]
async fn the_record_names_the_customer_in_the_office_and_to_nobody_in_the_bay() {
    let (site, server) = open_job().await;
    let nameless = draft(&server, site.token("office")).await;
    customers(&server, site.token("office")).await.put_customer(put()).await.unwrap();
    let named = draft(&server, site.token("office")).await;
    assert_eq!(draft(&server, site.token("bay-1")).await, nameless);
    let file = site.folder.path().join("named.pdf");
    std::fs::write(&file, &named).unwrap();
    if let Some(text) = crate::record::flowing(&file) {
        assert!(text.contains(NAME), "{text}");
    }
    crate::record::layout::assert_laid_out(&file, crate::record::layout::pages(&file).unwrap_or(0));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_erased_customer_is_gone_from_the_whole_folder_and_the_journal_is_as_it_was() {
    let (site, server) = open_job().await;
    let mut office = customers(&server, site.token("office")).await;
    let nameless = draft(&server, site.token("office")).await;
    office.put_customer(put()).await.unwrap();
    let before = root(&server, &site).await;
    // While the server runs, in its own words.
    let erased = program(&["erase", "customer", "HL-26-0001"], &site.dir());
    assert!(erased.status.success(), "{}", String::from_utf8_lossy(&erased.stderr));
    let said = String::from_utf8(erased.stdout).unwrap();
    assert!(said.contains("HL-26-0001") && said.contains("backups keep it"), "{said}");
    assert_eq!(root(&server, &site).await, before);
    assert_eq!(office.get_customer(asked()).await.unwrap().into_inner().customer, None);
    assert_eq!(found(&server, site.token("office"), "wren").await, 0);
    assert_eq!(draft(&server, site.token("office")).await, nameless);
    // Erasing again is safe, over the network as well.
    office.erase_customer(EraseCustomerRequest { job: "1".into() }).await.unwrap();
    server.shutdown();
    server.join().await.unwrap();
    let bytes = all_bytes(&site.dir());
    for part in [NAME, "Wren", "wren", TELEPHONE, "05550177"] {
        assert!(!holds(&bytes, part), "'{part}' is still in the folder");
    }
    let verified = standpipe_server::verify(&site.dir()).await.unwrap();
    assert!(verified.is_sound() && verified.report.root.to_vec() == before.1);
}
