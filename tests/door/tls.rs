//! Who is answered how: over TLS with either protocol, plain from this machine, and not at all plain from others.

use super::{serve, site};
use standpipe_proto::v1::DescribeRequest;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_server::{Clock as _, Server, ServerOptions, SystemClock};
use standpipe_tests::clock::{DAY_US, Hand};
use standpipe_tests::door::{SERVER_NAME, Trust, outside_address};
use standpipe_tests::site::{Bearer, channel};
use std::net::SocketAddr;
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWrite, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;

const H2: &[u8] = b"h2";
const HTTP_1: &[u8] = b"http/1.1";

async fn describe(channel: Channel, token: &str) -> Result<String, tonic::Status> {
    let mut client = StationServiceClient::new(InterceptedService::new(channel, Bearer::new(token)));
    Ok(client.describe(DescribeRequest {}).await?.into_inner().site_id)
}

/// The answer to a request for the page where people sign in.
async fn page(mut stream: impl AsyncRead + AsyncWrite + Unpin, host: &str) -> String {
    let request = format!("GET /login HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    // A peer that closes without the last word of TLS has answered all the same.
    let _ = stream.read_to_end(&mut answer).await;
    String::from_utf8(answer).unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_port_answers_tls_with_either_protocol_and_plain_from_this_machine() {
    let site = site().await;
    let server = serve(&site, "127.0.0.1:0").await;
    let token = site.token("bay-1");
    assert_eq!(describe(channel(server.addr).await, token).await.unwrap(), "harbour-lane");
    for protocols in [&[H2][..], &[H2, HTTP_1]] {
        let trust = Trust::of(&site.dir(), protocols);
        assert_eq!(describe(trust.channel(server.addr).await, token).await.unwrap(), "harbour-lane");
    }
    let trust = Trust::of(&site.dir(), &[HTTP_1]);
    for name in [SERVER_NAME, "localhost", "127.0.0.1"] {
        let stream = trust.connect(server.addr, name).await.unwrap();
        assert_eq!(stream.get_ref().1.alpn_protocol(), Some(HTTP_1));
        let answer = page(stream, name).await;
        assert!(answer.starts_with("HTTP/1.1 200"), "{name}: {answer}");
        let cookie = answer.lines().find(|line| line.starts_with("set-cookie: ")).unwrap();
        assert!(cookie.contains("__Host-standpipe-login=") && cookie.contains("; Secure"), "{cookie}");
    }
    let plain = page(TcpStream::connect(server.addr).await.unwrap(), &server.addr.to_string()).await;
    assert!(plain.contains("set-cookie: standpipe-login=") && !plain.contains("Secure"), "{plain}");
    server.shutdown();
    server.join().await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_is_answered_under_the_names_of_the_certificate_and_no_others() {
    let site = site().await;
    let options = ServerOptions {
        listen: "127.0.0.1:0".parse().unwrap(),
        names: vec!["shop.lane".to_owned()],
        ..ServerOptions::new(site.dir())
    };
    let server = Server::start(options).await.unwrap();
    let trust = Trust::of(&site.dir(), &[HTTP_1]);
    for (host, status) in [("shop.lane", "200"), ("SHOP.lane:443", "200"), ("shop.lane.example.org", "421")] {
        let answer = page(trust.connect(server.addr, "shop.lane").await.unwrap(), host).await;
        assert!(answer.starts_with(&format!("HTTP/1.1 {status}")), "{host}: {answer}");
    }
    let plain = page(TcpStream::connect(server.addr).await.unwrap(), "shop.lane").await;
    assert!(plain.starts_with("HTTP/1.1 421"), "a foreign name is pointed at this machine: {plain}");
    assert!(trust.connect(server.addr, "shop.example.org").await.is_err(), "no certificate of that name");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn another_machine_is_answered_over_tls_only() {
    let Some(outside) = outside_address() else {
        println!("skipped: this machine has no address but the loopback address");
        return;
    };
    let site = site().await;
    let server = serve(&site, "0.0.0.0:0").await;
    let address = SocketAddr::new(outside, server.addr.port());
    let trust = Trust::of(&site.dir(), &[H2]);
    assert_eq!(describe(trust.channel(address).await, site.token("bay-1")).await.unwrap(), "harbour-lane");
    let pages = Trust::of(&site.dir(), &[HTTP_1]);
    let stream = pages.connect(address, &outside.to_string()).await.unwrap();
    let answer = page(stream, &address.to_string()).await;
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    let plain = page(TcpStream::connect(address).await.unwrap(), &address.to_string()).await;
    assert!(plain.starts_with("HTTP/1.1 400") && plain.contains("https://"), "{plain}");
    let (head, body) = plain.split_once("\r\n\r\n").unwrap();
    assert!(head.contains(&format!("content-length: {}", body.len())), "{plain}");
    // The preface of HTTP/2 without TLS.
    let mut stream = TcpStream::connect(address).await.unwrap();
    stream.write_all(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0").await.unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).await.unwrap();
    assert!(answer.starts_with(b"HTTP/1.1 400"), "{answer:?}");
    let here = SocketAddr::new([127, 0, 0, 1].into(), server.addr.port());
    assert_eq!(describe(channel(here).await, site.token("bay-1")).await.unwrap(), "harbour-lane");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_certificate_is_renewed_while_stations_are_connected() {
    let site = site().await;
    let clock = Hand::at(SystemClock.now_us());
    let server = site.serve_on(clock.clone()).await;
    let token = site.token("bay-1");
    let shown = async |seconds: i64| {
        let trust = Trust::at(&site.dir(), &[H2], Some(u64::try_from(seconds).unwrap()));
        let stream = trust.connect(server.addr, SERVER_NAME).await.unwrap();
        stream.get_ref().1.peer_certificates().unwrap().to_vec()
    };
    let now = || clock.now_us() / 1_000_000;
    let before = shown(now()).await;
    assert_eq!(before.len(), 2, "the chain ends with the authority");
    let open = Trust::of(&site.dir(), &[H2]).channel(server.addr).await;
    describe(open.clone(), token).await.unwrap();
    assert!(!server.look_at_certificate().await.unwrap(), "it is not due");
    clock.forward(61 * DAY_US);
    assert!(server.look_at_certificate().await.unwrap());
    let after = shown(now()).await;
    assert_ne!(after[0], before[0]);
    assert_eq!(after[1], before[1], "the authority stays");
    describe(open, token).await.unwrap();
    assert!(!server.look_at_certificate().await.unwrap());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_site_keeps_its_authority_over_restarts_and_through_a_backup() {
    let site = site().await;
    let authority = |dir: &std::path::Path| std::fs::read(dir.join("tls/authority.pem")).unwrap();
    let first = authority(&site.dir());
    let server = serve(&site, "127.0.0.1:0").await;
    server.shutdown();
    server.join().await.unwrap();
    let backup = site.folder.path().join("backup");
    standpipe_server::order(&site.dir(), standpipe_server::Order::BackUp { to: backup.clone() })
        .await
        .unwrap();
    let restored = site.folder.path().join("restored");
    standpipe_server::restore(&backup, &restored, &standpipe_server::SystemEntropy).await.unwrap();
    for dir in [&site.dir(), &backup, &restored] {
        assert_eq!(authority(dir), first, "{}", dir.display());
    }
    // A folder of an earlier version has no keys at all.
    std::fs::remove_dir_all(site.dir().join("tls")).unwrap();
    serve(&site, "127.0.0.1:0").await;
    assert_ne!(authority(&site.dir()), first);
}
