//! The office pages in a real browser: what the office does in a day, and what the pages look like.

mod axe;
mod bay;
mod driver;
mod first_variant;
mod path;
mod pictures;
mod put_right;

use driver::Browser;
use serde_json::json;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_server::{Desk, Role, RunningServer, SystemEntropy, kept_pin};
use standpipe_tests::clock::Hand;
use standpipe_tests::sealed::{START_US, Sealer};
use standpipe_tests::site::{self, Site};
use std::collections::BTreeSet;
use std::sync::Arc;

const PIN: &str = "4711";
const STATIONS: [(&str, Role); 2] = [("bay-1", Role::Bay), ("office", Role::Office)];

/// A served site with an office and a bay, and a browser before it.
struct Office {
    site: Site,
    clock: Arc<Hand>,
    server: RunningServer,
    sealer: Sealer,
    browser: Browser,
}

impl Office {
    async fn open() -> Option<Self> {
        Self::of(async { Site::with(&STATIONS).await }).await
    }

    /// The same without a catalogue.
    async fn open_bare() -> Option<Self> {
        Self::of(async { Site::bare(&STATIONS).await }).await
    }

    async fn of(site: impl Future<Output = Site>) -> Option<Self> {
        let browser = Browser::start()?;
        let site = site.await;
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.add_person("B", Some("office B")).await.unwrap();
        desk.set_pin("B", &kept_pin(PIN, &SystemEntropy).unwrap()).await.unwrap();
        desk.close().await.unwrap();
        let clock = Hand::at(START_US + 3_600_000_000);
        let server = site.serve_on(clock.clone()).await;
        // The station's clock goes with the server's; its numbers are its seconds.
        let sealer = Sealer { number: 3_600, ..Sealer::new("bay-1", 30) };
        Some(Self { site, clock, server, sealer, browser })
    }

    fn at(&self, path: &str) -> String {
        format!("http://{}{path}", self.server.addr)
    }

    fn go(&self, path: &str) {
        self.browser.open(&self.at(path));
    }

    fn sign_in(&self) {
        self.go("/login");
        self.browser.write("#person", "B");
        self.browser.write("#pin", PIN);
        self.browser.click("main button");
        self.browser.wait("document.querySelector('h1').textContent === 'Jobs'");
    }

    /// The identity of a job by its number, as a bay finds it.
    async fn job(&self, number: &str) -> String {
        let mut jobs = JobServiceClient::new(site::shown(self.server.addr, self.site.token("bay-1")).await);
        let request = v1::ListRequest { search: number.to_owned(), ..v1::ListRequest::default() };
        jobs.list(request).await.unwrap().into_inner().jobs[0].job_id.clone()
    }

    /// A bay states facts of a job, three minutes apart.
    async fn bay_states(&mut self, job: &str, kinds: impl IntoIterator<Item = Kind>) {
        let mut bay = site::journal(self.server.addr, self.site.token("bay-1")).await;
        for kind in kinds {
            self.clock.forward(180 * 1_000_000);
            self.sealer.number += 179;
            let entry = self.sealer.seal(job, kind);
            site::append(&mut bay, &entry).await.unwrap();
        }
    }

    /// Bytes of a paper as the page gets them, as a SHA-256 and a length.
    fn paper(&self, path: &str) -> (String, u64) {
        let script = "const done = arguments[1]; (async () => { const answer = await fetch(arguments[0], \
             {cache: 'no-store'}); const bytes = await answer.arrayBuffer(); const hash = new Uint8Array(await \
             crypto.subtle.digest('SHA-256', bytes)); const head = new TextDecoder().decode(bytes.slice(0, 5)); \
             done([answer.status, head, [...hash].map(b => b.toString(16).padStart(2, '0')).join(''), \
             bytes.byteLength]); })();";
        let got = self.browser.run_on(script, json!([path]));
        assert_eq!((&got[0], &got[1]), (&json!(200), &json!("%PDF-")), "{path}: {got}");
        (got[2].as_str().unwrap().to_owned(), got[3].as_u64().unwrap())
    }

    /// Nothing was complained of in the console, and nothing was asked of any other machine.
    #[track_caller]
    fn assert_quiet(&self) {
        assert_eq!(self.browser.log("browser"), Vec::<serde_json::Value>::new(), "the console stays empty");
        let hosts: BTreeSet<String> = self.browser.log("performance").iter().filter_map(asked_host).collect();
        assert_eq!(hosts, BTreeSet::from([self.server.addr.to_string()]), "only the server is asked");
    }

    async fn close(self) {
        let Self { server, browser, .. } = self;
        // The browser still shows a page that is kept up to date; the server stops all the same.
        server.shutdown();
        server.join().await.unwrap();
        drop(browser);
    }
}

/// Host and port of a request in the log of what the browser does; none for what it makes up by itself.
fn asked_host(line: &serde_json::Value) -> Option<String> {
    let message: serde_json::Value = serde_json::from_str(line["message"].as_str()?).unwrap();
    let message = &message["message"];
    if message["method"] != "Network.requestWillBeSent" {
        return None;
    }
    let address = message["params"]["request"]["url"].as_str()?.to_owned();
    let (scheme, rest) = address.split_once(':')?;
    // Its own viewer of PDFs and empty pages are part of the browser.
    if ["chrome-extension", "chrome", "data", "about", "blob"].contains(&scheme) {
        return None;
    }
    Some(rest.trim_start_matches('/').split('/').next().unwrap_or_default().to_owned())
}
