//! A served site on a clock that stands still, and what it takes to print a job of it.

use standpipe_proto::v1::customer_service_client::CustomerServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_server::{Order, Role, RunningServer};
use standpipe_tests::blobs;
use standpipe_tests::clock::Hand;
use standpipe_tests::sealed::{START_US, Sealer};
use standpipe_tests::site::{self, Bearer, Site};
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

/// Seconds between two entries.
const PACE_SECONDS: i64 = 60;

pub struct Press {
    site: Site,
    clock: Arc<Hand>,
    server: Option<RunningServer>,
    sealer: Mutex<(Sealer, u64)>,
}

pub struct Printed {
    pub job: String,
    pub number: String,
    pub pdf: Vec<u8>,
    pub check_value: String,
    pub warnings: Vec<String>,
}

impl Press {
    /// The same at every run: clock, identities and catalogue.
    pub async fn new() -> Self {
        let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
        let clock = Hand::at(START_US);
        let server = Some(site.serve_on(clock.clone()).await);
        Self { site, clock, server, sealer: Mutex::new((Sealer::new("bay-1", 20), 0)) }
    }

    pub async fn restart(&mut self) {
        let server = self.server.take().unwrap();
        server.shutdown();
        server.join().await.unwrap();
        self.server = Some(self.site.serve_on(self.clock.clone()).await);
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.site.folder.path().join(name)
    }

    fn address(&self) -> std::net::SocketAddr {
        self.server.as_ref().unwrap().addr
    }

    /// Opens a job with its first fact and gives its identity.
    pub async fn open(&self, arrival: Kind) -> String {
        let job = {
            let mut sealer = self.sealer.lock().unwrap();
            sealer.1 += 1;
            sealer.0.job(sealer.1)
        };
        self.state(&job, arrival).await;
        job
    }

    /// States one fact of a job; gives the entry's identity.
    pub async fn state(&self, job: &str, kind: Kind) -> String {
        self.clock.forward(PACE_SECONDS * 1_000_000);
        let entry = self.sealer.lock().unwrap().0.seal(job, kind);
        let mut bay = site::journal(self.address(), self.site.token("bay-1")).await;
        site::append(&mut bay, &entry).await.unwrap();
        entry.entry_id
    }

    /// Identities of a job's entries.
    pub async fn entries(&self, job: &str) -> Vec<String> {
        let mut client = site::journal(self.address(), &self.site.admin).await;
        let request = v1::ReadRequest { job: job.to_owned(), ..v1::ReadRequest::default() };
        let entries = client.read(request).await.unwrap().into_inner().entries;
        let id = |entry: v1::RecordedEntry| {
            let entry: v1::Entry = prost::Message::decode(entry.entry).unwrap();
            entry.header.unwrap().entry_id
        };
        entries.into_iter().map(id).collect()
    }

    /// Gives an order while the server runs.
    pub async fn order(&self, order: Order) {
        standpipe_server::order(&self.site.dir(), order).await.unwrap();
    }

    /// Notes who a job is for.
    pub async fn note_customer(&self, job: &str, name: &str) {
        let channel = site::shown(self.address(), self.site.token("office")).await;
        let customer = Some(v1::Customer { name: name.to_owned(), telephone: String::new() });
        let request = v1::PutCustomerRequest { job: job.to_owned(), customer };
        CustomerServiceClient::new(channel).put_customer(request).await.unwrap();
    }

    /// Brings a file beside the journal; gives its digest.
    pub async fn bring(&self, file: &[u8]) -> String {
        let digest = blobs::digest_of(file);
        let mut client = blobs::blobs(self.address(), self.site.token("bay-1")).await;
        blobs::put(&mut client, &digest, file).await.unwrap();
        digest
    }

    /// The work sheet of a job, as a bay gets it.
    pub async fn bay_sheet(&self, job: &str) -> Vec<u8> {
        let channel = site::shown(self.address(), self.site.token("bay-1")).await;
        let request = v1::BaySheetRequest { job: job.to_owned() };
        RecordServiceClient::new(channel).bay_sheet(request).await.unwrap().into_inner().pdf
    }

    /// Prints a job as it stands.
    pub async fn render(&self, job: &str) -> Printed {
        self.rendered(v1::RenderRequest { job: job.to_owned(), ..Default::default() }).await
    }

    /// Prints a job as it stands, with every entry.
    pub async fn render_annex(&self, job: &str) -> Printed {
        self.rendered(v1::RenderRequest { job: job.to_owned(), annex: true, ..Default::default() }).await
    }

    async fn rendered(&self, request: v1::RenderRequest) -> Printed {
        let job = request.job.clone();
        let channel = site::channel(self.address()).await;
        let mut client =
            RecordServiceClient::with_interceptor(channel, Bearer::new(self.site.token("office")))
                .max_decoding_message_size(8 * 1024 * 1024);
        let answer = client.render(request).await.unwrap().into_inner();
        let number = answer.file_name.trim_end_matches(".pdf").to_owned();
        let v1::RenderResponse { pdf, check_value, warnings, .. } = answer;
        Printed { job, number, pdf: pdf.to_vec(), check_value, warnings }
    }

    /// States all facts of a new job and prints it.
    pub async fn print(&self, kinds: Vec<Kind>) -> Printed {
        let mut kinds = kinds.into_iter();
        let job = self.open(kinds.next().unwrap()).await;
        for kind in kinds {
            self.state(&job, kind).await;
        }
        self.render(&job).await
    }
}
