//! The journal over the network: what an acknowledgement means, order, pages, the tree, and the answers that rest on it.
//!
//! The tree is computed here once more, from the wire alone.

mod answers;
mod append;
mod order;
mod pages;
mod tree;

use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{self, RecordedEntry};
use standpipe_server::{Role, RunningServer};
use standpipe_tests::site::{JournalClient, Shown, Site, journal, shown};

/// Two bays and an office.
async fn workshop() -> Site {
    Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)]).await
}

async fn as_station(site: &Site, server: &RunningServer, station: &str) -> JournalClient {
    journal(server.addr, site.token(station)).await
}

async fn jobs_as(site: &Site, server: &RunningServer, station: &str) -> JobServiceClient<Shown> {
    JobServiceClient::new(shown(server.addr, site.token(station)).await)
}

/// Everything that a job, or the site with an empty name, has in the journal, and the last answer.
async fn everything(client: &mut JournalClient, job: &str) -> (Vec<RecordedEntry>, v1::ReadResponse) {
    let mut entries = Vec::new();
    let mut request = v1::ReadRequest { job: job.to_owned(), ..v1::ReadRequest::default() };
    loop {
        let mut page = client.read(request.clone()).await.unwrap().into_inner();
        entries.append(&mut page.entries);
        if page.next_page_token.is_empty() {
            return (entries, page);
        }
        request.page_token = page.next_page_token;
    }
}

async fn stop(server: RunningServer) {
    server.shutdown();
    server.join().await.unwrap();
}
