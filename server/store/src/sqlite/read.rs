//! Reads of the journal. Every entry's leaf hash is computed again from its bytes before it is handed out; a
//! difference is an error that names the entry, and other entries are still read.

use super::cause::failed;
use super::insert::signed;
use crate::entry::{EntryId, Epoch, JobId, JobNumber, JobRow, StoredEntry};
use crate::error::StoreError;
use crate::tree::{Frontier, Hash, entry_leaf_hash};
use crate::verify::AuditRow;
use sha2::{Digest, Sha256};
use sqlx::query::Query;
use sqlx::sqlite::{Sqlite, SqliteArguments, SqliteRow};
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
const SITE: &str = "select site, epoch, size, frontier, identity_sha256 from site where only_row = 1";

/// The site row.
pub(super) struct SiteRow {
    pub site: String,
    pub epoch: Epoch,
    pub size: u64,
    pub frontier: Vec<u8>,
}

/// Guards name and epoch, which stand nowhere else in the file.
pub(super) fn identity(site: &str, epoch: Epoch) -> Hash {
    Sha256::new().chain_update(epoch).chain_update(site).finalize().into()
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

/// Refuses entries that do not ascend from `least`: the rows of a damaged tree can come again and again, and whoever
/// reads on after the last one would never end.
pub(super) fn ascending(entries: Vec<StoredEntry>, least: u64) -> Result<Vec<StoredEntry>, StoreError> {
    let mut next = least;
    for entry in &entries {
        if entry.seq < next {
            return Err(StoreError::damaged(format!("entry {} is out of its place", entry.seq)));
        }
        next = entry.seq.saturating_add(1);
    }
    Ok(entries)
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
    Ok(frontier.root())
}

/// Reads a row of [`select_entry!`] without judging it.
pub(super) fn audit_row(row: &SqliteRow) -> Result<AuditRow, sqlx::Error> {
    let station: Option<String> = row.try_get(3)?;
    let station_epoch: Option<Vec<u8>> = row.try_get(4)?;
    let station_known = station.is_some();
    let entry = StoredEntry {
        seq: unsigned(row, 0)?,
        entry_id: EntryId(fixed(row, 1)?),
        job: optional_fixed(row, 2)?.map(JobId),
        station: station.unwrap_or_default(),
        station_epoch: station_epoch.and_then(|epoch| epoch.try_into().ok()).unwrap_or_default(),
        station_number: unsigned(row, 5)?,
        received_us: row.try_get(6)?,
        bytes: row.try_get::<Vec<u8>, _>(7)?.into(),
        leaf_hash: fixed(row, 8)?,
    };
    let job_first_seq: Option<i64> = row.try_get(9)?;
    Ok(AuditRow {
        entry,
        job_first_seq: job_first_seq.map(|seq| u64::try_from(seq).unwrap_or(0)),
        job_number: job_number(row, 10, 11)?,
        station_known,
    })
}

/// Reads a row of [`select_entry!`] and refuses it if it is not what was written.
fn checked_entry(row: &SqliteRow) -> Result<StoredEntry, StoreError> {
    let seq = unsigned(row, 0).ok();
    let job_number = job_number(row, 10, 11).ok().flatten();
    let damaged = |what: String| StoreError::Damaged { seq, job_number, what };
    let AuditRow { entry, job_first_seq, station_known, .. } =
        audit_row(row).map_err(|error| damaged(error.to_string()))?;
    if entry_leaf_hash(entry.seq, entry.received_us, &entry.bytes) != entry.leaf_hash {
        return Err(damaged("its bytes, time or place do not match its leaf hash".into()));
    }
    if !station_known || job_first_seq.is_some() != entry.job.is_some() {
        return Err(damaged("it names a job or a station that is not there".into()));
    }
    Ok(entry)
}

fn job_row(row: &SqliteRow) -> Result<JobRow, sqlx::Error> {
    let number = job_number(row, 1, 2)?.ok_or(sqlx::Error::RowNotFound)?;
    Ok(JobRow {
        job_id: JobId(fixed(row, 0)?),
        number,
        first_seq: unsigned(row, 3)?,
        last_seq: unsigned(row, 4)?,
        entries: unsigned(row, 5)?,
    })
}

/// A blob of a fixed length.
pub(super) fn fixed<const N: usize>(row: &SqliteRow, at: usize) -> Result<[u8; N], sqlx::Error> {
    optional_fixed(row, at)?.ok_or_else(|| decode_error(at, "null where bytes belong"))
}

pub(super) fn optional_fixed<const N: usize>(
    row: &SqliteRow,
    at: usize,
) -> Result<Option<[u8; N]>, sqlx::Error> {
    let bytes: Option<&[u8]> = row.try_get(at)?;
    bytes.map(|bytes| bytes.try_into().map_err(|_| decode_error(at, "bytes of a wrong length"))).transpose()
}

/// A number that is never negative.
pub(super) fn unsigned(row: &SqliteRow, at: usize) -> Result<u64, sqlx::Error> {
    u64::try_from(row.try_get::<i64, _>(at)?).map_err(|_| decode_error(at, "a negative number"))
}

/// A job's number from two columns; `None` if both are null.
pub(super) fn job_number(
    row: &SqliteRow,
    year: usize,
    ordinal: usize,
) -> Result<Option<JobNumber>, sqlx::Error> {
    let (year, ordinal): (Option<i16>, Option<u32>) = (row.try_get(year)?, row.try_get(ordinal)?);
    Ok(year.zip(ordinal).map(|(year, ordinal)| JobNumber { year, ordinal }))
}

fn decode_error(at: usize, what: &'static str) -> sqlx::Error {
    sqlx::Error::ColumnDecode { index: at.to_string(), source: what.into() }
}
