//! Reads of the journal. Every entry's leaf hash is computed again from its bytes before it is handed out; a
//! difference is an error that names the entry, and other entries are still read.

use super::cause::failed;
use crate::entry::{Epoch, JobId, JobRow, StoredEntry};
use crate::error::StoreError;
use crate::replica::Known;
pub(super) use crate::row::{ascending, audit_row, fixed, job_number, unsigned};
use crate::row::{checked_entry, job_row, known_entry, signed};
use crate::tree::{Frontier, Hash};
use crate::verify::identity;
use sqlx::query::Query;
use sqlx::sqlite::{Sqlite, SqliteArguments};
use sqlx::{Executor, Row, SqliteConnection, SqlitePool};
use std::ops::Range;

const DOING: &str = "reading the journal";

/// A query whose values are bound.
pub(super) type Bound<'q> = Query<'q, Sqlite, SqliteArguments>;

/// The columns [`audit_row`] reads, in its order, with what follows.
macro_rules! select_entry {
    ($rest:literal) => {
        concat!(
            "select e.seq, e.entry_id, j.job_id, s.station, s.station_epoch, e.station_number, e.received_us, \
             e.bytes, e.leaf_hash, e.job_first_seq, j.year, j.ordinal from entry e \
             left join station_stream s on s.first_seq = e.stream_first_seq \
             left join job j on j.first_seq = e.job_first_seq ",
            $rest
        )
    };
}

/// The columns [`job_row`] reads, in its order, with what follows.
macro_rules! select_job {
    ($rest:literal) => {
        concat!(
            "select j.job_id, j.year, j.ordinal, j.first_seq, \
             (select e.seq from entry e where e.job_first_seq = j.first_seq order by e.seq desc limit 1), \
             (select count(*) from entry e where e.job_first_seq = j.first_seq) from job j ",
            $rest
        )
    };
}

pub(super) const ENTRIES_FROM: &str = select_entry!("where e.seq >= ? order by e.seq limit ?");
pub(super) const SITE_ENTRIES_FROM: &str =
    select_entry!("where e.job_first_seq is null and e.seq >= ? order by e.seq limit ?");
/// Each row is looked up by its place, so that what it says of its job comes from the row and not from the index.
pub(super) const ENTRIES_OF_JOB: &str = select_entry!(
    "where e.seq in (select seq from entry where job_first_seq = (select first_seq from job where job_id = ?)) \
     order by e.seq"
);
pub(super) const ENTRY_BY_ID: &str = select_entry!("where e.entry_id = ?");
pub(super) const JOB_BY_ID: &str = select_job!("where j.job_id = ?");
pub(super) const JOB_BY_NUMBER: &str = select_job!("where j.year = ? and j.ordinal = ?");
pub(super) const JOBS_NEWEST: &str = select_job!("order by j.year desc, j.ordinal desc limit ?");
pub(super) const JOBS_BEFORE: &str =
    select_job!("where (j.year, j.ordinal) < (?, ?) order by j.year desc, j.ordinal desc limit ?");
const LEAVES: &str = "select leaf_hash from entry where seq > ? and seq <= ? order by seq";
const LEAVES_OF_JOB: &str = "select leaf_hash from entry \
    where job_first_seq = (select first_seq from job where job_id = ?) order by seq";
/// Entries that a batch of another copy is compared with, each with the number of the job that it opened.
const KNOWN: &str = "select e.entry_id, e.leaf_hash, j.year, j.ordinal from entry e \
    left join job j on j.first_seq = e.seq where e.seq > ? and e.seq <= ? order by e.seq";
const SITE: &str = "select site, epoch, size, frontier, identity_sha256 from site where only_row = 1";

/// The site row.
pub(super) struct SiteRow {
    pub site: String,
    pub epoch: Epoch,
    pub size: u64,
    pub frontier: Vec<u8>,
}

/// Reads the site row.
pub(super) async fn site(connection: &mut SqliteConnection) -> Result<SiteRow, StoreError> {
    let row = connection.fetch_optional(SITE).await.map_err(|error| failed(DOING, &error))?;
    let row = row.ok_or_else(|| StoreError::damaged("the site row is missing"))?;
    let read = || -> Result<SiteRow, sqlx::Error> {
        Ok(SiteRow {
            site: row.try_get(0)?,
            epoch: fixed(&row, 1)?,
            size: unsigned(&row, 2)?,
            frontier: row.try_get(3)?,
        })
    };
    let checked: Result<(SiteRow, Hash), sqlx::Error> = read().and_then(|site| Ok((site, fixed(&row, 4)?)));
    let (site, stored) = checked.map_err(|error| StoreError::damaged(format!("site row: {error}")))?;
    if identity(&site.site, site.epoch) != stored {
        return Err(StoreError::damaged("the site row's name or epoch is not what was written"));
    }
    Ok(site)
}

/// Runs a query for entries and checks each.
pub(super) async fn entries(readers: &SqlitePool, query: Bound<'_>) -> Result<Vec<StoredEntry>, StoreError> {
    let rows = query.fetch_all(readers).await.map_err(|error| failed(DOING, &error))?;
    rows.iter().map(checked_entry).collect()
}

/// What a batch of another copy is compared with: entries after the first, up to the last.
pub(super) async fn known(readers: &SqlitePool, places: Range<u64>) -> Result<Vec<Known>, StoreError> {
    let query = sqlx::query(KNOWN).bind(signed(places.start)).bind(signed(places.end));
    let rows = query.fetch_all(readers).await.map_err(|error| failed(DOING, &error))?;
    if rows.len() as u64 != places.end.saturating_sub(places.start) {
        return Err(StoreError::damaged(format!("entries are missing up to {}", places.end)));
    }
    let known = rows.iter().map(known_entry).collect::<Result<_, _>>();
    known.map_err(|error| StoreError::damaged(error.to_string()))
}

/// Runs a query for jobs.
pub(super) async fn jobs(readers: &SqlitePool, query: Bound<'_>) -> Result<Vec<JobRow>, StoreError> {
    let rows = query.fetch_all(readers).await.map_err(|error| failed(DOING, &error))?;
    rows.iter().map(|row| job_row(row).map_err(|error| StoreError::damaged(error.to_string()))).collect()
}

/// Leaf hashes of a job in order.
pub(super) async fn job_leaves(readers: &SqlitePool, job: JobId) -> Result<Vec<Hash>, StoreError> {
    let query = sqlx::query(LEAVES_OF_JOB).bind(job.0.to_vec());
    let rows = query.fetch_all(readers).await.map_err(|error| failed(DOING, &error))?;
    rows.iter().map(|row| fixed(row, 0).map_err(|error| StoreError::damaged(error.to_string()))).collect()
}

/// Roots of ranges of leaves (indices from 0), each aligned as the subtrees of the tree are.
pub(super) async fn range_roots(
    readers: &SqlitePool,
    ranges: Vec<Range<u64>>,
) -> Result<Vec<Hash>, StoreError> {
    let mut roots = Vec::with_capacity(ranges.len());
    for range in ranges {
        roots.push(range_root(readers, range).await?);
    }
    Ok(roots)
}

/// Most leaves read at once.
const LEAVES_PAGE: u64 = 4_096;

async fn range_root(readers: &SqlitePool, range: Range<u64>) -> Result<Hash, StoreError> {
    Ok(frontier_over(readers, range).await?.root())
}

/// The tree over a range of leaves alone.
pub(super) async fn frontier_over(readers: &SqlitePool, range: Range<u64>) -> Result<Frontier, StoreError> {
    let mut frontier = Frontier::default();
    let mut start = range.start;
    while start < range.end {
        let end = range.end.min(start + LEAVES_PAGE);
        let query = sqlx::query(LEAVES).bind(signed(start)).bind(signed(end));
        let rows = query.fetch_all(readers).await.map_err(|error| failed(DOING, &error))?;
        if rows.len() as u64 != end - start {
            return Err(StoreError::damaged(format!("entries are missing between {} and {end}", start + 1)));
        }
        for row in &rows {
            frontier.append(fixed(row, 0).map_err(|error| StoreError::damaged(error.to_string()))?);
        }
        start = end;
    }
    Ok(frontier)
}
