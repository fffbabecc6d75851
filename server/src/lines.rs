//! The lines of the list of jobs: computed from the journal when somebody looks, kept beside it, dropped at will.
//!
//! A line tells of its own job only. Called by the lists of the network and of the office, and by [`crate::workshop`]
//! before it looks for earlier jobs of a vehicle.

use crate::convert;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_store::JobId;
use std::sync::Arc;

/// Most lines that one look brings up to date. After a restore the list is complete after a few looks.
const REFRESHED_MAX: usize = 1_000;

/// Computes the lines of the list that are older than their jobs, at most [`REFRESHED_MAX`], and says whether none is
/// left. Whoever looks while another one is at it waits for that one and takes what it has reached.
pub(crate) async fn refresh(workshop: &Workshop) -> Result<bool, Cause> {
    let reached = workshop.journal.head().await?.seq;
    let is_listed = |listed| listed > 0 && listed >= reached;
    if is_listed(workshop.listed_to()) {
        return Ok(true);
    }
    let (_listing, waited) = match workshop.listing.try_lock() {
        Ok(listing) => (listing, false),
        Err(_) => (workshop.listing.lock().await, true),
    };
    let listed = workshop.listed_to();
    if is_listed(listed) {
        return Ok(true);
    }
    // Not known yet means that there is more than one look's work, which is not for everybody who comes by.
    if waited && listed == 0 {
        return Ok(false);
    }
    let stale = workshop.beside.stale_summaries(listed, REFRESHED_MAX).await?;
    let all = stale.len() < REFRESHED_MAX;
    let mut refreshed = true;
    for job in stale {
        if let Err(cause) = refresh_one(workshop, job).await {
            refreshed = false;
            if *workshop.stopping.borrow() {
                return Err(cause);
            }
            // One job that cannot be read must not hide all others.
            tracing::warn!(%job, %cause, "the list leaves out a job that cannot be read");
        }
    }
    if all && refreshed {
        workshop.set_listed_to(reached);
    }
    Ok(all)
}

/// Brings the whole list up to date, for what is kept for good.
pub(crate) async fn refresh_all(workshop: &Workshop) -> Result<(), Cause> {
    while !refresh(workshop).await? {
        if *workshop.stopping.borrow() {
            return Err(Cause::Stopping);
        }
    }
    Ok(())
}

/// Completes the list after a start, for example of a restored site, while calls are answered already.
pub(crate) async fn complete_list(workshop: Arc<Workshop>) {
    // Whoever asks for the list next finds the same and is told.
    if let Err(cause) = refresh_all(&workshop).await {
        tracing::debug!(%cause, "the list is completed when it is asked for");
    }
}

async fn refresh_one(workshop: &Workshop, job: JobId) -> Result<(), Cause> {
    let Some(row) = workshop.journal.job(job).await? else { return Ok(()) };
    let (computed, account) = workshop.computed_alone(&row).await?;
    let written = serde_json::to_string(&account);
    let written = written.map_err(|error| Cause::internal("writing the account of a job", &error))?;
    let line = convert::stored_summary(workshop.language(&row), &computed, written)?;
    workshop.beside.put_summary(line).await?;
    workshop.site.put(job, account);
    Ok(())
}
