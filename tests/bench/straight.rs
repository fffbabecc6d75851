//! The same rows written straight through sqlx: the table and indexes of the journal, nothing else.

use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
use sqlx::{ConnectOptions, Connection, QueryBuilder, Sqlite};
use std::path::Path;
use std::time::{Duration, Instant};

const ROWS_A_COMMIT: usize = 1024;
const ROWS_A_STATEMENT: usize = 64;

/// Rows a second.
pub async fn rate(folder: &Path, bytes: &[u8], measure: Duration) -> f64 {
    let options = SqliteConnectOptions::new()
        .filename(folder.join("straight.db"))
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full);
    let mut connection = options.connect().await.unwrap();
    for statement in [
        "create table entry (seq integer primary key, entry_id blob not null, job_first_seq integer, \
         stream_first_seq integer not null, station_number integer not null, received_us integer not null, \
         bytes blob not null, leaf_hash blob not null) strict",
        "create unique index entry_by_id on entry (entry_id)",
        "create index entry_by_job on entry (job_first_seq) where job_first_seq is not null",
        "create index entry_by_station on entry (stream_first_seq, station_number)",
    ] {
        sqlx::query(statement).execute(&mut connection).await.unwrap();
    }
    let start = Instant::now();
    let mut seq: i64 = 0;
    while start.elapsed() < measure {
        let mut transaction = connection.begin_with("begin immediate").await.unwrap();
        for _ in 0..ROWS_A_COMMIT / ROWS_A_STATEMENT {
            let mut insert = QueryBuilder::<Sqlite>::new("insert into entry ");
            let rows: Vec<i64> = (1..=ROWS_A_STATEMENT as i64).map(|row| seq + row).collect();
            insert.push_values(rows, |mut row, number| {
                let mut id = [0u8; 16];
                id[8..].copy_from_slice(&number.to_be_bytes());
                row.push_bind(number)
                    .push_bind(id.to_vec())
                    .push_bind(1_i64)
                    .push_bind(number % 200 + 1)
                    .push_bind(number)
                    .push_bind(number)
                    .push_bind(bytes.to_vec())
                    .push_bind(vec![7u8; 32]);
            });
            insert.build().execute(&mut *transaction).await.unwrap();
            seq += ROWS_A_STATEMENT as i64;
        }
        transaction.commit().await.unwrap();
    }
    let rate = seq as f64 / start.elapsed().as_secs_f64();
    connection.close().await.unwrap();
    rate
}
