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
/// left.
pub(crate) async fn refresh(workshop: &Workshop) -> Result<bool, Cause> {
    let reached = workshop.journal.head().await?.seq;
    let listed = workshop.listed_to();
    if listed > 0 && listed == reached {
        return Ok(true);
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

/// Completes the list after a start, for example of a restored site, while calls are answered already.
pub(crate) async fn complete_list(workshop: Arc<Workshop>) {
    loop {
        match refresh(&workshop).await {
            Ok(true) => return,
            Ok(false) if !*workshop.stopping.borrow() => {}
            Ok(false) => return,
            // Whoever asks for the list next finds the same and is told.
            Err(cause) => return tracing::debug!(%cause, "the list is completed when it is asked for"),
        }
    }
}

async fn refresh_one(workshop: &Workshop, job: JobId) -> Result<(), Cause> {
    let Some(row) = workshop.journal.job(job).await? else { return Ok(()) };
    let computed = workshop.computed_alone(&row).await?;
    let line = convert::stored_summary(workshop.language(&row), &computed)?;
    Ok(workshop.beside.put_summary(line).await?)
}
