//! The page beside the vehicle on the loopback address: from an acknowledged entry to the new part in the browser's hands,
//! asked for at once as after an own answer, and told by the stream as after an entry of another station.

use crate::{Effort, Figure};
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{JournalClient, Site, append, journal};
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tokio::io::{AsyncBufReadExt as _, AsyncReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::TcpStream;

/// Entries of another station come at least so far apart, as an instrument sends them.
const APART: Duration = Duration::from_millis(300);
const TOLD: usize = 30;

pub async fn run(effort: Effort) {
    let site = Site::with(&[("bay-1", Role::Bay), ("tablet", Role::Bay)]).await;
    let server = site.serve().await;
    let mut bay = Bay::open(&site, server.addr).await;
    println!("bay (acknowledged entry to the new part of the page, one run)");
    println!("{:>16} {:>9} {:>9}", "", "p50 ms", "p99 ms");
    let mut own = Vec::new();
    for _ in 0..effort.renders.min(200) {
        bay.state().await;
        let acknowledged = Instant::now();
        let (status, _) = bay.page.get(&bay.path("/part")).await;
        assert_eq!(status, 200);
        own.push(acknowledged.elapsed());
    }
    let mut told = Vec::new();
    let mut stream = Page::open(server.addr, &bay.cookie).await;
    stream.listen(&bay.path("/live")).await;
    for _ in 0..TOLD {
        tokio::time::sleep(APART).await;
        bay.state().await;
        let acknowledged = Instant::now();
        stream.told().await;
        bay.page.get(&bay.path("/part")).await;
        told.push(acknowledged.elapsed());
    }
    for (name, times) in [("at once", own), ("by the stream", told)] {
        let took = times.iter().sum();
        let figure = Figure::of(times, took);
        let (median, p99) = (figure.median.as_secs_f64() * 1e3, figure.p99.as_secs_f64() * 1e3);
        println!("{name:>16} {median:>9.1} {p99:>9.1}");
    }
    let mut sizes = Vec::new();
    for path in [bay.path(""), "/bay.css".to_owned(), "/bay.js".to_owned()] {
        sizes.push(bay.page.get(&path).await.1);
    }
    println!("page, style, script: {sizes:?} bytes, together {}", sizes.iter().sum::<usize>());
    println!("aimed at: p99 ≤ 200 ms, page ≤ 100 kB");
    drop((bay, stream));
    server.shutdown();
    server.join().await.unwrap();
}

/// A job of forty entries, the station that goes on with it, and a tablet beside it.
struct Bay {
    client: JournalClient,
    sealer: Sealer,
    job: String,
    cookie: String,
    page: Page,
}

impl Bay {
    async fn open(site: &Site, address: SocketAddr) -> Self {
        let mut client = journal(address, site.token("bay-1")).await;
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        let mut kinds = facts::whole_service();
        kinds.pop();
        while kinds.len() < 40 {
            kinds.push(facts::temperature(43.0));
        }
        for kind in kinds {
            append(&mut client, &sealer.seal(&job, kind)).await.unwrap();
        }
        let cookie = format!("standpipe-station={}.{}", site.token("tablet"), "5e".repeat(32));
        let page = Page::open(address, &cookie).await;
        Self { client, sealer, job, cookie, page }
    }

    async fn state(&mut self) {
        let entry = self.sealer.seal(&self.job, facts::temperature(43.0));
        append(&mut self.client, &entry).await.unwrap();
    }

    fn path(&self, rest: &str) -> String {
        format!("/bay/{}{rest}", self.job)
    }
}

/// One connection of a browser.
struct Page {
    stream: BufReader<TcpStream>,
    address: SocketAddr,
    cookie: String,
}

impl Page {
    async fn open(address: SocketAddr, cookie: &str) -> Self {
        let stream = TcpStream::connect(address).await.unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream: BufReader::new(stream), address, cookie: cookie.to_owned() }
    }

    async fn ask(&mut self, path: &str) {
        let Self { address, cookie, .. } = self;
        let request = format!("GET {path} HTTP/1.1\r\nhost: {address}\r\ncookie: {cookie}\r\n\r\n");
        self.stream.get_mut().write_all(request.as_bytes()).await.unwrap();
    }

    async fn line(&mut self) -> String {
        let mut line = String::new();
        assert!(self.stream.read_line(&mut line).await.unwrap() > 0, "the server hung up");
        line
    }

    /// Status and bytes of a page.
    async fn get(&mut self, path: &str) -> (u16, usize) {
        self.ask(path).await;
        let status = self.line().await.split(' ').nth(1).unwrap().parse().unwrap();
        let mut length = 0;
        loop {
            let line = self.line().await.to_lowercase();
            if let Some(bytes) = line.strip_prefix("content-length:") {
                length = bytes.trim().parse().unwrap();
            }
            if line.trim().is_empty() {
                break;
            }
        }
        let mut content = vec![0; length];
        self.stream.read_exact(&mut content).await.unwrap();
        (status, length)
    }

    /// Begins to listen.
    async fn listen(&mut self, path: &str) {
        self.ask(path).await;
        while !self.line().await.trim().is_empty() {}
    }

    /// Waits until the stream says that something changed.
    async fn told(&mut self) {
        while !self.line().await.starts_with("event: changed") {}
    }
}
