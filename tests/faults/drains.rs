//! Four bays stream entries to the real server, which is told to stop after a seeded number of acknowledgements while a
//! watch, an upload and long records are under way, five times on one folder; then everything is held against the
//! ledger. Five times a day, two hundred in the long campaign.

use super::server_kills::{BAYS, Bay, judge};
use crate::ledger::Account;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::v1::blob_service_client::BlobServiceClient;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::record_service_client::RecordServiceClient;
use standpipe_proto::v1::{self, PutBlobRequest, RenderRequest, WatchRequest};
use standpipe_server::{DEFAULT_STOP_WITHIN, Role};
use standpipe_tests::process::Process;
use standpipe_tests::site::{Shown, Site, shown};
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinSet;
use tokio_stream::wrappers::ReceiverStream;

const DRAINS: u64 = 5;

/// Holds open what would hold up a stop that waited for it: ends when the server ends each of them.
async fn hold(calls: Shown, job: String, holding: oneshot::Sender<()>) {
    let mut jobs = JobServiceClient::new(calls.clone());
    let request = WatchRequest { job: job.clone(), ..WatchRequest::default() };
    let mut states = jobs.watch(request).await.unwrap().into_inner();
    assert!(states.message().await.unwrap().is_some(), "a watch begins with the job as it stands");
    let (parts, upload) = mpsc::channel(1);
    let first = PutBlobRequest { blob_digest: "0".repeat(64), part: b"a beginning".to_vec() };
    parts.send(first).await.unwrap();
    holding.send(()).unwrap();
    let mut blobs = BlobServiceClient::new(calls.clone());
    let mut records = RecordServiceClient::new(calls);
    let printing = async {
        let request = RenderRequest { job, annex: true, ..RenderRequest::default() };
        while records.render(request.clone()).await.is_ok() {}
    };
    let watching = async { while let Ok(Some(_)) = states.message().await {} };
    let uploading = async {
        let ended = blobs.put_blob(ReceiverStream::new(upload)).await;
        assert!(ended.is_err(), "an upload that never ended was taken");
    };
    tokio::join!(printing, watching, uploading);
    drop(parts);
}

/// A job with entries, and its identity.
async fn first_job(site: &Site, bay: &mut Bay) -> String {
    let server = Process::serve(&site.dir());
    let (answered, _) = watch::channel(0);
    let entry = bay.seal_next();
    assert!(bay.send(server.address, false, &answered).await);
    server.terminate();
    let entry = <v1::Entry as prost::Message>::decode(&*entry.bytes).unwrap();
    match entry.header.unwrap().subject.unwrap() {
        v1::header::Subject::JobId(job) => job,
        v1::header::Subject::SiteId(site) => panic!("the first entry is of the site {site}"),
    }
}

/// Lets all bays send until so many answers came, then tells the server to stop and waits for everything to end.
async fn drain(site: &Site, bays: Vec<Bay>, job: &str, after: u64) -> (Vec<Bay>, Duration) {
    let server = Process::serve(&site.dir());
    let (begins, began) = oneshot::channel();
    let holding = tokio::spawn(hold(shown(server.address, &site.admin).await, job.to_owned(), begins));
    began.await.expect("what should hold the stop up did not begin");
    let (answered, mut seen) = watch::channel(0);
    let mut sending = JoinSet::new();
    for mut bay in bays {
        let (answered, address) = (answered.clone(), server.address);
        sending.spawn(async move {
            let all = bay.send(address, true, &answered).await;
            assert!(!all, "a bay that goes on sending ends only with the server");
            bay
        });
    }
    drop(answered);
    seen.wait_for(|answered| *answered >= after).await.expect("the server ended by itself");
    let began = Instant::now();
    let (code, said) = tokio::task::spawn_blocking(|| server.terminate()).await.unwrap();
    let within = began.elapsed();
    assert_eq!(code, Some(0), "{said}");
    assert!(within <= DEFAULT_STOP_WITHIN, "stopping took {within:?}; {said}");
    assert!(!said.contains("cut off"), "somebody was cut off at the deadline: {said}");
    holding.await.unwrap();
    (sending.join_all().await, within)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_that_is_told_to_stop_while_everybody_works_loses_nothing_and_is_in_time() {
    for seed in 1..=super::times() {
        println!("seed {seed}");
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let site = Site::with(&BAYS.map(|bay| (bay, Role::Bay))).await;
        let mut bays: Vec<Bay> =
            BAYS.iter().zip(1..).map(|(bay, nth)| Bay::new(bay, site.token(bay), seed * 10 + nth)).collect();
        let job = first_job(&site, &mut bays[0]).await;
        let mut longest = Duration::ZERO;
        for _ in 0..DRAINS {
            let after = u64::from(random.next_u32() % 200);
            let (sent, within) = drain(&site, bays, &job, after).await;
            bays = sent;
            longest = longest.max(within);
        }
        let server = Process::serve(&site.dir());
        let (answered, _) = watch::channel(0);
        for bay in &mut bays {
            assert!(bay.send(server.address, false, &answered).await);
        }
        let (code, said) = server.terminate();
        assert_eq!(code, Some(0), "{said}");
        let accounts: Vec<&Account> = bays.iter().map(|bay| &bay.account).collect();
        let acknowledged: usize = accounts.iter().map(|account| account.acknowledgements()).sum();
        judge(&site, &accounts).await;
        println!("  {DRAINS} stops, {acknowledged} entries acknowledged, none lost, the longest {longest:?}");
    }
}
