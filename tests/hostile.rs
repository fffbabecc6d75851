//! Input from somebody who means harm, or whose program is broken: every value outside its bound, bytes that are no
//! message, requests that are no gRPC. The real server refuses in a typed sentence, keeps nothing of it, and goes on.

mod bounds;
mod floods;
mod frames;
mod mutations;
mod values;

use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::v1::{self, ReadRequest, append_stream_response::Answer};
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::process::Process;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{JournalClient, Site, append, journal};
use std::net::SocketAddr;

/// The server's memory may not grow beyond this under any of it, in KiB.
const MEMORY_KIB_MAX: u64 = 256 * 1024;

/// A site with a served bay that has one open job.
struct Target {
    site: Site,
    server: Process,
    client: JournalClient,
    sealer: Sealer,
    job: String,
}

impl Target {
    async fn stand() -> Self {
        let site = Site::with(&[("bay-1", Role::Bay), ("mill", Role::Forwarder)]).await;
        let server = Process::serve(&site.dir());
        let mut client = journal(server.address, site.token("bay-1")).await;
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        append(&mut client, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
        Self { site, server, client, sealer, job }
    }

    fn address(&self) -> SocketAddr {
        self.server.address
    }

    /// Everything the journal holds.
    async fn stored(&self) -> Vec<v1::RecordedEntry> {
        let mut admin = journal(self.address(), &self.site.admin).await;
        let mut entries = Vec::new();
        let mut request = ReadRequest::default();
        loop {
            let page = admin.read(request.clone()).await.unwrap().into_inner();
            entries.extend(page.entries);
            if page.next_page_token.is_empty() {
                return entries;
            }
            request.page_token = page.next_page_token;
        }
    }

    /// Streams sealed bytes of any kind and gives the answer to each.
    async fn answers(&mut self, sealed: &[Bytes]) -> Vec<Answer> {
        let requests: Vec<_> =
            sealed.iter().map(|entry| v1::AppendStreamRequest { entry: entry.clone() }).collect();
        let mut answers = self.client.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
        let mut given = Vec::new();
        while let Some(answer) = answers.message().await.unwrap() {
            given.push(answer.answer.unwrap());
        }
        assert_eq!(given.len(), sealed.len(), "every entry has its answer");
        given
    }

    /// Still serves, has made no mistake of its own, did not swell, and stops in order.
    async fn stands(mut self) {
        let entry = self.sealer.seal(&self.job, facts::drained(3.05));
        let mut client = journal(self.address(), self.site.token("bay-1")).await;
        append(&mut client, &entry).await.unwrap();
        assert_eq!(self.stored().await.last().unwrap().entry, entry.bytes);
        if let Ok(status) = std::fs::read_to_string(format!("/proc/{}/status", self.server.id())) {
            let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
            let most: u64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
            println!("the server used at most {most} KiB");
            assert!(most < MEMORY_KIB_MAX, "the server used {most} KiB, more than {MEMORY_KIB_MAX}");
        }
        drop((client, self.client));
        let (code, said) = self.server.terminate();
        assert_eq!(code, Some(0), "{said}");
        for word in ["panicked", "internal error", " ERROR "] {
            assert!(!said.contains(word), "{said}");
        }
        assert!(standpipe_server::verify(&self.site.dir()).await.unwrap().is_sound());
    }
}

/// The id in sealed bytes that were made here.
fn id_of(sealed: &[u8]) -> String {
    v1::Entry::decode(sealed).unwrap().header.unwrap().entry_id
}
