//! Carries a whole site from one store into another: the journal entry by entry, so that every leaf is made anew and
//! compared, then what stands beside it row by row, as it stood at one moment. The source is only read; it stays what
//! holds good until the caller has switched. Cut off anywhere, a copy is resumed or made anew, never taken for a whole one.
//!
//! The server calls it for `move` and for the backup of a site in a database. Never here: what a row means.

mod tables;

pub(crate) use tables::{Cell, Kind, PAGE_ROWS, TABLES, Table};

use crate::entry::{Head, JobId, JobNumber, JobRow, NewEntry};
use crate::error::StoreError;
use crate::journal::{Journal, PAGE_ROWS_MAX};
use crate::postgres::{self, PostgresAddress, PostgresStore};
use crate::sqlite::{SqliteOptions, SqliteStore};
use async_trait::async_trait;
use std::collections::HashMap;
use std::path::Path;

/// What was carried.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// How far the copy reaches; the same as the source.
    pub head: Head,
    /// Jobs whose digests were compared.
    pub jobs: u64,
    /// Rows beside the journal.
    pub rows: u64,
    /// Entries that were there already from a copy that was cut off.
    pub resumed_at: u64,
}

/// A step that is done, in words, for whoever waits.
pub type Told<'a> = &'a (dyn Fn(&str) + Send + Sync);

/// A store as it stands at one moment.
#[async_trait]
pub(crate) trait Snapshot: Send {
    /// How far its journal reaches.
    fn head(&self) -> &Head;

    /// Rows of a table in the order of its key, at most [`PAGE_ROWS`], after the row with this key.
    async fn rows(
        &mut self,
        table: &'static Table,
        after: Option<Vec<Cell>>,
    ) -> Result<Vec<Vec<Cell>>, StoreError>;
}

/// Where rows beside the journal are put, all of them or none.
#[async_trait]
pub(crate) trait Shelf: Send {
    /// Puts rows into a table.
    async fn put(&mut self, table: &'static Table, rows: Vec<Vec<Cell>>) -> Result<(), StoreError>;

    /// Makes them durable.
    async fn finish(self: Box<Self>) -> Result<(), StoreError>;
}

/// A store that can be copied from.
#[async_trait]
pub(crate) trait Source: Journal {
    /// The store as it stands now.
    async fn snapshot(&self) -> Result<Box<dyn Snapshot>, StoreError>;
}

/// Copies a site from a file into a database, or goes on with a copy that was cut off. No server takes the copy for its
/// journal before the caller opens it.
///
/// # Errors
/// [`StoreError::SiteThere`] when the database holds the site in use or another life of it; [`StoreError::Damaged`] when the
/// copy is not the same; otherwise what either store says.
pub async fn carry_to_postgres(
    from: &SqliteStore,
    to: &PostgresAddress,
    told: Told<'_>,
) -> Result<Carried, StoreError> {
    let head = from.head().await?;
    let target = postgres::arrival(to, &head.site, head.epoch).await?;
    let carried = into_postgres(from, to, &target, told).await;
    target.close().await?;
    carried
}

async fn into_postgres(
    from: &SqliteStore,
    to: &PostgresAddress,
    target: &PostgresStore,
    told: Told<'_>,
) -> Result<Carried, StoreError> {
    let mut snapshot = from.snapshot().await?;
    let resumed_at = target.head().await?.seq;
    let head = snapshot.head().clone();
    copy_entries(from, &head, target, told).await?;
    let shelf = postgres::shelf(to, &head.site).await?;
    let rows = copy_rows(&mut *snapshot, shelf).await?;
    told(&format!("{rows} rows beside the journal are copied"));
    compare_rows(&mut *snapshot, &mut *target.snapshot().await?).await?;
    let jobs = compare_journals(from, &head, target).await?;
    told(&format!("root, digests of {jobs} jobs and rows beside the journal were compared and are the same"));
    postgres::arrived(to, &head.site).await?;
    Ok(Carried { head, jobs, rows, resumed_at })
}

/// Copies a site from a database into a new file, while entries go on being appended. A copy that was cut off has to be
/// removed before.
///
/// # Errors
/// [`StoreError::AlreadyExists`]; [`StoreError::Damaged`] when the copy is not the same; otherwise what either store says.
pub async fn carry_to_sqlite(from: &PostgresStore, to: &Path, told: Told<'_>) -> Result<Carried, StoreError> {
    let mut snapshot = from.snapshot().await?;
    let head = snapshot.head().clone();
    let mut options = SqliteOptions::default();
    options.job_entries_max = u64::MAX;
    let target = SqliteStore::create_with(to, &head.site, head.epoch, options).await?;
    let carried = into_sqlite(from, &mut *snapshot, &target, told).await;
    target.close().await?;
    let (jobs, rows) = carried?;
    SqliteStore::sync(to)?;
    Ok(Carried { head, jobs, rows, resumed_at: 0 })
}

/// Tables whose rows go by places in the journal and are computed again.
const BY_PLACES: [&str; 4] = ["job_summary", "tally_row", "tally_month", "tally_reached"];

/// Copies what stands beside the journal of one file into another one, whose journal has every job of the first, perhaps at
/// other places: what goes by places is left out. Nothing may stand beside the other journal yet. Gives how many rows there were.
///
/// # Errors
/// What either store says.
pub async fn carry_beside(from: &SqliteStore, to: &SqliteStore) -> Result<u64, StoreError> {
    let mut snapshot = from.snapshot().await?;
    let kept = TABLES.iter().filter(|table| !BY_PLACES.contains(&table.name));
    copy_tables(&mut *snapshot, to.shelf().await?, kept).await
}

async fn into_sqlite(
    from: &PostgresStore,
    snapshot: &mut dyn Snapshot,
    target: &SqliteStore,
    told: Told<'_>,
) -> Result<(u64, u64), StoreError> {
    let head = snapshot.head().clone();
    copy_entries(from, &head, target, told).await?;
    let rows = copy_rows(snapshot, target.shelf().await?).await?;
    told(&format!("{rows} rows beside the journal are copied"));
    compare_rows(snapshot, &mut *target.snapshot().await?).await?;
    let jobs = compare_journals(from, &head, target).await?;
    told(&format!("root, digests of {jobs} jobs and rows beside the journal were compared and are the same"));
    Ok((jobs, rows))
}

/// Appends what the target lacks. Every entry gets its place, its job its number and the tree its leaf anew, and each must
/// come out as it was.
async fn copy_entries(
    from: &dyn Journal,
    head: &Head,
    to: &dyn Journal,
    told: Told<'_>,
) -> Result<(), StoreError> {
    let there = to.head().await?;
    let differs = |seq: u64, what: &str| StoreError::Damaged {
        seq: Some(seq),
        job_number: None,
        what: format!("the copy has {what}"),
    };
    let same_past = there.seq <= head.seq && from.root_at(there.seq).await? == Some(there.root);
    if there.epoch != head.epoch || !same_past {
        return Err(differs(there.seq, "another past"));
    }
    let mut jobs: HashMap<JobId, JobRow> = HashMap::new();
    let mut next = there.seq + 1;
    while next <= head.seq {
        let page = from.read(next, PAGE_ROWS_MAX).await?;
        let mut pending = Vec::with_capacity(page.len());
        for stored in page.into_iter().take_while(|stored| stored.seq <= head.seq) {
            let job = match stored.job {
                Some(id) => Some(known_job(from, &mut jobs, id).await?),
                None => None,
            };
            next = stored.seq + 1;
            let expected = (stored.seq, job.as_ref().map(|job| job.number));
            pending.push((expected, to.submit(NewEntry::again(stored, job.as_ref())).await?));
        }
        if pending.is_empty() {
            return Err(StoreError::damaged(format!("entries are missing from {next} on")));
        }
        for ((seq, number), answer) in pending {
            let answer = answer.answer().await?;
            if (answer.seq, answer.job_number) != (seq, number) {
                return Err(differs(seq, "another place or number for it"));
            }
        }
        told(&format!("{} of {} entries are copied", next - 1, head.seq));
    }
    Ok(())
}

async fn known_job(
    from: &dyn Journal,
    jobs: &mut HashMap<JobId, JobRow>,
    id: JobId,
) -> Result<JobRow, StoreError> {
    if let Some(job) = jobs.get(&id) {
        return Ok(job.clone());
    }
    let missing = || StoreError::damaged(format!("job {id} has entries and is not there"));
    let job = from.job(id).await?.ok_or_else(missing)?;
    jobs.insert(id, job.clone());
    Ok(job)
}

/// Copies everything beside the journal; gives how many rows there were.
async fn copy_rows(from: &mut dyn Snapshot, to: Box<dyn Shelf>) -> Result<u64, StoreError> {
    copy_tables(from, to, TABLES.iter()).await
}

async fn copy_tables(
    from: &mut dyn Snapshot,
    mut to: Box<dyn Shelf>,
    tables: impl Iterator<Item = &'static Table> + Send,
) -> Result<u64, StoreError> {
    let mut count = 0;
    for table in tables {
        let mut after = None;
        loop {
            let rows = from.rows(table, after).await?;
            let Some(last) = rows.last() else { break };
            after = Some(table.key_of(last));
            count += rows.len() as u64;
            to.put(table, rows).await?;
        }
    }
    to.finish().await?;
    Ok(count)
}

/// Requires that both hold the same beside their journals.
async fn compare_rows(one: &mut dyn Snapshot, other: &mut dyn Snapshot) -> Result<(), StoreError> {
    for table in &TABLES {
        let mut after: Option<Vec<Cell>> = None;
        loop {
            let rows = one.rows(table, after.clone()).await?;
            if rows != other.rows(table, after).await? {
                return Err(StoreError::damaged(format!("the copy differs in the table {}", table.name)));
            }
            let Some(last) = rows.last() else { break };
            after = Some(table.key_of(last));
        }
    }
    Ok(())
}

/// Reads the copy through and requires that its root and the digest of every job are those of the source; gives how many
/// jobs there are.
async fn compare_journals(from: &dyn Journal, head: &Head, to: &dyn Journal) -> Result<u64, StoreError> {
    let report = to.verify(&mut |_| None).await?;
    if let Some(damage) = report.damage.first() {
        return Err(StoreError::damaged(format!("the copy is not sound: {damage}")));
    }
    if (report.entries, report.root, report.epoch) != (head.seq, head.root, head.epoch) {
        return Err(StoreError::damaged("the copy has another root"));
    }
    let mut before: Option<JobNumber> = None;
    loop {
        let page = to.jobs(before, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last() else { return Ok(report.jobs) };
        before = Some(last.number);
        for job in &page {
            // Entries that the source got after the moment of the copy are not part of it.
            let same_reach = from.job(job.job_id).await?.is_some_and(|of| of.last_seq == job.last_seq);
            if same_reach && from.job_digest(job.job_id).await? != to.job_digest(job.job_id).await? {
                return Err(StoreError::damaged(format!(
                    "the copy has another digest of job {}",
                    job.number
                )));
            }
        }
    }
}

#[cfg(test)]
mod tests;
