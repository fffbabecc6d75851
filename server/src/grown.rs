//! Waiting for the journal: of the whole site, or of one job. Pages and watches that are kept up to date stand on it.
//! Never here: what is shown then.

use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_store::JobId;
use std::time::Duration;
use tokio::time::sleep;

/// Shortest time between two looks at the journal, so that a busy bay costs no more than one answer a moment.
pub(crate) const PACE: Duration = Duration::from_millis(100);

/// Waits until the journal, or one job of it or the facts of the site, hold something beyond an entry, and says how far
/// the journal reaches.
pub(crate) async fn grown(workshop: &Workshop, job: Option<JobId>, seen: u64) -> Result<u64, Cause> {
    let mut reached = seen;
    loop {
        reached = workshop.journal.grown_beyond(reached).await?;
        let Some(job) = job else { return Ok(reached) };
        // The job is read after the journal's reach, so nothing in between is missed.
        // It may hold more by then, which is not to be told a second time.
        if let Some(row) = workshop.journal.job(job).await?.filter(|row| row.last_seq > seen) {
            return Ok(reached.max(row.last_seq));
        }
        // What is known of tools, lots and equipment may change what is said of any job.
        if let Some(fact) = workshop.journal.read_site(seen + 1, 1).await?.first() {
            return Ok(reached.max(fact.seq));
        }
        sleep(PACE).await;
    }
}
