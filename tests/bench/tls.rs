//! What TLS costs: the same entries one by one and as streams, plain and encrypted, in turns within one run.

use crate::intake::stream;
use crate::{Effort, Figure};
use standpipe_proto::v1::journal_service_client::JournalServiceClient;
use standpipe_server::{Limits, Role, RunningServer, Server, ServerOptions};
use standpipe_tests::door::Trust;
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{Bearer, JournalClient, Site, append, channel};
use std::time::{Duration, Instant};

/// More than one job may hold.
const ENTRIES_MAX: usize = 9_900;

/// How entries are sent.
#[derive(Debug, Clone, Copy)]
enum Way {
    OneByOne,
    Stream(usize),
}

pub async fn run(effort: Effort) {
    println!("tls (one run, each way plain, encrypted and plain again; entries/s)");
    println!(
        "{:>10} {:>12} {:>11} {:>11} {:>9} {:>12} {:>12}",
        "stations", "way", "plain", "tls", "tls/plain", "plain p50 ms", "tls p50 ms"
    );
    for (stations, way) in
        [(1, Way::OneByOne), (8, Way::OneByOne), (1, Way::Stream(64)), (8, Way::Stream(32))]
    {
        let measure = effort.measure / 2;
        let first = measured(stations, way, false, measure).await;
        let tls = measured(stations, way, true, measure).await;
        let again = measured(stations, way, false, measure).await;
        let plain = (first.per_second * again.per_second).sqrt();
        let median = (first.median + again.median) / 2;
        let named = match way {
            Way::OneByOne => "one by one".to_owned(),
            Way::Stream(window) => format!("window {window}"),
        };
        println!(
            "{stations:>10} {named:>12} {plain:>11.0} {:>11.0} {:>9.2} {:>12.2} {:>12.2}",
            tls.per_second,
            tls.per_second / plain,
            median.as_secs_f64() * 1e3,
            tls.median.as_secs_f64() * 1e3,
        );
    }
}

async fn serve(site: &Site) -> RunningServer {
    // A station is not held back here: the figure is the server's.
    let limits = Limits { appends: (1_000_000, 1_000_000), ..Limits::default() };
    let listen = "127.0.0.1:0".parse().unwrap();
    Server::start(ServerOptions { listen, limits, ..ServerOptions::new(site.dir()) }).await.unwrap()
}

async fn measured(stations: usize, way: Way, tls: bool, measure: Duration) -> Figure {
    let names: Vec<String> = (1..=stations).map(|number| format!("bay-{number}")).collect();
    let roles: Vec<(&str, Role)> = names.iter().map(|name| (name.as_str(), Role::Bay)).collect();
    let site = Site::with(&roles).await;
    let server = serve(&site).await;
    let trust = Trust::of(&site.dir(), &[b"h2"]);
    let mut made = Vec::new();
    for (number, name) in names.iter().enumerate() {
        let channel = match tls {
            true => trust.channel(server.addr).await,
            false => channel(server.addr).await,
        };
        let mut client = JournalServiceClient::with_interceptor(channel, Bearer::new(site.token(name)));
        let mut sealer = Sealer::new(name, number as u64 + 1);
        let job = sealer.job(1);
        append(&mut client, &sealer.seal(&job, facts::arrival("PH 482 K"))).await.unwrap();
        let entries: Vec<_> = (0..ENTRIES_MAX).map(|_| sealer.seal(&job, facts::temperature(43.0))).collect();
        made.push((client, entries));
    }
    let start = Instant::now();
    let until = start + measure;
    let sending = made.into_iter().map(|(client, entries)| match way {
        Way::OneByOne => tokio::spawn(one_by_one(client, entries, until)),
        Way::Stream(window) => tokio::spawn(stream(client, entries, window, until)),
    });
    let tasks: Vec<_> = sending.collect();
    let (mut times, mut ended) = (Vec::new(), start);
    for task in tasks {
        let (own, end) = task.await.unwrap();
        times.extend(own);
        ended = ended.max(end);
    }
    server.shutdown();
    server.join().await.unwrap();
    Figure::of(times, ended - start)
}

async fn one_by_one(
    mut client: JournalClient,
    entries: Vec<Sealed>,
    until: Instant,
) -> (Vec<Duration>, Instant) {
    let mut times = Vec::new();
    for entry in entries {
        let began = Instant::now();
        if began >= until {
            break;
        }
        append(&mut client, &entry).await.unwrap();
        times.push(began.elapsed());
    }
    (times, Instant::now())
}
