//! What an owner's server does with the journals of its workshops: entries of another copy put at their places, against the
//! same rows put straight into the same indexed table; sums of a year of jobs, against the same sums by the database over
//! the rows.

use crate::{Effort, Figure, stores, straight};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions as _, Executor as _};
use standpipe_store::tree::{Frontier, entry_leaf_hash};
use standpipe_store::{
    EntryId, JobId, JobNumber, Journal as _, NewEntry, PostgresStore, ReplicaBatch, ReplicaEntry,
    SqliteStore, Store, TALLY_COUNTERS_MAX, TallyBy, TallyRow,
};
use standpipe_tests::postgres;
use std::time::{Duration, Instant};

const ENTRY_BYTES: usize = 150;
const ROWS_A_BATCH: u64 = 1_024;
const SITES: u64 = 50;
const VARIANTS: u64 = 20;
const EDITION: &str = "bench";
/// Days since 1970 of 1 January 2026.
const FIRST_DAY: i64 = 20_454;

pub async fn run(effort: Effort, quick: bool) {
    println!("owner (one run, on this machine; resident now {} MB)", resident_mb());
    replicated(effort, if quick { 60 } else { 240 }).await;
    tallied(effort, if quick { 100_000 } else { 1_000_000 }).await;
}

async fn replicated(effort: Effort, batches: u64) {
    let batches = made(batches);
    let count = batches.len() as u64 * ROWS_A_BATCH;
    println!(
        "entries of another copy: {count} of {ENTRY_BYTES} bytes, {ROWS_A_BATCH} a batch, each batch one commit"
    );
    println!(
        "{:>12} {:>8} {:>14} {:>14} {:>8} {:>12}",
        "", "round", "replicated/s", "straight/s", "ratio", "resident MB"
    );
    let database = postgres::database();
    if database.is_none() {
        println!("not measured: PostgreSQL is not installed (Debian package postgresql)");
    }
    for round in 1..=3 {
        let folder = tempfile::tempdir().unwrap();
        let straight = straight::rate(folder.path(), &[7; ENTRY_BYTES], effort.measure).await;
        let copy = SqliteStore::create(&folder.path().join("copy.db"), "site", [0; 16]).await.unwrap();
        told("sqlite", round, applied(&copy, &batches).await, straight);
        let Some(database) = &database else { continue };
        let straight = stores::straight(&database.create(), effort.measure).await;
        let address = database.create().parse().unwrap();
        let copy = PostgresStore::create(&address, "site", [0; 16]).await.unwrap();
        told("postgresql", round, applied(&copy, &batches).await, straight);
    }
    println!("aimed at: replicated ≥ 0.4 straight");
}

fn told(store: &str, round: u32, applied: f64, straight: f64) {
    let ratio = applied / straight;
    println!("{store:>12} {round:>8} {applied:>14.0} {straight:>14.0} {ratio:>8.2} {:>12}", resident_mb());
}

/// Entries a second.
async fn applied(copy: &dyn Store, batches: &[ReplicaBatch]) -> f64 {
    let start = Instant::now();
    let mut new = 0;
    for batch in batches {
        new += copy.replicate(batch.clone()).await.unwrap().new;
    }
    let rate = new as f64 / start.elapsed().as_secs_f64();
    assert_eq!(new, batches.len() as u64 * ROWS_A_BATCH);
    copy.close().await.unwrap();
    rate
}

/// A journal in batches: a job a hundred entries, eight stations.
fn made(batches: u64) -> Vec<ReplicaBatch> {
    let mut tree = Frontier::default();
    (0..batches)
        .map(|batch| {
            let root_before = tree.root();
            let first_seq = batch * ROWS_A_BATCH + 1;
            let entries: Vec<ReplicaEntry> = (first_seq..first_seq + ROWS_A_BATCH).map(entry).collect();
            for (one, seq) in entries.iter().zip(first_seq..) {
                tree.append(entry_leaf_hash(seq, one.entry.received_us, &one.entry.bytes));
            }
            ReplicaBatch { epoch: [0; 16], first_seq, root_before, entries, root_after: tree.root() }
        })
        .collect()
}

fn entry(seq: u64) -> ReplicaEntry {
    let job = (seq - 1) / 100;
    let opens_job = seq % 100 == 1;
    let number = JobNumber { year: 2026, ordinal: u32::try_from(job + 1).unwrap() };
    let entry = NewEntry {
        entry_id: EntryId(id(1, seq)),
        job: Some(JobId(id(2, job))),
        opens_job,
        station: format!("bay-{}", seq % 8),
        station_epoch: [1; 16],
        station_number: seq,
        received_us: 1_780_000_000_000_000,
        year: 2026,
        bytes: vec![7; ENTRY_BYTES].into(),
    };
    ReplicaEntry { entry, number: opens_job.then_some(number) }
}

fn id(major: u64, minor: u64) -> [u8; 16] {
    ((u128::from(major) << 64) | u128::from(minor)).to_be_bytes()
}

async fn tallied(effort: Effort, rows: u64) {
    println!(
        "sums of 12 months over {rows} rows of {SITES} sites and {VARIANTS} variants, {TALLY_COUNTERS_MAX} counters each"
    );
    println!(
        "{:>12} {:>10} {:>8} {:>10} {:>10} {:>12} {:>16} {:>8} {:>12}",
        "", "put/s", "sums", "p50 ms", "p99 ms", "own CPU ms", "over rows ms", "ratio", "resident MB"
    );
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("owner.db");
    let store = SqliteStore::create(&file, "owner", [0; 16]).await.unwrap();
    let put = filled(&store, rows).await;
    let (sums, figure, cpu) = asked(&store, effort.measure).await;
    let mut connection = SqliteConnectOptions::new().filename(&file).connect().await.unwrap();
    let counters: Vec<String> = (0..TALLY_COUNTERS_MAX).map(|at| format!("sum(counters ->> {at})")).collect();
    let statement = format!(
        "select of_site, variant, month, {} from tally_row where edition = '{EDITION}' and counts = 1 \
         group by of_site, variant, month",
        counters.join(", ")
    );
    let start = Instant::now();
    let by_rows = connection.fetch_all(AssertSqlSafe(statement)).await.unwrap().len();
    assert_eq!(by_rows, sums);
    shown("sqlite", put, sums, (figure, cpu), start.elapsed());
    store.close().await.unwrap();
    let Some(database) = postgres::database() else { return };
    let address = database.create();
    let store = PostgresStore::create(&address.parse().unwrap(), "owner", [0; 16]).await.unwrap();
    let put = filled(&store, rows).await;
    let (sums, figure, cpu) = asked(&store, effort.measure).await;
    let counters: Vec<String> =
        (0..TALLY_COUNTERS_MAX).map(|at| format!("sum((j ->> {at})::bigint)")).collect();
    let statement = format!(
        "select of_site, variant, month, {} from (select of_site, variant, month, counters::jsonb as j \
         from tally_row where edition = '{EDITION}' and counts = 1 offset 0) r group by of_site, variant, month",
        counters.join(", ")
    );
    let mut connection = stores::connected(&address).await;
    let start = Instant::now();
    let by_rows = connection.fetch_all(AssertSqlSafe(statement)).await.unwrap().len();
    assert_eq!(by_rows, sums);
    shown("postgresql", put, sums, (figure, cpu), start.elapsed());
    store.close().await.unwrap();
    println!("aimed at: ≤ 50 ms");
}

fn shown(store: &str, put: f64, sums: usize, (figure, cpu): (Figure, f64), over_rows: Duration) {
    let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
    println!(
        "{store:>12} {put:>10.0} {sums:>8} {:>10.1} {:>10.1} {cpu:>12.1} {:>16.0} {:>8.4} {:>12}",
        milliseconds(figure.median),
        milliseconds(figure.p99),
        milliseconds(over_rows),
        figure.median.as_secs_f64() / over_rows.as_secs_f64(),
        resident_mb()
    );
}

/// Puts the rows as the server does when it computes them anew; rows a second.
async fn filled(store: &dyn Store, rows: u64) -> f64 {
    let start = Instant::now();
    let numbers: Vec<u64> = (0..rows).collect();
    for part in numbers.chunks(1_000) {
        let rows = part.iter().map(|number| row(*number)).collect();
        store.put_tally_rows(EDITION, rows, None).await.unwrap();
    }
    rows as f64 / start.elapsed().as_secs_f64()
}

/// A job of the year; what is multiplied spreads the numbers (the factor of a known generator, Knuth).
fn row(number: u64) -> TallyRow {
    let drawn = number.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1) >> 20;
    let day_of_year = (drawn >> 12) % 365;
    let month = day_of_year * 12 / 365 + 1;
    TallyRow {
        site: format!("site-{:02}", number % SITES),
        job: id(3, number),
        seq: number,
        month: format!("2026-{month:02}"),
        variant: format!("variant-{:02}", (drawn >> 4) % VARIANTS),
        equipment: format!("EX-{}", drawn % 3),
        vehicle: format!("{:032x}", number / 2),
        opened_us: 1_767_225_600_000_000 + i64::try_from(number).unwrap(),
        counts: true,
        stands_out: number.is_multiple_of(50),
        counters: (0..TALLY_COUNTERS_MAX as i64).map(|at| (number as i64 + at) % 97).collect(),
        day: Some(FIRST_DAY + i64::try_from(day_of_year).unwrap()),
        back: [90, 40, 20].map(|every| number.is_multiple_of(every)),
        row: "x".repeat(700),
    }
}

/// How many sums there are, and how long it takes to have them.
async fn asked(store: &dyn Store, measure: Duration) -> (usize, Figure, f64) {
    // As of the end of the year: one day to ask for falls into a month, one into another, one before all of them.
    let last = FIRST_DAY + 365;
    let days = [last - 30, last - 90, last - 365];
    let (mut times, mut sums) = (Vec::new(), 0);
    let (start, cpu) = (Instant::now(), cpu_ms());
    while times.len() < 5 || start.elapsed() < measure {
        let one = Instant::now();
        let months = ("2026-01", "2026-12");
        sums = store.tally_sums(EDITION, months, TallyBy::Variant, days).await.unwrap().len();
        times.push(one.elapsed());
    }
    let cpu = (cpu_ms() - cpu) / times.len() as f64;
    (sums, Figure::of(times, start.elapsed()), cpu)
}

/// Time that this program has computed for, with the file's database in it; ticks of 10 ms (proc(5)).
fn cpu_ms() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let ticks = after_name.split_whitespace().skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok());
    ticks.sum::<f64>() * 10.0
}

/// Memory of this program, with the file's database in it.
fn resident_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kilobytes =
        line.and_then(|line| line.split_whitespace().next()).and_then(|number| number.parse().ok());
    kilobytes.unwrap_or(0_u64) / 1_024
}
