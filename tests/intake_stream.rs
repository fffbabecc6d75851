//! Entries by stream: the window, refusals in the middle of it, and the end of the server under it.

use prost::Message as _;
use standpipe_proto::limits::STREAM_WINDOW_MAX;
use standpipe_proto::v1::{
    self, AppendStreamRequest, ReadRequest, append_stream_response::Answer, header::Subject,
};
use standpipe_server::{Role, RunningServer, Server, ServerOptions};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer, uuid_v7};
use standpipe_tests::site::{Bearer, JournalClient, Site, append, journal};
use standpipe_tests::told::reason;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tokio::sync::{Notify, mpsc};
use tokio_stream::wrappers::ReceiverStream;
use tonic::Code;
use tonic::transport::Endpoint;

/// Bytes of answers that a narrow client takes before it reads them.
const NARROW: u32 = 1024;
/// Bytes of answers that the network part of the server puts together before it looks whether they are taken: the
/// default of tonic's buffer settings.
const PUT_TOGETHER: u64 = 32 * 1024;

async fn workshop() -> Site {
    Site::with(&[("bay-1", Role::Bay), ("bay-2", Role::Bay)]).await
}

fn request(entry: &Sealed) -> AppendStreamRequest {
    AppendStreamRequest { entry: entry.bytes.clone() }
}

/// A client that takes only a few bytes of answers unread.
async fn narrow(server: &RunningServer, token: &str) -> JournalClient {
    let endpoint = Endpoint::from_shared(format!("http://{}", server.addr)).unwrap();
    let channel = endpoint.initial_stream_window_size(NARROW).connect().await.unwrap();
    v1::journal_service_client::JournalServiceClient::with_interceptor(channel, Bearer::new(token))
}

#[tokio::test]
async fn a_station_that_reads_no_answers_is_held_back_at_the_window_and_loses_nothing() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut admin = journal(server.addr, &site.admin).await;
    let mut other = journal(server.addr, site.token("bay-2")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut entries = vec![sealer.seal(&job, facts::arrival("PH 482 K"))];
    entries.extend((0..2_000).map(|_| sealer.seal(&job, facts::temperature(43.0))));
    let mut client = narrow(&server, site.token("bay-1")).await;
    let before = size(&mut admin).await;
    let requests: Vec<_> = entries.iter().map(request).collect();
    let mut answers = client.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
    while size(&mut admin).await - before < STREAM_WINDOW_MAX as u64 {}
    // Fifty commits of another station: time enough for everything, if nothing held the first one back.
    let mut beside = Sealer::new("bay-2", 2);
    let own = beside.job(1);
    let answer = append(&mut other, &beside.seal(&own, facts::arrival("PH 483 K"))).await.unwrap();
    for _ in 1..50 {
        append(&mut other, &beside.seal(&own, facts::temperature(43.0))).await.unwrap();
    }
    let taken = size(&mut admin).await - before - 50;
    // Answers that are on their way are answered; the window holds what is not.
    let most =
        STREAM_WINDOW_MAX as u64 + (PUT_TOGETHER + u64::from(NARROW)) / answer.encoded_len() as u64 + 1;
    assert!(taken <= most, "{taken} entries were taken in unanswered, at most {most}");
    for entry in &entries {
        let answer = answers.message().await.unwrap().unwrap().answer;
        assert!(matches!(answer, Some(Answer::Acknowledgement(taken)) if taken.entry_id == entry.entry_id));
    }
    assert!(answers.message().await.unwrap().is_none(), "the stream ends when the station ends it");
}

async fn size(client: &mut JournalClient) -> u64 {
    let request = ReadRequest { page_size: 1, ..ReadRequest::default() };
    client.read(request).await.unwrap().into_inner().tree_size.unsigned_abs()
}

#[tokio::test]
async fn refusals_stand_in_the_order_of_the_entries_and_the_stream_goes_on() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut bay = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let mut spoiled = |spoil: &dyn Fn(&mut v1::Entry)| {
        let mut entry = sealer.entry(Subject::JobId(job.clone()), facts::drained(3.05), &[]);
        spoil(&mut entry);
        Sealed { entry_id: entry.header.clone().unwrap().entry_id, bytes: entry.encode_to_vec().into() }
    };
    let opening = spoiled(&|entry| entry.fact = Some(v1::Fact { kind: Some(facts::arrival("PH 482 K")) }));
    let good = spoiled(&|_| {});
    let id = opening.entry_id.clone();
    let cases: Vec<(Sealed, Code, &str)> = vec![
        (opening.clone(), Code::Ok, ""),
        (
            spoiled(&|entry| entry.fact = Some(v1::Fact { kind: Some(facts::drained(f64::NAN)) })),
            Code::InvalidArgument,
            "OUTSIDE_BOUNDS",
        ),
        (
            Sealed { entry_id: String::new(), bytes: vec![0xff; 40].into() },
            Code::InvalidArgument,
            "ENTRY_UNREADABLE",
        ),
        (
            Sealed { entry_id: String::new(), bytes: vec![0; 65 * 1024].into() },
            Code::InvalidArgument,
            "ENTRY_TOO_LARGE",
        ),
        (
            spoiled(&header(|h| h.subject = Some(Subject::JobId(uuid_v7(9, 9))))),
            Code::NotFound,
            "JOB_UNKNOWN",
        ),
        (spoiled(&header(|h| h.entry_id.clone_from(&id))), Code::AlreadyExists, "ENTRY_ID_REUSED"),
        (spoiled(&header(|h| h.station_id = "bay-2".into())), Code::PermissionDenied, "STATION_MISMATCH"),
        (good.clone(), Code::Ok, ""),
    ];
    let requests: Vec<_> = cases.iter().map(|(entry, ..)| request(entry)).collect();
    let mut answers = bay.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
    for (entry, code, reason) in &cases {
        match answers.message().await.unwrap().unwrap().answer.unwrap() {
            Answer::Acknowledgement(taken) => {
                assert_eq!((&taken.entry_id, *code), (&entry.entry_id, Code::Ok))
            }
            Answer::Refusal(refusal) => {
                assert_eq!((&refusal.entry_id, refusal.reason.as_str()), (&entry.entry_id, *reason));
                assert_eq!(Code::from_i32(refusal.code), *code, "{refusal:?}");
                assert!(refusal.message.len() > 20, "{refusal:?}");
            }
        }
    }
    assert!(answers.message().await.unwrap().is_none());
    let stored = bay.read(ReadRequest { job, ..ReadRequest::default() }).await.unwrap().into_inner().entries;
    assert_eq!(stored.into_iter().map(|entry| entry.entry).collect::<Vec<_>>(), [opening.bytes, good.bytes]);
}

fn header(change: impl Fn(&mut v1::Header)) -> impl Fn(&mut v1::Entry) {
    move |entry| change(entry.header.as_mut().unwrap())
}

#[tokio::test]
async fn a_stream_of_a_stranger_is_refused_before_its_first_entry() {
    let site = workshop().await;
    let server = site.serve().await;
    let mut stranger = journal(server.addr, &"0".repeat(64)).await;
    let refused =
        stranger.append_stream(tokio_stream::iter([AppendStreamRequest::default()])).await.unwrap_err();
    assert_eq!((refused.code(), reason(&refused).as_str()), (Code::Unauthenticated, "TOKEN_NOT_GOOD"));
}

/// One bay that sends until the server ends, and what it was told.
struct Sending {
    entries: Vec<Sealed>,
    acknowledged: BTreeMap<String, i64>,
    ended: tonic::Status,
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_that_stops_ends_its_streams_and_keeps_everything_it_acknowledged() {
    for stop_after in [1, 40, 500] {
        let site = workshop().await;
        let server = site.serve().await;
        let (count, reached) = (Arc::new(AtomicU64::new(0)), Arc::new(Notify::new()));
        let mut bays = Vec::new();
        // Both streams are open before the first entry goes, so that the end of the server meets both.
        let mut open = Vec::new();
        for (seed, station) in [(1, "bay-1"), (2, "bay-2")] {
            let mut client = journal(server.addr, site.token(station)).await;
            let (sender, requests) = mpsc::channel(STREAM_WINDOW_MAX);
            let answers = client.append_stream(ReceiverStream::new(requests)).await.unwrap().into_inner();
            open.push((entries_of(station, seed, 9_000), sender, answers));
        }
        for (entries, sender, answers) in open {
            let (count, reached) = (Arc::clone(&count), Arc::clone(&reached));
            let answered = move || {
                if count.fetch_add(1, Ordering::SeqCst) + 1 == stop_after {
                    reached.notify_one();
                }
            };
            bays.push(tokio::spawn(send_until_the_end(entries, sender, answers, answered)));
        }
        reached.notified().await;
        server.shutdown();
        server.join().await.unwrap();
        let server = site.serve().await;
        for (bay, station) in bays.into_iter().zip(["bay-1", "bay-2"]) {
            let sending = bay.await.unwrap();
            let ended = (sending.ended.code(), reason(&sending.ended));
            assert_eq!(ended, (Code::Unavailable, "SERVER_STOPPING".to_owned()), "{:?}", sending.ended);
            assert!(sending.acknowledged.len() < sending.entries.len(), "the server stopped too late");
            resend(&site, &server, station, &sending).await;
        }
    }
}

fn entries_of(station: &str, seed: u64, count: usize) -> Vec<Sealed> {
    let mut sealer = Sealer::new(station, seed);
    let job = sealer.job(1);
    let mut entries = vec![sealer.seal(&job, facts::arrival("PH 482 K"))];
    entries.extend((1..count).map(|_| sealer.seal(&job, facts::temperature(43.0))));
    entries
}

async fn send_until_the_end(
    entries: Vec<Sealed>,
    sender: mpsc::Sender<AppendStreamRequest>,
    mut answers: tonic::Streaming<v1::AppendStreamResponse>,
    answered: impl Fn(),
) -> Sending {
    let mut acknowledged = BTreeMap::new();
    let mut outgoing = entries.iter().map(request);
    let mut room = STREAM_WINDOW_MAX;
    loop {
        // Once the server has ended nobody takes anything, and the answers say so.
        while room > 0 && outgoing.next().is_some_and(|request| sender.try_send(request).is_ok()) {
            room -= 1;
        }
        match answers.message().await {
            Ok(Some(answer)) => {
                let Some(Answer::Acknowledgement(taken)) = answer.answer else { panic!("{answer:?}") };
                acknowledged.insert(taken.entry_id, taken.seq);
                room += 1;
                answered();
            }
            Ok(None) => panic!("the server ended the stream as if all were answered"),
            Err(ended) => return Sending { entries, acknowledged, ended },
        }
    }
}

/// Sends everything again: what was acknowledged is known at its place, the rest is taken now.
async fn resend(site: &Site, server: &RunningServer, station: &str, sending: &Sending) {
    let mut client = journal(server.addr, site.token(station)).await;
    let entries = &sending.entries[..(sending.acknowledged.len() + 200).min(sending.entries.len())];
    let requests: Vec<_> = entries.iter().map(request).collect();
    let mut answers = client.append_stream(tokio_stream::iter(requests)).await.unwrap().into_inner();
    for entry in entries {
        let answer = answers.message().await.unwrap().unwrap().answer;
        let Some(Answer::Acknowledgement(taken)) = answer else { panic!("{answer:?}") };
        assert_eq!(taken.entry_id, entry.entry_id);
        if let Some(place) = sending.acknowledged.get(&entry.entry_id) {
            assert!(taken.repeated && taken.seq == *place, "{taken:?} was acknowledged at {place}");
        }
    }
}

#[tokio::test]
async fn stopping_ends_within_its_deadline_although_streams_are_held_open() {
    let site = workshop().await;
    let listen = "127.0.0.1:0".parse().unwrap();
    let options =
        ServerOptions { listen, stop_within: Duration::from_secs(1), ..ServerOptions::new(site.dir()) };
    let server = Server::start(options).await.unwrap();
    let mut held = Vec::new();
    for station in ["bay-1", "bay-2"] {
        for _ in 0..8 {
            let mut client = journal(server.addr, site.token(station)).await;
            let (sender, requests) = mpsc::channel::<AppendStreamRequest>(1);
            let answers = client.append_stream(ReceiverStream::new(requests)).await.unwrap().into_inner();
            held.push((client, sender, answers));
        }
    }
    server.shutdown();
    // Far above the deadline of one second: only a server that waits for its stations gets there.
    let ended = tokio::time::timeout(Duration::from_secs(60), server.join()).await;
    ended.expect("the server waits for stations that say nothing").unwrap();
    for (_client, _sender, mut answers) in held {
        let ended = answers.message().await.unwrap_err();
        assert_eq!(ended.code(), Code::Unavailable, "{ended:?}");
    }
    assert!(standpipe_server::verify(&site.dir()).await.unwrap().is_sound());
}
