//! Streamed intake: stations with a window of unanswered entries, each on its own connection.

use crate::{Effort, Figure, disk, straight};
use standpipe_proto::v1::{self, append_stream_response::Answer};
use standpipe_server::Role;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{JournalClient, Site, append, journal};
use standpipe_tests::{facts, sealed};
use std::collections::VecDeque;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

pub async fn run(effort: Effort) {
    let folder = tempfile::tempdir().unwrap();
    let sample = Sealer::new("bay-1", 1).seal(&sealed::uuid_v7(1, 1), facts::temperature(43.0));
    println!("intake (one run; 'sync' is 4 KiB written over and fdatasync on the same disk)");
    println!(
        "{:>16} {:>11} {:>9} {:>9} {:>11} {:>11} {:>9} {:>9}",
        "stations×window", "entries/s", "/sync", "/sqlx", "p50 ms", "p99 ms", "p50/sync", "p99/sync"
    );
    for (stations, window) in [(1, 1), (1, 64), (8, 1), (8, 32), (200, 1), (200, 16)] {
        let before = disk::base(folder.path(), effort.measure / 3);
        let straight_folder = tempfile::tempdir().unwrap();
        let straight = straight::rate(straight_folder.path(), &sample.bytes, effort.measure / 3).await;
        let figure = measure(stations, window, effort.measure).await;
        let after = disk::base(folder.path(), effort.measure / 3);
        let sync = |pick: fn(&Figure) -> f64| (pick(&before) * pick(&after)).sqrt();
        let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
        let rate = sync(|figure| figure.per_second);
        println!(
            "{:>16} {:>11.0} {:>9.2} {:>9.2} {:>11.2} {:>11.2} {:>9.2} {:>9.2}   (sync {rate:.0}/s, p99 {:.2} ms; sqlx {straight:.0} rows/s)",
            format!("{stations}×{window}"),
            figure.per_second,
            figure.per_second / rate,
            figure.per_second / straight,
            milliseconds(figure.median),
            milliseconds(figure.p99),
            figure.median.as_secs_f64() / sync(|figure| figure.median.as_secs_f64()),
            figure.p99.as_secs_f64() / sync(|figure| figure.p99.as_secs_f64()),
            sync(|figure| figure.p99.as_secs_f64()) * 1e3,
        );
    }
    println!("aimed at: 1×1 ≥ 0.25 sync and p99 ≤ 3 sync p99; 200×16 ≥ 8 sync and ≥ 0.6 sqlx");
}

async fn measure(stations: usize, window: usize, measure: Duration) -> Figure {
    let names: Vec<String> = (1..=stations).map(|number| format!("bay-{number}")).collect();
    let roles: Vec<(&str, Role)> = names.iter().map(|name| (name.as_str(), Role::Bay)).collect();
    let site = Site::with(&roles).await;
    let server = site.serve().await;
    let mut ready = Vec::new();
    for (number, name) in names.iter().enumerate() {
        let mut client = journal(server.addr, site.token(name)).await;
        let mut sealer = Sealer::new(name, number as u64 + 1);
        let job = sealer.job(1);
        let opening = sealer.seal(&job, facts::arrival("PH 482 K"));
        append(&mut client, &opening).await.unwrap();
        ready.push((client, sealer, job));
    }
    // What is sent is made beforehand, so that the figure is the server's and not that of making entries.
    let most = (measure.as_secs_f64() * 260_000.0 / stations as f64) as usize + 64;
    let made: Vec<(JournalClient, Vec<Sealed>)> = ready
        .into_iter()
        .map(|(client, mut sealer, job)| {
            let most = most.min(9_900);
            (client, (0..most).map(|_| sealer.seal(&job, facts::temperature(43.0))).collect())
        })
        .collect();
    let start = Instant::now();
    let tasks: Vec<_> = made
        .into_iter()
        .map(|(client, entries)| tokio::spawn(stream(client, entries, window, start + measure)))
        .collect();
    let mut times = Vec::new();
    let mut ended = start;
    for task in tasks {
        let (own, end) = task.await.unwrap();
        times.extend(own);
        ended = ended.max(end);
    }
    let figure = Figure::of(times, ended - start);
    server.shutdown();
    server.join().await.unwrap();
    figure
}

/// Keeps `window` entries unanswered until the time is over, then waits for the rest.
pub(crate) async fn stream(
    mut client: JournalClient,
    entries: Vec<Sealed>,
    window: usize,
    until: Instant,
) -> (Vec<Duration>, Instant) {
    let (send, receive) = mpsc::channel(window.max(1));
    let mut answers = client.append_stream(ReceiverStream::new(receive)).await.unwrap().into_inner();
    let mut sent: VecDeque<Instant> = VecDeque::new();
    let mut times = Vec::new();
    let mut entries = entries.into_iter();
    loop {
        while sent.len() < window && Instant::now() < until {
            let Some(entry) = entries.next() else { break };
            sent.push_back(Instant::now());
            send.send(v1::AppendStreamRequest { entry: entry.bytes }).await.unwrap();
        }
        let Some(began) = sent.pop_front() else { break };
        let answer = answers.message().await.unwrap().unwrap().answer.unwrap();
        assert!(matches!(answer, Answer::Acknowledgement(_)), "{answer:?}");
        times.push(began.elapsed());
    }
    (times, Instant::now())
}
