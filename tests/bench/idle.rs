//! Memory of connections that wait: a thousand, each with an open watch, plain and encrypted.

use standpipe_proto::limits::WATCHES_PER_STATION_MAX;
use standpipe_proto::v1::WatchRequest;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_server::Role;
use standpipe_tests::door::Trust;
use standpipe_tests::facts;
use standpipe_tests::process::Process;
use standpipe_tests::sealed::Sealer;
use standpipe_tests::site::{Bearer, Site, append, channel, journal};
use tonic::service::interceptor::InterceptedService;

const CONNECTIONS: usize = 1_000;

pub async fn run() {
    println!("idle (memory of the server program with {CONNECTIONS} connections, an open watch on each)");
    println!("{:>6} {:>14} {:>14} {:>18}", "", "before, KiB", "with, KiB", "a connection, KiB");
    for tls in [false, true] {
        let (before, with) = measured(tls).await;
        let each = with.saturating_sub(before) as f64 / CONNECTIONS as f64;
        println!("{:>6} {before:>14} {with:>14} {each:>18.1}", if tls { "tls" } else { "plain" });
    }
}

async fn measured(tls: bool) -> (u64, u64) {
    let names: Vec<String> =
        (1..=CONNECTIONS.div_ceil(WATCHES_PER_STATION_MAX)).map(|number| format!("bay-{number}")).collect();
    let stations: Vec<(&str, Role)> = names.iter().map(|name| (name.as_str(), Role::Bay)).collect();
    let site = Site::with(&stations).await;
    let server = Process::serve(&site.dir());
    let mut bay = journal(server.address, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
    let trust = Trust::of(&site.dir(), &[b"h2"]);
    let before = resident_kib(server.id());
    let mut open = Vec::new();
    for number in 0..CONNECTIONS {
        let channel = match tls {
            true => trust.channel(server.address).await,
            false => channel(server.address).await,
        };
        let token = Bearer::new(site.token(&names[number / WATCHES_PER_STATION_MAX]));
        let mut jobs = JobServiceClient::new(InterceptedService::new(channel, token));
        let request = WatchRequest { job: job.clone(), after_seq: 0 };
        let mut states = jobs.watch(request).await.unwrap().into_inner();
        assert!(states.message().await.unwrap().is_some());
        open.push((jobs, states));
    }
    let with = resident_kib(server.id());
    drop(open);
    server.kill();
    (before, with)
}

fn resident_kib(id: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}
