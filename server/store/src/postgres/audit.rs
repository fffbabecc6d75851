//! The full check of a site: every row once, in pages, inside one snapshot, then the jobs and the guards of the tables.
//! Keeps nothing but the page at hand. What the database's own pages are like, its checksums tell.

use super::PostgresStore;
use super::cause::{Kind, failed, kind};
use super::open::read_site;
use super::read::ENTRIES_FROM;
use super::schema::guards;
use crate::entry::JobId;
use crate::error::StoreError;
use crate::row::{audit_row, fixed, flag, job_number, signed, text, unsigned};
use crate::verify::{Audit, DamageKind, Inspect, VerifyReport};
use sqlx::{Connection as _, Executor as _, PgConnection};
use std::collections::BTreeSet;

const DOING: &str = "verifying the journal";

/// Rows read at once.
const PAGE_ROWS: u64 = 512;
/// Unreadable rows looked at one by one before the check gives up on finding more.
const UNREADABLE_MAX: u64 = 1_000;

const SNAPSHOT: &str = "begin isolation level repeatable read read only";
const JOBS: &str = "select j.job_id, j.year, j.ordinal, j.first_seq, \
    exists (select 1 from entry e where e.site = $1 and e.seq = j.first_seq and e.job_first_seq = j.first_seq)::int::bigint \
    from job j where j.site = $1 order by j.year, j.ordinal";
/// The guards that are there and on, also for a session that plays back another database's changes.
const GUARDS: &str = "select c.relname::text, t.tgname::text from pg_trigger t join pg_class c on c.oid = t.tgrelid \
    join pg_namespace n on n.oid = c.relnamespace \
    where n.nspname = 'standpipe' and not t.tgisinternal and t.tgenabled in ('O', 'A')";
/// Indexes that a broken build left unusable.
const INVALID: &str = "select c.relname::text from pg_index i join pg_class c on c.oid = i.indexrelid \
    join pg_namespace n on n.oid = c.relnamespace \
    where n.nspname = 'standpipe' and not (i.indisvalid and i.indisready)";

/// Runs the check.
pub(super) async fn verify(store: &PostgresStore, inspect: Inspect<'_>) -> Result<VerifyReport, StoreError> {
    let mut connection = store.readers.acquire().await.map_err(|error| failed(DOING, &error))?;
    let begun = connection.begin_with(SNAPSHOT).await;
    let mut snapshot = begun.map_err(|error| failed(DOING, &error))?;
    let known = store.published.borrow().head.clone();
    let mut audit = Audit::new(inspect);
    let site = match read_site(&mut snapshot, &store.site).await {
        Ok(row) => row,
        Err(StoreError::Damaged { .. }) => None,
        Err(error) => return Err(error),
    };
    let size = site.as_ref().map_or(known.seq, |row| row.head.seq);
    check_entries(&mut snapshot, &mut audit, &store.site, size).await?;
    check_jobs(&mut snapshot, &mut audit, &store.site).await?;
    check_guards(&mut snapshot, &mut audit).await?;
    let stored = site.as_ref().map(|row| (row.head.seq, row.head.root));
    let (name, epoch) = site.map_or((known.site, known.epoch), |row| (row.head.site, row.head.epoch));
    Ok(audit.finish(name, epoch, stored))
}

/// Reads all entries. Where a page cannot be read, its rows are tried one by one.
async fn check_entries(
    connection: &mut PgConnection,
    audit: &mut Audit<'_>,
    site: &str,
    size: u64,
) -> Result<(), StoreError> {
    let mut next = 1;
    let mut unreadable = 0;
    loop {
        let mut page = connection.begin().await.map_err(|error| failed(DOING, &error))?;
        let query = sqlx::query(ENTRIES_FROM).bind(site).bind(signed(next)).bind(signed(PAGE_ROWS));
        match query.fetch_all(&mut *page).await {
            Ok(rows) if rows.is_empty() => return Ok(()),
            Ok(rows) => {
                for row in &rows {
                    let seq = unsigned(row, 0).map_err(|error| failed(DOING, &error))?;
                    if seq < next {
                        // Rows of a damaged index can come again and again; reading on would never end.
                        let what = format!("entry {seq} is out of its place");
                        audit.note(None, None, DamageKind::Structure(what));
                        return Ok(());
                    }
                    match audit_row(row) {
                        Ok(row) => audit.entry(&row),
                        Err(error) => audit.unreadable(seq, None, error.to_string()),
                    }
                    next = seq + 1;
                }
            }
            Err(error) if kind(&error) == Kind::Corrupt => {
                drop(page);
                let end = (next + PAGE_ROWS).min(size + 1);
                unreadable += check_singly(connection, audit, site, next..end).await?;
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
    connection: &mut PgConnection,
    audit: &mut Audit<'_>,
    site: &str,
    seqs: std::ops::Range<u64>,
) -> Result<u64, StoreError> {
    let mut unreadable = 0;
    for seq in seqs {
        let mut single = connection.begin().await.map_err(|error| failed(DOING, &error))?;
        let query = sqlx::query(ENTRIES_FROM).bind(site).bind(signed(seq)).bind(1_i64);
        let cause = match query.fetch_optional(&mut *single).await {
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
            Err(error) if kind(&error) == Kind::Corrupt => error.to_string(),
            Err(error) => return Err(failed(DOING, &error)),
        };
        unreadable += 1;
        audit.unreadable(seq, None, cause);
    }
    Ok(unreadable)
}

async fn check_jobs(
    connection: &mut PgConnection,
    audit: &mut Audit<'_>,
    site: &str,
) -> Result<(), StoreError> {
    let failed = |error: sqlx::Error| failed(DOING, &error);
    for row in sqlx::query(JOBS).bind(site).fetch_all(connection).await.map_err(failed)? {
        let Some(number) = job_number(&row, 1, 2).map_err(failed)? else { continue };
        let job = JobId(fixed(&row, 0).map_err(failed)?);
        audit.job(job, number, unsigned(&row, 3).map_err(failed)?, flag(&row, 4).map_err(failed)?);
    }
    Ok(())
}

/// Notes guards that are missing or switched off, and indexes that the database does not use.
async fn check_guards(connection: &mut PgConnection, audit: &mut Audit<'_>) -> Result<(), StoreError> {
    let failed = |error: sqlx::Error| failed(DOING, &error);
    let mut on = BTreeSet::new();
    for row in connection.fetch_all(GUARDS).await.map_err(failed)? {
        on.insert((text(&row, 0).map_err(failed)?, text(&row, 1).map_err(failed)?));
    }
    for (table, trigger) in guards() {
        if !on.contains(&(table.clone(), trigger.to_owned())) {
            audit.note(None, None, DamageKind::Schema(format!("trigger {trigger} of {table}")));
        }
    }
    for row in connection.fetch_all(INVALID).await.map_err(failed)? {
        audit.note(None, None, DamageKind::Schema(format!("index {}", text(&row, 0).map_err(failed)?)));
    }
    Ok(())
}
