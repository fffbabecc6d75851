//! The answer of `JobService.Next` on the loopback address, beside the answer to a health check in the same run: what
//! the questions cost over what the network and the server cost anyway.

use crate::{Effort, Figure};
use standpipe_proto::v1::NextRequest;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Site, append, channel, journal, shown};
use std::future::Future;
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

pub async fn run(effort: Effort) {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    println!("next (one run; 'health' is a health check on the same server)");
    println!("{:>16} {:>9} {:>9} {:>11} {:>11}", "entries", "p50 ms", "p99 ms", "p50/health", "p99/health");
    for (number, entries) in [(1, 40), (2, 300)] {
        let job = open_job(&site, server.addr, number, entries).await;
        let before = health(server.addr, effort.renders).await;
        let figure = next(&site, server.addr, &job, effort.renders).await;
        let after = health(server.addr, effort.renders).await;
        let ratio = |pick: fn(&Figure) -> Duration| {
            let base = (pick(&before).as_secs_f64() * pick(&after).as_secs_f64()).sqrt();
            pick(&figure).as_secs_f64() / base
        };
        println!(
            "{entries:>16} {:>9.2} {:>9.2} {:>11.1} {:>11.1}",
            figure.median.as_secs_f64() * 1e3,
            figure.p99.as_secs_f64() * 1e3,
            ratio(|figure| figure.median),
            ratio(|figure| figure.p99),
        );
    }
    println!("aimed at: p99 ≤ 50 ms");
    server.shutdown();
    server.join().await.unwrap();
}

/// A service that is nearly at its end, with temperatures read again and again until it has so many entries.
async fn open_job(site: &Site, address: SocketAddr, number: u64, entries: usize) -> String {
    let mut client = journal(address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", number);
    let job = sealer.job(number);
    let mut kinds = facts::whole_service();
    kinds.pop();
    while kinds.len() < entries {
        kinds.push(facts::temperature(43.0));
    }
    for kind in kinds {
        append(&mut client, &sealer.seal(&job, kind)).await.unwrap();
    }
    job
}

async fn next(site: &Site, address: SocketAddr, job: &str, times: usize) -> Figure {
    let client = JobServiceClient::new(shown(address, site.token("bay-1")).await);
    timed(times, || {
        let (mut client, job) = (client.clone(), job.to_owned());
        async move {
            let answer = client.next(NextRequest { job }).await.unwrap().into_inner();
            assert!(!answer.steps.is_empty());
        }
    })
    .await
}

async fn health(address: SocketAddr, times: usize) -> Figure {
    let client = HealthClient::new(channel(address).await);
    timed(times, || {
        let mut client = client.clone();
        async move {
            client.check(HealthCheckRequest::default()).await.unwrap();
        }
    })
    .await
}

async fn timed<F: Future<Output = ()>>(times: usize, run: impl Fn() -> F) -> Figure {
    run().await;
    let start = Instant::now();
    let mut each = Vec::with_capacity(times);
    for _ in 0..times {
        let one = Instant::now();
        run().await;
        each.push(one.elapsed());
    }
    Figure::of(each, start.elapsed())
}
