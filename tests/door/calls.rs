//! Calls that are too many or take too long: each is told so, with the wait, and nobody else suffers from it.

use super::{serve_within, site};
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{BaySheetRequest, DescribeRequest};
use standpipe_server::{Limits, RunningServer};
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{append, journal, shown};
use standpipe_tests::told::reason;
use std::time::Duration;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

fn wait(status: &Status) -> Duration {
    status.get_details_retry_info().and_then(|info| info.retry_delay).unwrap()
}

async fn describe(server: &RunningServer, token: &str) -> Result<(), Status> {
    let mut client = StationServiceClient::new(shown(server.addr, token).await);
    client.describe(DescribeRequest {}).await.map(|_| ())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn tokens_that_are_not_good_are_looked_at_only_so_often_and_good_ones_always() {
    let site = site().await;
    let limits = Limits { failed_tokens: (1, 8), ..Limits::default() };
    let server = serve_within(&site, "127.0.0.1:0", limits).await;
    let mut refusals = Vec::new();
    // Some may be looked at again while they come, one a second.
    while refusals.last().is_none_or(|refusal: &Status| reason(refusal) != "TOO_MANY_FAILURES") {
        let guess = format!("{:064x}", refusals.len());
        refusals.push(describe(&server, &guess).await.unwrap_err());
        assert!(refusals.len() < 1_000, "guesses were never too many");
    }
    let last = refusals.pop().unwrap();
    assert!(refusals.len() >= 7, "{}", refusals.len());
    assert!(refusals.iter().all(|refusal| reason(refusal) == "TOKEN_NOT_GOOD"));
    assert_eq!(last.code(), Code::ResourceExhausted);
    assert!(wait(&last) > Duration::ZERO && wait(&last) <= Duration::from_secs(1), "{last:?}");
    // A station comes in all the same, and the first time after the server was started too.
    describe(&server, site.token("bay-1")).await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn few_long_answers_are_computed_at_once_and_entries_are_taken_meanwhile() {
    let site = site().await;
    let server = serve_within(&site, "127.0.0.1:0", Limits::default()).await;
    let token = site.token("bay-1");
    let mut bay = journal(server.addr, token).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let printing: Vec<_> = (0..16)
        .map(|_| {
            let (address, token, job) = (server.addr, token.to_owned(), job.clone());
            tokio::spawn(async move {
                let mut records = RecordServiceClient::new(shown(address, &token).await);
                records.bay_sheet(BaySheetRequest { job }).await.map(|_| ())
            })
        })
        .collect();
    append(&mut bay, &sealer.seal(&job, facts::drained(3.05))).await.unwrap();
    let mut printed = 0;
    for answer in printing {
        match answer.await.unwrap() {
            Ok(()) => printed += 1,
            Err(busy) => {
                assert_eq!((busy.code(), reason(&busy).as_str()), (Code::Unavailable, "SERVER_BUSY"));
                assert!(wait(&busy) > Duration::ZERO);
            }
        }
    }
    assert!(printed >= 2, "{printed} of 16 were printed");
    println!("{printed} of 16 sheets that were asked for at once were printed");
    let mut records = RecordServiceClient::new(shown(server.addr, token).await);
    records.bay_sheet(BaySheetRequest { job }).await.unwrap();
}

/// Asked over HTTP/1.1 by hand: the client of this project would end the call by itself.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_that_takes_longer_than_its_caller_waits_is_told_so() {
    let site = site().await;
    let server = serve_within(&site, "127.0.0.1:0", Limits::default()).await;
    let mut stream = TcpStream::connect(server.addr).await.unwrap();
    let request = format!(
        "POST /standpipe.v1.BlobService/PutBlob HTTP/1.1\r\nhost: localhost\r\nte: trailers\r\n\
         content-type: application/grpc\r\ngrpc-timeout: 100m\r\nauthorization: Bearer {}\r\n\
         transfer-encoding: chunked\r\n\r\n",
        site.token("bay-1")
    );
    // The file that is announced never comes.
    stream.write_all(request.as_bytes()).await.unwrap();
    let (mut head, mut bytes) = (String::new(), [0; 4096]);
    while !head.contains("\r\n\r\n") {
        let read = stream.read(&mut bytes).await.unwrap();
        assert!(read > 0, "the connection ended without an answer: {head}");
        head.push_str(&String::from_utf8_lossy(&bytes[..read]));
    }
    let header = |name: &str| {
        let line = head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "));
        line.unwrap_or_else(|| panic!("no {name} in {head}")).to_owned()
    };
    assert_eq!(header("grpc-status"), (Code::DeadlineExceeded as i32).to_string());
    assert!(head.contains("grpc-status-details-bin: "), "{head}");
    assert!(header("grpc-message").contains("longer%20than%200.1%20s"), "{head}");
}
