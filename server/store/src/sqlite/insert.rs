//! The statements of one commit. Every string handed to sqlx costs a hop to its worker thread, so a small commit is one
//! string: begin, insert, update of the site row, commit. sqlx prepares each statement of a string once, keeps it, and
//! hands the values out to the statements in order.

use super::cause::is_known_entry_id;
use crate::batch::{Plan, Row};
use crate::entry::{Epoch, NewEntry};
pub(super) use crate::row::signed;
use crate::verify::identity;
use sqlx::query::Query;
use sqlx::sqlite::{Sqlite, SqliteArguments};
use sqlx::{AssertSqlSafe, Executor, SqliteConnection};
use std::collections::HashMap;
use std::sync::Arc;

/// Most rows of one insert: 8 values a row, far below SQLite's 32,766 values a statement.
const INSERT_ROWS_MAX: usize = 128;

/// "or rollback", because a refused row ends the whole commit anyway; with the usual "abort" SQLite would copy every
/// page first, so as to take back one statement alone, which cost a fifth of the time of large commits.
const INSERT_ENTRY: &str = "insert or rollback into entry \
    (seq, entry_id, job_first_seq, stream_first_seq, station_number, received_us, bytes, leaf_hash) values ";
const ENTRY_VALUES: &str = "(?, ?, ?, ?, ?, ?, ?, ?)";
const INSERT_JOB: &str = "insert into job (first_seq, job_id, year, ordinal) values (?, ?, ?, ?)";
const INSERT_STREAM: &str = "insert into station_stream (first_seq, station, station_epoch) values (?, ?, ?)";
const UPDATE_EPOCH: &str = "update site set epoch = ?1, identity_sha256 = ?2 where only_row = 1";
const SITE_NAME: &str = "select site from site where only_row = 1";
const UPDATE_SITE: &str = "update site set size = ?, frontier = ? where only_row = 1";

/// Why a commit did not happen.
#[derive(Debug)]
pub(super) enum Refused {
    /// One of its entries is stored already; nothing is wrong with the disk.
    KnownEntryId,
    /// Anything else.
    Failed(sqlx::Error),
}

/// Shape of one string of statements.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Shape {
    begins: bool,
    rows: usize,
    commits: bool,
}

/// The texts made so far.
#[derive(Debug, Default)]
pub(super) struct Insert {
    texts: HashMap<Shape, Arc<str>>,
}

impl Insert {
    /// Writes a plan in one transaction. On an error the transaction may still be open.
    pub(super) async fn write(
        &mut self,
        connection: &mut SqliteConnection,
        batch: &[NewEntry],
        plan: &Plan,
    ) -> Result<(), Refused> {
        // New jobs and stations are rare; most commits hold only entries.
        let separate_begin =
            !plan.new_jobs.is_empty() || !plan.new_streams.is_empty() || plan.epoch.is_some();
        if separate_begin {
            run(connection, sqlx::query("begin immediate")).await?;
            insert_jobs_and_streams(connection, plan).await?;
        }
        if let Some(epoch) = plan.epoch {
            take_on_epoch(connection, epoch).await?;
            if plan.rows.is_empty() {
                return run(connection, sqlx::query("commit")).await;
            }
        }
        let chunks = plan.rows.len().div_ceil(INSERT_ROWS_MAX);
        for (at, rows) in plan.rows.chunks(INSERT_ROWS_MAX).enumerate() {
            let commits = at + 1 == chunks;
            let shape = Shape { begins: at == 0 && !separate_begin, rows: rows.len(), commits };
            let mut query = sqlx::query(AssertSqlSafe(self.text(shape)));
            for row in rows {
                query = bind_row(query, batch, row);
            }
            if commits {
                query = query.bind(signed(plan.frontier.size())).bind(plan.frontier.encode());
            }
            run(connection, query).await?;
        }
        Ok(())
    }

    /// The text of a shape; made once, so that sqlx finds its prepared statements again.
    fn text(&mut self, shape: Shape) -> Arc<str> {
        let text = self.texts.entry(shape).or_insert_with(|| {
            let mut text = String::new();
            if shape.begins {
                text.push_str("begin immediate; ");
            }
            text.push_str(INSERT_ENTRY);
            text.push_str(&vec![ENTRY_VALUES; shape.rows].join(", "));
            if shape.commits {
                text.push_str("; ");
                text.push_str(UPDATE_SITE);
                text.push_str("; commit");
            }
            text.into()
        });
        text.clone()
    }
}

async fn take_on_epoch(connection: &mut SqliteConnection, epoch: Epoch) -> Result<(), Refused> {
    let site = sqlx::query_scalar(SITE_NAME).fetch_one(&mut *connection).await;
    let site: String = site.map_err(Refused::Failed)?;
    let query = sqlx::query(UPDATE_EPOCH).bind(epoch.to_vec()).bind(identity(&site, epoch).to_vec());
    run(connection, query).await
}

async fn insert_jobs_and_streams(connection: &mut SqliteConnection, plan: &Plan) -> Result<(), Refused> {
    for job in &plan.new_jobs {
        let query = sqlx::query(INSERT_JOB)
            .bind(signed(job.first_seq))
            .bind(job.job.0.to_vec())
            .bind(job.number.year)
            .bind(job.number.ordinal);
        run(connection, query).await?;
    }
    for (stream, first_seq) in &plan.new_streams {
        let query = sqlx::query(INSERT_STREAM)
            .bind(signed(*first_seq))
            .bind(stream.station.clone())
            .bind(stream.epoch.to_vec());
        run(connection, query).await?;
    }
    Ok(())
}

fn bind_row<'q>(
    query: Query<'q, Sqlite, SqliteArguments>,
    batch: &[NewEntry],
    row: &Row,
) -> Query<'q, Sqlite, SqliteArguments> {
    // The planner made the row from this place of the batch, so the entry is always there.
    let Some(entry) = batch.get(row.at) else { return query };
    query
        .bind(signed(row.seq))
        .bind(entry.entry_id.0.to_vec())
        .bind(row.job_first_seq.map(signed))
        .bind(signed(row.stream_first_seq))
        .bind(signed(entry.station_number))
        .bind(entry.received_us)
        .bind(entry.bytes.to_vec())
        .bind(row.leaf_hash.to_vec())
}

async fn run(
    connection: &mut SqliteConnection,
    query: Query<'_, Sqlite, SqliteArguments>,
) -> Result<(), Refused> {
    match connection.execute(query).await {
        Ok(_) => Ok(()),
        Err(error) if is_known_entry_id(&error) => Err(Refused::KnownEntryId),
        Err(error) => Err(Refused::Failed(error)),
    }
}
