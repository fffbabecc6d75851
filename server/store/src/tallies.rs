//! Rows of jobs of several workshops with whole-number counters, and their sums. An owner's server fills them from the
//! journals that it keeps; what a counter means is its. All of it can be computed again.
//!
//! Sums by site, variant or equipment, and month are kept up to date in the transaction that changes a row, so that
//! reading them does not go over the jobs. Rows of one *edition* of the computing program stand beside those of another
//! until the server shows the newer ones. Called through `dyn Tallies`; never here: a litre.

use crate::entry::{Epoch, JobId};
use crate::error::StoreError;
use async_trait::async_trait;

/// Most counters of a row.
pub const TALLY_COUNTERS_MAX: usize = 48;

/// One job.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TallyRow {
    /// Site of the job.
    pub site: String,
    /// The job; 16 bytes.
    pub job: [u8; 16],
    /// Last entry of the job that it rests on.
    pub seq: u64,
    /// Month that it counts in, as YYYY-MM.
    pub month: String,
    /// Code of the variant; empty if not known.
    pub variant: String,
    /// Code of the equipment; empty if not known.
    pub equipment: String,
    /// Digest by which its vehicle is found again; empty if not known.
    pub vehicle: String,
    /// Unix microseconds.
    pub opened_us: i64,
    /// Whether it counts in the sums.
    pub counts: bool,
    /// Whether it is listed by itself.
    pub stands_out: bool,
    /// What is summed; at most [`TALLY_COUNTERS_MAX`], always in the same order within an edition.
    pub counters: Vec<i64>,
    /// Days since 1970 (UTC) on which the time begins that `back` counts from; `None` if the job never counts there.
    pub day: Option<i64>,
    /// Which of up to three spans of days its vehicle came back within.
    pub back: [bool; 3],
    /// The whole row in the server's words; not interpreted here.
    pub row: String,
}

/// How far the rows of a site reach.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TallyReached {
    /// Epoch of the journal.
    pub epoch: Epoch,
    /// Last entry.
    pub seq: u64,
}

/// What sums are by, beside site and month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TallyBy {
    /// [`TallyRow::variant`].
    Variant,
    /// [`TallyRow::equipment`].
    Equipment,
}

/// Sums of the jobs of one site, one variant or equipment, and one month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TallySum {
    /// Site.
    pub site: String,
    /// Variant or equipment.
    pub of: String,
    /// Month.
    pub month: String,
    /// Sums of the counters, [`TALLY_COUNTERS_MAX`] of them.
    pub counters: Vec<i64>,
    /// For each span: jobs whose day is at or before the asked one.
    pub old: [i64; 3],
    /// For each span: of these, jobs whose vehicle came back within it.
    pub back: [i64; 3],
}

/// Which rows are wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TallyFilter {
    /// First and last month, as YYYY-MM.
    pub months: (String, String),
    /// Only rows of this site.
    pub site: Option<String>,
    /// Only rows that stand out.
    pub standing_out: bool,
    /// Only rows after this site, month and job: those of the last one of the page before.
    pub after: Option<(String, String, [u8; 16])>,
}

/// Rows and sums. Answers mean: durable, except that rows can be computed again.
#[async_trait]
pub trait Tallies: Send + Sync {
    /// Puts rows in the place of earlier ones of the same jobs, changes the sums by the difference, and notes how far the
    /// rows of a site reach; all in one transaction.
    async fn put_tally_rows(
        &self,
        edition: &str,
        rows: Vec<TallyRow>,
        reached: Option<(String, TallyReached)>,
    ) -> Result<(), StoreError>;

    /// How far the rows of a site reach; `None` if there are none of this edition.
    async fn tally_reached(&self, edition: &str, site: &str) -> Result<Option<TallyReached>, StoreError>;

    /// Sums of the rows that count, by site, then variant or equipment, then month, of months from the first to the last,
    /// both YYYY-MM. `days` is, for each span, the last day (since 1970, UTC) that is old enough.
    async fn tally_sums(
        &self,
        edition: &str,
        months: (&str, &str),
        by: TallyBy,
        days: [i64; 3],
    ) -> Result<Vec<TallySum>, StoreError>;

    /// Rows by site, month and job, at most [`crate::PAGE_ROWS_MAX`].
    async fn tally_rows(
        &self,
        edition: &str,
        filter: &TallyFilter,
        limit: usize,
    ) -> Result<Vec<TallyRow>, StoreError>;

    /// Every row of these vehicles, at all sites.
    async fn tally_rows_of_vehicles(
        &self,
        edition: &str,
        vehicles: &[String],
    ) -> Result<Vec<TallyRow>, StoreError>;

    /// One job's row.
    async fn tally_row(&self, edition: &str, site: &str, job: JobId) -> Result<Option<TallyRow>, StoreError>;

    /// Removes what other editions left.
    async fn drop_tally_editions_but(&self, edition: &str) -> Result<(), StoreError>;
}
