//! Floods of HTTP/2 frames, made by hand, and records of TLS that are none. The connection they come on is cut; a
//! station beside it keeps getting its acknowledgements.

use super::Target;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::v1::append_stream_response::Answer;
use standpipe_tests::facts;
use standpipe_tests::site::{append, journal};
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio_rustls::rustls::pki_types::ServerName;
use tokio_rustls::rustls::{ClientConfig, ClientConnection, RootCertStore};

/// RFC 9113, section 3.4, with empty settings.
const PREFACE: &[u8] = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0";
const DATA: u8 = 0x0;
const HEADERS: u8 = 0x1;
const PRIORITY: u8 = 0x2;
const RESET: u8 = 0x3;
const SETTINGS: u8 = 0x4;
const PING: u8 = 0x6;
const CONTINUATION: u8 = 0x9;
const END_STREAM: u8 = 0x1;
const END_HEADERS: u8 = 0x4;
/// More rounds than any flood may need until it is cut.
const ROUNDS_MAX: u32 = 400_000;
/// Longest that a flood may go on.
const AT_MOST: Duration = Duration::from_secs(60);

fn frame(kind: u8, flags: u8, stream: u32, content: &[u8]) -> Vec<u8> {
    let length = u32::try_from(content.len()).unwrap().to_be_bytes();
    [&length[1..], &[kind, flags], &stream.to_be_bytes(), content].concat()
}

/// The headers of a question about health (RFC 7541: indexed fields of the static table, literals without indexing).
fn headers() -> Vec<u8> {
    let mut block = vec![0x83, 0x86];
    for (index, value) in [(0x04, "/grpc.health.v1.Health/Check"), (0x01, "localhost")] {
        block.extend([index, u8::try_from(value.len()).unwrap()]);
        block.extend(value.as_bytes());
    }
    // content-type has the index 31: four bits full, then the rest.
    let grpc = "application/grpc";
    block.extend([0x0f, 31 - 15, u8::try_from(grpc.len()).unwrap()]);
    block.extend(grpc.as_bytes());
    block
}

/// What one round of a flood sends; streams are opened with ascending odd numbers.
type Round = fn(u32) -> Vec<u8>;

const FLOODS: [(&str, Round); 7] = [
    ("PING", |_| frame(PING, 0, 0, &[7; 8])),
    ("SETTINGS", |_| frame(SETTINGS, 0, 0, &[])),
    ("PRIORITY", |round| frame(PRIORITY, 0, 2 * round + 1, &[0, 0, 0, 0, 1])),
    ("opened and reset streams", |round| {
        let stream = 2 * round + 1;
        [frame(HEADERS, END_HEADERS, stream, &headers()), frame(RESET, 0, stream, &[0, 0, 0, 8])].concat()
    }),
    ("headers that never end", |round| match round {
        0 => frame(HEADERS, END_STREAM, 1, &headers()),
        // A literal field without indexing, named a, of the value b (RFC 7541, section 6.2.2).
        _ => frame(CONTINUATION, 0, 1, &[0, 1, b'a', 1, b'b']),
    }),
    ("empty continuations", |round| match round {
        0 => frame(HEADERS, END_STREAM, 1, &headers()),
        _ => frame(CONTINUATION, 0, 1, &[]),
    }),
    ("empty data", |round| match round {
        0 => frame(HEADERS, END_HEADERS, 1, &headers()),
        _ => frame(DATA, 0, 1, &[]),
    }),
];

/// Sends a flood until the server cuts it; says after how many rounds.
async fn flood(address: SocketAddr, round: Round) -> u32 {
    let stream = TcpStream::connect(address).await.unwrap();
    let (mut answers, mut frames) = stream.into_split();
    // Answers are read, so that only the flood itself can be the reason of the end.
    let reading = tokio::spawn(async move {
        let mut bytes = vec![0; 64 * 1024];
        while answers.read(&mut bytes).await.is_ok_and(|read| read > 0) {}
    });
    let mut rounds = 0;
    if frames.write_all(PREFACE).await.is_ok() {
        while rounds < ROUNDS_MAX && !reading.is_finished() {
            let together: Vec<u8> = (rounds..rounds + 100).flat_map(round).collect();
            if frames.write_all(&together).await.is_err() {
                break;
            }
            rounds += 100;
        }
    }
    reading.await.unwrap();
    rounds
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flood_of_frames_is_cut_and_a_station_beside_it_goes_on() {
    let mut target = Target::stand().await;
    let address = target.address();
    for (what, round) in FLOODS {
        let flooding = tokio::spawn(tokio::time::timeout(AT_MOST, flood(address, round)));
        let mut acknowledged = 0;
        // At least so many, and as long as the flood lasts.
        while acknowledged < 20 || (!flooding.is_finished() && acknowledged < 300) {
            let entry = target.sealer.seal(&target.job.clone(), facts::drained(3.05));
            let answers = target.answers(&[entry.bytes]).await;
            assert!(is_acknowledged(&answers[0]), "beside {what}: {answers:?}");
            acknowledged += 1;
        }
        let rounds = flooding.await.unwrap().unwrap_or_else(|_| panic!("a flood of {what} was not cut"));
        println!("{what}: cut after at most {rounds} rounds, {acknowledged} entries acknowledged beside it");
        assert!(rounds < ROUNDS_MAX, "a flood of {what} was not cut");
    }
    target.stands().await;
}

fn is_acknowledged(answer: &Answer) -> bool {
    matches!(answer, Answer::Acknowledgement(_))
}

/// What a client says first, as the TLS of this project says it.
fn hello() -> Vec<u8> {
    let provider = Arc::new(tokio_rustls::rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(RootCertStore::empty())
        .with_no_client_auth();
    let name = ServerName::try_from("localhost").unwrap();
    let mut connection = ClientConnection::new(Arc::new(config), name).unwrap();
    let mut bytes = Vec::new();
    connection.write_tls(&mut bytes).unwrap();
    bytes
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn mutated_records_of_tls_end_their_connection_only() {
    let target = Target::stand().await;
    let whole = hello();
    let seed = 7;
    println!("seed {seed}");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    for _ in 0..300 {
        let mut bytes = whole.clone();
        for _ in 0..=random.next_u32() % 4 {
            let place = random.next_u32() as usize % bytes.len();
            bytes[place] = random.next_u32().to_le_bytes()[0];
        }
        bytes.truncate(1 + random.next_u32() as usize % bytes.len());
        // A TLS record follows its first byte only; whatever else it became is plain and refused as that.
        bytes[0] = 0x16;
        let mut stream = TcpStream::connect(target.address()).await.unwrap();
        stream.write_all(&bytes).await.unwrap();
        stream.shutdown().await.unwrap();
        let mut answer = Vec::new();
        let read = tokio::time::timeout(AT_MOST, stream.read_to_end(&mut answer)).await;
        assert!(read.is_ok(), "the connection was not ended");
    }
    // Records that nobody's key fits, after a greeting that was good.
    let trust = standpipe_tests::door::Trust::of(&target.site.dir(), &[b"h2"]);
    for _ in 0..20 {
        let greeted = trust.connect(target.address(), "localhost").await.unwrap();
        let (mut stream, _) = greeted.into_inner();
        let mut record = vec![0x17, 0x03, 0x03, 0x00, 0x40];
        record.extend((0..0x40).map(|_| random.next_u32().to_le_bytes()[0]));
        stream.write_all(&record).await.unwrap();
        let mut answer = Vec::new();
        let read = tokio::time::timeout(AT_MOST, stream.read_to_end(&mut answer)).await;
        assert!(read.is_ok(), "the connection was not ended");
    }
    target.stands().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn single_entries_come_only_so_fast_and_none_is_lost() {
    let mut target = Target::stand().await;
    let mut bay = journal(target.address(), target.site.token("bay-1")).await;
    let mut refused = None;
    let mut kept = 0;
    // More than at once and in the second that this may take; the machine may be slow, so the end is the refusal.
    for _ in 0..100_000 {
        let entry = target.sealer.seal(&target.job.clone(), facts::drained(3.05));
        match append(&mut bay, &entry).await {
            Ok(_) => kept += 1,
            Err(status) => {
                refused = Some((status, entry));
                break;
            }
        }
    }
    let (status, entry) = refused.expect("entries one by one were never too many");
    assert_eq!(standpipe_tests::told::reason(&status), "TOO_MANY_CALLS");
    let details = tonic_types::StatusExt::get_details_retry_info(&status).unwrap();
    let wait = details.retry_delay.unwrap();
    assert!(wait > Duration::ZERO && wait <= Duration::from_secs(1), "{wait:?}");
    assert!(kept >= 499, "{kept}");
    // A stream is not held up: the same entry and those after it go there.
    let rest: Vec<_> =
        (0..600).map(|_| target.sealer.seal(&target.job.clone(), facts::drained(3.1)).bytes).collect();
    let sent: Vec<_> = std::iter::once(entry.bytes).chain(rest).collect();
    let answers = target.answers(&sent).await;
    assert!(answers.iter().all(is_acknowledged));
}
