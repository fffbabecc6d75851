//! Readers that take nothing: each is told where to go on, holds little, and costs the others nothing.

use super::{serve_within, site};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::journal_service_client::JournalServiceClient;
use standpipe_proto::v1::{AppendStreamRequest, WatchRequest, WatchResponse, append_stream_response::Answer};
use standpipe_server::{Limits, Role};
use standpipe_tests::facts;
use standpipe_tests::process::Process;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Bearer, Shown, Site, append, journal, opened, shown};
use standpipe_tests::told::{info, reason};
use std::net::SocketAddr;
use std::time::Duration;
use tokio_stream::StreamExt as _;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Endpoint;
use tonic::{Code, Streaming};

/// Most that the server's memory may grow under 100 slow readers, in KiB.
const GROWTH_KIB_MAX: u64 = 8 * 1024;

/// Bytes that fit into a stream until somebody reads: less than one state has.
const WINDOW_BYTES: u32 = 256;

/// A connection whose streams have room for little until somebody reads.
async fn narrow(address: SocketAddr, token: &str) -> Shown {
    let endpoint = Endpoint::from_shared(format!("http://{address}")).unwrap();
    let channel = endpoint.initial_stream_window_size(WINDOW_BYTES).connect().await.unwrap();
    InterceptedService::new(channel, Bearer::new(token))
}

async fn watched(channel: Shown, after_seq: i64) -> Streaming<WatchResponse> {
    let request = WatchRequest { job: "1".to_owned(), after_seq };
    JobServiceClient::new(channel).watch(request).await.unwrap().into_inner()
}

/// A reader who takes nothing from the first state on.
async fn stuck(address: SocketAddr, token: &str) -> Streaming<WatchResponse> {
    watched(narrow(address, token).await, 0).await
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_watch_that_is_not_read_ends_with_the_place_to_go_on_from() {
    let site = site().await;
    let limits = Limits { reader_waits: Duration::from_millis(100), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let token = site.token("bay-1");
    let (mut bay, mut sealer, job) = opened(server.addr, token).await;
    let mut slow = stuck(server.addr, token).await;
    let mut good = watched(shown(server.addr, token).await, 0).await;
    let begun = good.next().await.unwrap().unwrap().last_seq;
    // Each state is told a moment after the one before, so the slow one has taken nothing for longer than it may.
    for drained in [3.05, 3.1, 3.15, 3.2, 3.25] {
        append(&mut bay, &sealer.seal(&job, facts::drained(drained))).await.unwrap();
        good.next().await.unwrap().unwrap();
    }
    let mut last = 0;
    let ended = loop {
        match slow.next().await.unwrap() {
            Ok(state) => last = state.last_seq,
            Err(ended) => break ended,
        }
    };
    assert_eq!((ended.code(), reason(&ended).as_str()), (Code::ResourceExhausted, "READER_TOO_SLOW"));
    assert_eq!(
        info(&ended).unwrap().metadata["last_seq"],
        last.to_string(),
        "what was told before the end was read"
    );
    assert!((begun..begun + 5).contains(&last), "states were left out: {last}");
    // Going on from there gives what came since, and going on from the end nothing until something comes.
    let mut on = watched(shown(server.addr, token).await, last).await;
    assert_eq!(on.next().await.unwrap().unwrap().last_seq, begun + 5);
    let mut at_end = watched(shown(server.addr, token).await, begun + 5).await;
    append(&mut bay, &sealer.seal(&job, facts::drained(3.3))).await.unwrap();
    assert_eq!(at_end.next().await.unwrap().unwrap().last_seq, begun + 6);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_station_that_does_not_read_its_answers_is_ended_and_nothing_it_sent_is_lost() {
    let site = site().await;
    let limits = Limits { reader_waits: Duration::from_millis(100), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let token = site.token("bay-1");
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let arrived = sealer.seal(&job, facts::arrival("PH 482 K"));
    let drained = (1..3_000).map(|hundredth| sealer.seal(&job, facts::drained(f64::from(hundredth) / 100.0)));
    let entries: Vec<_> = std::iter::once(arrived).chain(drained.collect::<Vec<_>>()).collect();
    let mut narrow = JournalServiceClient::new(narrow(server.addr, token).await);
    let requests = entries.iter().map(|entry| AppendStreamRequest { entry: entry.bytes.clone() });
    // The stream of entries stays open, so that only the server can end it.
    let sent = tokio_stream::iter(requests.collect::<Vec<_>>()).chain(tokio_stream::pending());
    let mut answers = narrow.append_stream(sent).await.unwrap().into_inner();
    // The states of another job come with a pause between them that is longer than a reader may take nothing.
    let mut bay = journal(server.addr, token).await;
    let mut other = Sealer::new("bay-1", 2);
    let beside = other.job(2);
    append(&mut bay, &other.seal(&beside, facts::arrival("PH 483 K"))).await.unwrap();
    let mut jobs = JobServiceClient::new(shown(server.addr, token).await);
    let request = WatchRequest { job: beside.clone(), after_seq: 0 };
    let mut states = jobs.watch(request).await.unwrap().into_inner();
    states.next().await.unwrap().unwrap();
    for drained in [3.05, 3.1, 3.15] {
        append(&mut bay, &other.seal(&beside, facts::drained(drained))).await.unwrap();
        states.next().await.unwrap().unwrap();
    }
    let mut acknowledged = 0;
    let ended = loop {
        match answers.next().await.unwrap() {
            Ok(answer) => {
                assert!(matches!(answer.answer, Some(Answer::Acknowledgement(_))), "{answer:?}");
                acknowledged += 1;
            }
            Err(ended) => break ended,
        }
    };
    assert_eq!(reason(&ended), "READER_TOO_SLOW");
    assert!(acknowledged > 0 && acknowledged < entries.len(), "{acknowledged}");
    // What was not acknowledged is sent again; what was kept all the same keeps its place.
    for entry in entries.iter().skip(acknowledged).take(100) {
        append(&mut bay, entry).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_reader_that_does_not_take_the_end_either_loses_its_connection() {
    let site = site().await;
    let short = Duration::from_millis(100);
    let limits = Limits { reader_waits: short, last_word: short, ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let token = site.token("bay-1");
    let (mut bay, mut sealer, job) = opened(server.addr, token).await;
    let channel = narrow(server.addr, token).await;
    let _slow = watched(channel.clone(), 0).await;
    // A stream beside it on the same connection ends with it, however well it is read.
    let entries = tokio_stream::pending::<AppendStreamRequest>();
    let mut beside = JournalServiceClient::new(channel).append_stream(entries).await.unwrap().into_inner();
    let mut good = watched(shown(server.addr, token).await, 0).await;
    let drains = async {
        for hundredth in 1..=8 {
            append(&mut bay, &sealer.seal(&job, facts::drained(f64::from(hundredth) / 100.0))).await.unwrap();
            good.next().await.unwrap().unwrap();
        }
        std::future::pending::<()>().await;
    };
    tokio::select! {
        ended = beside.next() => assert!(ended.unwrap().is_err()),
        () = drains => {}
    }
}

fn resident_kib(id: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hundred_slow_readers_hold_little_and_others_see_every_state() {
    let names: Vec<String> = (1..=13).map(|number| format!("bay-{number}")).collect();
    let stations: Vec<(&str, Role)> = names.iter().map(|name| (name.as_str(), Role::Bay)).collect();
    let site = Site::bare(&stations).await;
    let server = Process::serve(&site.dir());
    let mut bay = journal(server.address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let mut good = watched(shown(server.address, site.token("bay-13")).await, 0).await;
    let begun = good.next().await.unwrap().unwrap().last_seq;
    let mut slow = Vec::new();
    for reader in 0..100 {
        slow.push(stuck(server.address, site.token(&names[reader / 8])).await);
    }
    let before = resident_kib(server.id());
    for hundredth in 1..=30 {
        append(&mut bay, &sealer.seal(&job, facts::drained(f64::from(hundredth) / 100.0))).await.unwrap();
        let state = good.next().await.unwrap().unwrap();
        assert_eq!(
            state.last_seq,
            begun + i64::from(hundredth),
            "a reader beside the slow ones misses nothing"
        );
    }
    if let (Some(before), Some(after)) = (before, resident_kib(server.id())) {
        println!("100 slow readers: {before} KiB before 30 entries, {after} KiB after them");
        assert!(after.saturating_sub(before) < GROWTH_KIB_MAX, "{before} KiB before, {after} KiB after");
    }
    drop((slow, good, bay));
    assert_eq!(server.terminate().0, Some(0));
}
