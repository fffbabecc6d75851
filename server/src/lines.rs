//! The lines of the list of jobs: computed from the journal when somebody looks, kept beside it, dropped at will.
//!
//! A line tells of its own job only. Called by the lists of the network and of the office, and by [`crate::workshop`]
//! before it looks for earlier jobs of a vehicle.

use crate::convert;
use crate::site::written;
use crate::status::Cause;
use crate::workshop::Workshop;
use standpipe_store::{JobId, PAGE_ROWS_MAX};
use std::sync::Arc;

/// Most lines that are computed before whoever waits gets a turn: after a restore there may be thousands, and a bay does
/// not wait for all of them.
const BATCH: usize = 50;

/// Brings the lines of the list that are older than their jobs up to date, and says whether none is left. While that
/// is not known yet, after a start, each look does one batch; whoever looks meanwhile waits for it at most and takes
/// what it has reached.
pub(crate) async fn refresh(workshop: &Workshop) -> Result<bool, Cause> {
    workshop.load_accounts().await?;
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
        return Ok(workshop.site.is_complete());
    }
    let mut refreshed = true;
    loop {
        let (ended, whole) = batch(workshop, listed).await?;
        refreshed &= whole;
        if ended {
            break;
        }
        if listed == 0 {
            return Ok(workshop.site.is_complete());
        }
    }
    workshop.site.complete();
    if refreshed {
        workshop.set_listed_to(reached);
    }
    Ok(true)
}

/// Computes some lines; says whether none is left, and whether each could be read.
async fn batch(workshop: &Workshop, listed: u64) -> Result<(bool, bool), Cause> {
    let outdated = workshop.site.outdated(BATCH);
    // What cannot be read stays in the way, and must not hide what comes after it.
    let most = (BATCH + workshop.site.left_out()).min(PAGE_ROWS_MAX);
    let (stale, ended) = if outdated.is_empty() {
        let stale = workshop.beside.stale_summaries(listed, most).await?;
        let ended = stale.len() < most;
        (stale, ended)
    } else {
        (outdated, false)
    };
    let mut whole = true;
    for job in stale {
        if let Err(cause) = refresh_one(workshop, job).await {
            whole = false;
            if *workshop.stopping.borrow() {
                return Err(cause);
            }
            workshop.site.leave_out(job);
            // One job that cannot be read must not hide all others.
            tracing::warn!(%job, %cause, "the list leaves out a job that cannot be read");
        }
    }
    Ok((ended, whole))
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
    let line = convert::stored_summary(workshop.language(&row), &computed, written(&account)?)?;
    // First, so that it is not lost with whoever stops waiting for the store.
    workshop.site.put(job, account);
    workshop.beside.put_summary(line).await?;
    Ok(())
}
