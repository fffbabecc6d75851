//! Entries applied to a PostgreSQL database – looked at for repeats, numbered, hashed, in the tree, under the site's lock –
//! against the same rows put straight into the same indexed table.

use crate::Effort;
use sqlx::postgres::PgConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions as _, Connection as _, PgConnection};
use standpipe_store::{EntryId, JobId, Journal as _, NewEntry, PostgresStore};
use standpipe_tests::postgres;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

const ROWS_A_COMMIT: u64 = 1024;
const JOBS: u64 = 200;
const ENTRY_BYTES: usize = 150;
/// Entries that are sent before the first answer is awaited: several commits' worth, as when a site catches up.
const WINDOW: usize = 4096;

pub async fn run(effort: Effort) {
    println!(
        "stores (one run; PostgreSQL on this machine, entries of {ENTRY_BYTES} bytes, {ROWS_A_COMMIT} rows a commit)"
    );
    let Some(database) = postgres::database() else {
        println!("not measured: PostgreSQL is not installed (Debian package postgresql)");
        return;
    };
    println!("{:>8} {:>14} {:>14} {:>8}", "round", "applied/s", "straight/s", "ratio");
    for round in 1..=3 {
        let straight = straight(&database.create(), effort.measure).await;
        let applied = applied(&database.create(), effort.measure).await;
        println!("{round:>8} {applied:>14.0} {straight:>14.0} {:>8.2}", applied / straight);
    }
    println!("aimed at: applied ≥ 0.4 straight");
}

fn id(major: u64, minor: u64) -> [u8; 16] {
    ((u128::from(major) << 64) | u128::from(minor)).to_be_bytes()
}

/// Entries a second through the store.
async fn applied(address: &str, measure: Duration) -> f64 {
    let store = PostgresStore::create(&address.parse().unwrap(), "harbour-lane", [7; 16]).await.unwrap();
    let bytes = vec![7_u8; ENTRY_BYTES];
    let start = Instant::now();
    let mut pending = VecDeque::new();
    let mut number = 0_u64;
    while start.elapsed() < measure {
        number += 1;
        let job = number % JOBS;
        let entry = NewEntry {
            entry_id: EntryId(id(1, number)),
            job: Some(JobId(id(2, job))),
            opens_job: number <= JOBS,
            station: format!("bay-{}", job % 8),
            station_epoch: [1; 16],
            station_number: number,
            received_us: 1_780_000_000_000_000,
            year: 2026,
            bytes: bytes.clone().into(),
        };
        pending.push_back(store.submit(entry).await.unwrap());
        if pending.len() >= WINDOW {
            pending.pop_front().unwrap().answer().await.unwrap();
        }
    }
    for answer in pending {
        answer.answer().await.unwrap();
    }
    let rate = number as f64 / start.elapsed().as_secs_f64();
    store.close().await.unwrap();
    rate
}

/// Rows a second straight into the table that the store makes, without anything of the store.
pub async fn straight(address: &str, measure: Duration) -> f64 {
    let store = PostgresStore::create(&address.parse().unwrap(), "harbour-lane", [7; 16]).await.unwrap();
    store.close().await.unwrap();
    let mut connection = connected(address).await;
    let insert = "insert into entry select 'harbour-lane', * from unnest($1::bigint[], $2::bytea[], $3::bigint[], \
        $4::bigint[], $5::bigint[], $6::bigint[], $7::bytea[], $8::bytea[])";
    let bytes = vec![7_u8; ENTRY_BYTES];
    let start = Instant::now();
    let mut seq = 0_u64;
    while start.elapsed() < measure {
        let rows: Vec<u64> = (seq + 1..=seq + ROWS_A_COMMIT).collect();
        let numbers = |of: fn(u64) -> u64| rows.iter().map(|row| of(*row) as i64).collect::<Vec<_>>();
        sqlx::query(AssertSqlSafe(insert))
            .bind(numbers(|row| row))
            .bind(rows.iter().map(|row| id(1, *row)).collect::<Vec<_>>())
            .bind(numbers(|row| row % JOBS + 1))
            .bind(numbers(|row| row % 8 + 1))
            .bind(numbers(|row| row))
            .bind(numbers(|_| 1_780_000_000_000_000))
            .bind(rows.iter().map(|_| bytes.as_slice()).collect::<Vec<_>>())
            .bind(rows.iter().map(|_| [7_u8; 32]).collect::<Vec<_>>())
            .execute(&mut connection)
            .await
            .unwrap();
        seq += ROWS_A_COMMIT;
    }
    let rate = seq as f64 / start.elapsed().as_secs_f64();
    connection.close().await.unwrap();
    rate
}

/// A connection that knows nothing of the store but its tables.
pub async fn connected(address: &str) -> PgConnection {
    // The parser wants a host where the socket's folder stands in the query.
    let address = address.replacen("@/", "@localhost/", 1);
    let options: PgConnectOptions = address.parse().unwrap();
    let options = options.options([("search_path", "standpipe"), ("synchronous_commit", "on")]);
    options.connect().await.unwrap()
}
