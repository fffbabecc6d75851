//! Requests that are no requests: frames cut short, giant or wrongly marked, other content, giant metadata, other
//! protocols. Each ends in an error of its own call or connection; the next one is served.

use super::Target;
use http_body_util::{BodyExt as _, Full};
use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::limits::{ENTRY_BYTES_MAX, MESSAGE_BYTES_MAX, METADATA_BYTES_MAX};
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealed;
use standpipe_tests::site::{append, channel, journal, shown};
use standpipe_tests::told::{call, info, reason};
use std::net::SocketAddr;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tonic::Code;
use tonic::body::Body;
use tonic::client::GrpcService as _;

const APPEND: &str = "/standpipe.v1.JournalService/Append";
const STREAM: &str = "/standpipe.v1.JournalService/AppendStream";
const DESCRIBE: &str = "/standpipe.v1.StationService/Describe";

/// How an HTTP answer ended: its status, and the gRPC status if there is one.
#[derive(Debug, PartialEq, Eq)]
struct Ended {
    http: u16,
    grpc: Option<Code>,
}

/// Sends a request made by hand; `None` when the connection was cut instead of an answer.
async fn ended(address: SocketAddr, request: http::request::Builder, body: Vec<u8>) -> Option<Ended> {
    let mut channel = channel(address).await;
    std::future::poll_fn(|context| channel.poll_ready(context)).await.unwrap();
    let request = request.body(Body::new(Full::new(Bytes::from(body)))).unwrap();
    let answer = channel.call(request).await.ok()?;
    let (parts, body) = answer.into_parts();
    let trailers = body.collect().await.ok()?.trailers().cloned().unwrap_or_default();
    let status = parts.headers.get("grpc-status").or_else(|| trailers.get("grpc-status"));
    let grpc = status.map(|status| Code::from_bytes(status.as_bytes()));
    Some(Ended { http: parts.status.as_u16(), grpc })
}

fn request(target: &Target, path: &str) -> http::request::Builder {
    http::Request::post(format!("http://{}{path}", target.address()))
        .header("authorization", format!("Bearer {}", target.site.token("bay-1")))
        .header("te", "trailers")
}

fn framed(flag: u8, length: u32, bytes: &[u8]) -> Vec<u8> {
    [&[flag][..], &length.to_be_bytes(), bytes].concat()
}

async fn serves(target: &Target) {
    let answer =
        call(shown(target.address(), target.site.token("bay-1")).await, DESCRIBE, Bytes::new()).await;
    assert!(answer.unwrap().is_some());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_frame_that_is_cut_or_wrongly_marked_or_no_message_fails_its_own_call_only() {
    let mut target = Target::stand().await;
    let before = target.stored().await.len();
    let entry = target.sealer.seal(&target.job.clone(), facts::drained(3.05)).bytes;
    let message = v1::AppendRequest { entry }.encode_to_vec();
    let length = u32::try_from(message.len()).unwrap();
    let bodies = [
        ("nothing at all", Vec::new()),
        ("half a head", vec![0, 0, 0]),
        ("a message cut short", framed(0, length, &message[..message.len() / 2])),
        ("a message longer than said", framed(0, length - 5, &message)),
        ("compressed without a word", framed(1, length, &message)),
        ("an unknown mark", framed(7, length, &message)),
        ("a length of 4 GiB", framed(0, u32::MAX, &message)),
        ("no message", framed(0, 12, &[0xff; 12])),
        ("another field's type", framed(0, 2, &[0x08, 0x01])),
        ("a field that ends beyond the end", framed(0, 3, &[0x0a, 0x7f, 0x01])),
        ("a message without an entry", framed(0, 0, &[])),
    ];
    for path in [APPEND, STREAM] {
        for (what, body) in &bodies {
            let typed = request(&target, path).header("content-type", "application/grpc");
            let ended = ended(target.address(), typed, body.clone()).await;
            let fine = Some(Ended { http: 200, grpc: Some(Code::Ok) });
            // A stream of nothing ends well; an entry in it that is none is refused within the stream.
            let may_end_well =
                path == STREAM && ["nothing at all", "a message without an entry"].contains(what);
            assert!(ended.is_some() && (ended != fine || may_end_well), "{path} with {what}: {ended:?}");
            serves(&target).await;
        }
    }
    assert_eq!(target.stored().await.len(), before, "nothing of it is kept");
    target.stands().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn content_of_another_type_and_another_way_to_ask_are_no_calls() {
    let mut target = Target::stand().await;
    let before = target.stored().await.len();
    let entry = target.sealer.seal(&target.job.clone(), facts::drained(3.05)).bytes;
    let message = v1::AppendRequest { entry }.encode_to_vec();
    let body = framed(0, u32::try_from(message.len()).unwrap(), &message);
    for content in
        [Some("text/plain"), Some("application/json"), Some("application/grpc-web"), Some(""), None]
    {
        let mut typed = request(&target, APPEND);
        if let Some(content) = content {
            typed = typed.header("content-type", content);
        }
        let ended = ended(target.address(), typed, body.clone()).await;
        // As the protocol says: without a gRPC status.
        assert_eq!(ended, Some(Ended { http: 415, grpc: None }), "{content:?}");
        serves(&target).await;
    }
    for method in ["GET", "PUT", "DELETE", "OPTIONS"] {
        let asked = request(&target, APPEND).method(method).header("content-type", "application/grpc");
        let ended = ended(target.address(), asked, body.clone()).await;
        assert_eq!(ended, Some(Ended { http: 405, grpc: None }), "{method}");
        serves(&target).await;
    }
    assert_eq!(target.stored().await.len(), before, "nothing of it is kept");
    target.stands().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn giant_entries_messages_and_metadata_are_refused_by_size() {
    let target = Target::stand().await;
    let before = target.stored().await.len();
    let sealed = |length: usize| Sealed { entry_id: String::new(), bytes: vec![0; length].into() };
    let mut client = journal(target.address(), target.site.token("bay-1")).await;
    let refused = append(&mut client, &sealed(ENTRY_BYTES_MAX + 1)).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "ENTRY_TOO_LARGE"));
    let metadata = info(&refused).unwrap().metadata;
    assert_eq!(metadata["bytes"], (ENTRY_BYTES_MAX + 1).to_string());
    assert_eq!(metadata["greatest"], ENTRY_BYTES_MAX.to_string());
    let at_the_end = append(&mut client, &sealed(ENTRY_BYTES_MAX)).await.unwrap_err();
    assert_eq!(reason(&at_the_end), "ENTRY_UNREADABLE", "so large an entry is read");
    for length in [MESSAGE_BYTES_MAX + 1, 8 * MESSAGE_BYTES_MAX] {
        let refused = append(&mut client, &sealed(length)).await.unwrap_err();
        assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "MESSAGE_TOO_LARGE"));
        let streamed =
            call(shown(target.address(), target.site.token("bay-1")).await, STREAM, vec![0; length].into());
        let refused = streamed.await.unwrap_err();
        assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "MESSAGE_TOO_LARGE"));
    }
    for length in [METADATA_BYTES_MAX as usize, 4 * 1024 * 1024] {
        let asked = request(&target, DESCRIBE)
            .header("content-type", "application/grpc")
            .header("x", "a".repeat(length));
        let ended = ended(target.address(), asked, framed(0, 0, &[])).await;
        assert!(
            ended.is_none_or(|ended| ended.grpc != Some(Code::Ok)),
            "metadata of {length} bytes was read"
        );
        serves(&target).await;
    }
    assert_eq!(target.stored().await.len(), before);
    target.stands().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn deep_nesting_unknown_fields_and_a_flood_of_empty_messages_are_answered_one_by_one() {
    let mut target = Target::stand().await;
    let before = target.stored().await.len();
    let job = target.job.clone();
    // A correction in a correction in a correction …, deeper than the reader goes.
    let mut nested = facts::closing();
    for _ in 0..200 {
        nested = Kind::Correction(Box::new(v1::Correction {
            corrected_entry_id: "01890a5d-ac96-774b-bcce-b302099a8057".into(),
            reason: "deeper".into(),
            outcome: Some(v1::correction::Outcome::Replacement(Box::new(v1::Fact { kind: Some(nested) }))),
        }));
    }
    let deep = target.sealer.entry(v1::header::Subject::JobId(job.clone()), nested, &[]).encode_to_vec();
    let refused = append(&mut target.client, &Sealed { entry_id: String::new(), bytes: deep.into() })
        .await
        .unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::InvalidArgument, "ENTRY_UNREADABLE"));
    // An entry of a later version: a field that nobody knows yet is kept in the bytes.
    let mut later = target.sealer.seal(&job, facts::drained(3.05));
    later.bytes = [&later.bytes[..], &[0xc2, 0x3e, 0x03, 1, 2, 3]].concat().into();
    append(&mut target.client, &later).await.unwrap();
    assert_eq!(target.stored().await.last().unwrap().entry, later.bytes);
    let answers = target.answers(&vec![Bytes::new(); 5_000]).await;
    for answer in answers {
        let v1::append_stream_response::Answer::Refusal(refusal) = answer else { panic!("{answer:?}") };
        assert_eq!((refusal.reason.as_str(), refusal.entry_id.as_str()), ("OUTSIDE_BOUNDS", ""));
        assert!(refusal.message.contains("header: is missing"), "{refusal:?}");
    }
    assert_eq!(target.stored().await.len(), before + 1);
    target.stands().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn other_protocols_and_garbage_on_the_wire_are_cut_off() {
    let target = Target::stand().await;
    let preface = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
    let garbage: Vec<u8> = (0..4_096_u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    let settings_cut = [&preface[..], &[0, 0, 100, 4, 0, 0, 0, 0, 0]].concat();
    let giant_frame = [&preface[..], &[0xff, 0xff, 0xff, 0, 0, 0, 0, 0, 1], &garbage].concat();
    let wires: [(&str, Vec<u8>); 6] = [
        ("HTTP/1.1", b"GET / HTTP/1.1\r\nhost: x\r\n\r\n".to_vec()),
        ("garbage", garbage.clone()),
        ("the preface and garbage", [&preface[..], &garbage].concat()),
        ("settings that end too early", settings_cut),
        ("a frame of 16 MiB", giant_frame),
        ("a handshake of TLS", vec![0x16, 3, 1, 2, 0, 1, 0, 1, 0xfc, 3, 3]),
    ];
    for (what, bytes) in wires {
        let mut socket = tokio::net::TcpStream::connect(target.address()).await.unwrap();
        // The server may cut the connection before it has read everything.
        let _ = socket.write_all(&bytes).await;
        let _ = socket.shutdown().await;
        let mut answer = Vec::new();
        let _ = socket.read_to_end(&mut answer).await;
        let text = String::from_utf8_lossy(&answer);
        assert!(!text.contains("200 OK"), "{what}: {text}");
        serves(&target).await;
    }
    target.stands().await;
}
