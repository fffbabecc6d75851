//! One row of a job, from its entries and what its workshop's journal says beside them. Never here: come-backs, which
//! need the jobs of all workshops.

use super::Tallies;
use super::row::Written;
use crate::forwarding::Held;
use crate::sight::recorded;
use crate::status::Cause;
use crate::workshop::off_the_network;
use jiff::Timestamp;
use prost::Message as _;
use standpipe_engine::owner::{JobRow, RowSettings};
use standpipe_proto::v1::{Entry, fact::Kind};
use standpipe_store::{JobRow as JobPlace, StoreError, StoredEntry};

/// What is known of the site beside its jobs and changes no row.
fn changes_no_row(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::StockCounted(_)
            | Kind::WasteCollected(_)
            | Kind::CatalogueAdopted(_)
            | Kind::StationEnrolled(_)
            | Kind::PersonListed(_)
    )
}

/// Whether an entry of the site may change rows of jobs that have no new entry: a lot, a tool, a display, or a
/// correction of one.
pub(super) fn may_change_rows(entry: &StoredEntry) -> bool {
    entry.job.is_none() && kind_of(entry).is_some_and(|kind| !changes_no_row(&kind))
}

fn kind_of(entry: &StoredEntry) -> Option<Kind> {
    Entry::decode(&*entry.bytes).ok()?.fact?.kind
}

/// Whether a cause lies in what the job holds, so that another try would end alike; any other may pass.
fn is_of_the_job(cause: &Cause) -> bool {
    matches!(
        cause,
        Cause::Internal { .. }
            | Cause::EntryUnreadable(_)
            | Cause::OutsideBounds(_)
            | Cause::BlobDamaged { .. }
            | Cause::Store(StoreError::Damaged { .. } | StoreError::OutOfRange { .. })
    )
}

impl Tallies {
    /// The row of a job; one that says so where what the job holds cannot be computed, so that no other job waits for it.
    ///
    /// # Errors
    /// What may pass: then nothing is said of the job, and it is computed again.
    pub(super) async fn row_or_left_out(
        &self,
        held: &Held,
        site: &str,
        place: &JobPlace,
    ) -> Result<Written, Cause> {
        match self.row_of(held, site, place).await {
            Ok(row) => Ok(row),
            Err(cause) if *held.workshop.stopping.borrow() || !is_of_the_job(&cause) => Err(cause),
            Err(cause) => {
                let number = held.workshop.printed(place);
                tracing::warn!(site, %number, %cause, "the owner's figures leave out a job that cannot be computed");
                let month = self.own_month(held, site, place).await?;
                Ok(Written::left_out(site, place.job_id.to_string(), number, month))
            }
        }
    }

    /// The month of a job that cannot be computed: that of its earlier row, else of its first entry.
    async fn own_month(&self, held: &Held, site: &str, place: &JobPlace) -> Result<String, Cause> {
        let earlier = self.own().tally_row(&self.edition, site, place.job_id).await?;
        if let Some(earlier) = earlier.filter(|earlier| !earlier.month.is_empty()) {
            return Ok(earlier.month);
        }
        let received = match held.store.read(place.first_seq, 1).await {
            Ok(entries) => entries.first().map(|entry| entry.received_us),
            Err(StoreError::Damaged { .. }) => None,
            Err(error) => return Err(error.into()),
        };
        let received = received.unwrap_or_else(|| self.sites.clock().now_us());
        let received = Timestamp::from_microsecond(received).unwrap_or(Timestamp::UNIX_EPOCH);
        Ok(received.strftime("%Y-%m").to_string())
    }

    /// The row of a job as of its last entry, with all that is known of its site by now: a recall or a tool found out of
    /// its limits later speaks of earlier jobs too.
    async fn row_of(&self, held: &Held, site: &str, place: &JobPlace) -> Result<Written, Cause> {
        let reading = held.workshop.read(place).await?;
        let as_of_us = reading.job.last_received_us;
        let (entries, mut sight) = (reading.entries, reading.sight);
        sight.as_of_us = as_of_us;
        let (site, key, persons) = (site.to_owned(), self.key.clone(), self.persons);
        off_the_network(move || {
            let unread = entries.iter().filter(|entry| kind_of(entry).is_none()).map(|entry| entry.seq);
            let unread: Vec<u64> = unread.collect();
            let settings = RowSettings { site: &site, vehicle_key: key.bytes(), persons };
            let job = JobRow::of(&sight.context(), &recorded(&entries), &settings);
            Written { job, unread, left_out: false }
        })
        .await
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::status::Overload;

    #[test]
    fn only_what_a_job_holds_leaves_it_out() {
        let damaged = StoreError::Damaged { seq: Some(7), job_number: None, what: "an entry".into() };
        assert!(is_of_the_job(&Cause::Store(damaged)));
        let broken = StoreError::Disk { doing: "reading", cause: "input/output error".into() };
        for passing in
            [Cause::Store(StoreError::Busy), Cause::Store(broken), Overload::Busy.into(), Cause::Stopping]
        {
            assert!(!is_of_the_job(&passing), "{passing}");
        }
    }
}
