//! Rows of jobs of several workshops with whole-number counters, and their sums. An owner's server fills them from the
//! journals that it keeps; what a counter means is its. All of it can be computed again.
//!
//! Sums by site, variant or equipment, and month are kept up to date in the transaction that changes a row, so that
//! reading them does not go over the jobs. Rows of one *edition* of the computing program stand beside those of another
//! until the server shows the newer ones. Called through `dyn Tallies`; never here: a litre.

mod difference;
mod month;
mod sum;

pub(crate) use difference::{Difference, MonthChange, added};
pub(crate) use month::{HeldMonth, MonthKey, sums_as_of};
use sum::read_as_of;

use crate::entry::{Epoch, JobId};
use crate::error::StoreError;
use async_trait::async_trait;
use std::collections::BTreeMap;

/// Most counters of a row.
pub const TALLY_COUNTERS_MAX: usize = 48;

/// Greatest magnitude of a counter: sums of millions of rows stay far below what a database adds.
pub const TALLY_COUNTER_MAX: u64 = 1 << 40;

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
    /// What is summed; at most [`TALLY_COUNTERS_MAX`], each at most [`TALLY_COUNTER_MAX`] from 0, always in the same order
    /// within an edition.
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
    /// rows of a site reach; all in one transaction. Of several rows of one job the last stays.
    ///
    /// # Errors
    /// [`StoreError::OutOfRange`] for the counters of a row; nothing is changed then.
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

    /// Every row of these vehicles, at all sites, by site, month and job.
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

impl TallyBy {
    pub(crate) const ALL: [Self; 2] = [Self::Variant, Self::Equipment];

    /// As it is kept.
    pub(crate) fn number(self) -> i64 {
        match self {
            Self::Variant => 0,
            Self::Equipment => 1,
        }
    }
}

impl TallyRow {
    /// What its sums are by.
    pub(crate) fn of(&self, by: TallyBy) -> &str {
        match by {
            TallyBy::Variant => &self.variant,
            TallyBy::Equipment => &self.equipment,
        }
    }

    /// Refuses counters that no sum could hold.
    pub(crate) fn check(&self) -> Result<(), StoreError> {
        let out = |field, value, greatest| Err(StoreError::OutOfRange { field, value, least: 0, greatest });
        if self.counters.len() > TALLY_COUNTERS_MAX {
            return out("number of counters", self.counters.len() as u64, TALLY_COUNTERS_MAX as u64);
        }
        let greatest = self.counters.iter().map(|counter| counter.unsigned_abs()).max();
        match greatest.filter(|counter| *counter > TALLY_COUNTER_MAX) {
            Some(counter) => out("counter", counter, TALLY_COUNTER_MAX),
            None => Ok(()),
        }
    }

    /// Which spans its vehicle came back within, a bit each.
    pub(crate) fn back_bits(&self) -> i64 {
        self.back.iter().rev().fold(0, |bits, back| bits << 1 | i64::from(*back))
    }

    /// Its counters as they are kept.
    pub(crate) fn written_counters(&self) -> String {
        let numbers: Vec<String> = self.counters.iter().map(ToString::to_string).collect();
        format!("[{}]", numbers.join(","))
    }
}

/// After which month and job a page begins within a site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PagePlace {
    pub month: String,
    /// Empty before every job of the month.
    pub job: Vec<u8>,
}

impl TallyFilter {
    /// The first site that a page can hold.
    pub(crate) fn first_site(&self) -> &str {
        self.after.as_ref().map_or("", |(site, ..)| site)
    }

    /// Where a page begins within a site; `None` if it lies before the page.
    pub(crate) fn place_in(&self, site: &str) -> Option<PagePlace> {
        let from = PagePlace { month: self.months.0.clone(), job: Vec::new() };
        match &self.after {
            Some((after, ..)) if site < after.as_str() => None,
            Some((after, month, job)) if site == after && *month >= self.months.0 => {
                Some(PagePlace { month: month.clone(), job: job.to_vec() })
            }
            _ => Some(from),
        }
    }
}

/// The spans that bits stand for.
pub(crate) fn spans_of(bits: i64) -> [bool; 3] {
    [0, 1, 2].map(|span| bits >> span & 1 == 1)
}

/// Reads counters as they are kept.
pub(crate) fn read_counters(text: &str) -> Option<Vec<i64>> {
    let inner = text.strip_prefix('[')?.strip_suffix(']')?;
    if inner.is_empty() {
        return Some(Vec::new());
    }
    inner.split(',').map(|number| number.parse().ok()).collect()
}

/// Sums in their order.
pub(crate) fn in_order(mut sums: Vec<TallySum>) -> Vec<TallySum> {
    sums.sort_unstable_by(|a, b| (&a.site, &a.of, &a.month).cmp(&(&b.site, &b.of, &b.month)));
    sums
}

/// The last row of each job, by site and job.
pub(crate) fn last_of_each(rows: Vec<TallyRow>) -> Vec<TallyRow> {
    let by_job: BTreeMap<_, _> = rows.into_iter().map(|row| ((row.site.clone(), row.job), row)).collect();
    by_job.into_values().collect()
}
