//! A row of a job as the store keeps it, and what it is read back to. Never here: what a number means, which is the
//! engine's, or SQL.

use crate::status::Cause;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use standpipe_engine::owner::come_backs::{WITHIN_DAYS, came_back, counts_from, last_day};
use standpipe_engine::owner::sheets::is_listed;
use standpipe_engine::owner::sums::{Groups, Key, Sums};
use standpipe_engine::owner::{Figures, JobRow};
use standpipe_store::{TallyRow, TallySum};

/// A row with what could not be read for it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Written {
    /// The row; of a job that could not be computed its identity, number and month alone.
    #[serde(flatten)]
    pub(crate) job: JobRow,
    /// Places of entries that this edition cannot read; they are in no figure.
    pub(crate) unread: Vec<u64>,
    /// Whether the job could not be computed; it is in no figure then.
    pub(crate) left_out: bool,
}

impl Written {
    /// A job that could not be computed.
    pub(crate) fn left_out(site: &str, job: String, number: String, month: String) -> Self {
        let job = JobRow { site: site.to_owned(), job, number, month, ..JobRow::default() };
        Self { job, left_out: true, ..Self::default() }
    }

    /// As the store keeps it.
    ///
    /// # Errors
    /// Never for a row of ours; a number that is none would be a mistake.
    pub(crate) fn kept(&self) -> Result<TallyRow, Cause> {
        let job = &self.job;
        let row = serde_json::to_string(self)
            .map_err(|error| Cause::internal("writing the row of a job for the owner", &error))?;
        Ok(TallyRow {
            site: job.site.clone(),
            job: identity(&job.job),
            seq: job.last_seq,
            month: job.month.clone(),
            variant: job.variant.clone(),
            equipment: job.equipment.clone(),
            vehicle: job.vehicle.clone(),
            opened_us: job.opened_us,
            counts: job.closed_us.is_some() && !self.left_out,
            stands_out: self.left_out || !self.unread.is_empty() || is_listed(job),
            // What goes with time is counted by `day` and `back` when it is asked.
            counters: Sums::of(job, 0).kept(),
            day: counts_from(job),
            back: WITHIN_DAYS.map(|days| came_back(job, days)),
            row,
        })
    }

    /// Read back; what another edition wrote otherwise is what it was by default.
    pub(crate) fn read(row: &TallyRow) -> Result<Self, Cause> {
        serde_json::from_str(&row.row)
            .map_err(|error| Cause::internal("reading the row of a job for the owner", &error))
    }
}

/// Sixteen bytes of a job: its identity, or of one that has none the beginning of its digest.
fn identity(job: &str) -> [u8; 16] {
    uuid::Uuid::parse_str(job).map_or_else(
        |_| {
            let digest = Sha256::digest(job.as_bytes());
            let mut bytes = [0; 16];
            bytes.iter_mut().zip(digest).for_each(|(byte, of)| *byte = of);
            bytes
        },
        uuid::Uuid::into_bytes,
    )
}

/// The last day of a closing, for each span, that is old enough at a time.
pub(crate) fn last_days(as_of_us: i64) -> [i64; 3] {
    WITHIN_DAYS.map(|days| last_day(days, as_of_us))
}

/// Sums of the store as the comparison reads them.
pub(crate) fn figures(by_variant: Vec<TallySum>, by_equipment: Vec<TallySum>) -> Figures {
    Figures::new(groups(by_variant), groups(by_equipment))
}

fn groups(sums: Vec<TallySum>) -> Groups {
    let group = |sum: TallySum| {
        let key = Key { site: sum.site, of: sum.of, month: sum.month };
        (key, Sums::of_kept(&sum.counters, sum.old, sum.back))
    };
    sums.into_iter().map(group).collect()
}
