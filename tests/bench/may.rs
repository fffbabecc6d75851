//! The go-ahead for the exchange with the accounts of two thousand other jobs at hand, beside the same question in a
//! workshop without one: what it costs to know all jobs.

use crate::{Effort, Figure};
use standpipe_proto::v1::MayRequest;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_server::Role;
use standpipe_store::{EntryId, JobId, Journal as _, NewEntry, SqliteStore};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealer, uuid_v7};
use standpipe_tests::site::{Site, append, journal, shown};
use std::time::Instant;

const JOBS: u64 = 2_000;

pub async fn run(effort: Effort) {
    println!("may exchange (one run; 'alone' is the same job in a workshop without another)");
    let alone = may(0, effort).await;
    let among = may(JOBS, effort).await;
    let again = may(0, effort).await;
    let ratio = |pick: fn(&Figure) -> f64| pick(&among) / (pick(&alone) * pick(&again)).sqrt();
    println!("{:>12} {:>9} {:>9} {:>11} {:>11}", "jobs", "p50 ms", "p99 ms", "p50/alone", "p99/alone");
    for (jobs, figure) in [(0, alone), (JOBS, among), (0, again)] {
        let is_among = jobs > 0;
        let shown = |ratio: f64| if is_among { format!("{ratio:.2}") } else { String::new() };
        println!(
            "{jobs:>12} {:>9.2} {:>9.2} {:>11} {:>11}",
            median(&figure),
            p99(&figure),
            shown(ratio(median)),
            shown(ratio(p99)),
        );
    }
    println!("aimed at: p50/alone ≤ 1.20");
}

fn median(figure: &Figure) -> f64 {
    figure.median.as_secs_f64() * 1e3
}

fn p99(figure: &Figure) -> f64 {
    figure.p99.as_secs_f64() * 1e3
}

/// The question in a workshop with so many other jobs, each with fluid, a part and a drain.
async fn may(others: u64, effort: Effort) -> Figure {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    fill(&site.dir().join("standpipe.db"), others).await;
    let server = site.serve().await;
    let mut client = journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    for kind in facts::whole_service().into_iter().take(8) {
        append(&mut client, &sealer.seal(&job, kind)).await.unwrap();
    }
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("bay-1")).await);
    let mut times = Vec::with_capacity(effort.renders);
    let mut start = Instant::now();
    // While the list is put together after the start there is no answer.
    let ask = || MayRequest { job: job.clone(), gate: "exchange".to_owned() };
    while jobs.may(ask()).await.is_err_and(|status| status.code() == tonic::Code::Unavailable) {}
    for at in 0..effort.renders + 5 {
        let one = Instant::now();
        let request = MayRequest { job: job.clone(), gate: "exchange".to_owned() };
        jobs.may(request).await.unwrap();
        match at {
            0..5 => start = Instant::now(),
            _ => times.push(one.elapsed()),
        }
    }
    let figure = Figure::of(times, start.elapsed());
    server.shutdown();
    server.join().await.unwrap();
    figure
}

async fn fill(database: &std::path::Path, jobs: u64) {
    let store = SqliteStore::open(database).await.unwrap();
    let mut sealer = Sealer::new("bay-1", 40);
    let mut pending = Vec::new();
    for number in 1..=jobs {
        let job = uuid_v7(41, number);
        let plate = format!("PH {number:04} K");
        let kinds = [facts::arrival(&plate), facts::container("LN-847", "L-2207"), facts::drained(3.05)];
        for kind in kinds.into_iter().chain([facts::closing()]) {
            pending.push(store.submit(entry(&mut sealer, &job, kind)).await.unwrap());
        }
    }
    for answer in pending {
        answer.answer().await.unwrap();
    }
    store.close().await.unwrap();
}

fn entry(sealer: &mut Sealer, job: &str, kind: Kind) -> NewEntry {
    let opens_job = matches!(kind, Kind::Arrival(_));
    let sealed = sealer.seal(job, kind);
    let id = |text: &str| uuid::Uuid::try_parse(text).unwrap().into_bytes();
    NewEntry {
        entry_id: EntryId(id(&sealed.entry_id)),
        job: Some(JobId(id(job))),
        opens_job,
        station: sealer.station_id.clone(),
        station_epoch: [1; 16],
        station_number: u64::try_from(sealer.number).unwrap(),
        received_us: START_US,
        year: 2026,
        bytes: sealed.bytes,
    }
}
