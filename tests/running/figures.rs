//! The figures at `/metrics`: what is told, and to whom.

use standpipe_server::{Role, RunningServer, Server, ServerOptions};
use standpipe_tests::door::{SERVER_NAME, Trust, outside_address};
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Site, append, journal, shown};
use std::collections::BTreeSet;
use std::net::SocketAddr;
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// Asks by HTTP/1.1 and gives the status and the body.
pub(super) async fn ask(address: SocketAddr, first: &str, headers: &[(&str, &str)]) -> (u16, String) {
    ask_over(TcpStream::connect(address).await.unwrap(), address, first, headers).await
}

async fn ask_over(
    mut stream: impl AsyncRead + AsyncWrite + Unpin,
    address: SocketAddr,
    first: &str,
    headers: &[(&str, &str)],
) -> (u16, String) {
    let more: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    let request = format!("{first} HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n{more}\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    let status = answer.split(' ').nth(1).unwrap().parse().unwrap();
    let body = answer.split_once("\r\n\r\n").map_or("", |(_, body)| body);
    (status, body.to_owned())
}

/// Names of figures in a scrape, those of a histogram with its ends.
pub(super) fn names(scrape: &str) -> BTreeSet<String> {
    let lines = scrape.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
    lines.map(|line| line.split(['{', ' ']).next().unwrap().to_owned()).collect()
}

async fn served(site: &Site, metrics: bool) -> RunningServer {
    let listen = "127.0.0.1:0".parse().unwrap();
    Server::start(ServerOptions { listen, metrics, ..ServerOptions::new(site.dir()) }).await.unwrap()
}

/// A server with work done: an entry kept, a call refused.
pub(super) async fn at_work(site: &Site) -> RunningServer {
    let server = served(site, true).await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("AB 123"))).await.unwrap();
    let mut stranger = standpipe_proto::v1::station_service_client::StationServiceClient::new(
        shown(server.addr, &"0".repeat(64)).await,
    );
    stranger.describe(standpipe_proto::v1::DescribeRequest {}).await.unwrap_err();
    server
}

fn value(scrape: &str, figure: &str) -> f64 {
    let line = scrape.lines().find(|line| line.starts_with(&format!("{figure} ")));
    line.unwrap_or_else(|| panic!("{figure} is not told in\n{scrape}"))
        .rsplit(' ')
        .next()
        .unwrap()
        .parse()
        .unwrap()
}

#[tokio::test]
async fn the_figures_tell_entries_calls_tokens_and_room() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let server = at_work(&site).await;
    let (status, scrape) = ask(server.addr, "GET /metrics", &[]).await;
    assert_eq!(status, 200);
    let mut bay = journal(server.addr, &site.admin).await;
    let stored = bay.read(standpipe_proto::v1::ReadRequest::default()).await.unwrap().into_inner();
    assert_eq!(value(&scrape, "standpipe_journal_entries_total"), stored.entries.len() as f64);
    let append = "method=\"/standpipe.v1.JournalService/Append\"";
    assert_eq!(value(&scrape, &format!("standpipe_calls_total{{{append},code=\"OK\"}}")), 1.0);
    let refused = "method=\"/standpipe.v1.StationService/Describe\",code=\"UNAUTHENTICATED\"";
    assert_eq!(value(&scrape, &format!("standpipe_calls_total{{{refused}}}")), 1.0);
    assert_eq!(value(&scrape, &format!("standpipe_calls_open{{{append}}}")), 0.0);
    assert_eq!(value(&scrape, "standpipe_commit_seconds_count"), 1.0);
    assert_eq!(value(&scrape, "standpipe_tokens_refused_total"), 1.0);
    assert_eq!(value(&scrape, "standpipe_journal_serving"), 1.0);
    assert!(value(&scrape, "standpipe_connections_open") >= 1.0, "the one that asks is open");
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_secs_f64();
    let days = (value(&scrape, "standpipe_certificate_end_timestamp_seconds") - now) / 86_400.0;
    assert!((89.0..=90.0).contains(&days), "{days}");
    let (free, size) =
        (value(&scrape, "standpipe_disk_free_bytes"), value(&scrape, "standpipe_disk_size_bytes"));
    assert!(0.0 < free && free <= size, "{free} of {size}");
    for name in names(&scrape) {
        assert!(name.starts_with("standpipe_"), "{name}");
    }
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn a_page_of_a_browser_needs_the_token_of_an_admin() {
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let server = served(&site, true).await;
    let page = ("sec-fetch-site", "same-origin");
    let (admin, bay) = (format!("Bearer {}", site.admin), format!("Bearer {}", site.token("bay-1")));
    for (headers, expected) in [
        (vec![page], 401),
        (vec![("origin", "http://shop.example.org")], 401),
        (vec![page, ("authorization", bay.as_str())], 401),
        (vec![page, ("authorization", admin.as_str())], 200),
        (vec![("sec-fetch-site", "none")], 200),
    ] {
        assert_eq!(ask(server.addr, "GET /metrics", &headers).await.0, expected, "{headers:?}");
    }
    assert_eq!(ask(server.addr, "POST /metrics", &[("content-length", "0")]).await.0, 405);
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn a_server_that_is_told_not_to_shows_no_figures() {
    let site = Site::bare(&[]).await;
    let server = served(&site, false).await;
    let (status, body) = ask(server.addr, "GET /metrics", &[]).await;
    assert!(status != 200 && !body.contains("standpipe_journal"), "{status} {body}");
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test]
async fn another_machine_reads_the_figures_over_tls_with_the_token_of_an_admin() {
    let Some(outside) = outside_address() else {
        return println!("skipped: this machine has no address beside its loopback address");
    };
    let site = Site::bare(&[("bay-1", Role::Bay)]).await;
    let listen = SocketAddr::new(outside, 0);
    let server = Server::start(ServerOptions { listen, ..ServerOptions::new(site.dir()) }).await.unwrap();
    let trust = Trust::of(&site.dir(), &[b"http/1.1"]);
    let (admin, bay) = (format!("Bearer {}", site.admin), format!("Bearer {}", site.token("bay-1")));
    for (headers, expected) in [
        (vec![], 401),
        (vec![("authorization", bay.as_str())], 401),
        (vec![("authorization", "Bearer 0")], 401),
        (vec![("authorization", admin.as_str())], 200),
    ] {
        let stream = trust.connect(server.addr, SERVER_NAME).await.unwrap();
        let (status, body) = ask_over(stream, server.addr, "GET /metrics", &headers).await;
        assert_eq!((status, body.contains("standpipe_journal")), (expected, expected == 200), "{headers:?}");
    }
    server.shutdown();
    server.join().await.unwrap();
}
