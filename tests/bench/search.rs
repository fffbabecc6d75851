//! Finding a job among a hundred thousand, and showing the office's table of them, over the network.
//!
//! Held against a count of all jobs by the database itself in the same run, and against one row by its key.

use crate::{Effort, Figure};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode};
use sqlx::{ConnectOptions as _, SqliteConnection};
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{self, fact::Kind};
use standpipe_server::Role;
use standpipe_store::{EntryId, JobId, Journal as _, NewEntry, SqliteStore};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealer};
use standpipe_tests::site::{Shown, Site, shown};
use std::time::{Duration, Instant};

const JOBS: u64 = 100_000;
/// Jobs that are still open: the last ones.
const OPEN: u64 = 100;

pub async fn run(effort: Effort) {
    let site = Site::with(&[("bay-1", Role::Bay), ("office", Role::Office)]).await;
    let database = site.dir().join("standpipe.db");
    let filled = Instant::now();
    fill(&database).await;
    println!("{JOBS} jobs, {OPEN} of them open, put in within {:.0} s", filled.elapsed().as_secs_f64());
    let listed = Instant::now();
    let server = site.serve().await;
    let mut jobs = JobServiceClient::new(shown(server.addr, site.token("office")).await)
        .max_decoding_message_size(8 * 1024 * 1024);
    // The list is computed from the journal beside the first calls; the oldest job comes into it with the first.
    while found(&mut jobs, &plate(JOBS)).await == 0 {}
    println!("list put together within {:.0} s", listed.elapsed().as_secs_f64());
    let mut connection = SqliteConnectOptions::new()
        .filename(&database)
        .journal_mode(SqliteJournalMode::Wal)
        .connect()
        .await
        .unwrap();
    let count = timed(effort, async || {
        one(&mut connection, "select count(*) from job_summary where seq >= 0", 0).await
    })
    .await;
    let key = timed(effort, async || {
        one(&mut connection, "select count(*) from job_summary where year = 2026 and ordinal = ?", 4_711)
            .await
    })
    .await;
    println!(
        "{:>28} {:>9} {:>9} {:>9} {:>12}   (count of all {:.2} ms, one row by its key {:.3} ms)",
        "search",
        "p50 ms",
        "p99 ms",
        "/count",
        "/row by key",
        milliseconds(count.median),
        milliseconds(key.median)
    );
    for (what, text, expected) in [
        ("plate", plate(4_711), 1),
        ("number", "HL-26-4711".to_owned(), 1),
        ("customer's name", "customer 4711x".to_owned(), 1),
        ("last 8 of the VIN", vin(4_711)[9..].to_owned(), 1),
        ("telephone", "0555 004711".to_owned(), 1),
        ("nothing that is there", "no such thing".to_owned(), 0),
        ("what all have", "8".to_owned(), 100),
    ] {
        let figure = timed(effort, async || {
            assert_eq!(found(&mut jobs, &text).await, expected, "{what}: {text}");
        })
        .await;
        println!(
            "{what:>28} {:>9.2} {:>9.2} {:>9.2} {:>12.1}",
            milliseconds(figure.median),
            milliseconds(figure.p99),
            figure.median.as_secs_f64() / count.median.as_secs_f64(),
            figure.median.as_secs_f64() / key.median.as_secs_f64(),
        );
    }
    println!("aimed at: each ≤ 100 ms");
    server.shutdown();
    server.join().await.unwrap();
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn plate(number: u64) -> String {
    format!("PH {:03} {}{}", number % 1_000, letter(number / 1_000), letter(number / 26_000))
}

fn letter(number: u64) -> char {
    char::from(b'A' + u8::try_from(number % 26).unwrap())
}

/// Not a right check digit; the search does not ask for one.
fn vin(number: u64) -> String {
    format!("AZTWA8M47LA{number:06}")
}

async fn found(jobs: &mut JobServiceClient<Shown>, search: &str) -> usize {
    let request = v1::ListRequest { search: search.to_owned(), ..v1::ListRequest::default() };
    jobs.list(request).await.unwrap().into_inner().jobs.len()
}

async fn one(connection: &mut SqliteConnection, question: &'static str, value: i64) {
    sqlx::query_scalar::<_, i64>(question).bind(value).fetch_one(connection).await.unwrap();
}

async fn timed(effort: Effort, mut run: impl AsyncFnMut()) -> Figure {
    run().await;
    let start = Instant::now();
    let mut times = Vec::new();
    while times.len() < effort.renders / 10 {
        let one = Instant::now();
        run().await;
        times.push(one.elapsed());
    }
    Figure::of(times, start.elapsed())
}

/// Puts arrivals, VINs and closings into the journal as a server would, and customers beside it.
async fn fill(database: &std::path::Path) {
    let store = SqliteStore::open(database).await.unwrap();
    let mut sealer = Sealer::new("bay-1", 40);
    let mut pending = Vec::new();
    for number in 1..=JOBS {
        let id = job_id(number);
        let job = uuid::Uuid::from_bytes(id.0).to_string();
        let mut kinds = vec![facts::arrival(&plate(number)), facts::vin(&vin(number))];
        if number <= JOBS - OPEN {
            kinds.push(facts::closing());
        }
        for kind in kinds {
            pending.push(store.submit(entry(&mut sealer, id, &job, kind)).await.unwrap());
        }
        if pending.len() >= 2_000 {
            for answer in pending.drain(..) {
                answer.answer().await.unwrap();
            }
        }
    }
    for answer in pending {
        answer.answer().await.unwrap();
    }
    store.close().await.unwrap();
    let mut connection = SqliteConnectOptions::new().filename(database).connect().await.unwrap();
    // One statement in place of a hundred thousand synced changes; the keys are folded as the store folds them.
    let customers = "insert into customer (job_id, name, telephone, updated_us, name_key, telephone_key) \
        select job_id, 'Customer ' || ordinal || 'X', printf('0555 %06d', ordinal), 0, \
        'customer ' || ordinal || 'x', printf('0555%06d', ordinal) from job";
    sqlx::query(customers).execute(&mut connection).await.unwrap();
}

fn entry(sealer: &mut Sealer, id: JobId, job: &str, kind: Kind) -> NewEntry {
    let opens_job = matches!(kind, Kind::Arrival(_));
    let sealed = sealer.seal(job, kind);
    NewEntry {
        entry_id: EntryId(uuid::Uuid::try_parse(&sealed.entry_id).unwrap().into_bytes()),
        job: Some(id),
        opens_job,
        station: sealer.station_id.clone(),
        station_epoch: [1; 16],
        station_number: u64::try_from(sealer.number).unwrap(),
        received_us: START_US,
        year: 2026,
        bytes: sealed.bytes,
    }
}

fn job_id(number: u64) -> JobId {
    let uuid = standpipe_tests::sealed::uuid_v7(41, number);
    JobId(uuid::Uuid::try_parse(&uuid).unwrap().into_bytes())
}
