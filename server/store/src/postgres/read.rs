//! Reads of the journal. Every entry's leaf hash is computed again from its bytes before it is handed out; a difference is
//! an error that names the entry, and other entries are still read.

use super::PostgresStore;
use super::cause::failed;
use crate::entry::{JobId, JobRow, StoredEntry};
use crate::error::StoreError;
use crate::replica::Known;
use crate::row::{checked_entry, fixed, job_row, known_entry, signed};
use crate::tree::{Frontier, Hash};
use sqlx::postgres::{PgArguments, PgRow};
use sqlx::query::Query;
use sqlx::{PgConnection, Postgres};
use std::ops::Range;

pub(super) const DOING: &str = "reading the journal";

/// A query whose values are bound.
pub(super) type Bound<'q> = Query<'q, Postgres, PgArguments>;

/// The columns [`crate::row::audit_row`] reads, in its order, with what follows; the site is the first value.
macro_rules! select_entry {
    ($rest:literal) => {
        concat!(
            "select e.seq, e.entry_id, j.job_id, s.station, s.station_epoch, e.station_number, e.received_us, \
             e.bytes, e.leaf_hash, e.job_first_seq, j.year, j.ordinal from entry e \
             left join station_stream s on s.site = $1 and s.first_seq = e.stream_first_seq \
             left join job j on j.site = $1 and j.first_seq = e.job_first_seq where e.site = $1 and ",
            $rest
        )
    };
}

/// The columns [`job_row`] reads, in its order, with what follows; the site is the first value.
macro_rules! select_job {
    ($rest:literal) => {
        concat!(
            "select j.job_id, j.year, j.ordinal, j.first_seq, \
             (select max(e.seq) from entry e where e.site = $1 and e.job_first_seq = j.first_seq), \
             (select count(*) from entry e where e.site = $1 and e.job_first_seq = j.first_seq) \
             from job j where j.site = $1 ",
            $rest
        )
    };
}

pub(super) const ENTRIES_FROM: &str = select_entry!("e.seq >= $2 order by e.seq limit $3");
pub(super) const SITE_ENTRIES_FROM: &str =
    select_entry!("e.job_first_seq is null and e.seq >= $2 order by e.seq limit $3");
pub(super) const ENTRIES_OF_JOB: &str = select_entry!(
    "e.job_first_seq = (select first_seq from job where site = $1 and job_id = $2) order by e.seq"
);
pub(super) const ENTRY_BY_ID: &str = select_entry!("e.entry_id = $2");
pub(super) const JOB_BY_ID: &str = select_job!("and j.job_id = $2");
pub(super) const JOB_BY_NUMBER: &str = select_job!("and j.year = $2 and j.ordinal = $3");
pub(super) const JOBS_NEWEST: &str = select_job!("order by j.year desc, j.ordinal desc limit $2");
pub(super) const JOBS_BEFORE: &str =
    select_job!("and (j.year, j.ordinal) < ($2, $3) order by j.year desc, j.ordinal desc limit $4");
const LEAVES: &str = "select leaf_hash from entry where site = $1 and seq > $2 and seq <= $3 order by seq";
const LEAVES_OF_JOB: &str = "select leaf_hash from entry where site = $1 \
    and job_first_seq = (select first_seq from job where site = $1 and job_id = $2) order by seq";

/// Entries that a batch of another copy is compared with, each with the number of the job that it opened.
const KNOWN: &str = "select e.entry_id, e.leaf_hash, j.year, j.ordinal from entry e \
    left join job j on j.site = $1 and j.first_seq = e.seq where e.site = $1 and e.seq > $2 and e.seq <= $3 \
    order by e.seq";

/// Most leaves read at once.
const LEAVES_PAGE: u64 = 4_096;

impl PostgresStore {
    /// A statement whose first value is the site.
    pub(super) fn of_site(&self, statement: &'static str) -> Bound<'_> {
        sqlx::query(statement).bind(self.site.as_str())
    }

    /// Rows of a statement; at once an error while the database is known to be away.
    pub(super) async fn fetch(
        &self,
        doing: &'static str,
        query: Bound<'_>,
    ) -> Result<Vec<PgRow>, StoreError> {
        if let Some(away) = self.published.borrow().away.clone() {
            return Err(away);
        }
        query.fetch_all(&self.readers).await.map_err(|error| failed(doing, &error))
    }

    /// Runs a query for entries and checks each.
    pub(super) async fn entries(&self, query: Bound<'_>) -> Result<Vec<StoredEntry>, StoreError> {
        self.fetch(DOING, query).await?.iter().map(checked_entry).collect()
    }

    /// Runs a query for jobs.
    pub(super) async fn job_rows(&self, query: Bound<'_>) -> Result<Vec<JobRow>, StoreError> {
        let rows = self.fetch(DOING, query).await?;
        rows.iter().map(|row| job_row(row).map_err(|error| StoreError::damaged(error.to_string()))).collect()
    }

    /// Leaf hashes of a job in order.
    pub(super) async fn job_leaves(&self, job: JobId) -> Result<Vec<Hash>, StoreError> {
        let rows = self.fetch(DOING, self.of_site(LEAVES_OF_JOB).bind(job.0)).await?;
        rows.iter().map(leaf).collect()
    }

    /// Roots of ranges of leaves (indices from 0), each aligned as the subtrees of the tree are.
    pub(super) async fn range_roots(&self, ranges: Vec<Range<u64>>) -> Result<Vec<Hash>, StoreError> {
        let mut roots = Vec::with_capacity(ranges.len());
        for range in ranges {
            roots.push(self.range_root(range).await?);
        }
        Ok(roots)
    }

    async fn range_root(&self, range: Range<u64>) -> Result<Hash, StoreError> {
        let mut frontier = Frontier::default();
        let mut start = range.start;
        while start < range.end {
            let end = range.end.min(start + LEAVES_PAGE);
            let query = self.of_site(LEAVES).bind(signed(start)).bind(signed(end));
            let rows = self.fetch(DOING, query).await?;
            if rows.len() as u64 != end - start {
                return Err(StoreError::damaged(format!(
                    "entries are missing between {} and {end}",
                    start + 1
                )));
            }
            for row in &rows {
                frontier.append(leaf(row)?);
            }
            start = end;
        }
        Ok(frontier.root())
    }
}

/// The tree over the first leaves, read by the writer.
pub(super) async fn frontier_of(
    connection: &mut PgConnection,
    site: &str,
    size: u64,
) -> Result<Frontier, sqlx::Error> {
    let mut frontier = Frontier::default();
    while frontier.size() < size {
        let start = frontier.size();
        let end = size.min(start + LEAVES_PAGE);
        let query = sqlx::query(LEAVES).bind(site).bind(signed(start)).bind(signed(end));
        let rows = query.fetch_all(&mut *connection).await?;
        if rows.len() as u64 != end - start {
            return Err(sqlx::Error::RowNotFound);
        }
        for row in &rows {
            frontier.append(fixed(row, 0)?);
        }
    }
    Ok(frontier)
}

/// What a batch of another copy is compared with, read by the writer: entries after the first place, up to the last.
pub(super) async fn known(
    connection: &mut PgConnection,
    site: &str,
    places: Range<u64>,
) -> Result<Vec<Known>, sqlx::Error> {
    let query = sqlx::query(KNOWN).bind(site).bind(signed(places.start)).bind(signed(places.end));
    let rows = query.fetch_all(connection).await?;
    if rows.len() as u64 != places.end.saturating_sub(places.start) {
        return Err(sqlx::Error::RowNotFound);
    }
    rows.iter().map(known_entry).collect()
}

fn leaf(row: &PgRow) -> Result<Hash, StoreError> {
    fixed(row, 0).map_err(|error| StoreError::damaged(error.to_string()))
}
