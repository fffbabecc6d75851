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
use standpipe_store::{JobRow as JobPlace, StoredEntry};

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

impl Tallies {
    /// The row of a job; one that says so where it cannot be computed, so that no other job waits for it.
    pub(super) async fn row_or_left_out(
        &self,
        held: &Held,
        site: &str,
        place: &JobPlace,
    ) -> Result<Written, Cause> {
        match self.row_of(held, site, place).await {
            Ok(row) => Ok(row),
            Err(cause) if *held.workshop.stopping.borrow() => Err(cause),
            Err(cause) => {
                let number = held.workshop.printed(place);
                tracing::warn!(site, %number, %cause, "the owner's figures leave out a job that cannot be computed");
                let now =
                    Timestamp::from_microsecond(self.sites.clock().now_us()).unwrap_or(Timestamp::UNIX_EPOCH);
                let month = now.strftime("%Y-%m").to_string();
                Ok(Written::left_out(site, place.job_id.to_string(), number, month))
            }
        }
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
