//! Whoever only holds the door open is cut, and takes nobody's place for long.

use super::{serve_within, site};
use standpipe_proto::v1::DescribeRequest;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_server::Limits;
use standpipe_tests::door::{Trust, outside_address};
use standpipe_tests::site::shown;
use std::net::SocketAddr;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;

/// A preface of HTTP/2 with empty settings (RFC 9113, section 3.4).
const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0";
/// Longest that a test waits for what must come.
const AT_MOST: Duration = Duration::from_secs(30);

/// Reads until the other side ends the connection, in order or not.
async fn ended(mut stream: impl AsyncRead + Unpin) {
    let mut bytes = Vec::new();
    let read = tokio::time::timeout(AT_MOST, stream.read_to_end(&mut bytes)).await;
    assert!(read.is_ok(), "the connection was not ended");
}

async fn serves(address: SocketAddr, token: &str) {
    let mut client = StationServiceClient::new(shown(address, token).await);
    client.describe(DescribeRequest {}).await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_says_nothing_or_never_ends_its_greeting_is_cut() {
    let site = site().await;
    let short = Duration::from_secs(1);
    let limits = Limits { handshake: short, first_request: short, ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let begin = async |bytes: &'static [u8]| {
        let mut stream = TcpStream::connect(server.addr).await.unwrap();
        stream.write_all(bytes).await.unwrap();
        stream
    };
    for (what, bytes) in [
        ("nothing", &b""[..]),
        ("the first byte of a hello", b"\x16"),
        // The head of a hello of 512 bytes of which none comes (RFC 8446, section 5.1).
        ("half a hello", b"\x16\x03\x01\x02\x00"),
        ("a preface", PREFACE),
        ("half a request", b"GET /login HTTP/1.1\r\nhost: localhost\r\n"),
    ] {
        println!("{what}");
        ended(begin(bytes).await).await;
    }
    let trust = Trust::of(&site.dir(), &[b"h2"]);
    ended(trust.connect(server.addr, "localhost").await.unwrap()).await;
    let mut greeted = trust.connect(server.addr, "localhost").await.unwrap();
    greeted.write_all(PREFACE).await.unwrap();
    ended(greeted).await;
    serves(server.addr, site.token("bay-1")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_connection_without_a_call_ends_and_one_with_an_open_call_does_not() {
    let site = site().await;
    let limits = Limits {
        first_request: Duration::from_secs(1),
        idle: Duration::from_millis(200),
        ..Limits::default()
    };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let trust = Trust::of(&site.dir(), &[b"http/1.1"]);
    let mut stream = trust.connect(server.addr, "localhost").await.unwrap();
    stream.write_all(b"GET /login HTTP/1.1\r\nhost: localhost\r\n\r\n").await.unwrap();
    ended(stream).await;
    // A stream of acknowledgements stays open however long nothing is said.
    let mut open = standpipe_tests::site::journal(server.addr, site.token("bay-1")).await;
    let (sender, entries) = tokio::sync::mpsc::channel(1);
    let mut answers =
        open.append_stream(tokio_stream::wrappers::ReceiverStream::new(entries)).await.unwrap().into_inner();
    // Several connections come and end by themselves one after another, each after the time of an idle one.
    for _ in 0..3 {
        let mut stream = TcpStream::connect(server.addr).await.unwrap();
        stream.write_all(b"GET /login HTTP/1.1\r\nhost: localhost\r\n\r\n").await.unwrap();
        ended(stream).await;
    }
    let mut sealer = standpipe_tests::sealed::Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let entry = sealer.seal(&job, standpipe_tests::facts::arrival("PH 482 K")).bytes;
    sender.send(standpipe_proto::v1::AppendStreamRequest { entry }).await.unwrap();
    assert!(answers.message().await.unwrap().unwrap().answer.is_some());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn strangers_have_few_places_and_end_soon_and_who_showed_a_token_goes_on() {
    let site = site().await;
    let limits = Limits { strangers: 2, stranger_idle: Duration::from_secs(2), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let mut known = StationServiceClient::new(shown(server.addr, site.token("bay-1")).await);
    known.describe(DescribeRequest {}).await.unwrap();
    let mut strangers = Vec::new();
    for _ in 0..2 {
        let mut stream = TcpStream::connect(server.addr).await.unwrap();
        stream.write_all(b"GET /login HTTP/1.1\r\nhost: localhost\r\n\r\n").await.unwrap();
        assert!(stream.read(&mut [0; 64]).await.unwrap() > 0);
        strangers.push(stream);
    }
    ended(TcpStream::connect(server.addr).await.unwrap()).await;
    for stream in strangers {
        ended(stream).await;
    }
    // Longer ago than a stranger may be silent; the channel would not connect anew without being a stranger first.
    known.describe(DescribeRequest {}).await.unwrap();
    serves(server.addr, site.token("bay-1")).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_address_outside_has_so_many_connections_and_this_machine_is_not_counted_with_it() {
    let Some(outside) = outside_address() else {
        println!("skipped: this machine has no address but the loopback address");
        return;
    };
    let site = site().await;
    let limits = Limits { connections_per_address: 3, ..Limits::default() };
    let server = serve_within(&site, "0.0.0.0:0", limits).await;
    let there = SocketAddr::new(outside, server.addr.port());
    let here = SocketAddr::new([127, 0, 0, 1].into(), server.addr.port());
    let trust = Trust::of(&site.dir(), &[b"h2"]);
    let mut open = Vec::new();
    for _ in 0..3 {
        open.push(trust.connect(there, "localhost").await.unwrap());
    }
    let refused = trust.connect(there, "localhost").await;
    assert!(refused.is_err(), "a fourth connection of the same address");
    for _ in 0..8 {
        serves(here, site.token("bay-1")).await;
    }
    // One that ends makes room, as soon as the server has seen its end.
    let mut gone = open.pop().unwrap();
    gone.shutdown().await.unwrap();
    ended(gone).await;
    assert!(trust.connect(there, "localhost").await.is_ok());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_written_and_not_taken_ends_the_connection() {
    let site = site().await;
    let limits = Limits { stalled_write: Duration::from_millis(300), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let stream = TcpStream::connect(server.addr).await.unwrap();
    let (mut answers, mut requests) = stream.into_split();
    // Requests one behind another whose answers nobody reads: they fill the buffers of both sides.
    let asking = async {
        let request = b"GET /office.css HTTP/1.1\r\nhost: localhost\r\n\r\n".repeat(64);
        while requests.write_all(&request).await.is_ok() {}
    };
    assert!(tokio::time::timeout(AT_MOST, asking).await.is_ok(), "the connection was not cut");
    // Whatever was under way may still be read; then the end comes.
    let mut rest = Vec::new();
    let _ = answers.read_to_end(&mut rest).await;
    serves(server.addr, site.token("bay-1")).await;
}
