//! The full check of a file: every row once, in pages, inside one read transaction, then the jobs, the schema and the
//! database's own check. Keeps nothing but the page at hand.

use super::SqliteStore;
use super::cause::{Code, code, failed};
use super::insert::signed;
use super::open::read_site;
use super::read::{ENTRIES_FROM, audit_row, fixed, job_number, unsigned};
use super::schema::migrate;
use crate::entry::{JobId, JobNumber};
use crate::error::StoreError;
use crate::verify::{Audit, DamageKind, Inspect, VerifyReport};
use sqlx::{Connection, Executor, Row, SqliteConnection};
use std::collections::BTreeMap;

const DOING: &str = "verifying the journal";

/// Rows read at once.
const PAGE_ROWS: u64 = 512;

/// Unreadable rows looked at one by one before the check gives up on finding more.
const UNREADABLE_MAX: u64 = 1_000;

const JOBS: &str = "select j.job_id, j.year, j.ordinal, j.first_seq, \
    exists (select 1 from entry e where e.seq = j.first_seq and e.job_first_seq = j.first_seq) \
    from job j order by j.year, j.ordinal";
const JOB_OF_ENTRY: &str = "select j.job_id, j.year, j.ordinal from job j where j.first_seq = \
    (select e.job_first_seq from entry e indexed by entry_by_job where e.job_first_seq is not null and e.seq = ?)";
const SCHEMA: &str = "select type || ' ' || name, coalesce(sql, '') from sqlite_schema \
    where tbl_name not like '\\_sqlx%' escape '\\'";

/// Runs the check.
pub(super) async fn verify(store: &SqliteStore, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError> {
    let mut connection = store.readers.acquire().await.map_err(|error| failed(DOING, &error))?;
    let mut snapshot = connection.begin().await.map_err(|error| failed(DOING, &error))?;
    let known = store.published.borrow().head.clone();
    let mut audit = Audit::new(inspect);
    let site = read_site(&mut snapshot).await;
    let size = site.as_ref().map_or(known.seq, |(head, _)| head.seq);
    check_entries(&mut snapshot, &mut audit, size).await?;
    if let Err(error) = check_jobs(&mut snapshot, &mut audit).await {
        audit.note(None, None, DamageKind::Structure(format!("jobs: {error}")));
    }
    check_schema(&mut snapshot, &mut audit).await?;
    check_structure(&mut snapshot, &mut audit).await?;
    let stored = site.as_ref().ok().map(|(head, _)| (head.seq, head.root));
    let (name, epoch) = site.map_or((known.site, known.epoch), |(head, _)| (head.site, head.epoch));
    Ok(audit.finish(name, epoch, stored))
}

/// Streams all entries. Where a page cannot be read, its rows are tried one by one.
async fn check_entries(
    connection: &mut SqliteConnection,
    audit: &mut Audit<'_>,
    size: u64,
) -> Result<(), StoreError> {
    let mut next = 1;
    let mut unreadable = 0;
    loop {
        let query = sqlx::query(ENTRIES_FROM).bind(signed(next)).bind(signed(PAGE_ROWS));
        match query.fetch_all(&mut *connection).await {
            Ok(rows) if rows.is_empty() => return Ok(()),
            Ok(rows) => {
                for row in &rows {
                    let seq = unsigned(row, 0).map_err(|error| failed(DOING, &error))?;
                    if seq < next {
                        // Rows of a damaged tree can come again and again; reading on would never end.
                        let what = format!("entry {seq} is out of its place");
                        audit.note(None, None, DamageKind::Structure(what));
                        return Ok(());
                    }
                    match audit_row(row) {
                        Ok(row) => audit.entry(&row),
                        Err(error) => {
                            let job = job_of(connection, seq).await;
                            audit.unreadable(seq, job, error.to_string());
                        }
                    }
                    next = seq + 1;
                }
            }
            Err(error) if code(&error) == Code::Corrupt => {
                let end = (next + PAGE_ROWS).min(size + 1);
                unreadable += check_singly(connection, audit, next, end).await?;
                if next >= end || unreadable > UNREADABLE_MAX {
                    return Ok(());
                }
                next = end;
            }
            Err(error) => return Err(failed(DOING, &error)),
        }
    }
}

/// Reads rows one by one; returns how many could not be read.
async fn check_singly(
    connection: &mut SqliteConnection,
    audit: &mut Audit<'_>,
    from: u64,
    end: u64,
) -> Result<u64, StoreError> {
    let mut unreadable = 0;
    for seq in from..end {
        let query = sqlx::query(ENTRIES_FROM).bind(signed(seq)).bind(1_i64);
        let cause = match query.fetch_optional(&mut *connection).await {
            // A later row means that this one is missing, which the checker notices at the next one that is there.
            Ok(Some(row)) if unsigned(&row, 0).ok() != Some(seq) => continue,
            Ok(Some(row)) => match audit_row(&row) {
                Ok(row) => {
                    audit.entry(&row);
                    continue;
                }
                Err(error) => error.to_string(),
            },
            Ok(None) => continue,
            Err(error) if code(&error) == Code::Corrupt => error.to_string(),
            Err(error) => return Err(failed(DOING, &error)),
        };
        unreadable += 1;
        let job = job_of(connection, seq).await;
        audit.unreadable(seq, job, cause);
    }
    Ok(unreadable)
}

/// The job of an entry whose row cannot be read, by the index alone. Best effort: the index may be damaged as well.
async fn job_of(connection: &mut SqliteConnection, seq: u64) -> Option<(JobId, JobNumber)> {
    let query = sqlx::query(JOB_OF_ENTRY).bind(signed(seq));
    let row = query.fetch_optional(connection).await.ok().flatten()?;
    Some((JobId(fixed(&row, 0).ok()?), job_number(&row, 1, 2).ok().flatten()?))
}

async fn check_jobs(connection: &mut SqliteConnection, audit: &mut Audit<'_>) -> Result<(), sqlx::Error> {
    for row in connection.fetch_all(JOBS).await? {
        let Some(number) = job_number(&row, 1, 2)? else { continue };
        audit.job(JobId(fixed(&row, 0)?), number, unsigned(&row, 3)?, row.try_get(4)?);
    }
    Ok(())
}

/// Compares tables, indexes and triggers with those of a new journal, so that a dropped guard is noticed.
async fn check_schema(connection: &mut SqliteConnection, audit: &mut Audit<'_>) -> Result<(), StoreError> {
    let failed = |error: sqlx::Error| failed(DOING, &error);
    let mut fresh = SqliteConnection::connect("sqlite::memory:").await.map_err(failed)?;
    migrate(&mut fresh).await.map_err(|error| StoreError::damaged(error.to_string()))?;
    let expected = schema_of(&mut fresh).await.map_err(failed)?;
    fresh.close().await.map_err(failed)?;
    let found = match schema_of(connection).await {
        Ok(found) => found,
        Err(error) => {
            audit.note(None, None, DamageKind::Structure(error.to_string()));
            return Ok(());
        }
    };
    for object in expected.keys().chain(found.keys().filter(|object| !expected.contains_key(*object))) {
        if expected.get(object) != found.get(object) {
            audit.note(None, None, DamageKind::Schema(object.clone()));
        }
    }
    Ok(())
}

async fn schema_of(connection: &mut SqliteConnection) -> Result<BTreeMap<String, String>, sqlx::Error> {
    connection.fetch_all(SCHEMA).await?.iter().map(|row| Ok((row.try_get(0)?, row.try_get(1)?))).collect()
}

/// SQLite's own check: page structure, and every index against its table.
async fn check_structure(connection: &mut SqliteConnection, audit: &mut Audit<'_>) -> Result<(), StoreError> {
    let lines = match connection.fetch_all("pragma integrity_check(100)").await {
        Ok(rows) => rows.iter().map(|row| row.try_get(0)).collect::<Result<Vec<String>, _>>(),
        Err(error) => Ok(vec![error.to_string()]),
    };
    for line in lines.map_err(|error| failed(DOING, &error))?.into_iter().filter(|line| line != "ok") {
        let seq = entry_named_in(&line);
        let job = match seq {
            Some(seq) => job_of(connection, seq).await,
            None => None,
        };
        audit.note(seq, job, DamageKind::Structure(line));
    }
    Ok(())
}

/// The entry a line of the database's check is about, such as "row 57 missing from index entry_by_id".
fn entry_named_in(line: &str) -> Option<u64> {
    let about_entries = line.contains(" entry_") || line.contains(" entry.");
    let number = line.strip_prefix("row ")?.split(' ').next()?;
    number.parse().ok().filter(|_| about_entries)
}

#[cfg(test)]
mod tests {
    use super::entry_named_in;

    #[test]
    fn a_line_about_an_entry_names_it() {
        assert_eq!(entry_named_in("row 57 missing from index entry_by_id"), Some(57));
        assert_eq!(entry_named_in("row 2 missing from index token_by_station"), None);
        assert_eq!(entry_named_in("*** in database main ***"), None);
    }
}
